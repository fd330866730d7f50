//! Where operations are done, and whether a look tells that place from every other.

use super::acts::Act;
use super::document::Fact;
use super::facts::{Spot, holds, known_here, names_unit, seen_by_hands};
use super::naming::unit_of;
use super::operation::{Operation, by_hands, unit_of as operation_unit};
use super::progress::Situation;
use super::setting::Setting;
use super::table::{UnitId, UnitSet};

/// Where a unit is typed on: at the stack if it is in the incumbent island, else at its console.
#[must_use]
pub fn unit_spot(setting: &Setting, situation: &Situation, unit: UnitId) -> Spot {
    unit_spot_in(situation.incumbent(setting), unit)
}

fn unit_spot_in(incumbent: UnitSet, unit: UnitId) -> Spot {
    if incumbent.contains(unit) { Spot::Stack } else { Spot::Console(unit) }
}

/// Where an operation is done.
#[must_use]
pub fn operation_spot(setting: &Setting, situation: &Situation, operation: Operation) -> Spot {
    if by_hands(operation) {
        return Spot::Hands;
    }
    operation_spot_in(setting, situation.incumbent(setting), operation)
}

fn operation_spot_in(setting: &Setting, incumbent: UnitSet, operation: Operation) -> Spot {
    match operation_unit(setting, operation) {
        _ if by_hands(operation) => Spot::Hands,
        Some(unit) => unit_spot_in(incumbent, unit),
        None => Spot::Stack,
    }
}

/// Every place at which somebody could type now: the stack, and the console of each powered unit
/// outside it.
pub fn typing_spots(setting: &Setting, situation: &Situation) -> impl Iterator<Item = Spot> {
    let incumbent = situation.incumbent(setting);
    let stack = (!incumbent.is_empty()).then_some(Spot::Stack);
    let state = &situation.state;
    let consoles = setting.units.ids().filter(move |unit| state.units[*unit].powered && !incumbent.contains(*unit));
    stack.into_iter().chain(consoles.map(Spot::Console))
}

/// Whether a fact is a `here` that no other place satisfies now.
#[must_use]
pub fn singles_out(setting: &Setting, situation: &Situation, spot: Spot, fact: &Fact) -> bool {
    let elsewhere = |other: Spot| holds(setting, situation, other, fact).unwrap_or(true);
    matches!(fact, Fact::Here { .. })
        && holds(setting, situation, spot, fact).unwrap_or(false)
        && !typing_spots(setting, situation).filter(|other| *other != spot).any(elsewhere)
}

/// Whether a look proves that this is the right place: by a `here` that no other place satisfies,
/// or, where nothing known tells two consoles apart, by a question to a person.
#[must_use]
pub fn proves_place(setting: &Setting, situation: &Situation, spot: Spot, facts: &[Fact]) -> bool {
    if facts.iter().any(|fact| singles_out(setting, situation, spot, fact)) {
        return true;
    }
    let asks = facts.iter().any(|fact| matches!(fact, Fact::Ask { .. }));
    asks && known_here(setting, situation, spot).is_some_and(|fact| !singles_out(setting, situation, spot, &fact))
}

/// Where the step at `position` is done.
#[must_use]
pub fn spot(setting: &Setting, situation: &Situation, acts: &[Act<'_>], position: usize) -> Spot {
    spot_in(setting, situation.incumbent(setting), acts, position)
}

/// The same, where the incumbent island is known already.
#[must_use]
pub fn spot_in(setting: &Setting, incumbent: UnitSet, acts: &[Act<'_>], position: usize) -> Spot {
    match acts.get(position) {
        Some(Act::Do(operation)) => operation_spot_in(setting, incumbent, *operation),
        Some(Act::Await(unit, ..)) => unit_spot_in(incumbent, *unit),
        Some(Act::Expect(facts)) => facts_spot(setting, incumbent, facts, acts, position),
        None => Spot::Stack,
    }
}

fn facts_spot(setting: &Setting, incumbent: UnitSet, facts: &[Fact], acts: &[Act<'_>], position: usize) -> Spot {
    if !facts.is_empty() && facts.iter().all(seen_by_hands) {
        return Spot::Hands;
    }
    let first = facts.iter().find_map(names_unit).and_then(|key| unit_of(setting, key).ok());
    if let Some(unit) = first {
        return unit_spot_in(incumbent, unit);
    }
    if facts.iter().any(|fact| matches!(fact, Fact::Uplink { .. } | Fact::Guard { .. } | Fact::Admitted { .. })) {
        return Spot::Stack;
    }
    let typed = |act: &&Act<'_>| matches!(act, Act::Do(operation) if !by_hands(*operation));
    let next = acts.iter().skip(position).find(typed);
    let last = || acts.iter().take(position).rev().find(typed);
    match next.or_else(last) {
        Some(Act::Do(operation)) => operation_spot_in(setting, incumbent, *operation),
        _ => Spot::Stack,
    }
}
