//! A script -> every slip that is tried against it.

use super::{Script, Slip};
use crate::model::acts::Act;
use crate::model::document::Side;
use crate::model::facts::Spot;
use crate::model::names::{MemberId, Priority};
use crate::model::naming::find_ticket;
use crate::model::operation::{Operation, by_hands};
use crate::model::places::typing_spots;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting, Ticket};
use crate::model::table::{CableId, PortId, TicketId, UnitId};

/// Every slip against a script, step by step; misplaced runs last.
#[must_use]
pub fn slips(script: &Script<'_>) -> Vec<Slip> {
    let mut found = Vec::new();
    for (step, act) in script.acts.iter().enumerate() {
        let Act::Do(operation) = act else { continue };
        let Some(before) = script.before(step) else { continue };
        found.extend([Slip::LeaveOut(step), Slip::Repeat(step)]);
        let follows = matches!(script.acts.get(step + 1), Some(Act::Do(_)));
        if follows && script.spot(step) == script.spot(step + 1) {
            found.push(Slip::Swap(step));
        }
        found.extend(misplugs(script.setting, before, step, *operation));
        found.extend(mistyped(script.setting, *operation).into_iter().map(|other| Slip::Mistype(step, other)));
        found.extend(wrong_units(script.setting, before, *operation).into_iter().map(|one| Slip::WrongUnit(step, one)));
    }
    for (first, last, meant) in typed_runs(script) {
        let Some(before) = script.before(first) else { continue };
        let others = typing_spots(script.setting, before).filter(|at| *at != meant);
        found.extend(others.map(|at| Slip::Misplace { first, last, at }));
    }
    found
}

/// Each end of a cable in the lowest other free port of its unit that can stack.
fn misplugs(setting: &Setting, before: &Situation, step: usize, operation: Operation) -> Vec<Slip> {
    let Operation::Connect(cable) = operation else { return Vec::new() };
    let plugged = before.state.plugged;
    let free = |port: &PortId| !setting.ports[*port].cables.iter().any(|cable| plugged.contains(*cable));
    let lowest = |meant: PortId| {
        let ports = setting.units[setting.unit_of(meant)].ports.iter().copied();
        ports.filter(|port| *port != meant && setting.ports[*port].stacking).find(free)
    };
    let ends = setting.cables[cable].unit_ends();
    ends.filter_map(|meant| lowest(meant).map(|into| Slip::Misplug { step, instead_of: meant, into })).collect()
}

fn mistyped(setting: &Setting, operation: Operation) -> Vec<Operation> {
    let ports = |meant: PortId| -> Vec<PortId> {
        let ports = &setting.units[setting.unit_of(meant)].ports;
        let Some(at) = ports.iter().position(|port| *port == meant) else { return Vec::new() };
        let next = ports.get(at + 1);
        at.checked_sub(1).and_then(|before| ports.get(before)).into_iter().chain(next).copied().collect()
    };
    match operation {
        Operation::AssignId(unit, MemberId(id)) => {
            let ids = [id.checked_sub(1), id.checked_add(1)].into_iter().flatten().map(MemberId);
            ids.filter(|id| setting.legal_id(*id)).map(|id| Operation::AssignId(unit, id)).collect()
        }
        Operation::SetPriority(unit, Priority(own)) => {
            let others = [own.checked_sub(1), own.checked_add(1)].into_iter().flatten().map(Priority);
            let legal = others.filter(|priority| setting.legal_priority(*priority));
            legal.map(|priority| Operation::SetPriority(unit, priority)).collect()
        }
        Operation::Admit(unit, ticket) => {
            near(setting, ticket).into_iter().map(|other| Operation::Admit(unit, other)).collect()
        }
        Operation::Forget(unit, ticket) => {
            near(setting, ticket).into_iter().map(|other| Operation::Forget(unit, other)).collect()
        }
        Operation::DisablePort(port) => ports(port).into_iter().map(Operation::DisablePort).collect(),
        Operation::EnablePort(port) => ports(port).into_iter().map(Operation::EnablePort).collect(),
        Operation::ReleasePort(port) => ports(port).into_iter().map(Operation::ReleasePort).collect(),
        Operation::BindPort(port, side) => {
            let other = match side {
                Side::West => Some(Side::East),
                Side::East => Some(Side::West),
                Side::None => None,
            };
            let elsewhere = ports(port).into_iter().map(|port| Operation::BindPort(port, side));
            elsewhere.chain(other.map(|side| Operation::BindPort(port, side))).collect()
        }
        Operation::PowerOn(_)
        | Operation::PowerOff(_)
        | Operation::Restart(_)
        | Operation::Wipe(_)
        | Operation::Activate(_)
        | Operation::Save(_)
        | Operation::HandOver(_)
        | Operation::SetMode(..)
        | Operation::SetKey(..)
        | Operation::Connect(_)
        | Operation::Disconnect(_)
        | Operation::FormUplink(..)
        | Operation::DropUplink(_)
        | Operation::AddLeg(_)
        | Operation::DropLeg(_)
        | Operation::GuardSplit(_)
        | Operation::UnguardSplit(_) => Vec::new(),
    }
}

/// The next lower and the next higher id.
fn near(setting: &Setting, ticket: TicketId) -> Vec<TicketId> {
    let Ticket::Id(MemberId(id)) = setting.tickets[ticket] else { return Vec::new() };
    let ids = [id.checked_sub(1), id.checked_add(1)].into_iter().flatten().map(MemberId);
    ids.filter(|id| setting.legal_id(*id)).filter_map(|id| find_ticket(setting, &Ticket::Id(id))).collect()
}

fn wrong_units(setting: &Setting, before: &Situation, operation: Operation) -> Vec<Operation> {
    let others = |meant: UnitId| {
        let powered = setting.units.ids().filter(|unit| before.state.units[*unit].powered);
        powered.filter(move |unit| *unit != meant)
    };
    match operation {
        Operation::PowerOff(meant) => others(meant).map(Operation::PowerOff).collect(),
        Operation::Restart(meant) => others(meant).map(Operation::Restart).collect(),
        Operation::HandOver(meant) => {
            let incumbent = before.incumbent(setting);
            let fits = |unit: &UnitId| *unit != meant && !before.state.units[*unit].primary;
            incumbent.iter().filter(fits).map(Operation::HandOver).collect()
        }
        Operation::Disconnect(meant) => {
            let mut cables: Vec<CableId> = Vec::new();
            for end in setting.cables[meant].unit_ends() {
                let name = &setting.ports[end].name;
                for unit in setting.units.ids().filter(|unit| *unit != setting.unit_of(end)) {
                    let Some(port) = setting.port(unit, name) else { continue };
                    let there = setting.ports[port].cables.iter().copied();
                    let there = there.filter(|cable| before.state.plugged.contains(*cable) && *cable != meant);
                    cables.extend(there.filter(|cable| !cables.contains(cable)).collect::<Vec<_>>());
                }
            }
            cables.into_iter().map(Operation::Disconnect).collect()
        }
        _ => Vec::new(),
    }
}

/// Runs of typed steps at one place: first step (the look that opens it, if there is one), last typed step,
/// place. Work by hands, a wait, a look elsewhere and a restart end one.
#[must_use]
pub fn typed_runs(script: &Script<'_>) -> Vec<(usize, usize, Spot)> {
    let mut found: Vec<(usize, usize, Spot)> = Vec::new();
    // the run that goes on, by its place in `found`; the looks that would open the next
    let (mut running, mut opening): (bool, Option<(usize, Spot)>) = (false, None);
    for (step, act) in script.acts.iter().enumerate() {
        let spot = script.spot(step);
        let last = found.last_mut().filter(|(.., at)| running && *at == spot);
        match act {
            Act::Await(..) => (running, opening) = (false, None),
            Act::Do(operation) if by_hands(*operation) => (running, opening) = (false, None),
            Act::Expect(_) if last.is_some() => {}
            Act::Expect(_) => {
                running = false;
                opening = opening.filter(|(_, at)| *at == spot).or(Some((step, spot)));
            }
            Act::Do(operation) => {
                match last {
                    Some((_, last, _)) => *last = step,
                    None => {
                        let first = opening.filter(|(_, at)| *at == spot).map_or(step, |(first, _)| first);
                        found.push((first, step, spot));
                    }
                }
                (running, opening) = (!matches!(operation, Operation::Restart(_)), None);
            }
        }
    }
    found
}

/// The cable that a misplug makes: the other end stays where it is.
pub(super) fn misplugged(setting: &Setting, cable: CableId, instead_of: PortId, into: PortId) -> CableRow {
    match setting.cables[cable] {
        CableRow::Far(uplink, _) => CableRow::Far(uplink, into),
        CableRow::Units(a, b) => {
            let stays = if a == instead_of { b } else { a };
            CableRow::Units(stays.min(into), stays.max(into))
        }
    }
}
