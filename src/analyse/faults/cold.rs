//! A finished stack -> what happens when its units come back one by one: who can end up leading, and how often units
//! restart because two pieces meet, each with a primary of its own.
//!
//! Up to [`EXACT`] members every order is tried, orders that lead to one state together. Beyond, some orders are tried:
//! one that begins at each of so many members and goes outward, and one that lets the best come late again and again. No
//! order can make more restarts than `at_most`: of n units that are up, a boot restarts each at most once and, since one
//! primary stays, n - 1 of them at most.

use std::collections::BTreeMap;

use crate::model::derive::{Islands, primaries};
use crate::model::election::{Ballot, elect};
use crate::model::setting::Setting;
use crate::model::settle::{Events, boot, fill_seats, settle, take_down};
use crate::model::state::State;
use crate::model::table::{Id, UnitId, UnitSet};
use crate::model::traits::Criterion;

use super::single::{Field, links};

/// The most members of which every order is tried.
pub const EXACT: usize = 6;
/// The most boots that are tried beyond it to see who can lead.
const BOOTS: usize = 1024;

/// What happens when the units come back one by one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColdStart {
    /// Whether every order was tried.
    pub every_order: bool,
    /// Who can lead a piece of the stack when all are back.
    pub leaders: UnitSet,
    /// The most restarts by merges that were found.
    pub restarts: usize,
    /// No order can make more.
    pub at_most: usize,
    /// An order that makes that many.
    pub order: Vec<UnitId>,
}

/// Tries the orders in which the members of a state can come back.
#[must_use]
pub fn cold_starts(field: &Field<'_>) -> ColdStart {
    if field.members.len() <= EXACT { every_order(field) } else { some_orders(field) }
}

/// All members, and whoever else has power, are off.
fn all_off(field: &Field<'_>) -> State {
    let setting = field.setting;
    let mut off = field.state.clone();
    let up: UnitSet = setting.units.ids().filter(|unit| off.units[*unit].powered).collect();
    up.iter().for_each(|unit| take_down(setting, &mut off, unit));
    off.running = off.saved;
    off
}

fn every_order(field: &Field<'_>) -> ColdStart {
    let off = all_off(field);
    let mut known =
        Known { setting: field.setting, members: field.members, by_uptime: by_uptime(field), seen: BTreeMap::new() };
    let Ends { leaders, restarts, .. } = known.from(&off);
    ColdStart { every_order: true, leaders, restarts, at_most: restarts, order: known.order(&off) }
}

/// Tries some orders only.
pub(super) fn some_orders(field: &Field<'_>) -> ColdStart {
    let (setting, members, off) = (field.setting, field.members, all_off(field));
    let near = near(field);
    let at_most = members.len().saturating_sub(1) * members.len().saturating_sub(2) / 2;
    let mut found = ColdStart { every_order: false, leaders: UnitSet::EMPTY, restarts: 0, at_most, order: Vec::new() };
    let tried = BOOTS / members.len().max(1);
    let outward = members.iter().take(tried).map(|first| outward(&near, members, first));
    let mut late = Vec::new();
    best_late(field, &near, members, &mut late);
    for order in std::iter::once(late).chain(outward) {
        let (leaders, restarts) = go(setting, members, &off, &order);
        found.leaders = found.leaders.or(leaders);
        if restarts > found.restarts || found.order.is_empty() {
            (found.restarts, found.order) = (restarts, order);
        }
    }
    found
}

/// One unit comes back; gives how many others restart by it.
fn come_back(setting: &Setting, members: UnitSet, state: &State, unit: UnitId) -> (State, usize) {
    let mut now = state.clone();
    now.now += 1;
    let before = Islands::of(setting, &now);
    boot(setting, &mut now, unit);
    let mut events = Events::default();
    let islands = settle(setting, &before, &mut now, &mut events);
    fill_seats(setting, state, &mut now, &islands, &mut events);
    events.restarts.remove(unit);
    (now, events.restarts.and(members).len())
}

fn go(setting: &Setting, members: UnitSet, off: &State, order: &[UnitId]) -> (UnitSet, usize) {
    let (mut now, mut all) = (off.clone(), 0);
    for unit in order {
        let (next, restarts) = come_back(setting, members, &now, *unit);
        (now, all) = (next, all + restarts);
    }
    (primaries(&now, members), all)
}

/// What can come of a state in which some are back.
#[derive(Clone, Copy, Debug)]
struct Ends {
    leaders: UnitSet,
    restarts: usize,
    /// Who comes next where it comes worst.
    next: Option<UnitId>,
}

/// States that were met, each with what can come of it.
struct Known<'a> {
    setting: &'a Setting,
    members: UnitSet,
    by_uptime: bool,
    seen: BTreeMap<Vec<u8>, Ends>,
}

impl Known<'_> {
    fn from(&mut self, state: &State) -> Ends {
        let missing: UnitSet = self.members.iter().filter(|unit| !state.units[*unit].powered).collect();
        let mut ends = Ends { leaders: UnitSet::EMPTY, restarts: 0, next: None };
        if missing.is_empty() {
            return Ends { leaders: primaries(state, self.members), ..ends };
        }
        let key = self.key(state);
        if let Some(known) = self.seen.get(&key) {
            return *known;
        }
        for unit in missing.iter() {
            let (next, now) = come_back(self.setting, self.members, state, unit);
            let then = self.from(&next);
            ends.leaders = ends.leaders.or(then.leaders);
            if ends.next.is_none() || now + then.restarts > ends.restarts {
                (ends.restarts, ends.next) = (now + then.restarts, Some(unit));
            }
        }
        self.seen.insert(key, ends);
        ends
    }

    /// An order that makes the most restarts.
    fn order(&self, off: &State) -> Vec<UnitId> {
        let (mut now, mut order) = (off.clone(), Vec::new());
        while let Some(unit) = self.seen.get(&self.key(&now)).and_then(|ends| ends.next) {
            order.push(unit);
            now = come_back(self.setting, self.members, &now, unit).0;
        }
        order
    }

    /// All that what is to come can depend on: when units booted counts only where an election may ask for it.
    fn key(&self, state: &State) -> Vec<u8> {
        let booted = |unit: UnitId| state.units[unit].booted_at;
        let mut key = Vec::new();
        for unit in self.members.iter() {
            let row = &state.units[unit];
            let flags = [row.powered, row.primary, row.waiting, row.standby];
            key.extend(flags.map(u8::from));
            key.extend(row.counts.0.to_le_bytes());
            key.extend(row.keys);
            key.extend(row.saved_keys);
            if self.by_uptime && row.powered {
                let later = self.members.iter().filter(|other| booted(*other) > booted(unit)).count();
                key.push(u8::try_from(later).unwrap_or(u8::MAX));
            }
        }
        key
    }
}

/// Whether an election may come to ask who is up for longer: not where priorities that all differ come first.
fn by_uptime(field: &Field<'_>) -> bool {
    let election = &field.setting.traits.election;
    let mut priorities: Vec<_> = field.members.iter().map(|unit| field.state.units[unit].saved_priority).collect();
    priorities.sort_unstable();
    let differ = priorities.windows(2).all(|two| two.first() != two.last());
    [&election.boot, &election.merge].into_iter().any(|list| {
        let at = |criterion| list.iter().position(|one| *one == criterion);
        match (at(Criterion::Uptime), at(Criterion::Priority)) {
            (None, _) => false,
            (Some(uptime), Some(priority)) => !differ || uptime < priority,
            (Some(_), None) => true,
        }
    })
}

/// Who is next to whom in the healthy stack, by unit.
fn near(field: &Field<'_>) -> Vec<UnitSet> {
    let mut near = vec![UnitSet::EMPTY; field.setting.units.len()];
    for cable in links(field.setting, field.state, field.members).iter().filter_map(|cables| cables.first()) {
        let ends: UnitSet = field.setting.cables[*cable].unit_ends().map(|port| field.setting.unit_of(port)).collect();
        for unit in ends.iter() {
            if let Some(set) = near.get_mut(unit.position()) {
                *set = set.or(ends).minus(UnitSet::one(unit));
            }
        }
    }
    near
}

fn next_to(near: &[UnitSet], units: UnitSet) -> UnitSet {
    units.iter().filter_map(|unit| near.get(unit.position())).fold(UnitSet::EMPTY, |all, set| all.or(*set))
}

/// From one unit outward, so that all others come into its island; what cannot be reached comes last.
fn outward(near: &[UnitSet], members: UnitSet, first: UnitId) -> Vec<UnitId> {
    let (mut order, mut done) = (vec![first], UnitSet::one(first));
    while done.len() < members.len() {
        let left = members.minus(done);
        let ring = next_to(near, done).and(left);
        let next = if ring.is_empty() { left } else { ring };
        order.extend(next.iter());
        done = done.or(next);
    }
    order
}

/// First all that is not next to the best, in pieces by the same rule; then the best; then those next to it, by which
/// it meets the pieces, and wins against them.
fn best_late(field: &Field<'_>, near: &[UnitSet], units: UnitSet, order: &mut Vec<UnitId>) {
    let Some(best) = elect(field.setting, field.state, Ballot::Boot, units) else { return };
    let best = UnitSet::one(best.winner);
    let around = next_to(near, best).and(units).minus(best);
    let mut left = units.minus(best).minus(around);
    while let Some(first) = left.first() {
        let mut piece = UnitSet::one(first);
        loop {
            let wider = piece.or(next_to(near, piece).and(left));
            if wider == piece {
                break;
            }
            piece = wider;
        }
        left = left.minus(piece);
        best_late(field, near, piece, order);
    }
    order.extend(best.iter().chain(around.iter()));
}
