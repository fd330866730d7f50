//! How a newcomer is made ready on its own, out of its box, at least cost.
//!
//! A unit without cables can meet nobody, so its stage is a search of its own. Its ports carry
//! nothing and are done in natural order: typed steps on ports that carry nothing commute. It is
//! activated and saved only when nothing else is left to type: each covers all that was typed before it, so an
//! earlier one could only be one more. So it is with a restart, but where the bindings shall not act yet: there
//! the one that an id waits for comes before them.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use crate::model::cost::step_minutes;
use crate::model::derive::Islands;
use crate::model::document::Side;
use crate::model::names::Priority;
use crate::model::operation::{Circumstance, Operation, apply};
use crate::model::setting::{Point, Setting};
use crate::model::state::{Keys, Port, State, Unit};
use crate::model::table::{CableSet, PortId, UnitId};
use crate::model::traits::{BindingEffect, Differs, IdEffect, Mode, Wins};

use super::roles::open_keys;

/// One way to make a newcomer ready.
#[derive(Clone, Debug)]
pub struct Stage {
    /// The sides that are bound at its end.
    pub sides: Vec<Side>,
    /// The ports that are.
    pub ports: Vec<PortId>,
    /// What is done, in order.
    pub operations: Vec<Operation>,
    /// It keeps a priority that loses against every other unit's: its own comes when it is in.
    pub light: bool,
    /// The unit at its end.
    pub unit: Unit,
    /// Its ports at its end.
    pub values: Vec<(PortId, Port)>,
}

/// Every way to make a unit ready that leads somewhere: with no side bound, with one, with both.
#[must_use]
pub fn stages(setting: &Setting, unit: UnitId) -> Vec<Stage> {
    let target = &setting.target;
    let bound = |side: Side| -> Vec<PortId> {
        setting.units[unit].ports.iter().copied().filter(|port| target.ports[*port].side() == side).collect()
    };
    let (mut west, mut east) = (bound(Side::West), bound(Side::East));
    if setting.traits.binding.takes_effect == BindingEffect::Fixed {
        (west, east) = (Vec::new(), Vec::new());
    }
    let mut choices = vec![Vec::new()];
    choices.extend((!west.is_empty()).then(|| vec![Side::West]));
    choices.extend((!east.is_empty()).then(|| vec![Side::East]));
    choices.extend((!west.is_empty() && !east.is_empty()).then(|| vec![Side::West, Side::East]));
    let ports_of = |sides: &[Side]| -> Vec<PortId> {
        let chosen = |port: &PortId| sides.contains(&target.ports[*port].side());
        setting.units[unit].ports.iter().copied().filter(chosen).collect()
    };
    let own = setting.target.units[unit].priority;
    // who shall lead would win its merge: it joins with less weight, and gets its own afterwards
    let leads = setting.target.units[unit].primary && setting.founder() != Some(unit);
    let weights: Vec<Priority> = if leads { least_weight(setting, unit).into_iter().collect() } else { vec![own] };
    let mut wishes: Vec<(Vec<Side>, bool)> = choices.iter().map(|sides| (sides.clone(), true)).collect();
    // all bound and saved, and none acting: the link is then made by the newcomer itself, once it is plugged
    let waits = setting.traits.binding.takes_effect != BindingEffect::AtOnce && setting.founder() != Some(unit);
    wishes.extend(choices.last().filter(|sides| waits && !sides.is_empty()).map(|sides| (sides.clone(), false)));
    // nobody binds a fixed port, but it may have to be put into use
    let fixed = setting.traits.binding.takes_effect == BindingEffect::Fixed;
    let ends_bound = |port: &PortId| target.ports[*port].side() != Side::None;
    let mut found = Vec::new();
    for (sides, active) in wishes {
        let ports: Vec<PortId> = match fixed {
            true => setting.units[unit].ports.iter().copied().filter(ends_bound).collect(),
            false => ports_of(&sides),
        };
        for weight in &weights {
            let wish = Wish { unit, sides: &sides, ports: &ports, priority: *weight, active };
            found.extend(stage(setting, &wish).map(|stage| Stage { light: *weight != own, ..stage }));
        }
    }
    found
}

/// A priority that loses against that of every other unit, before the change and after it: the one out of
/// the box, if that does, else the legal one that wins over the fewest.
fn least_weight(setting: &Setting, unit: UnitId) -> Option<Priority> {
    let others = || setting.units.ids().filter(|other| *other != unit);
    let taken: Vec<Priority> = others()
        .flat_map(|other| [setting.baseline.units[other].saved_priority, setting.target.units[other].saved_priority])
        .collect();
    let (low, high) = setting.traits.priority.range;
    let loses = |own: Priority, other: Priority| match setting.traits.priority.wins {
        Wins::Highest => own < other,
        Wins::Lowest => own > other,
    };
    let boxed = setting.traits.priority.factory;
    let staying: Vec<Priority> = others()
        .filter(|other| !setting.joining.contains(*other))
        .flat_map(|other| [setting.baseline.units[other].saved_priority, setting.target.units[other].saved_priority])
        .collect();
    if staying.iter().all(|other| loses(boxed, *other)) {
        return Some(boxed);
    }
    let worst_first: Vec<u32> = match setting.traits.priority.wins {
        Wins::Highest => (low.0..=high.0).take(taken.len() + 1).collect(),
        Wins::Lowest => (low.0..=high.0).rev().take(taken.len() + 1).collect(),
    };
    worst_first.into_iter().map(Priority).find(|weight| !taken.contains(weight))
}

/// What a stage shall reach.
struct Wish<'a> {
    unit: UnitId,
    sides: &'a [Side],
    ports: &'a [PortId],
    priority: Priority,
    /// Whether the bindings shall act at its end.
    active: bool,
}

/// A situation of the stage's search.
#[derive(Clone, Debug)]
struct Node {
    state: State,
    /// The first port that may still be touched.
    next_port: usize,
    /// What led here.
    from: Option<(usize, Operation)>,
}

/// What makes two of them equal: the unit, its ports, and the first port that may still be touched.
type Key = (Unit, Vec<Port>, usize);

fn stage(setting: &Setting, wish: &Wish<'_>) -> Option<Stage> {
    let Wish { unit, ports, .. } = *wish;
    let mut nodes: Vec<Node> = vec![Node { state: alone(setting, unit), next_port: 0, from: None }];
    let mut best: BTreeMap<Key, (i64, i64)> = BTreeMap::new();
    let mut queue = BinaryHeap::from([Reverse(((0, 0), 0, 0))]);
    let mut made = 0;
    while let Some(Reverse((cost, _, node))) = queue.pop() {
        let Node { state, next_port, .. } = nodes.get(node)?.clone();
        if ready(setting, &state, wish) {
            let operations = way_to(&nodes, node);
            let values = setting.units[unit].ports.iter().map(|port| (*port, state.ports[*port])).collect();
            let (sides, ports) = (wish.sides.to_vec(), ports.to_vec());
            return Some(Stage { sides, ports, operations, light: false, unit: state.units[unit], values });
        }
        if best.get(&key(setting, &state, unit, next_port)).is_some_and(|known| *known < cost) {
            continue;
        }
        let islands = Islands::of(setting, &state);
        for (operation, port) in offers(setting, &state, wish, next_port) {
            let founder = setting.founder().filter(|founder| *founder == unit);
            let circumstance = Circumstance { founder, ..Circumstance::default() };
            let Ok(outcome) = apply(setting, &state, &islands, circumstance, operation) else { continue };
            let after = State { now: 0, ..outcome.after };
            let minutes = step_minutes(setting, operation, outcome.events.downs.len(), Point::Likely).as_hundredths();
            let dearer = (cost.0 + 1, cost.1 + minutes);
            let key = key(setting, &after, unit, port);
            if best.get(&key).is_none_or(|known| dearer < *known) {
                best.insert(key, dearer);
                nodes.push(Node { state: after, next_port: port, from: Some((node, operation)) });
                made += 1;
                queue.push(Reverse((dearer, made, nodes.len() - 1)));
            }
        }
    }
    None
}

/// The baseline with nobody else on and no cable plugged: a newcomer in its stage meets nobody, so there is nothing
/// to settle among the others.
fn alone(setting: &Setting, unit: UnitId) -> State {
    let mut state = State { plugged: CableSet::EMPTY, ..setting.baseline.clone() };
    for other in setting.units.ids().filter(|other| *other != unit) {
        (state.units[other].powered, state.units[other].primary) = (false, false);
    }
    state
}

fn key(setting: &Setting, state: &State, unit: UnitId, next_port: usize) -> Key {
    let row = Unit { booted_at: 0, ..state.units[unit] };
    (row, setting.units[unit].ports.iter().map(|port| state.ports[*port]).collect(), next_port)
}

/// Powered, acting on its target's id and the wanted priority, the chosen ports bound and active, all saved.
fn ready(setting: &Setting, state: &State, wish: &Wish<'_>) -> bool {
    let Wish { unit, ports, priority, active, .. } = *wish;
    let (is, shall) = (&state.units[unit], &setting.target.units[unit]);
    let numbers = is.powered && (is.id, is.priority, is.lone) == (shall.id, priority, shall.lone);
    let equal = own_keys(setting, is.keys, shall.keys).next().is_none();
    let saved = (is.saved_id, is.saved_priority) == (shall.id, priority);
    let fixed = setting.traits.binding.takes_effect == BindingEffect::Fixed;
    let port_ready = |port: &PortId| {
        let value = state.ports[*port];
        // nobody binds a fixed port, and whether it acts is the mode's to say
        if fixed {
            let as_it_shall = value.enabled() == setting.target.ports[*port].enabled();
            return (as_it_shall || !ports.contains(port)) && value.is_stored();
        }
        let wanted =
            if ports.contains(port) { is_set(setting, value, *port, active) } else { value.side() == Side::None };
        wanted && value.is_stored()
    };
    numbers && saved && equal && setting.units[unit].ports.iter().all(port_ready)
}

fn is_set(setting: &Setting, value: Port, port: PortId, active: bool) -> bool {
    let shall = setting.target.ports[port];
    let acts = value.active() == (active && value.side() != Side::None);
    acts && (value.side(), value.enabled()) == (shall.side(), shall.enabled())
}

fn offers(setting: &Setting, state: &State, wish: &Wish<'_>, next_port: usize) -> Vec<(Operation, usize)> {
    let Wish { unit, ports, priority, .. } = *wish;
    let (is, shall) = (&state.units[unit], &setting.target.units[unit]);
    if !is.powered {
        return vec![(Operation::PowerOn(unit), next_port)];
    }
    let mut offers = Vec::new();
    let pending = setting.traits.member_id.takes_effect == IdEffect::AfterRestart && is.saved_id == shall.id;
    if is.id != shall.id && !pending {
        offers.push((Operation::AssignId(unit, shall.id), next_port));
    }
    if !wish.active && pending && is.id != shall.id {
        return vec![(Operation::Restart(unit), next_port)];
    }
    let keys = own_keys(setting, is.saved_keys, shall.keys);
    offers.extend(keys.map(|(key, value)| (Operation::SetKey(unit, key as u8, value), next_port)));
    if is.saved_lone != shall.lone {
        let mode = if shall.lone { Mode::Lone } else { Mode::Stack };
        offers.push((Operation::SetMode(unit, mode), next_port));
    }
    // out of stack mode nothing can be bound
    if is.lone && !shall.lone {
        return if offers.is_empty() { vec![(Operation::Restart(unit), next_port)] } else { offers };
    }
    if is.priority != priority {
        offers.push((Operation::SetPriority(unit, priority), next_port));
    }
    for (position, port) in ports.iter().enumerate().skip(next_port) {
        let (value, wanted) = (state.ports[*port], setting.target.ports[*port]);
        if value.side() == Side::None && wanted.side() != Side::None {
            let must_close = setting.traits.binding.port_disabled && value.enabled();
            let next =
                if must_close { Operation::DisablePort(*port) } else { Operation::BindPort(*port, wanted.side()) };
            offers.push((next, position));
        } else if value.enabled() != wanted.enabled() {
            let next = if wanted.enabled() { Operation::EnablePort(*port) } else { Operation::DisablePort(*port) };
            offers.push((next, position));
        }
    }
    if offers.is_empty() {
        let close = [Operation::Activate(unit), Operation::Save(unit), Operation::Restart(unit)];
        offers.extend(close.map(|operation| (operation, next_port)));
    }
    offers
}

/// Things that must be equal and that the unit must be given itself: others it takes over as it joins.
fn own_keys(setting: &Setting, is: Keys, shall: Keys) -> impl Iterator<Item = (usize, u8)> {
    open_keys(is, shall)
        .filter(|(key, _)| setting.traits.join_keys.get(*key).is_some_and(|key| key.differs != Differs::Updates))
}

/// The operations that lead to a node.
fn way_to(nodes: &[Node], last: usize) -> Vec<Operation> {
    let mut operations = Vec::new();
    let mut node = last;
    while let Some(Node { from: Some((before, operation)), .. }) = nodes.get(node) {
        operations.push(*operation);
        node = *before;
    }
    operations.reverse();
    operations
}
