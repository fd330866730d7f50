//! Role and id -> the priority of a member that is given none.
//!
//! A function of role and id alone, so that a new member never changes those of the others; all of them
//! beat a unit out of its box, where its priority lies in the losing half.

use crate::model::document::Role;
use crate::model::traits::{Traits, Wins};
use crate::model::{MemberId, Priority};

/// The derived priority, or nothing where the platform's range is too small to keep members apart.
#[must_use]
pub fn derived(role: Role, id: MemberId, traits: &Traits) -> Option<Priority> {
    let (low, high) = (i64::from(traits.priority.range.0.0), i64::from(traits.priority.range.1.0));
    let factory = i64::from(traits.priority.factory.0);
    // where the lowest wins, everything is mirrored in the range
    let mirror = |value: i64| match traits.priority.wins {
        Wins::Highest => value,
        Wins::Lowest => low + high - value,
    };
    let losing_half = 2 * mirror(factory) <= low + high;
    let floor = if losing_half { mirror(factory) } else { low };
    let value = match role {
        Role::Primary => high,
        Role::Standby => high - 1,
        Role::Member => {
            floor + 1 + (i64::from(traits.member_id.range.1.0) - i64::from(id.0)) * step(floor, high, traits)?
        }
    };
    u32::try_from(mirror(value)).ok().filter(|value| (low..=high).contains(&i64::from(*value))).map(Priority)
}

/// How far apart two neighbouring ids lie.
fn step(floor: i64, high: i64, traits: &Traits) -> Option<i64> {
    match i64::from(traits.member_id.range.1.0) - i64::from(traits.member_id.range.0.0) {
        0 => Some(0),
        ids => Some((high - floor - 3).div_euclid(ids)).filter(|step| *step >= 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lower::tests::neutral;

    fn with(range: (u32, u32), factory: u32, wins: Wins, ids: (u16, u16)) -> Traits {
        let mut traits = neutral().traits;
        traits.priority.range = (Priority(range.0), Priority(range.1));
        traits.priority.factory = Priority(factory);
        traits.priority.wins = wins;
        traits.member_id.range = (MemberId(ids.0), MemberId(ids.1));
        traits
    }

    fn of(role: Role, id: u16, traits: &Traits) -> Option<u32> {
        derived(role, MemberId(id), traits).map(|priority| priority.0)
    }

    /// Step: (100 - 1 - 3) / 15 = 6. Common practice, no source: a unit out of its box loses.
    #[test]
    fn highest_wins_on_the_neutral_platform() {
        let traits = with((1, 100), 1, Wins::Highest, (1, 16));
        assert_eq!(of(Role::Primary, 9, &traits), Some(100));
        assert_eq!(of(Role::Standby, 2, &traits), Some(99));
        assert_eq!(of(Role::Member, 1, &traits), Some(92));
        assert_eq!(of(Role::Member, 3, &traits), Some(80));
        assert_eq!(of(Role::Member, 16, &traits), Some(2));
    }

    /// Mirrored in 0-255: member = 255 - 1 - (9 - id) * floor((255 - 0 - 3) / 8 = 31).
    #[test]
    fn lowest_wins_is_the_mirror() {
        let traits = with((0, 255), 255, Wins::Lowest, (1, 9));
        assert_eq!(of(Role::Primary, 1, &traits), Some(0));
        assert_eq!(of(Role::Standby, 2, &traits), Some(1));
        assert_eq!(of(Role::Member, 9, &traits), Some(254));
        assert_eq!(of(Role::Member, 1, &traits), Some(6));
    }

    /// Out of the box 128 of 1-255 is the middle: still the lower half, so floor = 128, step = (255 - 128 - 3) / 9 = 13.
    #[test]
    fn the_priority_out_of_the_box_is_the_floor_in_the_losing_half_only() {
        let middle = with((1, 255), 128, Wins::Highest, (0, 9));
        assert_eq!(of(Role::Member, 9, &middle), Some(129));
        assert_eq!(of(Role::Member, 0, &middle), Some(246));
        let winning = with((1, 255), 200, Wins::Highest, (0, 9));
        assert_eq!(of(Role::Member, 9, &winning), Some(2));
    }

    #[test]
    fn one_legal_id_has_no_step_and_a_small_range_none_either() {
        assert_eq!(of(Role::Member, 1, &with((1, 10), 1, Wins::Highest, (1, 1))), Some(2));
        let small = with((1, 15), 1, Wins::Highest, (1, 16));
        assert_eq!(of(Role::Member, 3, &small), None);
        assert_eq!(of(Role::Primary, 3, &small), Some(15));
    }
}
