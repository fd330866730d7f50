//! One act after another on a situation: what a person would see come of it.
//!
//! Unlike the judge, which reports all that is wrong, this stops at the first thing: for slips and ways back,
//! which are tried by the thousand.

use super::acts::Act;
use super::derive::Islands;
use super::document::{Fact, Until};
use super::facts::{Spot, View, learn};
use super::operation::{Operation, Refusal};
use super::places::spot_in;
use super::progress::{Done, Situation};
use super::rules::{Breach, Breaches, Rule, first_after_lawful_step, in_state};
use super::setting::Setting;
use super::table::UnitSet;

/// A situation, and the breaches of the baseline that last in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    /// The situation.
    pub situation: Situation,
    /// What is not held against a step, as long as it lasts.
    pub excused: Breaches,
    /// The islands of the situation's state.
    islands: Islands,
}

/// Why it does not go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The operation is refused.
    Refused(Refusal),
    /// This fact of a look is not so, or cannot be seen there.
    Unseen(usize),
    /// What is waited for does not come.
    Waiting,
    /// A rule is broken.
    Broken(Breach),
}

impl Standing {
    /// Before the first step.
    #[must_use]
    pub fn start(setting: &Setting) -> Self {
        let situation = Situation::start(setting);
        let mut excused = Breaches::default();
        in_state(setting, &situation, false, &mut excused);
        let islands = Islands::of(setting, &situation.state);
        Self { situation, excused, islands }
    }

    /// The same where a way back begins. What the baseline breaks once joining units count as leaving, and leaving
    /// ones as staying, is not held against the way either, unless the plan has cured it by then.
    #[must_use]
    pub fn going_back(&self, setting: &Setting, going: &Setting) -> Self {
        let breaches = |setting: &Setting, situation: &Situation| {
            let mut found = Breaches::default();
            in_state(setting, situation, false, &mut found);
            found
        };
        let first = Situation::start(setting);
        let mut excused = breaches(going, &first);
        if !excused.0.is_empty() {
            let (forward, now) = (breaches(setting, &first), breaches(going, &self.situation));
            let cured = |breach: &Breach| forward.0.contains(breach) && !self.excused.0.contains(breach);
            excused.0.retain(|breach| now.0.contains(breach) && !cured(breach));
        }
        Self { situation: self.situation.clone(), excused, islands: self.islands.clone() }
    }

    /// The incumbent island.
    #[must_use]
    pub fn incumbent(&self, setting: &Setting) -> UnitSet {
        self.situation.incumbent_among(setting, &self.situation.state, &self.islands)
    }

    /// The islands of the situation's state.
    pub(super) const fn islands(&self) -> &Islands {
        &self.islands
    }

    /// Where a step is done by whoever goes where its unit is now.
    #[must_use]
    pub fn spot(&self, setting: &Setting, acts: &[Act<'_>], position: usize) -> Spot {
        spot_in(setting, self.incumbent(setting), acts, position)
    }

    /// Does one act at a place; gives what an operation did. `waived`: a rule that is not asked.
    ///
    /// # Errors
    /// What a person, or a rule, has against it; where a rule is broken, the situation is the one in which it is.
    pub fn go(
        &mut self,
        setting: &Setting,
        act: &Act<'_>,
        spot: Spot,
        waived: Option<Rule>,
    ) -> Result<Option<Done>, Stop> {
        self.go_beside(setting, act, spot, waived, None)
    }

    /// The same, where another one does the act as it should be done. `beside`: how it stands then.
    ///
    /// # Errors
    /// As [`Standing::go`].
    pub fn go_beside(
        &mut self,
        setting: &Setting,
        act: &Act<'_>,
        spot: Spot,
        waived: Option<Rule>,
        beside: Option<&Self>,
    ) -> Result<Option<Done>, Stop> {
        match act {
            Act::Do(operation) => self.operate_beside(setting, *operation, waived, beside).map(Some),
            Act::Await(unit, until) => {
                let reached = match until {
                    Until::Up => self.situation.state.units[*unit].powered,
                    Until::Joined | Until::Ready => self.incumbent(setting).contains(*unit),
                };
                if reached && *until == Until::Ready {
                    self.situation.found_ready(*unit);
                }
                if reached { Ok(None) } else { Err(Stop::Waiting) }
            }
            Act::Expect(facts) => self.look(setting, facts, spot).map(|()| None),
        }
    }

    /// Does one operation.
    ///
    /// # Errors
    /// It is refused, or breaks a rule.
    pub fn operate(&mut self, setting: &Setting, operation: Operation, waived: Option<Rule>) -> Result<Done, Stop> {
        self.operate_beside(setting, operation, waived, None)
    }

    fn operate_beside(
        &mut self,
        setting: &Setting,
        operation: Operation,
        waived: Option<Rule>,
        beside: Option<&Self>,
    ) -> Result<Done, Stop> {
        let done = self.situation.step_among(setting, &self.islands, operation).map_err(Stop::Refused)?;
        let counts = |breach: &Breach| !self.excused.0.contains(breach) && waived != Some(breach.rule);
        // what the other one is excused for is all that its cold start breaks
        let lawful = beside.filter(|other| other.excused.0.iter().all(|breach| self.excused.0.contains(breach)));
        let lawful = lawful.map(|other| (&other.situation, other.incumbent(setting)));
        let breach = first_after_lawful_step(setting, &self.situation, operation, &done, counts, lawful);
        self.situation = done.after.clone();
        self.islands = done.islands.clone();
        if let Some(breach) = breach {
            return Err(Stop::Broken(breach));
        }
        if !self.excused.0.is_empty() {
            let mut now = Breaches::default();
            in_state(setting, &self.situation, false, &mut now);
            self.excused.0.retain(|breach| now.0.contains(breach));
        }
        Ok(done)
    }

    /// Compares facts, and learns from those that are so.
    fn look(&mut self, setting: &Setting, facts: &[Fact], spot: Spot) -> Result<(), Stop> {
        let view = View::among(setting, &self.situation, &self.islands);
        let seen: Vec<bool> = facts.iter().map(|fact| view.shows(spot, fact)).collect();
        facts
            .iter()
            .zip(&seen)
            .filter(|(_, seen)| **seen)
            .for_each(|(fact, _)| learn(setting, &mut self.situation, fact));
        let first = seen.iter().position(|seen| !seen);
        first.map_or(Ok(()), |position| Err(Stop::Unseen(position)))
    }
}

/// Whether a person at a place sees that a fact is so.
#[must_use]
pub fn is_seen(setting: &Setting, situation: &Situation, spot: Spot, fact: &Fact) -> bool {
    View::new(setting, situation).shows(spot, fact)
}
