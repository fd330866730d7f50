//! Searches in a row: the whole at once; in all haste; then part by part, each part whole or link by link.
//!
//! What is found in haste says soon whether there is a way at all, and bounds how long a cheaper one is looked
//! for; the cheaper is kept. At last the whole by any way at all. What only the later ones find is not proved
//! least. Of the parts that can be done now, one that takes nobody out of the stack is done first; else the cheapest.

use std::borrow::Cow;

use crate::model::setting::Setting;
use crate::model::table::PortId;
use crate::model::traits::{BindingEffect, StoredWhen};

use super::bound::{Cost, item};
use super::parts::parts;
use super::search::{BACKWARDS, End, FIRST_ITEMS, GREEDY, Goal, NOVEL, Search, WHOLE_ITEMS};
use super::spare::Spare;
use super::stretch::{one_by_one, reach};
use super::work::Work;
use super::{NoRoute, Route};

/// Situations that the search by the whole cost may open.
const WHOLE_BUDGET: usize = 64;
/// Situations that the search for one part by the first items of the cost may open.
pub(super) const PART_BUDGET: usize = 48;
/// Situations that the search for one part may open that counts what is left more than what is spent.
const SOONER_BUDGET: usize = 400;
/// The same, where a way is known and a cheaper one is looked for.
const BETTER_BUDGET: usize = 100;
/// How much more that search counts what is left: the first that gets there is kept.
pub(super) const HASTES: [u8; 3] = [3, 16, GREEDY];
/// Situations that the search for one link of a part, or for the rest, may open.
pub(super) const LINK_BUDGET: usize = 1_000;
/// Situations that a way in all haste may open, for each of its stretches.
const HASTY_BUDGET: usize = 300;
/// The same on a way back, where a step that has no way of its own is undone.
const BACK_BUDGET: usize = 150;
/// Situations that the search for what is new may open.
const NOVEL_BUDGET: usize = 1_000;
/// Situations that all searches may open before haste is tried.
const SOON_TOTAL: usize = 600;
/// Situations that all searches may open for a cheaper way, where one is known.
const KNOWN_TOTAL: usize = 2_500;
/// Situations that all searches over a spare cable may open where haste found none; twice as many without one.
const UNLIKELY_TOTAL: usize = 1_000;

/// How much a search may cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Effort {
    /// As much as the budgets allow.
    Full,
    /// Only what is found soon: for a question that can be left open.
    Little,
}

impl Effort {
    /// Situations that all searches of one row may open together.
    pub const fn total(self) -> usize {
        match self {
            Self::Full => 8_000,
            Self::Little => 400,
        }
    }
}

/// Finds a route; `spare`: a cable of neither state that may be plugged for a while.
///
/// # Errors
/// No order keeps every rule, or the budget was used up.
pub(super) fn sequence(
    setting: &Setting,
    work: &Work,
    spare: Option<&Spare>,
    effort: Effort,
) -> Result<Route, NoRoute> {
    let links: Vec<_> = spare.map(|spare| spare.up.links.clone()).unwrap_or_default();
    let parts = parts(setting, work);
    let breaks = parts.iter().filter(|part| !(part.disconnect.is_empty() && part.leavers.is_empty()));
    let work = &Work { gaps: breaks.count() as i64, ..work.clone() };
    let mut search = Search::new(setting, work, &links);
    (search.effort, search.total) = (effort, effort.total());
    if spare.is_none() && parts.len() < 3 {
        search.items = WHOLE_ITEMS;
        let budget = if parts.len() > 1 { WHOLE_BUDGET / 2 } else { WHOLE_BUDGET };
        match search.run(0, budget, Goal::Target) {
            End::Found(node) => return Ok(search.route(node, is_least(setting, work))),
            End::Exhausted => return Err(NoRoute::Impossible { rules: search.broken() }),
            End::Budget => {}
        }
    }
    search.items = FIRST_ITEMS;
    search.nodes.truncate(1);
    let mut again = Search::new(setting, work, &links);
    (again.items, again.effort, again.total) = (FIRST_ITEMS, effort, effort.total());
    again.opened = search.opened;
    search.limit_total(SOON_TOTAL);
    let single = spare.is_none() && parts.len() == 1;
    let found = match by_parts(&mut search, work, parts.clone(), spare) {
        // what its one part leaves to do may be done on the way
        Ok(route) if single => Ok(cheaper_soon(&mut search, work, &route).unwrap_or(route)),
        Ok(route) => Ok(route),
        Err(_) => long(again, work, parts, spare),
    };
    // without consents nobody is out: the parts leave little to be saved
    let hurts = !(setting.may_restart.is_empty() && setting.may_split.is_empty());
    if spare.is_some() || effort == Effort::Little || !hurts {
        return found;
    }
    found.map(|route| cheaper(setting, work, &route).unwrap_or(route))
}

/// Where the parts did not come together soon: in all haste, and part by part with more patience.
fn long(mut search: Search<'_>, work: &Work, parts: Vec<Work>, spare: Option<&Spare>) -> Result<Route, NoRoute> {
    let known = hastily(search.setting, work, spare);
    match (&known, spare) {
        (Some(_), _) => search.limit_total(KNOWN_TOTAL),
        (None, Some(_)) => search.limit_total(UNLIKELY_TOTAL),
        (None, None) => search.limit_total(2 * UNLIKELY_TOTAL),
    }
    let found = by_parts(&mut search, work, parts, spare);
    let found = found.or_else(|failed| match at_once(&mut search, work, spare.is_none()) {
        Some(last) => Ok(search.route(last, false)),
        None => Err(failed),
    });
    match (found, known) {
        (Ok(route), Some(known)) if known.cost.first(FIRST_ITEMS) < route.cost.first(FIRST_ITEMS) => Ok(known),
        (Err(_), Some(known)) => Ok(known),
        (found, _) => found,
    }
}

/// A way in all haste that costs less than a known one.
fn cheaper_soon(search: &mut Search<'_>, work: &Work, known: &Route) -> Option<Route> {
    search.work = Cow::Owned(work.clone());
    (search.weight, search.limit) = (GREEDY, Some(known.cost.first(FIRST_ITEMS)));
    match search.run(0, PART_BUDGET, Goal::Target) {
        End::Found(node) => Some(search.route(node, false)),
        End::Exhausted | End::Budget => None,
    }
}

/// A way with less haste that costs less than a known one.
fn cheaper(setting: &Setting, work: &Work, known: &Route) -> Option<Route> {
    let mut search = Search::new(setting, work, &[]);
    (search.items, search.weight) = (FIRST_ITEMS, HASTES[0]);
    search.limit = Some(known.cost.first(FIRST_ITEMS));
    // where only steps could be saved, the parts have saved them
    if search.least(0).first(item::STEPS) == known.cost.first(item::STEPS) {
        return None;
    }
    // no longer than finding the known one took, and a little
    let budget = HASTY_BUDGET.min(known.opened + WHOLE_BUDGET);
    match search.run(0, budget, Goal::Target) {
        End::Found(node) => Some(search.route(node, false)),
        End::Exhausted | End::Budget => None,
    }
}

/// The first way that is found, by any way at all; over a spare cable, if there is one.
pub(super) fn hastily(setting: &Setting, work: &Work, spare: Option<&Spare>) -> Option<Route> {
    by_weight(setting, work, spare, GREEDY)
}

/// The same for a way back.
pub(super) fn backwards(setting: &Setting, work: &Work, spare: Option<&Spare>) -> Option<Route> {
    by_weight(setting, work, spare, BACKWARDS)
}

fn by_weight(setting: &Setting, work: &Work, spare: Option<&Spare>, weight: u8) -> Option<Route> {
    let links: Vec<_> = spare.map(|spare| spare.up.links.clone()).unwrap_or_default();
    let mut search = Search::new(setting, work, &links);
    (search.items, search.weight) = (FIRST_ITEMS, weight);
    let legs = match spare {
        None => vec![(work.clone(), Goal::Target)],
        Some(spare) => {
            let own = |port: PortId| spare.up.ports.iter().any(|one| one.port == port);
            let mut rest = work.clone();
            rest.ports.retain(|port| !own(port.port));
            let mut last = work.clone();
            last.ports.retain(|port| !own(port.port));
            last.ports.extend(spare.down.ports.iter().copied());
            last.disconnect.extend(spare.down.disconnect.iter().copied());
            vec![
                (spare.up.clone(), Goal::Done),
                (rest.touched(setting), Goal::Done),
                (last.touched(setting), Goal::Target),
            ]
        }
    };
    let budget = if weight == BACKWARDS { BACK_BUDGET } else { HASTY_BUDGET };
    let mut node = 0;
    for (work, goal) in legs {
        search.work = Cow::Owned(work);
        match search.run(node, budget, goal) {
            End::Found(end) => node = end,
            End::Exhausted | End::Budget => return None,
        }
    }
    Some(search.route(node, false))
}

/// Whether what the search never tries could not be cheaper: two newcomers that come in together, a
/// newcomer with less than its whole stage, or a restart in the place of an activation. Where bindings are
/// stored with a save, the save in the stage is needed anyway; elsewhere a priority could be set later for
/// a step less; and where bindings count at once, one could be taken off again before its link is made.
fn is_least(setting: &Setting, work: &Work) -> bool {
    let founder = usize::from(setting.founder().is_some());
    let joins = work.newcomers.len() - founder.min(work.newcomers.len());
    let traits = &setting.traits;
    let stages = joins == 0
        || joins == 1
            && traits.stored.binding == StoredWhen::WithSave
            && traits.binding.takes_effect != BindingEffect::AtOnce;
    stages && setting.may_restart.is_empty() && setting.may_split.is_empty() && setting.may_lead.is_empty()
}

fn by_parts(
    search: &mut Search<'_>,
    whole: &Work,
    mut parts: Vec<Work>,
    spare: Option<&Spare>,
) -> Result<Route, NoRoute> {
    parts.splice(0..0, spare.map(|spare| spare.up.clone()));
    let mut node = 0;
    while !parts.is_empty() {
        let Some((position, next)) = next_part(search, node, &parts) else { break };
        parts.remove(position);
        node = next;
    }
    if let Some(spare) = spare.filter(|_| parts.is_empty()) {
        node = reach(search, node, spare.down.clone(), Goal::Done, LINK_BUDGET)
            .ok_or(NoRoute::SearchLimit { opened: search.opened })?;
    }
    let budget = match search.effort {
        Effort::Full if parts.is_empty() => LINK_BUDGET,
        Effort::Full => 20 * PART_BUDGET,
        Effort::Little => 2 * PART_BUDGET,
    };
    let end = reach(search, node, whole.clone(), Goal::Target, budget);
    match end {
        Some(last) => Ok(search.route(last, false)),
        None => Err(NoRoute::SearchLimit { opened: search.opened }),
    }
}

/// The whole again, by any way: what one part leaves can bar the way of the next. `patient`: also by what is new.
fn at_once(search: &mut Search<'_>, whole: &Work, patient: bool) -> Option<usize> {
    if search.effort == Effort::Little {
        return None;
    }
    search.work = Cow::Owned(whole.clone());
    search.total = search.opened + 2 * LINK_BUDGET;
    let mut best = None;
    for weight in HASTES.into_iter().skip(1).rev() {
        search.weight = weight;
        let end = search.run(0, LINK_BUDGET, Goal::Target);
        search.weight = 1;
        match end {
            End::Found(node) => {
                best = Some(node);
                search.limit = search.node(node).map(|node| node.cost.first(FIRST_ITEMS));
            }
            End::Exhausted => break,
            End::Budget => {}
        }
    }
    search.limit = None;
    best.or_else(|| if patient { newest(search) } else { None })
}

/// The same where what is near leads nowhere: what is new, by turns with it; then what costs less, as long as
/// something does.
fn newest(search: &mut Search<'_>) -> Option<usize> {
    search.weight = NOVEL;
    let mut best = None;
    loop {
        let budget = if best.is_none() { NOVEL_BUDGET } else { NOVEL_BUDGET / 4 };
        search.total = search.opened + budget;
        match search.run(0, budget, Goal::Target) {
            End::Found(node) => {
                best = Some(node);
                search.limit = search.node(node).map(|node| node.cost.first(FIRST_ITEMS));
            }
            End::Exhausted | End::Budget => break,
        }
    }
    (search.weight, search.limit) = (1, None);
    best
}

/// A route by any way at all, with all that units may be put through meanwhile.
pub(super) fn widely(setting: &Setting, work: &Work) -> Option<Route> {
    let legs = work.with_legs(setting);
    let any = legs.widened(setting);
    // with no more legs, all at once was tried before
    let legs = Some(legs).filter(|legs| legs.legs != work.legs);
    [legs, Some(any)].iter().flatten().find_map(|work| by_any_way(setting, work))
}

/// A route by any way at all.
fn by_any_way(setting: &Setting, work: &Work) -> Option<Route> {
    let mut search = Search::new(setting, work, &[]);
    search.items = FIRST_ITEMS;
    let end = at_once(&mut search, work, true)?;
    Some(search.route(end, false))
}

/// The part that is done next, by its position, and the node at its end.
fn next_part(search: &mut Search<'_>, node: usize, parts: &[Work]) -> Option<(usize, usize)> {
    let before = search.node(node)?.cost;
    let mut best: Option<(Cost, usize, usize)> = None;
    for (position, part) in parts.iter().enumerate() {
        if !part.is_possible(search.setting, &search.node(node)?.situation) {
            continue;
        }
        let Some(end) = do_part(search, node, part) else { continue };
        let cost = search.node(end)?.cost;
        if cost.0.first() == before.0.first() {
            return Some((position, end));
        }
        let first = cost.first(item::CABLES);
        if best.is_none_or(|(least, _, _)| first < least) {
            best = Some((first, position, end));
        }
    }
    best.map(|(_, position, end)| (position, end))
}

/// Does one part, whole or link by link; gives the node at its end.
fn do_part(search: &mut Search<'_>, node: usize, part: &Work) -> Option<usize> {
    // where a restart puts bindings into force, one cable at a time would take one each
    let late = search.setting.traits.binding.takes_effect == BindingEffect::AfterRestart;
    search.work = Cow::Owned(part.clone());
    match search.run(node, PART_BUDGET, Goal::Done) {
        End::Found(end) => Some(end),
        End::Exhausted => None,
        End::Budget if !late && part.links.iter().any(|link| link.cables.len() > 1) => {
            one_by_one(search, node, part).or_else(|| sooner(search, node, part))
        }
        End::Budget if search.effort == Effort::Little => sooner(search, node, part),
        End::Budget => {
            // all at once may take more than there is: some is kept for one after the other
            let total = search.total;
            if part.newcomers.len() > 1 {
                search.total = search.opened + total.saturating_sub(search.opened) / 3;
            }
            let found = sooner(search, node, part);
            search.total = total;
            found.or_else(|| one_by_one(search, node, part)).or_else(|| sooner(search, node, part))
        }
    }
}

/// The same with what is left counting more: not the least, but there. Each way to make the newcomers ready is
/// tried on its own, first in all haste; with less haste then only what is cheaper than the cheapest found.
fn sooner(search: &mut Search<'_>, node: usize, part: &Work) -> Option<usize> {
    let ways = part.newcomers.iter().map(|newcomer| newcomer.stages.len()).max().unwrap_or(0).max(1);
    let mut open: Vec<usize> = (0..ways).rev().collect();
    let mut best: Option<(Cost, usize)> = None;
    for weight in HASTES.into_iter().rev() {
        open.retain(|way| {
            let budget = if best.is_none() { SOONER_BUDGET } else { BETTER_BUDGET };
            (search.weight, search.limit) = (weight, best.map(|(cost, _)| cost));
            search.work = Cow::Owned(one_way(part, *way));
            match search.run(node, budget, Goal::Done) {
                End::Found(end) => {
                    best = search.node(end).map(|found| (found.cost.first(FIRST_ITEMS), end));
                    true
                }
                // it has nothing cheaper, and less haste finds no more
                End::Exhausted => false,
                End::Budget => true,
            }
        });
    }
    (search.weight, search.limit) = (1, None);
    best.map(|(_, end)| end)
}

/// The same work with one way to make each newcomer ready.
fn one_way(part: &Work, way: usize) -> Work {
    let mut one = part.clone();
    for newcomer in &mut one.newcomers {
        let last = newcomer.stages.len().saturating_sub(1);
        newcomer.stages = newcomer.stages.get(way.min(last)).cloned().into_iter().collect();
    }
    one
}
