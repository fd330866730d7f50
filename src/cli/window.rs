//! The minutes of a plan, against the times that its intent gives -> warnings where they do not fit.
//!
//! Only what is done past the staging counts: staging is done before the window. The change is planned all the same,
//! since a longer window changes no step.

use crate::diag::{Code, Diagnostic, Findings};
use crate::intent::{Intent, Window};
use crate::model::Minutes;
use crate::model::document::PlanDocument;
use crate::render::{Times, times, whole_minutes};

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&WINDOW_TOO_SHORT, &HANDS_NOT_THERE];

/// The plan takes longer than its window.
pub const WINDOW_TOO_SHORT: Code = Code {
    name: "window-too-short",
    explanation: "The steps that are done in the window, all but the staging of units that come in, take longer than the \
window is: at worst, or even as is likely. Nobody should have to finish a change in a hurry, so the window is made longer, \
or the change is made in parts. The minutes are sums of the dialect's estimates: measure your own platform.",
};

/// Nobody is at the rack for some of the work by hands.
pub const HANDS_NOT_THERE: Code = Code {
    name: "hands-not-there",
    explanation: "Some steps past the staging are done by hands at the rack, and people are not there for all of them: the \
work begins before they come, or it lasts longer than they stay, at worst or even as is likely. The steps are counted from \
the start of the window, one after the other, so only an intent with both times is looked at. The minutes are the \
dialect's estimates: measure your own platform.",
};

/// Warns where the window is too short for its change, or where people are at the rack at another time.
pub(super) fn look(intent: &Intent, plan: &PlanDocument, findings: &mut Findings) {
    let Some(change) = intent.change.as_ref() else { return };
    let given = |window: &Window| (window.start.to_string(), window.minutes.value);
    let (open, there) = (change.window.as_ref().map(given), change.hands.as_ref().map(given));
    let times = times(plan, open.as_ref(), there.as_ref());
    findings_of(change.window.as_ref().and_then(|window| too_short(window, &times)), findings);
    findings_of(change.hands.as_ref().and_then(|hands| not_there(hands, &times)), findings);
}

fn findings_of(found: Option<Diagnostic>, findings: &mut Findings) {
    if let Some(diagnostic) = found {
        findings.warn(diagnostic);
    }
}

fn too_short(window: &Window, times: &Times) -> Option<Diagnostic> {
    let given = Minutes::hundredths(100).times(i64::from(window.minutes.value));
    let (likely, worst) = (whole_minutes(times.likely, true), whole_minutes(times.worst, true));
    let takes = match (times.likely > given, times.worst > given) {
        (true, _) => format!("takes {likely}, at worst {worst}"),
        (false, true) => format!("takes {worst} at worst"),
        (false, false) => return None,
    };
    let message = format!("the window has {} minutes, and what is done in it {takes}", window.minutes.value);
    let diagnostic = Diagnostic::warning(&WINDOW_TOO_SHORT, window.minutes.span, message);
    Some(diagnostic.help("make the window longer, or split the change into smaller ones"))
}

fn not_there(hands: &Window, times: &Times) -> Option<Diagnostic> {
    let work = times.hands.as_ref().filter(|work| !work.covered())?;
    let steps = match (work.first_step, work.last_step) {
        (first, last) if first == last => format!("step {first}"),
        (first, last) => format!("steps {first} to {last}"),
    };
    let lasts = match work.likely_done {
        true => format!("from {} to {} at worst", work.from, work.at_worst),
        false => format!("from {} to {}, at worst to {}", work.from, work.until, work.at_worst),
    };
    let (come, end) = (times.hands_start.as_deref()?, times.hands_end.as_deref()?);
    let stay = if work.begun { format!("stay until {end}") } else { format!("come at {come}") };
    let message = format!("people at the rack {stay}, and the work by hands, {steps}, goes {lasts}");
    let span = if work.begun { hands.minutes.span } else { hands.start.span };
    let help = "have people at the rack for all of it, or move the window";
    Some(Diagnostic::warning(&HANDS_NOT_THERE, span, message).help(help))
}
