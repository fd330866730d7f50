//! An operation and what it did to a state -> whether the islands can be others now.
//!
//! Most of what is typed changes no link. Where that is plain, islands are not cut anew.

use super::operation::Operation;
use super::setting::{CableRow, Setting};
use super::state::State;
use super::table::PortId;

/// Whether an operation surely changed no island: it is about no link, or about a port without a cable to a unit.
#[must_use]
pub(super) fn keeps_islands(setting: &Setting, before: &State, now: &State, operation: Operation) -> bool {
    let cabled = |port: PortId| {
        let mut cables = setting.ports[port].cables.iter();
        cables.any(|cable| now.plugged.contains(*cable) && matches!(setting.cables[*cable], CableRow::Units(..)))
    };
    match operation {
        Operation::SetPriority(..)
        | Operation::SetMode(..)
        | Operation::Save(_)
        | Operation::FormUplink(..)
        | Operation::DropUplink(_)
        | Operation::AddLeg(_)
        | Operation::DropLeg(_)
        | Operation::GuardSplit(_)
        | Operation::UnguardSplit(_) => true,
        Operation::DisablePort(port)
        | Operation::EnablePort(port)
        | Operation::BindPort(port, _)
        | Operation::ReleasePort(port) => {
            let (old, new) = (before.ports[port], now.ports[port]);
            (old.enabled(), old.active()) == (new.enabled(), new.active()) || !cabled(port)
        }
        _ => false,
    }
}
