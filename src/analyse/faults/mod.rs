//! A state of the stack -> what each single fault, and each two at once, would leave of it.
//!
//! What settles after a fault, and what healing restarts, is the model's own settle; names are given at the rim, in
//! `named`. To be quick, a fault that can change no island is not tried anew, since settling sees nothing but islands:
//! one cable of several, a leg, or a link at a unit that fails with it.
//!
//! Pairs grow with the square of what can fail, and each settles on all units: with `n` members some `n³`. In six runs of
//! an optimised build, the quickest of nine times each: 595 faults and pairs of a ring of 16 members in 1.4 to 2.1 ms,
//! 8,515 of 64 in 85 to 106 ms, 74,435 of 64 with four cables a side in 260 to 316 ms (the stacks of `tests/scale.rs`).

mod advice;
mod cold;
mod digest;
mod named;
mod rank;
mod single;
mod strike;
mod words;

#[cfg(test)]
pub(super) mod tests;

pub use advice::{Common, advice};
pub use cold::{ColdStart, cold_starts};
pub use digest::{Digest, digest};
pub use named::{cold_start, entry, fault_name, finished, names, pair_entry};
pub use rank::{severity, survives};
pub use single::{Fault, Field, Home, Single, links};
pub use strike::{Island, Outcome, Terms, Wreck};
pub use words::consequence;

use crate::model::setting::CableRow;
use crate::model::state::State;
use crate::model::table::{CableSet, LegSet, UnitSet};

/// What each fault of a state would leave.
#[derive(Clone, Debug)]
pub struct Survey<'a> {
    /// What can fail.
    pub field: Field<'a>,
    /// Without any fault.
    pub healthy: Outcome,
    /// Of each single fault, in the order of the field's.
    pub singles: Vec<Outcome>,
    wrecks: Vec<Option<Wreck>>,
    whole: Wreck,
}

/// Two faults at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pair {
    /// The positions of both among the single faults, the lower first.
    pub of: (usize, usize),
    /// What follows.
    pub outcome: Outcome,
}

/// What two faults at once come to, islands alone considered.
enum Together {
    /// No island changes.
    Nothing,
    /// The same as this one alone.
    Alone(usize),
    /// The same as if this link broke whole.
    Link(usize),
    /// Both count.
    Both,
}

impl<'a> Survey<'a> {
    /// Tries every single fault.
    #[must_use]
    pub fn of(field: Field<'a>) -> Self {
        let whole = field.strike(CableSet::EMPTY, UnitSet::EMPTY);
        let healthy = field.serve(&whole, LegSet::EMPTY);
        let wrecks: Vec<Option<Wreck>> =
            field.singles.iter().map(|one| severs(one).then(|| field.strike(one.cables, one.down))).collect();
        let outcome = |(one, wreck): (&Single, &Option<Wreck>)| field.serve(wreck.as_ref().unwrap_or(&whole), one.legs);
        let singles = field.singles.iter().zip(&wrecks).map(outcome).collect();
        Self { healthy, singles, wrecks, whole, field }
    }

    /// The single faults by their positions, the worst first; of equal ones, in their order.
    #[must_use]
    pub fn ranked(&self) -> Vec<usize> {
        let mut all: Vec<usize> = (0..self.singles.len()).collect();
        let rank = |at: &usize| self.singles.get(*at).map(|outcome| severity(&self.healthy, outcome));
        all.sort_by_key(|at| std::cmp::Reverse(rank(at)));
        all
    }

    /// How many single faults it does not survive.
    #[must_use]
    pub fn unsurvived(&self) -> usize {
        self.singles.iter().filter(|one| !survives(&self.healthy, one)).count()
    }

    /// What two faults leave, by their positions; none if there are no such two.
    #[must_use]
    pub fn both(&self, one: usize, other: usize) -> Option<Pair> {
        self.pair(one.min(other), one.max(other)).filter(|_| one != other)
    }

    /// Every two different single faults at once, but for a link with one of its own cables.
    pub fn pairs(&self) -> impl Iterator<Item = Pair> + '_ {
        let all = self.field.singles.len();
        (0..all).flat_map(move |one| (one + 1..all).filter_map(move |other| self.pair(one, other)))
    }

    fn pair(&self, one: usize, other: usize) -> Option<Pair> {
        let (a, b) = (self.field.singles.get(one)?, self.field.singles.get(other)?);
        let own = |link: &Single, cable: &Single| {
            matches!((link.fault, cable.fault), (Fault::Link(_), Fault::Cable(_))) && link.of_link == cable.of_link
        };
        if own(a, b) || own(b, a) {
            return None;
        }
        let wreck = |at: usize| self.wrecks.get(at).and_then(Option::as_ref).unwrap_or(&self.whole);
        let legs = a.legs.or(b.legs);
        let outcome = match self.together((one, a), (other, b)) {
            Together::Nothing => self.field.serve(&self.whole, legs),
            Together::Alone(at) => self.field.serve(wreck(at), legs),
            Together::Link(link) => self.field.serve(wreck(link), legs),
            Together::Both => self.field.serve(&self.field.strike(a.cables.or(b.cables), a.down.or(b.down)), legs),
        };
        Some(Pair { of: (one, other), outcome })
    }

    fn together(&self, (one, a): (usize, &Single), (other, b): (usize, &Single)) -> Together {
        match (severs(a), severs(b)) {
            (false, false) => match a.of_link.filter(|link| b.of_link == Some(*link)) {
                // links stand first, in the order of their numbers
                Some(link) if self.field.widths.get(link) == Some(&2) => Together::Link(link),
                _ => Together::Nothing,
            },
            (true, false) => Together::Alone(one),
            (false, true) => Together::Alone(other),
            // a link at a unit that fails is dark already
            (true, true) if a.ends.meets(b.down) => Together::Alone(other),
            (true, true) if b.ends.meets(a.down) => Together::Alone(one),
            (true, true) => Together::Both,
        }
    }
}

/// The state that some of the single faults at once leave, and what follows from them.
#[must_use]
pub fn struck(survey: &Survey<'_>, positions: &[usize]) -> (State, Outcome) {
    let (mut cables, mut down, mut legs) = (CableSet::EMPTY, UnitSet::EMPTY, LegSet::EMPTY);
    for single in positions.iter().filter_map(|at| survey.field.singles.get(*at)) {
        (cables, down, legs) = (cables.or(single.cables), down.or(single.down), legs.or(single.legs));
    }
    let wreck = survey.field.strike(cables, down);
    let outcome = survey.field.serve(&wreck, legs);
    let mut state = wreck.state().clone();
    for leg in legs.iter() {
        let ports = survey.field.setting.legs[leg].ports.iter();
        let far = ports.flat_map(|port| survey.field.setting.ports[*port].cables.iter());
        far.filter(|cable| matches!(survey.field.setting.cables[**cable], CableRow::Far(..)))
            .for_each(|cable| state.plugged.remove(*cable));
    }
    (state, outcome)
}

/// Whether a fault can change an island.
const fn severs(single: &Single) -> bool {
    matches!(single.fault, Fault::Link(_) | Fault::Unit(_))
}
