//! What a plan costs, step by step: minutes that hurt, cables, links that no key was typed for.

use super::derive::{Link, SideLink, link, protected, side_link};
use super::document::Until;
use super::names::Minutes;
use super::operation::{Operation, by_hands, restarts};
use super::progress::{Done, Situation};
use super::setting::{Point, Setting};
use super::settle::Passing;
use super::state::State;
use super::table::UnitSet;

/// What a plan has cost so far. The stage of each unit is counted apart: stages run side by side.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ledger {
    /// Member-minutes of live units out of the stack.
    pub member_minutes: Minutes,
    /// Minutes unprotected after staging.
    pub unprotected: Minutes,
    /// Cables plugged and unplugged.
    pub cables: u32,
    /// Links to a live unit that first came up without a typed step.
    pub links_not_typed: u32,
    /// Steps that are no wait and no check.
    pub steps: u32,
    /// Links that have been up.
    seen: Vec<SideLink>,
}

/// Minutes of an operation itself, the down states of a restart not counted.
#[must_use]
pub fn own_minutes(setting: &Setting, operation: Operation, point: Point) -> Minutes {
    let minutes = &setting.traits.minutes;
    match operation {
        Operation::PowerOn(_) => minutes.power.at(point) + minutes.restart.at(point),
        Operation::PowerOff(_) => minutes.power.at(point),
        Operation::Restart(_) => Minutes::ZERO,
        Operation::Wipe(_) => minutes.command.at(point),
        Operation::Connect(_) | Operation::Disconnect(_) => minutes.cable.at(point),
        Operation::Save(_) => minutes.save.at(point),
        Operation::Activate(_) => minutes.activate.at(point),
        Operation::AssignId(..)
        | Operation::SetPriority(..)
        | Operation::HandOver(_)
        | Operation::SetMode(..)
        | Operation::SetKey(..)
        | Operation::Admit(..)
        | Operation::Forget(..)
        | Operation::DisablePort(_)
        | Operation::EnablePort(_)
        | Operation::BindPort(..)
        | Operation::ReleasePort(_)
        | Operation::FormUplink(..)
        | Operation::DropUplink(_)
        | Operation::AddLeg(_)
        | Operation::DropLeg(_)
        | Operation::GuardSplit(_)
        | Operation::UnguardSplit(_) => minutes.command.at(point),
    }
}

/// Minutes of a whole step, with every down state in it.
#[must_use]
pub fn step_minutes(setting: &Setting, operation: Operation, downs: usize, point: Point) -> Minutes {
    own_minutes(setting, operation, point) + setting.traits.minutes.restart.at(point).times(downs as i64)
}

/// Minutes of a wait.
#[must_use]
pub fn wait_minutes(setting: &Setting, until: Until, point: Point) -> Minutes {
    match until {
        Until::Ready => setting.traits.minutes.sync.at(point),
        Until::Up | Until::Joined => setting.traits.minutes.check.at(point),
    }
}

impl Ledger {
    /// A ledger that knows the links of the state before the change.
    #[must_use]
    pub fn open(setting: &Setting, start: &Situation) -> Self {
        let mut ledger = Self::default();
        ledger.seen.extend(up_links(setting, &start.state));
        ledger
    }

    /// Enters one operation. `staged`: its minutes do not count as unprotected.
    pub fn enter(&mut self, setting: &Setting, before: &Situation, operation: Operation, done: &Done, staged: bool) {
        self.steps += 1;
        self.cables += u32::from(matches!(operation, Operation::Connect(_) | Operation::Disconnect(_)));
        self.pass(setting, before, own_minutes(setting, operation, Point::Likely), staged);
        for down in &done.events.downs {
            let held = Situation { state: down.clone(), memory: before.memory };
            self.pass(setting, &held, setting.traits.minutes.restart.at(Point::Likely), staged);
        }
        let typed = !by_hands(operation) && !restarts(setting, operation);
        for passing in &done.events.passing {
            self.note_links(setting, before, passing, typed);
        }
    }

    /// Lets time pass in a situation.
    pub fn pass(&mut self, setting: &Setting, situation: &Situation, minutes: Minutes, staged: bool) {
        if minutes == Minutes::ZERO {
            return;
        }
        let stay = situation.memory.live.minus(setting.leaving);
        let out = stay.minus(situation.incumbent(setting));
        self.member_minutes += minutes.times(out.len() as i64);
        if !staged && !protected(setting, &situation.state, situation.memory.live) {
            self.unprotected += minutes;
        }
    }

    fn note_links(&mut self, setting: &Setting, before: &Situation, passing: &Passing, typed: bool) {
        for up in up_links(setting, &passing.state) {
            if self.seen.contains(&up) {
                continue;
            }
            self.seen.push(up);
            let ends = UnitSet::one(up.0.0).with(up.1.0);
            if ends.meets(before.memory.live) && (passing.by_boot || !typed) {
                self.links_not_typed += 1;
            }
        }
    }
}

fn up_links(setting: &Setting, state: &State) -> Vec<SideLink> {
    let up = state.plugged.iter().filter(|cable| link(setting, state, *cable) == Link::Stack);
    up.filter_map(|cable| side_link(setting, state, cable)).collect()
}

/// Whether a state is a ring: two or more live units that no single broken link splits.
#[must_use]
pub fn is_ring(setting: &Setting, state: &State, live: UnitSet) -> bool {
    live.len() >= 2 && protected(setting, state, live)
}
