//! A rehearsed plan -> what its file and its runbook say of faults.

use crate::model::document::{FaultEntry, FaultsEntry, PairsEntry, StepFaults};
use crate::model::setting::Setting;
use crate::model::state::State;
use crate::model::table::{CableId, LegSet, UnitSet};
use crate::rehearse::Rehearsed;

use super::named::{cold_start, entry, finished, pair_entry};
use super::single::{Field, homes, links};
use super::{Common, Outcome, Pair, Single, Survey, advice, severity, survives};

/// How many of the worst pairs are kept.
const WORST: usize = 5;

/// What is kept of a plan's faults.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Digest {
    /// What the plan's file says.
    pub entry: FaultsEntry,
    /// The finished stack without any fault.
    pub healthy: FaultEntry,
    /// The single faults that are not survived, the worst first.
    pub harmful: Vec<FaultEntry>,
    /// How many pairs are not survived.
    pub harmful_pairs: usize,
    /// What would cure it.
    pub cures: Vec<String>,
}

/// Works it out.
#[must_use]
pub fn digest(rehearsed: &Rehearsed, commons: &[Common]) -> Digest {
    let setting = &rehearsed.trail().setting;
    let survey = Survey::of(finished(setting));
    let single = |(one, outcome): (&Single, &Outcome)| entry(setting, &[one.fault], outcome);
    let finished: Vec<FaultEntry> = survey.field.singles.iter().zip(&survey.singles).map(single).collect();
    let harms = |at: &usize| survey.singles.get(*at).is_some_and(|outcome| !survives(&survey.healthy, outcome));
    let harmful = survey.ranked().into_iter().filter(harms).filter_map(|at| finished.get(at).cloned()).collect();
    let (pairs, harmful_pairs) = pairs(&survey);
    Digest {
        healthy: entry(setting, &[], &survey.healthy),
        harmful,
        harmful_pairs,
        cures: advice(&survey, commons),
        entry: FaultsEntry { finished, pairs, steps: steps(rehearsed), cold_start: cold_start(&survey.field) },
    }
}

/// All pairs in numbers, and how many are not survived.
fn pairs(survey: &Survey<'_>) -> (PairsEntry, usize) {
    let mut found = PairsEntry { tried: 0, split_brain: 0, cut_off: 0, worst: Vec::new() };
    let mut harmful = 0;
    let mut worst: Vec<([usize; 6], Pair)> = Vec::new();
    for pair in survey.pairs() {
        found.tried += 1;
        found.split_brain += usize::from(pair.outcome.split_brain);
        found.cut_off += usize::from(!pair.outcome.cut_off.is_empty());
        harmful += usize::from(!survives(&survey.healthy, &pair.outcome));
        let rank = severity(&survey.healthy, &pair.outcome);
        // of equal ones the first are kept
        let at = worst.iter().position(|(other, _)| *other < rank).unwrap_or(worst.len());
        if at < WORST {
            worst.insert(at, (rank, pair));
            worst.truncate(WORST);
        }
    }
    found.worst = worst.into_iter().map(|(_, pair)| pair_entry(survey, &pair)).collect();
    (found, harmful)
}

/// The worst single fault after each step that leaves other links, power or legs than there were before it.
fn steps(rehearsed: &Rehearsed) -> Vec<StepFaults> {
    let trail = rehearsed.trail();
    let setting = &trail.setting;
    let mut before = Shape::of(setting, &trail.start.state, trail.start.memory.live);
    let mut found = Vec::new();
    for (step, passed) in rehearsed.plan().steps.iter().zip(&trail.passed) {
        let (state, live) = (&passed.situation.state, passed.situation.memory.live);
        let now = Shape::of(setting, state, live);
        if now == before {
            continue;
        }
        before = now;
        let survey = Survey::of(Field::new(setting, state, live));
        let worst = survey.ranked().first().copied();
        let worst = worst.and_then(|at| Some((survey.field.singles.get(at)?, survey.singles.get(at)?)));
        if let Some((single, outcome)) = worst {
            let survives_any_single = survey.unsurvived() == 0;
            let worst = entry(setting, &[single.fault], outcome);
            found.push(StepFaults { after: step.number, worst, survives_any_single });
        }
    }
    found
}

/// What faults can strike in a situation: where it is as before, so are they.
#[derive(PartialEq, Eq)]
struct Shape {
    links: Vec<Vec<CableId>>,
    powered: UnitSet,
    legs: LegSet,
}

impl Shape {
    fn of(setting: &Setting, state: &State, live: UnitSet) -> Self {
        let powered: UnitSet = live.iter().filter(|unit| state.units[*unit].powered).collect();
        let legs = homes(setting, state, powered).into_iter().map(|home| home.leg).collect();
        Self { links: links(setting, state, live), powered, legs }
    }
}
