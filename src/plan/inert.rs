//! Operations that cannot break a rule: the search does them without replaying the stack.

use crate::model::document::Side;
use crate::model::needs::needs;
use crate::model::operation::{Circumstance, Operation};
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
    // what a port's setting needs has nothing to do with who is in the stack
    let possible = || needs(setting, &before.state, Circumstance::default(), operation).is_ok();
    (!plugged && simple && possible()).then_some(port)
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
