//! Cables of neither state that may be plugged for a while: make before break.
//!
//! A spare cable joins two sides that are free before or after the change, over stacking-capable ports that
//! the target leaves empty. It helps where units would be cut off, and where the stack can only live on in one
//! that comes; it never helps a ring, which stays together while it is open. Where a binding takes effect with a restart,
//! each of its ends that is up restarts once: at the ends of a chain that cuts off nobody else.

use crate::model::derive::side_links;
use crate::model::document::Side;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, CableSet, PortId, UnitId, UnitSet};
use crate::model::traits::{BindingEffect, Facing};

use super::Route;
use super::bound::{Cost, item};
use super::links::is_blocked;
use super::sequence::{Effort, hastily, sequence};
use super::work::{LinkWork, Newcomer, PortWork, Work};

/// How many spare cables are tried.
const MOST_SPARES: usize = 24;
/// How many of them are looked at more closely.
const BEST_SPARES: usize = 4;
/// The same where the question can be left open.
const FEW_SPARES: (usize, usize) = (8, 2);

/// A spare cable: how it comes and how it goes.
pub(super) struct Spare {
    /// Plugged, both ends bound, a link.
    pub up: Work,
    /// Gone, its ports as the target has them.
    pub down: Work,
    /// What it joins.
    pub row: Option<CableRow>,
    /// How many units that stay it leaves without a way to the leader while the work's breaks are open.
    pub cut: usize,
}

/// A free end: a side of a unit, and a port for it.
#[derive(Clone, Copy)]
struct End {
    unit: UnitId,
    side: Side,
    port: PortId,
    /// The side is in use neither before nor after.
    free: bool,
}

/// The best route over a spare cable: of those that cut off fewest, first those over which a way is found soon, the
/// cheapest first; those over which none is found soon come last.
pub(super) fn route_over_one(setting: &Setting, work: &Work, effort: Effort) -> Option<Route> {
    let (most, best) = if effort == Effort::Full { (MOST_SPARES, BEST_SPARES) } else { FEW_SPARES };
    let mut attempts = Attempts { best: None, left: best };
    let mut spares = spares(setting, work);
    spares.truncate(most);
    let mut late = Vec::new();
    for like in spares.chunk_by(|(_, one), (_, other)| one.cut == other.cut) {
        if attempts.is_over() {
            break;
        }
        let mut soon = Vec::new();
        for (wider, spare) in like {
            // the only one that cuts off nobody is tried at once
            let sure = spare.cut == 0 && like.len() == 1;
            match if sure { None } else { hastily(wider, work, Some(spare)) } {
                Some(route) => soon.push((route.cost.first(item::STEPS), wider, spare)),
                None if sure => soon.push((Cost::default(), wider, spare)),
                None => late.push((wider, spare)),
            }
        }
        soon.sort_by_key(|(cost, ..)| *cost);
        for (_, wider, spare) in soon {
            attempts.next(wider, work, spare, effort);
        }
    }
    for (wider, spare) in late {
        attempts.next(wider, work, spare, effort);
    }
    attempts.best
}

/// Routes over one spare cable after the other.
struct Attempts {
    best: Option<Route>,
    left: usize,
}

impl Attempts {
    /// Tries one, unless enough were tried or nobody is out any more.
    fn next(&mut self, wider: &Setting, work: &Work, spare: &Spare, effort: Effort) {
        if self.is_over() {
            return;
        }
        self.left -= 1;
        let Ok(mut route) = sequence(wider, work, Some(spare), effort) else { return };
        let plugs = spare.up.connect.iter().any(|cable| route.steps.contains(&Operation::Connect(*cable)));
        route.spare = spare.row.filter(|_| plugs);
        if self.best.as_ref().is_none_or(|known| out(&route) < out(known)) {
            self.best = Some(route);
        }
    }

    fn is_over(&self) -> bool {
        self.left == 0 || self.best.as_ref().is_some_and(|known| out(known) == 0)
    }
}

/// Member-minutes out of the stack.
fn out(route: &Route) -> i64 {
    route.cost.0.get(item::MEMBER_MINUTES).copied().unwrap_or(0)
}

/// Every spare cable that might help, each with the setting that knows it: first those over which fewer units are
/// cut off, of these the freest first.
pub(super) fn spares(setting: &Setting, work: &Work) -> Vec<(Setting, Spare)> {
    let ends: Vec<End> = setting.units.ids().flat_map(|unit| ends(setting, unit)).collect();
    let mut pairs: Vec<(End, End)> = Vec::new();
    for (position, one) in ends.iter().enumerate() {
        for other in ends.iter().skip(position + 1) {
            let faces = setting.traits.sides.facing == Facing::Any || one.side != other.side;
            if one.unit != other.unit && faces {
                pairs.push((*one, *other));
            }
        }
    }
    let stays = |end: &End| setting.stays(end.unit) && !setting.joining.contains(end.unit);
    // one that comes may meet one that goes before anything else, so that the stack outlives the one
    pairs.retain(|(one, other)| stays(one) || stays(other) || setting.stays(one.unit) != setting.stays(other.unit));
    pairs.sort_by_key(|(one, other)| (!(stays(one) && stays(other)), !(one.free && other.free)));
    let stays_up = stays_up(setting, work);
    let mut ranked: Vec<(usize, (End, End))> =
        pairs.into_iter().map(|pair| (cut(setting, &stays_up, pair), pair)).collect();
    ranked.sort_by_key(|(cut, _)| *cut);
    ranked.truncate(MOST_SPARES);
    ranked.into_iter().map(|(cut, (one, other))| spare(setting, work, one, other, cut)).collect()
}

/// Who is linked to whom all the time: by links that stay, and by new ones that need not wait for a port.
fn stays_up(setting: &Setting, work: &Work) -> Vec<UnitSet> {
    let start = Situation::start(setting);
    let kept = side_links(setting, &setting.target, setting.all_units());
    let old = side_links(setting, &start.state, start.memory.live);
    let old = old.into_iter().filter(|link| kept.contains(link)).map(|link| UnitSet::one(link.0.0).with(link.1.0));
    let free = work.links.iter().filter(|link| !is_blocked(setting, &start.state, link));
    let ends = |link: &LinkWork| {
        link.cables.iter().flat_map(|(_, a, b)| [setting.unit_of(*a), setting.unit_of(*b)]).collect::<UnitSet>()
    };
    old.chain(free.map(ends)).collect()
}

/// How many live units that stay have no way to the leader, or to the best of those that stay, over links that are
/// up all the time and a spare cable.
fn cut(setting: &Setting, stays_up: &[UnitSet], (one, other): (End, End)) -> usize {
    let memory = Situation::start(setting).memory;
    let stay = memory.live.minus(setting.leaving).minus(memory.stranded);
    let links = || stays_up.iter().copied().chain([UnitSet::one(one.unit).with(other.unit)]);
    let Some(first) = memory.leader.filter(|leader| stay.contains(*leader)).or(stay.first()) else { return 0 };
    let mut reached = UnitSet::one(first);
    loop {
        let before = reached;
        reached = links().filter(|ends| ends.meets(before)).fold(before, UnitSet::or);
        if reached == before {
            return stay.minus(reached).len();
        }
    }
}

/// The free sides of a unit that is or comes up, each with its best port.
fn ends(setting: &Setting, unit: UnitId) -> Vec<End> {
    let joins = setting.joining.contains(unit);
    let there = setting.baseline.units[unit].powered;
    if setting.dead.contains(unit) || !(joins || there) {
        return Vec::new();
    }
    let used = |state: &crate::model::state::State, side: Side| {
        setting.units[unit].ports.iter().any(|port| state.ports[*port].side() == side)
    };
    let empty = |state: &crate::model::state::State, port: PortId| {
        let plugged = setting.ports[port].cables.iter().any(|cable| state.plugged.contains(*cable));
        !plugged && state.ports[port].side() == Side::None && !setting.ports[port].legs.meets(state.running.legs)
    };
    let port_for = |free: bool| {
        let ports = || setting.units[unit].ports.iter().copied().filter(|port| setting.ports[*port].stacking);
        let both = |port: &PortId| empty(&setting.baseline, *port) && empty(&setting.target, *port);
        let one = |port: &PortId| empty(&setting.baseline, *port) || empty(&setting.target, *port);
        ports().find(both).or_else(|| if free { None } else { ports().find(one) })
    };
    [Side::West, Side::East]
        .into_iter()
        .filter(|side| !(used(&setting.baseline, *side) && used(&setting.target, *side)))
        .filter_map(|side| {
            let free = !used(&setting.baseline, side) && !used(&setting.target, side);
            port_for(free).map(|port| End { unit, side, port, free })
        })
        .collect()
}

fn spare(setting: &Setting, work: &Work, one: End, other: End, cut: usize) -> (Setting, Spare) {
    let (a, b) = (one.port.min(other.port), one.port.max(other.port));
    let (wider, cable) = with_cable(setting, a, b);
    let port = |end: &End| PortWork { port: end.port, side: end.side, enabled: true, recabled: true };
    let back = |end: &End| {
        let shall = setting.target.ports[end.port];
        PortWork { port: end.port, side: shall.side(), enabled: shall.enabled(), recabled: true }
    };
    let link = LinkWork { cables: vec![(cable, a, b)], blocked_by: CableSet::EMPTY, crowded: false };
    // a newcomer alone is made ready as it is without the cable
    let joins = |newcomer: &&Newcomer| [one.unit, other.unit].contains(&newcomer.unit);
    let newcomers = work.newcomers.iter().filter(joins).cloned().collect();
    let ports = vec![port(&one), port(&other)];
    // what goes anyway and holds an end goes first
    let gone = setting.baseline.plugged.minus(setting.target.plugged);
    let disconnect = [a, b].into_iter().flat_map(|port| setting.ports[port].cables.iter().copied());
    let disconnect = disconnect.filter(|cable| gone.contains(*cable)).collect();
    // a binding that takes effect with a restart takes one at either end, of a unit that is up already
    let late = setting.traits.binding.takes_effect == BindingEffect::AfterRestart;
    let up_already = [&one, &other].into_iter().filter(|end| late && !setting.joining.contains(end.unit));
    let restarts: UnitSet = up_already.map(|end| end.unit).collect();
    let up =
        Work { ports, connect: vec![cable], disconnect, links: vec![link], newcomers, restarts, ..Work::default() };
    let down = Work { ports: vec![back(&one), back(&other)], disconnect: vec![cable], ..Work::default() };
    let (up, down) = (up.touched(&wider), down.touched(&wider));
    (wider, Spare { up, down, row: Some(CableRow::Units(a, b)), cut })
}

/// A setting that knows one more cable; the lower port first.
pub(super) fn with_cable(setting: &Setting, a: PortId, b: PortId) -> (Setting, CableId) {
    let mut wider = setting.clone();
    let cable = setting.cable_between(a, b).unwrap_or_else(|| {
        let cable: CableId = wider.cables.push(CableRow::Units(a, b));
        wider.ports[a].cables.push(cable);
        wider.ports[b].cables.push(cable);
        cable
    });
    (wider, cable)
}
