//! The search: situations opened cheapest sum first, until one is the goal.
//!
//! Cost and bound are rows of integers (see [`bound`](super::bound)), compared item by item; among
//! equal sums the deeper situation is opened first, then the one with fewer changes of place, then
//! the one made last, so the same input gives the same route everywhere. A budget in situations,
//! never in time, keeps that true.
//!
//! One newcomer joins at a time, and newcomers are not linked to one another first: both would be
//! lawful, but then nobody can look at the first before the second is in.

use std::borrow::Cow;
use std::collections::{BTreeMap, BinaryHeap, HashMap};
use std::rc::Rc;

use crate::model::cost::is_ring;
use crate::model::derive::{Islands, Link, link, primaries, protected};
use crate::model::progress::Situation;
use crate::model::reached::differences;
use crate::model::rules::{Breaches, in_state};
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, UnitId, UnitSet};

use super::Route;
use super::bound::{Cost, Rings, item, left};
use super::candidates::{Run, candidates};
use super::node::{Entry, Node, Taken};
use super::price::Price;
use super::roles::needs_restart;
use super::sequence::Effort;
use super::work::{LinkWork, Work};

/// Items of the cost that the search by the whole cost compares before depth: all but the last,
/// which, like changes of place, only picks among routes that are equal in all others.
pub(super) const WHOLE_ITEMS: usize = item::LIKELY + 1;
/// Items of the cost that the other searches compare before depth.
pub(super) const FIRST_ITEMS: usize = item::STEPS + 1;

/// The weight with which a search looks for any way at all.
pub(super) const GREEDY: u8 = u8::MAX;
/// The same for a way back, where it is nothing to a link how it comes up.
pub(super) const BACKWARDS: u8 = u8::MAX - 1;
/// The weight with which what is new comes first.
pub(super) const NOVEL: u8 = u8::MAX - 2;

/// One number for what is spent and what is left: minutes weigh as steps do, so that no item bars all others,
/// and what is left weighs more than what is spent.
fn scalar(setting: &Setting, spent: Cost, left: Cost, weight: u8) -> i64 {
    let restart = super::bound::likely(&setting.traits.minutes.restart).max(1);
    let sum = |Cost([out, open, cables, not_typed, steps, ..]): Cost, steps_weigh: i64| {
        let by_hand = if weight == GREEDY { 12 * not_typed } else { 0 };
        steps_weigh * steps + (24 * out + 48 * open) / restart + 6 * cables + by_hand
    };
    sum(spent, 12) + sum(left, 48)
}

/// What a search is for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Goal {
    /// The target.
    Target,
    /// All that the work lists.
    Done,
    /// A newcomer that is live.
    Live(UnitId),
    /// A link over this cable.
    Up(CableId),
    /// All that may be off meanwhile are.
    Off,
    /// A unit that leads the stack.
    Led(UnitId),
    /// A unit that acts on its number and its ports, and leads only if it shall.
    Settled(UnitId),
}

/// How one search ended.
pub(super) enum End {
    /// At this node.
    Found(usize),
    /// Everything was opened.
    Exhausted,
    /// The budget was used up.
    Budget,
}

/// One search, or several that go on from one another's ends.
pub(super) struct Search<'a> {
    pub setting: &'a Setting,
    pub work: Cow<'a, Work>,
    pub rings: Rings,
    pub price: Price,
    pub nodes: Vec<Rc<Node>>,
    pub items: usize,
    /// How much more what is left counts than what is spent: 1 for the least cost, more to get there sooner.
    pub weight: u8,
    /// What is worth to be found: routes that cost less in their first items.
    pub limit: Option<Cost>,
    pub effort: Effort,
    /// Situations that may be opened in all.
    pub total: usize,
    pub opened: usize,
    refused: BTreeMap<&'static str, usize>,
}

impl<'a> Search<'a> {
    /// A search that stands at the baseline. `spare`: links that the work does not list and that may be
    /// made for a while.
    pub fn new(setting: &'a Setting, work: &'a Work, spare: &[LinkWork]) -> Self {
        let mut situation = Situation::start(setting);
        // every stage is over before the change: its boots have their ticks before the first of these
        situation.state.now += setting.units.len() as i32 + 1;
        let mut inherited = Breaches::default();
        in_state(setting, &situation, false, &mut inherited);
        let stay = setting.all_units().minus(setting.leaving);
        let ring = |state, units| is_ring(setting, state, units);
        let rings = match (ring(&setting.baseline, situation.memory.live), ring(&setting.target, stay)) {
            (true, true) => Rings::Both,
            (false, false) => Rings::None,
            (false, true) => Rings::ToRing,
            (true, false) => Rings::FromRing,
        };
        let root = Node {
            islands: Islands::of(setting, &situation.state),
            protected: protected(setting, &situation.state, situation.memory.live),
            situation,
            staged: UnitSet::EMPTY,
            excused: inherited,
            cost: Cost::default(),
            seen: 0,
            turns: 0,
            depth: 0,
            last: None,
            hands: false,
            parent: 0,
            taken: Taken::Start,
        };
        Self {
            setting,
            work: Cow::Borrowed(work),
            rings,
            price: Price::new(setting, work, spare, rings),
            nodes: vec![Rc::new(root)],
            items: WHOLE_ITEMS,
            weight: 1,
            limit: None,
            effort: Effort::Full,
            total: Effort::Full.total(),
            opened: 0,
            refused: BTreeMap::new(),
        }
    }

    /// Lets all further searches open fewer situations in all.
    pub fn limit_total(&mut self, total: usize) {
        self.total = self.total.min(total);
    }

    /// What a route over a node costs at least.
    pub fn least(&self, at: usize) -> Cost {
        self.entry(at).sum
    }

    /// A node by its position.
    pub fn node(&self, at: usize) -> Option<Rc<Node>> {
        self.nodes.get(at).cloned()
    }

    pub(super) fn reached(&self, node: &Node, goal: Goal) -> bool {
        match goal {
            Goal::Target => differences(self.setting, &node.situation.state).0.is_empty(),
            Goal::Done => self.work.is_done(self.setting, &node.situation),
            Goal::Off => self.work.pauses.iter().all(|unit| !node.situation.state.units[unit].powered),
            Goal::Led(unit) => {
                let Node { situation, islands, .. } = node;
                let incumbent = situation.incumbent_among(self.setting, &situation.state, islands);
                primaries(&situation.state, incumbent).contains(unit)
            }
            Goal::Live(unit) => node.situation.memory.live.contains(unit),
            Goal::Settled(unit) => !needs_restart(self.setting, &node.situation, unit),
            Goal::Up(cable) => link(self.setting, &node.situation.state, cable) == Link::Stack,
        }
    }

    /// Searches from one node to a goal.
    pub fn run(&mut self, from: usize, budget: usize, goal: Goal) -> End {
        if self.weight == NOVEL {
            return self.explore(from, budget, goal);
        }
        let mut best: HashMap<Box<[u8]>, (Cost, u32)> = HashMap::new();
        let mut queue = BinaryHeap::from([self.entry(from)]);
        let mut opened = 0;
        while let Some(entry) = queue.pop() {
            let Some(node) = self.node(entry.node) else { continue };
            let key = super::key::key(self.setting, &self.work, &node);
            if best.get(&key).is_some_and(|known| *known < (node.cost, node.turns)) {
                continue;
            }
            if self.reached(&node, goal) {
                return End::Found(entry.node);
            }
            if opened == budget || self.opened >= self.total {
                return End::Budget;
            }
            opened += 1;
            self.opened += 1;
            let mut fresh = Vec::new();
            self.open(entry.node, &node, &mut fresh);
            for child in fresh {
                let key = super::key::key(self.setting, &self.work, &child);
                let worth = (child.cost, child.turns);
                if best.get(&key).is_none_or(|known| worth < *known) {
                    best.insert(key, worth);
                    self.nodes.push(Rc::new(child));
                    let entry = self.entry(self.nodes.len() - 1);
                    if self.limit.is_none_or(|limit| entry.sum.first(FIRST_ITEMS) < limit) {
                        queue.push(entry);
                    }
                }
            }
        }
        End::Exhausted
    }

    pub(super) fn entry(&self, at: usize) -> Entry {
        let Some(node) = self.nodes.get(at) else {
            return Entry { first: Cost::default(), sum: Cost::default(), depth: 0, turns: 0, node: at };
        };
        let left = left(self.setting, &self.work, node, self.rings, self.weight == 1);
        let sum = node.cost.plus(left);
        let first = if self.weight >= NOVEL {
            Cost::default().raised(0, scalar(self.setting, node.cost, left, self.weight))
        } else {
            (1..self.weight).fold(sum, |sum, _| sum.plus(left)).first(self.items)
        };
        Entry { first, sum, depth: node.depth, turns: node.turns, node: at }
    }

    pub(super) fn open(&mut self, at: usize, node: &Node, fresh: &mut Vec<Node>) {
        self.open_stages(at, node, fresh);
        if !node.situation.memory.founded {
            return;
        }
        for run in candidates(self.setting, &self.work, node) {
            match self.follow(at, node, &run) {
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
        if node.situation.memory.live.within(self.setting.leaving) && self.setting.target.units[unit].primary {
            return true;
        }
        self.work.connect.iter().any(|cable| match self.setting.cables[*cable] {
            CableRow::Units(a, b) => {
                let (u, v) = (self.setting.unit_of(a), self.setting.unit_of(b));
                u == unit && there.contains(v) || v == unit && there.contains(u)
            }
            CableRow::Far(..) => false,
        })
    }

    /// The route that ends at a node.
    pub fn route(&self, node: usize, proved_least: bool) -> Route {
        let cost = self.nodes.get(node).map_or(Cost::default(), |node| node.cost);
        let mut route = Route { proved_least, opened: self.opened, cost, ..Route::default() };
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

    /// The rules that the attempts so far broke most often.
    pub fn broken(&self) -> Vec<&'static str> {
        let mut rules: Vec<_> = self.refused.iter().filter(|(rule, _)| **rule != "step-refused").collect();
        rules.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        rules.into_iter().take(3).map(|(rule, _)| *rule).collect()
    }
}
