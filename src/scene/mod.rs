//! A rehearsed plan -> text to look at: what each step is, and the stack after it as an upright picture.
//!
//! A [`Walk`] is any sequence of frames (a step, the situation before it and after it, what is to be said of it):
//! the plan as it stands, or the plan with a mistake in it. Deliberately absent: keys and the terminal.

mod apart;
mod back;
mod course;
mod fault;
mod fold;
mod found;
mod ladder;
mod line;
mod page;
mod plain;
mod say;
mod slip;
mod stop;

pub use fault::struck;
pub use line::{Line, Tone, text};
pub use page::{Size, page};
pub use plain::{all, one};
pub use slip::slipped;
pub use stop::stop_after;

use crate::model::document::{PlanDocument, StepEntry};
use crate::model::names::Minutes;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};
use crate::picture::words;
use crate::rehearse::Rehearsed;

/// Steps one after the other, each with the situations around it.
#[derive(Clone, Debug)]
pub struct Walk<'a> {
    /// What the indices mean.
    pub setting: &'a Setting,
    /// The plan.
    pub plan: &'a PlanDocument,
    /// What the change does, in one sentence.
    pub title: String,
    /// Before the first step.
    pub start: &'a Situation,
    /// The steps.
    pub frames: Vec<Frame<'a>>,
}

/// One step with the situations around it.
#[derive(Clone, Debug)]
pub struct Frame<'a> {
    /// The step.
    pub step: &'a StepEntry,
    /// Before it.
    pub before: &'a Situation,
    /// After it.
    pub after: &'a Situation,
    /// The unit that it is about.
    pub unit: Option<UnitId>,
    /// Units that restarted by themselves.
    pub restarts: UnitSet,
    /// Likely minutes from the first step to the end of this one.
    pub clock: Option<Minutes>,
    /// What is to be said of it beside the plan: that it was left out, what it breaks.
    pub verdict: Option<(Tone, String)>,
}

impl<'a> Walk<'a> {
    /// A plan as it was rehearsed.
    #[must_use]
    pub fn of(rehearsed: &'a Rehearsed, title: Option<String>) -> Self {
        let (plan, trail) = (rehearsed.plan(), rehearsed.trail());
        let before = std::iter::once(&trail.start).chain(trail.passed.iter().map(|passed| &passed.situation));
        let frames = plan.steps.iter().zip(&trail.passed).zip(before).map(|((step, passed), before)| Frame {
            step,
            before,
            after: &passed.situation,
            unit: passed.unit,
            restarts: passed.restarts,
            clock: Some(passed.clock),
            verdict: None,
        });
        let title = title.unwrap_or_else(|| format!("The plan for {}.", plan.stack));
        Self { setting: &trail.setting, plan, title, start: &trail.start, frames: frames.collect() }
    }

    /// The number of the last step; 0 where there is none.
    #[must_use]
    pub fn last(&self) -> usize {
        self.frames.len()
    }

    /// The step of this number; none for 0, which is before the first.
    #[must_use]
    pub fn frame(&self, number: usize) -> Option<&Frame<'a>> {
        number.checked_sub(1).and_then(|position| self.frames.get(position))
    }
}
