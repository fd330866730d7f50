//! A plan as it stands in its file -> [`Rehearsed`]: replayed from nothing but that file.

use crate::model::document::{PlanDocument, StateDocument};

/// A plan whose every claim was recomputed and whose every rule holds.
#[derive(Clone, Debug)]
pub struct Rehearsed {
    plan: PlanDocument,
    states: Vec<StateDocument>,
}

impl Rehearsed {
    /// The plan, with places, minutes, predictions, stop points and cost filled in.
    #[must_use]
    pub fn plan(&self) -> &PlanDocument {
        &self.plan
    }

    /// The state before each step, and after the last: one more than there are steps.
    #[must_use]
    pub fn states(&self) -> &[StateDocument] {
        &self.states
    }
}

#[cfg(test)]
impl Rehearsed {
    /// A plan and its states as a test says; nothing is recomputed.
    #[must_use]
    pub(crate) fn for_test(plan: PlanDocument, states: Vec<StateDocument>) -> Self {
        Self { plan, states }
    }
}
