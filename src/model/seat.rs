//! The standby's seat of an island, as it is seen.

use std::cmp::Ordering;

use super::document::Role;
use super::election::{Ballot, able, compare, elect};
use super::setting::Setting;
use super::state::State;
use super::table::{UnitId, UnitSet};
use super::traits::StandbySeat;

/// Who may hold the seat: one, or all between whom the election order leaves it open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seat(UnitSet);

impl Seat {
    /// The seat of an island.
    #[must_use]
    pub fn of(setting: &Setting, state: &State, island: UnitSet) -> Self {
        if setting.traits.standby == StandbySeat::Sticky {
            return Self(island.iter().filter(|unit| state.units[*unit].standby).take(1).collect());
        }
        let able = able(state, island);
        let Some(elected) = elect(setting, state, Ballot::Seat, able) else { return Self(UnitSet::EMPTY) };
        let best = UnitSet::one(elected.winner);
        if elected.decided {
            return Self(best);
        }
        let ties = |unit: &UnitId| compare(setting, state, Ballot::Seat, *unit, elected.winner).0 == Ordering::Equal;
        Self(best.or(able.iter().filter(ties).collect()))
    }

    /// Whether a unit that does not lead may be seen as the standby, or as one that is not.
    #[must_use]
    pub fn fits(self, unit: UnitId, standby: bool) -> bool {
        if standby { self.0.contains(unit) } else { self.0 != UnitSet::one(unit) }
    }

    /// The role of a unit that does not lead; none where the seat is open or empty.
    #[must_use]
    pub fn role(self, unit: UnitId) -> Option<Role> {
        match self.0.len() {
            1 => Some(if self.0.contains(unit) { Role::Standby } else { Role::Member }),
            _ => None,
        }
    }
}
