//! The shape of `faults` in `plan.json`: what fails, and what then.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What follows from the stack's faults.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FaultsEntry {
    /// Every single fault of the finished stack.
    pub finished: Vec<FaultEntry>,
    /// Every two faults of it at once.
    pub pairs: PairsEntry,
    /// The worst single fault after each step whose links, power or legs differ from the step before.
    pub steps: Vec<StepFaults>,
    /// What happens when the units of the finished stack come back one by one.
    pub cold_start: ColdStartEntry,
}

/// One fault, or two at once, and what follows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FaultEntry {
    /// `link U:P V:Q`, `cable U:P V:Q`, `unit U` or `leg M:P`; a link is named by its first cable.
    pub faults: Vec<String>,
    /// Which powered members still reach each other.
    pub islands: Vec<Vec<String>>,
    /// The primary of each island; null where it has none.
    pub primary: Vec<Option<String>>,
    /// Members of the islands that stay in service.
    pub in_service: Vec<String>,
    /// Uplink pairs that keep a living leg in service.
    pub uplinks_up: Vec<String>,
    /// Powered members that are not in service.
    pub cut_off: Vec<String>,
    /// Whether two islands stay in service, each for itself.
    pub split_brain: bool,
    /// Members other than the failed ones that restart by themselves when all of it heals at once.
    pub restarts_on_heal: Vec<String>,
}

/// Every two faults of the finished stack at once, in numbers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PairsEntry {
    /// How many there are.
    pub tried: usize,
    /// How many of them end in a split brain.
    pub split_brain: usize,
    /// How many of them cut a powered member off.
    pub cut_off: usize,
    /// The worst ones, the worst first.
    #[schemars(length(max = 5))]
    pub worst: Vec<FaultEntry>,
}

/// What one fault would do after a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepFaults {
    /// The step.
    pub after: u32,
    /// The worst single fault.
    pub worst: FaultEntry,
    /// Whether no single fault cuts a powered member off, splits the stack in two that both serve, or takes an uplink
    /// pair down.
    pub survives_any_single: bool,
}

/// The units of the finished stack come back one by one, in any order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ColdStartEntry {
    /// Whether every order was tried; else `leaders` holds those that some order was found for, and `restarts` the most
    /// that were found.
    pub every_order: bool,
    /// Who can lead when all are back.
    pub leaders: Vec<String>,
    /// How often units restart by merges, at worst.
    pub restarts: usize,
    /// No order can make more restarts.
    pub at_most: usize,
    /// An order that makes that many.
    pub order: Vec<String>,
}
