//! How new a situation is: what leads on from a place where every next step looks no better.
//!
//! A search that only asks what is left goes round in situations that differ in nothing that matters. Here a situation
//! counts by what it holds that none before it held, among those with as much left: one thing new comes first, then two
//! together, then all others (best-first width search; Lipovetzky and Geffner, AAAI 2017). It finds a way or none; it
//! proves nothing of its cost.

use std::collections::{BinaryHeap, HashMap, HashSet};
use std::rc::Rc;

use crate::model::derive::primaries;
use crate::model::setting::Setting;
use crate::model::table::Id;

use super::bound::{Cost, item};
use super::node::{Entry, Node};
use super::search::{End, FIRST_ITEMS, Goal, Search};
use super::work::Work;

/// A thing that a situation holds: which one, and how it is.
type Fact = u64;

/// What was seen among situations with as much left.
#[derive(Default)]
struct Seen {
    one: HashSet<Fact>,
    two: HashSet<(Fact, Fact)>,
}

/// What a search has seen.
#[derive(Default)]
struct Novelty {
    by_left: HashMap<i64, Seen>,
}

impl Novelty {
    /// 1 where one thing is new among situations with as much left, 2 where two together are, else 3; and remembers
    /// the situation.
    fn of(&mut self, setting: &Setting, work: &Work, node: &Node, left: i64) -> i64 {
        let facts = facts(setting, work, node);
        let seen = self.by_left.entry(left).or_default();
        let fresh: Vec<Fact> = facts.iter().copied().filter(|fact| seen.one.insert(*fact)).collect();
        let mut pairs = false;
        for (position, one) in facts.iter().enumerate() {
            for other in facts.iter().skip(position + 1) {
                pairs |= seen.two.insert((*one, *other));
            }
        }
        match (fresh.is_empty(), pairs) {
            (false, _) => 1,
            (true, true) => 2,
            (true, false) => 3,
        }
    }
}

/// What a situation holds, as far as the work touches it.
fn facts(setting: &Setting, work: &Work, node: &Node) -> Vec<Fact> {
    let Node { situation, staged, islands, .. } = node;
    let (state, memory) = (&situation.state, &situation.memory);
    let mut facts = Vec::new();
    let mut hold = |kind: u64, which: usize, how: u64| facts.push(kind << 56 | (which as u64) << 40 | how);
    for unit in setting.units.ids() {
        let (row, at) = (&state.units[unit], unit.position());
        let flags = [row.powered, row.primary, row.waiting, memory.live.contains(unit), staged.contains(unit)];
        hold(0, at, flags.iter().fold(0, |all, flag| all << 1 | u64::from(*flag)));
        let leader = primaries(state, islands.around(unit)).first();
        hold(1, at, leader.map_or(0, |leader| leader.position() as u64 + 1));
        if work.units.contains(unit) {
            hold(2, at, u64::from(row.id.0) << 16 | u64::from(row.saved_id.0));
            hold(3, at, u64::from(row.priority.0));
            hold(4, at, u64::from(row.saved_priority.0));
        }
    }
    for port in &work.ports {
        hold(5, port.port.position(), u64::from(state.ports[port.port].bits()));
    }
    for cable in work.connect.iter().chain(&work.disconnect) {
        let flags = [state.plugged.contains(*cable), memory.unread.contains(*cable)];
        hold(6, cable.position(), flags.iter().fold(0, |all, flag| all << 1 | u64::from(*flag)));
    }
    for leg in setting.legs.ids() {
        hold(
            7,
            leg.position(),
            u64::from(state.running.legs.contains(leg)) << 1 | u64::from(state.saved.legs.contains(leg)),
        );
    }
    hold(8, 0, state.running.guard.map_or(0, |pair| pair.position() as u64 + 1));
    hold(9, 0, node.seen.count_ones().into());
    facts
}

impl Search<'_> {
    /// From one node to a goal, by turns the newest situation and the nearest.
    pub(super) fn explore(&mut self, from: usize, budget: usize, goal: Goal) -> End {
        let mut known: HashSet<Box<[u8]>> = HashSet::new();
        let mut novelty = Novelty::default();
        let (mut newest, mut nearest) = (BinaryHeap::new(), BinaryHeap::new());
        let mut opened: HashSet<usize> = HashSet::new();
        newest.push(self.entry(from));
        while let Some(entry) = next(&mut newest, &mut nearest, opened.len()) {
            let Some(node) = self.node(entry.node).filter(|_| !opened.contains(&entry.node)) else { continue };
            if self.reached(&node, goal) {
                return End::Found(entry.node);
            }
            if opened.len() == budget || self.opened >= self.total {
                return End::Budget;
            }
            opened.insert(entry.node);
            self.opened += 1;
            let mut fresh = Vec::new();
            self.open(entry.node, &node, &mut fresh);
            for child in fresh {
                if !known.insert(super::key::key(self.setting, &self.work, &child)) {
                    continue;
                }
                self.nodes.push(Rc::new(child));
                let at = self.nodes.len() - 1;
                let (entry, Some(child)) = (self.entry(at), self.node(at)) else { continue };
                if self.limit.is_some_and(|limit| entry.sum.first(FIRST_ITEMS) >= limit) {
                    continue;
                }
                let left = left(&entry, &child);
                if left == 0 && self.reached(&child, goal) {
                    return End::Found(at);
                }
                let new = novelty.of(self.setting, &self.work, &child, left);
                let first = Cost::default().raised(0, new).raised(1, left);
                newest.push(Entry { first, ..entry });
                nearest.push(entry);
            }
        }
        End::Exhausted
    }
}

/// By turns from one queue and the other, as long as they last.
fn next(newest: &mut BinaryHeap<Entry>, nearest: &mut BinaryHeap<Entry>, turn: usize) -> Option<Entry> {
    match turn % 2 {
        0 => newest.pop().or_else(|| nearest.pop()),
        _ => nearest.pop().or_else(|| newest.pop()),
    }
}

/// Steps that are left at least.
fn left(entry: &Entry, node: &Node) -> i64 {
    let steps = |cost: &Cost| cost.0.get(item::STEPS).copied().unwrap_or(0);
    steps(&entry.sum) - steps(&node.cost)
}
