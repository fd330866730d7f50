//! Intent and platform -> [`Problem`]: the baseline, the target, and what changes between them.
//!
//! The problem speaks in names; `plan` and `rehearse` turn the names into indices by themselves.

use std::collections::BTreeMap;

use crate::model::document::{ChangeTerms, StateDocument, UnitEntry};
use crate::model::traits::{Topology, Traits};
use crate::model::{MemberId, PortName};

/// Everything that the planner needs, and what the render stage adds for people.
#[derive(Clone, Debug)]
pub struct Problem {
    /// The stack's name.
    pub stack: String,
    /// The platform's traits.
    pub traits: Traits,
    /// What the change allows.
    pub change: ChangeTerms,
    /// Every box, sorted by id, then key.
    pub units: Vec<UnitEntry>,
    /// The state before the change.
    pub baseline: StateDocument,
    /// The state after it.
    pub target: StateDocument,
    /// What changes between the two.
    pub delta: Delta,
    /// What people want to read beside the plan.
    pub site: Site,
}

/// What changes, in the words of the intent. Only for sentences and for refusals by name:
/// the planner never sees it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Delta {
    /// There was no stack before.
    pub new_stack: bool,
    /// Members that come in.
    pub added: Vec<String>,
    /// Members that go out.
    pub removed: Vec<String>,
    /// Members whose box is exchanged.
    pub replaced: Vec<String>,
    /// Live members with a new id: name, old id, new id.
    pub renumbered: Vec<(String, MemberId, MemberId)>,
    /// Live members with a new priority.
    pub reweighted: Vec<String>,
    /// The primary's role goes from one live member to another.
    pub primary_moves: Option<(String, String)>,
    /// Topology before and after, if it changes.
    pub topology: Option<(Topology, Topology)>,
    /// Cables (ends by member, sorted) between members that are there before and after, plugged by the change.
    pub cables_added: Vec<[String; 2]>,
    /// The same, unplugged by the change.
    pub cables_removed: Vec<[String; 2]>,
    /// Uplink pairs formed.
    pub uplinks_formed: Vec<String>,
    /// Uplink pairs dropped.
    pub uplinks_dropped: Vec<String>,
    /// Uplink pairs whose legs change.
    pub uplinks_changed: Vec<String>,
    /// The guard before and after, if it changes.
    pub guard: Option<(Option<String>, Option<String>)>,
}

/// What people want to read beside the plan; decides nothing.
#[derive(Clone, Debug, Default)]
pub struct Site {
    /// The intent's description.
    pub description: Option<String>,
    /// The change's ticket.
    pub ticket: Option<String>,
    /// Topology of the target.
    pub topology: Option<Topology>,
    /// Minutes of the window and its start (RFC 3339), if given.
    pub window: Option<(String, u32)>,
    /// Free data of the stack.
    pub vars: BTreeMap<String, serde_json::Value>,
    /// Free data by member.
    pub member_vars: BTreeMap<String, BTreeMap<String, serde_json::Value>>,
    /// Known single cables.
    pub cables: Vec<CableRecord>,
    /// The equipment at the other end of each leg: (uplink, leg `member:port`) -> device, port.
    pub far_ends: BTreeMap<(String, String), FarEnd>,
    /// Interface speeds in Gbit/s by (member, port), where the catalogue knows them.
    pub speeds: BTreeMap<(String, PortName), f64>,
}

/// One known cable.
#[derive(Clone, Debug, PartialEq)]
pub struct CableRecord {
    /// The two ends, `member:port`.
    pub ends: [String; 2],
    /// The label on it.
    pub label: Option<String>,
    /// What it is made of ("direct-attach", "fibre").
    pub medium: Option<String>,
    /// Length in metres.
    pub length_m: Option<f64>,
    /// The serial on its plugs.
    pub serial: Option<String>,
}

/// The equipment at the other end of a leg.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FarEnd {
    /// Its name.
    pub device: String,
    /// Its port, if known.
    pub port: Option<String>,
}
