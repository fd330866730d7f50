//! What the difference of two states needs touched: ports, cables, units, pairs.
//!
//! Only what is listed here is ever tried. A port that neither differs, nor belongs to a cable that
//! does, is left alone: an operation on it would have to be undone by another, and neither changes
//! a link that the difference speaks of.

use std::collections::BTreeMap;

use crate::model::derive::{Link, SideLink, link, side_link};
use crate::model::document::Side;
use crate::model::names::Priority;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, CableSet, LegId, PortId, UnitId, UnitSet, UplinkId};

use super::stage::{Stage, stages};

/// What the difference needs touched.
#[derive(Clone, Debug, Default)]
pub struct Work {
    /// Ports, in natural order.
    pub ports: Vec<PortWork>,
    /// Cables to plug.
    pub connect: Vec<CableId>,
    /// Cables to unplug.
    pub disconnect: Vec<CableId>,
    /// Stack links that the target has and the baseline has not, each with its cables.
    pub links: Vec<LinkWork>,
    /// Newcomers, each with the ways in which it may be made ready.
    pub newcomers: Vec<Newcomer>,
    /// Priorities of units that are there already.
    pub priorities: Vec<(UnitId, Priority)>,
    /// Operations on pairs and the guard.
    pub pairs: Vec<Operation>,
    /// Units whose settings the work may change.
    pub units: UnitSet,
}

/// One port to touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PortWork {
    /// The port.
    pub port: PortId,
    /// The side that it shall be bound to.
    pub side: Side,
    /// Whether it shall be in use.
    pub enabled: bool,
    /// One of its cables is plugged or unplugged by the change.
    pub recabled: bool,
}

/// One stack link to bring up, known by its two unit sides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LinkWork {
    /// Its cables in order, each with its two ports.
    pub cables: Vec<(CableId, PortId, PortId)>,
    /// A cable that goes holds one of its ports.
    pub blocked_by: CableSet,
}

/// A unit that comes in.
#[derive(Clone, Debug)]
pub struct Newcomer {
    /// The unit.
    pub unit: UnitId,
    /// Ways to make it ready: which sides are bound already.
    pub stages: Vec<Stage>,
}

/// Lists the work between the baseline and the target.
#[must_use]
pub fn work(setting: &Setting) -> Work {
    let (before, after) = (&setting.baseline, &setting.target);
    let mut work = Work {
        connect: after.plugged.minus(before.plugged).iter().collect(),
        disconnect: before.plugged.minus(after.plugged).iter().collect(),
        ..Work::default()
    };
    let moved = after.plugged.minus(before.plugged).or(before.plugged.minus(after.plugged));
    for unit in setting.units.ids().filter(|unit| setting.stays(*unit)) {
        let newcomer = setting.joining.contains(unit);
        for port in setting.units[unit].ports.iter().copied() {
            work.ports.extend(port_work(setting, port, moved, newcomer));
        }
        let (is, shall) = (&before.units[unit], &after.units[unit]);
        if !newcomer && is.powered && is.priority != shall.priority {
            work.priorities.push((unit, shall.priority));
        }
    }
    work.newcomers = setting.joining.iter().map(|unit| Newcomer { unit, stages: stages(setting, unit) }).collect();
    work.pairs = pair_work(setting);
    work.links = link_work(setting, &work.disconnect);
    work.units = work.ports.iter().map(|port| setting.unit_of(port.port)).collect::<UnitSet>().or(setting.joining);
    work.units = work.priorities.iter().fold(work.units, |units, (unit, _)| units.with(*unit));
    work
}

fn port_work(setting: &Setting, port: PortId, moved: CableSet, newcomer: bool) -> Option<PortWork> {
    let (is, shall) = (setting.baseline.ports[port], setting.target.ports[port]);
    let recabled = setting.ports[port]
        .cables
        .iter()
        .any(|cable| moved.contains(*cable) && matches!(setting.cables[*cable], CableRow::Units(..)));
    let differs = if newcomer {
        shall.side() != Side::None || shall.enabled() != setting.factory_enabled()
    } else {
        (is.enabled(), is.side(), is.active()) != (shall.enabled(), shall.side(), shall.active())
    };
    (differs || recabled).then_some(PortWork { port, side: shall.side(), enabled: shall.enabled(), recabled })
}

fn link_work(setting: &Setting, disconnect: &[CableId]) -> Vec<LinkWork> {
    let up = |state: &State| -> BTreeMap<SideLink, Vec<CableId>> {
        let mut links: BTreeMap<SideLink, Vec<CableId>> = BTreeMap::new();
        for cable in state.plugged.iter().filter(|cable| link(setting, state, *cable) == Link::Stack) {
            if let Some(sides) = side_link(setting, state, cable) {
                links.entry(sides).or_default().push(cable);
            }
        }
        links
    };
    let old = up(&setting.baseline);
    let fresh = up(&setting.target).into_iter().filter(|(sides, _)| !old.contains_key(sides));
    fresh.map(|(_, cables)| one_link(setting, &cables, disconnect)).collect()
}

fn one_link(setting: &Setting, cables: &[CableId], disconnect: &[CableId]) -> LinkWork {
    let ends = |cable: CableId| match setting.cables[cable] {
        CableRow::Units(a, b) => Some((cable, a, b)),
        CableRow::Far(..) => None,
    };
    let cables: Vec<_> = cables.iter().filter_map(|cable| ends(*cable)).collect();
    let held =
        |port: PortId| disconnect.iter().copied().filter(move |cable| setting.ports[port].cables.contains(cable));
    let blocked_by = cables.iter().flat_map(|(_, a, b)| held(*a).chain(held(*b))).collect();
    LinkWork { cables, blocked_by }
}

/// The work for one newcomer alone: one cable of each of its links to live units, what stands in
/// their way, its stages; none if no link of it leads to a live unit. In a stack that does not exist
/// yet, its first unit.
#[must_use]
pub fn part(setting: &Setting, work: &Work, situation: &Situation, newcomer: &Newcomer) -> Option<Work> {
    let live = situation.memory.live;
    let alone = |stages: Vec<Stage>| vec![Newcomer { unit: newcomer.unit, stages }];
    if !situation.memory.founded {
        let first = setting.founder() == Some(newcomer.unit);
        let newcomers = alone(newcomer.stages.iter().take(1).cloned().collect());
        return first.then(|| Work { newcomers, units: UnitSet::one(newcomer.unit), ..Work::default() });
    }
    let between = |a: PortId, b: PortId| {
        let (u, v) = (setting.unit_of(a), setting.unit_of(b));
        u == newcomer.unit && live.contains(v) || v == newcomer.unit && live.contains(u)
    };
    let first_cable = |link: &LinkWork| link.cables.first().copied().filter(|(_, a, b)| between(*a, *b));
    let wanted: Vec<_> = work.links.iter().filter_map(first_cable).collect();
    if wanted.is_empty() {
        return None;
    }
    let mut part = cable_part(setting, work, &wanted);
    let fits = |stage: &&Stage| stage.ports.iter().all(|port| part.ports.iter().any(|work| work.port == *port));
    let mut stages: Vec<Stage> = newcomer.stages.iter().filter(fits).cloned().collect();
    if stages.len() < newcomer.stages.len() {
        // parallel ports are staged with the first of their side
        stages =
            newcomer.stages.iter().filter(|stage| sides_of(setting, &part, newcomer.unit, stage)).cloned().collect();
    }
    part.newcomers = alone(stages);
    Some(part)
}

/// Whether every side that a stage binds has a cable in the part.
fn sides_of(setting: &Setting, part: &Work, unit: UnitId, stage: &Stage) -> bool {
    stage
        .sides
        .iter()
        .all(|side| part.ports.iter().any(|port| setting.unit_of(port.port) == unit && port.side == *side))
}

/// The work for some cables alone: their ports, what stands in their way, and other priorities.
#[must_use]
pub fn cable_part(setting: &Setting, work: &Work, wanted: &[(CableId, PortId, PortId)]) -> Work {
    let ends: Vec<PortId> = wanted.iter().flat_map(|(_, a, b)| [*a, *b]).collect();
    let holds = |cable: &CableId| ends.iter().any(|port| setting.ports[*port].cables.contains(cable));
    let disconnect: Vec<CableId> = work.disconnect.iter().copied().filter(holds).collect();
    let link = |cable: &(CableId, PortId, PortId)| LinkWork {
        cables: vec![*cable],
        blocked_by: disconnect
            .iter()
            .copied()
            .filter(|other| [cable.1, cable.2].iter().any(|port| setting.ports[*port].cables.contains(other)))
            .collect(),
    };
    let units: UnitSet = ends.iter().map(|port| setting.unit_of(*port)).collect();
    Work {
        ports: work.ports.iter().filter(|port| ends.contains(&port.port)).copied().collect(),
        connect: wanted.iter().map(|(cable, _, _)| *cable).collect(),
        links: wanted.iter().map(link).collect(),
        disconnect,
        newcomers: Vec::new(),
        priorities: work.priorities.clone(),
        pairs: Vec::new(),
        units: work.priorities.iter().fold(units, |units, (unit, _)| units.with(*unit)),
    }
}

/// The cables between units that are to be plugged: the first of every new link, then the others, those
/// beside a link that stands already among them.
#[must_use]
pub fn one_cable_first(setting: &Setting, work: &Work) -> Vec<(CableId, PortId, PortId)> {
    let firsts = work.links.iter().filter_map(|link| link.cables.first().copied());
    let mut wanted: Vec<_> = firsts.collect();
    for cable in &work.connect {
        if let CableRow::Units(a, b) = setting.cables[*cable]
            && !wanted.iter().any(|(known, _, _)| known == cable)
        {
            wanted.push((*cable, a, b));
        }
    }
    wanted
}

fn pair_work(setting: &Setting) -> Vec<Operation> {
    let (is, shall) = (&setting.baseline.running, &setting.target.running);
    let mut pairs = Vec::new();
    let guarded = |pair: Option<UplinkId>| pair.into_iter();
    if is.guard != shall.guard {
        pairs.extend(guarded(is.guard).map(Operation::UnguardSplit));
        pairs.extend(guarded(shall.guard).map(Operation::GuardSplit));
    }
    for pair in setting.uplinks.ids() {
        let legs = setting.uplinks[pair].legs;
        match (is.pairs.contains(pair), shall.pairs.contains(pair)) {
            (false, true) => pairs.push(Operation::FormUplink(pair, legs.and(shall.legs))),
            (true, false) => pairs.push(Operation::DropUplink(pair)),
            (true, true) => {
                let (old, new) = (legs.and(is.legs), legs.and(shall.legs));
                pairs.extend(old.minus(new).iter().map(|leg: LegId| Operation::DropLeg(leg)));
                pairs.extend(new.minus(old).iter().map(|leg: LegId| Operation::AddLeg(leg)));
            }
            (false, false) => {}
        }
    }
    pairs
}
