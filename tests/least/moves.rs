//! A change -> the least of items 1 to 4 that whole moves of links cost: plug, unplug, take a link up or
//! down by typing, switch a box off or on, restart one. For more members than single steps can be tried on.
//!
//! Why no plan costs less. Forget of every situation all but who is on, which cables are plugged, which of
//! them carry, who is and was live, and which pairs of boxes were linked before. Then each operation of a
//! lawful plan is one of these moves at the same price, or changes nothing here:
//! - typing on a port takes at most its one link up or down, and takes `command`; only an activation takes
//!   several up at once, and takes `activate`; all other typing is free here, where a plan pays minutes for it;
//! - where islands meet, all but one restart, as in a plan; which one stays is free where none is the stack's;
//! - a plug, a boot and a lost merge may bring up any of the links that can be lit then, or none: what is bound
//!   and saved is free here, where a plan must have typed it;
//! - a link counts as not typed (item 4) only where no cable linked those two boxes before, and cables between
//!   two boxes are as many links (item 2): no more than with the sides looked at;
//! - of the rules those remain that can be told from what is left: who must be together, who may go down, and
//!   that no box of the stack leads another island. Fewer rules allow more.
//!
//! So the least of the moves is at most that of the plans. Where the planner meets it, no plan at all is
//! cheaper; where it does not, an order that does shows that it could (`cheaper.rs`). Not exact where three
//! boxes make a ring and typing takes time: a link that is new by its sides is none by its boxes. The change
//! must leave the lead where it is, the losers of a merge must restart, and bindings count by typing.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use ringwright::model::progress::Situation;
use ringwright::model::setting::{CableRow, Setting};
use ringwright::model::table::{Id, UnitSet};
use ringwright::model::traits::{BindingEffect, Loser, MinutesTable};

use crate::price::likely;

/// Items 1 to 4.
pub type Cost = [i64; 4];

/// What is left of a situation: sets of boxes and of cables as bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Place {
    on: u32,
    plugged: u32,
    carry: u32,
    live: u32,
    was_live: u32,
    /// Pairs of boxes that were linked.
    linked: u32,
}

/// One change as boxes and cables.
pub struct Yard {
    boxes: usize,
    /// The two boxes of each cable, and its two ports.
    cables: Vec<([usize; 2], [usize; 2])>,
    leader: u32,
    leaving: u32,
    may_restart: u32,
    may_split: u32,
    dead: u32,
    rings: bool,
    /// Several links may come up by one step.
    activates: bool,
    minutes: MinutesTable,
    start: Place,
    target: Place,
}

impl Yard {
    pub fn new(setting: &Setting) -> Self {
        let start = Situation::start(setting);
        let leader = start.memory.leader.unwrap();
        assert!(setting.target.units[leader].primary, "the lead moves");
        assert!(setting.traits.joining.loser == Loser::Restarts && setting.uplinks.is_empty(), "not for these moves");
        let cables = setting.cables.ids().map(|cable| match setting.cables[cable] {
            CableRow::Units(a, b) => {
                let ports = [a, b];
                (ports.map(|port| setting.unit_of(port).position()), ports.map(|port| port.position()))
            }
            CableRow::Far(..) => panic!("a far cable"),
        });
        let plugged = |state: &ringwright::model::state::State| {
            state.plugged.iter().fold(0, |all, cable| all | 1 << cable.position())
        };
        let stay = bits(setting.all_units().minus(setting.leaving));
        let live = bits(start.memory.live);
        let first = plugged(&setting.baseline);
        let last = plugged(&setting.target);
        let begin = Place { on: live, plugged: first, carry: first, live, was_live: live, linked: 0 };
        let target = Place { on: stay, plugged: last, carry: last, live: stay, was_live: stay, linked: 0 };
        let mut yard = Self {
            boxes: setting.units.len(),
            cables: cables.collect(),
            leader: 1 << leader.position(),
            leaving: bits(setting.leaving),
            may_restart: bits(setting.may_restart),
            may_split: bits(setting.may_split),
            dead: bits(setting.dead),
            rings: false,
            activates: setting.traits.binding.takes_effect == BindingEffect::OnActivation,
            minutes: setting.traits.minutes,
            start: begin,
            target,
        };
        // a cable at a box that is off carries nothing
        yard.start.carry &= yard.lightable(&yard.start);
        yard.start.linked = yard.pairs(yard.start.carry);
        yard.rings =
            yard.protected(&yard.start) && yard.protected(&yard.target) && live.count_ones().min(stay.count_ones()) > 1;
        yard
    }

    /// The least cost of moves that lead to the target.
    pub fn least(&self) -> Option<Cost> {
        let mut best = HashMap::from([(self.start, [0; 4])]);
        let mut queue = BinaryHeap::from([(Reverse([0; 4]), self.start)]);
        while let Some((Reverse(cost), place)) = queue.pop() {
            if best[&place] < cost {
                continue;
            }
            if self.is_target(&place) {
                return Some(cost);
            }
            assert!(best.len() < 1_000_000, "too many places");
            for (next, own) in self.moves(&place) {
                let sum = std::array::from_fn(|item| cost[item] + own[item]);
                if best.get(&next).is_none_or(|known| sum < *known) {
                    best.insert(next, sum);
                    queue.push((Reverse(sum), next));
                }
            }
        }
        None
    }

    fn is_target(&self, place: &Place) -> bool {
        let shall = &self.target;
        (place.on, place.plugged, place.carry, place.live) == (shall.on, shall.plugged, shall.carry, shall.live)
    }

    fn moves(&self, place: &Place) -> Vec<(Place, Cost)> {
        let mut all = Vec::new();
        let minutes = &self.minutes;
        for (cable, bit) in (0..self.cables.len()).map(|cable| (cable, 1 << cable)) {
            if place.plugged & bit != 0 {
                let next = Place { plugged: place.plugged & !bit, carry: place.carry & !bit, ..*place };
                self.finish(place, next, &Move::by_hands(likely(&minutes.cable)), &mut all);
            } else if self.ends_free(place, cable) {
                let next = Place { plugged: place.plugged | bit, ..*place };
                for up in subsets(bit & self.lightable(&next)) {
                    let next = Place { carry: place.carry | up, ..next };
                    self.finish(place, next, &Move::by_hands(likely(&minutes.cable)), &mut all);
                }
            }
            if place.carry & bit != 0 {
                let next = Place { carry: place.carry & !bit, ..*place };
                self.finish(place, next, &Move::typed(likely(&minutes.command)), &mut all);
            }
        }
        for up in subsets(self.lightable(place) & !place.carry).filter(|up| *up != 0) {
            let next = Place { carry: place.carry | up, ..*place };
            let ways = [(up.count_ones() == 1).then_some(minutes.command), self.activates.then_some(minutes.activate)];
            if let Some(least) = ways.iter().flatten().map(likely).min() {
                self.finish(place, next, &Move::typed(least), &mut all);
            }
        }
        (0..self.boxes).for_each(|unit| self.power(place, 1 << unit, &mut all));
        all
    }

    /// Switches a box on, off, or restarts it.
    fn power(&self, place: &Place, unit: u32, all: &mut Vec<(Place, Cost)>) {
        let minutes = &self.minutes;
        let (power, restart) = (likely(&minutes.power), likely(&minutes.restart));
        if place.on & unit == 0 {
            if self.dead & unit == 0 {
                let doing = Move { booting: unit, ..Move::by_hands(power + restart) };
                self.boot(place, place, unit, &doing, [0; 4], all);
            }
            return;
        }
        if place.live & unit & !(self.leaving | self.may_restart | self.may_split) != 0 {
            return;
        }
        let off = self.without(place, unit);
        self.finish(place, off, &Move::by_hands(power), all);
        if self.lawful(&off, unit) {
            let down = self.passing(&off, place.live, restart);
            self.boot(place, &off, unit, &Move { booting: unit, ..Move::by_hands(0) }, down, all);
        }
    }

    /// Boots boxes that are off in `down`; any of their links may come up with them.
    fn boot(&self, before: &Place, down: &Place, boots: u32, doing: &Move, cost: Cost, all: &mut Vec<(Place, Cost)>) {
        let on = Place { on: down.on | boots, ..*down };
        for up in subsets(self.at(boots) & self.lightable(&on)) {
            self.finish_with(before, down, Place { carry: on.carry | up, ..on }, doing, cost, all);
        }
    }

    fn finish(&self, before: &Place, next: Place, doing: &Move, all: &mut Vec<(Place, Cost)>) {
        self.finish_with(before, before, next, doing, [0; 4], all);
    }

    /// Lets a move's minutes pass, boxes that come in restart, and keeps what breaks no rule. `from` is the
    /// settled place that the last change was made to.
    fn finish_with(
        &self,
        before: &Place,
        from: &Place,
        next: Place,
        doing: &Move,
        cost: Cost,
        all: &mut Vec<(Place, Cost)>,
    ) {
        let mut cost = cost;
        let own = self.passing(before, before.live, doing.minutes);
        let fresh = self.pairs(next.carry) & !from.linked;
        let untyped = if doing.typed { 0 } else { fresh & self.pairs_of(before.live) };
        (cost[0], cost[1], cost[3]) = (cost[0] + own[0], cost[1] + own[1], cost[3] + i64::from(untyped.count_ones()));
        cost[2] += i64::from((before.plugged ^ next.plugged).count_ones());
        let next = Place { linked: from.linked | fresh, ..next };
        for losers in self.losers(from, &next, doing.booting) {
            if losers == 0 {
                let island = self.island(&next);
                let live = (next.live | island) & !(self.leaving & !island);
                let after = Place { live, was_live: next.was_live | island, ..next };
                all.extend(self.lawful(&after, 0).then_some((after, cost)));
                continue;
            }
            // the minutes and the plug are paid already
            let excused = self.leaving | self.may_restart | self.may_split;
            let down = self.without(&next, losers);
            if losers & before.live & !excused == 0 && self.lawful(&down, losers) {
                let passed = self.passing(&down, before.live, likely(&self.minutes.restart));
                let cost = [cost[0] + passed[0], cost[1] + passed[1], 0, cost[3]];
                let again = Move { minutes: 0, typed: false, booting: losers };
                self.boot(before, &down, losers, &again, cost, all);
            }
        }
    }

    /// Who may lose where islands meet, each of which somebody leads: all that the leader of the stack does not
    /// lead, and else all but one island, whichever that is.
    fn losers(&self, from: &Place, next: &Place, booting: u32) -> Vec<u32> {
        let mut all = vec![0];
        for island in self.islands(next) {
            let met: Vec<u32> = self.islands(from).into_iter().map(|part| part & island & !booting).collect();
            let met: Vec<u32> = met.into_iter().filter(|part| *part != 0).collect();
            let leads = |part: &&u32| **part & self.leader != 0 || island & self.leader == 0;
            let lose = |winner: &u32| met.iter().filter(|part| *part != winner).fold(0, |all, part| all | part);
            let options: Vec<u32> = met.iter().filter(leads).map(lose).collect();
            if met.len() > 1 {
                all = all.iter().flat_map(|so_far| options.iter().map(move |more| so_far | more)).collect();
            }
        }
        all
    }

    /// Together, and nobody of the stack leads elsewhere. `restarting`: boxes that are down for a moment.
    fn lawful(&self, place: &Place, restarting: u32) -> bool {
        let island = self.island(place);
        let apart = place.live & !(self.leaving | self.may_split | island);
        let led = self.islands(place).into_iter().filter(|other| *other != island);
        apart & !(restarting & self.may_restart) == 0
            && led.into_iter().all(|other| other & (!place.was_live | self.may_split) != 0)
    }

    fn passing(&self, place: &Place, live: u32, minutes: i64) -> Cost {
        let out = live & !self.leaving & !self.island(place);
        let held = Place { live, ..*place };
        let unprotected = self.rings && !self.protected(&held);
        [minutes * i64::from(out.count_ones()), if unprotected { minutes } else { 0 }, 0, 0]
    }

    fn without(&self, place: &Place, units: u32) -> Place {
        Place { on: place.on & !units, carry: place.carry & !self.at(units), ..*place }
    }

    /// The cables that have an end at some boxes.
    fn at(&self, units: u32) -> u32 {
        self.where_cable(|ends| ends.iter().any(|unit| units >> unit & 1 == 1))
    }

    /// Plugged cables of which both boxes are on.
    fn lightable(&self, place: &Place) -> u32 {
        place.plugged & self.where_cable(|ends| ends.iter().all(|unit| place.on >> unit & 1 == 1))
    }

    fn where_cable(&self, holds: impl Fn(&[usize; 2]) -> bool) -> u32 {
        let of = |(at, (ends, _)): (usize, &([usize; 2], [usize; 2]))| u32::from(holds(ends)) << at;
        self.cables.iter().enumerate().fold(0, |all, cable| all | of(cable))
    }

    fn ends_free(&self, place: &Place, cable: usize) -> bool {
        let ports = self.cables[cable].1;
        let taken = |other: &usize| {
            place.plugged >> other & 1 == 1 && self.cables[*other].1.iter().any(|port| ports.contains(port))
        };
        !(0..self.cables.len()).any(|other| taken(&other))
    }

    /// The pairs of boxes that some cables link.
    fn pairs(&self, cables: u32) -> u32 {
        let chosen = self.cables.iter().enumerate().filter(|(at, _)| cables >> at & 1 == 1);
        chosen.fold(0, |all, (_, (ends, _))| all | 1 << pair(*ends))
    }

    /// The pairs of boxes of which one is among some.
    fn pairs_of(&self, units: u32) -> u32 {
        self.pairs(self.at(units))
    }

    fn island(&self, place: &Place) -> u32 {
        self.reached(place, self.leader & place.on, place.carry)
    }

    fn islands(&self, place: &Place) -> Vec<u32> {
        let mut left = place.on;
        let mut all = Vec::new();
        while left != 0 {
            let island = self.reached(place, left & left.wrapping_neg(), place.carry);
            all.push(island);
            left &= !island;
        }
        all
    }

    fn reached(&self, place: &Place, from: u32, cables: u32) -> u32 {
        let mut reached = from;
        loop {
            let next = self.cables.iter().enumerate().filter(|(at, _)| cables >> at & 1 == 1).fold(
                reached,
                |all, (_, ([one, other], _))| {
                    let both = 1 << one | 1 << other;
                    if all & both != 0 { all | both & place.on } else { all }
                },
            );
            if next == reached {
                return reached;
            }
            reached = next;
        }
    }

    /// Whether the live boxes stay linked among themselves whichever cable breaks.
    fn protected(&self, place: &Place) -> bool {
        let inside = self.where_cable(|ends| ends.iter().all(|unit| place.live >> unit & 1 == 1)) & place.carry;
        let first = place.live & place.live.wrapping_neg();
        let whole = |cables: u32| self.reached(place, first, cables) & place.live == place.live;
        place.live.count_ones() < 2
            || whole(inside) && (0..self.cables.len()).all(|cable| whole(inside & !(1 << cable)))
    }
}

/// How a move is done.
struct Move {
    minutes: i64,
    typed: bool,
    booting: u32,
}

impl Move {
    fn typed(minutes: i64) -> Self {
        Self { minutes, typed: true, booting: 0 }
    }

    fn by_hands(minutes: i64) -> Self {
        Self { minutes, typed: false, booting: 0 }
    }
}

fn bits(units: UnitSet) -> u32 {
    units.iter().fold(0, |all, unit| all | 1 << unit.position())
}

fn pair([one, other]: [usize; 2]) -> usize {
    let (low, high) = (one.min(other), one.max(other));
    high * (high + 1) / 2 + low
}

/// Every subset of some bits, the empty one too.
fn subsets(of: u32) -> impl Iterator<Item = u32> {
    let mut next = Some(of);
    std::iter::from_fn(move || {
        let now = next?;
        next = (now != 0).then(|| (now - 1) & of);
        Some(now)
    })
}
