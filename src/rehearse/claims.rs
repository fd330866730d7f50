//! What a plan says of itself, compared with what the replay found.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::document::{CostEntry, Move, Phase, PlanDocument, Role, Slips, Status, StepEntry, StepMinutes};
use crate::model::setting::Setting;
use crate::model::table::UnitId;

use serde::Serialize;
use serde_json::Value;

use super::Objection;

/// A claim that is not so, both sides as the plan's file would write them.
#[must_use]
pub fn lie(step: Option<u32>, pointer: String, what: &str, said: &impl Serialize, found: &impl Serialize) -> Objection {
    // plain data with text keys: it cannot fail
    let written = |value: &Value| serde_json::to_string(value).unwrap_or_default();
    let mut said = serde_json::to_value(said).unwrap_or_default();
    let mut found = serde_json::to_value(found).unwrap_or_default();
    if let (Value::Object(said), Value::Object(found)) = (&mut said, &mut found) {
        // what agrees, and what the plan leaves out, would only hide the difference
        let same: Vec<String> = said
            .iter()
            .filter(|(key, value)| value.is_null() || found.get(*key) == Some(*value))
            .map(|(key, _)| key.clone())
            .collect();
        same.iter().for_each(|key| drop(said.remove(key)));
        found.retain(|key, _| said.contains_key(key));
    }
    let text = format!("{what}: the plan says {}, the replay found {}", written(&said), written(&found));
    Objection { code: "claims", step, pointer, text }
}

/// Compares one step's claims with the filled-in step.
#[must_use]
pub fn step(said: &StepEntry, found: &StepEntry, position: usize) -> Vec<Objection> {
    let mut lies = Vec::new();
    let number = Some(found.number);
    let pointer = |lies_at: &str| format!("/steps/{position}/{lies_at}");
    if said.at.is_some() && said.at != found.at {
        lies.push(lie(number, pointer("at"), "place", &said.at, &found.at));
    }
    if let (Some(said), Some(found)) = (&said.minutes, &found.minutes)
        && !minutes_agree(said, found)
    {
        lies.push(lie(number, pointer("minutes"), "minutes", said, found));
    }
    if let (Some(said), Some(found)) = (&said.predicts, &found.predicts) {
        let sorted = |keys: &[String]| keys.iter().cloned().collect::<BTreeSet<_>>();
        let islands = |all: &[Vec<String>]| all.iter().map(|island| sorted(island)).collect::<BTreeSet<_>>();
        let leads = |all: &BTreeMap<String, Vec<String>>| {
            all.iter().map(|(key, island)| (key.clone(), sorted(island))).collect::<BTreeMap<_, _>>()
        };
        let same = sorted(&said.restarts) == sorted(&found.restarts)
            && islands(&said.islands) == islands(&found.islands)
            && leads(&said.primary) == leads(&found.primary)
            && said.unprotected == found.unprotected;
        if !same {
            lies.push(lie(number, pointer("predicts"), "prediction", said, found));
        }
    }
    if let (Some(said), Some(found)) = (&said.stop_here, &found.stop_here)
        && said.safe != found.safe
    {
        lies.push(lie(number, pointer("stop_here/safe"), "safe to stop", &said.safe, &found.safe));
    }
    lies
}

fn minutes_agree(said: &StepMinutes, found: &StepMinutes) -> bool {
    let pairs = [(said.best, found.best), (said.likely, found.likely), (said.worst, found.worst)];
    pairs.iter().all(|(said, found)| said.is_none() || said == found)
}

/// Compares the cost.
#[must_use]
pub fn cost(said: Option<&CostEntry>, found: &CostEntry) -> Option<Objection> {
    let said = said.filter(|said| *said != found)?;
    Some(lie(None, "/cost".to_owned(), "cost", said, found))
}

/// Compares what slips would do.
#[must_use]
pub fn slips(said: Option<&Slips>, found: &Slips) -> Option<Objection> {
    let said = said.filter(|said| *said != found)?;
    Some(lie(None, "/slips".to_owned(), "slips", said, found))
}

/// Checks what a plan says of slips on its ways back.
#[must_use]
pub fn ways_back_slips(said: Option<&Vec<Slips>>, found: &Vec<Slips>) -> Option<Objection> {
    let said = said.filter(|said| *said != found)?;
    Some(lie(None, "/ways_back_slips".to_owned(), "slips on the ways back", said, found))
}

/// Checks numbers, phases, needs, moves and the table of units, before anything is replayed.
/// `staged`: the unit that a step is about, for steps of phase stage.
#[must_use]
pub fn order(setting: &Setting, document: &PlanDocument, staged: &[Option<UnitId>]) -> Vec<Objection> {
    let mut lies = numbers_and_phases(document);
    for (position, unit) in staged.iter().enumerate() {
        let Some(step) = document.steps.get(position).filter(|step| step.phase == Phase::Stage) else { continue };
        if !unit.is_some_and(|unit| setting.joining.contains(unit)) {
            let text = "phase stage, but the step is on no joining unit".to_owned();
            lies.push(claim(Some(step.number), format!("/steps/{position}/phase"), text));
        }
    }
    lies.extend(needs(document, staged));
    lies.extend(moves(document));
    lies.extend(units(setting, document));
    lies
}

/// A claim that is not so.
pub fn claim(step: Option<u32>, pointer: String, text: String) -> Objection {
    Objection { code: "claims", step, pointer, text }
}

fn numbers_and_phases(document: &PlanDocument) -> Vec<Objection> {
    let mut lies = Vec::new();
    let mut staging = true;
    for (position, step) in document.steps.iter().enumerate() {
        if step.number as usize != position + 1 {
            lies.push(lie(
                Some(step.number),
                format!("/steps/{position}/number"),
                "number",
                &step.number,
                &(position + 1),
            ));
        }
        if step.phase == Phase::Stage && !staging {
            let text = "a stage step after a step of another phase: stage steps stand before all others".to_owned();
            lies.push(claim(Some(step.number), format!("/steps/{position}/phase"), text));
        }
        staging &= step.phase == Phase::Stage;
    }
    lies
}

/// `needs`, with all that follows from it, names every earlier step that may not run side by side:
/// all but stage steps of other units.
fn needs(document: &PlanDocument, staged: &[Option<UnitId>]) -> Vec<Objection> {
    let mut lies = Vec::new();
    let mut closures: Vec<BTreeSet<usize>> = Vec::new();
    for (position, step) in document.steps.iter().enumerate() {
        let pointer = || format!("/steps/{position}/needs");
        let Some(named) = &step.needs else {
            closures.push((0..position).collect());
            continue;
        };
        let mut closure = BTreeSet::new();
        for number in named {
            let earlier = (*number as usize).checked_sub(1).filter(|earlier| *earlier < position);
            let Some(earlier) = earlier else {
                lies.push(claim(
                    Some(step.number),
                    pointer(),
                    format!("needs step {number}, which is not an earlier one"),
                ));
                continue;
            };
            closure.insert(earlier);
            closure.extend(closures.get(earlier).into_iter().flatten().copied());
        }
        let side_by_side = |earlier: usize| {
            let phase = |at: usize| document.steps.get(at).map(|step| step.phase);
            phase(position) == Some(Phase::Stage)
                && phase(earlier) == Some(Phase::Stage)
                && staged.get(earlier) != staged.get(position)
        };
        if let Some(missing) = (0..position).find(|earlier| !closure.contains(earlier) && !side_by_side(*earlier)) {
            lies.push(claim(
                Some(step.number),
                pointer(),
                format!("step {} may not run side by side with it, but is not named", missing + 1),
            ));
        }
        closures.push(closure);
    }
    lies
}

fn moves(document: &PlanDocument) -> Vec<Objection> {
    let Some(moves) = &document.moves else { return Vec::new() };
    let mut lies = Vec::new();
    for (position, Move { number, phase, .. }) in moves.iter().enumerate() {
        if *number as usize != position + 1 {
            lies.push(lie(None, format!("/moves/{position}/number"), "number", number, &(position + 1)));
        }
        match document.steps.iter().find(|step| step.in_move == Some(*number)) {
            Some(first) if first.phase != *phase => {
                lies.push(lie(
                    Some(first.number),
                    format!("/moves/{position}/phase"),
                    "phase of a move",
                    phase,
                    &first.phase,
                ));
            }
            Some(_) => {}
            None => lies.push(claim(None, format!("/moves/{position}"), format!("move {number} has no step"))),
        }
    }
    for (position, step) in document.steps.iter().enumerate() {
        if !moves.iter().any(|known| Some(known.number) == step.in_move) {
            lies.push(claim(
                Some(step.number),
                format!("/steps/{position}/move"),
                "the step is in no listed move".to_owned(),
            ));
        }
    }
    lies
}

/// The table of units against the target (the baseline, for a unit that leaves).
fn units(setting: &Setting, document: &PlanDocument) -> Vec<Objection> {
    let mut lies = Vec::new();
    for (position, entry) in document.units.iter().enumerate() {
        let Some(unit) = setting.unit_keys.get(&entry.key) else { continue };
        let row = &setting.target.units[*unit];
        if entry.status == Status::Leaving || !row.powered {
            continue;
        }
        if (entry.id, entry.priority) != (row.id, row.priority) {
            let (said, found) = ((entry.id, entry.priority), (row.id, row.priority));
            lies.push(lie(None, format!("/units/{position}"), "id and priority in the target", &said, &found));
        }
        if (entry.role == Role::Primary) != row.primary {
            lies.push(lie(None, format!("/units/{position}/role"), "leads in the target", &entry.role, &row.primary));
        }
    }
    lies
}
