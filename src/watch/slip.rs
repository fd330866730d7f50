//! A step left out, or done in another place than its own -> what that would break first, found by replay.
//!
//! Only a few steps are looked ahead: what a slip breaks, it breaks soon, and what it breaks much later is the
//! reason of the later step.

use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::rules::{Breach, Breaches, Rule, Subject, after_lawful_step, in_state, up_unread};
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, UnitId};

use super::trace::Traced;

/// So many steps are looked ahead.
const AHEAD: usize = 24;

/// What a slip breaks first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Harm {
    /// What is broken.
    pub what: What,
    /// The operation in which it shows.
    pub at: Operation,
}

/// What is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// A rule.
    Rule(Breach),
    /// A link comes up before anybody could read where its cable leads.
    Unread(CableId),
    /// A unit does not come into the stack where it should.
    Outside(UnitId),
}

/// Slips of one route.
pub struct Slips<'a> {
    setting: &'a Setting,
    trace: &'a [Traced],
    /// Breaches that the baseline itself has.
    inherited: Breaches,
}

impl<'a> Slips<'a> {
    /// Slips of this route.
    #[must_use]
    pub fn new(setting: &'a Setting, trace: &'a [Traced]) -> Self {
        let mut inherited = Breaches::default();
        in_state(setting, &Situation::start(setting), false, &mut inherited);
        Self { setting, trace, inherited }
    }

    /// What leaving a step out breaks.
    #[must_use]
    pub fn left_out(&self, position: usize) -> Option<Harm> {
        let step = self.trace.get(position)?;
        // as many ticks as if it had been done, so that later boots compare
        let mut situation = step.before.clone();
        situation.state.now += 1;
        let from = match step.stages {
            None => position + 1,
            Some(unit) => {
                let (staged, from) = self.rest_of_stage(situation, position + 1, unit)?;
                situation = staged;
                from
            }
        };
        self.go_on(situation, from)
    }

    /// What doing a step before the one before it breaks.
    #[must_use]
    pub fn earlier(&self, position: usize) -> Option<Harm> {
        let (one, other) = (self.trace.get(position.checked_sub(1)?)?, self.trace.get(position)?);
        if one.stages != other.stages {
            return None;
        }
        let mut situation = one.before.clone();
        for operation in [other.operation, one.operation] {
            match self.step(&situation, operation) {
                Stepped::Fine(after, _) => situation = after,
                Stepped::Harmed(harm) => return Some(harm),
                Stepped::Refused => return None,
            }
        }
        if one.stages.is_some() { None } else { self.go_on(situation, position + 1) }
    }

    /// A newcomer is alone while it is staged: the rest of its own staging is replayed, and what comes out of it
    /// is put where the change first meets it.
    fn rest_of_stage(&self, mut situation: Situation, from: usize, unit: UnitId) -> Option<(Situation, usize)> {
        let mut next = from;
        while let Some(step) = self.trace.get(next).filter(|step| step.stages == Some(unit)) {
            situation = situation.step(self.setting, step.operation).ok()?.after.looked(self.setting);
            next += 1;
        }
        if self.setting.founder() == Some(unit) {
            situation.found_stack(self.setting);
            return Some((situation, next));
        }
        let meets = |step: &Traced| step.stages.is_none() && self.is_about(step.operation, unit);
        let met = next + self.trace.iter().skip(next).position(meets)?;
        let mut there = self.trace.get(met)?.before.clone();
        there.state.units[unit] = situation.state.units[unit];
        for port in self.setting.units[unit].ports.iter().copied() {
            there.state.ports[port] = situation.state.ports[port];
        }
        Some((there, met))
    }

    fn is_about(&self, operation: Operation, unit: UnitId) -> bool {
        let at_unit =
            |cable: CableId| self.setting.cables[cable].unit_ends().any(|port| self.setting.unit_of(port) == unit);
        match operation {
            Operation::Connect(cable) | Operation::Disconnect(cable) => at_unit(cable),
            _ => crate::model::operation::unit_of(self.setting, operation) == Some(unit),
        }
    }

    /// Goes on as planned until something breaks, or all is as it would have been.
    fn go_on(&self, mut situation: Situation, from: usize) -> Option<Harm> {
        for step in self.trace.iter().skip(from).take(AHEAD) {
            match self.step(&situation, step.operation) {
                Stepped::Harmed(harm) => return Some(harm),
                Stepped::Refused => return None,
                Stepped::Fine(after, joined) => {
                    if let Some(unit) = step.joined.minus(joined).first() {
                        return Some(Harm { what: What::Outside(unit), at: step.operation });
                    }
                    if after == step.after {
                        return None;
                    }
                    situation = after;
                }
            }
        }
        None
    }

    fn step(&self, before: &Situation, operation: Operation) -> Stepped {
        let Ok(done) = before.step(self.setting, operation) else { return Stepped::Refused };
        let breaches = after_lawful_step(self.setting, before, operation, &done);
        let fresh = breaches.0.into_iter().filter(|breach| !self.inherited.0.contains(breach));
        if let Some(breach) = fresh.min_by_key(|breach| plainness(self.setting, breach)) {
            return Stepped::Harmed(Harm { what: What::Rule(breach), at: operation });
        }
        if let Some(cable) = up_unread(self.setting, before, operation, &done) {
            return Stepped::Harmed(Harm { what: What::Unread(cable), at: operation });
        }
        Stepped::Fine(done.after.looked(self.setting), done.joined)
    }
}

/// Of several rules that break at once, the one whose consequence everybody understands comes first.
fn plainness(setting: &Setting, breach: &Breach) -> u8 {
    match breach.rule {
        // where nobody leads who may, all else breaks with it
        Rule::PrimaryKept => 0,
        Rule::NeverSplit => 1,
        Rule::NoLiveRestart => 2,
        Rule::NoIdClash => 3,
        Rule::UplinksUp => 7,
        Rule::NoStrayLink => match breach.subject {
            Subject::Cable(cable) if matches!(setting.cables[cable], CableRow::Far(..)) => 8,
            Subject::Cable(_) | Subject::Stack | Subject::Unit(_) | Subject::Uplink(_) | Subject::Piece(_) => 4,
        },
        Rule::ColdStart => 5,
        Rule::OneBrain => 6,
        Rule::LosesMerge => 9,
        Rule::Decided => 10,
        Rule::Settled => 11,
        Rule::SameKeys => 12,
        Rule::GroupFree => 13,
        Rule::ReachesTarget => 14,
    }
}

/// How a replayed step came out.
#[expect(clippy::large_enum_variant, reason = "it lives for one comparison, and most steps come out fine")]
enum Stepped {
    Fine(Situation, crate::model::table::UnitSet),
    Harmed(Harm),
    Refused,
}
