//! Items 1 to 5 of the cost of bare operations, reckoned from the text of the model and not by the
//! ledger that the planner and the judge share.

use ringwright::model::derive::{Link, SideLink, link, protected, side_link};
use ringwright::model::document::Side;
use ringwright::model::operation::Operation;
use ringwright::model::progress::{Done, Situation};
use ringwright::model::setting::Setting;
use ringwright::model::state::State;
use ringwright::model::table::{Id, UnitId, UnitSet};
use ringwright::model::traits::Estimate;

/// Member-minutes, minutes unprotected (both in hundredths), cables, links not typed, steps.
pub type Cost = [i64; 5];

/// The links, by unit sides, that have been up. Up to five units.
pub type Seen = u128;

/// What the reckoning needs to know of a change.
#[derive(Clone, Copy)]
pub struct Price<'a> {
    setting: &'a Setting,
    /// Baseline and target are both rings: only then item 2 counts.
    rings: bool,
}

impl<'a> Price<'a> {
    pub fn new(setting: &'a Setting) -> Self {
        let live = Situation::start(setting).memory.live;
        let stay = setting.units.ids().filter(|unit| setting.stays(*unit)).collect();
        let ring = |state: &State, units: UnitSet| units.len() > 1 && protected(setting, state, units);
        Self { setting, rings: ring(&setting.baseline, live) && ring(&setting.target, stay) }
    }

    /// The links that are up before the change.
    pub fn seen_at_first(&self) -> Seen {
        self.up(&self.setting.baseline)
    }

    /// What one operation adds. Stages are not told apart: until something else is done, they pass in
    /// the baseline's links, and where item 2 counts those are a ring.
    pub fn of(&self, seen: &mut Seen, before: &Situation, operation: Operation, done: &Done) -> Cost {
        let mut cost = [0, 0, 0, 0, 1];
        let restart = likely(&self.setting.traits.minutes.restart);
        self.pass(&mut cost, before, &before.state, self.own_minutes(operation));
        done.events.downs.iter().for_each(|down| self.pass(&mut cost, before, down, restart));
        cost[2] = i64::from(matches!(operation, Operation::Connect(_) | Operation::Disconnect(_)));
        let untyped = is_untyped(operation);
        for moment in &done.events.passing {
            let fresh = self.up(&moment.state) & !*seen;
            if fresh != 0 && (moment.by_boot || untyped) {
                cost[3] += i64::from((fresh & self.at(before.memory.live)).count_ones());
            }
            *seen |= fresh;
        }
        cost
    }

    /// Lets time pass in a state with what is remembered of a situation.
    fn pass(&self, cost: &mut Cost, known: &Situation, state: &State, minutes: i64) {
        if minutes == 0 {
            return;
        }
        let live = known.memory.live;
        let out = live.minus(self.setting.leaving).minus(known.incumbent_in(self.setting, state));
        cost[0] += minutes * out.len() as i64;
        if self.rings && !protected(self.setting, state, live) {
            cost[1] += minutes;
        }
    }

    fn own_minutes(&self, operation: Operation) -> i64 {
        let minutes = &self.setting.traits.minutes;
        match operation {
            Operation::PowerOn(_) => likely(&minutes.power) + likely(&minutes.restart),
            Operation::PowerOff(_) => likely(&minutes.power),
            Operation::Restart(_) => 0,
            Operation::Connect(_) | Operation::Disconnect(_) => likely(&minutes.cable),
            Operation::Save(_) => likely(&minutes.save),
            Operation::Activate(_) => likely(&minutes.activate),
            Operation::Wipe(_)
            | Operation::HandOver(_)
            | Operation::SetMode(..)
            | Operation::SetKey(..)
            | Operation::Admit(..)
            | Operation::Forget(..)
            | Operation::AssignId(..)
            | Operation::SetPriority(..)
            | Operation::DisablePort(_)
            | Operation::EnablePort(_)
            | Operation::BindPort(..)
            | Operation::ReleasePort(_)
            | Operation::FormUplink(..)
            | Operation::DropUplink(_)
            | Operation::AddLeg(_)
            | Operation::DropLeg(_)
            | Operation::GuardSplit(_)
            | Operation::UnguardSplit(_) => likely(&minutes.command),
        }
    }

    fn up(&self, state: &State) -> Seen {
        let links = state.plugged.iter().filter(|cable| link(self.setting, state, *cable) == Link::Stack);
        let sides = links.filter_map(|cable| side_link(self.setting, state, cable));
        sides.map(|link| 1 << number(link)).fold(0, |all, bit: Seen| all | bit)
    }

    /// Every link that has an end at one of some units.
    fn at(&self, units: UnitSet) -> Seen {
        let sides =
            || self.setting.units.ids().flat_map(|unit| [Side::None, Side::West, Side::East].map(|side| (unit, side)));
        let links = sides().flat_map(|one| sides().filter(move |other| one <= *other).map(move |other| (one, other)));
        let there = links.filter(|(one, other)| units.contains(one.0) || units.contains(other.0));
        there.map(|link| 1 << number(link)).fold(0, |all, bit: Seen| all | bit)
    }
}

pub fn likely(estimate: &Estimate) -> i64 {
    estimate.likely.as_hundredths()
}

/// A link that comes up in this operation was made by hands, by power or by a restart.
fn is_untyped(operation: Operation) -> bool {
    matches!(
        operation,
        Operation::Connect(_)
            | Operation::Disconnect(_)
            | Operation::PowerOn(_)
            | Operation::PowerOff(_)
            | Operation::Restart(_)
            | Operation::Wipe(_)
    )
}

/// A number for a pair of unit sides, whichever stands first.
fn number((one, other): SideLink) -> usize {
    let side = |(unit, side): (UnitId, Side)| 3 * unit.position() + side as usize;
    let (low, high) = (side(one).min(side(other)), side(one).max(side(other)));
    high * (high + 1) / 2 + low
}

/// The sum of two costs.
pub fn sum(mut one: Cost, other: Cost) -> Cost {
    one.iter_mut().zip(other).for_each(|(mine, theirs)| *mine += theirs);
    one
}
