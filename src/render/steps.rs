//! Steps of the plan -> what templates see of them: words, place, prediction, cautions.

use super::care::care;
use super::cautions::Watch;
use super::context::{IslandView, MinutesView, MoveView, PredictionView, StepView, StopView};
use super::error::RenderError;
use super::names::incomplete;
use super::places;
use super::shared::Shared;
use super::words::Words;
use crate::analyse::{Estimated, estimated};
use crate::model::Minutes;
use crate::model::document::{Action, Phase, PlanDocument, Prediction, StateDocument};

/// All steps with their words.
pub(super) fn views(
    plan: &PlanDocument,
    states: &[StateDocument],
    words: &Words,
) -> Result<Vec<StepView>, RenderError> {
    if states.len() <= plan.steps.len() {
        return Err(incomplete("the rehearsal holds fewer states than the plan has steps"));
    }
    let (platform, names) = (words.platform(), words.names());
    let mut watch = Watch::new(plan);
    let mut before: Option<&Prediction> = None;
    let mut stop_before = None;
    let mut views = Vec::with_capacity(plan.steps.len());
    for (step, state) in plan.steps.iter().zip(states) {
        let place = places::place(names, plan, step, state)?;
        let (scope, lines) = words.say(state, &place, &step.action)?;
        views.push(StepView {
            number: step.number,
            phase: phase_word(step.phase).to_owned(),
            place,
            care: care(plan, step.number),
            cautions: watch.cautions(platform, names, step, state, &scope.operation)?,
            operation: scope.operation,
            lines,
            silent: words.silence(&step.action),
            why: step.why.as_ref().map(|why| why.text.clone()),
            sees: step.predicts.as_ref().map(|after| prediction(before, after)),
            otherwise: otherwise(&step.action),
            stop: step.stop_here.as_ref().map(|stop| StopView {
                changed: stop_before != Some(stop),
                safe: stop.safe,
                because: stop.because.clone(),
                way_back_minutes: stop.way_back_minutes.map(|minutes| minutes.to_string()),
            }),
            minutes: step.minutes.is_some().then(|| spoken(estimated(step))),
            file: None,
        });
        before = step.predicts.as_ref().or(before);
        stop_before = step.stop_here.as_ref();
    }
    Ok(views)
}

/// The steps move by move, in the order of the plan; a move that is taken up again stands there again.
pub(super) fn moves(plan: &PlanDocument, steps: &[Shared<StepView>]) -> Vec<MoveView> {
    let mut moves: Vec<MoveView> = Vec::new();
    let mut sums: Vec<Estimated> = Vec::new();
    for (entry, step) in plan.steps.iter().zip(steps) {
        let number = entry.in_move.unwrap_or(1);
        if moves.last().is_none_or(|last| last.number != number) {
            let known = plan.moves.iter().flatten().find(|one| one.number == number);
            let title = known.map_or_else(|| "All steps".to_owned(), |one| one.title.clone());
            let phase = known.map_or(entry.phase, |one| one.phase);
            let minutes = MinutesView::default();
            let (phase, steps, groups) = (phase_word(phase).to_owned(), Vec::new(), Vec::new());
            moves.push(MoveView { number, title, phase, minutes, steps, groups });
            sums.push(Estimated::default());
        }
        if let (Some(last), Some(sum)) = (moves.last_mut(), sums.last_mut()) {
            last.steps.push(step.clone());
            *sum = sum.then(estimated(entry));
            last.minutes = spoken(*sum);
        }
    }
    moves.iter_mut().for_each(MoveView::regroup);
    moves
}

/// The word for a phase.
pub(super) fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Stage => "stage",
        Phase::Cable => "cable",
        Phase::Join => "join",
        Phase::Settle => "settle",
        Phase::Close => "close",
    }
}

/// Whole minutes, rounded as people speak: never nothing for something.
#[must_use]
pub fn whole_minutes(minutes: Minutes, up: bool) -> String {
    let hundredths = minutes.as_hundredths();
    let whole = if up { (hundredths + 99) / 100 } else { (hundredths + 50) / 100 };
    if whole == 0 && hundredths > 0 { "1".to_owned() } else { whole.to_string() }
}

fn spoken(takes: Estimated) -> MinutesView {
    let expected = takes.expected();
    MinutesView {
        likely: takes.likely.to_string(),
        worst: takes.worst.to_string(),
        about: whole_minutes(takes.likely, false),
        at_worst: whole_minutes(takes.worst, true),
        best: takes.best.to_string(),
        expected: expected.to_string(),
        about_expected: whole_minutes(expected, false),
    }
}

fn otherwise(action: &Action) -> Option<String> {
    match action {
        Action::Expect { otherwise, .. } => otherwise.clone(),
        _ => None,
    }
}

fn prediction(before: Option<&Prediction>, after: &Prediction) -> PredictionView {
    let island = |units: &Vec<String>| IslandView {
        primary: after.primary.iter().find(|(_, led)| *led == units).map(|(key, _)| key.clone()),
        units: units.clone(),
    };
    PredictionView {
        restarts: after.restarts.clone(),
        islands: after.islands.iter().map(island).collect(),
        unprotected: after.unprotected,
        unprotected_change: before.is_some_and(|before| before.unprotected != after.unprotected),
        islands_change: before.is_none_or(|before| before.islands != after.islands || before.primary != after.primary),
    }
}
