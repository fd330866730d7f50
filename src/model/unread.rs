//! Links that come up over a cable whose far end nobody has read.

use super::derive::{Link, link};
use super::operation::{Operation, by_hands, restarts};
use super::progress::{Done, Situation};
use super::setting::Setting;
use super::state::State;
use super::table::CableId;
use super::traits::{BindingEffect, SeenOn};

/// A cable over which a step makes a link although its far end could have been read since it was
/// plugged, and was not. A typed step must not make a link at all before that, where neighbours
/// show on unmatched links.
#[must_use]
pub fn up_unread(setting: &Setting, before: &Situation, operation: Operation, done: &Done) -> Option<CableId> {
    let fixed = setting.traits.binding.takes_effect == BindingEffect::Fixed;
    let typed = !by_hands(operation) && !restarts(setting, operation);
    let demanded = typed && !fixed && setting.traits.neighbours.seen_on.contains(&SeenOn::Unmatched);
    let is_up = |state: &State, cable: CableId| link(setting, state, cable) == Link::Stack;
    let comes_up = |cable: &CableId| {
        let passes = done.events.passing.iter().any(|moment| is_up(&moment.state, *cable));
        !is_up(&before.state, *cable) && (passes || is_up(&done.after.state, *cable))
    };
    let memory = &before.memory;
    memory.unread.iter().filter(|cable| demanded || memory.readable.contains(*cable)).find(comes_up)
}
