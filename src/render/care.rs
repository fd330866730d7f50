//! The slips that could hurt -> for each step, what deserves care there and why.

use super::context::CareView;
use crate::model::document::{PlanDocument, SlipSteps};

/// What deserves care at a step, slips of one kind and consequence together.
pub(super) fn care(plan: &PlanDocument, number: u32) -> Vec<CareView> {
    let mut views: Vec<CareView> = Vec::new();
    for slip in plan.slips.iter().flat_map(|slips| &slips.dangerous) {
        let first = match slip.step {
            SlipSteps::One(step) => step,
            SlipSteps::Two([first, _]) => first,
        };
        if first != number {
            continue;
        }
        let harm = harm(&slip.rule).to_owned();
        match views.iter_mut().find(|view| view.slip == slip.slip && view.harm == harm) {
            Some(view) => view.with.extend(slip.with.clone()),
            None => views.push(CareView { slip: slip.slip.clone(), with: slip.with.iter().cloned().collect(), harm }),
        }
    }
    views
}

/// What a broken rule means for somebody, as a clause.
fn harm(rule: &str) -> &'static str {
    match rule {
        "primary-kept" => "another unit would lead the stack",
        "no-live-restart" => "a unit in service would go down",
        "never-split" => "units in service would be cut off",
        "no-id-clash" => "two units would meet under one id, at once or after a power failure",
        "no-stray-link" => "two boxes would be bridged as plain Ethernet",
        "uplinks-up" => "an uplink pair would have no leg left that carries",
        "one-brain" => "a second stack with the same addresses would come up",
        "decided" => "nothing would decide who leads",
        "cold-start" => "a power failure would not bring the same stack back",
        "settled" => "a unit that has just joined would be disturbed before it is ready",
        "loses-merge" => "the new unit could win against the stack",
        _ => "the stack would not end as it shall, and no look would show it",
    }
}
