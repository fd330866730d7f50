//! A step -> where people can be hurt in it, or hurt the equipment or the service.

use std::collections::BTreeSet;

use super::context::{CautionView, OperationView};
use super::error::RenderError;
use super::names::Names;
use crate::model::document::{Action, PlanDocument, StateDocument, Status, StepEntry};
use crate::model::traits::Mode;
use crate::platform::Platform;

/// Goes through the steps in their order.
pub(super) struct Watch<'p> {
    plan: &'p PlanDocument,
    /// Units that were switched on.
    racked: BTreeSet<&'p str>,
}

impl<'p> Watch<'p> {
    pub(super) const fn new(plan: &'p PlanDocument) -> Self {
        Self { plan, racked: BTreeSet::new() }
    }

    /// What is to be said of the next step; `state` is before it.
    ///
    /// # Errors
    /// A step that names what the plan does not have.
    pub(super) fn cautions(
        &mut self,
        platform: &Platform,
        names: &Names,
        step: &'p StepEntry,
        state: &StateDocument,
        operation: &OperationView,
    ) -> Result<Vec<CautionView>, RenderError> {
        let mut cautions = Vec::new();
        match &step.action {
            Action::PowerOn { unit } => {
                let status = names.entry(unit)?.status;
                if status != Status::Live && self.racked.insert(unit) {
                    cautions.extend(carried(platform, names, unit)?);
                    if status == Status::Joining {
                        cautions.push(CautionView::ZeroTouch { unit: unit.clone() });
                    }
                }
                cautions.push(CautionView::Mains);
            }
            Action::PowerOff { unit } => {
                cautions.push(CautionView::WrongUnit { unit: unit.clone() });
                cautions.push(CautionView::Mains);
            }
            Action::ConnectCable { .. } | Action::DisconnectCable { .. } => {
                let (OperationView::ConnectCable { cable, .. } | OperationView::DisconnectCable { cable, .. }) =
                    operation
                else {
                    return Ok(cautions);
                };
                let medium = cable.as_ref().and_then(|cable| cable.medium.as_deref());
                if medium.is_none_or(may_carry_light) {
                    cautions.push(CautionView::Laser);
                }
                cautions.push(CautionView::Static);
            }
            _ => {}
        }
        let down = self.going_down(step).into_iter().filter(|unit| in_service(self.plan, state, unit));
        cautions.extend(down.map(|unit| CautionView::PoweredDevices { unit: unit.to_owned() }));
        for unit in self.gone(step) {
            cautions.extend(carried(platform, names, unit)?);
            cautions.push(CautionView::Unwiped { unit: unit.to_owned() });
        }
        Ok(cautions)
    }

    /// The units that a step takes down, by hand or by themselves.
    fn going_down(&self, step: &'p StepEntry) -> Vec<&'p str> {
        let by_hand = match &step.action {
            Action::Restart { unit } | Action::PowerOff { unit } | Action::Wipe { unit } => Some(unit.as_str()),
            _ => None,
        };
        let by_themselves = step.predicts.iter().flat_map(|after| &after.restarts).map(String::as_str);
        let mut units: Vec<&str> = by_hand.into_iter().chain(by_themselves).collect();
        units.dedup();
        units
    }

    /// The units that are gone for good after a step: those that stay off from then on, and of those that are off all
    /// the time, the ones that lose their last cable.
    fn gone(&self, step: &'p StepEntry) -> Vec<&'p str> {
        let after = || self.plan.steps.iter().filter(|other| other.number > step.number);
        let comes_back =
            |unit: &str| after().any(|step| matches!(&step.action, Action::PowerOn { unit: on } if on == unit));
        let switched = |unit: &str| {
            let turned = |action: &Action| matches!(action, Action::PowerOn { unit: one } | Action::PowerOff { unit: one } if one == unit);
            self.plan.steps.iter().any(|step| turned(&step.action))
        };
        let unplugs = |step: &StepEntry, key: &str| match &step.action {
            Action::DisconnectCable { ends } => {
                ends.iter().any(|end| end.split_once(':').is_some_and(|(unit, _)| unit == key))
            }
            _ => false,
        };
        let leaves = |unit: &crate::model::document::UnitEntry| match &step.action {
            Action::PowerOff { unit: off } => *off == unit.key && unit.status != Status::Live && !comes_back(off),
            Action::DisconnectCable { .. } => {
                unit.status == Status::Leaving
                    && unplugs(step, &unit.key)
                    && !switched(&unit.key)
                    && !after().any(|later| unplugs(later, &unit.key))
            }
            _ => false,
        };
        self.plan.units.iter().filter(|unit| leaves(unit)).map(|unit| unit.key.as_str()).collect()
    }
}

/// A unit that is carried into the rack or out of it.
fn carried(platform: &Platform, names: &Names, key: &str) -> Result<[CautionView; 2], RenderError> {
    let unit = key.to_owned();
    let weight_kg = weight(platform, names, key)?;
    Ok([CautionView::Lifting { unit: unit.clone(), weight_kg }, CautionView::Earthing { unit }])
}

/// Whether a unit serves anybody: it runs, and was in the stack before the change or has joined it.
fn in_service(plan: &PlanDocument, state: &StateDocument, key: &str) -> bool {
    let joining = plan.units.iter().any(|unit| unit.key == key && unit.status == Status::Joining);
    // before it joins, a new unit leads itself or stands alone
    state.units.get(key).is_some_and(|unit| {
        let member = unit.running.as_ref().is_some_and(|running| running.mode == Mode::Stack) && !unit.primary;
        unit.powered && (!joining || member)
    })
}

/// A unit's weight in kilograms, where the catalogue knows it.
pub(super) fn weight(platform: &Platform, names: &Names, key: &str) -> Result<Option<String>, RenderError> {
    let model = names.entry(key)?.model.as_ref().and_then(|model| platform.models.get(model));
    Ok(model.and_then(|model| model.weight_kg).map(|weight| weight.to_string()))
}

/// A cable of an unknown medium is taken for fibre.
fn may_carry_light(medium: &str) -> bool {
    let medium = medium.to_lowercase();
    !["direct-attach", "copper", "twisted"].iter().any(|copper| medium.contains(copper))
}
