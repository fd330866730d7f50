//! A script with a slip in it -> what is done step by step, up to where it shows, and what comes of it.

use std::collections::BTreeMap;

use crate::model::acts::Act;
use crate::model::facts::Spot;
use crate::model::operation::Operation;
use crate::model::places::spot;
use crate::model::progress::{Done, Situation};
use crate::model::reached::differences;
use crate::model::replay::Stop;
use crate::model::rules::Breach;
use crate::model::slips::{Elsewhere, End, Script, Slip};

/// Everything from a slip to where it shows.
pub struct Course {
    /// How it ends.
    pub ending: Ending,
    /// The steps, the first one that the slip is about first.
    pub moments: Vec<Moment>,
}

/// What comes of a slip.
pub enum Ending {
    /// Somebody sees at this step that something is wrong.
    Caught(usize, Stop),
    /// After so many steps everything is as if nobody had erred.
    Merged(usize),
    /// The last state is the target, though it differs from the plan's.
    Reached,
    /// This step breaks a rule.
    Broken(usize, Breach),
    /// Nothing is noticed, and the end is not the target.
    Missed(Breach),
}

/// One step.
pub struct Moment {
    /// Its position.
    pub position: usize,
    /// Where a person does it now.
    pub at: Spot,
    /// Before it.
    pub before: Situation,
    /// After it.
    pub after: Situation,
    /// Which operation it comes to, if it comes to one.
    pub operation: Option<Operation>,
    /// What that did, unless it was refused.
    pub done: Option<Done>,
}

/// Goes through the steps with a slip; none if there is no such step.
#[must_use]
pub fn course(script: &Script<'_>, slip: Slip) -> Option<Course> {
    let (first, last) = slip.steps();
    let mut befores = BTreeMap::from([(first, script.before(first)?.clone())]);
    inside(script, slip, &mut befores);
    let replayed = script.replay_seen(slip, |position, situation| {
        befores.insert(position, situation.clone());
    });
    let reached = befores.last_key_value().map_or(last, |(position, _)| *position);
    let end = script.acts.len();
    let ending = match (replayed.end, replayed.stop) {
        (End::Caught(step), stop) => Ending::Caught(step, stop.unwrap_or(Stop::Waiting)),
        (End::Broken(step, _), Some(Stop::Broken(breach))) => Ending::Broken(step, breach),
        (End::Broken(..), _) => Ending::Missed(missed(script, befores.get(&end)?)?),
        (End::Harmless, _) if reached == end => Ending::Reached,
        (End::Harmless, _) => Ending::Merged(reached.max(last) + 1),
    };
    let stopped = match ending {
        Ending::Caught(step, _) | Ending::Broken(step, _) => step + 1,
        Ending::Merged(step) => step,
        Ending::Reached | Ending::Missed(_) => end,
    };
    let moments = (first..stopped).filter_map(|position| moment(script, slip, position, &befores)).collect();
    let mut found = Course { ending, moments };
    if let (Ending::Merged(step), Some(last)) = (&found.ending, found.moments.last_mut()) {
        last.after = script.before(*step)?.clone();
    }
    Some(found)
}

fn missed(script: &Script<'_>, last: &Situation) -> Option<Breach> {
    differences(script.setting, &last.state).0.first().copied()
}

/// The situations inside a misplaced run: before its second step, its third and so on.
fn inside(script: &Script<'_>, slip: Slip, befores: &mut BTreeMap<usize, Situation>) {
    let Slip::Misplace { first, last, at } = slip else { return };
    for step in first..last {
        let mut next = None;
        let end = script.replay_seen(Slip::Misplace { first, last: step, at }, |position, situation| {
            if position == step + 1 {
                next = Some(situation.clone());
            }
        });
        match (next, end.end) {
            (Some(next), _) => befores.insert(step + 1, next),
            // as if nobody had erred
            (None, End::Harmless) => script.before(step + 1).and_then(|same| befores.insert(step + 1, same.clone())),
            (None, End::Caught(_) | End::Broken(..)) => return,
        };
    }
}

fn moment(script: &Script<'_>, slip: Slip, position: usize, befores: &BTreeMap<usize, Situation>) -> Option<Moment> {
    let before = befores.get(&position)?.clone();
    let (first, last) = slip.steps();
    let wrong = match slip {
        Slip::Misplace { at, .. } if (first..=last).contains(&position) => Some(at),
        _ => None,
    };
    let at = wrong.unwrap_or_else(|| spot(script.setting, &before, script.acts, position));
    let operation = match script.acts.get(position)? {
        Act::Do(_) if slip == Slip::LeaveOut(position) => None,
        Act::Do(operation) if wrong.is_some() => {
            Elsewhere::new(script.setting, &before, script.before(position)?, at).operation(*operation)
        }
        Act::Do(operation) => Some(*operation),
        Act::Await(..) | Act::Expect(_) => None,
    };
    let done = operation.and_then(|operation| before.step(script.setting, operation).ok());
    // the last step has no next one to look at
    let after = befores.get(&(position + 1)).or(done.as_ref().map(|done| &done.after)).unwrap_or(&before).clone();
    Some(Moment { position, at, before, after, operation, done })
}
