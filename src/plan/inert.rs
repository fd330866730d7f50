//! Operations that cannot break a rule: the search does them without replaying the stack.

use crate::model::document::Side;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::state::Port;
use crate::model::table::PortId;
use crate::model::traits::{BindingEffect, StoredWhen};

/// The port of an operation that changes nothing but a running setting of a port in which no cable
/// is plugged: it can light nothing, link nothing and is no part of what outlives a restart, so
/// every rule holds after it that held before.
#[must_use]
pub fn inert(setting: &Setting, before: &Situation, operation: Operation) -> Option<PortId> {
    let port = match operation {
        Operation::DisablePort(port) | Operation::EnablePort(port) => port,
        Operation::BindPort(port, _) | Operation::ReleasePort(port)
            if setting.traits.stored.binding == StoredWhen::WithSave =>
        {
            port
        }
        _ => return None,
    };
    let plugged = setting.ports[port].cables.iter().any(|cable| before.state.plugged.contains(*cable));
    let free = !setting.ports[port].legs.meets(before.state.running.legs);
    let room = setting.traits.binding.takes_effect != BindingEffect::AtOnce;
    let simple = matches!(operation, Operation::DisablePort(_) | Operation::EnablePort(_)) || room && free;
    (!plugged && simple && before.state.units[setting.unit_of(port)].powered && allowed(setting, before, operation))
        .then_some(port)
}

/// What binding and releasing need, for an inert port.
fn allowed(setting: &Setting, before: &Situation, operation: Operation) -> bool {
    let closed = |port: PortId| !setting.traits.binding.port_disabled || !before.state.ports[port].enabled();
    match operation {
        Operation::BindPort(port, side) => {
            let full = setting.units[setting.unit_of(port)]
                .ports
                .iter()
                .filter(|other| before.state.ports[**other].side() == side)
                .count();
            before.state.ports[port].side() == Side::None
                && closed(port)
                && full < usize::from(setting.traits.sides.max_cables)
        }
        Operation::ReleasePort(port) => before.state.ports[port].side() != Side::None && closed(port),
        _ => true,
    }
}

/// A port after an inert operation.
#[must_use]
pub fn typed(port: Port, operation: Operation) -> Port {
    match operation {
        Operation::DisablePort(_) => port.with_enabled(false),
        Operation::EnablePort(_) => port.with_enabled(true),
        Operation::BindPort(_, side) => port.with_side(side, false),
        Operation::ReleasePort(_) => port.with_side(Side::None, false),
        _ => port,
    }
}
