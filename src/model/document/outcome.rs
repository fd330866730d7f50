//! What judging a plan gives: its cost, the slips that were tried, warnings.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::model::names::Minutes;

/// What a plan costs, checks included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CostEntry {
    /// Minutes, member by member, in which a live unit is out of the stack.
    pub member_minutes: Minutes,
    /// Minutes in which one broken link would split a stack that is a ring before and after.
    pub unprotected_minutes: Minutes,
    /// Cables plugged plus unplugged.
    pub cables: u32,
    /// Stack links to a live unit that come up in a plug, a power-on or a restart.
    pub links_not_typed: u32,
    /// Steps other than waits and checks.
    pub steps: u32,
    /// Minutes unprotected where only one of baseline and target is a ring.
    pub half_protected_minutes: Minutes,
    /// Likely minutes, the longest stage of one unit included.
    pub likely_minutes: Minutes,
    /// The same at worst.
    pub worst_minutes: Minutes,
}

/// What was tried against operator errors.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Slips {
    /// How many were tried.
    pub tried: u32,
    /// How many a check or a refusal catches.
    pub caught: u32,
    /// How many break nothing.
    pub harmless: u32,
    /// Those that would hurt.
    pub dangerous: Vec<DangerousSlip>,
}

/// An operator error that no check catches in time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DangerousSlip {
    /// Its kind.
    pub slip: String,
    /// The step, the two steps that it swaps, or the first and last of a misplaced segment.
    pub step: SlipSteps,
    /// What it puts there.
    pub with: Option<String>,
    /// The rule that it breaks.
    pub rule: String,
}

/// The step or steps that a slip is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum SlipSteps {
    /// One step.
    One(u32),
    /// The two that are swapped, or first and last of a segment.
    Two([u32; 2]),
}

/// A habit of the platform that the proof rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TrustLine {
    /// The trait, by its path in the dialect's manifest.
    pub habit: String,
    /// The habit as a clause.
    pub text: String,
    /// Where it is written; null where the dialect does not say.
    pub source: Option<String>,
    /// On what it was tried; null where the dialect does not say.
    pub tried_on: Option<String>,
}

/// What a reader should know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Warning {
    /// A stable code.
    pub code: String,
    /// What is so.
    pub text: String,
}
