//! What every operation of the model needs before it is done, and the reason where that is not met.

use super::derive::Islands;
use super::document::{Side, Status};
use super::joining::has_ticket;
use super::operation::{Circumstance, Operation, Refusal};
use super::setting::{Setting, Ticket};
use super::state::State;
use super::table::{CableId, LegId, LegSet, PortId, TicketId, TicketSet, UnitId, UplinkId};
use super::traits::{Admission, BindingEffect, Handover, StackMode};

/// Checks what an operation needs.
///
/// # Errors
/// It cannot be done there, and why.
pub fn needs(
    setting: &Setting,
    state: &State,
    circumstance: Circumstance,
    operation: Operation,
) -> Result<(), Refusal> {
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
        Operation::BindPort(port, side) => powered(setting.unit_of(port))
            .and(stacks(state, setting.unit_of(port)))
            .and(bindable(setting, state, circumstance, port, side)),
        Operation::ReleasePort(port) => powered(setting.unit_of(port)).and(releasable(setting, state, port)),
        Operation::Activate(unit) => {
            powered(unit).and(stacks(state, unit)).and(match setting.traits.binding.takes_effect {
                BindingEffect::OnActivation => Ok(()),
                BindingEffect::AtOnce | BindingEffect::AfterRestart | BindingEffect::Fixed => {
                    Err(Refusal::NoActivation)
                }
            })
        }
        Operation::SetMode(unit, _) => powered(unit).and(switchable(setting, state, unit)),
        Operation::SetKey(_, key, _) if usize::from(key) >= setting.traits.join_keys.len() => Err(Refusal::NoSuchHabit),
        Operation::SetKey(unit, ..) => powered(unit),
        Operation::Admit(unit, ticket) => admissible(setting, state, circumstance, unit, ticket),
        Operation::Forget(_, ticket) => forgettable(setting, state, circumstance, ticket),
        Operation::HandOver(unit) => powered(unit).and(heir(setting, state, circumstance, unit)),
        Operation::Connect(cable) => ends_free(setting, state, cable),
        Operation::Disconnect(cable) if state.plugged.contains(cable) => Ok(()),
        Operation::Disconnect(cable) => Err(Refusal::NotPlugged(cable)),
        Operation::FormUplink(uplink, legs) => formable(setting, state, circumstance, uplink, legs),
        Operation::DropUplink(uplink) if state.running.guard == Some(uplink) => Err(Refusal::Guarded(uplink)),
        Operation::DropUplink(_) => Ok(()),
        Operation::AddLeg(leg) => pair(setting.legs[leg].uplink).and(addable(setting, state, circumstance, leg)),
        Operation::DropLeg(leg) => pair(setting.legs[leg].uplink),
        Operation::GuardSplit(uplink) => pair(uplink).and(match circumstance.incumbent.first() {
            Some(unit) if circumstance.incumbent.len() == 1 => stacks(state, unit),
            _ => Ok(()),
        }),
        Operation::UnguardSplit(uplink) => pair(uplink),
    }
}

fn stacks(state: &State, unit: UnitId) -> Result<(), Refusal> {
    if state.units[unit].lone { Err(Refusal::Lone(unit)) } else { Ok(()) }
}

fn switchable(setting: &Setting, state: &State, unit: UnitId) -> Result<(), Refusal> {
    if setting.traits.stack_mode == StackMode::Always {
        Err(Refusal::NoSuchHabit)
    } else if Islands::of(setting, state).around(unit).len() > 1 {
        Err(Refusal::InStack(unit))
    } else {
        Ok(())
    }
}

/// The stack is there to be told; or the first unit of a new stack is told of itself.
fn admissible(
    setting: &Setting,
    state: &State,
    circumstance: Circumstance,
    unit: UnitId,
    ticket: TicketId,
) -> Result<(), Refusal> {
    if setting.traits.admission == Admission::Open {
        return Err(Refusal::NoSuchHabit);
    }
    let speaker = circumstance.incumbent.first().or(circumstance.founder.filter(|founder| *founder == unit));
    let Some(speaker) = speaker.filter(|unit| state.units[*unit].powered) else { return Err(Refusal::NoStack) };
    let alone = circumstance.incumbent.len() <= 1;
    let own = match &setting.tickets[ticket] {
        Ticket::Id(id) => *id == state.units[unit].id || *id == state.units[unit].saved_id,
        Ticket::Serial(serial) => setting.units[unit].serial.as_ref() == Some(serial),
    };
    if circumstance.incumbent.is_empty() && !own {
        return Err(Refusal::NoStack);
    }
    if alone { stacks(state, speaker) } else { Ok(()) }
}

fn forgettable(setting: &Setting, state: &State, circumstance: Circumstance, ticket: TicketId) -> Result<(), Refusal> {
    let is = |unit: &UnitId| has_ticket(setting, state, *unit, TicketSet::EMPTY.with(ticket));
    if setting.traits.admission == Admission::Open {
        Err(Refusal::NoSuchHabit)
    } else if circumstance.incumbent.is_empty() {
        Err(Refusal::NoStack)
    } else if let Some(unit) = circumstance.incumbent.iter().find(is) {
        Err(Refusal::StillInside(unit))
    } else {
        Ok(())
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

/// Who may be given the lead.
fn heir(setting: &Setting, state: &State, circumstance: Circumstance, unit: UnitId) -> Result<(), Refusal> {
    if setting.traits.handover == Handover::None {
        Err(Refusal::NoHandover)
    } else if !circumstance.incumbent.contains(unit) || state.units[unit].waiting {
        Err(Refusal::NotInside(unit))
    } else if state.units[unit].primary {
        Err(Refusal::Leads(unit))
    } else {
        Ok(())
    }
}

/// Whether a port is a leg. A new box knows of none before it is in the stack, though its member has one there.
fn has_leg(setting: &Setting, state: &State, circumstance: Circumstance, port: PortId) -> bool {
    let unit = setting.unit_of(port);
    let knows = circumstance.incumbent.contains(unit) || setting.units[unit].status != Status::Joining;
    knows && setting.ports[port].legs.meets(state.running.legs)
}

fn bindable(
    setting: &Setting,
    state: &State,
    circumstance: Circumstance,
    port: PortId,
    side: Side,
) -> Result<(), Refusal> {
    if setting.traits.binding.takes_effect == BindingEffect::Fixed {
        return Err(Refusal::FixedPorts);
    }
    let value = state.ports[port];
    let bound_there =
        setting.units[setting.unit_of(port)].ports.iter().filter(|other| state.ports[**other].side() == side).count();
    if value.side() != Side::None {
        Err(Refusal::Bound(port))
    } else if has_leg(setting, state, circumstance, port) {
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
    if setting.traits.binding.takes_effect == BindingEffect::Fixed {
        Err(Refusal::FixedPorts)
    } else if value.side() == Side::None {
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
