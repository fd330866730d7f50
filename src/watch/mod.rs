//! A bare [`Route`] -> a plan's document, with every look and wait that a person
//! needs: the right console, a fresh baseline, a factory unit, the right cable, one wait after each
//! boot, one look after each stage and each join, and the whole stack at the end.
//!
//! Deliberately absent: places, minutes, predictions and cost. They are results of the rehearsal.

mod back;
mod chosen;
mod evidence;
mod looks;
mod moves;
mod named;
mod outcome;
mod placing;
mod reads;
mod reasons;
mod script;
mod slip;
mod things;
mod titles;
mod trace;
mod words;

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::lower::Problem;
use crate::model::document::{Move, PLAN_FORMAT, PlanDocument, StepEntry, Warning, WayBack};
use crate::model::setting::Setting;
use crate::model::table::CableId;
use crate::plan::Route;

pub use back::Finder;
pub use looks::plugs;

/// What a plan says of its origin.
#[derive(Clone, Debug)]
pub struct Origin {
    /// Name and version of the compiler.
    pub compiler: String,
    /// Digests of the inputs.
    pub inputs: crate::model::document::Inputs,
}

/// What a plan tells of a route: everything of its document that is found and not given.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drawn {
    moves: Vec<Move>,
    steps: Vec<StepEntry>,
    ways_back: Vec<WayBack>,
    warnings: Vec<Warning>,
}

/// The serials on the plugs of cables, where the intent gives them.
pub type Plugs = BTreeMap<CableId, String>;

/// Makes the plan's document from a route. `find`: finds operations that lead back to the baseline.
#[must_use]
pub fn plan(setting: &Setting, problem: &Problem, route: &Route, origin: Origin, find: Finder<'_>) -> PlanDocument {
    document(problem, origin, drawn(setting, &plugs(setting, problem), route, find))
}

/// Writes a route down, with looks and waits, and the ways back from it. `find`: finds operations that lead back to the
/// baseline.
#[must_use]
pub fn drawn(setting: &Setting, plugs: &Plugs, route: &Route, find: Finder<'_>) -> Drawn {
    let script = script::script(setting, plugs, route);
    let lines = placing::place(setting, script.lines);
    let mut warnings = script.warnings;
    if !route.proved_least {
        let text = format!(
            "the order keeps every rule, but it is not proved that none is cheaper ({} situations were looked at)",
            route.opened
        );
        warnings.push(Warning { code: "order-not-proved-least".to_owned(), text });
    }
    let (ways_back, without) = placing::back_from(setting, &lines, find);
    if !without.is_empty() {
        let text = format!("no way back was found from {}: from there the change is finished", steps(&without));
        warnings.push(Warning { code: "no-way-back".to_owned(), text });
    }
    let (moves, steps) = moves::moves(lines);
    Drawn { moves, steps, ways_back, warnings }
}

/// The plan's document: what was given, and what was found.
#[must_use]
pub fn document(problem: &Problem, origin: Origin, drawn: Drawn) -> PlanDocument {
    PlanDocument {
        format: PLAN_FORMAT,
        stack: problem.stack.clone(),
        compiler: origin.compiler,
        inputs: Some(origin.inputs),
        traits: problem.traits.clone(),
        change: problem.change.clone(),
        units: problem.units.clone(),
        baseline: problem.baseline.clone(),
        target: problem.target.clone(),
        moves: Some(drawn.moves),
        steps: drawn.steps,
        ways_back: Some(drawn.ways_back),
        cost: None,
        slips: None,
        ways_back_slips: None,
        warnings: drawn.warnings,
        trust: problem.trust.clone(),
        faults: None,
    }
}

/// Step numbers in order, as people read them and programs can: `step 3`, `steps 3, 5 to 9`.
fn steps(numbers: &[u32]) -> String {
    let runs = numbers.chunk_by(|one, next| one + 1 == *next);
    let named = runs.filter_map(|run| match run {
        [] => None,
        [one] => Some(one.to_string()),
        [first, .., last] => Some(format!("{first} to {last}")),
    });
    let word = if numbers.len() == 1 { "step" } else { "steps" };
    format!("{word} {}", named.collect::<Vec<_>>().join(", "))
}
