//! What templates see of the times of a change, and of the house's checks.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How long the change takes, in whole minutes: three-point estimates. The expected value of a step is by the usual
/// formula of PERT, (best + 4 likely + worst) / 6; units are staged side by side, so the longest stage counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TimesView {
    /// As is to be expected.
    pub expected_minutes: String,
    /// If all goes well.
    pub best_minutes: String,
    /// As it usually goes.
    pub likely_minutes: String,
    /// If much goes wrong.
    pub worst_minutes: String,
    /// As is to be expected, the staging left out.
    pub window_expected_minutes: String,
    /// What the whole waits for.
    pub critical: CriticalView,
    /// The staging of each unit.
    pub stages: Vec<StageTimeView>,
}

/// The critical path.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CriticalView {
    /// The moves on it and their minutes, as one line.
    pub text: String,
    /// The same minutes.
    pub minutes: String,
    /// The moves on it, by title.
    pub moves: Vec<String>,
}

/// The staging of one unit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StageTimeView {
    /// The unit.
    pub unit: String,
    /// How long it is expected to take, in whole minutes.
    pub expected_minutes: String,
}

/// When the change may be done.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct WindowView {
    /// Its start (RFC 3339).
    pub start: String,
    /// How long it is, in minutes.
    pub minutes: u32,
    /// Its end as a time of day, in the offset of its start.
    pub end: Option<String>,
    /// Whole minutes of what is done in it, all but the staging, as it usually goes.
    pub likely_minutes: String,
    /// The same at worst.
    pub worst_minutes: String,
    /// Whether the window is long enough at worst.
    pub enough: bool,
    /// The last step up to which the way back fits before the end.
    pub turn_back: Option<TurnBackView>,
    /// Whether already the first way back ends after the window.
    pub no_way_back_fits: bool,
}

/// When to turn back. The way there is counted at worst, the way back as it usually goes.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct TurnBackView {
    /// The last step up to which the way back fits.
    pub step: u32,
    /// When its way back must begin: a time of day in the offset of the window's start.
    pub time: String,
    /// How long its way back usually takes, in whole minutes.
    pub minutes: String,
}

/// When people are at the rack.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct HandsView {
    /// From when (RFC 3339).
    pub start: String,
    /// How long, in minutes.
    pub minutes: u32,
    /// Until when, as a time of day in the offset of the start.
    pub end: Option<String>,
    /// What they do past the staging; none without a window, or where they do nothing.
    pub work: Option<HandsWorkView>,
}

/// The work by hands past the staging. Times of day are in the offset of the hands' start.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct HandsWorkView {
    /// Its first step.
    pub first_step: u32,
    /// Its last step.
    pub last_step: u32,
    /// When it begins, as it usually goes.
    pub from: String,
    /// When it ends, as it usually goes.
    pub until: String,
    /// When it ends at worst.
    pub at_worst: String,
    /// Whether people are there for all of it, at worst too.
    pub covered: bool,
}

/// One check of the house or of the dialect.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CheckView {
    /// What is checked.
    pub text: String,
    /// Whether the answers before and after are written down and compared.
    pub compare: bool,
}
