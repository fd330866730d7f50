//! One stretch after the other, where all at once takes too long: newcomers one by one, then cable by cable.

use std::borrow::Cow;

use crate::model::derive::{Link, link};
use crate::model::table::{CableId, UnitId};

use super::parts::{cable_part, one_cable_first, part};
use super::search::{End, Goal, Search};
use super::sequence::{HASTES, LINK_BUDGET, PART_BUDGET};
use super::work::{Newcomer, Work};

/// Situations that a stretch may open before all haste is tried for it.
const STRETCH_BUDGET: usize = 150;

/// Brings in one newcomer after the other, each by one cable a link; then brings up what links
/// are missing, cable by cable; then does the rest.
pub(super) fn one_by_one(search: &mut Search<'_>, from: usize, whole: &Work) -> Option<usize> {
    let mut node = from;
    loop {
        let situation = search.node(node)?.situation.clone();
        let outside: Vec<_> = whole.newcomers.iter().filter(|one| !situation.memory.live.contains(one.unit)).collect();
        if outside.is_empty() {
            break;
        }
        let alone = |one: &Newcomer| part(search.setting, whole, &situation, one).map(|part| (one.unit, part));
        let parts: Vec<(UnitId, Work)> = outside.into_iter().filter_map(alone).collect();
        // by name: how many are live says nothing where one goes first
        node = parts.into_iter().find_map(|(unit, part)| reach(search, node, part, Goal::Live(unit), LINK_BUDGET))?;
    }
    for wanted in &one_cable_first(search.setting, whole) {
        if !is_up(search, node, wanted.0) {
            let part = cable_part(search.setting, whole, std::slice::from_ref(wanted));
            // a cable that cannot be brought up alone is left for the rest
            node = reach(search, node, part, Goal::Up(wanted.0), LINK_BUDGET).unwrap_or(node);
        }
    }
    reach(search, node, whole.clone(), Goal::Done, LINK_BUDGET)
}

fn is_up(search: &Search<'_>, node: usize, cable: CableId) -> bool {
    search.node(node).is_some_and(|node| link(search.setting, &node.situation.state, cable) == Link::Stack)
}

/// From one node to a goal: with less haste first, and with more where that does not end soon.
pub(super) fn reach(search: &mut Search<'_>, from: usize, part: Work, goal: Goal, budget: usize) -> Option<usize> {
    search.work = Cow::Owned(part);
    let own = search.weight;
    let [slow, fast, blind] = HASTES;
    let soon = budget.min(STRETCH_BUDGET);
    // in all haste a stretch often takes a few situations only: that comes before more patience
    let short = [(1, budget.min(PART_BUDGET)), (slow, soon), (blind, budget.min(PART_BUDGET))];
    let tries = short.into_iter().chain([(slow, budget), (fast, budget), (blind, budget)]);
    for (weight, budget) in tries {
        // where haste was asked for, that alone
        if own == 1 || weight == own {
            search.weight = weight;
            let end = search.run(from, budget, goal);
            search.weight = own;
            match end {
                End::Found(node) => return Some(node),
                End::Exhausted => return None,
                End::Budget => {}
            }
        }
    }
    None
}
