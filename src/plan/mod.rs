//! Two states of one setting -> [`Route`]: the bare operations that lead from one to the other.
//!
//! One search over the model, whatever the change is called: nothing in this folder knows a kind of
//! change. [`work`] lists what the difference of the two states needs touched, [`stage`] finds how
//! each newcomer is made ready alone, `search` orders everything at least cost, `sequence` runs it
//! on the whole and, where its budget does not reach, on the parts of the work ([`parts`]).
//!
//! Consents: the search keeps to those that the setting grants. Where they do not suffice, everything that
//! can serve is granted, the least-cost route is found, and what it takes of that is the refusal
//! ([`consents`]). Spare cables (`spare`) are tried where units would be cut off, and proposed where nothing else
//! helps. A consent to a restart or a split is never used where a route hurts nobody without it.
//!
//! What is left out of the search, and why the result stays the least:
//! - *ports, cables and units that neither differ nor touch what does*: see [`work`]; an operation on one
//!   changes no link that the difference speaks of and takes another to undo it;
//! - *a port's change of setting is one run*: see [`candidates`]; every setting between is a run of its own;
//! - *stages are searched apart*: see [`stage`]; a unit without cables meets nobody;
//! - *parallel cables that stand alike are taken in their order*: one plan is the other with names exchanged;
//! - *restarts only where the unit acts on something else afterwards, or gives up a lead or a kept seat*: see [`units`];
//!   any other adds minutes and steps and changes nothing but the order of boots;
//! - *equal situations once*: see [`key`]; equal rows have equal futures;
//! - *situations whose sum exceeds the best*: see [`bound`], [`links`], [`gap`], [`saves`], [`arrivals`]: no part of
//!   the bound shall exceed what any continuation costs. Where it was held against routes that had been found it did so
//!   in about a quarter of them: a last save is counted that nobody needs (where ids or the lead differ),
//!   blocked links where typing takes no time, and some likely minutes. No dearer route is known to have come of it
//!   (`tests/least.rs`), but the argument has these holes.
//!
//! Refused without a search, because no order whatever could do without a consent that is not given: a unit that
//! must restart, or a lead that must move on, and may not; links that go before any new one can come, whoever they
//! cut off; a lead that passes through a third unit, where nobody may give it up; a pair that is to stay up where all
//! go, or the only one must restart first, and nobody who comes is cabled to them; and pairs that no piece of the stack
//! could hold together all the way, whatever the order of plugs and power (`cabling`). Each is a necessity of every
//! order, so that nothing is refused that could be planned.
//!
//! Where all that ends without a route, one is looked for by any way at all: what is left weighs more than what
//! is spent, minutes weigh as steps do, and with consents every unit may be given another weight meanwhile, or be off
//! while another leads (`otherwise`). At last what is new comes first (`novelty`), where what is near leads nowhere.
//!
//! Not the least, and said so (`proved_least` is false, the plan warns `order-not-proved-least`): what is
//! found part by part, in all haste, or thing by thing (`pieces`); whatever takes consents; two newcomers, which join
//! one after the other here; and whatever takes a spare cable: at most 24 of them are looked at, those first that leave
//! the fewest units cut off, and four more closely.
//!
//! No order leads through a state in which it is open which island is the stack: two hold equally many live units,
//! and the baseline's primary leads neither.
//!
//! Deliberately absent: looks and waits (`watch` adds them) and any trust in the result (`rehearse`
//! replays it from the file alone).

pub mod arrivals;
pub mod back;
pub mod bound;
pub mod candidates;
pub mod consents;
pub mod cabling;
mod cuts;
mod fewer;
mod follow;
pub mod gap;
pub mod inert;
pub mod key;
mod leads;
pub mod links;
pub mod node;
mod novelty;
mod otherwise;
pub mod parts;
mod pieces;
mod polish;
pub mod price;
mod refusals;
pub mod roles;
mod search;
pub mod saves;
mod sequence;
mod spare;
pub mod stage;
mod stretch;
pub mod units;
mod widen;
pub mod work;

use std::borrow::Cow;
use std::cell::RefCell;

use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::rules::Rule;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{UnitId, UnitSet};

use bound::{Cost, item};
use consents::Need;
use fewer::fewest;
use leads::{leads, parting_leads};
use refusals::{apart, surely_cut, surely_refused};
use sequence::Effort;
use work::Work;

/// The bare operations of a change, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Route {
    /// How each newcomer is made ready, alone, before the change; the first unit of a new stack last.
    pub stages: Vec<(UnitId, Vec<Operation>)>,
    /// What changes the stack.
    pub steps: Vec<Operation>,
    /// A cable of neither state that is plugged for a while; see [`setting_of`].
    pub spare: Option<CableRow>,
    /// No cheaper order was left out.
    pub proved_least: bool,
    /// How many situations the search opened.
    pub opened: usize,
    /// What the route costs, as the search adds it up.
    pub cost: Cost,
}

/// Why there is no route.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoRoute {
    /// The change takes consents that were not given.
    Consents {
        /// All that the least-cost route takes when everything is granted, given or not.
        needs: Vec<Need>,
        /// What it takes with a spare cable, where those are not allowed and one would save consents.
        with_spare: Option<Vec<Need>>,
    },
    /// Every order of the operations that the difference needs breaks a rule.
    Impossible {
        /// The rules that the attempts which came furthest would have broken.
        rules: Vec<&'static str>,
    },
    /// None without a spare cable, which the change does not allow.
    Spare {
        /// What it takes with one.
        needs: Vec<Need>,
    },
    /// The search used up its budget.
    SearchLimit {
        /// How many situations it opened.
        opened: usize,
    },
}

/// Finds the least-cost order of operations from the baseline to the target, with no more consents than the
/// setting grants.
///
/// # Errors
/// It takes consents that are not granted; no order keeps every rule; or the search used up its budget of
/// situations.
pub fn route(setting: &Setting) -> Result<Route, NoRoute> {
    route_or_needs(setting, true).map(|route| polish::polished(setting, route, false))
}

/// `tries_needs`: whether what a refusal would name is tried out, where the search alone does not find it again.
fn route_or_needs(setting: &Setting, tries_needs: bool) -> Result<Route, NoRoute> {
    let work = work::work(setting);
    let tried = &Tried::default();
    if !setting.temporary_cables && cabling::is_stuck(setting, &work) {
        let stuck = NoRoute::Impossible { rules: vec![Rule::UplinksUp.as_str()] };
        return Err(spared(tried, setting, &work).unwrap_or(stuck));
    }
    let failed = if surely_refused(setting, &work) {
        None
    } else {
        match gentlest(tried, setting, &work) {
            Ok(route) => return Ok(fewer::cheapest(tried, setting, route)),
            Err(failed) => Some(failed),
        }
    };
    let (all, route, needs) = match with_all(tried, setting, &work, tries_needs) {
        Ok(found) => found,
        Err(last) => {
            let spared = if setting.temporary_cables { None } else { spared(tried, setting, &work) };
            return Err(spared.or(failed).or(last).unwrap_or(NoRoute::SearchLimit { opened: 0 }));
        }
    };
    let suffices =
        |needs: &[Need], route: &Route| needs.iter().all(|need| granted(setting, need)) && serves(setting, route);
    if suffices(&needs, &route) {
        return Ok(route);
    }
    // what is asked for when nothing is granted is enough, whatever is found with more
    let none = consents::granting(setting, &[]);
    if tries_needs && consents::given(&none) != consents::given(setting) {
        let tried = &Tried::default();
        let found = if surely_refused(&none, &work) { None } else { gentlest(tried, &none, &work).ok() };
        let asked = || with_all(tried, &none, &work, true).ok().map(|(_, route, needs)| (route, needs));
        let found = found.map(|route| (route, Vec::new())).or_else(asked);
        if let Some((route, _)) = found.filter(|(route, needs)| suffices(needs, route)) {
            return Ok(route);
        }
    }
    if needs.iter().all(|need| granted(setting, need)) {
        // all that it takes is there, but what is granted beyond it makes another piece the stack
        return Err(failed.unwrap_or(NoRoute::SearchLimit { opened: route.opened }));
    }
    // who may lead meanwhile decides what a spare cable can save: the best route's own leads first, then the others
    let with_spare = if setting.temporary_cables || route.cost.0.first() == Some(&0) {
        None
    } else {
        let others = leads(setting, &work).into_iter().map(|lead| consents::all_granted(setting, lead));
        std::iter::once(all).chain(others).find_map(|granted| {
            let wider = Setting { temporary_cables: true, ..granted };
            let spared = tried.best(&wider, Effort::Full).ok().filter(|route| route.spare.is_some())?;
            Some(fewest(tried, &wider, spared, false).1)
        })
    };
    let fewer = with_spare.filter(|spared| spared.len() < needs.len());
    Err(NoRoute::Consents { needs, with_spare: fewer })
}

/// The least-cost route with everything granted that can serve, that setting, and what it takes of it; else why the last
/// attempt found none.
fn with_all(
    tried: &Tried,
    setting: &Setting,
    work: &Work,
    tries_needs: bool,
) -> Result<(Setting, Route, Vec<Need>), Option<NoRoute>> {
    let under = |leads: Vec<UnitSet>| best_under(tried, setting, work, leads);
    let parting = |last: Option<NoRoute>| under(parting_leads(setting)).map_err(|later| later.or(last));
    let (all, route) = under(leads(setting, work)).or_else(parting)?;
    let (route, needs) = fewest(tried, &all, route, tries_needs);
    Ok((all, route, needs))
}

/// The same, where these may lead; of routes that cost the same the first.
fn best_under(
    tried: &Tried,
    setting: &Setting,
    work: &Work,
    leads: Vec<UnitSet>,
) -> Result<(Setting, Route), Option<NoRoute>> {
    let (mut last, mut best): (Option<NoRoute>, Option<(Setting, Route)>) = (None, None);
    for lead in leads {
        let all = consents::all_granted(setting, lead);
        match gentlest(tried, &all, work) {
            Ok(route) => {
                let less =
                    |(_, known): &(Setting, Route)| route.cost.first(item::STEPS) < known.cost.first(item::STEPS);
                if best.as_ref().is_none_or(less) {
                    best = Some((all, route));
                }
            }
            Err(later) => last = Some(later),
        }
    }
    best.ok_or(last)
}

/// The best route, without consents to a restart or a split where nobody is out all the same.
fn gentlest(tried: &Tried, setting: &Setting, work: &Work) -> Result<Route, NoRoute> {
    unhurt(tried, setting, work).map_or_else(|| tried.best(setting, Effort::Full), Ok)
}

/// Where consents are given, a route on which nobody is out all the same: a consent to a restart or a split
/// cannot make it cheaper. Where none was found before, whoever may lead, it is not looked for long again.
fn unhurt(tried: &Tried, setting: &Setting, work: &Work) -> Option<Route> {
    if setting.may_restart.is_empty() && setting.may_split.is_empty() {
        return None;
    }
    let bare = bare(setting);
    let effort = if tried.failed_bare(&bare) { Effort::Little } else { Effort::Full };
    let found = if surely_refused(&bare, work) { None } else { tried.best(&bare, effort).ok() };
    found.filter(|route| route.cost.0.first() == Some(&0) && serves(setting, route))
}

/// Whether a route that was found under other consents keeps every rule under those of this setting.
fn serves(setting: &Setting, route: &Route) -> bool {
    consents::is_lawful(&setting_of(setting, route), route)
}

/// The same without any consent to a restart or a split.
fn bare(setting: &Setting) -> Setting {
    Setting { may_restart: UnitSet::EMPTY, may_split: UnitSet::EMPTY, ..setting.clone() }
}

/// What a change takes that only a spare cable makes possible.
fn spared(tried: &Tried, setting: &Setting, work: &Work) -> Option<NoRoute> {
    let wider = Setting { temporary_cables: true, ..setting.clone() };
    if !surely_refused(&wider, work) && tried.best(&wider, Effort::Full).is_ok() {
        return Some(NoRoute::Spare { needs: Vec::new() });
    }
    leads(setting, work).into_iter().chain(parting_leads(setting)).find_map(|lead| {
        let all = consents::all_granted(&wider, lead);
        let route = gentlest(tried, &all, work).ok()?;
        Some(NoRoute::Spare { needs: fewest(tried, &all, route, false).1 })
    })
}

/// The setting that a route speaks of: with its spare cable, if it has one.
#[must_use]
pub fn setting_of<'a>(setting: &'a Setting, route: &Route) -> Cow<'a, Setting> {
    match route.spare {
        Some(CableRow::Units(a, b)) => Cow::Owned(spare::with_cable(setting, a, b).0),
        Some(CableRow::Far(..)) | None => Cow::Borrowed(setting),
    }
}

/// Whether a setting grants what a route takes.
#[must_use]
pub fn granted(setting: &Setting, need: &Need) -> bool {
    consents::set_of(setting, need.kind).contains(need.unit)
}

/// What was found under which consents: a refusal asks the same more than once.
#[derive(Default)]
struct Tried(RefCell<Vec<(Terms, Result<Route, NoRoute>)>>);

/// The consents, whether spare cables are allowed, and the effort.
type Terms = ([UnitSet; 3], bool, Effort);

impl Tried {
    /// Whether none was found without a consent to a restart or a split, over the same cables, under another lead.
    fn failed_bare(&self, bare: &Setting) -> bool {
        self.0.borrow().iter().any(|(([restart, lead, split], spare, effort), found)| {
            let like =
                restart.is_empty() && split.is_empty() && (*spare, *effort) == (bare.temporary_cables, Effort::Full);
            like && *lead != bare.may_lead && found.is_err()
        })
    }

    fn best(&self, setting: &Setting, effort: Effort) -> Result<Route, NoRoute> {
        let terms = (consents::given(setting), setting.temporary_cables, effort);
        let known = self.0.borrow().iter().find(|(own, _)| *own == terms).map(|(_, found)| found.clone());
        known.unwrap_or_else(|| {
            let found = search_best(setting, effort);
            self.0.borrow_mut().push((terms, found.clone()));
            found
        })
    }
}

/// The best route that is found: without a spare cable, and with one where that keeps units in the stack.
fn search_best(setting: &Setting, effort: Effort) -> Result<Route, NoRoute> {
    let work = work::work(setting);
    best_of(setting, &work, effort).or_else(|failed| match work.with_heir(setting) {
        Some(wide) if effort == Effort::Full => best_of(setting, &wide, effort).map_err(|_| failed),
        _ => Err(failed),
    })
}

fn best_of(setting: &Setting, work: &Work, effort: Effort) -> Result<Route, NoRoute> {
    // whoever is alone in the stack can only go down once another carries it on
    let live = Situation::start(setting).memory.live;
    let alone = live.len() == 1 && (live.within(setting.leaving) || live.within(work.restarts));
    let cut = alone || !cuts::cut_off(setting, work).is_empty();
    if !(setting.temporary_cables && cut) {
        if apart(setting, work) {
            return Err(NoRoute::Impossible { rules: vec![Rule::UplinksUp.as_str()] });
        }
        let plain = sequence::sequence(setting, work, None, effort);
        return plain.or_else(|failed| otherwise::otherwise(setting, work, effort).ok_or(failed));
    }
    // a spare cable is two more to plug and unplug: none where nobody is out without it
    let plain = match surely_cut(setting, work) || apart(setting, work) {
        true => Err(NoRoute::Impossible { rules: Vec::new() }),
        false => sequence::sequence(setting, work, None, effort),
    };
    if plain.as_ref().is_ok_and(|route| route.cost.0.iter().take(item::CABLES).all(|minutes| *minutes == 0)) {
        return plain;
    }
    match (spare::route_over_one(setting, work, effort), plain) {
        (Some(spared), Ok(plain)) if plain.cost <= spared.cost => Ok(plain),
        (Some(spared), _) => Ok(spared),
        (None, Ok(plain)) => Ok(plain),
        (None, Err(failed)) => otherwise::otherwise(setting, work, effort).ok_or(failed),
    }
}
