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
        let Some(save) = save_after(&route.steps, at) else { continue };
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

/// Where an id is given, and then another setting of that unit: the save right after those.
fn save_after(steps: &[Operation], at: usize) -> Option<usize> {
    let Some(Operation::AssignId(unit, _)) = steps.get(at) else { return None };
    let between = |operation: &&Operation| matches!(operation, Operation::SetPriority(..) | Operation::AssignId(..));
    let following = steps.get(at + 1..)?;
    let settings: Vec<&Operation> = following.iter().take_while(between).collect();
    let hidden = settings.iter().any(|operation| matches!(operation, Operation::SetPriority(of, _) if of == unit));
    let save = at + 1 + settings.len();
    (hidden && matches!(steps.get(save), Some(Operation::Save(_)))).then_some(save)
}
