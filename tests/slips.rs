//! Slips worked out by hand from the model's text, in the folders of `tests/cases/slips/`: our judge finds them, and
//! `tests/judge/test_slips.py` holds the second judge to the same. Ways back and slips that a plan claims are judged.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use ringwright::model::document::{Action, PlanDocument, Slips, StepEntry, Warning, WayBack, WayBackStep};
use ringwright::rehearse::judge;

fn cases() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/slips");
    let mut all: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    all.sort();
    all
}

fn read(file: &Path) -> serde_json::Value {
    serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap()
}

fn plan(case: &Path) -> PlanDocument {
    serde_json::from_value(read(&case.join("plan.json"))).unwrap()
}

fn found(plan: &PlanDocument) -> Slips {
    let verdict = judge(plan);
    let rehearsed = verdict.rehearsed.unwrap_or_else(|| panic!("{:?}", verdict.objections));
    rehearsed.plan().slips.clone().unwrap()
}

/// Where one step breaks several rules, which of them is named first is open: the rule is no part of the comparison,
/// but for a slip that breaks nothing until the end.
fn told(slips: &Slips) -> BTreeSet<String> {
    let late = |rule: &str| if rule == "reaches-target" { rule.to_owned() } else { "a rule".to_owned() };
    let one = |slip: &ringwright::model::document::DangerousSlip| {
        format!("{} {:?} {:?} {}", slip.slip, slip.step, slip.with, late(&slip.rule))
    };
    slips.dangerous.iter().map(one).collect()
}

#[test]
fn slips_are_what_they_were_worked_out_to_be() {
    let mut tried = 0;
    for case in cases() {
        let expected: Slips = serde_json::from_value(read(&case.join("expected.json"))).unwrap();
        let found = found(&plan(&case));
        let sums = |slips: &Slips| (slips.tried, slips.caught, slips.harmless);
        assert_eq!(told(&found), told(&expected), "{}", case.display());
        assert_eq!(sums(&found), sums(&expected), "{}", case.display());
        tried += found.tried;
    }
    assert!(tried > 100, "only {tried} slips were tried");
}

#[test]
fn a_false_count_of_slips_is_a_false_claim() {
    let mut plan = plan(&cases()[0]);
    plan.slips = Some(found(&plan));
    assert!(judge(&plan).rehearsed.is_some());
    plan.slips.as_mut().unwrap().caught += 1;
    let objections = judge(&plan).objections;
    assert_eq!(objections[0].code, "claims");
    assert_eq!(objections[0].pointer, "/slips");
}

/// The third unit of the ferry terminal, compiled: every way back is taken, and each spoilt one is objected to.
#[test]
fn a_way_back_that_does_not_lead_back_is_refused() {
    let good = PlanDocument { ways_back_slips: None, ..compiled() };
    assert!(judge(&good).rehearsed.is_some());
    let last = good.ways_back.as_ref().unwrap().len() - 1;
    let spoilt = |spoil: &dyn Fn(&mut Vec<WayBack>)| {
        let mut plan = good.clone();
        plan.ways_back.as_mut().map(spoil);
        let objections = judge(&plan).objections;
        objections.first().map(|first| first.code).unwrap_or("none")
    };
    let off = |step: &WayBackStep| matches!(step.action, Action::PowerOff { .. });
    let look = |step: &WayBackStep| matches!(step.action, Action::Expect { .. });
    assert_eq!(spoilt(&|ways| ways[last].steps.retain(|step| !off(step))), "expect-fails");
    assert_eq!(spoilt(&|ways| ways[last].steps.retain(|step| !off(step) && !look(step))), "one-brain");
    assert_eq!(spoilt(&|ways| drop(ways[last].steps.pop())), "claims", "its minutes are fewer");
    assert_eq!(spoilt(&|ways| ways[last].after[1] -= 1), "claims", "a step has no way back");
    assert_eq!(spoilt(&|ways| ways[last].after[0] -= 1), "claims", "a step has two");
    assert_eq!(spoilt(&|ways| ways[last].then = Some(ways[last].after[0])), "claims", "it goes round in a circle");
    assert_eq!(spoilt(&|ways| ways[last].then = Some(999)), "claims");
    assert_eq!(spoilt(&|ways| ways[last].steps[0].at = ways[0].steps[0].at.clone()), "claims");
    let twice = |ways: &mut Vec<WayBack>| {
        let again = ways[last].steps[0].clone();
        ways[last].steps.insert(0, again);
    };
    assert_eq!(spoilt(&twice), "step-refused");
    let halves = |ways: &mut Vec<WayBack>| {
        let at = ways.iter().position(|way| way.after[0] < way.after[1]).unwrap();
        let mut second = ways[at].clone();
        (ways[at].after[1], second.after[0]) = (second.after[1] - 1, second.after[1]);
        ways.insert(at + 1, second);
    };
    let mut plan = good.clone();
    plan.ways_back.as_mut().map(halves);
    let text = &judge(&plan).objections[0].text;
    assert!(text.ends_with("is the same: they are one"), "{text}");
}

/// A step without a way back is excused where a warning names it, and nowhere else.
#[test]
fn a_warning_excuses_the_steps_that_it_names() {
    let mut bare = PlanDocument { ways_back_slips: None, ..compiled() };
    let gone = bare.ways_back.as_mut().unwrap().remove(1).after;
    let goes_on = bare.ways_back.as_ref().unwrap().iter().any(|way| way.then.is_some());
    assert!(!goes_on && gone[0] < gone[1], "the case must lack a way of several steps, and no other: {gone:?}");
    let objection = |texts: &[String]| {
        let mut plan = bare.clone();
        let warning = |text: &String| Warning { code: "no-way-back".to_owned(), text: text.clone() };
        plan.warnings.extend(texts.iter().map(warning));
        judge(&plan).objections.first().map(|first| (first.code, first.step))
    };
    let [first, last] = gone;
    assert_eq!(objection(&[]), Some(("claims", Some(first))));
    assert_eq!(objection(&[format!("none from steps {first} to {last}")]), None);
    assert_eq!(
        objection(&[format!("none from step {first}"), format!("none from steps {} to {last}", first + 1)]),
        None
    );
    assert_eq!(objection(&[format!("none from step {first}")]), Some(("claims", Some(first + 1))));
    assert_eq!(objection(&[format!("none from steps {first}, {last}")]).is_none(), first + 1 == last);
    assert_eq!(objection(&[format!("none from steps {} to 999", first + 1)]), Some(("claims", Some(first))));
    assert_eq!(objection(&["none from some step".to_owned()]), Some(("claims", Some(first))));
}

/// Slips are tried on ways back too; what a plan says of them is recomputed, and the looks on them are not idle.
#[test]
fn slips_on_ways_back_are_tried() {
    let careless = |plan: &PlanDocument| -> Vec<String> {
        let all = plan.ways_back_slips.iter().flatten().flat_map(|slips| &slips.dangerous);
        all.filter(|slip| ["leave-out", "misplace"].contains(&slip.slip.as_str()))
            .map(|slip| slip.rule.clone())
            .collect()
    };
    let good = compiled();
    let slips = good.ways_back_slips.as_ref().unwrap();
    assert_eq!(slips.len(), good.ways_back.as_ref().unwrap().len());
    assert!(slips.iter().all(|slips| slips.tried > slips.dangerous.len() as u32 && slips.caught > 0));
    assert_eq!(careless(&good), Vec::<String>::new());

    let mut false_claim = good.clone();
    false_claim.ways_back_slips.as_mut().unwrap()[0].harmless += 1;
    let objections = judge(&false_claim).objections;
    assert_eq!((objections[0].code, objections[0].pointer.as_str()), ("claims", "/ways_back_slips"));

    let mut bare = good.clone();
    (bare.ways_back_slips, bare.steps) =
        (None, bare.steps.into_iter().map(|step| StepEntry { stop_here: None, ..step }).collect());
    for way in bare.ways_back.as_mut().unwrap() {
        let last = way.steps.len();
        let mut number = 0;
        way.steps.retain(|step| {
            number += 1;
            number == 1 || number == last || !matches!(step.action, Action::Expect { .. })
        });
    }
    let judged = judge(&bare).rehearsed.expect("it still leads back");
    assert!(careless(judged.plan()).contains(&"reaches-target".to_owned()), "{:?}", careless(judged.plan()));
}

/// Compiled once: two runs into one folder at the same time would be in each other's way.
fn compiled() -> PlanDocument {
    static COMPILED: OnceLock<PlanDocument> = OnceLock::new();
    let compile = || {
        let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("slips-third-unit");
        let intent = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/ferry-terminal/third-unit.intent.yaml");
        let mut compile = Command::new(env!("CARGO_BIN_EXE_ringwright"));
        let done = compile.arg("compile").arg(intent).arg("--out").arg(&out).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        serde_json::from_value(read(&out.join("ferry-core/plan.json"))).unwrap()
    };
    COMPILED.get_or_init(compile).clone()
}
