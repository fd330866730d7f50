//! A route where there seemed to be none: with units switched off meanwhile, or by whatever consents allow.
//!
//! Who is cut off while something is open leads itself and comes back as the loser of a merge; switched off, it boots
//! in instead. Where another unit may lead, the stack can be held together from its side: whoever led, or is beyond
//! what is open, is off until it is whole again.

use crate::model::names::MemberId;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::UnitSet;
use crate::model::traits::Admission;

use super::Route;
use super::bound::item;
use super::cuts::{cut_off, cut_off_from};
use super::pieces::piecewise;
use super::sequence::{Effort, sequence, widely};
use super::work::Work;

/// The cheapest that is found; only with units off, where the effort is little.
pub(super) fn otherwise(setting: &Setting, work: &Work, effort: Effort) -> Option<Route> {
    let own = cut_off(setting, work).and(setting.may_split);
    let exchanged = exchanged(setting, work).and(setting.may_split).and(setting.may_restart);
    let paused = with_pauses(setting, work, own, effort).or_else(|| with_pauses(setting, work, exchanged, effort));
    if paused.is_some() || effort == Effort::Little {
        return paused;
    }
    let wide = if setting.may_split.is_empty() { None } else { widely(setting, work) };
    let found = piecewise(setting, work).into_iter().chain(wide);
    let found = found.min_by_key(|route| route.cost.first(item::HALF_PROTECTED));
    found.or_else(|| led_by_others(setting, work, own))
}

/// Those who take each other's ids where no third id can be lent: none is free, or the stack lets nobody in with it.
/// With one of them off the other takes its new id, and the first boots in with its own.
fn exchanged(setting: &Setting, work: &Work) -> UnitSet {
    let before = &setting.baseline.units;
    let taken = |id: MemberId| setting.units.ids().any(|unit| before[unit].saved_id == id);
    let (low, high) = setting.traits.member_id.range;
    if setting.traits.admission != Admission::Id && !(low.0..=high.0).all(|id| taken(MemberId(id))) {
        return UnitSet::EMPTY;
    }
    let given_up = |id: MemberId| work.ids.iter().any(|(unit, _)| before[*unit].saved_id == id);
    work.ids.iter().filter(|(_, id)| given_up(*id)).map(|(unit, _)| *unit).collect()
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
