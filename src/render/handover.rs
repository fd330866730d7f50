//! The target -> the stack as it is handed over: what to record, what to put back into use, what to look at tomorrow.

use super::context::{AsBuiltView, HandOverView};
use super::error::RenderError;
use super::ladder::role_in;
use super::names::Names;
use super::operation::role_word;
use crate::model::PortName;
use crate::model::document::{PlanDocument, Role, StateDocument, Status, UnitEntry, UnitState};
use crate::model::names::list;

/// What whoever takes the stack over needs.
///
/// # Errors
/// An interface name that cannot be made.
pub(super) fn hand_over(names: &Names, plan: &PlanDocument) -> Result<HandOverView, RenderError> {
    let stack = || plan.units.iter().filter(|unit| unit.status != Status::Leaving);
    Ok(HandOverView {
        units: stack().map(|unit| as_built(names, plan, unit)).collect(),
        switch_on: switch_on(names, plan)?,
        tomorrow: tomorrow(names, plan)?,
    })
}

fn as_built(names: &Names, plan: &PlanDocument, unit: &UnitEntry) -> AsBuiltView {
    let state = plan.target.units.get(&unit.key);
    let running = state.and_then(|state| state.running.as_ref());
    let text = |value: Option<String>| value.unwrap_or_default();
    AsBuiltView {
        unit: unit.key.clone(),
        member: unit.member.clone(),
        id: running.map_or(unit.id, |running| running.id).to_string(),
        priority: running.map_or(unit.priority, |running| running.priority).to_string(),
        role: role_word(role_in(state, unit)).to_owned(),
        serial: text(unit.serial.clone()),
        model: text(unit.model.clone()),
        rack: text(names.free_text(&unit.key, "rack")),
        height_unit: text(names.free_text(&unit.key, "height_unit")),
        keys: running.map(|running| running.keys.clone()).unwrap_or_default(),
    }
}

/// Ports that were in use before the change, or out of the box, and are not after it; a split guard that is gone.
fn switch_on(names: &Names, plan: &PlanDocument) -> Result<Vec<String>, RenderError> {
    let mut texts = Vec::new();
    for unit in plan.units.iter().filter(|unit| unit.status != Status::Leaving) {
        let (Some(before), Some(after)) = (plan.baseline.units.get(&unit.key), plan.target.units.get(&unit.key)) else {
            continue;
        };
        for (port, now) in after.running.iter().flat_map(|running| &running.ports) {
            if was_enabled(before, port) && !now.enabled {
                let interface = names.port(&plan.target, &unit.key, port)?.interface;
                texts.push(format!("port {port} of {} ({interface}), if it shall carry something again", unit.key));
            }
        }
    }
    if let (Some(pair), None) = (&plan.baseline.shared.running.guard, &plan.target.shared.running.guard) {
        texts.push(format!("the split guard, which was on {pair}, if another pair shall carry it"));
    }
    Ok(texts)
}

fn was_enabled(before: &UnitState, port: &PortName) -> bool {
    let running = before.running.as_ref().and_then(|running| running.ports.get(port)).map(|port| port.enabled);
    let saved = || before.saved.as_ref().and_then(|saved| saved.ports.get(port)).map(|port| port.enabled);
    running.or_else(saved).unwrap_or(false)
}

/// What a night may have changed, and what the change leaves to be done by daylight.
fn tomorrow(names: &Names, plan: &PlanDocument) -> Result<Vec<String>, RenderError> {
    let target = &plan.target;
    let those = |wanted: &dyn Fn(&UnitEntry) -> bool| {
        plan.units.iter().filter(|unit| wanted(unit)).map(|unit| unit.key.as_str()).collect::<Vec<_>>()
    };
    let with = |role: Role| {
        those(&|unit| unit.status != Status::Leaving && role_in(target.units.get(&unit.key), unit) == role)
    };
    let (leads, next) = (with(Role::Primary).join(", "), with(Role::Standby).join(", "));
    let members = those(&|unit| unit.status != Status::Leaving).len();
    let standby = if next.is_empty() { String::new() } else { format!(", {next} is the standby") };
    let all = if members == 1 { "the unit is".to_owned() } else { format!("all {members} units are") };
    let mut texts = vec![format!("{all} there, and none has restarted; {leads} leads{standby}")];
    let new = new_ends(plan);
    if !new.is_empty() {
        texts.push(format!("the error counts of the ports with a new cable have not grown: {}", new.join(", ")));
    }
    for (pair, legs) in &target.shared.running.uplinks {
        texts.push(format!("the uplink pair {pair} carries over {}", list(legs)));
    }
    if let Some(pair) = &target.shared.running.guard {
        texts.push(format!("the split guard is on {pair}"));
    }
    for key in those(&|unit| unit.status == Status::Leaving) {
        texts.push(format!("{key} is wiped, or still locked away, and is struck from the records"));
    }
    texts.extend(renumbered(names, plan)?);
    texts.push("records, monitoring and backups name the units and cables as built".to_owned());
    Ok(texts)
}

/// The unit ends of cables that the target has and the baseline has not.
fn new_ends(plan: &PlanDocument) -> Vec<&str> {
    let had = |cables: &StateDocument, ends: &[String; 2]| {
        cables.cables.iter().any(|known| known == ends || known.iter().rev().eq(ends.iter()))
    };
    let new = plan.target.cables.iter().filter(|ends| !had(&plan.baseline, ends));
    let mut ends: Vec<&str> = new.flatten().map(String::as_str).filter(|end| !end.starts_with("far:")).collect();
    ends.sort_by_key(|end| end.split_once(':').map(|(unit, port)| (unit.to_owned(), PortName::new(port))));
    ends
}

/// Live units whose ports have new names.
fn renumbered(names: &Names, plan: &PlanDocument) -> Result<Vec<String>, RenderError> {
    let mut texts = Vec::new();
    for unit in plan.units.iter().filter(|unit| unit.status == Status::Live) {
        let id = |state: &StateDocument| names.acting(state, &unit.key).map(|unit| unit.id);
        let (before, after) = (id(&plan.baseline)?, id(&plan.target)?);
        if before != after {
            texts.push(format!(
                "what was set on ports of {} under id {before} is set under id {after}: it does not move by itself",
                unit.key
            ));
        }
    }
    Ok(texts)
}
