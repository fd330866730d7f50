//! What people want to read beside the plan -> the times and checks of a change, as templates see them.

use super::context::{
    CheckView, CriticalView, HandsView, HandsWorkView, StageTimeView, TimesView, TurnBackView, WindowView,
};
use super::steps::whole_minutes;
use super::times::{Times, TurnBack};
use crate::analyse::Time;
use crate::lower::{CheckRecord, Site};
use crate::model::Minutes;

/// The minutes of the whole change.
pub(super) fn minutes(time: &Time) -> TimesView {
    let about = whole_minutes(time.expected, false);
    let word = if about == "1" { "minute" } else { "minutes" };
    TimesView {
        expected_minutes: about.clone(),
        best_minutes: whole_minutes(time.best, false),
        likely_minutes: whole_minutes(time.likely, false),
        worst_minutes: whole_minutes(time.worst, true),
        window_expected_minutes: whole_minutes(time.window_expected, false),
        critical: CriticalView {
            text: format!("{}: about {about} {word}", time.critical.join(", then ")),
            minutes: about.clone(),
            moves: time.critical.clone(),
        },
        stages: time
            .stages
            .iter()
            .map(|stage| StageTimeView {
                unit: stage.unit.clone(),
                expected_minutes: whole_minutes(stage.expected, false),
            })
            .collect(),
    }
}

/// The window.
pub(super) fn window(times: &Times, site: &Site) -> Option<WindowView> {
    let (start, minutes) = site.window.clone()?;
    let given = Minutes::hundredths(100).times(i64::from(minutes));
    let turn_back = match &times.turn_back {
        TurnBack::By { step, time, minutes } => {
            Some(TurnBackView { step: *step, time: time.clone(), minutes: whole_minutes(*minutes, true) })
        }
        TurnBack::Unknown | TurnBack::TooLate => None,
    };
    Some(WindowView {
        start,
        minutes,
        end: times.window_end.clone(),
        likely_minutes: whole_minutes(times.likely, false),
        worst_minutes: whole_minutes(times.worst, true),
        enough: times.worst <= given,
        turn_back,
        no_way_back_fits: times.turn_back == TurnBack::TooLate,
    })
}

/// The time when people are at the rack.
pub(super) fn hands(times: &Times, site: &Site) -> Option<HandsView> {
    let (start, minutes) = site.hands.clone()?;
    let work = times.hands.as_ref().map(|work| HandsWorkView {
        first_step: work.first_step,
        last_step: work.last_step,
        from: work.from.clone(),
        until: work.until.clone(),
        at_worst: work.at_worst.clone(),
        covered: work.covered(),
    });
    Some(HandsView { start, minutes, end: times.hands_end.clone(), work })
}

/// Checks made at one time.
pub(super) fn checks(made: &[CheckRecord]) -> Vec<CheckView> {
    made.iter().map(|check| CheckView { text: check.text.clone(), compare: check.compare }).collect()
}
