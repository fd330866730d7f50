//! A plan -> what it asks of the stack in service: who restarts, who leads, which cable is only lent.

use std::collections::BTreeSet;

use crate::model::document::{Action, PlanDocument, Prediction, Status};

/// Units of the baseline that stay, and yet restart or are switched off, in that order.
#[must_use]
pub fn live_restarts(plan: &PlanDocument) -> Vec<String> {
    let mut down: Vec<String> = Vec::new();
    for step in &plan.steps {
        let by_itself = step.predicts.iter().flat_map(|after| &after.restarts);
        let by_hand = match &step.action {
            Action::Restart { unit } | Action::PowerOff { unit } | Action::Wipe { unit } => Some(unit),
            _ => None,
        };
        for key in by_itself.chain(by_hand) {
            if is_live(plan, key) && !down.contains(key) {
                down.push(key.clone());
            }
        }
    }
    down
}

fn is_live(plan: &PlanDocument, key: &str) -> bool {
    plan.units.iter().any(|unit| unit.key == key && unit.status == Status::Live)
}

/// Who leads the running stack, one after the other, the baseline's primary first; empty for a new stack.
#[must_use]
pub fn leaders(plan: &PlanDocument) -> Vec<String> {
    let led = |(key, unit): (&String, &crate::model::document::UnitState)| {
        let counts = plan.units.iter().any(|entry| entry.key == *key && entry.status != Status::Joining);
        (unit.primary && counts).then(|| key.clone())
    };
    let mut leaders: Vec<String> = plan.baseline.units.iter().find_map(led).into_iter().collect();
    if leaders.is_empty() {
        return leaders;
    }
    for after in plan.steps.iter().filter_map(|step| step.predicts.as_ref()) {
        if let Some(leader) = leader(plan, after, leaders.last().map(String::as_str))
            && leaders.last() != Some(&leader)
        {
            leaders.push(leader);
        }
    }
    leaders
}

/// The primary of the island with most live units; of several, of the one that led before.
fn leader(plan: &PlanDocument, after: &Prediction, before: Option<&str>) -> Option<String> {
    let rank = |(key, units): &(&String, &Vec<String>)| {
        let live = units.iter().filter(|unit| is_live(plan, unit)).count();
        (live, Some(key.as_str()) == before)
    };
    let best = after.primary.iter().max_by_key(rank).filter(|island| rank(island).0 > 0);
    best.map(|(key, _)| key.clone())
}

/// Cables that are in neither state and that the plan plugs for a while, each by its sorted ends.
#[must_use]
pub fn spare_cables(plan: &PlanDocument) -> Vec<[String; 2]> {
    let sorted = |ends: &[String; 2]| {
        let [one, other] = ends.clone();
        if one <= other { [one, other] } else { [other, one] }
    };
    let known: BTreeSet<[String; 2]> = plan.baseline.cables.iter().chain(&plan.target.cables).map(sorted).collect();
    let mut spare: Vec<[String; 2]> = Vec::new();
    for step in &plan.steps {
        if let Action::ConnectCable { ends } = &step.action
            && !known.contains(&sorted(ends))
            && !spare.contains(&sorted(ends))
        {
            spare.push(sorted(ends));
        }
    }
    spare
}
