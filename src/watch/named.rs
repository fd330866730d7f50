//! An operation of indices -> the action that a plan's document holds.

use crate::model::document::Action;
use crate::model::operation::Operation;
use crate::model::setting::Setting;
use crate::model::table::{LegId, UnitId, UplinkId};

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
