//! The planner against searches that share none of its reductions, and on differences that no name fits.
//!
//! `least/plain.rs` tries single operations and every port setting, for stacks of one and two members.
//! `least/moves.rs` tries whole moves of links, for up to four. Where the planner is dearer than a search it
//! is listed in `EXCESS` or `EXCESS_OF_MOVES`, with both costs, until it is mended.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test fails by panicking"
)]

mod kinds;

#[path = "least/ahead.rs"]
mod ahead;
#[path = "least/cases.rs"]
mod cases;
#[path = "least/compare.rs"]
mod compare;
#[path = "least/excess.rs"]
mod excess;
#[path = "least/moves.rs"]
mod moves;
#[path = "least/packed.rs"]
mod packed;
#[path = "least/plain.rs"]
mod plain;
#[path = "least/price.rs"]
mod price;
#[path = "least/unnamed.rs"]
mod unnamed;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use ringwright::model::operation::Operation;
use ringwright::model::progress::Situation;

use cases::{Habit, changes, habits_for, moved};
use compare::{Planned, cost_of, planned};
use excess::{Known, Row, objections};
use kinds::list::with_other_box;
use kinds::{Change, Stack, setting_with, with_used_ports};

const EXCESS: [Known; 0] = [];

const EXCESS_OF_MOVES: [Known; 0] = [];

/// Compares every case, two at a time.
fn rows(cases: &[(Change, Habit)], row: impl Fn(&Change, Habit) -> Row + Sync) -> Vec<Row> {
    let (next, rows) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let work = || {
        while let Some((change, habit)) = cases.get(next.fetch_add(1, Ordering::Relaxed)) {
            let row = row(change, *habit);
            rows.lock().unwrap().push(row);
        }
    };
    std::thread::scope(|scope| [scope.spawn(work), scope.spawn(work)].map(|done| done.join().unwrap()));
    rows.into_inner().unwrap()
}

/// Items 1 to 4 are compared, and 5 where the plan is said to be the least.
fn by_steps(change: &Change, (habit, habits): Habit) -> Row {
    let Planned { setting, route, cost, .. } = planned(change, habits);
    let found = plain::search(&setting).unwrap_or_else(|| panic!("{}, {habit}: no route at all", change.name));
    let items = if route.proved_least { 5 } else { 4 };
    let order = plain::told(&setting, &found.steps);
    Row { name: change.name.clone(), habit, ours: cost, least: found.cost, items, order }
}

/// Items 1 to 4 are compared; moves have no steps.
fn by_moves(change: &Change, (habit, habits): Habit) -> Row {
    let Planned { setting, cost, .. } = planned(change, habits);
    let least = moves::Yard::new(&setting).least().unwrap_or_else(|| panic!("{}, {habit}: no moves", change.name));
    let without_steps = |cost: [i64; 4]| [cost[0], cost[1], cost[2], cost[3], 0];
    let ours = without_steps([cost[0], cost[1], cost[2], cost[3]]);
    Row { name: change.name.clone(), habit, ours, least: without_steps(least), items: 4, order: "by moves".to_owned() }
}

#[test]
fn the_planner_costs_what_a_search_without_reductions_costs() {
    let with_habits = |change: Change| habits_for(&change).into_iter().map(move |habit| (change.clone(), habit));
    let cases: Vec<(Change, Habit)> = changes().into_iter().flat_map(with_habits).collect();
    let objections = objections(&rows(&cases, by_steps), &EXCESS);
    assert!(objections.is_empty(), "{}", objections.join("\n"));
}

#[test]
fn no_order_of_links_cables_and_boxes_is_cheaper_than_the_planners() {
    let objections = objections(&rows(&moved(), by_moves), &EXCESS_OF_MOVES);
    assert!(objections.is_empty(), "{}", objections.join("\n"));
}

fn case(name: &str) -> Change {
    changes().into_iter().find(|change| change.name == name).unwrap()
}

/// The comparison finds an order dearer that is: a save more, a cable out and in again, a link that a plug
/// brings up; and it does not find one dearer that is not.
#[test]
fn a_dearer_order_is_found_dearer() {
    let change = case("a second unit");
    let Planned { setting, route, cost, .. } = planned(&change, |_| {});
    let row = |ours| Row { ours, least: cost, items: 5, order: String::new(), name: change.name.clone(), habit: "neutral" };
    assert_eq!(plain::search(&setting).unwrap().cost, cost);
    assert!(objections(&[row(cost)], &[]).is_empty());
    let last = *route.steps.last().unwrap();
    let cable = route.steps.iter().find(|step| matches!(step, Operation::Connect(_))).copied().unwrap();
    let Operation::Connect(it) = cable else { unreachable!() };
    let at = route.steps.iter().position(|step| *step == cable).unwrap();
    let saved_twice = [&route.steps[..], &[last]].concat();
    let out_and_in = [&route.steps[..=at], &[Operation::Disconnect(it)], &route.steps[at..]].concat();
    let mut plugged_last = route.steps.clone();
    plugged_last.remove(at);
    plugged_last.insert(plugged_last.len() - 1, cable);
    for (steps, item) in [(saved_twice, 4), (out_and_in, 2), (plugged_last, 3)] {
        let dearer = cost_of(&setting, &route.stages, &steps);
        assert!(dearer[item] > cost[item] && dearer[..item] == cost[..item], "{dearer:?} for {cost:?}");
        assert_eq!(objections(&[row(dearer)], &[]).len(), 1);
        // listed, it passes; listed otherwise, mended or never compared, it does not
        let known = |ours, least| [("a second unit", "neutral", ours, least)];
        assert!(objections(&[row(dearer)], &known(dearer, cost)).is_empty());
        assert_eq!(objections(&[row(dearer)], &known(cost, cost)).len(), 1);
        assert_eq!(objections(&[row(cost)], &known(dearer, cost)).len(), 1);
        assert_eq!(objections(&[], &known(dearer, cost)).len(), 1);
    }
}

/// A ring is open longer than it need be where the old link goes before the new box is ready.
#[test]
fn a_dearer_order_of_moves_is_found_dearer() {
    let change = cases::of_moves("insert into a ring", 3);
    let Planned { setting, route, cost, .. } = planned(&change, |_| {});
    let least = moves::Yard::new(&setting).least().unwrap();
    assert_eq!(least, cost[..4]);
    let old = route.steps.iter().position(|step| matches!(step, Operation::Disconnect(_))).unwrap();
    let mut early = route.steps.clone();
    let unplugged = early.remove(old);
    early.insert(0, unplugged);
    let dearer = cost_of(&setting, &route.stages, &early);
    assert!(dearer[1] > least[1], "{dearer:?} for {least:?}");
}

/// Among the orders that a search by what is spent alone opens, nothing ahead is too much, and it ends as dear.
#[test]
fn what_is_ahead_is_never_more_than_what_comes() {
    let plain = |habit: &Habit| habit.0.starts_with("plain");
    for name in ["a new stack of one", "a second unit", "remove", "remove the primary", "close", "hand over", "replace a dead primary"] {
        let change = case(name);
        for (habit, habits) in habits_for(&change).into_iter().filter(plain) {
            let setting = planned(&change, habits).setting;
            let (one, other) = (plain::search(&setting).unwrap(), plain::search_blindly(&setting).unwrap());
            assert_eq!(one.cost, other.cost, "{name}, {habit}");
            assert!(one.opened <= other.opened, "{name}, {habit}");
        }
    }
}

/// What is remembered is all kept, the units too that a failed one cut off.
#[test]
fn a_packed_situation_is_the_same_situation() {
    let chain = || Stack::of(false, 3);
    let change = Change::new("a dead one between", Some(chain()), with_other_box(chain(), 1)).with_dead(2);
    let setting = setting_with(&with_used_ports(change.problem(|_| {})), &[]);
    let start = Situation::start(&setting);
    assert!(!start.memory.stranded.is_empty());
    let packing = packed::Packing::new(&setting);
    let (again, seen) = packing.unpack(&packing.pack(&start, 5));
    assert_eq!((again.memory, seen), (start.memory, 5));
    assert_eq!((again.state.units, again.state.ports), (start.state.units, start.state.ports));
}
