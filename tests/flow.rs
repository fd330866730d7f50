//! Random changes of every kind that a stack can take, alone and mixed, on platforms of every habit: each
//! is compiled, once more with the consents that a refusal asks for, and each plan is judged by `rehearse`
//! and by the second judge in Python, which shares no code with it. A share of the bundles is read back by
//! a reader that holds none of the templates, of another share networkx recomputes what is predicted, and of a third what
//! it says of faults is worked out anew.
//!
//! A number is a case for ever. `RINGWRIGHT_CASES` sets how many there are and `RINGWRIGHT_FROM` with which
//! the row begins, so that several processes can share a long run:
//!
//!     RINGWRIGHT_FROM=10000 RINGWRIGHT_CASES=10000 cargo test --release --test flow random

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "flow/alike.rs"]
mod alike;
#[path = "flow/base.rs"]
mod base;
#[path = "flow/care.rs"]
mod care;
#[path = "flow/dice.rs"]
mod dice;
#[path = "flow/edits.rs"]
mod edits;
#[path = "flow/habits.rs"]
mod habits;
#[path = "flow/intents.rs"]
mod intents;
#[path = "flow/judges.rs"]
mod judges;
#[path = "flow/kept.rs"]
mod kept;
#[path = "flow/outcome.rs"]
mod outcome;
#[path = "flow/roles.rs"]
mod roles;
#[path = "flow/slipped.rs"]
mod slipped;
#[path = "flow/stack.rs"]
mod stack;
#[path = "flow/tally.rs"]
mod tally;
#[path = "flow/wiring.rs"]
mod wiring;
mod yard;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use ringwright::compile::Compiled;
use ringwright::model::traits::Traits;
use ringwright::plan::cabling::is_stuck;
use ringwright::plan::work::work;

use edits::{EDITS, Edit};
use intents::{Case, KINDS, Kind, case};
use kept::{AT_THE_BOUND, KEPT, TORN, WIDE_KEPT};
use outcome::{Outcome, outcome};
use tally::Tally;

/// In how many of a thousand cases the search may end at its bound.
const LIMITS: u64 = 1;

/// In how many of a thousand cases the plan has a step without a way back.
const ONE_WAY: u64 = 200;

/// In how many of a thousand cases a step that is left out, or a run of steps at another place, may do harm before
/// somebody sees it, or a look may be there for nothing: in none.
const CARELESS: u64 = 0;

/// In how many of a thousand cases a step that is left out on a way back, or a run of steps of it at another place, may
/// do harm unseen: in none.
const CARELESS_BACK: u64 = 0;

/// The same bounds for platforms of wider habits, in a thousand cases: where the search ends, plans and ways back in which
/// a step that is left out may do harm unseen. The aim is none.
const WIDE_LIMITS: u64 = 2;
const WIDE_CARELESS: u64 = 4;
const WIDE_CARELESS_BACK: u64 = 4;

/// How many cases one worker takes at a time; each bout starts the judges once.
const BOUT: usize = 40;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect("a number"))
}

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn write(compiled: &Compiled, folder: &Path) {
    for (path, bytes) in &compiled.bundle.files {
        let path = folder.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// Compiles one case; where there is a plan, it lies in the folder afterwards. Says whether there is one.
fn compile_one(case: &Case, neutral: &Traits, folder: &Path, tally: &mut Tally) -> bool {
    let start = Instant::now();
    AT_WORK.lock().unwrap().insert(case.number, start);
    let outcome = outcome(case);
    AT_WORK.lock().unwrap().remove(&case.number);
    tally.took(case, start.elapsed());
    match outcome {
        Ok(Outcome::Planned(plan, consents)) => {
            tally.meets(&case.traits);
            if !care::returns(plan.rehearsed.plan()) {
                tally.no_way_back(case, neutral);
            }
            let idle = if case.number % 5 == 2 { care::no_idle_look(plan.rehearsed.plan()) } else { Ok(()) };
            for failure in [care::careful(plan.rehearsed.plan()), idle].into_iter().filter_map(Result::err) {
                tally.careless(case, neutral, &failure);
            }
            if let Err(failure) = care::careful_back(plan.rehearsed.plan()) {
                tally.careless_back(case, neutral, &failure);
            }
            if let Err(failure) = slipped::hold(&plan.rehearsed) {
                tally.fail(case, neutral, &failure);
            }
            let text = serde_json::to_string(plan.rehearsed.plan()).unwrap();
            fs::write(plan_file(folder, case.number), text).unwrap();
            if case.number.is_multiple_of(4) {
                write(&plan, &bundle_folder(folder, case.number));
            }
            match consents.is_empty() {
                true => tally.kind(case).planned += 1,
                false => tally.kind(case).consented += 1,
            }
            return true;
        }
        Ok(Outcome::NoSafeOrder(message)) => tally.impossible(case, neutral, &message),
        Ok(Outcome::SearchLimit) => tally.limit(case, neutral),
        Ok(Outcome::NotYet) => tally.kind(case).not_yet += 1,
        Err(failure) => tally.fail(case, neutral, &failure),
    }
    false
}

fn plan_file(folder: &Path, number: u64) -> PathBuf {
    folder.join(format!("{number}.json"))
}

fn bundle_folder(folder: &Path, number: u64) -> PathBuf {
    folder.join(format!("bundle-{number}"))
}

/// The plan as it lies in a bundle, with what it says of faults.
fn bundled_plan(folder: &Path, number: u64) -> PathBuf {
    bundle_folder(folder, number).join("plan.json")
}

/// Compiles a bout of cases and has their plans judged: all by the second judge, shares by the others.
fn bout(numbers: &[u64], neutral: &Traits) -> Tally {
    let mut tally = Tally::default();
    let folder = folder(&format!("flow-{}", numbers[0]));
    let cases: Vec<Case> = numbers.iter().map(|number| case(*number, neutral)).collect();
    let planned: Vec<&Case> = cases.iter().filter(|one| compile_one(one, neutral, &folder, &mut tally)).collect();
    let share = |keep: fn(u64) -> bool, file: fn(&Path, u64) -> PathBuf| {
        let kept = planned.iter().filter(|one| keep(one.number));
        kept.map(|one| (file(&folder, one.number), *one)).collect::<BTreeMap<PathBuf, &Case>>()
    };
    let plans = share(|_| true, plan_file);
    let graphs = share(|number| number % 5 < 3, plan_file);
    let bundles = share(|number| number.is_multiple_of(4), bundle_folder);
    let faults = share(|number| number.is_multiple_of(8), bundled_plan);
    let python = yard::python();
    tally.blame(&plans, neutral, &judges::second_judge);
    tally.blame(&graphs, neutral, &|files| judges::graphs(&python, files));
    tally.blame(&bundles, neutral, &judges::reader);
    tally.blame(&faults, neutral, &|files| judges::faults(&python, files));
    (tally.graphs, tally.bundles) = (graphs.len(), bundles.len());
    // what was objected to stays there to be looked at
    if tally.failures().is_empty() {
        fs::remove_dir_all(&folder).unwrap();
    }
    tally
}

/// Which case each worker is at, and since when: one that never ends must be known by its number.
static AT_WORK: Mutex<BTreeMap<u64, Instant>> = Mutex::new(BTreeMap::new());

/// The longest that one case may take.
const PATIENCE: Duration = Duration::from_secs(600);

/// Ends the run when a case does not end.
fn watch(neutral: &Traits, done: &AtomicBool) {
    while !done.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(100));
        let stuck =
            AT_WORK.lock().unwrap().iter().find(|(_, since)| since.elapsed() > PATIENCE).map(|(number, _)| *number);
        if let Some(number) = stuck {
            tell(&tally::repeat(&case(number, neutral), neutral, "it does not end"));
            std::process::exit(1);
        }
    }
}

/// Takes the cases in bouts, two workers side by side where there are processors for them.
fn all(numbers: &[u64], neutral: &Traits) -> Tally {
    let bouts: Vec<&[u64]> = numbers.chunks(BOUT).collect();
    let (next, done) = (AtomicUsize::new(0), AtomicBool::new(false));
    let workers = std::thread::available_parallelism().map_or(1, |count| count.get().min(2));
    std::thread::scope(|scope| {
        let work = || {
            let mut tally = Tally::default();
            while let Some(numbers) = bouts.get(next.fetch_add(1, Ordering::Relaxed)) {
                tally.add(bout(numbers, neutral));
            }
            tally
        };
        let handles: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        let mut sum = Tally::default();
        scope.spawn(|| watch(neutral, &done));
        let ended: Vec<_> = handles.into_iter().map(|handle| handle.join()).collect();
        done.store(true, Ordering::Relaxed);
        ended.into_iter().for_each(|tally| sum.add(tally.expect("a worker ends")));
        sum
    })
}

/// Tells people at once: what a test prints is not shown when it passes.
fn tell(text: &str) {
    let _ = std::io::stdout().write_all(text.as_bytes());
}

#[test]
fn random_changes_are_planned_and_every_judge_accepts() {
    let (first, count) = (number("RINGWRIGHT_FROM", 0), number("RINGWRIGHT_CASES", 1000));
    // one case alone is asked for by its number
    let beyond = |number: &u64| count > 1 && !(first..first + count).contains(number);
    // the kept ones take longest: they go first, so that no worker waits for them
    let kept = KEPT.iter().copied().filter(beyond);
    let numbers: Vec<u64> = kept.chain(first..first + count).collect();
    let tally = all(&numbers, &yard::neutral());
    tell(&format!("\ncases {first} to {}:\n{}", first + count - 1, tally.table()));
    tell(&tally.refusals());
    let failures = tally.failures();
    assert!(failures.is_empty(), "{failures}");
    let most = (count * CARELESS).div_ceil(1000);
    assert!(tally.careless_plans() as u64 <= most, "too many plans are careless:\n{}", tally.refusals());
    let most = (count * CARELESS_BACK).div_ceil(1000);
    assert!(tally.careless_ways() as u64 <= most, "too many ways back are careless:\n{}", tally.refusals());
    let most = (numbers.len() as u64 * ONE_WAY).div_ceil(1000);
    assert!(tally.one_way() as u64 <= most, "too many plans have no way back from a step");
    let kept = AT_THE_BOUND.iter().filter(|number| beyond(number)).count() as u64;
    let most = (count * LIMITS).div_ceil(1000) + kept;
    assert!(tally.limits() as u64 <= most, "the search ended at its bound too often");
    let seldom = tally.seldom(habits::VALUES, met(count));
    assert!(seldom.is_empty(), "too few planned changes met {seldom:?}");
}

/// In how many planned changes of so many cases each value of a trait must be met: in 100 of 20,000.
const fn met(count: u64) -> usize {
    count as usize / 200
}

/// What was found for a stack serves its twin of other names: every third case of two rounds, and of some with wider
/// habits, after a twin whose names stand in the same order, or in the opposite one.
#[test]
fn a_stack_is_served_by_its_twin_and_the_same_comes_out() {
    let neutral = yard::neutral();
    let numbers = (0..KINDS.len() as u64 * 2).chain(intents::WIDE..intents::WIDE + 30).step_by(3);
    let (mut planned, mut served) = (0, 0);
    for number in numbers {
        let case = case(number, &neutral);
        let accept = match outcome(&case) {
            Ok(Outcome::Planned(_, accept)) => accept,
            _ => Vec::new(),
        };
        let turned = number % 2 == 1;
        let shared = alike::shared(&case, turned, &accept).unwrap_or_else(|fault| panic!("case {number}: {fault}"));
        planned += usize::from(shared.planned);
        served += usize::from(shared.planned && shared.shapes == 1);
        assert!(!turned || shared.shapes > 0 || !shared.planned, "case {number}: nothing is shared");
    }
    tell(&format!("\n{planned} planned after a twin, {served} of them served by it\n"));
    assert!(planned > 30 && served > planned / 3, "{served} of {planned} were served by their twin");
}

/// The same on platforms of wider habits. `RINGWRIGHT_WIDE` sets how many cases there are.
#[test]
fn changes_on_platforms_of_wider_habits() {
    let count = number("RINGWRIGHT_WIDE", 250);
    let first = number("RINGWRIGHT_WIDE_FROM", intents::WIDE);
    let kept = WIDE_KEPT.iter().copied().filter(|number| count > 1 && !(first..first + count).contains(number));
    let numbers: Vec<u64> = kept.chain(first..first + count).collect();
    let neutral = yard::neutral();
    let tally = all(&numbers, &neutral);
    tell(&format!("\ncases {first} to {}:\n{}", first + count - 1, tally.table()));
    tell(&tally.refusals());
    let failures = tally.failures();
    assert!(failures.is_empty(), "{failures}");
    let most = |thousandth: u64| (count * thousandth).div_ceil(1000);
    assert!(tally.limits() as u64 <= most(WIDE_LIMITS), "the search ended at its bound too often");
    assert!(tally.careless_plans() as u64 <= most(WIDE_CARELESS), "too many plans are careless");
    assert!(tally.careless_ways() as u64 <= most(WIDE_CARELESS_BACK), "too many ways back are careless");
    let seldom = tally.seldom(habits::WIDE_VALUES, met(count));
    assert!(seldom.is_empty(), "too few planned changes met {seldom:?}");
}

/// Where neither piece of a chain could hold every pair, no order of cables and power does, and that is known without a
/// search; what is said to be so is planned with a temporary cable or not at all.
#[test]
fn pairs_that_no_piece_of_the_stack_could_hold_are_known_without_a_search() {
    let neutral = yard::neutral();
    let is_torn = |number: &u64| {
        let setting = outcome::setting_of(&case(*number, &neutral)).expect("it is lowered");
        is_stuck(&setting, &work(&setting))
    };
    let torn: Vec<u64> = (0..1000).chain(TORN.iter().copied()).filter(is_torn).collect();
    assert!(TORN.iter().all(|number| torn.contains(number)), "of {TORN:?} only {torn:?} are known");
    for number in torn {
        match outcome(&case(number, &neutral)) {
            Ok(Outcome::NoSafeOrder(_)) => {}
            Ok(Outcome::Planned(plan, _)) if plan.rehearsed.plan().change.temporary_cables => {}
            _ => panic!("case {number} is neither refused nor planned with a temporary cable"),
        }
    }
}

/// Any two values of two traits meet on some platform among the 20,000 cases of the long form.
#[test]
fn the_cases_of_wider_habits_hold_every_pair_of_values() {
    let neutral = yard::neutral();
    let values: Vec<&str> = habits::VALUES.iter().chain(habits::WIDE_VALUES).copied().collect();
    let mut met: BTreeSet<(&str, &str)> = BTreeSet::new();
    for number in intents::WIDE..intents::WIDE + 20_000 {
        let own = habits::values(&case(number, &neutral).traits);
        let own: Vec<&str> = values.iter().copied().filter(|value| own.iter().any(|one| one == value)).collect();
        met.extend(
            own.iter().enumerate().flat_map(|(at, one)| own.iter().skip(at + 1).map(move |other| (*one, *other))),
        );
    }
    let missing: Vec<(&str, &str)> = values
        .iter()
        .enumerate()
        .flat_map(|(at, one)| values.iter().skip(at + 1).map(move |other| (*one, *other)))
        .filter(|(one, other)| habits::can_meet(one, other) && !met.contains(&(*one, *other)))
        .collect();
    assert!(missing.is_empty(), "no case has {missing:?}");
}

/// The generator must reach what it is for: every kind and edit, every value of every trait.
#[test]
fn the_cases_hold_every_edit_and_every_trait() {
    let neutral = yard::neutral();
    let cases: Vec<Case> = (0..3000).map(|number| case(number, &neutral)).collect();
    let edits: Vec<Edit> = cases.iter().filter(|one| one.kind == Kind::Any).flat_map(|one| one.edits.clone()).collect();
    for edit in EDITS {
        let count = edits.iter().filter(|one| **one == edit).count();
        assert!(count > 10, "the mixtures hold {edit:?} {count} times");
    }
    let plain = cases.iter().filter(|one| one.traits == neutral).count();
    assert!((1400..1600).contains(&plain), "{plain} of 3000 have neutral's habits");
    assert!(cases.iter().any(|one| one.after.members.len() == 8));
    assert!(cases.iter().all(|one| one.after.members.len() <= 8));
    let seen: BTreeSet<String> = cases.iter().flat_map(|one| habits::values(&one.traits)).collect();
    let missing: Vec<&str> = habits::VALUES.iter().copied().filter(|value| !seen.contains(*value)).collect();
    assert!(missing.is_empty(), "no case has {missing:?}");
}

/// A prediction that is not so must be found, or the agreement of networkx says nothing.
#[test]
fn networkx_finds_a_false_prediction() {
    let folder = folder("flow-false-prediction");
    let neutral = yard::neutral();
    let plan = (0..).map(|number| case(number, &neutral)).find_map(|case| match outcome(&case) {
        Ok(Outcome::Planned(plan, _)) if case.after.members.len() > 2 => Some(plan),
        _ => None,
    });
    let plan = serde_json::to_value(plan.unwrap().rehearsed.plan()).unwrap();
    let last = plan["steps"].as_array().unwrap().len() - 1;
    let (mut apart, mut open) = (plan.clone(), plan.clone());
    apart["steps"][last]["predicts"]["islands"].as_array_mut().unwrap()[0].as_array_mut().unwrap().pop();
    let said = open["steps"][last]["predicts"]["unprotected"].as_bool().unwrap();
    open["steps"][last]["predicts"]["unprotected"] = (!said).into();
    let files: Vec<PathBuf> = ["a", "b", "c"].iter().map(|name| folder.join(name)).collect();
    for (file, plan) in files.iter().zip([plan, apart, open]) {
        fs::write(file, plan.to_string()).unwrap();
    }
    let found = judges::graphs(&yard::python(), &files);
    assert_eq!(found.keys().collect::<Vec<_>>(), [&files[1], &files[2]]);
}
