//! An operation of indices -> the action that a plan's document holds.

use crate::model::document::Action;
use crate::model::operation::Operation;
use crate::model::setting::{Setting, Ticket};
use crate::model::table::{LegId, TicketId, UnitId, UplinkId};

/// An operation with names.
#[must_use]
pub fn named(setting: &Setting, operation: Operation) -> Action {
    let unit = |unit: UnitId| setting.units[unit].key.clone();
    let at = |port| (unit(setting.unit_of(port)), setting.ports[port].name.clone());
    let pair = |pair: UplinkId| setting.uplinks[pair].name.clone();
    let leg = |leg: LegId| (pair(setting.legs[leg].uplink), setting.legs[leg].name.clone());
    match operation {
        Operation::PowerOn(id) => Action::PowerOn { unit: unit(id) },
        Operation::PowerOff(id) => Action::PowerOff { unit: unit(id) },
        Operation::Restart(id) => Action::Restart { unit: unit(id) },
        Operation::Wipe(id) => Action::Wipe { unit: unit(id) },
        Operation::AssignId(on, id) => Action::AssignId { unit: unit(on), id },
        Operation::SetPriority(on, priority) => Action::SetPriority { unit: unit(on), priority },
        Operation::DisablePort(port) => {
            let (unit, port) = at(port);
            Action::DisablePort { unit, port }
        }
        Operation::EnablePort(port) => {
            let (unit, port) = at(port);
            Action::EnablePort { unit, port }
        }
        Operation::BindPort(port, side) => {
            let (unit, port) = at(port);
            Action::BindPort { unit, port, side }
        }
        Operation::ReleasePort(port) => {
            let (unit, port) = at(port);
            Action::ReleasePort { unit, port }
        }
        Operation::Activate(id) => Action::Activate { unit: unit(id) },
        Operation::Save(id) => Action::Save { unit: unit(id) },
        Operation::HandOver(id) => Action::HandOver { unit: unit(id) },
        Operation::SetMode(id, mode) => Action::SetMode { unit: unit(id), mode },
        Operation::SetKey(id, key, value) => set_key(setting, unit(id), key, value),
        Operation::Admit(of, ticket) => told(setting, unit(of), ticket, true),
        Operation::Forget(of, ticket) => told(setting, unit(of), ticket, false),
        Operation::Connect(cable) => Action::ConnectCable { ends: setting.cable_names(cable) },
        Operation::Disconnect(cable) => Action::DisconnectCable { ends: setting.cable_names(cable) },
        Operation::FormUplink(id, legs) => Action::FormUplink {
            uplink: pair(id),
            legs: legs.iter().map(|leg| setting.legs[leg].name.clone()).collect(),
        },
        Operation::DropUplink(id) => Action::DropUplink { uplink: pair(id) },
        Operation::AddLeg(id) => {
            let (uplink, leg) = leg(id);
            Action::AddLeg { uplink, leg }
        }
        Operation::DropLeg(id) => {
            let (uplink, leg) = leg(id);
            Action::DropLeg { uplink, leg }
        }
        Operation::GuardSplit(id) => Action::GuardSplit { uplink: pair(id) },
        Operation::UnguardSplit(id) => Action::UnguardSplit { uplink: pair(id) },
    }
}

fn set_key(setting: &Setting, unit: String, key: u8, value: u8) -> Action {
    let name = setting.traits.join_keys.get(usize::from(key)).map(|key| key.name.clone());
    let values = setting.keys.get(usize::from(key));
    let value = values.zip(usize::from(value).checked_sub(1)).and_then(|(values, at)| values.get(at));
    Action::SetKey { unit, key: name.unwrap_or_default(), value: value.cloned().unwrap_or_default() }
}

fn told(setting: &Setting, unit: String, ticket: TicketId, comes: bool) -> Action {
    let (id, serial) = match &setting.tickets[ticket] {
        Ticket::Id(id) => (Some(*id), None),
        Ticket::Serial(serial) => (None, Some(serial.clone())),
    };
    if comes { Action::Admit { unit, id, serial } } else { Action::Forget { unit, id, serial } }
}
