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
use std::cmp::Ordering;
use std::collections::{BinaryHeap, HashMap};

use crate::model::cost::{is_ring, own_minutes};
use crate::model::derive::{Link, link, protected};
use crate::model::document::Side;
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::progress::{Done, Situation, neighbour_shows};
use crate::model::rules::{Breaches, after_lawful_step, differences, in_state, up_unread};
use crate::model::setting::{CableRow, Point, Setting};
use crate::model::state::Port;
use crate::model::table::{CableId, PortId, UnitId, UnitSet};
use crate::model::traits::{BindingEffect, StoredWhen};

use super::bound::{Cost, Rings, item, left, likely};
use super::candidates::{Run, candidates};
use super::key::key;
use super::stage::Stage;
use super::work::{Work, part};
use super::{NoRoute, Route};

/// Situations that the search by the whole cost may open.
const WHOLE_BUDGET: usize = 150;
/// Situations that the search by the first items of the cost may open.
const FIRST_BUDGET: usize = 400;
/// Situations that the search for one newcomer, or for the rest, may open.
const PART_BUDGET: usize = 20_000;
/// Items of the cost that the search by the whole cost compares before depth: all but the last,
/// which, like changes of place, only picks among routes that are equal in all others.
const WHOLE_ITEMS: usize = item::LIKELY + 1;
/// Items of the cost that the other searches compare before depth.
const FIRST_ITEMS: usize = item::STEPS + 1;

/// What led to a node.
#[derive(Clone, Debug)]
enum Taken {
    /// Nothing: the start.
    Start,
    /// A newcomer was staged in one of its ways.
    Staged(UnitId, Vec<Operation>),
    /// A run of operations.
    Run(Run),
}

/// One situation of the search.
#[derive(Clone, Debug)]
struct Node {
    situation: Situation,
    staged: UnitSet,
    cost: Cost,
    /// Links of the work that have been up, by their position.
    seen: u128,
    turns: u32,
    depth: u32,
    last: Option<UnitId>,
    hands: bool,
    parent: usize,
    taken: Taken,
}

/// An entry of the queue: the cheapest sum first, then the deepest, then the newest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Entry {
    first: Cost,
    sum: Cost,
    depth: u32,
    turns: u32,
    node: usize,
}

impl Ord for Entry {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_depth = other.first.cmp(&self.first).then(self.depth.cmp(&other.depth));
        let cheaper = by_depth.then(other.sum.cmp(&self.sum));
        cheaper.then(other.turns.cmp(&self.turns)).then(self.node.cmp(&other.node))
    }
}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
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
        match search.run(0, budget, None) {
            End::Found(node) => return Ok(search.route(node, items == WHOLE_ITEMS)),
            End::Exhausted => return Err(NoRoute::Impossible { rules: search.broken() }),
            End::Budget => {}
        }
    }
    search.nodes.truncate(1);
    search.one_by_one(work)
}

struct Search<'a> {
    setting: &'a Setting,
    work: Cow<'a, Work>,
    rings: Rings,
    inherited: Breaches,
    /// Every link of the whole work: its two units and its cables.
    links: Vec<((UnitId, UnitId), Vec<CableId>)>,
    nodes: Vec<Node>,
    items: usize,
    opened: usize,
    refused: std::collections::BTreeMap<&'static str, usize>,
}

impl<'a> Search<'a> {
    fn new(setting: &'a Setting, work: &'a Work) -> Self {
        let situation = Situation::start(setting);
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
        let links = work.links.iter().filter_map(|link| {
            let (_, a, b) = link.cables.first()?;
            let units = (setting.unit_of(*a), setting.unit_of(*b));
            Some((units, link.cables.iter().map(|(cable, _, _)| *cable).collect()))
        });
        let links = links.collect();
        Self {
            setting,
            work: Cow::Borrowed(work),
            rings,
            inherited,
            links,
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

    /// Searches from one node to the target, or to so many live units.
    fn run(&mut self, from: usize, budget: usize, enough: Option<usize>) -> End {
        let mut best: HashMap<Box<[u8]>, (Cost, u32)> = HashMap::new();
        let mut queue = BinaryHeap::from([self.entry(from)]);
        let mut opened = 0;
        while let Some(entry) = queue.pop() {
            let Some(node) = self.nodes.get(entry.node).cloned() else { continue };
            let key = key(self.setting, &self.work, &node.situation, node.staged, node.seen);
            if best.get(&key).is_some_and(|known| *known < (node.cost, node.turns)) {
                continue;
            }
            let enough = enough.is_some_and(|live| node.situation.memory.live.len() >= live);
            if enough || self.done(entry.node) {
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

    /// Brings in one newcomer after the other, then does the rest.
    fn one_by_one(mut self, whole: &Work) -> Result<Route, NoRoute> {
        let mut node = 0;
        loop {
            let Some(situation) = self.nodes.get(node).map(|node| node.situation) else { break };
            let outside: Vec<_> =
                whole.newcomers.iter().filter(|one| !situation.memory.live.contains(one.unit)).collect();
            if outside.is_empty() {
                break;
            }
            let live = self.live(node);
            let mut next = None;
            for part in outside.iter().filter_map(|one| part(self.setting, whole, &situation, one)) {
                self.work = Cow::Owned(part);
                if let End::Found(found) = self.run(node, PART_BUDGET, Some(live + 1)) {
                    next = Some(found);
                    break;
                }
            }
            let Some(found) = next else { return Err(NoRoute::SearchLimit { opened: self.opened }) };
            node = found;
        }
        self.work = Cow::Owned(whole.clone());
        match self.run(node, PART_BUDGET, None) {
            End::Found(last) => Ok(self.route(last, false)),
            End::Exhausted | End::Budget => Err(NoRoute::SearchLimit { opened: self.opened }),
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
                child.cost = child.cost.plus(self.price_of_command(unprotected, &before));
            } else {
                let done = before.step(self.setting, operation).map_err(|_| "step-refused")?;
                self.lawful(&before, operation, &done)?;
                child.cost = child.cost.plus(self.price(&before, operation, &done, unprotected));
                let not_typed = self.links_not_typed(&mut child.seen, &before, operation, &done);
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

    /// The price of an inert command.
    fn price_of_command(&self, unprotected: bool, before: &Situation) -> Cost {
        let command = likely(&self.setting.traits.minutes.command);
        let out = before.memory.live.minus(self.setting.leaving).minus(before.incumbent(self.setting)).len() as i64;
        let cost = Cost::default()
            .raised(item::STEPS, 1)
            .raised(item::LIKELY, command)
            .raised(item::MEMBER_MINUTES, command * out);
        let open = if unprotected { command } else { 0 };
        match self.rings {
            Rings::Both => cost.raised(item::UNPROTECTED, open),
            Rings::One => cost.raised(item::HALF_PROTECTED, open),
            Rings::None => cost,
        }
    }

    fn price(&self, before: &Situation, operation: Operation, done: &Done, unprotected: bool) -> Cost {
        let setting = self.setting;
        let own = own_minutes(setting, operation, Point::Likely).as_hundredths();
        let restart = likely(&setting.traits.minutes.restart);
        let mut cost =
            Cost::default().raised(item::STEPS, 1).raised(item::LIKELY, own + restart * done.events.downs.len() as i64);
        let mut open = if unprotected && own > 0 { own } else { 0 };
        let stay = before.memory.live.minus(setting.leaving);
        cost = cost.raised(item::MEMBER_MINUTES, own * stay.minus(done.incumbent_before).len() as i64);
        for down in &done.events.downs {
            let out = stay.minus(before.incumbent_in(setting, down)).len() as i64;
            cost = cost.raised(item::MEMBER_MINUTES, restart * out);
            open += if protected(setting, down, before.memory.live) { 0 } else { restart };
        }
        cost = match self.rings {
            Rings::Both => cost.raised(item::UNPROTECTED, open),
            Rings::One => cost.raised(item::HALF_PROTECTED, open),
            Rings::None => cost,
        };
        if let Operation::Connect(cable) | Operation::Disconnect(cable) = operation {
            cost = cost.raised(item::CABLES, 1);
            let lights = matches!(operation, Operation::Connect(_))
                && crate::model::derive::lit(setting, &done.after.state, cable);
            cost = cost.raised(item::LIGHTS, i64::from(lights));
        }
        cost
    }

    /// How many links to a live unit first come up without a typed step; notes all that come up.
    fn links_not_typed(&self, seen: &mut u128, before: &Situation, operation: Operation, done: &Done) -> i64 {
        let typed = !by_hands(operation) && !matches!(operation, Operation::Restart(_) | Operation::Wipe(_));
        let mut count = 0;
        for passing in &done.events.passing {
            for (position, cables) in self.links.iter().enumerate() {
                let (sides, bit) = (cables.0, 1_u128 << (position % 128));
                let up = |cable: &CableId| link(self.setting, &passing.state, *cable) == Link::Stack;
                if *seen & bit != 0 || !cables.1.iter().any(up) {
                    continue;
                }
                *seen |= bit;
                let live = UnitSet::one(sides.0).with(sides.1).meets(before.memory.live);
                count += i64::from(live && (passing.by_boot || !typed));
            }
        }
        count
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

/// The port of an operation that changes nothing but a running setting of a port in which no cable
/// is plugged: it can light nothing, link nothing and is no part of what outlives a restart, so
/// every rule holds after it that held before.
fn inert(setting: &Setting, before: &Situation, operation: Operation) -> Option<PortId> {
    let port = match operation {
        Operation::DisablePort(port) | Operation::EnablePort(port) => port,
        Operation::BindPort(port, _) | Operation::ReleasePort(port)
            if setting.traits.stored.binding == StoredWhen::WithSave =>
        {
            port
        }
        _ => return None,
    };
    let plugged = setting.ports[port].cables.iter().any(|cable| before.state.plugged.contains(*cable));
    let free = !setting.ports[port].legs.meets(before.state.running.legs);
    let room = setting.traits.binding.takes_effect != BindingEffect::AtOnce;
    let simple = matches!(operation, Operation::DisablePort(_) | Operation::EnablePort(_)) || room && free;
    (!plugged && simple && before.state.units[setting.unit_of(port)].powered && allowed(setting, before, operation))
        .then_some(port)
}

/// What binding and releasing need, for an inert port.
fn allowed(setting: &Setting, before: &Situation, operation: Operation) -> bool {
    let closed = |port: PortId| !setting.traits.binding.port_disabled || !before.state.ports[port].enabled();
    match operation {
        Operation::BindPort(port, side) => {
            let full = setting.units[setting.unit_of(port)]
                .ports
                .iter()
                .filter(|other| before.state.ports[**other].side() == side)
                .count();
            before.state.ports[port].side() == Side::None
                && closed(port)
                && full < usize::from(setting.traits.sides.max_cables)
        }
        Operation::ReleasePort(port) => before.state.ports[port].side() != Side::None && closed(port),
        _ => true,
    }
}

fn typed(port: Port, operation: Operation) -> Port {
    match operation {
        Operation::DisablePort(_) => port.with_enabled(false),
        Operation::EnablePort(_) => port.with_enabled(true),
        Operation::BindPort(_, side) => port.with_side(side, false),
        Operation::ReleasePort(_) => port.with_side(Side::None, false),
        _ => port,
    }
}
