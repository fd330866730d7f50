//! A step of a plan and of a way back: where, when, why, how long, and what is so after it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::action::Action;
use crate::model::names::Minutes;

/// What a person would call one thing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Move {
    /// Counted from 1.
    pub number: u32,
    /// What it is called.
    pub title: String,
    /// The phase of its first step.
    pub phase: Phase,
}

/// When and by whom a step is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// On a joining unit, on its own console, any time before the window.
    Stage,
    /// Hands on site.
    Cable,
    /// Changes the live stack.
    Join,
    /// Waiting and checking.
    Settle,
    /// Saving, the final check, records.
    Close,
}

/// One step of a plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepEntry {
    /// Counted from 1 without gaps.
    pub number: u32,
    /// The move that it belongs to.
    #[serde(default, rename = "move", skip_serializing_if = "Option::is_none")]
    pub in_move: Option<u32>,
    /// When it is done.
    pub phase: Phase,
    /// Where it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Place>,
    /// What is done.
    #[serde(rename = "do")]
    pub action: Action,
    /// Earlier steps that may not run side by side with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs: Option<Vec<u32>>,
    /// Why it is there and why it is here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<Reason>,
    /// How long it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<StepMinutes>,
    /// What is so after it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub predicts: Option<Prediction>,
    /// Whether one may stop after it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop_here: Option<StopHere>,
}

/// Where a step is done.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// By hands, at the named site.
    Hands(String),
    /// At the running stack of this name.
    Stack(String),
    /// At the console of this unit.
    Console(String),
}

/// Why a step is there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// A stable code.
    pub code: String,
    /// The reason in words.
    pub text: String,
}

/// How long a step takes, in minutes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepMinutes {
    /// If all goes well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<Minutes>,
    /// As it usually goes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub likely: Option<Minutes>,
    /// If much goes wrong.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst: Option<Minutes>,
}

/// What is so after a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Prediction {
    /// Units that restart by themselves in it.
    pub restarts: Vec<String>,
    /// Powered units, island by island.
    pub islands: Vec<Vec<String>>,
    /// Each primary and the island that it leads.
    pub primary: BTreeMap<String, Vec<String>>,
    /// Whether one broken link would split the live units.
    pub unprotected: bool,
}

/// Whether one may stop after a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StopHere {
    /// Every rule holds, every live unit is saved, no live unit's link is unmatched.
    pub safe: bool,
    /// Why, or why not.
    #[serde(default)]
    pub because: String,
    /// How long the way back takes, in minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub way_back_minutes: Option<Minutes>,
}

/// How to go back from some steps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WayBack {
    /// First and last step that it serves.
    pub after: [u32; 2],
    /// What to do.
    pub steps: Vec<WayBackStep>,
    /// The step whose way back goes on from here; null at the baseline.
    pub then: Option<u32>,
}

/// One step of a way back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WayBackStep {
    /// Where it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Place>,
    /// What is done.
    #[serde(rename = "do")]
    pub action: Action,
}
