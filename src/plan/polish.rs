//! Of orders that cost the same, the one that people can check.
//!
//! An id that waits for a restart hides whether the rest was saved: what is saved differs from what runs in any case.
//! So a pending id is given after the save of what was set together with it, where the platform stores it at once.

use crate::model::operation::Operation;
use crate::model::setting::Setting;
use crate::model::traits::StoredWhen;

use super::consents::is_lawful;
use super::{Route, setting_of};

/// The same operations; each id after the save that follows it, if something else of its unit's is saved by that and
/// every rule holds all the same.
#[must_use]
pub(super) fn polished(setting: &Setting, mut route: Route) -> Route {
    if setting.traits.stored.id == StoredWhen::WithSave {
        return route;
    }
    for at in (0..route.steps.len()).rev() {
        let Some(save) = save_after(setting, &route.steps, at) else { continue };
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
fn save_after(setting: &Setting, steps: &[Operation], at: usize) -> Option<usize> {
    let Some(Operation::AssignId(unit, _)) = steps.get(at) else { return None };
    let between = |operation: &&Operation| matches!(operation, Operation::SetPriority(..) | Operation::AssignId(..));
    let following = steps.get(at + 1..)?.iter().take_while(between).count();
    let save = at + 1 + following;
    let before = steps.get(..at)?.iter().rev().take_while(|operation| !matches!(operation, Operation::Save(_)));
    let with_save = |operation: &Operation| match operation {
        Operation::SetPriority(of, _) => of == unit,
        Operation::BindPort(port, _)
        | Operation::ReleasePort(port)
        | Operation::EnablePort(port)
        | Operation::DisablePort(port) => {
            setting.unit_of(*port) == *unit
        }
        _ => false,
    };
    let hidden = before.chain(steps.get(at..save)?).any(with_save);
    (hidden && matches!(steps.get(save), Some(Operation::Save(_)))).then_some(save)
}
