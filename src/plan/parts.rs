//! The work cut into parts that touch nothing of each other: each can be done whole, one after the other.
//!
//! Ports that a cable joins, before or after, belong together, and so do all ports of a unit that comes or
//! goes, and those of one side. What a part leaves to do (saves that no rule asks for, copies of the common
//! settings) is done once, after the last.

use std::collections::BTreeMap;

use crate::model::document::Side;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, LegId, PortId, UnitId, UnitSet, UplinkId};
use crate::model::traits::BindingEffect;

use super::stage::Stage;
use super::work::{LinkWork, Newcomer, Work};

/// What belongs together: ports by what joins them.
#[derive(Default)]
struct Groups {
    above: BTreeMap<Thing, Thing>,
}

/// What a group holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Thing {
    Port(PortId),
    /// A unit that comes, goes or is given another number, weight or part to play.
    Unit(UnitId),
    Pair(UplinkId),
    /// Numbers, weights and who leads.
    Roles,
}

impl Groups {
    fn top(&self, thing: Thing) -> Thing {
        let mut at = thing;
        while let Some(above) = self.above.get(&at) {
            at = *above;
        }
        at
    }

    fn join(&mut self, one: Thing, other: Thing) {
        let (a, b) = (self.top(one), self.top(other));
        if a != b {
            self.above.insert(a.max(b), a.min(b));
        }
    }
}

/// Cuts the work into its parts, in the order of their ports; pairs and roles come last.
#[must_use]
pub fn parts(setting: &Setting, work: &Work) -> Vec<Work> {
    let groups = groups(setting, work);
    let mut parts: BTreeMap<Thing, Work> = BTreeMap::new();
    fn entry<'a>(groups: &Groups, parts: &'a mut BTreeMap<Thing, Work>, thing: Thing) -> &'a mut Work {
        parts.entry(groups.top(thing)).or_default()
    }
    for port in &work.ports {
        entry(&groups, &mut parts, home(setting, work, port.port)).ports.push(*port);
    }
    for (cables, connect) in [(&work.connect, true), (&work.disconnect, false)] {
        for cable in cables {
            let home = cable_home(setting, work, *cable);
            let part = entry(&groups, &mut parts, home);
            if connect { part.connect.push(*cable) } else { part.disconnect.push(*cable) }
        }
    }
    for link in &work.links {
        if let Some((_, port, _)) = link.cables.first() {
            entry(&groups, &mut parts, home(setting, work, *port)).links.push(link.clone());
        }
    }
    for newcomer in &work.newcomers {
        entry(&groups, &mut parts, Thing::Unit(newcomer.unit)).newcomers.push(newcomer.clone());
    }
    for unit in work.leavers.iter() {
        entry(&groups, &mut parts, Thing::Unit(unit)).leavers.insert(unit);
    }
    for operation in &work.pairs {
        entry(&groups, &mut parts, Thing::Pair(pair_of(setting, *operation))).pairs.push(*operation);
    }
    for task in &work.tasks {
        entry(&groups, &mut parts, home_of_task(work, *task)).tasks.push(*task);
    }
    // a unit restarts for its ports with them, for its number or the lead with those
    let waits = |port: PortId| waits_for_a_restart(setting, port);
    let for_ports = |unit: &UnitId| work.ports.iter().find(|one| setting.unit_of(one.port) == *unit && waits(one.port));
    let for_role = |unit: &UnitId| work.ids.iter().any(|(own, _)| own == unit) || setting.baseline.units[*unit].primary;
    for unit in work.restarts.iter() {
        if let Some(port) = for_ports(&unit) {
            entry(&groups, &mut parts, home(setting, work, port.port)).restarts.insert(unit);
        }
    }
    let roles: UnitSet = work.restarts.iter().filter(|unit| for_role(unit) || for_ports(unit).is_none()).collect();
    if !(work.priorities.is_empty() && work.ids.is_empty() && roles.is_empty()) {
        let part = entry(&groups, &mut parts, Thing::Roles);
        (part.priorities, part.ids) = (work.priorities.clone(), work.ids.clone());
        part.restarts = part.restarts.or(roles);
    }
    let off = off(setting, work);
    for unit in off.iter() {
        entry(&groups, &mut parts, home_of_return(setting, work, unit)).pauses.insert(unit);
    }
    let mut parts: Vec<Work> = parts.into_values().collect();
    parts.sort_by_key(turn);
    for part in &mut parts {
        (part.legs, part.pauses) = (work.legs.clone(), part.pauses.or(work.pauses.minus(off)));
        part.touch(setting);
    }
    parts
}

/// Who is off and comes in again.
fn off(setting: &Setting, work: &Work) -> UnitSet {
    work.pauses.iter().filter(|unit| !setting.baseline.units[*unit].powered).collect()
}

/// A box that is off and comes in again does so with its cables.
fn home_of_return(setting: &Setting, work: &Work, unit: UnitId) -> Thing {
    let own = |cable: &&CableId| setting.cables[**cable].unit_ends().any(|port| setting.unit_of(port) == unit);
    work.connect.iter().find(own).map_or(Thing::Unit(unit), |cable| cable_home(setting, work, *cable))
}

/// Whether a binding that a port is to act on comes into force with a restart.
fn waits_for_a_restart(setting: &Setting, port: PortId) -> bool {
    let (is, shall) = (setting.baseline.ports[port], setting.target.ports[port]);
    let late = setting.traits.binding.takes_effect == BindingEffect::AfterRestart;
    late && shall.side() != Side::None && !(is.side() == shall.side() && is.active())
}

/// When a part is tried: what joins before what parts, so that there is a way round while something is open.
fn turn(part: &Work) -> u8 {
    match (part.connect.is_empty(), part.disconnect.is_empty()) {
        (false, true) => 0,
        (false, false) => 1,
        (true, true) => 2,
        (true, false) if !part.leavers.is_empty() => 3,
        (true, false) => 4,
    }
}

fn groups(setting: &Setting, work: &Work) -> Groups {
    let mut groups = Groups::default();
    let moved = || work.connect.iter().chain(&work.disconnect).copied();
    for cable in moved() {
        match setting.cables[cable] {
            CableRow::Units(a, b) => groups.join(home(setting, work, a), home(setting, work, b)),
            CableRow::Far(..) => {}
        }
    }
    for link in &work.links {
        for (_, a, b) in &link.cables {
            groups.join(home(setting, work, *a), home(setting, work, *b));
            let first = link.cables.first().map_or(*a, |(_, first, _)| *first);
            groups.join(home(setting, work, first), home(setting, work, *a));
        }
    }
    // what a unit's restart puts into force belongs together
    for unit in work.restarts.iter() {
        let mut ports = work.ports.iter().filter(|port| setting.unit_of(port.port) == unit);
        if let Some(first) = ports.next() {
            ports.for_each(|port| groups.join(home(setting, work, first.port), home(setting, work, port.port)));
        }
    }
    // the ports of one side belong together: cables move from one to the other
    let mut sides: BTreeMap<(UnitId, u8), PortId> = BTreeMap::new();
    for port in &work.ports {
        let unit = setting.unit_of(port.port);
        for side in [setting.baseline.ports[port.port].side(), port.side] {
            if side != Side::None {
                let first = *sides.entry((unit, side as u8)).or_insert(port.port);
                groups.join(home(setting, work, first), home(setting, work, port.port));
            }
        }
    }
    // a leg's port goes with its pair
    let of_pair = |pair: UplinkId| {
        let far = |cable: CableId| matches!(setting.cables[cable], CableRow::Far(own, _) if own == pair);
        work.pairs.iter().any(|operation| pair_of(setting, *operation) == pair) || moved().any(far)
    };
    for port in &work.ports {
        for leg in setting.ports[port.port].legs.iter().filter(|leg| of_pair(setting.legs[*leg].uplink)) {
            if let Thing::Port(_) = home(setting, work, port.port) {
                groups.join(Thing::Port(port.port), Thing::Pair(setting.legs[leg].uplink));
            }
        }
    }
    let pair = |operation: &Operation| Thing::Pair(pair_of(setting, *operation));
    for operation in &work.pairs {
        let guards = matches!(operation, Operation::GuardSplit(_) | Operation::UnguardSplit(_));
        if let Some(first) = work.pairs.first().filter(|_| guards) {
            groups.join(pair(first), pair(operation));
        }
    }
    groups
}

/// What the stack is told of a unit that comes or goes belongs to that unit.
fn home_of_task(work: &Work, task: Operation) -> Thing {
    let (Operation::Admit(unit, _) | Operation::Forget(unit, _)) = task else { return Thing::Roles };
    let moves = work.leavers.contains(unit) || work.newcomers.iter().any(|newcomer| newcomer.unit == unit);
    if moves { Thing::Unit(unit) } else { Thing::Roles }
}

/// Where a port belongs: to its unit, if that comes or goes.
fn home(setting: &Setting, work: &Work, port: PortId) -> Thing {
    let unit = setting.unit_of(port);
    let moves = work.leavers.contains(unit) || work.newcomers.iter().any(|newcomer| newcomer.unit == unit);
    if moves { Thing::Unit(unit) } else { Thing::Port(port) }
}

fn cable_home(setting: &Setting, work: &Work, cable: CableId) -> Thing {
    match setting.cables[cable] {
        CableRow::Units(port, _) => home(setting, work, port),
        CableRow::Far(pair, _) => Thing::Pair(pair),
    }
}

/// The pair of an operation on pairs, legs or the guard.
fn pair_of(setting: &Setting, operation: Operation) -> UplinkId {
    let of_leg = |leg: LegId| setting.legs[leg].uplink;
    match operation {
        Operation::FormUplink(pair, _)
        | Operation::DropUplink(pair)
        | Operation::GuardSplit(pair)
        | Operation::UnguardSplit(pair) => pair,
        Operation::AddLeg(leg) | Operation::DropLeg(leg) => of_leg(leg),
        Operation::PowerOn(_)
        | Operation::PowerOff(_)
        | Operation::Restart(_)
        | Operation::Wipe(_)
        | Operation::AssignId(..)
        | Operation::SetPriority(..)
        | Operation::DisablePort(_)
        | Operation::EnablePort(_)
        | Operation::BindPort(..)
        | Operation::ReleasePort(_)
        | Operation::Activate(_)
        | Operation::Save(_)
        | Operation::HandOver(_)
        | Operation::SetMode(..)
        | Operation::SetKey(..)
        | Operation::Admit(..)
        | Operation::Forget(..)
        | Operation::Connect(_)
        | Operation::Disconnect(_) => crate::model::table::Id::at(0),
    }
}

/// The work for one newcomer alone: one cable of each of its links to live units, what stands in
/// their way, its stages; none if no link of it leads to a live unit. In a stack that does not exist
/// yet, its first unit.
#[must_use]
pub fn part(setting: &Setting, work: &Work, situation: &Situation, newcomer: &Newcomer) -> Option<Work> {
    let live = situation.memory.live;
    let alone = |stages: Vec<Stage>| vec![Newcomer { stages, ..newcomer.clone() }];
    if !situation.memory.founded {
        let first = setting.founder() == Some(newcomer.unit);
        let newcomers = alone(newcomer.stages.iter().take(1).cloned().collect());
        return first.then(|| Work { newcomers, ..Work::default() }.touched(setting));
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
    part.leavers = work.leavers;
    (part.legs, part.pauses) = (work.legs.clone(), work.pauses);
    let fits = |stage: &&Stage| stage.ports.iter().all(|port| part.ports.iter().any(|work| work.port == *port));
    let mut stages: Vec<Stage> = newcomer.stages.iter().filter(fits).cloned().collect();
    if stages.len() < newcomer.stages.len() {
        // parallel ports are staged with the first of their side
        stages =
            newcomer.stages.iter().filter(|stage| sides_of(setting, &part, newcomer.unit, stage)).cloned().collect();
    }
    part.newcomers = alone(stages);
    Some(part.touched(setting))
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
        crowded: false,
    };
    Work {
        ports: work.ports.iter().filter(|port| ends.contains(&port.port)).copied().collect(),
        connect: wanted.iter().map(|(cable, _, _)| *cable).collect(),
        links: wanted.iter().map(link).collect(),
        disconnect,
        priorities: work.priorities.clone(),
        ..Work::default()
    }
    .touched(setting)
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
