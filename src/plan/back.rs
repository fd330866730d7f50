//! A situation on the way of a plan -> the operations that lead back to the baseline.
//!
//! The same search over the model, from where the stack is to where it was. The joining units are the ones that
//! leave; a box that was taken out is still as it was when it was switched off, and is cabled before it is
//! switched on again, so that it boots into its stack. A way back need not be the least: the search is short.

use std::cell::Cell;

use crate::model::document::{Role, Status};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::UnitSet;

use super::Route;
use super::polish::polished;
use super::sequence::{Effort, backwards, sequence};
use super::spare::{Spare, spares};
use super::work::{Work, work};

/// How often the longer searches may end without a way; whoever undid so many steps in vain seldom finds one later.
const PATIENCE: u32 = 3;

/// Looks for ways back from one situation after the other.
#[derive(Debug)]
pub struct WaysBack<'a> {
    setting: &'a Setting,
    patience: Cell<u32>,
}

impl<'a> WaysBack<'a> {
    /// The ways back to the baseline of a setting.
    #[must_use]
    pub const fn of(setting: &'a Setting) -> Self {
        Self { setting, patience: Cell::new(PATIENCE) }
    }

    /// Operations that lead from a situation back to the baseline; none where the search finds none.
    #[must_use]
    pub fn from(&self, situation: &Situation) -> Option<Vec<Operation>> {
        let here = from_here(self.setting, situation);
        let returning = returning(self.setting, situation);
        let work = work(&here);
        let work = Work { pauses: work.pauses.or(returning), ..work }.touched(&here);
        let route = backwards(&here, &work, None).or_else(|| self.longer(&here, &work))?;
        let route = polished(&here, route, true);
        Some(route.stages.into_iter().flat_map(|(_, operations)| operations).chain(route.steps).collect())
    }

    fn longer(&self, here: &Setting, work: &Work) -> Option<Route> {
        if self.patience.get() == 0 {
            return None;
        }
        let found = sequence(here, work, None, Effort::Little).ok().or_else(|| over_a_spare(here, work));
        if found.is_none() {
            self.patience.set(self.patience.get() - 1);
        }
        found
    }
}

fn over_a_spare(here: &Setting, work: &Work) -> Option<Route> {
    let (wider, spare) = spares(here, work).into_iter().find(|(_, spare)| is_known(here, spare))?;
    backwards(&wider, work, Some(&spare)).or_else(|| sequence(&wider, work, Some(&spare), Effort::Little).ok())
}

/// The cable that the plan itself lays for a while.
fn is_known(here: &Setting, spare: &Spare) -> bool {
    match spare.row {
        Some(CableRow::Units(a, b)) => here.cable_between(a, b).is_some(),
        Some(CableRow::Far(..)) | None => false,
    }
}

/// Boxes that were taken out and come in again.
fn returning(setting: &Setting, situation: &Situation) -> UnitSet {
    let out = |unit: &UnitSet| unit.iter().filter(|unit| !situation.state.units[*unit].powered).collect::<UnitSet>();
    out(&setting.leaving.minus(setting.dead)).iter().filter(|unit| setting.baseline.units[*unit].powered).collect()
}

/// The setting of the way back: this situation is its baseline.
fn from_here(setting: &Setting, situation: &Situation) -> Setting {
    let (joining, baseline) = (UnitSet::EMPTY, situation.state.clone());
    let mut here = Setting { joining, baseline, ..setting.going_back() };
    for unit in setting.units.ids() {
        let row = &mut here.units[unit];
        row.status = if setting.joining.contains(unit) { Status::Leaving } else { Status::Live };
        if setting.baseline.units[unit].primary {
            row.role = Role::Primary;
        } else if row.role == Role::Primary {
            row.role = Role::Member;
        }
    }
    // the one that led the baseline may always lead
    here.may_lead = setting.units.ids().filter(|unit| setting.baseline.units[*unit].primary).collect::<UnitSet>();
    here.may_lead = here.may_lead.or(setting.may_lead);
    here.was_live = situation.memory.was_live;
    here.kept_pairs = setting.kept_pairs.and(situation.state.running.pairs);
    here
}
