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
#[path = "least/cheaper.rs"]
mod cheaper;
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
use ringwright::model::progress::{Memory, Situation};
use ringwright::model::table::UnitSet;

use cases::{Habit, changes, habits_for, moved};
use compare::{Planned, cost_of, planned};
use excess::{Known, Row, objections};
use kinds::list::with_other_box;
use kinds::{Change, Stack, setting_with, with_used_ports};

/// Planned, and the least by single operations. None is known to be dearer.
const EXCESS: [Known; 0] = [];

/// Planned, and the least by moves, which is a bound. None is known to be dearer.
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
    let all = route.stages.iter().flat_map(|(_, staged)| staged).chain(&route.steps).map(|step| Some(*step));
    let ours = plain::told(&setting, &all.collect::<Vec<_>>());
    let order = format!("{}\n  instead of: {ours}", plain::told(&setting, &found.steps));
    Row { name: change.name.clone(), habit, ours: cost, least: found.cost, items, order }
}

/// Items 1 to 4 are compared; moves have no steps.
fn by_moves(change: &Change, (habit, habits): Habit) -> Row {
    let Planned { setting, cost, .. } = planned(change, habits);
    let least = moves::Yard::new(&setting).least().unwrap_or_else(|| panic!("{}, {habit}: no moves", change.name));
    let least = [least[0], least[1], least[2], least[3], 0];
    let order = "a bound of moves".to_owned();
    Row { name: change.name.clone(), habit, ours: without_steps(cost), least, items: 4, order }
}

fn without_steps(cost: [i64; 5]) -> [i64; 5] {
    [cost[0], cost[1], cost[2], cost[3], 0]
}

#[test]
fn the_planner_costs_what_a_search_without_reductions_costs() {
    let with_habits = |change: Change| habits_for(&change).into_iter().map(move |habit| (change.clone(), habit));
    let cases: Vec<(Change, Habit)> = changes().into_iter().flat_map(with_habits).collect();
    let rows = rows(&cases, by_steps);
    let objections = objections(&rows, &EXCESS);
    assert!(objections.is_empty(), "{}", objections.join("\n"));
    // where a plan is not said to be the least, its steps are not compared
    let proved = rows.iter().filter(|row| row.items == 5).count();
    assert!(proved >= 161, "{proved} of {} plans are said to be the least", rows.len());
}

#[test]
fn no_order_of_links_cables_and_boxes_is_cheaper_than_the_planners() {
    let rows = rows(&moved(), by_moves);
    let objections = objections(&rows, &EXCESS_OF_MOVES);
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
    let row =
        |ours| Row { ours, least: cost, items: 5, order: String::new(), name: change.name.clone(), habit: "neutral" };
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

/// A ring is open longer than it need be where the old link goes before the new box is on.
#[test]
fn a_dearer_order_of_moves_is_found_dearer() {
    let change = cases::of_moves("insert into a ring", 3);
    let Planned { setting, route, cost, .. } = planned(&change, cases::HABITS[0].1);
    let least = moves::Yard::new(&setting).least().unwrap();
    assert_eq!(least, cost[..4]);
    let is_old = |step: &Operation| matches!(step, Operation::Disconnect(_));
    let old = route.steps.iter().copied().find(is_old).unwrap();
    let staged = route.stages.iter().flat_map(|(_, staged)| staged).copied();
    let others = staged.chain(route.steps.iter().copied()).filter(|step| !is_old(step));
    let early: Vec<Operation> = std::iter::once(old).chain(others).collect();
    let dearer = cost_of(&setting, &[], &early);
    let row = |ours: [i64; 5]| Row {
        name: change.name.clone(),
        habit: "neutral",
        ours: without_steps(ours),
        least: [least[0], least[1], least[2], least[3], 0],
        items: 4,
        order: String::new(),
    };
    assert!(dearer[1] > least[1], "{dearer:?} for {least:?}");
    assert!(objections(&[row(cost)], &[]).is_empty());
    assert_eq!(objections(&[row(dearer)], &[]).len(), 1);
}

/// Among the orders that a search by what is spent alone opens, nothing ahead is too much, and it ends as dear.
#[test]
fn what_is_ahead_is_never_more_than_what_comes() {
    let names = "a new stack of one, a second unit, remove, remove the primary, replace a dead member, hand over, \
                 renumber, renumber the primary, move a link, a second cable, drop the second cable, close, open";
    for name in names.split(", ") {
        let plain = habits_for(&case(name)).into_iter().find(|habit| habit.0 == "plain").unwrap();
        let setting = planned(&case(name), plain.1).setting;
        let (one, other) = (plain::search(&setting).unwrap(), plain::search_blindly(&setting).unwrap());
        assert_eq!(one.cost, other.cost, "{name}");
        assert!(one.opened <= other.opened, "{name}");
    }
    let (one_cable, one_step) = ([0, 0, 1, 0, 1], [0, 0, 0, 0, 1]);
    assert!(!ahead::too_much(one_cable, one_cable, [0; 5]));
    assert!(ahead::too_much(one_cable, one_step, [0; 5]) && ahead::too_much([0, 0, 1, 0, 2], one_cable, [0; 5]));
}

/// What is remembered is all kept, the units too that a failed one cut off, and nothing of it comes from elsewhere.
#[test]
fn a_packed_situation_is_the_same_situation() {
    let chain = || Stack::of(false, 3);
    let change = Change::new("a dead one between", Some(chain()), with_other_box(chain(), 1)).with_dead(2);
    let setting = setting_with(&with_used_ports(change.problem(|_| {})), &[]);
    let start = Situation::start(&setting);
    assert!(!start.memory.stranded.is_empty());
    let packing = packed::Packing::new(&setting);
    let one = UnitSet::one(setting.units.ids().next().unwrap());
    let others: [fn(&mut Memory, UnitSet); 8] = [
        |_, _| {},
        |memory, one| memory.live = one,
        |memory, one| memory.was_live = one,
        |memory, one| memory.stranded = one,
        |memory, one| memory.unready = one,
        |memory, one| memory.uncounted = one,
        |memory, one| memory.checked = one,
        |memory, _| memory.founded = false,
    ];
    for (number, change) in others.iter().enumerate() {
        let mut situation = start.clone();
        change(&mut situation.memory, one);
        assert!(number == 0 || situation.memory != start.memory, "change {number} changes nothing");
        let (again, seen) = packing.unpack(&packing.pack(&situation, 5));
        assert_eq!((again.memory, seen), (situation.memory, 5), "change {number}");
        assert_eq!((again.state.units, again.state.ports), (start.state.units.clone(), start.state.ports.clone()));
    }
}
