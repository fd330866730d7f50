//! The shapes of `plan.json`: what the planner writes and the judge reads.
//!
//! Plain data, names instead of indices, nothing checked but the shape; `rehearse` gives it a meaning.

mod action;
mod fact;
mod faults;
mod outcome;
mod state;
mod step;

pub use action::{Action, Until};
pub use fact::{Fact, LinkKind};
pub use faults::{ColdStartEntry, FaultEntry, FaultsEntry, PairsEntry, StepFaults};
pub use outcome::{CostEntry, DangerousSlip, SlipSteps, Slips, TrustLine, Warning};
pub use state::{
    Admitted, RunningPort, RunningSettings, SavedPort, SavedSettings, SharedPair, SharedSettings, Side, StateDocument,
    UnitState,
};
pub use step::{Move, Phase, Place, Prediction, Reason, StepEntry, StepMinutes, StopHere, WayBack, WayBackStep};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::names::{MemberId, PortName, Priority};
use super::traits::Traits;

/// The version of this shape.
pub const PLAN_FORMAT: u32 = 1;

/// A whole plan: where the stack is, where it shall be, and every step between.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanDocument {
    /// The version of this shape.
    pub format: u32,
    /// The stack's name.
    pub stack: String,
    /// What wrote the plan.
    pub compiler: String,
    /// Digests of what the plan was made from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inputs: Option<Inputs>,
    /// The platform's traits.
    pub traits: Traits,
    /// What the change allows.
    pub change: ChangeTerms,
    /// Every box of the plan.
    pub units: Vec<UnitEntry>,
    /// The state before the change.
    pub baseline: StateDocument,
    /// The state after it.
    pub target: StateDocument,
    /// What a person would call one thing each.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moves: Option<Vec<Move>>,
    /// The steps, in the order in which they are to be done.
    pub steps: Vec<StepEntry>,
    /// How to go back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ways_back: Option<Vec<WayBack>>,
    /// What was tried against operator errors on each way back, in the same order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ways_back_slips: Option<Vec<Slips>>,
    /// What the plan costs, checks included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<CostEntry>,
    /// What was tried against operator errors; null where nothing was tried.
    #[serde(default)]
    pub slips: Option<Slips>,
    /// What a reader should know.
    #[serde(default)]
    pub warnings: Vec<Warning>,
    /// What the proof rests on: the platform's habits, as sentences.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub trust: Vec<TrustLine>,
    /// What fails, and what then: an analysis beside the proof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub faults: Option<FaultsEntry>,
}

/// Digests of what a plan was made from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Inputs {
    /// Of the intent.
    pub intent: String,
    /// Of the baseline, if it was a file.
    pub baseline: Option<String>,
    /// Of the dialect, over its sorted (path, content) pairs.
    pub dialect: String,
}

/// What the change allows.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeTerms {
    /// Consents, one by one: `restart:m`, `new-primary:m`, `split:m`, `save-unsaved:stack`.
    #[serde(default)]
    pub accept: Vec<String>,
    /// When the live side must be saved.
    #[serde(default)]
    pub save: SaveWhen,
    /// Members of the baseline that have failed and are off.
    #[serde(default)]
    pub dead: Vec<String>,
    /// Whether cables that are in neither state may be plugged for a while.
    #[serde(default)]
    pub temporary_cables: bool,
}

/// When the live side must be saved.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SaveWhen {
    /// Before the operation that makes a new link.
    #[default]
    BeforeLink,
    /// After the joined unit was found ready.
    AfterCheck,
}

/// One box.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnitEntry {
    /// The member's name, or `name@serial` for both boxes of a replacement.
    pub key: String,
    /// The member that this box is.
    pub member: String,
    /// Its id in the target (in the baseline, if it leaves).
    pub id: MemberId,
    /// Its priority in the target (in the baseline, if it leaves).
    pub priority: Priority,
    /// Its role in the target (in the baseline, if it leaves).
    pub role: Role,
    /// The serial number on its label.
    #[serde(default)]
    pub serial: Option<String>,
    /// Its MAC address.
    #[serde(default)]
    pub mac: Option<String>,
    /// The hardware model, if the catalogue knows it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// The ports that can stack.
    pub stacking_ports: Vec<PortName>,
    /// Ports that can only change to stacking together.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub port_groups: Vec<Vec<PortName>>,
    /// Ports that carry something else, so that none of their group may stack.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub in_use: Vec<PortName>,
    /// What it is in the baseline.
    pub status: Status,
}

/// What a member is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// It leads the stack.
    Primary,
    /// It takes over if the primary fails.
    Standby,
    /// Neither.
    #[default]
    Member,
}

/// What a unit is in the baseline.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// In the stack, and stays.
    Live,
    /// Comes in.
    Joining,
    /// Goes out.
    Leaving,
}
