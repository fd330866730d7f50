//! What the difference of two states needs touched: ports, cables, units, pairs.
//!
//! Only what is listed here is ever tried. A port that neither differs, nor belongs to a cable that
//! does, is left alone: an operation on it would have to be undone by another, and neither changes
//! a link that the difference speaks of.

use std::collections::BTreeMap;

use crate::model::derive::{Link, SideLink, link, side_link};
use crate::model::document::Side;
use crate::model::names::{MemberId, Priority};
use crate::model::operation::{Operation, unit_of};
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting, Ticket};
use crate::model::state::State;
use crate::model::table::{CableId, CableSet, LegId, PortId, TicketId, UnitId, UnitSet, UplinkId};
use crate::model::traits::{BindingEffect, IdEffect, Loser, Mode, SaveScope};

use super::bound::pair_open;
use super::cuts::cut_off;
use super::roles::{late_habit, needs_restart, needs_restart_as_numbered, open_keys, task_open};
use super::stage::{Stage, stages};
use super::units::boots_in;

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
    /// Priorities of units that are there already, and of newcomers that must not join with theirs.
    pub priorities: Vec<(UnitId, Priority)>,
    /// Ids of units that are there already.
    pub ids: Vec<(UnitId, MemberId)>,
    /// Units to switch off for good.
    pub leavers: UnitSet,
    /// Units of the baseline that a restart of their own must bring to the target.
    pub restarts: UnitSet,
    /// Leg ports of units that may be apart for a while: out of use until they are back.
    pub legs: Vec<PortId>,
    /// Units that may be switched off for a while.
    pub pauses: UnitSet,
    /// Operations on pairs and the guard.
    pub pairs: Vec<Operation>,
    /// What only wider habits ask for: whom the stack is told of, what must be equal, modes, the lead that a command gives.
    pub tasks: Vec<Operation>,
    /// Units whose settings the work may change.
    pub units: UnitSet,
    /// How many breaks it may take, each with a step of its own that opens it.
    pub gaps: i64,
    /// Whatever may be done to a unit for a while is tried too: another weight, a restart for the order of boots.
    pub wide: bool,
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
    /// Its sides hold no more cables than they have: all that stand there now go first.
    pub crowded: bool,
}

/// A unit that comes in.
#[derive(Clone, Debug)]
pub struct Newcomer {
    /// The unit.
    pub unit: UnitId,
    /// Ways to make it ready: which sides are bound already.
    pub stages: Vec<Stage>,
    /// It would win its merge, or lose it by nothing that the stack may rely on: it comes in as it boots.
    pub boots_in: bool,
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
        if !newcomer && is.powered && is.saved_id != shall.saved_id {
            work.ids.push((unit, shall.saved_id));
        }
    }
    work.leavers = setting.leaving.iter().filter(|unit| before.units[*unit].powered).collect();
    let newcomer = |unit: UnitId| Newcomer { unit, stages: stages(setting, unit), boots_in: boots_in(setting, unit) };
    work.newcomers = setting.joining.iter().map(newcomer).collect();
    let late = |one: &Newcomer| one.stages.iter().any(|stage| stage.light).then_some(one.unit);
    let leads = work.newcomers.iter().filter_map(late).map(|unit| (unit, after.units[unit].priority));
    work.priorities.extend(leads.collect::<Vec<_>>());
    work.pairs = pair_work(setting);
    work.tasks = tasks(setting);
    work.links = link_work(setting, &work.disconnect);
    work.restarts = restarts(setting, &work);
    work.absences(setting);
    work
}

impl Work {
    /// With its units listed again.
    #[must_use]
    pub fn touched(mut self, setting: &Setting) -> Self {
        self.touch(setting);
        self
    }

    /// Lists again which units the work may change.
    pub fn touch(&mut self, setting: &Setting) {
        let units = self.ports.iter().map(|port| port.port).chain(self.legs.iter().copied());
        self.units = units.map(|port| setting.unit_of(port)).collect();
        let rows = self.priorities.iter().map(|(unit, _)| *unit).chain(self.ids.iter().map(|(unit, _)| *unit));
        let tasks = self.tasks.iter().filter_map(|task| unit_of(setting, *task));
        let rows = rows.chain(tasks.collect::<Vec<_>>());
        let named: UnitSet = rows.chain(self.newcomers.iter().map(|newcomer| newcomer.unit)).collect();
        self.units = self.units.or(named).or(self.leavers).or(self.restarts).or(self.pauses);
    }

    /// Whether it can be done at all now: the units that it numbers, weighs or gives a leg to are in the stack.
    #[must_use]
    pub fn is_possible(&self, setting: &Setting, situation: &Situation) -> bool {
        let inside = |unit: UnitId| situation.state.units[unit].powered;
        let own = |unit: UnitId| self.newcomers.iter().any(|newcomer| newcomer.unit == unit);
        let live = |unit: UnitId| own(unit) || situation.memory.live.contains(unit);
        let far = |cable: &CableId| match setting.cables[*cable] {
            CableRow::Far(_, port) => live(setting.unit_of(port)),
            CableRow::Units(..) => true,
        };
        let member = |leg: LegId| setting.legs[leg].ports.iter().any(|port| live(setting.unit_of(*port)));
        let legs = |operation: &Operation| match operation {
            Operation::FormUplink(_, legs) => legs.iter().all(member),
            Operation::AddLeg(leg) => member(*leg),
            _ => true,
        };
        let next = setting.units.ids().find(|unit| setting.target.units[*unit].primary);
        let lead = self.restarts.is_empty() || next.is_none_or(|next| situation.state.units[next].powered);
        self.priorities.iter().all(|(unit, _)| inside(*unit))
            && self.ids.iter().all(|(unit, _)| inside(*unit))
            && self.connect.iter().all(far)
            && self.pairs.iter().all(legs)
            && lead
    }

    /// Whether everything that the work lists is as the target has it; saves aside.
    #[must_use]
    pub fn is_done(&self, setting: &Setting, situation: &Situation) -> bool {
        let state = &situation.state;
        let port_done = |port: &PortWork| {
            let is = state.ports[port.port];
            (is.side(), is.enabled()) == (port.side, port.enabled) && (is.active() || port.side == Side::None)
        };
        let numbered = |unit: UnitId| self.ids.iter().any(|(own, _)| *own == unit);
        // another part numbers it
        let unit_done = |unit: UnitId| match numbered(unit) {
            true => !needs_restart(setting, situation, unit),
            false => !needs_restart_as_numbered(setting, situation, unit),
        };
        // weights that are saved unit by unit may have to come in one order: it is not left to the end
        let together = setting.traits.save.scope == SaveScope::Stack;
        let weight_saved = |unit: UnitId| state.units[unit].saved_priority == state.units[unit].priority;
        self.newcomers.iter().all(|newcomer| situation.memory.live.contains(newcomer.unit))
            && self.ports.iter().all(port_done)
            && self.legs.iter().all(|port| state.ports[*port].enabled() == setting.target.ports[*port].enabled())
            && self.connect.iter().all(|cable| state.plugged.contains(*cable))
            && self.links.iter().all(|link| link.cables.iter().any(|(cable, _, _)| is_up(setting, state, *cable)))
            && !self.disconnect.iter().any(|cable| state.plugged.contains(*cable))
            && self.priorities.iter().all(|(unit, priority)| state.units[*unit].priority == *priority)
            && self.priorities.iter().all(|(unit, _)| together || weight_saved(*unit))
            && self.ids.iter().all(|(unit, id)| state.units[*unit].id == *id)
            && self.pairs.iter().all(|operation| !pair_open(setting, situation, *operation))
            && !self.tasks.iter().any(|task| task_open(setting, situation, *task))
            && self.leavers.iter().all(|unit| !state.units[unit].powered)
            && self.restarts.iter().all(unit_done)
            && self.pauses.iter().all(|unit| state.units[unit].powered)
    }
}

impl Work {
    /// Lists what units that may be apart for a while need.
    fn absences(&mut self, setting: &Setting) {
        let apart = cut_off(setting, self).and(setting.may_split);
        let ports = far_ports(setting, apart).into_iter();
        // units that a failed one cut off and that would wait after a merge can be switched off and boot in instead
        if setting.traits.joining.loser == Loser::Waits {
            self.pauses = Situation::start(setting).memory.stranded.minus(setting.leaving);
        }
        self.legs = ports.filter(|port| self.ports.iter().all(|work| work.port != *port)).collect();
        self.touch(setting);
    }
}

/// Ports of some units that legs are plugged into, before or after, and that stay in use.
pub(super) fn far_ports(setting: &Setting, units: UnitSet) -> Vec<PortId> {
    let there = setting.baseline.plugged.or(setting.target.plugged);
    let far = |port: &PortId| {
        let plugged = |cable: &CableId| there.contains(*cable) && matches!(setting.cables[*cable], CableRow::Far(..));
        setting.ports[*port].cables.iter().any(plugged) && setting.target.ports[*port].enabled()
    };
    units.iter().flat_map(|unit| setting.units[unit].ports.iter().copied()).filter(far).collect()
}

fn is_up(setting: &Setting, state: &State, cable: CableId) -> bool {
    link(setting, state, cable) == Link::Stack
}

/// Units of the baseline that act on what they shall only after a restart: on another id or another
/// binding, where those wait for one; and one that leads and shall not.
fn restarts(setting: &Setting, work: &Work) -> UnitSet {
    let (before, after) = (&setting.baseline, &setting.target);
    let late_id = setting.traits.member_id.takes_effect == IdEffect::AfterRestart;
    let late_port = setting.traits.binding.takes_effect == BindingEffect::AfterRestart;
    let stays = |unit: &UnitId| setting.stays(*unit) && !setting.joining.contains(*unit) && before.units[*unit].powered;
    let numbered = work.ids.iter().filter(|_| late_id).map(|(unit, _)| *unit);
    let bound = work
        .ports
        .iter()
        .filter(|port| late_port && port.side != Side::None && before.ports[port.port].side() != port.side);
    let typed = setting.traits.lead_is_given();
    let gives_up = |unit: &UnitId| !typed && before.units[*unit].primary && !after.units[*unit].primary;
    let start = Situation::start(setting);
    let waits = |unit: &UnitId| gives_up(unit) || stays(unit) && late_habit(setting, &start, *unit);
    let leads = setting.units.ids().filter(waits);
    numbered.chain(bound.map(|port| setting.unit_of(port.port))).chain(leads).filter(stays).collect()
}

/// What only wider habits ask for.
fn tasks(setting: &Setting) -> Vec<Operation> {
    let (before, after) = (&setting.baseline, &setting.target);
    let by_ticket = |unit: &UnitId, ticket: TicketId, state: &State| match &setting.tickets[ticket] {
        Ticket::Id(id) => state.units[*unit].saved_id == *id,
        Ticket::Serial(serial) => setting.units[*unit].serial.as_ref() == Some(serial),
    };
    let whose = |ticket: TicketId, state: &State, of: UnitSet| {
        of.iter().find(|unit| by_ticket(unit, ticket, state)).or(of.first())
    };
    let stay = setting.all_units().minus(setting.leaving);
    let old = setting.all_units().minus(setting.joining);
    let told = after.running.admitted.minus(before.running.admitted).iter();
    let mut tasks: Vec<Operation> =
        told.filter_map(|ticket| Some(Operation::Admit(whose(ticket, after, stay)?, ticket))).collect();
    let gone = before.running.admitted.minus(after.running.admitted).iter();
    tasks.extend(gone.filter_map(|ticket| Some(Operation::Forget(whose(ticket, before, old)?, ticket))));
    for unit in stay.minus(setting.joining).iter() {
        let (is, shall) = (&before.units[unit], &after.units[unit]);
        if is.powered && is.saved_lone != shall.saved_lone {
            let mode = if shall.saved_lone { Mode::Lone } else { Mode::Stack };
            tasks.push(Operation::SetMode(unit, mode));
        }
        let open = open_keys(is.saved_keys, shall.saved_keys).filter(|_| is.powered);
        tasks.extend(open.map(|(key, value)| Operation::SetKey(unit, key as u8, value)));
    }
    let next = setting.units.ids().find(|unit| after.units[*unit].primary && !before.units[*unit].primary);
    let typed = setting.traits.lead_is_given() && setting.founder().is_none();
    tasks.extend(next.filter(|_| typed).map(Operation::HandOver));
    tasks
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
    let room = usize::from(setting.traits.sides.max_cables);
    let mut links = Vec::new();
    for (sides, cables) in up(&setting.target) {
        match old.get(&sides) {
            None => links.push(one_link(setting, &cables, disconnect)),
            // the same sides over other cables: where no other fits beside them, the link goes before it comes
            Some(known) if known.len() >= room && known.iter().all(|cable| disconnect.contains(cable)) => {
                let blocked_by = known.iter().copied().collect();
                links.push(LinkWork { blocked_by, crowded: true, ..one_link(setting, &cables, disconnect) });
            }
            Some(_) => {}
        }
    }
    links
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
    LinkWork { cables, blocked_by, crowded: false }
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
