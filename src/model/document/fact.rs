//! What can be expected of a stack and observed on it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Role;
use super::state::Side;
use crate::model::habits::Mode;
use crate::model::names::{MemberId, PortName, Priority};

/// One thing that can be expected and observed. A field that is left out is not compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "fact", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Fact {
    /// What the console in front of the reader belongs to.
    Here {
        /// The unit's id; at a stack, the primary's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<MemberId>,
        /// The unit's serial; at a stack, the primary's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
        /// The ids of this island.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        members: Option<Vec<MemberId>>,
    },
    /// A unit.
    Unit {
        /// The unit's key.
        unit: String,
        /// Switched on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        powered: Option<bool>,
        /// The id that it acts on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<MemberId>,
        /// The id that it boots with.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        saved_id: Option<MemberId>,
        /// The priority that it acts on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        priority: Option<Priority>,
        /// Its role in its island.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        role: Option<Role>,
        /// Lost a merge and waits.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        waiting: Option<bool>,
        /// Joined, and able to take over.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ready: Option<bool>,
        /// Its serial number.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
        /// Its MAC address.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        mac: Option<String>,
        /// Its hardware model.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        model: Option<String>,
        /// What must be equal on all members, as it runs.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        keys: BTreeMap<String, String>,
        /// Whether it stacks.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        mode: Option<Mode>,
    },
    /// A port.
    Port {
        /// The unit's key.
        unit: String,
        /// The port.
        port: PortName,
        /// In use.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        enabled: Option<bool>,
        /// The side that it is bound to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        side: Option<Side>,
        /// Whether the binding counts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        active: Option<bool>,
        /// Whether there is light.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lit: Option<bool>,
    },
    /// What IEEE 802.1AB shows at the other end.
    Neighbour {
        /// The near end, `unit:port`.
        end: String,
        /// The far end, or null where none shows.
        far: Option<String>,
    },
    /// The state of the link between two ends.
    Link {
        /// The two ends.
        ends: [String; 2],
        /// What it is.
        is: LinkKind,
    },
    /// Whether a cable is plugged, seen by hands.
    Cable {
        /// The two ends.
        ends: [String; 2],
        /// Plugged or not.
        plugged: bool,
    },
    /// The plug in a port, read by hands.
    Plug {
        /// The end, `unit:port`.
        end: String,
        /// The serial on it, or null where there is no plug.
        serial: Option<String>,
    },
    /// An uplink pair.
    Uplink {
        /// The pair.
        uplink: String,
        /// Its legs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        legs: Option<Vec<String>>,
        /// The legs that carry.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        carrying: Option<Vec<String>>,
    },
    /// The pair that carries the split guard.
    Guard {
        /// The pair, or null for none.
        uplink: Option<String>,
    },
    /// Whom the stack was told of: the whole list.
    Admitted {
        /// By id.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ids: Option<Vec<MemberId>>,
        /// By serial.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serials: Option<Vec<String>>,
    },
    /// Whether a unit's saved settings are its running ones.
    Saved {
        /// The unit's key.
        unit: String,
        /// Saved or not.
        saved: bool,
    },
    /// A house check that no model knows; a person answers.
    Ask {
        /// The question.
        text: String,
    },
}

impl Fact {
    /// That a unit is on or off, and nothing else of it: what hands see.
    #[must_use]
    pub const fn power(unit: String, on: bool) -> Self {
        Self::Unit {
            unit,
            powered: Some(on),
            id: None,
            saved_id: None,
            priority: None,
            role: None,
            waiting: None,
            ready: None,
            serial: None,
            mac: None,
            model: None,
            keys: BTreeMap::new(),
            mode: None,
        }
    }
}

/// What a link between two ends is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LinkKind {
    /// A working stack link.
    Stack,
    /// Lit, carrying nothing.
    Unmatched,
    /// Two boxes bridged as plain Ethernet.
    Stray,
    /// Dark, or no cable.
    None,
}

impl LinkKind {
    /// The word as the plan writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Stack => "stack",
            Self::Unmatched => "unmatched",
            Self::Stray => "stray",
            Self::None => "none",
        }
    }
}
