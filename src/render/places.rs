//! Places of steps -> what templates see of them, one by one and all together.

use super::context::{PlaceRow, PlaceView, StepView};
use super::error::RenderError;
use super::names::{Names, incomplete};
use crate::model::document::{Place, PlanDocument, Role, StateDocument, Status, StepEntry, UnitEntry};
use crate::model::traits::ConsoleAfterJoin;
use crate::rehearse::SITE;

/// Where a step is done.
pub(super) fn place(
    names: &Names,
    plan: &PlanDocument,
    step: &StepEntry,
    state: &StateDocument,
) -> Result<PlaceView, RenderError> {
    match &step.at {
        Some(Place::Hands(site)) => Ok(PlaceView::Hands { key: "hands".to_owned(), site: site.clone() }),
        Some(Place::Stack(stack)) => {
            // where another console does not answer, or only leads there
            let only = plan.traits.console_after_join != ConsoleAfterJoin::Own;
            let primary = leader(plan, state).filter(|_| only);
            Ok(PlaceView::Stack { key: "stack".to_owned(), stack: stack.clone(), primary })
        }
        Some(Place::Console(unit)) => Ok(PlaceView::Console {
            key: format!("console-{unit}"),
            unit: unit.clone(),
            rack: names.free_text(unit, "rack"),
            height_unit: names.free_text(unit, "height_unit"),
        }),
        None => Err(incomplete(format!("step {} has no place", step.number))),
    }
}

/// Every place of some steps once, in the order in which they are first gone to.
pub(super) fn rows<'s>(steps: impl Iterator<Item = &'s StepView>) -> Vec<PlaceRow> {
    let mut rows: Vec<PlaceRow> = Vec::new();
    for step in steps {
        let (key, kind) = key(&step.place);
        if !rows.iter().any(|row| row.key == key) {
            rows.push(PlaceRow { key: key.to_owned(), label: label(&step.place), kind: kind.to_owned() });
        }
    }
    rows
}

fn key(place: &PlaceView) -> (&str, &'static str) {
    match place {
        PlaceView::Hands { key, .. } => (key, "hands"),
        PlaceView::Stack { key, .. } => (key, "stack"),
        PlaceView::Console { key, .. } => (key, "console"),
    }
}

fn label(place: &PlaceView) -> String {
    match place {
        PlaceView::Hands { site, .. } if site == SITE => "by hands, at the rack".to_owned(),
        PlaceView::Hands { site, .. } => format!("by hands at {site}"),
        PlaceView::Stack { stack, .. } => format!("at the running stack {stack}"),
        PlaceView::Console { unit, .. } => format!("at the console of {unit}"),
    }
}

/// Who leads the running stack in a state: of several that lead something, one that was there before, else the one that
/// shall.
fn leader(plan: &PlanDocument, state: &StateDocument) -> Option<String> {
    let leads = |unit: &&UnitEntry| state.units.get(&unit.key).is_some_and(|state| state.powered && state.primary);
    let there = plan.units.iter().filter(leads);
    let best = there.max_by_key(|unit| (unit.status != Status::Joining, unit.role == Role::Primary));
    best.map(|unit| unit.key.clone())
}
