//! Minutes and cost of a whole plan, from the ledger and the minutes of each step.

use std::collections::BTreeMap;

use crate::model::cost::{Ledger, is_ring};
use crate::model::document::{CostEntry, Phase};
use crate::model::names::Minutes;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};

/// Minutes of the steps as they add up: stages side by side, the rest in a row.
#[derive(Clone, Debug, Default)]
pub struct Clock {
    stages: BTreeMap<Option<UnitId>, (Minutes, Minutes)>,
    rest: (Minutes, Minutes),
}

impl Clock {
    /// Enters a step: likely and worst minutes, and the unit that it stages.
    pub fn enter(&mut self, phase: Phase, unit: Option<UnitId>, likely: Minutes, worst: Minutes) {
        let sum = match phase {
            Phase::Stage => self.stages.entry(unit).or_default(),
            Phase::Cable | Phase::Join | Phase::Settle | Phase::Close => &mut self.rest,
        };
        sum.0 += likely;
        sum.1 += worst;
    }

    /// Likely and worst minutes in all: the longest stage and everything after it.
    #[must_use]
    pub fn total(&self) -> (Minutes, Minutes) {
        let likely = self.stages.values().map(|sum| sum.0).max().unwrap_or_default();
        let worst = self.stages.values().map(|sum| sum.1).max().unwrap_or_default();
        (self.rest.0 + likely, self.rest.1 + worst)
    }
}

/// The cost of a plan.
#[must_use]
pub fn cost(setting: &Setting, ledger: &Ledger, clock: &Clock, live_before: UnitSet) -> CostEntry {
    let stay: UnitSet = setting.units.ids().filter(|unit| setting.stays(*unit)).collect();
    let rings = (is_ring(setting, &setting.baseline, live_before), is_ring(setting, &setting.target, stay));
    let (likely, worst) = clock.total();
    CostEntry {
        member_minutes: ledger.member_minutes,
        unprotected_minutes: if rings == (true, true) { ledger.unprotected } else { Minutes::ZERO },
        cables: ledger.cables,
        links_not_typed: ledger.links_not_typed,
        steps: ledger.steps,
        half_protected_minutes: if rings.0 != rings.1 { ledger.unprotected } else { Minutes::ZERO },
        likely_minutes: likely,
        worst_minutes: worst,
    }
}
