//! Who leads: the election order, and what decides it.

use std::cmp::Ordering;

use super::setting::Setting;
use super::state::State;
use super::table::{UnitId, UnitSet};
use super::traits::{Criterion, Wins};

/// Compares two units: `Less` means that the first is the better. Also says which criterion decided.
#[must_use]
pub fn compare(setting: &Setting, state: &State, one: UnitId, other: UnitId) -> (Ordering, Option<Criterion>) {
    let (a, b) = (&state.units[one], &state.units[other]);
    for criterion in &setting.traits.election {
        let order = match criterion {
            Criterion::Priority => match setting.traits.priority.wins {
                Wins::Highest => b.priority.cmp(&a.priority),
                Wins::Lowest => a.priority.cmp(&b.priority),
            },
            Criterion::Uptime => a.booted_at.cmp(&b.booted_at),
            Criterion::LowestMac => by_mac(setting, one, other),
            Criterion::LowestId => a.id.cmp(&b.id),
        };
        if order != Ordering::Equal {
            return (order, Some(*criterion));
        }
    }
    (Ordering::Equal, None)
}

/// A known MAC beats an unknown one; of two known ones the lower wins.
fn by_mac(setting: &Setting, one: UnitId, other: UnitId) -> Ordering {
    match (setting.units[one].mac, setting.units[other].mac) {
        (Some(a), Some(b)) => a.cmp(&b),
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => Ordering::Equal,
    }
}

/// The outcome of an election.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Elected {
    /// The winner; of several that tie, the lowest unit, so that a replay can go on.
    pub winner: UnitId,
    /// Whether the order decided.
    pub decided: bool,
}

/// Elects the best of some units; none of an empty set.
#[must_use]
pub fn elect(setting: &Setting, state: &State, candidates: UnitSet) -> Option<Elected> {
    let mut elected = Elected { winner: candidates.first()?, decided: true };
    for unit in candidates.iter().skip(1) {
        match compare(setting, state, unit, elected.winner).0 {
            Ordering::Less => elected = Elected { winner: unit, decided: true },
            Ordering::Equal => elected.decided = false,
            Ordering::Greater => {}
        }
    }
    Some(elected)
}

/// The standby of an island: the best of the others; none if the order does not decide it.
#[must_use]
pub fn standby(setting: &Setting, state: &State, island: UnitSet) -> Option<UnitId> {
    let others: UnitSet =
        island.iter().filter(|unit| !state.units[*unit].primary && !state.units[*unit].waiting).collect();
    elect(setting, state, others).filter(|elected| elected.decided).map(|elected| elected.winner)
}

/// Whether the priority alone says that a unit is, or is not, the standby of its island.
#[must_use]
pub fn priority_decides_role(setting: &Setting, state: &State, island: UnitSet, unit: UnitId) -> bool {
    if setting.traits.election.first() != Some(&Criterion::Priority) {
        return false;
    }
    let others = island.iter().filter(|other| *other != unit && !state.units[*other].primary);
    let mine = state.units[unit].priority;
    let better = |other: UnitId| match setting.traits.priority.wins {
        Wins::Highest => state.units[other].priority > mine,
        Wins::Lowest => state.units[other].priority < mine,
    };
    let mut best_alone = true;
    for other in others {
        if better(other) {
            return true;
        }
        best_alone &= state.units[other].priority != mine;
    }
    best_alone
}
