//! What fails in the finished stack, as templates see it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the faults of the finished stack would do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FaultsView {
    /// How many single faults there are.
    pub singles: usize,
    /// How many of them cut a member off, split the stack or take an uplink pair down.
    pub harmful: usize,
    /// How many pairs of faults there are.
    pub pairs: usize,
    /// How many of them do the same.
    pub harmful_pairs: usize,
    /// The worst of the harmful single faults, a few.
    pub worst: Vec<FaultRow>,
    /// The worst of the harmful pairs, a few.
    pub worst_pairs: Vec<FaultRow>,
    /// What would cure it, each with its figure.
    pub cures: Vec<String>,
}

/// A fault, or two at once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FaultRow {
    /// What fails.
    pub name: String,
    /// What follows.
    pub follows: String,
}
