//! The shape of an intent, as people write it: its schema is derived from here, its fields know their places.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::text::{Consent, FreeText, Mac, Moment, Name, Serial, Vars};
use crate::model::document::{Role, SaveWhen};
use crate::model::traits::Topology;
use crate::model::{MemberId, PortName, Priority};
use crate::source::{FileId, Located, Span};

/// The version of this shape.
pub const INTENT_FORMAT: u32 = 1;

/// What a switch stack shall be.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "the intent of a switch stack")]
pub struct Intent {
    /// The version of this shape: 1.
    #[schemars(extend("const" = INTENT_FORMAT))]
    pub format: Located<u32>,
    /// The stack's name; it names files.
    pub stack: Located<Name>,
    /// What the stack is for.
    #[serde(default)]
    pub description: Option<Located<FreeText>>,
    /// A built-in dialect's name, or a folder relative to this file.
    pub dialect: Located<FreeText>,
    /// How the members are cabled.
    pub topology: Located<Topology>,
    /// The members in cabling order: each one's east side faces the next one's west side; in a ring the
    /// last one's east side faces the first one's west side.
    #[schemars(length(min = 1, max = 255))]
    pub members: Vec<Member>,
    /// Link aggregations (IEEE 802.1AX) whose legs sit on different members.
    #[serde(default)]
    pub uplink_pairs: Vec<UplinkPair>,
    /// The uplink pair that carries the split guard.
    #[serde(default)]
    pub split_guard: Option<Located<Name>>,
    /// What is known of single cables.
    #[serde(default)]
    pub cables: Vec<KnownCable>,
    /// What must be equal on all members, by the names of the dialect's `join_keys`: firmware, licence level, profile.
    #[serde(default)]
    pub keys: BTreeMap<String, Located<Name>>,
    /// About this change only.
    #[serde(default)]
    pub change: Option<Change>,
    /// What the finished stack and the change must keep to.
    #[serde(default)]
    pub budgets: Option<Budgets>,
    /// How often parts fail and how long a repair takes, before what the dialect's catalogue says.
    #[serde(default)]
    pub availability: Option<Availability>,
    /// Free data for templates.
    #[serde(default)]
    pub vars: Vars,
}

impl Intent {
    /// The file that it was read from.
    #[must_use]
    pub fn file(&self) -> FileId {
        self.stack.span.file
    }

    /// The member of a name.
    #[must_use]
    pub fn member(&self, name: &str) -> Option<&Member> {
        self.members.iter().find(|member| member.name.as_str() == name)
    }

    /// The place that stands for all members.
    #[must_use]
    pub fn members_place(&self) -> Span {
        self.members.first().map_or(self.stack.span, |member| member.name.span)
    }
}

/// One member of a stack.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// Its name.
    pub name: Located<Name>,
    /// Its number in the stack.
    pub id: Located<MemberId>,
    /// What it is for.
    #[serde(default)]
    pub role: Option<Located<Role>>,
    /// Its model in the dialect's hardware catalogue.
    #[serde(default)]
    pub model: Option<Located<FreeText>>,
    /// Its serial number; a changed one is a replacement.
    #[serde(default)]
    pub serial: Option<Located<Serial>>,
    /// Its MAC address; only used to break ties.
    #[serde(default)]
    pub mac: Option<Located<Mac>>,
    /// Its weight in an election; derived from role and id if left out.
    #[serde(default)]
    pub priority: Option<Located<Priority>>,
    /// The ports of its two sides; derived from the model if left out.
    #[serde(default)]
    pub sides: Option<Located<SidePorts>>,
    /// Unbound ports that are disabled, about a stack as it stands.
    #[serde(default)]
    pub disabled_ports: Vec<Located<PortName>>,
    /// What this box has now of the stack's `keys`, where it has something else.
    #[serde(default)]
    pub keys: BTreeMap<String, Located<Name>>,
    /// Ports that carry something else, so that none of their group may stack.
    #[serde(default)]
    pub in_use: Vec<Located<PortName>>,
    /// What its ports ask of the uplinks, in Gbit/s.
    #[serde(default)]
    #[schemars(range(min = 0))]
    pub demand_gbps: Option<Located<f64>>,
    /// It stands alone and is not in stack mode, about a switch as it stands.
    #[serde(default)]
    pub lone: Option<Located<bool>>,
    /// Free data for templates.
    #[serde(default)]
    pub vars: Vars,
}

impl Member {
    /// What it is for.
    #[must_use]
    pub fn role(&self) -> Role {
        self.role.as_ref().map_or(Role::Member, |role| role.value)
    }
}

/// What the finished stack and the change must keep to.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Budgets {
    /// No single fault may cut off a member that is up, split the stack in two that both serve, or take an uplink pair
    /// down.
    #[serde(default)]
    pub survives_any_single_fault: Option<Located<bool>>,
    /// No stack link may be loaded above so much of its capacity, healthy or after a single fault.
    #[serde(default)]
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub link_load_percent: Option<Located<f64>>,
    /// For at most so many likely minutes of the change one broken link would split a stack that is a ring before or
    /// after.
    #[serde(default)]
    #[schemars(range(min = 0))]
    pub unprotected_minutes: Option<Located<f64>>,
}

/// How often parts fail and how long a repair takes.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Availability {
    /// Of a cable with its two ports.
    #[serde(default)]
    pub link: Option<FailureTimes>,
    /// Of a unit.
    #[serde(default)]
    pub unit: Option<FailureTimes>,
}

/// Mean times, in hours (IEC 60050-192).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FailureTimes {
    /// How long it works until it fails.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub mtbf_hours: f64,
    /// How long it takes until it works again.
    #[schemars(range(min = 0))]
    pub mttr_hours: f64,
}

/// The ports of a member's two sides.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SidePorts {
    /// The ports that face the member before.
    #[serde(default)]
    pub west: Vec<Located<PortName>>,
    /// The ports that face the member after.
    #[serde(default)]
    pub east: Vec<Located<PortName>>,
}

/// One link aggregation over several members.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UplinkPair {
    /// Its name.
    pub name: Located<Name>,
    /// Its legs.
    #[schemars(length(min = 2, max = 8))]
    pub legs: Vec<Located<Leg>>,
    /// What it must carry, in Gbit/s.
    #[serde(default)]
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub capacity_gbps: Option<Located<f64>>,
    /// Free data for templates.
    #[serde(default)]
    pub vars: Vars,
}

/// One leg of an uplink pair.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Leg {
    /// The member.
    pub member: Located<Name>,
    /// The member's port.
    pub port: Located<PortName>,
    /// The equipment at the other end.
    #[serde(default)]
    pub far: Option<Far>,
}

impl Leg {
    /// Where it is: `member:port`.
    #[must_use]
    pub fn end(&self) -> String {
        format!("{}:{}", self.member.as_str(), self.port.value)
    }
}

/// The equipment at the other end of a leg.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Far {
    /// Its name.
    pub device: Located<FreeText>,
    /// Its port.
    #[serde(default)]
    pub port: Option<Located<FreeText>>,
}

/// What is known of one cable.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KnownCable {
    /// Its two ends.
    #[schemars(length(min = 2, max = 2))]
    pub ends: Vec<Located<CableEnd>>,
    /// The label on it.
    #[serde(default)]
    pub label: Option<Located<FreeText>>,
    /// What it is made of.
    #[serde(default)]
    pub medium: Option<Located<FreeText>>,
    /// Its length in metres.
    #[serde(default)]
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub length_m: Option<Located<f64>>,
    /// The serial number on its plugs.
    #[serde(default)]
    pub serial: Option<Located<Serial>>,
}

/// One end of a cable: `member:port`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(title = "the end of a cable", description = "a member's name, `:` and a port, as ramp-2:50")]
pub struct CableEnd(#[schemars(regex(pattern = r"^[A-Za-z0-9][A-Za-z0-9._-]*:[A-Za-z0-9][A-Za-z0-9/._-]*$"))] String);

impl CableEnd {
    /// Member and port.
    #[must_use]
    pub fn parts(&self) -> (&str, &str) {
        self.0.split_once(':').unwrap_or((&self.0, ""))
    }

    /// The end as it was written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// About one change only.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// The ticket that it is done under.
    #[serde(default)]
    pub ticket: Option<Located<FreeText>>,
    /// The intent of the stack as it stands, a file relative to this one.
    #[serde(default)]
    pub from: Option<Located<FreeText>>,
    /// When the stack may be worked on.
    #[serde(default)]
    pub window: Option<Window>,
    /// When people are at the rack.
    #[serde(default)]
    pub hands: Option<Window>,
    /// Consents, one by one.
    #[serde(default)]
    pub accept: Vec<Located<Consent>>,
    /// When the live side must be saved.
    #[serde(default)]
    pub save: SaveWhen,
    /// Members of the baseline that have failed and are off.
    #[serde(default)]
    pub dead: Vec<Located<Name>>,
    /// Whether cables of neither state may be plugged for a while.
    #[serde(default)]
    pub temporary_cables: bool,
    /// The house's own checks.
    #[serde(default)]
    pub checks: Vec<HouseCheck>,
    /// Addresses that are pinged through the whole change.
    #[serde(default)]
    pub witnesses: Vec<Located<FreeText>>,
}

/// A span of time.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// When it begins.
    pub start: Located<Moment>,
    /// How long it is.
    #[schemars(range(min = 1, max = 10080))]
    pub minutes: Located<u32>,
}

/// A check of the house.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HouseCheck {
    /// When it is made.
    pub when: CheckWhen,
    /// What is checked.
    pub text: FreeText,
    /// Whether the answers before and after are compared; it is then made at both times.
    #[serde(default)]
    pub compare: bool,
}

/// When a check of the house is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CheckWhen {
    /// Before the change.
    Before,
    /// After it.
    After,
    /// Before and after it.
    BeforeAndAfter,
}
