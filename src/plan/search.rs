//! The search: situations opened cheapest sum first, until one is the target.
//!
//! Cost and bound are rows of integers (see [`bound`](super::bound)), compared item by item; among
//! equal sums the deeper situation is opened first, then the one with fewer changes of place, then
//! the one made last, so the same input gives the same route everywhere. A budget in situations,
//! never in time, keeps that true.
//!
//! Waits and looks cost nothing here and are always possible at once: a unit that joined is found
//! ready, a leg that carries is found carrying, a lit cable's neighbour is read. `watch` puts them in.
//!
//! One newcomer joins at a time, and newcomers are not linked to one another first: both would be
//! lawful, but then nobody can look at the first before the second is in.
//!
//! Three searches, each with its budget: by the whole cost; by its first five items, whatever is
//! furthest first among equals; and one newcomer at a time, by the links between it and what is live
//! (`part`), then the rest. What only the later ones find keeps every rule as well, and is
//! marked as not proved least.

use std::borrow::Cow;
use std::collections::{BinaryHeap, HashMap};

use crate::model::cost::is_ring;
use crate::model::derive::{Link, link, protected};
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::progress::{Done, Situation, neighbour_shows};
use crate::model::rules::{Breaches, after_lawful_step, differences, in_state, up_unread};
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, Id, UnitId, UnitSet};
use crate::model::traits::StoredWhen;

use super::bound::{Cost, Rings, item, left};
use super::candidates::{Run, candidates};
use super::inert::{inert, typed};
use super::key::key;
use super::node::{Entry, Node, Taken};
use super::price::Price;
use super::stage::Stage;
use super::work::{Work, cable_part, one_cable_first, part};
use super::{NoRoute, Route};

/// Situations that the search by the whole cost may open.
const WHOLE_BUDGET: usize = 150;
/// Situations that the search by the first items of the cost may open.
const FIRST_BUDGET: usize = 400;
/// Situations that the search for one newcomer, or for the rest, may open.
const PART_BUDGET: usize = 6_000;
/// Items of the cost that the search by the whole cost compares before depth: all but the last,
/// which, like changes of place, only picks among routes that are equal in all others.
const WHOLE_ITEMS: usize = item::LIKELY + 1;
/// Items of the cost that the other searches compare before depth.
const FIRST_ITEMS: usize = item::STEPS + 1;

/// What a search is for.
#[derive(Clone, Copy, Debug)]
enum Goal {
    /// The target.
    Target,
    /// So many live units.
    Live(usize),
    /// A link over this cable.
    Up(CableId),
}

/// How one search ended.
enum End {
    /// At this node.
    Found(usize),
    /// Everything was opened.
    Exhausted,
    /// The budget was used up.
    Budget,
}

/// Finds a route.
///
/// # Errors
/// No order keeps every rule, or the budget was used up.
pub fn search(setting: &Setting, work: &Work) -> Result<Route, NoRoute> {
    let mut search = Search::new(setting, work);
    for (items, budget) in [(WHOLE_ITEMS, WHOLE_BUDGET), (FIRST_ITEMS, FIRST_BUDGET)] {
        search.items = items;
        search.nodes.truncate(1);
        match search.run(0, budget, Goal::Target) {
            End::Found(node) => return Ok(search.route(node, items == WHOLE_ITEMS && stages_are_least(setting, work))),
            End::Exhausted => return Err(NoRoute::Impossible { rules: search.broken() }),
            End::Budget => {}
        }
    }
    search.nodes.truncate(1);
    search.one_by_one(work)
}

/// Whether what the search never tries could not be cheaper: two newcomers that come in together, and
/// a newcomer with less than its whole stage. Where bindings are stored with a save, the save in the
/// stage is needed anyway; elsewhere a priority could be set later for a step less.
fn stages_are_least(setting: &Setting, work: &Work) -> bool {
    let founder = usize::from(setting.founder().is_some());
    let joins = work.newcomers.len() - founder.min(work.newcomers.len());
    joins == 0 || joins == 1 && setting.traits.stored.binding == StoredWhen::WithSave
}

struct Search<'a> {
    setting: &'a Setting,
    work: Cow<'a, Work>,
    rings: Rings,
    inherited: Breaches,
    price: Price,
    nodes: Vec<Node>,
    items: usize,
    opened: usize,
    refused: std::collections::BTreeMap<&'static str, usize>,
}

impl<'a> Search<'a> {
    fn new(setting: &'a Setting, work: &'a Work) -> Self {
        let mut situation = Situation::start(setting);
        // every stage is over before the change: its boots have their ticks before the first of these
        situation.state.now += setting.units.len() as i32 + 1;
        let mut inherited = Breaches::default();
        in_state(setting, &situation, false, &mut inherited);
        let stay = setting.all_units().minus(setting.leaving);
        let rings =
            match (is_ring(setting, &setting.baseline, situation.memory.live), is_ring(setting, &setting.target, stay))
            {
                (true, true) => Rings::Both,
                (false, false) => Rings::None,
                _ => Rings::One,
            };
        let root = Node {
            situation,
            staged: UnitSet::EMPTY,
            cost: Cost::default(),
            seen: 0,
            turns: 0,
            depth: 0,
            last: None,
            hands: false,
            parent: 0,
            taken: Taken::Start,
        };
        let price = Price::new(setting, work, rings);
        Self {
            setting,
            work: Cow::Borrowed(work),
            rings,
            inherited,
            price,
            nodes: vec![root],
            items: WHOLE_ITEMS,
            opened: 0,
            refused: Default::default(),
        }
    }

    fn live(&self, node: usize) -> usize {
        self.nodes.get(node).map_or(0, |node| node.situation.memory.live.len())
    }

    fn done(&self, node: usize) -> bool {
        self.nodes.get(node).is_some_and(|node| differences(self.setting, &node.situation.state).0.is_empty())
    }

    /// Searches from one node to a goal.
    fn run(&mut self, from: usize, budget: usize, goal: Goal) -> End {
        let mut best: HashMap<Box<[u8]>, (Cost, u32)> = HashMap::new();
        let mut queue = BinaryHeap::from([self.entry(from)]);
        let mut opened = 0;
        while let Some(entry) = queue.pop() {
            let Some(node) = self.nodes.get(entry.node).cloned() else { continue };
            let key = key(self.setting, &self.work, &node.situation, node.staged, node.seen);
            if best.get(&key).is_some_and(|known| *known < (node.cost, node.turns)) {
                continue;
            }
            let reached = match goal {
                Goal::Target => self.done(entry.node),
                Goal::Live(units) => node.situation.memory.live.len() >= units,
                Goal::Up(cable) => link(self.setting, &node.situation.state, cable) == Link::Stack,
            };
            if reached {
                return End::Found(entry.node);
            }
            if opened == budget {
                return End::Budget;
            }
            opened += 1;
            self.opened += 1;
            let mut fresh = Vec::new();
            self.open(entry.node, &node, &mut fresh);
            for child in fresh {
                let key = super::key::key(self.setting, &self.work, &child.situation, child.staged, child.seen);
                let worth = (child.cost, child.turns);
                if best.get(&key).is_none_or(|known| worth < *known) {
                    best.insert(key, worth);
                    self.nodes.push(child);
                    queue.push(self.entry(self.nodes.len() - 1));
                }
            }
        }
        End::Exhausted
    }

    /// Brings in one newcomer after the other, each by one cable a link; then brings up what links
    /// are missing, cable by cable; then does the rest.
    fn one_by_one(mut self, whole: &Work) -> Result<Route, NoRoute> {
        let mut node = 0;
        while let Some(situation) = self.nodes.get(node).map(|node| node.situation) {
            let outside: Vec<_> =
                whole.newcomers.iter().filter(|one| !situation.memory.live.contains(one.unit)).collect();
            if outside.is_empty() {
                break;
            }
            let goal = Goal::Live(self.live(node) + 1);
            let parts: Vec<Work> =
                outside.iter().filter_map(|one| part(self.setting, whole, &situation, one)).collect();
            node = parts
                .into_iter()
                .find_map(|part| self.reach(node, part, goal))
                .ok_or(NoRoute::SearchLimit { opened: self.opened })?;
        }
        for wanted in &one_cable_first(self.setting, whole) {
            let up = self
                .nodes
                .get(node)
                .is_some_and(|node| link(self.setting, &node.situation.state, wanted.0) == Link::Stack);
            if !up {
                let part = cable_part(self.setting, whole, std::slice::from_ref(wanted));
                // a cable that cannot be brought up alone is left for the rest
                node = self.reach(node, part, Goal::Up(wanted.0)).unwrap_or(node);
            }
        }
        let last = self.reach(node, whole.clone(), Goal::Target);
        let last = last.ok_or(NoRoute::SearchLimit { opened: self.opened })?;
        Ok(self.route(last, false))
    }

    fn reach(&mut self, from: usize, part: Work, goal: Goal) -> Option<usize> {
        self.work = Cow::Owned(part);
        match self.run(from, PART_BUDGET, goal) {
            End::Found(node) => Some(node),
            End::Exhausted | End::Budget => None,
        }
    }

    fn entry(&self, at: usize) -> Entry {
        let Some(node) = self.nodes.get(at) else {
            return Entry { first: Cost::default(), sum: Cost::default(), depth: 0, turns: 0, node: at };
        };
        let safe = protected(self.setting, &node.situation.state, node.situation.memory.live);
        let left = left(self.setting, &self.work, &node.situation, node.staged, safe, self.rings);
        let sum = node.cost.plus(left);
        let first = sum.first(self.items);
        Entry { first, sum, depth: node.depth, turns: node.turns, node: at }
    }

    fn open(&mut self, at: usize, node: &Node, fresh: &mut Vec<Node>) {
        self.open_stages(at, node, fresh);
        if !node.situation.memory.founded {
            return;
        }
        let unprotected = !protected(self.setting, &node.situation.state, node.situation.memory.live);
        for run in candidates(self.setting, &self.work, &node.situation, node.staged, node.last) {
            match self.follow(at, node, &run, unprotected) {
                Ok(child) => fresh.push(child),
                Err(rule) => *self.refused.entry(rule).or_default() += 1,
            }
        }
    }

    /// Staging is offered for the next newcomer that a cable could reach; the first unit of a new
    /// stack comes before everything else.
    fn open_stages(&self, at: usize, node: &Node, fresh: &mut Vec<Node>) {
        let founder = self.setting.founder().filter(|_| !node.situation.memory.founded);
        for newcomer in self.work.newcomers.iter().filter(|newcomer| !node.staged.contains(newcomer.unit)) {
            let turn = founder.is_none_or(|founder| founder == newcomer.unit);
            if !turn || founder.is_none() && !self.near(node, newcomer.unit) {
                continue;
            }
            for stage in &newcomer.stages {
                fresh.push(self.staged(at, node, newcomer.unit, stage));
            }
        }
    }

    /// Whether a newcomer's target cables lead to a unit that is live or staged.
    fn near(&self, node: &Node, unit: UnitId) -> bool {
        let there = node.situation.memory.live.or(node.staged);
        self.work.connect.iter().any(|cable| match self.setting.cables[*cable] {
            CableRow::Units(a, b) => {
                let (u, v) = (self.setting.unit_of(a), self.setting.unit_of(b));
                u == unit && there.contains(v) || v == unit && there.contains(u)
            }
            CableRow::Far(..) => false,
        })
    }

    fn staged(&self, at: usize, node: &Node, unit: UnitId, stage: &Stage) -> Node {
        let mut situation = node.situation;
        situation.state.units[unit] = stage.unit;
        for (port, value) in &stage.values {
            situation.state.ports[*port] = *value;
        }
        // stages are done in the order of the units, the first unit of a new stack last
        let turn = if self.setting.founder() == Some(unit) { self.setting.units.len() } else { unit.position() };
        situation.state.units[unit].booted_at = self.setting.baseline.now + turn as i32 + 1;
        if self.setting.founder() == Some(unit) {
            situation.found_stack(self.setting);
        }
        let cost = node.cost.raised(item::STEPS, stage.operations.len() as i64);
        Node {
            situation,
            staged: node.staged.with(unit),
            cost,
            depth: node.depth + stage.operations.len() as u32,
            parent: at,
            taken: Taken::Staged(unit, stage.operations.clone()),
            ..node.clone()
        }
    }

    /// Does a run, step by step, under every rule.
    fn follow(&self, at: usize, node: &Node, run: &Run, unprotected: bool) -> Result<Node, &'static str> {
        let mut child = Node { parent: at, taken: Taken::Run(run.clone()), ..node.clone() };
        for operation in run.iter().copied() {
            let before = child.situation;
            if let Some(port) = inert(self.setting, &before, operation) {
                child.situation.state.ports[port] = typed(before.state.ports[port], operation);
                child.situation.state.now += 1;
                child.cost = child.cost.plus(self.price.of_command(self.setting, unprotected, &before));
            } else {
                let done = before.step(self.setting, operation).map_err(|_| "step-refused")?;
                self.lawful(&before, operation, &done)?;
                child.cost = child.cost.plus(self.price.of(self.setting, &before, operation, &done, unprotected));
                let not_typed = self.price.links_not_typed(self.setting, &mut child.seen, &before, operation, &done);
                child.cost = child.cost.raised(item::NOT_TYPED, not_typed);
                child.situation = self.looked(done);
            }
            child.depth += 1;
            let hands = by_hands(operation);
            let unit = unit_of(self.setting, operation).or(child.last);
            child.turns += u32::from(hands != child.hands) + u32::from(!hands && unit != child.last);
            (child.hands, child.last) = (hands, unit);
        }
        Ok(child)
    }

    fn lawful(&self, before: &Situation, operation: Operation, done: &Done) -> Result<(), &'static str> {
        let breaches = after_lawful_step(self.setting, before, operation, done);
        if let Some(breach) = breaches.0.iter().find(|breach| !self.inherited.0.contains(breach)) {
            return Err(breach.rule.as_str());
        }
        if up_unread(self.setting, before, operation, done).is_some() {
            return Err("right-cable");
        }
        let among_newcomers = done.events.merges.iter().any(|merge| !before.memory.was_live.contains(merge.winner));
        if done.joined.len() > 1 || among_newcomers { Err("one-at-a-time") } else { Ok(()) }
    }

    /// Everything that can be looked at now has been looked at.
    fn looked(&self, done: Done) -> Situation {
        let mut situation = done.after;
        for unit in situation.memory.unready.iter() {
            situation.found_ready(unit);
        }
        for leg in situation.memory.unproven.iter() {
            if situation.carries(self.setting, leg) {
                situation.found_carrying(leg);
            }
        }
        for cable in situation.memory.unread.iter() {
            if neighbour_shows(self.setting, &situation.state, cable) {
                situation.found_neighbour(cable);
            }
        }
        situation
    }

    fn route(&self, node: usize, proved_least: bool) -> Route {
        let mut route = Route { proved_least, opened: self.opened, ..Route::default() };
        let mut runs: Vec<&Run> = Vec::new();
        let mut at = node;
        while let Some(node) = self.nodes.get(at) {
            match &node.taken {
                Taken::Start => break,
                Taken::Run(run) => runs.push(run),
                Taken::Staged(unit, operations) => route.stages.push((*unit, operations.clone())),
            }
            at = node.parent;
        }
        route.stages.sort_by_key(|(unit, _)| (self.setting.founder() == Some(*unit), *unit));
        route.steps = runs.into_iter().rev().flatten().copied().collect();
        route
    }

    fn broken(&self) -> Vec<&'static str> {
        let mut rules: Vec<_> = self.refused.iter().filter(|(rule, _)| **rule != "step-refused").collect();
        rules.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        rules.into_iter().take(3).map(|(rule, _)| *rule).collect()
    }
}
