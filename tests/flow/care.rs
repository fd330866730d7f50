//! What a plan does against operator errors: no step that is left out, and no run of steps at another place, may do
//! harm; no look is there for nothing; every step has its way back.

use ringwright::model::document::{Action, Fact, PlanDocument};
use ringwright::rehearse;

use super::outcome::Failure;

/// The looks that every plan must have, by the codes of their reasons.
const DEMANDED: [&str; 4] = ["fresh-baseline", "factory-unit", "right-place", "right-cable"];

/// Whether nothing that is left out, and nothing that is done elsewhere, does harm unseen.
pub fn careful(document: &PlanDocument) -> Result<(), Failure> {
    let Some(slips) = &document.slips else { return Err(Failure::new("no slip was tried", "")) };
    let kinds = ["leave-out", "misplace"];
    let asks = document.steps.iter().any(|step| match &step.action {
        Action::Expect { facts, .. } => facts.iter().any(|fact| matches!(fact, Fact::Ask { .. })),
        _ => false,
    });
    match slips.dangerous.iter().find(|slip| kinds.contains(&slip.slip.as_str()) && !(asks && slip.slip == "misplace"))
    {
        Some(slip) => Err(Failure::new(format!("a dangerous {}: {}", slip.slip, slip.rule), format!("{slip:?}"))),
        None => Ok(()),
    }
}

/// Whether the same holds on every way back.
pub fn careful_back(document: &PlanDocument) -> Result<(), Failure> {
    let (ways, slips) = (document.ways_back.iter().flatten(), document.ways_back_slips.iter().flatten());
    for (way, slips) in ways.zip(slips) {
        let careless = slips.dangerous.iter().find(|slip| ["leave-out", "misplace"].contains(&slip.slip.as_str()));
        if let Some(slip) = careless {
            let text = format!("after {:?}: {slip:?}", way.after);
            return Err(Failure::new(format!("on a way back, a dangerous {}: {}", slip.slip, slip.rule), text));
        }
    }
    Ok(())
}

/// Whether every step past the staging has a way back.
pub fn returns(document: &PlanDocument) -> bool {
    !document.warnings.iter().any(|warning| warning.code == "no-way-back")
}

/// Whether each look that nothing demands is needed: without it the plan is refused, or a slip does harm.
pub fn no_idle_look(document: &PlanDocument) -> Result<(), Failure> {
    let before = document.slips.as_ref().map_or(0, |slips| slips.dangerous.len());
    for (position, step) in document.steps.iter().enumerate() {
        let demanded = step.why.as_ref().is_some_and(|why| DEMANDED.contains(&why.code.as_str()));
        if demanded || !matches!(step.action, Action::Expect { .. }) {
            continue;
        }
        let judged = rehearse::judge(&without(document, position));
        let harm = judged.rehearsed.and_then(|plan| plan.plan().slips.as_ref().map(|slips| slips.dangerous.len()));
        if harm.is_some_and(|harm| harm <= before) {
            let text = format!("step {}: {:?}", step.number, step.why);
            return Err(Failure::new("a look is there for nothing", text));
        }
    }
    Ok(())
}

/// The plan without a step, and without all that it says of itself.
fn without(document: &PlanDocument, position: usize) -> PlanDocument {
    let mut plan = document.clone();
    plan.steps.remove(position);
    for (at, step) in plan.steps.iter_mut().enumerate() {
        step.number = at as u32 + 1;
        (step.needs, step.at, step.minutes, step.predicts, step.stop_here) = (None, None, None, None, None);
        step.in_move = None;
    }
    (plan.moves, plan.ways_back, plan.cost, plan.slips) = (None, None, None, None);
    plan
}
