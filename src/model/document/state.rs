//! A state of all boxes, by name: settings, cables and what the stack has in common.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::model::habits::{Mode, is_default};
use crate::model::names::{MemberId, PortName, Priority};

#[allow(clippy::trivially_copy_pass_by_ref, reason = "the signature that serialization wants")]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// A state of all boxes, by name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StateDocument {
    /// Every unit by its key.
    pub units: BTreeMap<String, UnitState>,
    /// Plugged cables: two ends each, `unit:port` or `far:uplink`.
    pub cables: Vec<[String; 2]>,
    /// The stack's common settings.
    pub shared: SharedPair,
}

/// One unit's part of a state.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnitState {
    /// Switched on and up.
    pub powered: bool,
    /// When it booted, in ticks; the smaller has the longer uptime.
    #[serde(default)]
    pub booted_at: i64,
    /// Leads its island.
    #[serde(default)]
    pub primary: bool,
    /// Lost a merge and waits for a restart by hand.
    #[serde(default)]
    pub waiting: bool,
    /// Its own memory holds the saved common settings as they stand.
    #[serde(default)]
    pub copy: bool,
    /// Has the standby's seat; only where the seat is kept.
    #[serde(default, skip_serializing_if = "is_false")]
    pub standby: bool,
    /// The priority that counts for the standby's seat, where a new one counts in the next election.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counts: Option<Priority>,
    /// What it acts on now; null while it is off.
    pub running: Option<RunningSettings>,
    /// What it acts on after a restart; null for a box that is never powered in the plan.
    pub saved: Option<SavedSettings>,
}

/// What a unit acts on now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunningSettings {
    /// Its id.
    pub id: MemberId,
    /// Its priority.
    pub priority: Priority,
    /// What must be equal on all members, as far as it is known.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub keys: BTreeMap<String, String>,
    /// Whether it stacks; only where that is switched.
    #[serde(default, skip_serializing_if = "is_default")]
    pub mode: Mode,
    /// Its ports.
    pub ports: BTreeMap<PortName, RunningPort>,
}

/// What a unit acts on after a restart.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SavedSettings {
    /// Its id.
    pub id: MemberId,
    /// Its priority.
    pub priority: Priority,
    /// What must be equal on all members, as far as it is known.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub keys: BTreeMap<String, String>,
    /// Whether it stacks; only where that is switched.
    #[serde(default, skip_serializing_if = "is_default")]
    pub mode: Mode,
    /// Its ports.
    pub ports: BTreeMap<PortName, SavedPort>,
}

/// A port as it runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunningPort {
    /// In use.
    pub enabled: bool,
    /// The side that it is bound to.
    pub side: Side,
    /// Whether the binding counts.
    pub active: bool,
}

/// A port as it was saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SavedPort {
    /// In use.
    pub enabled: bool,
    /// The side that it is bound to.
    pub side: Side,
}

/// The side that a port is bound to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Bound to no side: a plain Ethernet port.
    #[default]
    None,
    /// The west side.
    West,
    /// The east side.
    East,
}

impl Side {
    /// The side as the plan writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::West => "west",
            Self::East => "east",
        }
    }
}

/// The common settings: as they run and as they are saved.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SharedPair {
    /// As they run.
    pub running: SharedSettings,
    /// As they are saved.
    pub saved: SharedSettings,
}

/// The stack's common settings.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SharedSettings {
    /// Uplink pairs: name and legs (`member:port`).
    pub uplinks: BTreeMap<String, Vec<String>>,
    /// The uplink pair that carries the split guard.
    pub guard: Option<String>,
    /// Whom the stack was told of, by id or by serial; only where it must be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub admitted: Option<Vec<Admitted>>,
}

/// A number or a serial that a stack was told of.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Admitted {
    /// A member id.
    Id(MemberId),
    /// A serial.
    Serial(String),
}
