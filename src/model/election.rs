//! Who leads: the election order, and what decides it.

use std::cmp::Ordering;

use super::derive::Islands;
use super::names::Priority;
use super::setting::Setting;
use super::state::State;
use super::table::{UnitId, UnitSet};
use super::traits::{Criterion, PriorityEffect, StandbySeat, Wins};

/// What is voted on, and by what is known.
#[derive(Clone, Copy, Debug)]
pub enum Ballot<'a> {
    /// Who leads where nobody does.
    Boot,
    /// Which of several primaries stays; the islands before they met.
    Merge(&'a Islands),
    /// Who is the standby.
    Seat,
    /// Which of several islands a split guard leaves in service: as for merges, but without the uptime, which pieces that
    /// do not meet cannot compare; the islands as they are.
    Guard(&'a Islands),
}

impl Ballot<'_> {
    fn order(self, setting: &Setting) -> &[Criterion] {
        match self {
            Self::Boot | Self::Seat => &setting.traits.election.boot,
            Self::Merge(_) | Self::Guard(_) => &setting.traits.election.merge,
        }
    }

    /// The priority that counts here.
    fn priority(self, setting: &Setting, state: &State, unit: UnitId) -> Priority {
        let late = setting.traits.priority.takes_effect == PriorityEffect::NextElection;
        let row = &state.units[unit];
        if late && matches!(self, Self::Seat) { row.counts } else { row.priority }
    }

    fn size(self, unit: UnitId) -> usize {
        match self {
            Self::Merge(islands) | Self::Guard(islands) => islands.around(unit).len(),
            Self::Boot | Self::Seat => 0,
        }
    }
}

/// Compares two units: `Less` means that the first is the better. Also says which criterion decided.
#[must_use]
pub fn compare(
    setting: &Setting,
    state: &State,
    ballot: Ballot<'_>,
    one: UnitId,
    other: UnitId,
) -> (Ordering, Option<Criterion>) {
    let (a, b) = (&state.units[one], &state.units[other]);
    for criterion in ballot.order(setting) {
        let order = match criterion {
            Criterion::Priority => {
                let (a, b) = (ballot.priority(setting, state, one), ballot.priority(setting, state, other));
                match setting.traits.priority.wins {
                    Wins::Highest => b.cmp(&a),
                    Wins::Lowest => a.cmp(&b),
                }
            }
            Criterion::Uptime if matches!(ballot, Ballot::Guard(_)) => Ordering::Equal,
            Criterion::Uptime => a.booted_at.cmp(&b.booted_at),
            Criterion::LowestMac => by_mac(setting, one, other, false),
            Criterion::HighestMac => by_mac(setting, one, other, true),
            Criterion::LowestId => a.id.cmp(&b.id),
            Criterion::Acting => b.primary.cmp(&a.primary),
            Criterion::Size => ballot.size(other).cmp(&ballot.size(one)),
        };
        if order != Ordering::Equal {
            return (order, Some(*criterion));
        }
    }
    (Ordering::Equal, None)
}

/// A known MAC beats an unknown one; of two known ones the lower wins, or the higher.
fn by_mac(setting: &Setting, one: UnitId, other: UnitId, highest: bool) -> Ordering {
    match (setting.units[one].mac, setting.units[other].mac) {
        (Some(a), Some(b)) => {
            if highest {
                b.cmp(&a)
            } else {
                a.cmp(&b)
            }
        }
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
pub fn elect(setting: &Setting, state: &State, ballot: Ballot<'_>, candidates: UnitSet) -> Option<Elected> {
    let mut elected = Elected { winner: candidates.first()?, decided: true };
    for unit in candidates.iter().skip(1) {
        match compare(setting, state, ballot, unit, elected.winner).0 {
            Ordering::Less => elected = Elected { winner: unit, decided: true },
            Ordering::Equal => elected.decided = false,
            Ordering::Greater => {}
        }
    }
    Some(elected)
}

/// The standby of an island: who has the seat, or the best of the others; none if the order does not decide it.
#[must_use]
pub fn standby(setting: &Setting, state: &State, island: UnitSet) -> Option<UnitId> {
    match setting.traits.standby {
        StandbySeat::Sticky => island.iter().find(|unit| state.units[*unit].standby),
        StandbySeat::Best => {
            let elected = elect(setting, state, Ballot::Seat, able(state, island));
            elected.filter(|elected| elected.decided).map(|elected| elected.winner)
        }
    }
}

/// Those of an island that could take over.
#[must_use]
pub fn able(state: &State, island: UnitSet) -> UnitSet {
    island.iter().filter(|unit| !state.units[*unit].primary && !state.units[*unit].waiting).collect()
}

/// Whether the priority alone says that a unit is, or is not, the standby of its island; a seat that is kept says so
/// itself.
#[must_use]
pub fn priority_decides_role(setting: &Setting, state: &State, island: UnitSet, unit: UnitId) -> bool {
    if setting.traits.standby == StandbySeat::Sticky {
        return true;
    }
    if setting.traits.election.boot.first() != Some(&Criterion::Priority) {
        return false;
    }
    let priority = |unit: UnitId| Ballot::Seat.priority(setting, state, unit);
    let others = island.iter().filter(|other| *other != unit && !state.units[*other].primary);
    let mine = priority(unit);
    let better = |other: UnitId| match setting.traits.priority.wins {
        Wins::Highest => priority(other) > mine,
        Wins::Lowest => priority(other) < mine,
    };
    let mut best_alone = true;
    for other in others {
        if better(other) {
            return true;
        }
        best_alone &= priority(other) != mine;
    }
    best_alone
}
