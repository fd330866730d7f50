//! Every operation of the model: what it needs and what it does. Total: an operation whose needs
//! are not met is refused with the reason, nothing else fails.

use super::derive::Islands;
use super::document::Side;
use super::names::{MemberId, Priority};
use super::naming::reset_to_factory;
use super::setting::{CableRow, Setting};
use super::settle::{Events, Passing, boot, restart_together, settle, take_down};
use super::state::State;
use super::table::{CableId, LegId, LegSet, PortId, UnitId, UnitSet, UplinkId};
use super::traits::{BindingEffect, IdEffect, SaveScope, StoredWhen};

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

/// Does one operation and lets the state settle.
///
/// # Errors
/// The need that is not met; the state is as it was.
pub fn apply(
    setting: &Setting,
    state: &State,
    circumstance: Circumstance,
    operation: Operation,
) -> Result<Outcome, Refusal> {
    needs(setting, state, circumstance, operation)?;
    let mut now = state.clone();
    now.now += 1;
    let (before, mut events) = (now.clone(), Events::default());
    let before = effect(setting, &mut now, circumstance, operation, &mut events).unwrap_or(before);
    if !events.clash.is_empty() {
        return Ok(Outcome { islands: Islands::of(setting, &now), after: now, events });
    }
    let by_boot = matches!(operation, Operation::PowerOn(_) | Operation::Restart(_) | Operation::Wipe(_));
    events.passing.push(Passing { state: now.clone(), by_boot });
    let islands = settle(setting, &before, &mut now, &mut events);
    Ok(Outcome { after: now, events, islands })
}

/// Checks what an operation needs.
fn needs(setting: &Setting, state: &State, circumstance: Circumstance, operation: Operation) -> Result<(), Refusal> {
    let powered = |unit: UnitId| if state.units[unit].powered { Ok(()) } else { Err(Refusal::NotPowered(unit)) };
    let pair =
        |uplink: UplinkId| if state.running.pairs.contains(uplink) { Ok(()) } else { Err(Refusal::NoPair(uplink)) };
    match operation {
        Operation::PowerOn(unit) if state.units[unit].powered => Err(Refusal::Powered(unit)),
        Operation::PowerOn(unit) if setting.dead.contains(unit) || !state.units[unit].bootable => {
            Err(Refusal::CannotBoot(unit))
        }
        Operation::PowerOn(_) => Ok(()),
        Operation::PowerOff(unit) | Operation::Restart(unit) | Operation::Save(unit) => powered(unit),
        Operation::Wipe(unit) => powered(unit).and(alone(setting, state, unit)),
        Operation::AssignId(unit, id) => {
            powered(unit).and(if setting.legal_id(id) { Ok(()) } else { Err(Refusal::IllegalId(id)) })
        }
        Operation::SetPriority(unit, priority) => powered(unit).and(if setting.legal_priority(priority) {
            Ok(())
        } else {
            Err(Refusal::IllegalPriority(priority))
        }),
        Operation::DisablePort(port) | Operation::EnablePort(port) => powered(setting.unit_of(port)),
        Operation::BindPort(port, side) => powered(setting.unit_of(port)).and(bindable(setting, state, port, side)),
        Operation::ReleasePort(port) => powered(setting.unit_of(port)).and(releasable(setting, state, port)),
        Operation::Activate(unit) => powered(unit).and(match setting.traits.binding.takes_effect {
            BindingEffect::OnActivation => Ok(()),
            BindingEffect::AtOnce | BindingEffect::AfterRestart => Err(Refusal::NoActivation),
        }),
        Operation::Connect(cable) => ends_free(setting, state, cable),
        Operation::Disconnect(cable) if state.plugged.contains(cable) => Ok(()),
        Operation::Disconnect(cable) => Err(Refusal::NotPlugged(cable)),
        Operation::FormUplink(uplink, legs) => formable(setting, state, circumstance, uplink, legs),
        Operation::DropUplink(uplink) if state.running.guard == Some(uplink) => Err(Refusal::Guarded(uplink)),
        Operation::DropUplink(_) => Ok(()),
        Operation::AddLeg(leg) => pair(setting.legs[leg].uplink).and(addable(setting, state, circumstance, leg)),
        Operation::DropLeg(leg) => pair(setting.legs[leg].uplink),
        Operation::GuardSplit(uplink) | Operation::UnguardSplit(uplink) => pair(uplink),
    }
}

fn alone(setting: &Setting, state: &State, unit: UnitId) -> Result<(), Refusal> {
    let cabled = setting.units[unit].ports.iter().any(|port| cabled(setting, state, *port));
    let island = Islands::of(setting, state).around(unit);
    if cabled || island.len() > 1 { Err(Refusal::NotAlone(unit)) } else { Ok(()) }
}

fn cabled(setting: &Setting, state: &State, port: PortId) -> bool {
    setting.ports[port].cables.iter().any(|cable| state.plugged.contains(*cable))
}

fn bindable(setting: &Setting, state: &State, port: PortId, side: Side) -> Result<(), Refusal> {
    let value = state.ports[port];
    let bound_there =
        setting.units[setting.unit_of(port)].ports.iter().filter(|other| state.ports[**other].side() == side).count();
    if value.side() != Side::None {
        Err(Refusal::Bound(port))
    } else if setting.ports[port].legs.meets(state.running.legs) {
        Err(Refusal::CarriesLeg(port))
    } else if setting.traits.binding.port_disabled && value.enabled() {
        Err(Refusal::NotDisabled(port))
    } else if side == Side::None || bound_there >= usize::from(setting.traits.sides.max_cables) {
        Err(Refusal::SideFull(port))
    } else {
        Ok(())
    }
}

fn releasable(setting: &Setting, state: &State, port: PortId) -> Result<(), Refusal> {
    let value = state.ports[port];
    if value.side() == Side::None {
        Err(Refusal::NotBound(port))
    } else if setting.traits.binding.port_disabled && value.enabled() {
        Err(Refusal::NotDisabled(port))
    } else {
        Ok(())
    }
}

fn ends_free(setting: &Setting, state: &State, cable: CableId) -> Result<(), Refusal> {
    let taken = setting.cables[cable].unit_ends().any(|port| cabled(setting, state, port));
    if taken { Err(Refusal::EndTaken(cable)) } else { Ok(()) }
}

fn formable(
    setting: &Setting,
    state: &State,
    circumstance: Circumstance,
    uplink: UplinkId,
    legs: LegSet,
) -> Result<(), Refusal> {
    if state.running.pairs.contains(uplink) {
        let same = state.running.legs.and(setting.uplinks[uplink].legs) == legs;
        return if same { Ok(()) } else { Err(Refusal::OtherLegs(uplink)) };
    }
    legs.iter().try_for_each(|leg| leg_free(setting, state, circumstance, leg))
}

fn addable(setting: &Setting, state: &State, circumstance: Circumstance, leg: LegId) -> Result<(), Refusal> {
    if state.running.legs.contains(leg) { Ok(()) } else { leg_free(setting, state, circumstance, leg) }
}

/// A leg's member is in the incumbent stack, its port unbound and in no other pair.
fn leg_free(setting: &Setting, state: &State, circumstance: Circumstance, leg: LegId) -> Result<(), Refusal> {
    let inside = |port: &&PortId| circumstance.incumbent.contains(setting.unit_of(**port));
    let port = *setting.legs[leg].ports.iter().find(inside).ok_or(Refusal::OutsideStack(leg))?;
    let others = setting.ports[port].legs.minus(LegSet::one(leg));
    if state.ports[port].side() != Side::None {
        Err(Refusal::Bound(port))
    } else if others.meets(state.running.legs) {
        Err(Refusal::CarriesLeg(port))
    } else {
        Ok(())
    }
}

/// Does what the operation does, before anything settles. A restart gives the state in which the
/// unit was down.
fn effect(
    setting: &Setting,
    now: &mut State,
    circumstance: Circumstance,
    operation: Operation,
    events: &mut Events,
) -> Option<State> {
    match operation {
        Operation::PowerOn(unit) => boot(setting, now, unit),
        Operation::PowerOff(unit) => take_down(setting, now, unit),
        Operation::Restart(unit) => return Some(restart_together(setting, now, UnitSet::one(unit), events)),
        Operation::Wipe(unit) => {
            reset_to_factory(setting, now, unit);
            return Some(restart_together(setting, now, UnitSet::one(unit), events));
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
        Operation::Activate(unit) => {
            for member in Islands::of(setting, now).around(unit).iter() {
                for port in setting.units[member].ports.iter().copied() {
                    now.ports[port] = now.ports[port].activated();
                }
            }
        }
        Operation::Save(unit) => save(setting, now, circumstance, unit),
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
    let active = side != Side::None && setting.traits.binding.takes_effect == BindingEffect::AtOnce;
    now.ports[port] = now.ports[port].with_side(side, active);
    if setting.traits.stored.binding == StoredWhen::AtOnce {
        now.ports[port] = now.ports[port].with_saved_side(side);
    }
}

fn save(setting: &Setting, now: &mut State, circumstance: Circumstance, unit: UnitId) {
    let covered = match setting.traits.save.scope {
        SaveScope::Unit => UnitSet::one(unit),
        SaveScope::Stack => Islands::of(setting, now).around(unit),
    };
    for member in covered.iter() {
        let row = &mut now.units[member];
        row.saved_priority = row.priority;
        if setting.traits.member_id.takes_effect == IdEffect::AtOnce {
            row.saved_id = row.id;
        }
        for port in setting.units[member].ports.iter().copied() {
            now.ports[port] = now.ports[port].stored();
        }
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
        | Operation::Save(unit) => Some(unit),
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
        | Operation::UnguardSplit(_) => None,
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
