//! The part of the context that is about one operation: what `steps/<kind>.j2` and `facts/<fact>.j2` see.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::step::PlaceView;

/// What a step template sees: the operation's own fields, and these.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct WordsScope {
    /// Where the step is done.
    pub place: PlaceView,
    /// What one save covers on this platform: `unit` or `stack`.
    pub save_scope: String,
    /// Whether an activation covers the `stack` or the `unit`.
    pub activate_scope: String,
    /// The operation and its arguments.
    #[serde(flatten)]
    pub operation: OperationView,
}

/// A unit as it is at that step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ActingUnit {
    /// The unit's key.
    pub key: String,
    /// The id that it acts on now; while it is off, the one that it boots with.
    pub id: u16,
    /// The serial number on its label.
    pub serial: Option<String>,
    /// `rack` of its free data.
    pub rack: Option<String>,
    /// `height_unit` of its free data.
    pub height_unit: Option<String>,
}

/// A port as it is at that step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PortView {
    /// The unit's key.
    pub unit: String,
    /// The port as the front of the unit numbers it.
    pub port: String,
    /// The interface name by the id that the unit acts on now.
    pub interface: String,
}

/// One end of a cable.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "end", rename_all = "kebab-case")]
pub enum EndView {
    /// A port of a unit.
    Unit {
        /// The port.
        #[serde(flatten)]
        port: PortView,
    },
    /// The equipment at the far end of an uplink pair.
    Far {
        /// The pair.
        uplink: String,
        /// The equipment's name, if known.
        device: Option<String>,
        /// Its port, if known.
        device_port: Option<String>,
    },
}

/// What is known of the cable in hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CableView {
    /// The label on it.
    pub label: Option<String>,
    /// What it is made of.
    pub medium: Option<String>,
    /// Length in metres.
    pub length_m: Option<String>,
    /// The serial on its plugs.
    pub serial: Option<String>,
}

/// An operation with everything that its words need. `kind` is the operation's name.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum OperationView {
    /// Switches a unit on.
    PowerOn {
        /// The unit.
        unit: ActingUnit,
    },
    /// Switches a unit off.
    PowerOff {
        /// The unit.
        unit: ActingUnit,
    },
    /// Restarts a unit.
    Restart {
        /// The unit.
        unit: ActingUnit,
    },
    /// Sets a unit back to how it came out of its box.
    Wipe {
        /// The unit.
        unit: ActingUnit,
    },
    /// Gives a unit its member id.
    AssignId {
        /// The unit.
        unit: ActingUnit,
        /// The new id.
        id: u16,
    },
    /// Sets a unit's priority.
    SetPriority {
        /// The unit.
        unit: ActingUnit,
        /// The new priority.
        priority: u32,
    },
    /// Takes a port out of use.
    DisablePort {
        /// The port.
        port: PortView,
    },
    /// Puts a port into use.
    EnablePort {
        /// The port.
        port: PortView,
    },
    /// Binds a port to a side.
    BindPort {
        /// The port.
        port: PortView,
        /// The side, in the platform's word.
        side: String,
    },
    /// Releases a port from its side.
    ReleasePort {
        /// The port.
        port: PortView,
    },
    /// Puts the bindings of the unit's island into force.
    Activate {
        /// Any unit of the island.
        unit: ActingUnit,
    },
    /// Saves.
    Save {
        /// The unit; any of the island where one save covers the stack.
        unit: ActingUnit,
    },
    /// Hands the lead over to a member.
    HandOver {
        /// The unit that shall lead.
        unit: ActingUnit,
    },
    /// Puts a unit into stack mode, or out of it.
    SetMode {
        /// The unit.
        unit: ActingUnit,
        /// Whether it stacks from its next boot on.
        stacks: bool,
    },
    /// Sets one of the things that must be equal on all members.
    SetKey {
        /// The unit.
        unit: ActingUnit,
        /// What is set, in the dialect's word.
        key: String,
        /// Its value.
        value: String,
    },
    /// Tells the stack of a newcomer: by its id or by its serial, the other one is none.
    Admit {
        /// The unit.
        unit: ActingUnit,
        /// The id.
        id: Option<u16>,
        /// The serial.
        serial: Option<String>,
    },
    /// Tells the stack that a unit is gone: by its id or by its serial, the other one is none.
    Forget {
        /// The unit.
        unit: ActingUnit,
        /// The id.
        id: Option<u16>,
        /// The serial.
        serial: Option<String>,
    },
    /// Plugs a cable.
    ConnectCable {
        /// Its two ends; an end at a unit first.
        ends: [EndView; 2],
        /// What is known of the cable.
        cable: Option<CableView>,
        /// It is in neither state: it comes for a while and goes again.
        spare: bool,
    },
    /// Unplugs a cable.
    DisconnectCable {
        /// Its two ends; an end at a unit first.
        ends: [EndView; 2],
        /// What is known of the cable.
        cable: Option<CableView>,
        /// It is in neither state: it comes for a while and goes again.
        spare: bool,
    },
    /// Forms an uplink pair.
    FormUplink {
        /// The pair.
        uplink: String,
        /// Its legs.
        legs: Vec<PortView>,
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
        /// The leg.
        leg: PortView,
    },
    /// Takes one leg out of a pair.
    DropLeg {
        /// The pair.
        uplink: String,
        /// The leg.
        leg: PortView,
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
        unit: ActingUnit,
        /// `up`, `joined` or `ready`.
        until: String,
        /// How long at most, in minutes.
        limit: String,
    },
    /// Compares what is seen with what must be so.
    Expect {
        /// The words of `facts/<fact>.j2`, fact by fact.
        checks: Vec<String>,
    },
}

/// A fact with everything that its words need. `fact` is its name; a field that is not compared is `none`.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "fact", rename_all = "kebab-case")]
pub enum FactView {
    /// What the console in front of the reader belongs to.
    Here {
        /// The id shown.
        id: Option<u16>,
        /// The serial shown.
        serial: Option<String>,
        /// The ids of the members shown.
        members: Option<Vec<u16>>,
    },
    /// A unit.
    Unit {
        /// The unit.
        unit: ActingUnit,
        /// Switched on.
        powered: Option<bool>,
        /// The id that it acts on.
        id: Option<u16>,
        /// The id that it boots with.
        saved_id: Option<u16>,
        /// Its priority.
        priority: Option<u32>,
        /// `primary`, `standby` or `member`.
        role: Option<String>,
        /// Waits for a restart by hand.
        waiting: Option<bool>,
        /// Joined, and able to take over.
        ready: Option<bool>,
        /// Its serial number.
        serial: Option<String>,
        /// Its MAC address.
        mac: Option<String>,
        /// Its hardware model.
        model: Option<String>,
        /// What must be equal on all members, as far as it is compared.
        keys: BTreeMap<String, String>,
        /// Whether it is in stack mode.
        stacks: Option<bool>,
    },
    /// A port.
    Port {
        /// The port.
        port: PortView,
        /// In use.
        enabled: Option<bool>,
        /// Whether `side` is compared.
        side_known: bool,
        /// The side in the platform's word; none for no side.
        side: Option<String>,
        /// Whether the binding counts.
        active: Option<bool>,
        /// Whether there is light.
        lit: Option<bool>,
    },
    /// What IEEE 802.1AB shows at the other end.
    Neighbour {
        /// The near end.
        near: PortView,
        /// The far end; none where none shows.
        far: Option<PortView>,
    },
    /// The state of the link between two ends.
    Link {
        /// The two ends.
        ends: [EndView; 2],
        /// `stack`, `unmatched`, `stray` or `none`.
        is: String,
    },
    /// Whether a cable is plugged.
    Cable {
        /// The two ends.
        ends: [EndView; 2],
        /// Plugged or not.
        plugged: bool,
    },
    /// The plug in a port.
    Plug {
        /// The end.
        near: PortView,
        /// The serial on it; none where there is no plug.
        serial: Option<String>,
    },
    /// An uplink pair.
    Uplink {
        /// The pair.
        uplink: String,
        /// Its legs.
        legs: Option<Vec<PortView>>,
        /// The legs that carry.
        carrying: Option<Vec<PortView>>,
    },
    /// The pair that carries the split guard.
    Guard {
        /// The pair; none for none.
        uplink: Option<String>,
    },
    /// Whom the stack was told of: the whole list, by ids or by serials.
    Admitted {
        /// The ids.
        ids: Option<Vec<u16>>,
        /// The serials.
        serials: Option<Vec<String>>,
    },
    /// Whether a unit's saved settings are its running ones.
    Saved {
        /// The unit.
        unit: ActingUnit,
        /// Saved or not.
        saved: bool,
    },
    /// A house check that no model knows.
    Ask {
        /// The question.
        text: String,
    },
}
