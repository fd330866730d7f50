//! A route where there seemed to be none: with units switched off meanwhile, or by whatever consents allow.
//!
//! Who is cut off while something is open leads itself and comes back as the loser of a merge; switched off, it boots
//! in instead. Where another unit may lead, the stack can be held together from its side: whoever led, or is beyond
//! what is open, is off until it is whole again.

use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::UnitSet;

use super::Route;
use super::bound::item;
use super::cuts::{cut_off, cut_off_from};
use super::pieces::piecewise;
use super::sequence::{Effort, sequence, widely};
use super::work::Work;

/// The cheapest that is found; only with units off, where the effort is little.
pub(super) fn otherwise(setting: &Setting, work: &Work, effort: Effort) -> Option<Route> {
    let own = cut_off(setting, work).and(setting.may_split);
    let paused = with_pauses(setting, work, own, effort);
    if paused.is_some() || effort == Effort::Little {
        return paused;
    }
    let wide = if setting.may_split.is_empty() { None } else { widely(setting, work) };
    let found = piecewise(setting, work).into_iter().chain(wide);
    let found = found.min_by_key(|route| route.cost.first(item::HALF_PROTECTED));
    found.or_else(|| led_by_others(setting, work, own))
}

/// A route on which some units that may be off are switched off meanwhile.
fn with_pauses(setting: &Setting, work: &Work, pauses: UnitSet, effort: Effort) -> Option<Route> {
    if pauses.is_empty() {
        return None;
    }
    let work = Work { pauses, ..work.clone() }.touched(setting);
    sequence(setting, &work, None, effort).ok()
}

/// The same with those switched off who are cut off from another that may lead; `tried`: who was off before.
fn led_by_others(setting: &Setting, work: &Work, tried: UnitSet) -> Option<Route> {
    let start = Situation::start(setting).memory;
    let others = setting.may_lead.and(start.live).minus(setting.leaving);
    let mut pauses = vec![tried];
    for lead in others.iter().filter(|unit| Some(*unit) != start.leader) {
        let far = cut_off_from(setting, work, lead).and(setting.may_split).and(setting.may_restart);
        if !pauses.contains(&far) {
            pauses.push(far);
        }
    }
    pauses.into_iter().skip(1).find_map(|far| with_pauses(setting, work, far, Effort::Full))
}
