//! Faults and what follows from them, by indices -> by names, as `plan.json` and pipelines have them.

use crate::model::document::{ColdStartEntry, FaultEntry};
use crate::model::natural_order;
use crate::model::setting::Setting;
use crate::model::table::UnitSet;

use super::cold::cold_starts;
use super::single::{Fault, Field, ordered_ends};
use super::strike::{Island, Outcome};
use super::{Pair, Survey};

/// The finished stack of a plan.
#[must_use]
pub fn finished(setting: &Setting) -> Field<'_> {
    Field::new(setting, &setting.target, setting.all_units())
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

/// Two faults by their names.
#[must_use]
pub fn pair_entry(survey: &Survey<'_>, pair: &Pair) -> FaultEntry {
    let both = [pair.of.0, pair.of.1].into_iter().filter_map(|at| survey.field.singles.get(at));
    let faults: Vec<Fault> = both.map(|single| single.fault).collect();
    entry(survey.field.setting, &faults, &pair.outcome)
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
