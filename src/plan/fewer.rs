//! More is granted than a route takes -> the best route that is found with less.
//!
//! What is granted makes a search wider, and where its budget ends it a wider search may end with a dearer route: whoever
//! agrees to more shall not get less. Where every consent is used there is nothing to look for.

use crate::model::setting::Setting;

use super::bound::item;
use super::consents::{granting, needs};
use super::refusals::surely_refused;
use super::work::work;
use super::{Route, Tried, fewest, gentlest, leads, serves, setting_of};

/// The cheapest of a route and of those that are found with no consent at all, with those that the route takes, and
/// with fewer that may lead, less whatever it costs nothing to leave out.
pub(super) fn cheapest(tried: &Tried, setting: &Setting, route: Route) -> Route {
    let granted = |setting: &Setting| (setting.may_restart, setting.may_lead, setting.may_split);
    let taken = granting(setting, &needs(&setting_of(setting, &route), &route));
    if granted(&taken) == granted(setting) {
        return route;
    }
    let work = work(setting);
    let narrower = |lead| Setting { may_lead: setting.may_lead.and(lead), ..setting.clone() };
    let mut fewer = vec![granting(setting, &[]), taken];
    fewer.extend(leads(setting, &work).into_iter().map(narrower));
    fewer.retain(|less| granted(less) != granted(setting));
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
