//! Every operation of the model: what it needs and what it does. Total: an operation whose needs
//! are not met is refused with the reason, nothing else fails.

use super::derive::{Islands, primaries};
use super::document::Side;
use super::joining::group_waits;
use super::kept::keeps_islands;
use super::names::{MemberId, Priority};
use super::naming::reset_to_factory;
use super::needs::needs;
use super::setting::{CableRow, Setting};
use super::settle::{Events, Passing, boot, fill_seats, restart_together, settle, settle_within, take_down};
use super::state::State;
use super::table::{CableId, LegId, LegSet, PortId, TicketId, UnitId, UnitSet, UplinkId};
use super::traits::{ActivationScope, BindingEffect, Handover, IdEffect, KeyEffect, Mode, SaveScope, StoredWhen};

/// One change of a state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Operation {
    /// Switches a unit on.
    PowerOn(UnitId),
    /// Switches a unit off.
    PowerOff(UnitId),
    /// Restarts a unit.
    Restart(UnitId),
    /// Sets a unit back to how it came out of its box.
    Wipe(UnitId),
    /// Gives a unit its id.
    AssignId(UnitId, MemberId),
    /// Sets a unit's priority.
    SetPriority(UnitId, Priority),
    /// Takes a port out of use.
    DisablePort(PortId),
    /// Puts a port into use.
    EnablePort(PortId),
    /// Binds a port to a side.
    BindPort(PortId, Side),
    /// Releases a port.
    ReleasePort(PortId),
    /// Puts the bindings of the unit's island into force.
    Activate(UnitId),
    /// Saves.
    Save(UnitId),
    /// Hands the lead over to a unit.
    HandOver(UnitId),
    /// Puts a unit into stack mode, or out of it.
    SetMode(UnitId, Mode),
    /// Sets one of the things that must be equal, by its position, to one of its values, by its number.
    SetKey(UnitId, u8, u8),
    /// Tells the stack of a newcomer.
    Admit(UnitId, TicketId),
    /// Tells the stack that a unit is gone.
    Forget(UnitId, TicketId),
    /// Plugs a cable.
    Connect(CableId),
    /// Unplugs a cable.
    Disconnect(CableId),
    /// Forms an uplink pair.
    FormUplink(UplinkId, LegSet),
    /// Dissolves an uplink pair.
    DropUplink(UplinkId),
    /// Adds a leg.
    AddLeg(LegId),
    /// Takes a leg out.
    DropLeg(LegId),
    /// Puts the split guard over a pair.
    GuardSplit(UplinkId),
    /// Takes the split guard off a pair.
    UnguardSplit(UplinkId),
}

/// Why an operation was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The unit is not powered.
    NotPowered(UnitId),
    /// The unit is powered already.
    Powered(UnitId),
    /// The unit has failed, or has nothing to boot with.
    CannotBoot(UnitId),
    /// The unit is linked or cabled.
    NotAlone(UnitId),
    /// The platform has no such id.
    IllegalId(MemberId),
    /// The platform has no such priority.
    IllegalPriority(Priority),
    /// The port must be out of use first.
    NotDisabled(PortId),
    /// The port is bound to a side.
    Bound(PortId),
    /// The port is bound to no side.
    NotBound(PortId),
    /// The port carries a leg of an uplink pair.
    CarriesLeg(PortId),
    /// The side holds as many cables as it may, or no side was named.
    SideFull(PortId),
    /// The platform has no activation.
    NoActivation,
    /// The platform has no command that hands the lead over.
    NoHandover,
    /// The unit leads already.
    Leads(UnitId),
    /// The unit stands alone and is not in stack mode.
    Lone(UnitId),
    /// The unit is not alone in its island.
    InStack(UnitId),
    /// The stacking ports of the platform are fixed.
    FixedPorts,
    /// The platform does not switch this.
    NoSuchHabit,
    /// No stack is there to be told.
    NoStack,
    /// The unit is in the stack.
    StillInside(UnitId),
    /// The unit is not in the incumbent stack, or waits for a restart.
    NotInside(UnitId),
    /// An end of the cable is taken, or the cable is plugged.
    EndTaken(CableId),
    /// The cable is not plugged.
    NotPlugged(CableId),
    /// No box of the leg's member is in the incumbent stack.
    OutsideStack(LegId),
    /// The pair is not formed.
    NoPair(UplinkId),
    /// The pair stands with other legs.
    OtherLegs(UplinkId),
    /// The pair carries the split guard.
    Guarded(UplinkId),
}

/// What an operation needs to know beside the state.
#[derive(Clone, Copy, Debug, Default)]
pub struct Circumstance {
    /// The incumbent island before the operation.
    pub incumbent: UnitSet,
    /// A unit whose saves count as the stack's although it is not live yet: the first of a new stack.
    pub founder: Option<UnitId>,
}

/// A state after an operation, and what happened on the way.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The settled state.
    pub after: State,
    /// What happened.
    pub events: Events,
    /// The islands of the settled state.
    pub islands: Islands,
}

/// Does one operation and lets the state settle. `islands`: those of the state before.
///
/// # Errors
/// The need that is not met; the state is as it was.
pub fn apply(
    setting: &Setting,
    state: &State,
    islands: &Islands,
    circumstance: Circumstance,
    operation: Operation,
) -> Result<Outcome, Refusal> {
    needs(setting, state, circumstance, operation)?;
    let (mut now, mut events) = (state.clone(), Events::default());
    now.now += 1;
    let down = effect(setting, &mut now, islands, circumstance, operation, &mut events);
    if !events.clash.is_empty() {
        return Ok(Outcome { islands: Islands::of(setting, &now), after: now, events });
    }
    let by_boot = matches!(operation, Operation::PowerOn(_) | Operation::Restart(_) | Operation::Wipe(_));
    events.passing.push(Passing { state: now.clone(), by_boot });
    let islands = match down {
        Some(down) => settle(setting, &down, &mut now, &mut events),
        None if keeps_islands(setting, state, &now, operation) => {
            settle_within(setting, islands, &mut now, &mut events)
        }
        None => settle(setting, islands, &mut now, &mut events),
    };
    fill_seats(setting, state, &mut now, &islands, &mut events);
    Ok(Outcome { after: now, events, islands })
}

/// Does what the operation does, before anything settles. A restart gives the islands of the state in which the
/// unit was down. `islands`: those before.
fn effect(
    setting: &Setting,
    now: &mut State,
    islands: &Islands,
    circumstance: Circumstance,
    operation: Operation,
    events: &mut Events,
) -> Option<Islands> {
    match operation {
        Operation::PowerOn(unit) => boot(setting, now, unit),
        Operation::PowerOff(unit) => take_down(setting, now, unit),
        Operation::Restart(unit) => return Some(restart_together(setting, islands, now, UnitSet::one(unit), events)),
        Operation::Wipe(unit) => {
            reset_to_factory(setting, now, unit);
            return Some(restart_together(setting, islands, now, UnitSet::one(unit), events));
        }
        Operation::AssignId(unit, id) => assign_id(setting, now, unit, id),
        Operation::SetPriority(unit, priority) => {
            now.units[unit].priority = priority;
            if setting.traits.stored.priority == StoredWhen::AtOnce {
                now.units[unit].saved_priority = priority;
            }
        }
        Operation::DisablePort(port) => now.ports[port] = now.ports[port].with_enabled(false),
        Operation::EnablePort(port) => now.ports[port] = now.ports[port].with_enabled(true),
        Operation::BindPort(port, side) => bind(setting, now, port, side),
        Operation::ReleasePort(port) => bind(setting, now, port, Side::None),
        Operation::Activate(unit) => return activate(setting, now, islands, unit, events),
        Operation::Save(unit) => save(setting, now, islands, circumstance, unit),
        Operation::HandOver(unit) => return hand_over(setting, now, islands, unit, events),
        Operation::SetMode(unit, mode) => now.units[unit].saved_lone = mode == Mode::Lone,
        Operation::SetKey(unit, key, value) => set_key(setting, now, unit, usize::from(key), value),
        Operation::Admit(_, ticket) => now.running.admitted.insert(ticket),
        Operation::Forget(_, ticket) => now.running.admitted.remove(ticket),
        Operation::Connect(cable) => now.plugged.insert(cable),
        Operation::Disconnect(cable) => now.plugged.remove(cable),
        Operation::FormUplink(uplink, legs) => {
            now.running.pairs.insert(uplink);
            now.running.legs = now.running.legs.or(legs);
        }
        Operation::DropUplink(uplink) => {
            now.running.pairs.remove(uplink);
            now.running.legs = now.running.legs.minus(setting.uplinks[uplink].legs);
        }
        Operation::AddLeg(leg) => now.running.legs.insert(leg),
        Operation::DropLeg(leg) => now.running.legs.remove(leg),
        Operation::GuardSplit(uplink) => now.running.guard = Some(uplink),
        Operation::UnguardSplit(uplink) if now.running.guard == Some(uplink) => now.running.guard = None,
        Operation::UnguardSplit(_) => {}
    }
    None
}

/// Puts bindings into force. Where units restart for it, gives the islands while they were down.
fn activate(
    setting: &Setting,
    now: &mut State,
    islands: &Islands,
    unit: UnitId,
    events: &mut Events,
) -> Option<Islands> {
    let covered = match setting.traits.activate.scope {
        ActivationScope::Stack => islands.around(unit),
        ActivationScope::Unit => UnitSet::one(unit),
    };
    let idle = |port: &PortId| {
        let value = now.ports[*port];
        value.activated() != value && !group_waits(setting, now, *port)
    };
    let ports = |unit: UnitId| setting.units[unit].ports.iter().copied();
    let late: Vec<PortId> = covered.iter().flat_map(ports).filter(idle).collect();
    if !setting.traits.activate.restarts {
        late.into_iter().for_each(|port| now.ports[port] = now.ports[port].activated());
        return None;
    }
    let changed: UnitSet = late.into_iter().map(|port| setting.unit_of(port)).collect();
    if changed.is_empty() {
        return None;
    }
    // they go down before anything comes up by it
    events.restarts = events.restarts.or(changed);
    Some(restart_together(setting, islands, now, changed, events))
}

/// Gives the lead to a unit; where the former primary restarts for it, gives the islands while that was down.
fn hand_over(
    setting: &Setting,
    now: &mut State,
    islands: &Islands,
    unit: UnitId,
    events: &mut Events,
) -> Option<Islands> {
    let former = primaries(now, islands.around(unit));
    former.iter().for_each(|unit| now.units[unit].primary = false);
    (now.units[unit].primary, now.units[unit].standby) = (true, false);
    if setting.traits.handover != Handover::OldRestarts {
        return None;
    }
    events.restarts = events.restarts.or(former);
    Some(restart_together(setting, islands, now, former, events))
}

fn set_key(setting: &Setting, now: &mut State, unit: UnitId, key: usize, value: u8) {
    let at_once = setting.traits.join_keys.get(key).is_some_and(|key| key.takes_effect == KeyEffect::AtOnce);
    let row = &mut now.units[unit];
    if let Some(slot) = row.saved_keys.get_mut(key) {
        *slot = value;
    }
    if let Some(slot) = row.keys.get_mut(key).filter(|_| at_once) {
        *slot = value;
    }
}

fn assign_id(setting: &Setting, now: &mut State, unit: UnitId, id: MemberId) {
    let row = &mut now.units[unit];
    match setting.traits.member_id.takes_effect {
        IdEffect::AfterRestart => row.saved_id = id,
        IdEffect::AtOnce => {
            row.id = id;
            if setting.traits.stored.id == StoredWhen::AtOnce {
                row.saved_id = id;
            }
        }
    }
}

fn bind(setting: &Setting, now: &mut State, port: PortId, side: Side) {
    let at_once = setting.traits.binding.takes_effect == BindingEffect::AtOnce;
    let active = side != Side::None && at_once && !group_waits(setting, now, port);
    now.ports[port] = now.ports[port].with_side(side, active);
    if setting.traits.stored.binding == StoredWhen::AtOnce {
        now.ports[port] = now.ports[port].with_saved_side(side);
    }
}

fn save(setting: &Setting, now: &mut State, islands: &Islands, circumstance: Circumstance, unit: UnitId) {
    let covered = match setting.traits.save.scope {
        SaveScope::Unit => UnitSet::one(unit),
        SaveScope::Stack => islands.around(unit),
    };
    for member in covered.iter() {
        let row = &mut now.units[member];
        row.saved_priority = row.priority;
        if setting.traits.member_id.takes_effect == IdEffect::AtOnce {
            row.saved_id = row.id;
        }
        now.ports.each(&setting.units[member].ports, |port| port.stored());
    }
    if circumstance.incumbent.contains(unit) || circumstance.founder == Some(unit) {
        let changed = now.saved != now.running;
        now.saved = now.running;
        for member in setting.units.ids() {
            let copy = covered.contains(member) || now.units[member].copy && !changed;
            now.units[member].copy = copy;
        }
    }
}

/// The unit that an operation is typed on, switched or restarted; none for cables and pairs.
#[must_use]
pub fn unit_of(setting: &Setting, operation: Operation) -> Option<UnitId> {
    match operation {
        Operation::PowerOn(unit)
        | Operation::PowerOff(unit)
        | Operation::Restart(unit)
        | Operation::Wipe(unit)
        | Operation::AssignId(unit, _)
        | Operation::SetPriority(unit, _)
        | Operation::Activate(unit)
        | Operation::Save(unit)
        | Operation::HandOver(unit)
        | Operation::SetMode(unit, _)
        | Operation::SetKey(unit, ..) => Some(unit),
        // the first unit of a new stack is told of itself at its own console
        Operation::Admit(unit, _) if setting.founder() == Some(unit) => Some(unit),

        Operation::DisablePort(port)
        | Operation::EnablePort(port)
        | Operation::BindPort(port, _)
        | Operation::ReleasePort(port) => Some(setting.unit_of(port)),
        Operation::Connect(_)
        | Operation::Disconnect(_)
        | Operation::FormUplink(..)
        | Operation::DropUplink(_)
        | Operation::AddLeg(_)
        | Operation::DropLeg(_)
        | Operation::GuardSplit(_)
        | Operation::UnguardSplit(_)
        | Operation::Admit(..)
        | Operation::Forget(..) => None,
    }
}

/// Whether a typed operation takes its unit down, so that what comes up comes up by a boot.
#[must_use]
pub const fn restarts(setting: &Setting, operation: Operation) -> bool {
    match operation {
        Operation::Restart(_) | Operation::Wipe(_) => true,
        Operation::Activate(_) => setting.traits.activate.restarts,
        _ => false,
    }
}

/// Whether an operation is done by hands on site.
#[must_use]
pub const fn by_hands(operation: Operation) -> bool {
    matches!(
        operation,
        Operation::PowerOn(_) | Operation::PowerOff(_) | Operation::Connect(_) | Operation::Disconnect(_)
    )
}

/// Whether a far cable's leg names the cable's port.
#[must_use]
pub fn far_cable_of(setting: &Setting, port: PortId, uplink: UplinkId) -> Option<CableId> {
    setting.ports[port].cables.iter().copied().find(|cable| setting.cables[*cable] == CableRow::Far(uplink, port))
}
