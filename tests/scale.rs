//! How the search for an order grows with the stack, and with the number of changes that are made together.
//!
//! Times mean little on a machine that others use, so only times of one run are compared, side by side and with wide
//! bounds. How many situations the search opens is the same everywhere: `tests/scale/opened.txt` holds it, and
//! `BLESS=1 cargo test --test scale` writes it anew. `--nocapture` prints the times.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "scale/changes.rs"]
mod changes;
#[path = "scale/faults.rs"]
mod faults;
#[path = "scale/stacks.rs"]
mod stacks;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use ringwright::analyse::faults::{Survey, cold_starts, finished};
use ringwright::plan::{NoRoute, route};

use stacks::Change;

const SIZES: [usize; 5] = [4, 8, 16, 32, 64];

/// From 16 members to 64 the time of a change may grow so many times at most; the third power is 64.
const GROWTH: f64 = 200.0;

/// Changes together may take so many times the sum of what they take one by one. Of two parts that stand apart the whole
/// is tried first, for 32 situations, before they are taken one by one; alone, each takes less than ten.
const TOGETHER: f64 = 60.0;

/// A time below it is that of the machine.
const LEAST: Duration = Duration::from_millis(1);

/// One search: what was found, and how long it took at best.
struct Found {
    size: usize,
    name: String,
    parts: &'static [&'static str],
    said: String,
    took: Duration,
}

fn everything() -> Vec<(usize, Change)> {
    let mut all = Vec::new();
    for size in SIZES {
        all.extend(changes::single(size).into_iter().map(|change| (size, change)));
        if size == 16 || size == 64 {
            let together = changes::double(size).into_iter().chain(changes::fourfold(size));
            all.extend(together.map(|change| (size, change)));
        }
    }
    all
}

/// Searches once, or up to five times where that is quick; the shortest time counts.
fn searched((size, change): (usize, Change)) -> Found {
    let setting = change.setting();
    let mut took = Duration::MAX;
    let mut said = String::new();
    for _ in 0..5 {
        let start = Instant::now();
        let found = route(&setting);
        took = took.min(start.elapsed());
        said = match found {
            Ok(route) => format!("{} opened, {} steps", route.opened, route.steps.len()),
            Err(NoRoute::SearchLimit { opened }) => format!("search limit, {opened} opened"),
            Err(NoRoute::Consents { needs, .. }) => format!("consents, {}", needs.len()),
            Err(NoRoute::Impossible { .. }) => "impossible".to_owned(),
            Err(NoRoute::Spare { .. }) => "a temporary cable".to_owned(),
        };
        if start.elapsed() > Duration::from_millis(100) {
            break;
        }
    }
    let name = change.title();
    let line = format!("{:>10.2} ms, {size:>2} members: {name}: {said}\n", took.as_secs_f64() * 1e3);
    // at once, and only with `--nocapture`
    print!("{line}");
    Found { size, name, parts: change.parts, said, took }
}

/// How many times one time is another, neither being less than the machine's own.
fn times(one: Duration, other: Duration) -> f64 {
    one.max(LEAST).as_secs_f64() / other.max(LEAST).as_secs_f64()
}

/// The changes whose time grows too fast with the stack, and those too slow for being made together.
fn too_slow(all: &[Found]) -> Vec<String> {
    let mut wrong = Vec::new();
    let at: BTreeMap<(usize, &str), Duration> =
        all.iter().map(|one| ((one.size, one.name.as_str()), one.took)).collect();
    for one in all.iter().filter(|one| one.size == 64) {
        let grown = at.get(&(16, one.name.as_str())).map(|small| times(one.took, *small));
        if let Some(grown) = grown.filter(|grown| *grown > GROWTH) {
            wrong.push(format!("{}: from 16 to 64 members the time grows {grown:.0} times", one.name));
        }
    }
    for one in all.iter().filter(|one| !one.parts.is_empty()) {
        let parts = one.parts.iter().map(|part| at.get(&(one.size, *part)).copied().unwrap_or_default());
        let more = times(one.took, parts.sum());
        if more > TOGETHER {
            wrong.push(format!("{} at {}: {more:.0} times what its parts take alone", one.name, one.size));
        }
    }
    wrong
}

#[test]
fn the_search_grows_with_the_stack_and_not_beyond() {
    let all: Vec<Found> = everything().into_iter().map(searched).collect();
    let mut table = String::new();
    for one in &all {
        writeln!(table, "{:>2} members: {}: {}", one.size, one.name, one.said).unwrap();
    }
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scale/opened.txt");
    if std::env::var_os("BLESS").is_some() {
        fs::write(&file, &table).unwrap();
    }
    let golden = fs::read_to_string(&file).unwrap();
    let differ = table.lines().zip(golden.lines()).find(|(found, known)| found != known);
    assert!(table == golden, "run with BLESS=1 and look at the difference: {differ:?}");
    assert!(!table.contains("consents") && !table.contains("impossible"), "every change is one that can be planned");
    let wrong = too_slow(&all);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A search that grows too fast must be found, by either bound.
#[test]
fn the_bounds_themselves_can_fail() {
    let found = |size, name: &str, parts: &'static [&'static str], millis| {
        let took = Duration::from_millis(millis);
        Found { size, name: name.to_owned(), parts, said: String::new(), took }
    };
    let slow = |small, large, both| {
        let one = [found(16, "open", &[], small), found(64, "open", &[], large)];
        too_slow(&one.into_iter().chain([found(64, "both", &["open", "open"], both)]).collect::<Vec<_>>()).len()
    };
    assert_eq!(slow(10, 1900, 1900), 0);
    assert_eq!(slow(10, 2100, 2100), 1, "it grows too fast");
    assert_eq!(slow(10, 100, 12_100), 1, "it is too slow together");
    assert_eq!(slow(0, 100, 100), 0, "what is as quick as the machine does not count");
    // a part that nobody timed counts as nothing, so that a wrong name shows
    assert_eq!(too_slow(&[found(16, "both", &["shut"], 61)]).len(), 1);
}

/// Every part is a change that is timed alone.
#[test]
fn every_name_is_that_of_a_change() {
    let single: Vec<String> = changes::single(16).iter().map(Change::title).collect();
    for change in changes::double(16).iter().chain(&changes::fourfold(16)) {
        assert!(change.parts.iter().all(|part| single.iter().any(|name| name == part)), "{}", change.title());
    }
}

/// Every single fault and every pair of a ring: how many there are, and the shortest of some times.
fn struck(count: usize, cables: usize) -> (usize, Duration) {
    let setting = faults::ring(count, cables);
    let (mut tried, mut took) = (0, Duration::MAX);
    for _ in 0..5 {
        let start = Instant::now();
        let survey = Survey::of(finished(&setting));
        tried = survey.singles.len() + survey.pairs().count();
        took = took.min(start.elapsed());
    }
    println!(
        "{:>10.2} ms, {count:>2} members, {cables} cables a side: {tried} faults and pairs",
        took.as_secs_f64() * 1e3
    );
    (tried, took)
}

/// From 16 members to 64 there are some 16 times as many pairs, and each is settled on four times as many units.
const FAULTS_GROWTH: f64 = 160.0;

/// Three more cables a side make ten times as many pairs, but none that needs another settling.
const CABLES_GROWTH: f64 = 40.0;

/// Times of one run side by side, with a wide margin. Of 16 members: 16 links, 16 units, 2 legs, and every two of them.
#[test]
fn faults_grow_with_the_square_of_what_can_fail() {
    let (few, small) = struck(16, 1);
    let (many, large) = struck(64, 1);
    let (most, wide) = struck(64, 4);
    assert_eq!((few, many), (34 + 34 * 33 / 2, 130 + 130 * 129 / 2));
    // 256 single cables more, and no link with one of its own four
    assert_eq!(most, 386 + 386 * 385 / 2 - 64 * 4);
    assert!(times(large, small) < FAULTS_GROWTH, "from 16 to 64 members {:.0} times", times(large, small));
    assert!(times(wide, large) < CABLES_GROWTH, "from one cable a side to four {:.0} times", times(wide, large));
}

/// A staggered cold start tries every order of few members, and a bounded number of orders of many.
#[test]
fn cold_starts_are_bounded() {
    let took = |count: usize| {
        let setting = faults::ring(count, 1);
        let start = Instant::now();
        let found = cold_starts(&finished(&setting));
        println!("{:>10.2} ms, {count:>2} members: {found:?}", start.elapsed().as_secs_f64() * 1e3);
        start.elapsed()
    };
    let (six, many) = (took(6), took(64));
    assert!(times(many, six) < 400.0, "{:.0} times", times(many, six));
}
