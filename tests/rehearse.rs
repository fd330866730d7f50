//! Plans written by hand, judged twice: `tests/cases/rehearse/<case>/` holds a plan, what a judge
//! must say of it, and why.
//!
//! A case is named `good-…`, or `broken-<rule>-…` for the rule that it breaks. `expected.json` is
//! written by hand as well: it is no output, and no switch accepts a new one.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ringwright::model::document::PlanDocument;
use ringwright::model::rules::Rule;
use ringwright::rehearse::judge;
use serde::Deserialize;

/// The looks that every plan must hold.
const CHECKS: [&str; 4] = ["fresh-baseline", "factory-unit", "right-place", "right-cable"];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    verdict: String,
    #[serde(default)]
    rule: Option<String>,
    #[serde(default)]
    step: Option<u32>,
}

/// What one judge said: every objection of the first breached step, as rule and step.
type Said = Vec<(String, Option<u32>)>;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn cases() -> Vec<(String, Expected)> {
    let mut folders: Vec<PathBuf> =
        fs::read_dir(here("tests/cases/rehearse")).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    let read = |folder: PathBuf| {
        let name = folder.file_name().unwrap().to_str().unwrap().to_owned();
        let why = fs::read_to_string(folder.join("why.txt")).unwrap();
        assert!(why.trim().len() > 20, "{name}: why.txt says why");
        (name, serde_json::from_str(&fs::read_to_string(folder.join("expected.json")).unwrap()).unwrap())
    };
    folders.into_iter().map(read).collect()
}

fn plan_file(case: &str) -> PathBuf {
    here("tests/cases/rehearse").join(case).join("plan.json")
}

/// What is wrong with what a judge said of a case, if anything. `last`: the number of the plan's
/// last step, if this judge names it where the whole plan is meant.
fn wrong(case: &str, expected: &Expected, said: &Said, last: Option<u32>) -> Option<String> {
    let fits = match &expected.rule {
        None => said.is_empty(),
        Some(rule) => said
            .iter()
            .any(|(found, step)| found == rule && (*step == expected.step || expected.step.is_none() && *step == last)),
    };
    (!fits).then(|| format!("{case}: expected {:?} at {:?}, found {said:?}", expected.rule, expected.step))
}

fn rust_judge(case: &str) -> Said {
    let text = fs::read_to_string(plan_file(case)).unwrap();
    let plan: PlanDocument = match serde_json::from_str(&text) {
        Ok(plan) => plan,
        Err(_) => return vec![("shape".to_owned(), None)],
    };
    let verdict = judge(&plan);
    assert_eq!(verdict.rehearsed.is_some(), verdict.objections.is_empty(), "{case}: a refusal says why");
    verdict.objections.into_iter().map(|objection| (objection.code.to_owned(), objection.step)).collect()
}

#[test]
fn the_judge_says_of_each_plan_what_it_must() {
    let wrong: Vec<String> =
        cases().iter().filter_map(|(case, expected)| wrong(case, expected, &rust_judge(case), None)).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_second_judge_agrees() {
    let cases = cases();
    let output = Command::new("python3")
        .arg(here("tests/judge/judge.py"))
        .args(cases.iter().map(|(case, _)| plan_file(case)))
        .output()
        .expect("python3 runs the second judge");
    let told = String::from_utf8(output.stdout).unwrap();
    assert_eq!(told.lines().count(), cases.len(), "{}", String::from_utf8_lossy(&output.stderr));
    let judged = cases.iter().zip(told.lines()).filter_map(|((case, expected), line)| {
        let answer: serde_json::Value = serde_json::from_str(line).unwrap();
        assert_eq!(answer["verdict"], expected.verdict, "{case}: {line}");
        let step = |value: &serde_json::Value| value.as_u64().map(|number| u32::try_from(number).unwrap());
        let breaches = answer["breaches"].as_array().unwrap().iter();
        let said = breaches.map(|one| (one["rule"].as_str().unwrap().to_owned(), step(&one["step"]))).collect();
        let plan: serde_json::Value = serde_json::from_str(&fs::read_to_string(plan_file(case)).unwrap()).unwrap();
        let last = plan["steps"].as_array().map(|steps| u32::try_from(steps.len()).unwrap());
        wrong(case, expected, &said, last)
    });
    let wrong: Vec<String> = judged.collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The Python unit tests of one folder, started where they stand.
fn unit_tests(folder: &str) {
    let output = Command::new("python3")
        .args(["-B", "-m", "unittest", "discover", "-s"])
        .arg(here(folder))
        .output()
        .expect("python3 runs the unit tests");
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && !told.contains("skipped"), "{told}");
}

#[test]
fn the_second_judge_has_its_own_canaries() {
    unit_tests("tests/judge");
}

#[test]
fn the_reader_of_rendered_text_has_its_own_canaries() {
    unit_tests("tests/reader");
}

#[test]
fn a_rule_that_no_plan_breaks_would_be_noticed() {
    let mut broken: BTreeMap<String, usize> = BTreeMap::new();
    let mut good = 0;
    for (case, expected) in cases() {
        match (expected.verdict.as_str(), expected.rule) {
            ("accepted", None) => {
                assert!(case.starts_with("good-"), "{case} is accepted");
                good += 1;
            }
            ("refused", Some(rule)) => {
                assert!(case.starts_with(&format!("broken-{rule}-")), "{case} breaks {rule}");
                *broken.entry(rule).or_default() += 1;
            }
            other => panic!("{case}: {other:?} is no verdict"),
        }
    }
    assert!(good >= 6 && broken.values().sum::<usize>() >= 40, "{good} good plans, broken: {broken:?}");
    for rule in Rule::ALL.iter().map(|rule| rule.as_str()).chain(CHECKS) {
        let count = broken.get(rule).copied().unwrap_or(0);
        assert!(count >= 3, "{rule}: {count} plans break it, 3 must");
    }
    for code in ringwright::rehearse::CODES.iter().filter(|code| code.name != "shape") {
        assert!(broken.contains_key(code.name), "no plan is refused for {}", code.name);
    }
}

/// What a canary must not pass: another rule, another step, an accepted plan.
#[test]
fn the_comparison_itself_can_fail() {
    let expected = |rule: &str, step| Expected { verdict: "refused".into(), rule: Some(rule.into()), step };
    let said = vec![("never-split".to_owned(), Some(4))];
    assert!(wrong("x", &expected("never-split", Some(4)), &said, None).is_none());
    assert!(wrong("x", &expected("never-split", Some(5)), &said, Some(4)).is_some());
    assert!(wrong("x", &expected("one-brain", Some(4)), &said, None).is_some());
    assert!(wrong("x", &expected("never-split", Some(4)), &Vec::new(), None).is_some());
    let end = vec![("reaches-target".to_owned(), Some(9))];
    assert!(wrong("x", &expected("reaches-target", None), &end, Some(9)).is_none());
    assert!(wrong("x", &expected("reaches-target", None), &end, None).is_some());
}
