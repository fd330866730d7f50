//! `reaches-target`: a last state against the target of a plan.

use super::names::Priority;
use super::rules::{Breaches, Rule, Subject};
use super::setting::Setting;
use super::state::{State, Unit};
use super::table::UnitId;

/// `reaches-target`: every unit, cable and setting in which a last state differs from the target.
#[must_use]
pub fn differences(setting: &Setting, last: &State) -> Breaches {
    let mut breaches = Breaches::default();
    for unit in setting.units.ids() {
        if !unit_reached(setting, last, unit) {
            breaches.now(Rule::ReachesTarget, Subject::Unit(unit));
        }
    }
    let target = &setting.target;
    for cable in last.plugged.minus(target.plugged).or(target.plugged.minus(last.plugged)).iter() {
        breaches.now(Rule::ReachesTarget, Subject::Cable(cable));
    }
    if last.running != target.running || last.saved != target.saved {
        breaches.now(Rule::ReachesTarget, Subject::Stack);
    }
    breaches
}

fn unit_reached(setting: &Setting, last: &State, unit: UnitId) -> bool {
    let (is, shall) = (&last.units[unit], &setting.target.units[unit]);
    if !setting.stays(unit) {
        return !is.powered;
    }
    let mut ports = setting.units[unit].ports.iter().copied();
    // a copy more than before is none lost
    // and who has the standby's seat, and by which priority, is for the stack to say
    let plain = |unit: &Unit| Unit { booted_at: 0, standby: false, counts: Priority(0), ..*unit };
    let row = Unit { copy: is.copy && shall.copy, ..plain(is) };
    row == plain(shall) && ports.all(|port| last.ports[port] == setting.target.ports[port])
}
