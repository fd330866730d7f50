//! Where each step of a plan is done.

use crate::model::document::{Fact, Place};
use crate::model::facts::{Spot, names_unit, seen_by_hands};
use crate::model::naming::unit_of;
use crate::model::operation::by_hands;
use crate::model::places::{operation_spot, unit_spot};
use crate::model::progress::Situation;
use crate::model::setting::Setting;

use super::resolve::Act;

/// The site at which hands work; a plan knows one.
pub const SITE: &str = "site";

/// A spot as the plan writes it.
#[must_use]
pub fn place(setting: &Setting, spot: Spot) -> Place {
    match spot {
        Spot::Hands => Place::Hands(SITE.to_owned()),
        Spot::Stack => Place::Stack(setting.stack.clone()),
        Spot::Console(unit) => Place::Console(setting.units[unit].key.clone()),
    }
}

/// Where the step at `position` is done.
#[must_use]
pub fn spot(setting: &Setting, situation: &Situation, acts: &[Act<'_>], position: usize) -> Spot {
    match acts.get(position) {
        Some(Act::Do(operation)) => operation_spot(setting, situation, *operation),
        Some(Act::Await(unit, ..)) => unit_spot(setting, situation, *unit),
        Some(Act::Expect(facts)) => facts_spot(setting, situation, facts, acts, position),
        None => Spot::Stack,
    }
}

fn facts_spot(setting: &Setting, situation: &Situation, facts: &[Fact], acts: &[Act<'_>], position: usize) -> Spot {
    if !facts.is_empty() && facts.iter().all(seen_by_hands) {
        return Spot::Hands;
    }
    let first = facts.iter().find_map(names_unit).and_then(|key| unit_of(setting, key).ok());
    if let Some(unit) = first {
        return unit_spot(setting, situation, unit);
    }
    if facts.iter().any(|fact| matches!(fact, Fact::Uplink { .. } | Fact::Guard { .. })) {
        return Spot::Stack;
    }
    let typed = |act: &&Act<'_>| matches!(act, Act::Do(operation) if !by_hands(*operation));
    let next = acts.iter().skip(position).find(typed);
    let last = || acts.iter().take(position).rev().find(typed);
    match next.or_else(last) {
        Some(Act::Do(operation)) => operation_spot(setting, situation, *operation),
        _ => Spot::Stack,
    }
}
