//! What a step does: the operations of the model, and the operator's waits and looks.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fact::Fact;
use super::state::Side;
use crate::model::habits::Mode;
use crate::model::names::{MemberId, Minutes, PortName, Priority};

/// What a step does: the operations of the model, by name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Action {
    /// Switches a unit on.
    PowerOn {
        /// The unit.
        unit: String,
    },
    /// Switches a unit off.
    PowerOff {
        /// The unit.
        unit: String,
    },
    /// Restarts a unit.
    Restart {
        /// The unit.
        unit: String,
    },
    /// Sets a unit back to how it came out of its box.
    Wipe {
        /// The unit.
        unit: String,
    },
    /// Gives a unit its member id.
    AssignId {
        /// The unit.
        unit: String,
        /// The id.
        id: MemberId,
    },
    /// Sets a unit's priority.
    SetPriority {
        /// The unit.
        unit: String,
        /// The priority.
        priority: Priority,
    },
    /// Takes a port out of use.
    DisablePort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
    },
    /// Puts a port into use.
    EnablePort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
    },
    /// Binds a port to a side.
    BindPort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
        /// The side.
        side: Side,
    },
    /// Releases a port from its side.
    ReleasePort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
    },
    /// Puts the bindings of the unit's island into force.
    Activate {
        /// Any unit of the island.
        unit: String,
    },
    /// Saves the unit's settings, or its whole island's.
    Save {
        /// Any unit of the island.
        unit: String,
    },
    /// Hands the lead over to a member.
    HandOver {
        /// The unit that shall lead.
        unit: String,
    },
    /// Puts a unit into stack mode, or out of it; counts from its next boot.
    SetMode {
        /// The unit.
        unit: String,
        /// The mode.
        mode: Mode,
    },
    /// Sets what must be equal on all members.
    SetKey {
        /// The unit.
        unit: String,
        /// What is set.
        key: String,
        /// Its value.
        value: String,
    },
    /// Tells the stack of a newcomer, by its id or by its serial.
    Admit {
        /// The unit.
        unit: String,
        /// The id.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<MemberId>,
        /// The serial.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
    },
    /// Tells the stack that a unit is gone, by its id or by its serial.
    Forget {
        /// The unit.
        unit: String,
        /// The id.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<MemberId>,
        /// The serial.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
    },
    /// Plugs a cable.
    ConnectCable {
        /// Its two ends.
        ends: [String; 2],
    },
    /// Unplugs a cable.
    DisconnectCable {
        /// Its two ends.
        ends: [String; 2],
    },
    /// Forms an uplink pair.
    FormUplink {
        /// The pair.
        uplink: String,
        /// Its legs, `member:port`.
        legs: Vec<String>,
    },
    /// Dissolves an uplink pair.
    DropUplink {
        /// The pair.
        uplink: String,
    },
    /// Adds one leg to a pair.
    AddLeg {
        /// The pair.
        uplink: String,
        /// The leg, `member:port`.
        leg: String,
    },
    /// Takes one leg out of a pair.
    DropLeg {
        /// The pair.
        uplink: String,
        /// The leg, `member:port`.
        leg: String,
    },
    /// Lets a pair carry the split guard.
    GuardSplit {
        /// The pair.
        uplink: String,
    },
    /// Takes the split guard off a pair.
    UnguardSplit {
        /// The pair.
        uplink: String,
    },
    /// Waits until something is so.
    Await {
        /// The unit.
        unit: String,
        /// What is waited for.
        until: Until,
        /// How long at most, in minutes.
        limit: Minutes,
    },
    /// Compares what is seen with what must be so.
    Expect {
        /// What must be so.
        facts: Vec<Fact>,
        /// What to do if it is not.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        otherwise: Option<String>,
    },
}

impl Action {
    /// The names of all kinds, as plans and the templates of steps write them.
    pub const KINDS: [&'static str; 27] = [
        "power-on",
        "power-off",
        "restart",
        "wipe",
        "assign-id",
        "set-priority",
        "disable-port",
        "enable-port",
        "bind-port",
        "release-port",
        "activate",
        "save",
        "hand-over",
        "set-mode",
        "set-key",
        "admit",
        "forget",
        "connect-cable",
        "disconnect-cable",
        "form-uplink",
        "drop-uplink",
        "add-leg",
        "drop-leg",
        "guard-split",
        "unguard-split",
        "await",
        "expect",
    ];
}

/// What an operator waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Until {
    /// The unit has booted.
    Up,
    /// It is in the stack.
    Joined,
    /// It could take over.
    Ready,
}

impl Until {
    /// The word as the plan writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Joined => "joined",
            Self::Ready => "ready",
        }
    }
}
