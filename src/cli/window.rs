//! The minutes of a plan, against the window of its intent -> a warning where they do not fit.
//!
//! Only what is done in the window counts: staging is done before it. The change is planned all the same, since a
//! longer window changes no step.

use crate::diag::{Code, Diagnostic, Findings};
use crate::intent::Intent;
use crate::model::Minutes;
use crate::model::document::{Phase, PlanDocument, StepMinutes};
use crate::render::whole_minutes;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&WINDOW_TOO_SHORT];

/// The plan takes longer than its window.
pub const WINDOW_TOO_SHORT: Code = Code {
    name: "window-too-short",
    explanation: "The steps that are done in the window, all but the staging of units that come in, take longer than the \
window is: at worst, or even as is likely. Nobody should have to finish a change in a hurry, so the window is made longer, \
or the change is made in parts. The minutes are sums of the dialect's estimates: measure your own platform.",
};

/// Warns where the window is too short for its change.
pub(super) fn look(intent: &Intent, plan: &PlanDocument, findings: &mut Findings) {
    let Some(window) = intent.change.as_ref().and_then(|change| change.window.as_ref()) else { return };
    let inside = || plan.steps.iter().filter(|step| step.phase != Phase::Stage);
    let sum = |of: fn(&StepMinutes) -> Option<Minutes>| {
        inside().filter_map(|step| step.minutes.as_ref()).filter_map(of).sum::<Minutes>()
    };
    let (likely, worst) = (sum(|minutes| minutes.likely), sum(|minutes| minutes.worst));
    let given = Minutes::hundredths(100).times(i64::from(window.minutes.value));
    let takes = match (likely > given, worst > given) {
        (true, _) => {
            format!("takes {}, at worst {}", whole_minutes(likely, true), whole_minutes(worst, true))
        }
        (false, true) => format!("takes {} at worst", whole_minutes(worst, true)),
        (false, false) => return,
    };
    let message = format!("the window has {} minutes, and what is done in it {takes}", window.minutes.value);
    let diagnostic = Diagnostic::warning(&WINDOW_TOO_SHORT, window.minutes.span, message);
    findings.warn(diagnostic.help("make the window longer, or split the change into smaller ones"));
}
