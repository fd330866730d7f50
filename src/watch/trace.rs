//! A bare [`Route`] -> every operation with the situation before and after it, as if all that can be looked at
//! had been looked at.

use crate::model::operation::Operation;
use crate::model::progress::{Situation, neighbour_shows};
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};
use crate::plan::Route;

/// One operation of a route, where it stands.
#[derive(Clone, Copy, Debug)]
pub struct Traced {
    /// What is done.
    pub operation: Operation,
    /// The newcomer whose staging it belongs to.
    pub stages: Option<UnitId>,
    /// The situation before it.
    pub before: Situation,
    /// The situation after it.
    pub after: Situation,
    /// Units that came into the stack in it.
    pub joined: UnitSet,
}

/// Replays a route. What the planner found cannot be refused; should it be, the trace ends there.
#[must_use]
pub fn trace(setting: &Setting, route: &Route) -> Vec<Traced> {
    let staged = route.stages.iter().flat_map(|(unit, operations)| {
        operations.iter().enumerate().map(|(at, one)| (Some(*unit), *one, at + 1 == operations.len()))
    });
    let changed = route.steps.iter().map(|operation| (None, *operation, false));
    let mut situation = Situation::start(setting);
    let mut traced = Vec::new();
    for (stages, operation, last) in staged.chain(changed) {
        let before = situation;
        let Ok(done) = before.step(setting, operation) else { break };
        let mut after = done.after;
        if last && setting.founder().is_some() && setting.founder() == stages {
            after.found_stack(setting);
        }
        situation = looked(setting, after);
        traced.push(Traced { operation, stages, before, after: situation, joined: done.joined });
    }
    traced
}

/// Everything that can be looked at now has been looked at.
#[must_use]
pub fn looked(setting: &Setting, mut situation: Situation) -> Situation {
    for unit in situation.memory.unready.iter() {
        situation.found_ready(unit);
    }
    for leg in situation.memory.unproven.iter() {
        if situation.carries(setting, leg) {
            situation.found_carrying(leg);
        }
    }
    for cable in situation.memory.unread.iter() {
        if neighbour_shows(setting, &situation.state, cable) {
            situation.found_neighbour(cable);
        }
    }
    situation
}
