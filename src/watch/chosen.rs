//! Slips and the chances to see each of them -> at which looks it shall be seen, as few as possible.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::document::Fact;
use crate::model::facts::Spot;
use crate::model::slips::{Script, Slip};

/// Where a slip can be seen: at a look that stands, by a fact more if it takes one; or at a new one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Chance {
    pub(super) point: Point,
    pub(super) fact: Option<Fact>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Point {
    /// The look in this line.
    There(usize),
    /// A new one before this line.
    New(usize, Spot),
}

impl Point {
    /// Whether it is among so many first lines, or new right after them.
    pub(super) const fn is_within(self, first: usize) -> bool {
        match self {
            Self::There(line) => line < first,
            Self::New(line, _) => line <= first,
        }
    }
}

/// A slip that would do harm, and all chances to see it in time.
pub(super) struct Want {
    pub(super) slip: Slip,
    pub(super) chances: Vec<Chance>,
}

impl Want {
    /// Whether it can be seen at a look that stands in any case.
    fn is_free(&self, soft: &[bool]) -> bool {
        self.chances.iter().any(|chance| is_free(chance, soft))
    }
}

pub(super) fn is_free(chance: &Chance, soft: &[bool]) -> bool {
    matches!(chance.point, Point::There(look) if soft.get(look) == Some(&false))
}

/// What was decided: looks that stay, and facts to add to looks, new ones included.
#[derive(Default)]
pub(super) struct Chosen {
    pub(super) stay: BTreeSet<usize>,
    pub(super) facts: BTreeMap<Point, Vec<Fact>>,
}

impl Chosen {
    fn take(&mut self, chance: &Chance) {
        if let Point::There(look) = chance.point {
            self.stay.insert(look);
        }
        let facts = self.facts.entry(chance.point).or_default();
        if let Some(fact) = chance.fact.as_ref().filter(|fact| !facts.contains(fact)) {
            facts.push(fact.clone());
        }
    }

    pub(super) fn stops(&self, chance: &Chance) -> bool {
        match (&chance.fact, chance.point) {
            (None, Point::There(look)) => self.stay.contains(&look),
            (None, Point::New(..)) => false,
            (Some(fact), point) => self.facts.get(&point).is_some_and(|facts| facts.contains(fact)),
        }
    }
}

pub(super) fn choose(script: &Script<'_>, soft: &[bool], wants: &[Want]) -> Chosen {
    let mut chosen = Chosen::default();
    let (free, costly): (Vec<&Want>, Vec<&Want>) = wants.iter().partition(|want| want.is_free(soft));
    let mut costly: Vec<&[Chance]> = costly.into_iter().map(|want| want.chances.as_slice()).collect();
    while !costly.is_empty() {
        let mut counts: BTreeMap<Point, usize> = BTreeMap::new();
        for chances in &costly {
            let points: BTreeSet<Point> = chances.iter().map(|chance| chance.point).collect();
            points.into_iter().for_each(|point| *counts.entry(point).or_default() += 1);
        }
        let Some((best, _)) = counts.into_iter().max_by_key(|(point, count)| (*count, ease(script, *point))) else {
            break;
        };
        costly.retain(|chances| {
            // what it shows as it stands comes before a fact more
            let here = chances.iter().filter(|chance| chance.point == best);
            let chance = here.min_by_key(|chance| chance.fact.is_some());
            chance.into_iter().for_each(|chance| chosen.take(chance));
            chance.is_none()
        });
    }
    for chances in free.into_iter().map(|want| &want.chances) {
        if !chances.iter().any(|chance| chosen.stops(chance)) {
            // the sooner it shows, the less was done on top of it
            let first = chances.iter().find(|chance| is_free(chance, soft));
            first.into_iter().for_each(|chance| chosen.take(chance));
        }
    }
    chosen
}

/// Among looks that stop as many slips: one that stands; one where somebody is anyway; the latest.
fn ease(script: &Script<'_>, point: Point) -> (bool, bool, usize) {
    match point {
        Point::There(look) => (true, true, look),
        Point::New(before, spot) => {
            let here = before.checked_sub(1).is_some_and(|last| script.spot(last) == spot);
            (false, here, before)
        }
    }
}
