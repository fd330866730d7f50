//! The minutes of a plan's steps -> what the whole change is expected to take, and what it waits for most.
//!
//! Units are staged side by side; everything after that is done one step after the other.

use super::course::{Activity, Estimated, course};
use crate::model::Minutes;
use crate::model::document::{Phase, PlanDocument, StepEntry};
use crate::model::table::UnitId;
use crate::rehearse::Rehearsed;

/// How long a change takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Time {
    /// As is to be expected.
    pub expected: Minutes,
    /// If all goes well.
    pub best: Minutes,
    /// As it usually goes.
    pub likely: Minutes,
    /// If much goes wrong.
    pub worst: Minutes,
    /// As is to be expected, the staging left out.
    pub window_expected: Minutes,
    /// What the whole waits for: moves by their titles, in order.
    pub critical: Vec<String>,
    /// The staging of each unit.
    pub stages: Vec<Stage>,
}

/// The staging of one unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stage {
    /// The unit's key.
    pub unit: String,
    /// How long it is expected to take.
    pub expected: Minutes,
}

/// A run of steps that are done one after the other.
struct Work {
    title: String,
    /// The unit that is staged; none past the staging.
    stages: Option<UnitId>,
    staging: bool,
    /// The move's number.
    number: Option<u32>,
    takes: Estimated,
}

/// Works it out.
#[must_use]
pub fn time(rehearsed: &Rehearsed) -> Time {
    let (plan, trail) = (rehearsed.plan(), rehearsed.trail());
    let works = works(plan, |position| trail.passed.get(position).and_then(|passed| passed.unit));
    let staged = works.iter().take_while(|work| work.staging).count();
    let activity = |(at, work): (usize, &Work)| {
        let needs = match at {
            _ if at < staged => 0..0,
            _ if at == staged => 0..at,
            _ => at - 1..at,
        };
        Activity { takes: work.takes, needs: needs.collect() }
    };
    let found = course(&works.iter().enumerate().map(activity).collect::<Vec<_>>());
    let rest = works.iter().skip(staged).fold(Estimated::default(), |sum, work| sum.then(work.takes));
    let mut critical: Vec<String> =
        found.path.iter().filter_map(|at| works.get(*at)).map(|work| work.title.clone()).collect();
    critical.dedup();
    let stage = |work: &Work| {
        let unit = trail.setting.units[work.stages?].key.clone();
        Some(Stage { unit, expected: work.takes.expected() })
    };
    Time {
        expected: found.expected,
        best: found.best,
        likely: found.likely,
        worst: found.worst,
        window_expected: rest.expected(),
        critical,
        stages: works.iter().filter_map(stage).collect(),
    }
}

/// Each unit's staging, then the moves as they follow each other.
fn works(plan: &PlanDocument, unit: impl Fn(usize) -> Option<UnitId>) -> Vec<Work> {
    let mut works: Vec<Work> = Vec::new();
    for (position, step) in plan.steps.iter().enumerate() {
        let staging = step.phase == Phase::Stage;
        let stages = unit(position).filter(|_| staging);
        let same = |work: &&mut Work| {
            work.staging == staging && if staging { work.stages == stages } else { work.number == step.in_move }
        };
        // staging stands first: whatever unit a step of it is about, it goes on with that one
        let open = if staging { works.iter_mut().find(same) } else { works.last_mut().filter(same) };
        match open {
            Some(work) => work.takes = work.takes.then(estimated(step)),
            None => {
                let (title, takes) = (title(plan, step), estimated(step));
                works.push(Work { title, stages, staging, number: step.in_move, takes });
            }
        }
    }
    works
}

fn title(plan: &PlanDocument, step: &StepEntry) -> String {
    let known = plan.moves.iter().flatten().find(|one| Some(one.number) == step.in_move);
    known.map_or_else(|| "All steps".to_owned(), |one| one.title.clone())
}

/// The estimate of a step; what is not said is taken for likely.
#[must_use]
pub fn estimated(step: &StepEntry) -> Estimated {
    let minutes = step.minutes.unwrap_or_default();
    let likely = minutes.likely.unwrap_or_default();
    Estimated { best: minutes.best.unwrap_or(likely), likely, worst: minutes.worst.unwrap_or(likely) }
}
