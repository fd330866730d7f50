//! A route where there seemed to be none: with units switched off meanwhile, or by whatever consents allow.
//!
//! Who is cut off while something is open leads itself and comes back as the loser of a merge; switched off, it boots
//! in instead. Where another unit may lead, the stack can be held together from its side: whoever led, or is beyond
//! what is open, is off until it is whole again. At last what leads away from the target as it seems comes first, by a
//! search of its own, and everything else after it: another leads meanwhile, by a weight or an id that is lent to it, and
//! gives the lead up by a restart that cuts nobody off; or units are switched off.
//!
//! Nothing here proves a route the least: these searches come where the others found none.

use std::borrow::Cow;

use crate::model::names::MemberId;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};
use crate::model::traits::{Admission, Criterion};

use super::Route;
use super::bound::item;
use super::cuts::{cut_off, cut_off_from, cut_off_without};
use super::pieces::piecewise;
use super::search::{End, FIRST_ITEMS, GREEDY, Goal, NOVEL, Search};
use super::sequence::{Effort, HASTES, LINK_BUDGET, sequence, widely};
use super::units::{first_id, first_priority};
use super::work::Work;

/// Situations that the search may open by which units are switched off.
const OFF_BUDGET: usize = 300;

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
    let wide = work.with_legs(setting).widened(setting);
    let strangers = others.iter().filter(|unit| !setting.target.units[*unit].primary);
    let led =
        strangers.filter_map(|unit| once_led(setting, &wide, unit)).min_by_key(|route| route.cost.first(FIRST_ITEMS));
    let mut soon = pauses.iter().skip(1).filter_map(|far| with_pauses(setting, work, *far, Effort::Full));
    led.or_else(|| soon.next()).or_else(|| {
        // whoever leads meanwhile restarts to give the lead back: the piece without the one that shall have it is off
        let back = others.iter().map(|lead| cut_off_without(setting, work, lead));
        for far in back.map(|far| far.and(setting.may_split).and(setting.may_restart)) {
            if !pauses.contains(&far) {
                pauses.push(far);
            }
        }
        let off = |far: UnitSet| Work { pauses: far, ..work.clone() }.with_legs(setting);
        pauses.iter().filter(|far| !far.is_empty()).find_map(|far| once_off(setting, &off(*far)))
    })
}

/// The first way that is found once another leads meanwhile than shall at last, by a weight or an id that is lent to it:
/// whoever gives that lead up by a restart may be one that cuts nobody off.
fn once_led(setting: &Setting, work: &Work, lead: UnitId) -> Option<Route> {
    let election = &setting.traits.election;
    let weight = first_priority(setting).filter(|_| election.decides_by(Criterion::Priority));
    let id = first_id(setting, lead).filter(|_| election.decides_by(Criterion::LowestId));
    let lent = Work {
        priorities: weight.into_iter().map(|weight| (lead, weight)).collect(),
        ids: id.into_iter().map(|id| (lead, id)).collect(),
        leavers: work.leavers,
        legs: work.legs.clone(),
        restarts: work.restarts,
        ..Work::default()
    };
    let mut search = Search::new(setting, work, &[]);
    (search.items, search.weight) = (FIRST_ITEMS, GREEDY);
    search.work = Cow::Owned(lent.touched(setting));
    let End::Found(node) = search.run(0, OFF_BUDGET, Goal::Led(lead)) else { return None };
    search.work = Cow::Owned(work.clone());
    for weight in [GREEDY, HASTES[1]] {
        search.weight = weight;
        search.total = search.opened + OFF_BUDGET;
        if let End::Found(end) = search.run(node, OFF_BUDGET, Goal::Target) {
            return Some(search.route(end, false));
        }
    }
    None
}

/// The first way that is found once those are off that may be off meanwhile.
fn once_off(setting: &Setting, work: &Work) -> Option<Route> {
    let mut search = Search::new(setting, work, &[]);
    search.items = FIRST_ITEMS;
    let off = Work { legs: work.legs.clone(), pauses: work.pauses, ..Work::default() }.touched(setting);
    search.work = Cow::Owned(off);
    let End::Found(node) = search.run(0, OFF_BUDGET, Goal::Off) else { return None };
    search.work = Cow::Owned(work.clone());
    for weight in [GREEDY, HASTES[1], NOVEL] {
        search.weight = weight;
        search.total = search.opened + LINK_BUDGET;
        if let End::Found(end) = search.run(node, LINK_BUDGET, Goal::Target) {
            return Some(search.route(end, false));
        }
    }
    None
}
