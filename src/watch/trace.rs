//! A bare [`Route`] -> every operation with the situation before and after it, as if all that can be looked at
//! had been looked at.

use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};
use crate::plan::Route;

/// One operation of a route, where it stands.
#[derive(Clone, Debug)]
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
        let before = situation.clone();
        let Ok(done) = before.step(setting, operation) else { break };
        let mut after = done.after;
        if last && setting.founder().is_some() && setting.founder() == stages {
            after.found_stack(setting);
        }
        situation = after.looked(setting);
        traced.push(Traced { operation, stages, before, after: situation.clone(), joined: done.joined });
    }
    traced
}
