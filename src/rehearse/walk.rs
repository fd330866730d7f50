//! The replay: step by step, every rule, every look, every claim.

use crate::model::acts::Act;
use crate::model::cost::{Ledger, step_minutes, wait_minutes};
use crate::model::derive::protected;
use crate::model::document::{Fact, Phase, PlanDocument, Prediction, StepEntry, StepMinutes, StopHere, Until};
use crate::model::facts::{Spot, View, is_ready, learn, names_unit};
use crate::model::names::Minutes;
use crate::model::naming::{document as named_state, unit_of};
use crate::model::operation::{Operation, unit_of as operation_unit};
use crate::model::places::spot;
use crate::model::progress::Situation;
use crate::model::reached::differences;
use crate::model::rules::{Breaches, after_step, in_state, up_unread};
use crate::model::setting::{Point, Setting};
use crate::model::slips::Script;
use crate::model::table::{UnitId, UnitSet};

use super::checks::{Looks, islands_by_name, unsafe_to_stop};
use super::places::place;
use super::totals::{Clock, cost};
use super::{Objection, Passed, Rehearsed, Trail, Verdict, back, claims, slips, words};

/// Replays a plan.
#[must_use]
pub fn walk(setting: &Setting, document: &PlanDocument, acts: &[Act<'_>]) -> Verdict {
    let mut walk = Walk::new(setting, document, acts);
    let staged: Vec<Option<UnitId>> = (0..acts.len()).map(|position| walk.unit_at(position)).collect();
    walk.objections = claims::order(setting, document, &staged);
    for position in 0..acts.len() {
        if !walk.objections.is_empty() {
            break;
        }
        walk.step(position, staged.get(position).copied().flatten());
    }
    walk.finish()
}

/// A replay under way.
struct Walk<'a> {
    setting: &'a Setting,
    document: &'a PlanDocument,
    acts: &'a [Act<'a>],
    situation: Situation,
    start: Situation,
    passed: Vec<Passed>,
    /// Breaches of the baseline that last.
    inherited: Breaches,
    /// All breaches that the baseline has, for the warnings.
    at_first: Breaches,
    looks: Looks<'a>,
    ledger: Ledger,
    clock: Clock,
    filled: PlanDocument,
    states: Vec<crate::model::document::StateDocument>,
    back: Vec<Vec<crate::model::document::StateDocument>>,
    founding: Option<usize>,
    live_before: UnitSet,
    objections: Vec<Objection>,
}

impl<'a> Walk<'a> {
    fn new(setting: &'a Setting, document: &'a PlanDocument, acts: &'a [Act<'a>]) -> Self {
        let situation = Situation::start(setting);
        let mut inherited = Breaches::default();
        in_state(setting, &situation, false, &mut inherited);
        let mut walk = Self {
            setting,
            document,
            acts,
            live_before: situation.memory.live,
            at_first: inherited.clone(),
            inherited,
            looks: Looks::default(),
            ledger: Ledger::open(setting, &situation),
            clock: Clock::default(),
            filled: document.clone(),
            states: vec![named_state(setting, &situation.state)],
            back: Vec::new(),
            start: situation.clone(),
            passed: Vec::new(),
            situation,
            founding: None,
            objections: Vec::new(),
        };
        walk.founding = setting.founder().and_then(|founder| walk.last_stage_step_on(founder));
        walk
    }

    fn last_stage_step_on(&self, founder: UnitId) -> Option<usize> {
        let staged =
            |position: &usize| self.document.steps.get(*position).is_some_and(|step| step.phase == Phase::Stage);
        (0..self.acts.len()).filter(staged).rfind(|position| self.unit_at(*position) == Some(founder))
    }

    /// The unit that a step is about: typed on, switched, waited for, or looked at. A look that
    /// names no unit is about the unit of the next step that is about one.
    fn unit_at(&self, position: usize) -> Option<UnitId> {
        match self.acts.get(position)? {
            Act::Do(operation) => operation_unit(self.setting, *operation),
            Act::Await(unit, ..) => Some(*unit),
            Act::Expect(facts) => {
                let named = facts.iter().find_map(names_unit).and_then(|key| unit_of(self.setting, key).ok());
                named.or_else(|| {
                    self.acts.iter().skip(position + 1).find_map(|act| match act {
                        Act::Do(operation) => operation_unit(self.setting, *operation),
                        Act::Await(unit, ..) => Some(*unit),
                        Act::Expect(_) => None,
                    })
                })
            }
        }
    }

    fn object(&mut self, code: &'static str, position: usize, text: String) {
        let number = self.document.steps.get(position).map(|step| step.number);
        self.objections.push(Objection { code, step: number, pointer: format!("/steps/{position}"), text });
    }

    fn step(&mut self, position: usize, unit: Option<UnitId>) {
        let (Some(act), Some(said)) = (self.acts.get(position).copied(), self.document.steps.get(position)) else {
            return;
        };
        let here = spot(self.setting, &self.situation, self.acts, position);
        let staged = said.phase == Phase::Stage;
        let mut found = StepEntry { at: Some(place(self.setting, here)), ..said.clone() };
        let restarts = match act {
            Act::Do(operation) => self.operate(position, operation, staged, &mut found),
            Act::Await(unit, until) => {
                self.wait(position, unit, until, staged, &mut found);
                UnitSet::EMPTY
            }
            Act::Expect(facts) => {
                self.look(position, here, facts, staged, &mut found);
                UnitSet::EMPTY
            }
        };
        if self.founding == Some(position) {
            self.situation.found_stack(self.setting);
        }
        self.predict(restarts, &mut found);
        let minutes = found.minutes.unwrap_or(StepMinutes { best: None, likely: None, worst: None });
        self.clock.enter(said.phase, unit, minutes.likely.unwrap_or_default(), minutes.worst.unwrap_or_default());
        self.objections.extend(claims::step(said, &found, position));
        if let Some(entry) = self.filled.steps.get_mut(position) {
            *entry = found;
        }
        self.states.push(named_state(self.setting, &self.situation.state));
        let (situation, clock) = (self.situation.clone(), self.clock.total().0);
        self.passed.push(Passed { situation, unit, restarts, clock });
    }

    fn operate(&mut self, position: usize, operation: Operation, staged: bool, found: &mut StepEntry) -> UnitSet {
        let before = self.situation.clone();
        for (code, text) in self.looks.before(self.setting, &before, operation) {
            self.object(code, position, text);
        }
        let done = match before.step(self.setting, operation) {
            Ok(done) => done,
            Err(refusal) => {
                self.object("step-refused", position, words::refusal(self.setting, refusal));
                return UnitSet::EMPTY;
            }
        };
        for breach in after_step(self.setting, &before, operation, &done).0 {
            if !self.inherited.0.contains(&breach) {
                self.object(breach.rule.as_str(), position, words::breach(self.setting, &breach));
            }
        }
        if let Some(cable) = up_unread(self.setting, &before, operation, &done) {
            let ends = self.setting.cable_names(cable).join(" - ");
            let text = format!("the link {ends} comes up before its neighbour was read");
            self.object("right-cable", position, text);
        }
        // a breach that the baseline has is excused while it lasts: once cured, it may not come back
        let mut now = Breaches::default();
        in_state(self.setting, &done.after, false, &mut now);
        self.inherited.0.retain(|breach| now.0.contains(breach));
        self.ledger.enter(self.setting, &before, operation, &done, staged);
        let downs = done.events.downs.len();
        found.minutes = Some(three(|point| step_minutes(self.setting, operation, downs, point)));
        self.situation = done.after;
        done.events.restarts
    }

    fn wait(&mut self, position: usize, unit: UnitId, until: Until, staged: bool, found: &mut StepEntry) {
        let reached = match until {
            Until::Up => self.situation.state.units[unit].powered,
            Until::Joined | Until::Ready => is_ready(self.setting, &self.situation, unit),
        };
        if !reached {
            let text = format!("{} is not {} here", self.setting.units[unit].key, until.as_str());
            self.object("await-fails", position, text);
        }
        self.looks.wait();
        self.ledger.pass(self.setting, &self.situation, wait_minutes(self.setting, until, Point::Likely), staged);
        if until == Until::Ready && reached {
            self.situation.found_ready(unit);
        }
        found.minutes = Some(three(|point| wait_minutes(self.setting, until, point)));
    }

    fn look(&mut self, position: usize, here: Spot, facts: &'a [Fact], staged: bool, found: &mut StepEntry) {
        let before = self.situation.clone();
        let view = View::new(self.setting, &before);
        for fact in facts {
            if !view.is_visible(here, fact) {
                self.object("not-visible", position, format!("at this place nobody can see {}", shown(fact)));
            }
            match view.holds(here, fact) {
                Ok(true) => learn(self.setting, &mut self.situation, fact),
                Ok(false) => self.object("expect-fails", position, format!("this is not so: {}", shown(fact))),
                Err(text) => self.object("expect-fails", position, text),
            }
        }
        self.looks.look(self.setting, &self.situation, here, facts);
        let check = self.setting.traits.minutes.check;
        self.ledger.pass(self.setting, &self.situation, check.at(Point::Likely), staged);
        found.minutes = Some(three(|point| check.at(point)));
    }

    fn predict(&self, restarts: UnitSet, found: &mut StepEntry) {
        let (islands, primary) = islands_by_name(self.setting, &self.situation);
        let mut keys = self.setting.keys(restarts);
        keys.sort();
        let unprotected = !protected(self.setting, &self.situation.state, self.situation.memory.live);
        found.predicts = Some(Prediction { restarts: keys, islands, primary, unprotected });
        let because = self.unsafe_because();
        let reason = because.as_deref().unwrap_or("every rule holds and every live unit is saved");
        let stop = found.stop_here.take();
        found.stop_here = Some(StopHere {
            safe: because.is_none(),
            because: format!("{reason}; {}", words::power_failure(self.setting, &self.situation)),
            way_back_minutes: stop.and_then(|stop| stop.way_back_minutes),
        });
    }

    fn go_back(&mut self, script: &Script<'_>) {
        let found = back::judge(self.document, script);
        self.objections.extend(found.objections);
        for (position, minutes) in found.minutes.into_iter().enumerate() {
            let said = self.document.steps.get(position).and_then(|step| step.stop_here.as_ref());
            let said = said.and_then(|stop| stop.way_back_minutes);
            if let (Some(said), Some(minutes)) = (said, minutes)
                && said != minutes
            {
                let pointer = format!("/steps/{position}/stop_here/way_back_minutes");
                let number = Some(position as u32 + 1);
                self.objections.push(claims::lie(number, pointer, "minutes of the way back", &said, &minutes));
            }
            if let Some(stop) = self.filled.steps.get_mut(position).and_then(|step| step.stop_here.as_mut()) {
                stop.way_back_minutes = minutes.or(stop.way_back_minutes);
            }
        }
        self.back = found.states;
        if self.document.ways_back.is_some() && self.objections.is_empty() {
            self.objections.extend(claims::ways_back_slips(self.document.ways_back_slips.as_ref(), &found.slips));
            self.filled.ways_back_slips = Some(found.slips);
        }
        self.filled.ways_back = self.document.ways_back.as_ref().map(|_| found.ways);
    }

    fn unsafe_because(&self) -> Option<String> {
        let mut breaches = Breaches::default();
        in_state(self.setting, &self.situation, false, &mut breaches);
        let broken = breaches.0.first().map(|breach| words::breach(self.setting, breach));
        broken.or_else(|| unsafe_to_stop(self.setting, &self.situation))
    }

    fn finish(mut self) -> Verdict {
        let warnings = self.at_first.0.iter().map(|breach| Objection {
            code: breach.rule.as_str(),
            step: None,
            pointer: "/baseline".to_owned(),
            text: format!("the baseline itself: {}", words::breach(self.setting, breach)),
        });
        let warnings: Vec<Objection> = warnings.collect();
        if self.objections.is_empty() {
            for breach in differences(self.setting, &self.situation.state).0 {
                let text = words::breach(self.setting, &breach);
                self.objections.push(Objection {
                    code: breach.rule.as_str(),
                    step: None,
                    pointer: "/target".to_owned(),
                    text,
                });
            }
            let total = cost(self.setting, &self.ledger, &self.clock, self.live_before);
            self.objections.extend(claims::cost(self.document.cost.as_ref(), &total));
            self.filled.cost = Some(total);
        }
        if self.objections.is_empty() {
            match Script::new(self.setting, self.acts, self.founding) {
                Some(script) => {
                    self.go_back(&script);
                    let found = slips::tried(&script, self.acts.len());
                    self.objections.extend(claims::slips(self.document.slips.as_ref(), &found));
                    self.filled.slips = Some(found);
                }
                // what cannot be tried is not so, whatever the plan says of it
                None => self.objections.push(claims::claim(
                    None,
                    "/steps".to_owned(),
                    "slips and ways back could not be tried against these steps".to_owned(),
                )),
            }
        }
        let fine = self.objections.is_empty();
        let rehearsed = fine.then(|| {
            let (setting, start) = (self.setting.clone(), self.start);
            let trail = Trail { setting, start, passed: self.passed, founding: self.founding };
            Rehearsed { plan: self.filled, states: self.states, back: self.back, trail }
        });
        Verdict { rehearsed, objections: self.objections, warnings }
    }
}

fn three(minutes: impl Fn(Point) -> Minutes) -> StepMinutes {
    StepMinutes {
        best: Some(minutes(Point::Best)),
        likely: Some(minutes(Point::Likely)),
        worst: Some(minutes(Point::Worst)),
    }
}

/// A fact as the plan writes it.
fn shown(fact: &Fact) -> String {
    serde_json::to_string(fact).unwrap_or_default()
}
