//! A plan as it stands in its file -> [`Rehearsed`]: replayed from nothing but that file.
//!
//! Shares only `model` with what makes plans, and recomputes everything, so that a planner's mistake
//! cannot hide in its own assumptions. What the plan leaves out is filled in; what it says must be so.

mod back;
mod checks;
mod claims;
mod codes;
mod places;
mod slips;
mod totals;
mod walk;
pub mod words;

pub use codes::{CODES, code};
pub use places::{SITE, place};

use crate::model::acts::{Act, act};
use crate::model::document::{PLAN_FORMAT, PlanDocument, StateDocument};
#[cfg(test)]
use crate::model::document::{Phase, StepEntry};
use crate::model::names::Minutes;
use crate::model::naming::{Documents, ShapeFault, setting};
#[cfg(test)]
use crate::model::operation::unit_of;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::slips::Script;
use crate::model::table::{UnitId, UnitSet};

/// A plan whose every claim was recomputed and whose every rule holds.
#[derive(Clone, Debug)]
pub struct Rehearsed {
    plan: PlanDocument,
    states: Vec<StateDocument>,
    back: Vec<Vec<StateDocument>>,
    trail: Trail,
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

    /// For each way back, the state before each of its steps, and after the last, when it is gone from the last step
    /// that it serves.
    #[must_use]
    pub fn back(&self) -> &[Vec<StateDocument>] {
        &self.back
    }

    /// The replay itself.
    #[must_use]
    pub fn trail(&self) -> &Trail {
        &self.trail
    }
}

/// The replay itself, for those who draw it.
#[derive(Clone, Debug)]
pub struct Trail {
    /// What the indices mean.
    pub setting: Setting,
    /// Before the first step.
    pub start: Situation,
    /// What each step left.
    pub passed: Vec<Passed>,
    /// The position of the step with which a new stack is founded.
    pub founding: Option<usize>,
}

impl Trail {
    /// What each step of the plan does, with indices for names.
    #[must_use]
    pub fn acts<'a>(&self, rehearsed: &'a Rehearsed) -> Vec<Act<'a>> {
        // the names of a rehearsed plan were looked up before
        acts(&self.setting, rehearsed.plan()).unwrap_or_default()
    }

    /// The same as a script, to try a mistake against it; none if the steps cannot be gone one by one.
    #[must_use]
    pub fn script<'a>(&'a self, acts: &'a [Act<'a>]) -> Option<Script<'a>> {
        Script::new(&self.setting, acts, self.founding)
    }
}

/// What one step left.
#[derive(Clone, Debug)]
pub struct Passed {
    /// The situation after it.
    pub situation: Situation,
    /// The unit that it is about, if it is about one.
    pub unit: Option<UnitId>,
    /// Units that restarted by themselves in it.
    pub restarts: UnitSet,
    /// Likely minutes from the first step to the end of this one; stages run side by side.
    pub clock: Minutes,
}

/// One reason to refuse a plan, or to warn of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Objection {
    /// The rule, check or code.
    pub code: &'static str,
    /// The step at which it was found.
    pub step: Option<u32>,
    /// Where in the plan's file, as a JSON pointer.
    pub pointer: String,
    /// What was found.
    pub text: String,
}

/// What the judge says.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The plan, if nothing speaks against it.
    pub rehearsed: Option<Rehearsed>,
    /// Every objection of the first step that has any.
    pub objections: Vec<Objection>,
    /// Breaches that the baseline itself has.
    pub warnings: Vec<Objection>,
}

/// Judges a plan from nothing but its document.
#[must_use]
pub fn judge(document: &PlanDocument) -> Verdict {
    let refuse = |objections| Verdict { rehearsed: None, objections, warnings: Vec::new() };
    if document.format != PLAN_FORMAT {
        let text = format!("format {} found; this judge reads format {PLAN_FORMAT}", document.format);
        return refuse(vec![shape("/format", text)]);
    }
    match setting_of(document).and_then(|setting| acts(&setting, document).map(|acts| (setting, acts))) {
        Ok((setting, acts)) => walk::walk(&setting, document, &acts),
        Err(faults) => refuse(faults.into_iter().map(|ShapeFault { pointer, text }| shape(&pointer, text)).collect()),
    }
}

/// The same with indices for names.
fn setting_of(document: &PlanDocument) -> Result<Setting, Vec<ShapeFault>> {
    let ways = document.ways_back.iter().flatten().flat_map(|way| &way.steps);
    let actions: Vec<_> = document.steps.iter().map(|step| &step.action).chain(ways.map(|step| &step.action)).collect();
    let documents = Documents {
        stack: &document.stack,
        traits: &document.traits,
        change: &document.change,
        units: &document.units,
        baseline: &document.baseline,
        target: &document.target,
        actions: &actions,
    };
    setting(&documents)
}

/// What each step does, with indices for names.
fn acts<'a>(setting: &Setting, document: &'a PlanDocument) -> Result<Vec<Act<'a>>, Vec<ShapeFault>> {
    let mut faults = Vec::new();
    let mut acts = Vec::new();
    for (position, step) in document.steps.iter().enumerate() {
        match act(setting, &step.action) {
            Ok(act) => acts.push(act),
            Err(text) => faults.push(ShapeFault { pointer: format!("/steps/{position}/do"), text }),
        }
    }
    if faults.is_empty() { Ok(acts) } else { Err(faults) }
}

fn shape(pointer: &str, text: String) -> Objection {
    Objection { code: "shape", step: None, pointer: pointer.to_owned(), text }
}

#[cfg(test)]
impl Rehearsed {
    /// A plan and its states as a test says; nothing is recomputed.
    #[must_use]
    pub(crate) fn for_test(plan: PlanDocument, states: Vec<StateDocument>) -> Self {
        let trail = Trail::for_test(&plan);
        Self { plan, states, back: Vec::new(), trail }
    }
}

#[cfg(test)]
impl Trail {
    /// The steps gone one by one; what cannot be done is left out, and nothing is judged.
    fn for_test(plan: &PlanDocument) -> Self {
        let setting = setting_of(plan).unwrap();
        let start = Situation::start(&setting);
        let mut situation = start.clone();
        let on_founder = |step: &StepEntry| match act(&setting, &step.action) {
            Ok(Act::Do(operation)) => step.phase == Phase::Stage && unit_of(&setting, operation) == setting.founder(),
            _ => false,
        };
        let founding = setting.founder().and_then(|_| plan.steps.iter().rposition(on_founder));
        let mut pass = |(position, step): (usize, &StepEntry)| {
            let mut passed =
                Passed { situation: situation.clone(), unit: None, restarts: UnitSet::EMPTY, clock: Minutes::ZERO };
            if let Ok(Act::Do(operation)) = act(&setting, &step.action)
                && let Ok(done) = situation.step(&setting, operation)
            {
                passed.situation = done.after;
                passed.restarts = done.events.restarts;
            }
            if founding == Some(position) {
                passed.situation.found_stack(&setting);
            }
            situation = passed.situation.clone();
            passed
        };
        let passed = plan.steps.iter().enumerate().map(&mut pass).collect();
        Self { start, passed, founding, setting }
    }
}
