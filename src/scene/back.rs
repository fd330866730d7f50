//! The ways back of a plan, after one step -> one list from there to the baseline.

use crate::model::document::{Action, PlanDocument, Until, WayBack, WayBackStep};
use crate::model::names::Minutes;
use crate::model::traits::Traits;

/// The whole way back from one step.
#[derive(Clone, Debug, PartialEq)]
pub struct Back<'a> {
    /// Its steps in order.
    pub steps: Vec<&'a WayBackStep>,
    /// Likely minutes.
    pub minutes: Minutes,
    /// Whether it ends at the baseline: a plan's file may say otherwise.
    pub whole: bool,
}

/// The way back after a step; none if the plan has none for it.
#[must_use]
pub fn back(plan: &PlanDocument, after: u32) -> Option<Back<'_>> {
    let ways = plan.ways_back.as_deref()?;
    let serving = |step: u32| ways.iter().find(|way| (way.after[0]..=way.after[1]).contains(&step));
    let mut way: Option<&WayBack> = Some(serving(after)?);
    let mut steps = Vec::new();
    let mut left = ways.len();
    let mut whole = true;
    while let Some(here) = way {
        steps.extend(&here.steps);
        way = here.then.and_then(serving);
        // a way back that leads to itself, or to none, never ends at the baseline
        left = left.saturating_sub(1);
        if (here.then.is_some() && way.is_none()) || (left == 0 && way.is_some()) {
            (whole, way) = (false, None);
        }
    }
    let said = plan.steps.iter().find(|step| step.number == after).and_then(|step| step.stop_here.as_ref());
    let summed = || steps.iter().map(|step| likely(&plan.traits, &step.action)).sum();
    let minutes = said.and_then(|stop| stop.way_back_minutes).unwrap_or_else(summed);
    Some(Back { steps, minutes, whole })
}

/// Likely minutes of one action, restarts that it brings about by itself not counted.
#[must_use]
pub fn likely(traits: &Traits, action: &Action) -> Minutes {
    let minutes = &traits.minutes;
    match action {
        Action::PowerOn { .. } => minutes.power.likely + minutes.restart.likely,
        Action::PowerOff { .. } => minutes.power.likely,
        Action::Restart { .. } => minutes.restart.likely,
        Action::Wipe { .. } => minutes.command.likely + minutes.restart.likely,
        Action::ConnectCable { .. } | Action::DisconnectCable { .. } => minutes.cable.likely,
        Action::Save { .. } => minutes.save.likely,
        Action::Activate { .. } => minutes.activate.likely,
        Action::Await { until: Until::Ready, .. } => minutes.sync.likely,
        Action::Await { .. } | Action::Expect { .. } => minutes.check.likely,
        Action::AssignId { .. }
        | Action::HandOver { .. }
        | Action::SetMode { .. }
        | Action::SetKey { .. }
        | Action::Admit { .. }
        | Action::Forget { .. }
        | Action::SetPriority { .. }
        | Action::DisablePort { .. }
        | Action::EnablePort { .. }
        | Action::BindPort { .. }
        | Action::ReleasePort { .. }
        | Action::FormUplink { .. }
        | Action::DropUplink { .. }
        | Action::AddLeg { .. }
        | Action::DropLeg { .. }
        | Action::GuardSplit { .. }
        | Action::UnguardSplit { .. } => minutes.command.likely,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = include_str!("../../tests/cases/line/fine.stop-way-back/plan.json");

    fn plan() -> PlanDocument {
        serde_json::from_str(PLAN).unwrap()
    }

    #[test]
    fn a_way_back_goes_on_with_another_up_to_the_baseline() {
        let plan = plan();
        let (early, late) = (back(&plan, 6).unwrap(), back(&plan, 8).unwrap());
        assert_eq!((early.steps.len(), late.steps.len()), (4, 5));
        assert_eq!(late.steps[1..], early.steps[..]);
        assert!(early.whole && late.whole);
        assert_eq!(late.minutes, early.minutes + plan.traits.minutes.cable.likely);
        assert_eq!(back(&plan, 1).unwrap().steps.len(), 0);
    }

    #[test]
    fn a_way_back_that_leads_nowhere_ends_and_says_so() {
        let mut circle = plan();
        for way in circle.ways_back.iter_mut().flatten() {
            way.then = Some(6);
        }
        assert!(!back(&circle, 8).unwrap().whole);
        let mut torn = plan();
        torn.ways_back.iter_mut().flatten().for_each(|way| way.then = way.then.map(|_| 99));
        assert!(!back(&torn, 8).unwrap().whole);
        assert_eq!(back(&torn, 99), None);
    }
}
