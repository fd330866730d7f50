//! A way found thing by thing, each in all haste: one unit's number or lead, one part of the work, then the rest.
//!
//! For changes in which several units restart: all at once there is too much to look ahead to, while each alone
//! is near. Those that restart come first, while what shall go still stands, and once more last; the cheaper is kept.

use std::borrow::Cow;

use crate::model::setting::Setting;
use crate::model::table::UnitId;

use super::Route;
use super::bound::{Cost, item};
use super::parts::parts;
use super::roles::needs_restart;
use super::search::{End, FIRST_ITEMS, GREEDY, Goal, Search};
use super::work::Work;

/// Situations that the search for one thing may open.
const BUDGET: usize = 400;

/// The cheaper of both orders; with the legs of everybody who may be apart, where it takes those.
pub(super) fn piecewise(setting: &Setting, work: &Work) -> Option<Route> {
    let wide = Some(work.with_legs(setting)).filter(|wide| wide.legs != work.legs);
    [Some(work.clone()), wide].iter().flatten().find_map(|work| {
        let found = [true, false].into_iter().filter_map(|roles_first| in_order(setting, work, roles_first));
        found.min_by_key(|route| route.cost.first(FIRST_ITEMS))
    })
}

fn in_order(setting: &Setting, work: &Work, roles_first: bool) -> Option<Route> {
    let mut search = Search::new(setting, work, &[]);
    (search.items, search.weight) = (FIRST_ITEMS, GREEDY);
    let mut node = 0;
    if roles_first {
        node = roles(&mut search, node, work);
        if node == 0 {
            return None;
        }
    }
    let mut left = parts(setting, work);
    left.retain(|part| part.ids.is_empty() && part.priorities.is_empty());
    while let Some((position, end)) = cheapest(&mut search, node, left.iter().map(|part| (part, Goal::Done))) {
        left.remove(position);
        node = end;
    }
    node = roles(&mut search, node, work);
    let end = run(&mut search, node, work, Goal::Target)?;
    Some(search.route(end, false))
}

/// Units that are numbered or restart, one after the other; those that cannot be done now are left.
fn roles(search: &mut Search<'_>, from: usize, work: &Work) -> usize {
    let mut node = from;
    let role =
        Work { ports: Vec::new(), connect: Vec::new(), disconnect: Vec::new(), links: Vec::new(), ..work.clone() };
    let role = Work { newcomers: Vec::new(), pairs: Vec::new(), leavers: Default::default(), ..role };
    let role = role.touched(search.setting);
    loop {
        let Some(situation) = search.node(node).map(|node| node.situation.clone()) else { return node };
        let open =
            |unit: &UnitId| situation.state.units[*unit].powered && needs_restart(search.setting, &situation, *unit);
        let stay = search.setting.all_units().minus(search.setting.leaving);
        let units: Vec<UnitId> = stay.iter().filter(open).collect();
        let goals: Vec<_> = units.into_iter().map(|unit| (&role, Goal::Settled(unit))).collect();
        match cheapest(search, node, goals.into_iter()) {
            Some((_, end)) => node = end,
            None => return node,
        }
    }
}

/// The thing that costs least to do next, by its position, and the node at its end.
fn cheapest<'w>(
    search: &mut Search<'_>,
    from: usize,
    things: impl Iterator<Item = (&'w Work, Goal)>,
) -> Option<(usize, usize)> {
    let mut best: Option<(Cost, usize, usize)> = None;
    for (position, (work, goal)) in things.enumerate() {
        let Some(end) = run(search, from, work, goal) else { continue };
        let cost = search.node(end)?.cost.first(item::HALF_PROTECTED);
        if best.is_none_or(|(known, _, _)| cost < known) {
            best = Some((cost, position, end));
        }
    }
    best.map(|(_, position, end)| (position, end))
}

fn run(search: &mut Search<'_>, from: usize, work: &Work, goal: Goal) -> Option<usize> {
    search.work = Cow::Owned(work.clone());
    match search.run(from, BUDGET, goal) {
        End::Found(end) => Some(end),
        End::Exhausted | End::Budget => None,
    }
}
