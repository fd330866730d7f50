//! Every way back of a plan, replayed from every step that it serves.
//!
//! The joining units count as leaving; every rule but `settled` holds; looks and waits come true; the end is the
//! baseline. A step past the staging without a way back is objected to, unless a warning `no-way-back` of the plan
//! names it: each number in the text of such a warning is a step, and `5 to 9` are all steps from 5 to 9.

use crate::model::acts::{Act, act};
use crate::model::cost::{step_minutes, wait_minutes};
use crate::model::document::{Phase, PlanDocument, Slips, StateDocument, UnitState, WayBack};
use crate::model::names::Minutes;
use crate::model::naming::document as named_state;
use crate::model::places::spot;
use crate::model::reached::differences;
use crate::model::replay::{Standing, Stop};
use crate::model::rules::Rule;
use crate::model::setting::{Point, Setting};
use crate::model::slips::Script;

use super::claims::{claim, lie};
use super::places::place;
use super::{Objection, slips, words};

/// The code with which a plan says that steps have no way back.
pub const NO_WAY_BACK: &str = "no-way-back";

/// What the replay of all ways back found.
#[derive(Default)]
pub struct Backward {
    /// What speaks against them.
    pub objections: Vec<Objection>,
    /// The ways, with their places filled in.
    pub ways: Vec<WayBack>,
    /// For each way, the state before each of its steps, and after the last, gone from the last step that it serves.
    pub states: Vec<Vec<StateDocument>>,
    /// What was tried against operator errors on each way, from the last step that it serves.
    pub slips: Vec<Slips>,
    /// How long the way back of each step takes, by the step's position.
    pub minutes: Vec<Option<Minutes>>,
}

/// Judges the ways back of a plan.
#[must_use]
pub fn judge(document: &PlanDocument, script: &Script<'_>) -> Backward {
    let mut found = Backward { minutes: vec![None; document.steps.len()], ..Backward::default() };
    let Some(ways) = &document.ways_back else { return found };
    found.ways.clone_from(ways);
    let going = script.setting.going_back();
    let mut acts: Vec<Vec<Act<'_>>> = Vec::new();
    for (number, way) in ways.iter().enumerate() {
        let mut own = Vec::new();
        for (step, entry) in way.steps.iter().enumerate() {
            match act(&going, &entry.action) {
                Ok(act) => own.push(act),
                Err(text) => {
                    let pointer = format!("/ways_back/{number}/steps/{step}/do");
                    found.objections.push(Objection { code: "shape", step: None, pointer, text });
                }
            }
        }
        acts.push(own);
    }
    found.objections.extend(ranges(document, ways));
    if found.objections.is_empty() {
        found.states = vec![Vec::new(); ways.len()];
        found.slips = vec![Slips::default(); ways.len()];
        let mut walk = Walk { script, going: &going, ways, acts: &acts, passed: Vec::new() };
        for position in (0..document.steps.len()).rev() {
            if serving(ways, position).is_some() {
                walk.from(position, &mut found);
            }
            if !found.objections.is_empty() {
                break;
            }
        }
        if found.objections.is_empty() {
            found.objections = twins(ways, &found.states);
        }
    }
    found
}

/// Ways of neighbouring steps that are one: the same is done, and units have the same numbers by which ports are named,
/// so that one text says it.
fn twins(ways: &[WayBack], states: &[Vec<StateDocument>]) -> Vec<Objection> {
    let number = |unit: &UnitState| {
        unit.running.as_ref().map(|running| running.id).or_else(|| unit.saved.as_ref().map(|saved| saved.id))
    };
    let numbers = |way: usize| {
        let states = states.get(way).into_iter().flatten();
        let ids = states.map(|state| state.units.iter().map(|(key, unit)| (key, number(unit))).collect::<Vec<_>>());
        ids.collect::<Vec<_>>()
    };
    let twin = |(number, way): (usize, &WayBack)| {
        let next = ways.iter().position(|other| other.after[0] == way.after[1] + 1)?;
        let other = ways.get(next)?;
        let same = other.then == way.then && same_steps(other, way) && numbers(number) == numbers(next);
        let text = || format!("the way back after step {} is the same: they are one", other.after[0]);
        same.then(|| claim(None, format!("/ways_back/{number}"), text()))
    };
    ways.iter().enumerate().filter_map(twin).collect()
}

/// The way back of a step, by its position.
fn serving(ways: &[WayBack], position: usize) -> Option<usize> {
    let number = position as u32 + 1;
    ways.iter().position(|way| (way.after[0]..=way.after[1]).contains(&number))
}

fn ranges(document: &PlanDocument, ways: &[WayBack]) -> Vec<Objection> {
    let mut objections = Vec::new();
    let steps = document.steps.len() as u32;
    let mut object = |number: usize, text: String| {
        objections.push(claim(None, format!("/ways_back/{number}"), text));
    };
    for (number, way) in ways.iter().enumerate() {
        let [first, last] = way.after;
        if first == 0 || first > last || last > steps {
            object(number, format!("after {first} to {last} is no range of the {steps} steps"));
        }
        let twice = ways.iter().take(number).any(|other| other.after[0] <= last && first <= other.after[1]);
        if twice {
            object(number, format!("a step of {first} to {last} has another way back too"));
        }
        if way.then.is_some_and(|then| then == 0 || then > steps) {
            object(number, "it goes on with the way back of a step that there is not".to_owned());
        }
    }
    let warnings = document.warnings.iter().filter(|warning| warning.code == NO_WAY_BACK);
    let owned: Vec<[u32; 2]> = warnings.flat_map(|warning| named_steps(&warning.text)).collect();
    let owned = |number: u32| owned.iter().any(|[first, last]| (*first..=*last).contains(&number));
    let past = document.steps.iter().filter(|step| step.phase != Phase::Stage);
    let mut bare = past.map(|step| step.number).filter(|number| serving(ways, *number as usize - 1).is_none());
    if let Some(number) = bare.find(|number| !ways.is_empty() && !owned(*number)) {
        objections.push(claim(Some(number), "/ways_back".to_owned(), format!("step {number} has no way back")));
    }
    objections
}

/// The ranges of steps that a text names.
fn named_steps(text: &str) -> Vec<[u32; 2]> {
    let mut ranges: Vec<[u32; 2]> = Vec::new();
    let (mut rest, mut open) = (text, false);
    while let Some((between, from)) = rest.find(|letter: char| letter.is_ascii_digit()).map(|at| rest.split_at(at)) {
        let (digits, after) = from.split_at(from.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(from.len()));
        // a number too long to be read is beyond every step
        let number = digits.parse().unwrap_or(u32::MAX);
        match ranges.last_mut().filter(|_| open && between == " to ") {
            Some([_, last]) => (*last, open) = (number, false),
            None => {
                ranges.push([number, number]);
                open = true;
            }
        }
        rest = after;
    }
    ranges
}

fn same_steps(one: &WayBack, other: &WayBack) -> bool {
    one.steps.iter().map(|step| &step.action).eq(other.steps.iter().map(|step| &step.action))
}

struct Walk<'a> {
    script: &'a Script<'a>,
    going: &'a Setting,
    ways: &'a [WayBack],
    acts: &'a [Vec<Act<'a>>],
    /// Where ways began, and what they took from there: a look changes no state.
    passed: Vec<(usize, Standing, Minutes)>,
}

impl Walk<'_> {
    /// Walks back from a step.
    fn from(&mut self, position: usize, found: &mut Backward) {
        let (Some(start), Some(first)) = (self.script.standing(position + 1), serving(self.ways, position)) else {
            return;
        };
        let start = &start.going_back(self.script.setting, self.going);
        let known = self.passed.iter().find(|(way, standing, _)| *way == first && standing == start);
        if let Some((.., minutes)) = known {
            set(&mut found.minutes, position, *minutes);
            return;
        }
        let mut standing = start.clone();
        let mut minutes = Minutes::ZERO;
        let mut walked = Vec::new();
        let mut next = Some(first);
        while let Some(way) = next {
            if walked.contains(&way) {
                let text = "it goes round in a circle".to_owned();
                found.objections.push(claim(None, format!("/ways_back/{way}/then"), text));
                return;
            }
            walked.push(way);
            match self.one(way, &mut standing, found) {
                Ok(taken) => minutes += taken,
                Err(objection) => {
                    let text = format!("on the way back from step {}: {}", position + 1, objection.text);
                    let step = objection.step.or(Some(position as u32 + 1));
                    found.objections.push(Objection { text, step, ..objection });
                    return;
                }
            }
            let then = self.ways.get(way).and_then(|way| way.then);
            next = then.and_then(|then| serving(self.ways, then as usize - 1));
            if let (Some(then), None) = (then, next) {
                let text = format!("it goes on with step {then}, which has no way back");
                found.objections.push(claim(None, format!("/ways_back/{way}/then"), text));
                return;
            }
        }
        for breach in differences(self.going, &standing.situation.state).0 {
            let text = format!("the way back from step {} does not reach the baseline", position + 1);
            let text = format!("{text}: {}", words::breach(self.going, &breach));
            found.objections.push(Objection {
                code: Rule::ReachesTarget.as_str(),
                step: Some(position as u32 + 1),
                pointer: format!("/ways_back/{first}"),
                text,
            });
        }
        set(&mut found.minutes, position, minutes);
        // steps are gone from the last one down: the first time is from the last step that the way serves
        if !self.passed.iter().any(|(way, ..)| *way == first) {
            self.err(start, &walked, found);
        }
        self.passed.push((first, start.clone(), minutes));
    }

    /// Tries every slip on the first of the ways that are gone one after the other.
    fn err(&self, start: &Standing, walked: &[usize], found: &mut Backward) {
        let own = walked.first().and_then(|way| self.acts.get(*way)).map_or(0, Vec::len);
        let acts: Vec<Act<'_>> = walked.iter().filter_map(|way| self.acts.get(*way)).flatten().copied().collect();
        let sums = walked.first().and_then(|way| found.slips.get_mut(*way));
        if let (Some(script), Some(sums)) = (Script::way_back(self.going, start.clone(), &acts), sums) {
            *sums = slips::tried(&script, own);
        }
    }

    /// Does the steps of one way; gives its likely minutes.
    fn one(&self, way: usize, standing: &mut Standing, found: &mut Backward) -> Result<Minutes, Objection> {
        let empty = Vec::new();
        let acts = self.acts.get(way).unwrap_or(&empty);
        let mut minutes = Minutes::ZERO;
        let first_time = found.states.get(way).is_some_and(Vec::is_empty);
        let mut seen = vec![named_state(self.going, &standing.situation.state)];
        for (step, act) in acts.iter().enumerate() {
            let pointer = format!("/ways_back/{way}/steps/{step}");
            let at = spot(self.going, &standing.situation, acts, step);
            let here = place(self.going, at);
            let entry = found.ways.get_mut(way).and_then(|way| way.steps.get_mut(step));
            if let Some(entry) = entry {
                match &entry.at {
                    Some(said) if *said != here => {
                        return Err(lie(None, format!("{pointer}/at"), "place", said, &here));
                    }
                    Some(_) => {}
                    None => entry.at = Some(here),
                }
            }
            let done =
                standing.go(self.going, act, at, Some(Rule::Settled)).map_err(|stop| self.told(stop, act, &pointer))?;
            minutes += match act {
                Act::Do(operation) => {
                    let downs = done.map_or(0, |done| done.events.downs.len());
                    step_minutes(self.going, *operation, downs, Point::Likely)
                }
                Act::Await(_, until) => wait_minutes(self.going, *until, Point::Likely),
                Act::Expect(_) => self.going.traits.minutes.check.at(Point::Likely),
            };
            if first_time {
                seen.push(named_state(self.going, &standing.situation.state));
            }
        }
        if let Some(states) = found.states.get_mut(way).filter(|_| first_time) {
            *states = seen;
        }
        Ok(minutes)
    }

    fn told(&self, stop: Stop, act: &Act<'_>, pointer: &str) -> Objection {
        let (code, text) = match stop {
            Stop::Refused(refusal) => ("step-refused", words::refusal(self.going, refusal)),
            Stop::Broken(breach) => (breach.rule.as_str(), words::breach(self.going, &breach)),
            Stop::Waiting => ("await-fails", "what is waited for does not come".to_owned()),
            Stop::Unseen(fact) => {
                let facts: &[crate::model::document::Fact] = match act {
                    Act::Expect(facts) => facts,
                    Act::Do(_) | Act::Await(..) => &[],
                };
                let shown = facts.get(fact).and_then(|fact| serde_json::to_string(fact).ok()).unwrap_or_default();
                ("expect-fails", format!("this is not so, or not seen there: {shown}"))
            }
        };
        Objection { code, step: None, pointer: pointer.to_owned(), text }
    }
}

fn set(minutes: &mut [Option<Minutes>], position: usize, value: Minutes) {
    if let Some(slot) = minutes.get_mut(position) {
        *slot = Some(value);
    }
}
