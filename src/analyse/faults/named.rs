//! Faults and what follows from them, by indices -> by names, as `plan.json` and pipelines have them.

use crate::model::document::{ColdStartEntry, FaultEntry, FaultsEntry, PairsEntry, StepFaults};
use crate::model::natural_order;
use crate::model::setting::Setting;
use crate::model::state::State;
use crate::model::table::{CableId, LegSet, UnitSet};
use crate::rehearse::Rehearsed;

use super::cold::cold_starts;
use super::single::{Fault, Field, homes, links, ordered_ends};
use super::strike::{Island, Outcome};
use super::{Pair, Survey, severity};

/// How many of the worst pairs are kept.
const WORST: usize = 5;

/// The finished stack of a plan.
#[must_use]
pub fn finished(setting: &Setting) -> Field<'_> {
    Field::new(setting, &setting.target, setting.all_units())
}

/// Everything of a plan's faults that its file keeps.
#[must_use]
pub fn entries(rehearsed: &Rehearsed) -> FaultsEntry {
    let setting = &rehearsed.trail().setting;
    let survey = Survey::of(finished(setting));
    let single = |(one, outcome): (&super::Single, &Outcome)| entry(setting, &[one.fault], outcome);
    FaultsEntry {
        finished: survey.field.singles.iter().zip(&survey.singles).map(single).collect(),
        pairs: pairs(&survey),
        steps: steps(rehearsed),
        cold_start: cold_start(&survey.field),
    }
}

/// What happens when the members come back one by one, by names.
#[must_use]
pub fn cold_start(field: &Field<'_>) -> ColdStartEntry {
    let cold = cold_starts(field);
    ColdStartEntry {
        every_order: cold.every_order,
        leaders: names(field.setting, cold.leaders),
        restarts: cold.restarts,
        at_most: cold.at_most,
        order: cold.order.into_iter().map(|unit| field.setting.units[unit].key.clone()).collect(),
    }
}

fn pairs(survey: &Survey<'_>) -> PairsEntry {
    let mut found = PairsEntry { tried: 0, split_brain: 0, cut_off: 0, worst: Vec::new() };
    let mut worst: Vec<([usize; 6], Pair)> = Vec::new();
    for pair in survey.pairs() {
        found.tried += 1;
        found.split_brain += usize::from(pair.outcome.split_brain);
        found.cut_off += usize::from(!pair.outcome.cut_off.is_empty());
        let rank = severity(&survey.healthy, &pair.outcome);
        // of equal ones the first are kept
        let at = worst.iter().position(|(other, _)| *other < rank).unwrap_or(worst.len());
        if at < WORST {
            worst.insert(at, (rank, pair));
            worst.truncate(WORST);
        }
    }
    found.worst = worst.into_iter().map(|(_, pair)| pair_entry(survey, &pair)).collect();
    found
}

/// Two faults by their names.
#[must_use]
pub fn pair_entry(survey: &Survey<'_>, pair: &Pair) -> FaultEntry {
    let both = [pair.of.0, pair.of.1].into_iter().filter_map(|at| survey.field.singles.get(at));
    let faults: Vec<Fault> = both.map(|single| single.fault).collect();
    entry(survey.field.setting, &faults, &pair.outcome)
}

/// The worst single fault after each step that leaves other links, power or legs than there were before it.
fn steps(rehearsed: &Rehearsed) -> Vec<StepFaults> {
    let trail = rehearsed.trail();
    let setting = &trail.setting;
    let mut before = Shape::of(setting, &trail.start.state, trail.start.memory.live);
    let mut found = Vec::new();
    for (step, passed) in rehearsed.plan().steps.iter().zip(&trail.passed) {
        let (state, live) = (&passed.situation.state, passed.situation.memory.live);
        let now = Shape::of(setting, state, live);
        if now == before {
            continue;
        }
        before = now;
        let survey = Survey::of(Field::new(setting, state, live));
        let worst = survey.ranked().first().copied();
        let worst = worst.and_then(|at| Some((survey.field.singles.get(at)?, survey.singles.get(at)?)));
        if let Some((single, outcome)) = worst {
            let survives_any_single = survey.unsurvived() == 0;
            let worst = entry(setting, &[single.fault], outcome);
            found.push(StepFaults { after: step.number, worst, survives_any_single });
        }
    }
    found
}

/// What faults can strike in a situation: where it is as before, so are they.
#[derive(PartialEq, Eq)]
struct Shape {
    links: Vec<Vec<CableId>>,
    powered: UnitSet,
    legs: LegSet,
}

impl Shape {
    fn of(setting: &Setting, state: &State, live: UnitSet) -> Self {
        let powered: UnitSet = live.iter().filter(|unit| state.units[*unit].powered).collect();
        let legs = homes(setting, state, powered).into_iter().map(|home| home.leg).collect();
        Self { links: links(setting, state, live), powered, legs }
    }
}

/// What follows from faults, by names.
#[must_use]
pub fn entry(setting: &Setting, faults: &[Fault], outcome: &Outcome) -> FaultEntry {
    let mut islands: Vec<(Vec<String>, Island)> =
        outcome.islands.iter().map(|island| (names(setting, island.units), *island)).collect();
    islands.sort_by(|(one, _), (other, _)| match (one.first(), other.first()) {
        (Some(one), Some(other)) => natural_order(one, other),
        (one, other) => one.is_some().cmp(&other.is_some()),
    });
    let key = |unit| setting.units[unit].key.clone();
    let mut uplinks: Vec<String> =
        outcome.uplinks_up.iter().map(|uplink| setting.uplinks[uplink].name.clone()).collect();
    uplinks.sort_by(|one, other| natural_order(one, other));
    FaultEntry {
        faults: faults.iter().map(|fault| fault_name(setting, *fault)).collect(),
        primary: islands.iter().map(|(_, island)| island.primary.map(key)).collect(),
        islands: islands.into_iter().map(|(names, _)| names).collect(),
        in_service: names(setting, outcome.in_service),
        uplinks_up: uplinks,
        cut_off: names(setting, outcome.cut_off),
        split_brain: outcome.split_brain,
        restarts_on_heal: names(setting, outcome.restarts),
    }
}

/// Units by their keys, in natural order.
#[must_use]
pub fn names(setting: &Setting, units: UnitSet) -> Vec<String> {
    let mut names = setting.keys(units);
    names.sort_by(|one, other| natural_order(one, other));
    names
}

/// A fault as it is written.
#[must_use]
pub fn fault_name(setting: &Setting, fault: Fault) -> String {
    let cable = |cable| {
        let ends = ordered_ends(setting, cable);
        ends.map_or_else(String::new, |(one, other)| format!("{} {}", setting.end_name(one), setting.end_name(other)))
    };
    match fault {
        Fault::Link(first) => format!("link {}", cable(first)),
        Fault::Cable(one) => format!("cable {}", cable(one)),
        Fault::Unit(unit) => format!("unit {}", setting.units[unit].key),
        Fault::Leg(leg) => format!("leg {}", setting.legs[leg].name),
    }
}
