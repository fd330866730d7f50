//! More is granted than a route takes -> the best route that is found with less.
//!
//! What is granted makes a search wider, and where its budget ends it a wider search may end with a dearer route: whoever
//! agrees to more shall not get less. Where every consent is used there is nothing to look for.

use crate::model::setting::Setting;

use super::bound::item;
use super::consents::{Need, given, granting, needs};
use super::leads::leads;
use super::refusals::surely_refused;
use super::sequence::Effort;
use super::work::work;
use super::{NoRoute, Route, Tried, bare, gentlest, route_or_needs, serves, setting_of};

/// The cheapest of a route and of those that are found with no consent at all, with those that the route takes, and
/// with fewer that may lead, less whatever it costs nothing to leave out.
pub(super) fn cheapest(tried: &Tried, setting: &Setting, route: Route) -> Route {
    let taken = granting(setting, &needs(&setting_of(setting, &route), &route));
    if given(&taken) == given(setting) {
        return route;
    }
    let work = work(setting);
    let narrower = |lead| Setting { may_lead: setting.may_lead.and(lead), ..setting.clone() };
    let mut fewer = vec![granting(setting, &[]), taken];
    fewer.extend(leads(setting, &work).into_iter().map(narrower));
    fewer.retain(|less| given(less) != given(setting));
    let mut best = (setting.clone(), route.clone());
    for less in fewer {
        let found = if surely_refused(&less, &work) { None } else { gentlest(tried, &less, &work).ok() };
        let cheaper = |other: &Route| other.cost.first(item::STEPS) <= best.1.cost.first(item::STEPS);
        if let Some(other) = found.filter(|other| cheaper(other) && serves(setting, other)) {
            best = (less, other);
        }
    }
    let (least, needs) = fewest(tried, &best.0, best.1.clone(), false);
    // as it is found once just these are granted
    let just = gentlest(tried, &granting(setting, &needs), &work).ok();
    let all = just.into_iter().chain([least, best.1]).filter(|other| serves(setting, other));
    all.min_by_key(|other| other.cost.first(item::STEPS)).unwrap_or(route)
}

/// Of routes that cost the same, one that takes fewer consents: each is left out in turn.
pub(super) fn fewest(tried: &Tried, setting: &Setting, route: Route, tries_needs: bool) -> (Route, Vec<Need>) {
    // who may lead decides which piece is the stack: a route is asked under what it was found with
    let needs_of = |setting: &Setting, route: &Route| needs(&setting_of(setting, route), route);
    let mut kept = (needs_of(setting, &route), route);
    let mut position = 0;
    while let Some(left_out) = kept.0.get(position).copied() {
        let fewer: Vec<Need> = kept.0.iter().filter(|need| **need != left_out).copied().collect();
        let less = granting(setting, &fewer);
        let refused = surely_refused(&less, &work(&less));
        let found = if refused { None } else { tried.best(&less, Effort::Little).ok() };
        let found = found.filter(|other| other.cost.first(item::STEPS) <= kept.1.cost.first(item::STEPS));
        match found.map(|other| (needs_of(&less, &other), other)) {
            Some(other) if other.0.len() < kept.0.len() => kept = other,
            Some(_) | None => position += 1,
        }
    }
    // what is granted in the end may open a way that takes still less
    loop {
        let less = granting(setting, &kept.0);
        // as it will go once just these are granted: from the start, with nothing known of how it went under other leads
        let afresh = Tried::default();
        let tried = if tries_needs && tried.failed_bare(&bare(&less)) { &afresh } else { tried };
        let again =
            |_| if tries_needs { route_or_needs(&less, false) } else { Err(NoRoute::SearchLimit { opened: 0 }) };
        let Ok(other) = gentlest(tried, &less, &work(&less)).or_else(again) else { break };
        let needs = needs_of(&less, &other);
        if needs.len() >= kept.0.len() {
            break;
        }
        kept = (needs, other);
    }
    (kept.1, kept.0)
}
