//! Whether cables and power alone could ever lead from one state to the other: a proof that no order does.
//!
//! Everything is left out but which cables are plugged, which units are on, and which piece is the stack. Every link
//! works, every unit may be off, any piece may be the stack, a leg counts before it is added and after it has gone: what
//! no such order reaches, no order of the model reaches either. What is asked of every step is that the stack holds
//! every pair that is to stay up, on units that were in it before the step or are switched on by it: a leg that is lit
//! elsewhere bridges two boxes, and no step lights a leg and moves the stack. Only the cables of the two states are
//! moved, so that it says nothing of spare ones.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, PortId, UnitId, UnitSet, UplinkId};

use super::work::Work;

/// With more bits than this it is not looked through: the question is left to the search.
const MOST_BITS: usize = 18;

/// The ends of a cable between units.
#[derive(Clone, Copy)]
struct Wire {
    ports: [PortId; 2],
    units: UnitSet,
}

/// What is left of a change. A row of bits says which cables that come or go are plugged, and which units are on.
struct Yard {
    moved: Vec<Wire>,
    fixed: Vec<Wire>,
    live: Vec<UnitId>,
    joining: UnitSet,
    /// The units with a leg of each pair that is to stay up, before or after.
    legs: Vec<UnitSet>,
    first: usize,
    last: usize,
}

/// A row of bits, and the piece that is the stack.
type Place = (usize, UnitSet);

/// Whether no order of plugs and power could do without a spare cable; no, where that was not looked through.
#[must_use]
pub fn is_stuck(setting: &Setting, work: &Work) -> bool {
    let Some(yard) = Yard::of(setting, work) else { return false };
    let whole: UnitSet = yard.live.iter().copied().collect();
    let mut seen: BTreeMap<usize, Vec<UnitSet>> = BTreeMap::new();
    let mut open: Vec<Place> = vec![(yard.first, whole)];
    // what is nearer to the end is looked at first: where there is a way, it is found soon
    while let Some((at, stack)) = open.pop() {
        let known = seen.entry(at).or_default();
        if known.contains(&stack) {
            continue;
        }
        known.push(stack);
        if at == yard.last {
            return false;
        }
        let mut next: Vec<Place> = Vec::new();
        (0..yard.bits()).filter(|bit| yard.is_free(at, *bit)).for_each(|bit| yard.turn(at, stack, bit, &mut next));
        next.sort_by_key(|(next, _)| Reverse((next ^ yard.last).count_ones()));
        open.append(&mut next);
    }
    true
}

impl Yard {
    /// Looks at a change; none where it is of another kind: a new stack, a baseline that has fallen apart, no pair that is
    /// to stay up, or nothing that goes.
    fn of(setting: &Setting, work: &Work) -> Option<Self> {
        let start = Situation::start(setting);
        let live = start.memory.live;
        let whole = setting.founder().is_none() && !live.is_empty() && start.incumbent(setting) == live;
        let is_up = |pair: &UplinkId| {
            setting.uplinks[*pair].legs.and(start.state.running.legs).iter().any(|leg| start.carries(setting, leg))
        };
        let units = |pair: UplinkId| {
            let ports = setting.uplinks[pair].legs.iter().flat_map(|leg| setting.legs[leg].ports.iter());
            ports.map(|port| setting.unit_of(*port)).collect::<UnitSet>()
        };
        let legs: Vec<UnitSet> = setting.kept_pairs.iter().filter(is_up).map(units).collect();
        let goes = !work.disconnect.is_empty() || !work.leavers.is_empty();
        if !whole || legs.is_empty() || !goes {
            return None;
        }
        let wire = |cable: CableId| match setting.cables[cable] {
            CableRow::Units(a, b) => {
                let units = UnitSet::one(setting.unit_of(a)).with(setting.unit_of(b));
                Some(Wire { ports: [a, b], units })
            }
            CableRow::Far(..) => None,
        };
        let gone: Vec<Wire> = work.disconnect.iter().filter_map(|cable| wire(*cable)).collect();
        let fresh = work.connect.iter().filter_map(|cable| wire(*cable));
        let fixed = setting.baseline.plugged.and(setting.target.plugged).iter().filter_map(wire).collect();
        let (goes, mut moved) = (gone.len(), gone);
        moved.extend(fresh);
        let live: Vec<UnitId> = live.iter().collect();
        if moved.len() + live.len() > MOST_BITS {
            return None;
        }
        let on = ((1 << live.len()) - 1) << moved.len();
        let stay = live.iter().enumerate().filter(|(_, unit)| setting.stays(**unit));
        let first = ((1 << goes) - 1) | on;
        let last = ((1 << moved.len()) - 1) & !((1 << goes) - 1);
        let last = stay.fold(last, |last, (position, _)| last | 1 << (moved.len() + position));
        Some(Self { moved, fixed, live, joining: setting.joining, legs, first, last })
    }

    fn bits(&self) -> usize {
        self.moved.len() + self.live.len()
    }

    fn plugged(&self, at: usize) -> impl Iterator<Item = &Wire> {
        let moved = self.moved.iter().enumerate().filter(move |(position, _)| at >> position & 1 == 1);
        moved.map(|(_, wire)| wire).chain(&self.fixed)
    }

    /// Whether a bit may be turned: a cable is plugged into ports that are free.
    fn is_free(&self, at: usize, bit: usize) -> bool {
        match self.moved.get(bit) {
            Some(wire) if at >> bit & 1 == 0 => {
                !self.plugged(at).any(|other| other.ports.iter().any(|port| wire.ports.contains(port)))
            }
            _ => true,
        }
    }

    /// What comes of one cable more or less, or of one unit on or off: for every piece that may be the stack then.
    fn turn(&self, at: usize, stack: UnitSet, bit: usize, next: &mut Vec<Place>) {
        let at = at ^ 1 << bit;
        let power = |position: &usize| at >> (self.moved.len() + position) & 1 == 1;
        let on = (0..self.live.len()).filter(power).filter_map(|position| self.live.get(position).copied());
        let on = on.collect::<UnitSet>().or(self.joining);
        let turned = bit.checked_sub(self.moved.len()).and_then(|position| self.live.get(position).copied());
        let before = turned.map_or(stack, |unit| stack.with(unit));
        let mut left = on;
        while let Some(unit) = left.first() {
            let piece = self.piece(at, on, unit);
            left = left.minus(piece);
            if self.legs.iter().all(|legs| legs.meets(piece.and(before))) {
                next.push((at, piece));
            }
        }
    }

    fn piece(&self, at: usize, on: UnitSet, unit: UnitId) -> UnitSet {
        let mut piece = UnitSet::one(unit);
        loop {
            let before = piece;
            let ends = self.plugged(at).map(|wire| wire.units).filter(|units| units.within(on));
            piece = ends.filter(|units| units.meets(before)).fold(before, UnitSet::or);
            if piece == before {
                return piece;
            }
        }
    }
}
