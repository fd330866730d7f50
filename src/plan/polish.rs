//! Of orders that cost the same, the one that people can check.
//!
//! An id that waits for a restart hides whether the rest was saved: what is saved differs from what runs in any case.
//! So an id that waits for a restart is given after the save of what was set together with it, the common settings
//! among them. On the way only settings are passed, so that it costs the same unless one of them opens a ring; on a way
//! back, whose cost nobody promises to be the least, anything may be.

use crate::model::operation::Operation;
use crate::model::setting::Setting;
use crate::model::table::UnitId;
use crate::model::traits::{IdEffect, SaveScope};

use super::consents::is_lawful;
use super::{Route, setting_of};

/// The same operations; each id after the save that follows it, if something else of its unit's is saved by that and
/// every rule holds all the same. `back`: on a way back.
#[must_use]
pub(super) fn polished(setting: &Setting, mut route: Route, back: bool) -> Route {
    if setting.traits.member_id.takes_effect != IdEffect::AfterRestart {
        return route;
    }
    for at in (0..route.steps.len()).rev() {
        let Some(save) = save_after(setting, &route.steps, at, back) else { continue };
        let mut other = route.clone();
        if let Some(moved) = other.steps.get_mut(at..=save) {
            moved.rotate_left(1);
        }
        if is_lawful(&setting_of(setting, &other), &other) {
            route = other;
        }
    }
    route
}

/// Where an id is given, and something else of that unit's is saved next: that save.
fn save_after(setting: &Setting, steps: &[Operation], at: usize, back: bool) -> Option<usize> {
    let Some(Operation::AssignId(unit, _)) = steps.get(at) else { return None };
    let saves = |operation: &Operation| match operation {
        Operation::Save(saved) => setting.traits.save.scope == SaveScope::Stack || saved == unit,
        _ => false,
    };
    let save = at + 1 + steps.get(at + 1..)?.iter().position(&saves)?;
    let before = steps.get(..at)?.iter().rev().take_while(|operation| !saves(operation));
    let waits = |operation: &Operation| {
        let id = matches!(operation, Operation::AssignId(..));
        !id && set_on(setting, *operation) == Some(*unit) || is_common(*operation)
    };
    let near = || steps.get(at..save).is_some_and(|all| all.iter().all(|one| set_on(setting, *one).is_some()));
    let hidden = before.chain(steps.get(at..save)?).any(waits);
    (hidden && (back || near())).then_some(save)
}

/// Whether an operation is a change of the common settings.
const fn is_common(operation: Operation) -> bool {
    matches!(
        operation,
        Operation::FormUplink(..)
            | Operation::DropUplink(_)
            | Operation::AddLeg(_)
            | Operation::DropLeg(_)
            | Operation::GuardSplit(_)
            | Operation::UnguardSplit(_)
    )
}

/// The unit that a setting is typed for: an id, a priority, a port.
fn set_on(setting: &Setting, operation: Operation) -> Option<UnitId> {
    match operation {
        Operation::AssignId(unit, _) | Operation::SetPriority(unit, _) => Some(unit),
        Operation::BindPort(port, _)
        | Operation::ReleasePort(port)
        | Operation::EnablePort(port)
        | Operation::DisablePort(port) => Some(setting.unit_of(port)),
        _ => None,
    }
}
