//! A sequence of steps, and the same with one slip in it.

use std::borrow::Cow;

use super::Slip;
use super::aside::{Course, Place, unplugged};
use super::list::misplugged;
use super::misplaced::Elsewhere;
use crate::model::acts::Act;
use crate::model::facts::{Spot, View, learn};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::reached::differences;
use crate::model::replay::{Standing, Stop};
use crate::model::rules::{Rule, stays_up};
use crate::model::setting::{CableRow, Setting};
use crate::model::table::CableId;

/// Steps, and where each of them stands when nobody errs.
pub struct Script<'a> {
    /// What all of it is about.
    pub setting: &'a Setting,
    /// What is done.
    pub acts: &'a [Act<'a>],
    founding: Option<usize>,
    /// A rule that may break.
    waived: Option<Rule>,
    /// Before each step, and after the last.
    course: Vec<Standing>,
    /// What is known of each of these.
    places: Vec<Place>,
    spots: Vec<Spot>,
    /// Looks that may be taken away: what they would catch is noted, and the replay goes on.
    soft: Vec<bool>,
}

/// How a replay with a slip ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// At this step somebody sees that something is wrong.
    Caught(usize),
    /// Nothing breaks, and the end is the target.
    Harmless,
    /// A rule breaks at this step; one past the last for an end that is not the target.
    Broken(usize, Rule),
}

/// A replay with a slip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replayed {
    /// How it ends.
    pub end: End,
    /// Why it does not go on, if a step stops it.
    pub stop: Option<Stop>,
    /// Looks that may be taken away and would have caught it before that.
    pub noticed: Vec<usize>,
}

impl Replayed {
    /// Whether nobody notices before it hurts.
    #[must_use]
    pub fn is_dangerous(&self) -> bool {
        matches!(self.end, End::Broken(..)) && self.noticed.is_empty()
    }
}

impl<'a> Script<'a> {
    /// Replays the steps as they are meant; none if one of them is refused, fails or breaks a rule.
    /// `founding`: the last stage step on the first unit of a new stack.
    #[must_use]
    pub fn new(setting: &'a Setting, acts: &'a [Act<'a>], founding: Option<usize>) -> Option<Self> {
        Self::from(setting, Standing::start(setting), acts, founding, None)
    }

    /// The same on a way back: from where it begins, under every rule but the one that it may break.
    #[must_use]
    pub fn way_back(going: &'a Setting, from: Standing, acts: &'a [Act<'a>]) -> Option<Self> {
        Self::from(going, from, acts, None, Some(Rule::Settled))
    }

    fn from(
        setting: &'a Setting,
        mut standing: Standing,
        acts: &'a [Act<'a>],
        founding: Option<usize>,
        waived: Option<Rule>,
    ) -> Option<Self> {
        let mut script = Self {
            setting,
            acts,
            founding,
            waived,
            course: vec![standing.clone()],
            places: vec![Place::default()],
            spots: Vec::new(),
            soft: vec![false; acts.len()],
        };
        for (position, act) in acts.iter().enumerate() {
            let at = standing.spot(setting, acts, position);
            script.spots.push(at);
            let before = standing.islands().clone();
            let done = standing.go(setting, act, at, waived).ok()?;
            script.places.push(Place::after(&before, done.as_ref()));
            script.found(setting, &mut standing, position);
            script.course.push(standing.clone());
        }
        Some(script)
    }

    /// The same, with looks that may be taken away.
    #[must_use]
    pub fn with_soft(self, soft: Vec<bool>) -> Self {
        Self { soft, ..self }
    }

    /// Whether any look may be taken away.
    #[must_use]
    pub fn has_soft(&self) -> bool {
        self.soft.contains(&true)
    }

    /// The situation before a step when nobody errs; after the last one, for one past it.
    #[must_use]
    pub fn before(&self, step: usize) -> Option<&Situation> {
        self.course.get(step).map(|standing| &standing.situation)
    }

    /// The same, with the breaches of the baseline that last.
    #[must_use]
    pub fn standing(&self, step: usize) -> Option<&Standing> {
        self.course.get(step)
    }

    /// Where a step is done.
    #[must_use]
    pub fn spot(&self, step: usize) -> Spot {
        self.spots.get(step).copied().unwrap_or(Spot::Stack)
    }

    fn found(&self, setting: &Setting, standing: &mut Standing, position: usize) {
        if self.founding == Some(position) {
            standing.situation.found_stack(setting);
        }
    }

    /// Replays the steps with a slip.
    #[must_use]
    pub fn replay(&self, slip: Slip) -> Replayed {
        self.replay_by(slip, Some(usize::MAX), |_, _| {})
    }

    /// The same; `see` is shown the situation before each step that still comes, one past the last included.
    #[must_use]
    pub fn replay_seen(&self, slip: Slip, see: impl FnMut(usize, &Situation)) -> Replayed {
        self.replay_by(slip, Some(1), see)
    }

    /// The same, every step done and settled, as [`Script::replay`] is held to; a cold start that is known from before
    /// the step, or from the course, is not tried again here either.
    #[must_use]
    pub fn replay_in_full(&self, slip: Slip) -> Replayed {
        self.replay_by(slip, None, |_, _| {})
    }

    /// `aside`: at most how many steps are taken at once where nothing but cables is wrong and nothing comes of it;
    /// none: each is done.
    fn replay_by(&self, slip: Slip, aside: Option<usize>, mut see: impl FnMut(usize, &Situation)) -> Replayed {
        let mut noticed = Vec::new();
        let (first, last) = slip.steps();
        let Some(mut standing) = self.course.get(first).cloned() else {
            return Replayed { end: End::Harmless, stop: None, noticed };
        };
        let setting = self.setting_of(slip);
        if let Err((position, stop)) = self.err(&setting, &mut standing, slip, aside.is_some(), &mut noticed) {
            return Replayed { end: ended(position, stop), stop: Some(stop), noticed };
        }
        let course = Course { setting: &setting, acts: self.acts, standings: &self.course, places: &self.places };
        let mut position = last + 1;
        while let Some(act) = self.acts.get(position) {
            if self.course.get(position) == Some(&standing) {
                return Replayed { end: End::Harmless, stop: None, noticed };
            }
            see(position, &standing.situation);
            if let Some(further) = aside.and_then(|most| course.along(&standing, position, most)) {
                (position, standing) = further;
                continue;
            }
            // a person goes where the step's unit is now
            let at = standing.spot(&setting, self.acts, position);
            match standing.go_beside(&setting, act, at, self.waived, self.course.get(position + 1)) {
                Ok(_) => {}
                Err(Stop::Unseen(_)) if self.soft.get(position) == Some(&true) => noticed.push(position),
                Err(stop) => return Replayed { end: ended(position, stop), stop: Some(stop), noticed },
            }
            self.found(&setting, &mut standing, position);
            position += 1;
        }
        see(self.acts.len(), &standing.situation);
        let reached = differences(&setting, &standing.situation.state).0.is_empty();
        let end = if reached { End::Harmless } else { End::Broken(self.acts.len(), Rule::ReachesTarget) };
        Replayed { end, stop: None, noticed }
    }

    /// The setting, with the cable that a misplug makes.
    fn setting_of(&self, slip: Slip) -> Cow<'a, Setting> {
        let Slip::Misplug { step, instead_of, into } = slip else { return Cow::Borrowed(self.setting) };
        let Some(Act::Do(Operation::Connect(cable))) = self.acts.get(step) else { return Cow::Borrowed(self.setting) };
        let row = misplugged(self.setting, *cable, instead_of, into);
        if cable_of(self.setting, row).is_some() {
            return Cow::Borrowed(self.setting);
        }
        let mut wider = self.setting.clone();
        let id = wider.cables.push(row);
        row.unit_ends().for_each(|port| wider.ports[port].cables.push(id));
        Cow::Owned(wider)
    }

    fn unplugged(&self, setting: &Setting, step: usize, cable: CableId) -> Option<Standing> {
        unplugged(setting, self.course.get(step)?, self.places.get(step)?, cable)
    }

    /// Does what the slip does in the place of its steps.
    fn err(
        &self,
        setting: &Setting,
        standing: &mut Standing,
        slip: Slip,
        aside: bool,
        noticed: &mut Vec<usize>,
    ) -> Result<(), (usize, Stop)> {
        let now = standing.situation.state.now;
        let act = |step: usize| self.acts.get(step).ok_or((step, Stop::Waiting));
        let meant = |standing: &mut Standing, step: usize| {
            let at = standing.spot(setting, self.acts, step);
            standing.go(setting, act(step)?, at, self.waived).map(drop).map_err(|stop| (step, stop))
        };
        match slip {
            Slip::LeaveOut(_) => {}
            Slip::Repeat(step) => {
                match self.course.get(step + 1).filter(|_| self.founding != Some(step)) {
                    Some(once) => *standing = once.clone(),
                    None => meant(standing, step)?,
                }
                meant(standing, step)?;
            }
            Slip::Swap(step) => {
                meant(standing, step + 1)?;
                meant(standing, step)?;
            }
            Slip::Misplug { step, instead_of, into } => {
                if let Some(Act::Do(Operation::Connect(cable))) = self.acts.get(step)
                    && let Some(wrong) = cable_of(setting, misplugged(setting, *cable, instead_of, into))
                {
                    standing.operate(setting, Operation::Connect(wrong), self.waived).map_err(|stop| (step, stop))?;
                }
            }
            Slip::Mistype(step, other) | Slip::WrongUnit(step, other) => {
                self.done_instead(setting, standing, step, other, aside).map_err(|stop| (step, stop))?;
            }
            Slip::Misplace { first, last, at } => {
                for step in first..=last {
                    self.misplaced(standing, act(step)?, step, at, noticed).map_err(|stop| (step, stop))?;
                }
            }
        }
        let (first, last) = slip.steps();
        (first..=last).for_each(|step| self.found(setting, standing, step));
        // ticks only order boots: where nothing booted in them, they are as if nobody had erred
        let meant = self.course.get(last + 1).map_or(now, |meant| meant.situation.state.now);
        let state = &mut standing.situation.state;
        if setting.units.ids().all(|unit| state.units[unit].booted_at <= meant) {
            state.now = meant;
        }
        Ok(())
    }

    /// Another operation in the place of a step's.
    fn done_instead(
        &self,
        setting: &Setting,
        standing: &mut Standing,
        step: usize,
        other: Operation,
        aside: bool,
    ) -> Result<(), Stop> {
        // of many units it needs no settling to know that they may not go down
        if let Some(breach) = stays_up(setting, &standing.situation, other) {
            return Err(Stop::Broken(breach));
        }
        match other {
            Operation::Disconnect(cable) if aside && let Some(after) = self.unplugged(setting, step, cable) => {
                *standing = after;
                Ok(())
            }
            _ => standing.operate(setting, other, self.waived).map(drop),
        }
    }

    /// One step of a run that is read and typed at another place.
    fn misplaced(
        &self,
        standing: &mut Standing,
        act: &Act<'_>,
        step: usize,
        at: Spot,
        noticed: &mut Vec<usize>,
    ) -> Result<(), Stop> {
        let Some(meant) = self.before(step) else { return Ok(()) };
        match act {
            Act::Await(..) => standing.go(self.setting, act, at, self.waived).map(drop),
            Act::Expect(facts) => {
                let found = standing.situation.clone();
                let there = Elsewhere::new(self.setting, &found, meant, at);
                let view = View::new(self.setting, &found);
                let mut unseen = None;
                for (position, fact) in facts.iter().enumerate() {
                    match there.fact(fact).filter(|fact| view.shows(at, fact)) {
                        Some(fact) => learn(self.setting, &mut standing.situation, &fact),
                        None => unseen = unseen.or(Some(position)),
                    }
                }
                match unseen {
                    None => Ok(()),
                    Some(_) if self.soft.get(step) == Some(&true) => {
                        noticed.push(step);
                        Ok(())
                    }
                    Some(position) => Err(Stop::Unseen(position)),
                }
            }
            Act::Do(operation) => {
                let found = standing.situation.clone();
                match Elsewhere::new(self.setting, &found, meant, at).operation(*operation) {
                    Some(other) => standing.operate(self.setting, other, self.waived).map(drop),
                    None => Err(Stop::Waiting),
                }
            }
        }
    }
}

fn cable_of(setting: &Setting, row: CableRow) -> Option<CableId> {
    let first = row.unit_ends().next()?;
    setting.ports[first].cables.iter().copied().find(|cable| setting.cables[*cable] == row)
}

fn ended(position: usize, stop: Stop) -> End {
    match stop {
        Stop::Refused(_) | Stop::Unseen(_) | Stop::Waiting => End::Caught(position),
        Stop::Broken(breach) => End::Broken(position, breach.rule),
    }
}
