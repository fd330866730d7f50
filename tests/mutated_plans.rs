//! Every example's plan with one mistake in it, judged twice: whatever `rehearse` accepts, the second judge accepts,
//! and the other way about, but for the differences listed in `tests/mutated_plans/known.rs`.
//!
//! What a plan says of itself (places, minutes, predictions, cost) is left out, so that only its steps count. Pairs of
//! steps that change places at a distance are drawn with a fixed seed, and of mistakes in looks one in a few is taken.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "mutated_plans/known.rs"]
mod known;
#[path = "mutated_plans/mutants.rs"]
mod mutants;
#[path = "mutated_plans/plans.rs"]
mod plans;
#[path = "mutated_plans/verdicts.rs"]
mod verdicts;

use std::collections::BTreeMap;
use std::fs;

use known::{IDLE, KNOWN, Known};
use mutants::{KINDS, Kind, Mutant, mutants};
use plans::{Plan, plans};
use verdicts::{Verdicts, verdicts};

/// Of a hundred mutants of a kind, at least so many must be refused. Looks are doubled on purpose, and many
/// neighbours touch nothing that they share.
const fn least_refused(kind: Kind) -> usize {
    match kind {
        Kind::Removed => 75,
        Kind::Argument | Kind::Fact => 90,
        Kind::Unseen => 35,
        Kind::Neighbours => 65,
        Kind::Farther => 95,
    }
}

/// A mutant about which the judges differ, by title.
type Differences<'a> = BTreeMap<String, (&'a str, Verdicts)>;

/// What is wrong with the differences that were found, held against those that are known.
fn unlike_the_known(found: &Differences<'_>, known: &[Known]) -> Vec<String> {
    let fits = |one: &Known, title: &str, said: &Verdicts| match (&said.ours, &said.second) {
        (Some((code, text)), None) => {
            title.contains(one.title) && one.ours.iter().any(|(rule, words)| code == rule && text.contains(words))
        }
        _ => false,
    };
    let entry = |title: &str, said: &Verdicts| known.iter().position(|one| fits(one, title, said));
    let mut wrong = Vec::new();
    for (title, (_, said)) in found.iter().filter(|(title, (_, said))| entry(title, said).is_none()) {
        wrong.push(format!("not known: {title}\n  ours: {:?}\n  second: {:?}", said.ours, said.second));
    }
    for (at, one) in known.iter().enumerate() {
        let of: Vec<_> = found.iter().filter(|(title, (_, said))| entry(title, said) == Some(at)).collect();
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        of.iter().for_each(|(_, (example, _))| *counts.entry(example).or_default() += 1);
        if !one.counts.iter().copied().eq(counts.iter().map(|(example, count)| (*example, *count))) {
            let titles: Vec<&str> = of.iter().map(|(title, _)| title.as_str()).collect();
            wrong.push(format!("{}\n  counts: {counts:?}\n  {}", one.why, titles.join("\n  ")));
        }
        if !of.iter().any(|(title, _)| *title == one.smallest) {
            wrong.push(format!("no longer a difference: {}", one.smallest));
        }
    }
    wrong
}

/// The kinds of which too few are refused, by either judge.
fn too_lenient(kinds: &[(Kind, &Verdicts)]) -> Vec<String> {
    let mut wrong = Vec::new();
    for kind in KINDS {
        let of: Vec<&Verdicts> = kinds.iter().filter(|(one, _)| *one == kind).map(|(_, said)| *said).collect();
        let ours = of.iter().filter(|said| said.ours.is_some()).count();
        let second = of.iter().filter(|said| said.second.is_some()).count();
        if of.is_empty() || ours.min(second) * 100 < of.len() * least_refused(kind) {
            wrong.push(format!("{kind:?}: of {} mutants ours refuses {ours}, the second judge {second}", of.len()));
        }
    }
    wrong
}

/// An operation without which the plan is as good is one too many.
fn idle(mutant: &Mutant<'_>, accepted: bool) -> Option<String> {
    (accepted && mutant.leaves_out_an_operation()).then(|| format!("accepted: {}", mutant.title()))
}

#[test]
fn both_judges_say_the_same_of_every_mutant() {
    let plans = plans();
    let mutants: Vec<Mutant<'_>> = plans.iter().flat_map(mutants).collect();
    for plan in plans {
        let of = |kind| mutants.iter().any(|mutant| mutant.plan.name == plan.name && mutant.kind == kind);
        assert!(KINDS.iter().all(|kind| of(*kind)), "{} has mutants of every kind", plan.name);
    }
    let said = verdicts(&mutants);
    assert_eq!(said.len(), mutants.len());
    let pairs = || mutants.iter().zip(&said);
    let kinds: Vec<(Kind, &Verdicts)> = pairs().map(|(mutant, said)| (mutant.kind, said)).collect();
    let refused = |said: &Verdicts| [said.ours.is_some(), said.second.is_some()];
    for kind in KINDS {
        let of: Vec<[bool; 2]> = kinds.iter().filter(|(one, _)| *one == kind).map(|(_, said)| refused(said)).collect();
        let [ours, second] = [0, 1].map(|judge| of.iter().filter(|said| said[judge]).count());
        println!("{kind:?}: {} mutants, refused {ours} by ours, {second} by the second judge", of.len());
    }
    let mut wrong = too_lenient(&kinds);
    let differ = pairs().filter(|(_, said)| said.ours.is_some() != said.second.is_some());
    let found: Differences<'_> =
        differ.map(|(mutant, said)| (mutant.title(), (mutant.plan.name.as_str(), said.clone()))).collect();
    wrong.extend(unlike_the_known(&found, &KNOWN));
    let idle: Vec<String> = pairs().filter_map(|(mutant, said)| idle(mutant, said.ours.is_none())).collect();
    let known: Vec<String> = IDLE.iter().map(|title| format!("accepted: {title}")).collect();
    if idle != known {
        wrong.push(format!("operations that are one too many: {idle:#?}"));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Without what they say of themselves the plans are as good as before, or every mutant would be refused for nothing.
#[test]
fn plans_without_a_mistake_are_accepted_by_both() {
    let plans = plans();
    assert!(plans.len() >= 14, "{} examples", plans.len());
    let folder = tempfile::tempdir().unwrap();
    let text = |plan: &Plan| plan.with_steps(plan.steps().to_vec()).to_string();
    let files = plans.iter().enumerate().map(|(at, plan)| {
        let file = folder.path().join(format!("{at}.json"));
        fs::write(&file, text(plan)).unwrap();
        file
    });
    let second = verdicts::second(&files.collect::<Vec<_>>());
    for (plan, second) in plans.iter().zip(second) {
        assert_eq!((verdicts::ours(&text(plan)), second), (None, None), "{}", plan.name);
        for left_out in ["\"at\":", "\"predicts\":", "\"minutes\":{\"best\"", "\"cost\":", "\"ways_back\":"] {
            let steps = plan.document["steps"].to_string();
            assert!(!steps.contains(left_out), "{}: {left_out} is left out", plan.name);
        }
    }
}

/// A judge that accepts everything, one that differs where nothing is known, and a difference that is gone.
#[test]
fn the_comparison_itself_can_fail() {
    let said = |ours: Option<&str>, second: Option<&str>| {
        let one = |code: Option<&str>| code.map(|code| (code.to_owned(), "step 3: no look just before".to_owned()));
        Verdicts { ours: one(ours), second: one(second) }
    };
    let kinds = |said: &Verdicts| too_lenient(&KINDS.map(|kind| (kind, said))).len();
    assert_eq!(kinds(&said(Some("settled"), Some("settled"))), 0);
    assert_eq!(kinds(&said(None, Some("settled"))), KINDS.len());
    assert_eq!(kinds(&said(Some("settled"), None)), KINDS.len());
    assert_eq!(too_lenient(&[]).len(), KINDS.len());
    let known =
        [Known { ours: &[("right-place", "no look")], title: "", why: "", smallest: "a: step 1", counts: &[("a", 1)] }];
    let found = |all: &[(&str, &Verdicts)]| {
        let found = all.iter().map(|(title, said)| ((*title).to_owned(), ("a", (*said).clone())));
        unlike_the_known(&found.collect(), &known).len()
    };
    let place = said(Some("right-place"), None);
    assert_eq!(found(&[("a: step 1", &place)]), 0);
    assert_eq!(found(&[("a: step 1", &place), ("a: step 2", &place)]), 1, "it has grown");
    assert_eq!(found(&[]), 2, "it is mended");
    assert_eq!(found(&[("a: step 1", &place), ("a: step 2", &said(None, Some("right-place")))]), 1, "the other way");
    assert_eq!(found(&[("a: step 1", &place), ("a: step 2", &said(Some("settled"), None))]), 1, "another rule");
}

#[test]
fn an_operation_too_many_is_found() {
    let mut plan = plans().iter().find(|plan| plan.name == "ferry-terminal/ring").unwrap().clone();
    let steps = plan.steps().to_vec();
    let enabled = steps.iter().position(|step| step["do"]["kind"] == "enable-port").unwrap();
    let doubled = [&steps[..=enabled], &steps[enabled..]].concat();
    plan.document = plan.with_steps(doubled);
    let accepted = |mutant: &Mutant<'_>| verdicts::ours(&mutant.document().to_string()).is_none();
    let found: Vec<String> = mutants(&plan).iter().filter_map(|mutant| idle(mutant, accepted(mutant))).collect();
    let number = enabled + 1;
    let wanted = [number, number + 1].map(|at| format!("accepted: {}: step {at} removed (enable-port)", plan.name));
    assert_eq!(found, wanted);
}
