//! Habits of platforms, one by one: `tests/cases/habits/<trait>-<value>/` holds a change and a habit that neutral has not.
//!
//! It is planned on neutral and on a platform with the habit, and the two plans differ as `expected.json` says. Then both
//! judges are asked what comes of it if it is done neutral's way on that platform: they name the rule, by the number of the
//! step, that it breaks there; or none, where `why.txt` says why none can be. A case holds:
//!
//! - `habit.yaml`: what stands under `platform` of the other dialect; `models.yaml`: under `models` of both, if it is there;
//! - `intent.yaml` with its baseline; `plain.yaml`, where neutral does not know a word of it: the same change without it;
//! - `expected.json`: `rule` and `step`; `differs`: in what the plans do, `operations` if it does not say; `places`: the
//!   places of the steps are claimed; `states`: with `habit` the states are those of the platform with the habit.

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

use ringwright::rehearse::judge;
use serde::Deserialize;
use serde_json::{Map, Value};

mod yard;

/// What neutral's plan claims beside what it does: it was made for another platform.
const CLAIMS: [&str; 7] = ["moves", "cost", "slips", "ways_back", "ways_back_slips", "warnings", "trust"];
/// The same of a step.
const STEP_CLAIMS: [&str; 4] = ["at", "minutes", "predicts", "stop_here"];

/// In what two plans differ.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Differ {
    /// In what is done.
    #[default]
    Operations,
    /// Only in what is looked for.
    Expects,
    /// Only in where it is done.
    Places,
    /// Only in minutes.
    Minutes,
    /// Only in what the proof rests on.
    Trust,
    /// In no claim: only what is printed may.
    Nothing,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    rule: Option<String>,
    step: Option<u32>,
    #[serde(default)]
    differs: Differ,
    #[serde(default)]
    places: bool,
    #[serde(default)]
    states: Option<String>,
}

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn cases() -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> =
        fs::read_dir(here("tests/cases/habits")).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    folders
}

fn name(case: &Path) -> String {
    case.file_name().unwrap().to_string_lossy().into_owned()
}

/// Writes a dialect that extends neutral.
fn dialect(folder: &Path, parts: [(&str, &Path); 2]) {
    fs::create_dir_all(folder).unwrap();
    let mut text = "format: 1\nname: habit\nversion: \"1\"\nsummary: one habit\nextends: neutral\n".to_owned();
    for (key, file) in parts.into_iter().filter(|(_, file)| file.exists()) {
        let lines: String = read(file).lines().map(|line| format!("  {line}\n")).collect();
        text.push_str(&format!("{key}:\n{lines}"));
    }
    fs::write(folder.join("dialect.yaml"), text).unwrap();
}

/// The plan of an intent on a dialect, as the program writes it, and what it prints beside it.
fn plan(case: &Path, intent: &str, dialect: &Path, out: &Path) -> Value {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ringwright"));
    command.arg("compile").arg(case.join(intent)).arg("--out").arg(out);
    command.arg("--dialect").arg(dialect).arg("--dialect-root").arg(dialect.parent().unwrap());
    let said = command.output().unwrap();
    let told = String::from_utf8_lossy(&said.stderr);
    assert!(said.status.success(), "{} on {}: {told}", name(case), dialect.display());
    assert!(!told.contains("the baseline itself"), "{}: {told}", name(case));
    let bundle = fs::read_dir(out).unwrap().map(|entry| entry.unwrap().path()).find(|path| path.is_dir()).unwrap();
    serde_json::from_str(&read(&bundle.join("plan.json"))).unwrap()
}

fn steps(plan: &Value) -> &Vec<Value> {
    plan["steps"].as_array().unwrap()
}

fn in_what(one: &Value, other: &Value) -> Differ {
    let of = |plan: &Value, key: &str, looks: bool| -> Vec<Value> {
        let kept = steps(plan).iter().filter(|step| looks || step["do"]["kind"] != "expect");
        kept.map(|step| step[key].clone()).collect()
    };
    let differ = |key: &str, looks: bool| of(one, key, looks) != of(other, key, looks);
    match () {
        () if differ("do", false) => Differ::Operations,
        () if differ("do", true) => Differ::Expects,
        () if differ("at", true) => Differ::Places,
        () if differ("minutes", true) => Differ::Minutes,
        () if one["trust"] != other["trust"] => Differ::Trust,
        () => Differ::Nothing,
    }
}

/// Neutral's plan as a plan for the other platform.
fn transplanted(neutral: &Value, habit: &Value, expected: &Expected) -> Value {
    let mut plan: Map<String, Value> = neutral.as_object().unwrap().clone();
    CLAIMS.iter().for_each(|claim| drop(plan.remove(*claim)));
    plan.insert("traits".to_owned(), habit["traits"].clone());
    if expected.states.as_deref() == Some("habit") {
        ["baseline", "target", "units"].iter().for_each(|key| drop(plan.insert((*key).to_owned(), habit[key].clone())));
    }
    for step in plan["steps"].as_array_mut().unwrap() {
        let step = step.as_object_mut().unwrap();
        for claim in STEP_CLAIMS.iter().filter(|claim| !(expected.places && **claim == "at")) {
            step.remove(*claim);
        }
    }
    Value::Object(plan)
}

/// What the second judge says of plans: the rules and the step of the first step that breaks one.
fn second_judge(files: &[PathBuf]) -> Vec<Vec<(String, Option<u32>)>> {
    let said = Command::new("python3").arg("-B").arg(here("tests/judge/judge.py")).args(files).output().unwrap();
    let told = String::from_utf8_lossy(&said.stdout);
    assert_eq!(told.lines().count(), files.len(), "{}", String::from_utf8_lossy(&said.stderr));
    let verdict = |line: &str| {
        let answer: Value = serde_json::from_str(line).unwrap();
        let step = |breach: &Value| breach["step"].as_u64().map(|number| u32::try_from(number).unwrap());
        let breaches = answer["breaches"].as_array().unwrap().iter();
        breaches.map(|breach| (breach["rule"].as_str().unwrap().to_owned(), step(breach))).collect()
    };
    told.lines().map(verdict).collect()
}

/// Whether what a judge says is what a case expects; the step of the whole plan may be left out.
fn fits(expected: &Expected, found: Option<&(String, Option<u32>)>) -> bool {
    match (&expected.rule, found) {
        (None, None) => true,
        (Some(rule), Some((said, step))) => rule == said && (*step == expected.step || expected.step.is_none()),
        _ => false,
    }
}

#[test]
fn each_habit_makes_another_plan_and_neutrals_way_breaks_a_rule() {
    let root = Path::new(env!("CARGO_TARGET_TMPDIR")).join("habits");
    let _ = fs::remove_dir_all(&root);
    let (mut files, mut all, mut wrong) = (Vec::new(), Vec::new(), Vec::new());
    for case in cases() {
        let place = root.join(name(&case));
        let expected: Expected = serde_json::from_str(&read(&case.join("expected.json"))).unwrap();
        assert!(read(&case.join("why.txt")).trim().len() > 40, "{}: why.txt says why", name(&case));
        let models = case.join("models.yaml");
        let (plain, other) = (place.join("plain/dialect"), place.join("habit/dialect"));
        dialect(&plain, [("platform", Path::new("none")), ("models", &models)]);
        dialect(&other, [("platform", &case.join("habit.yaml")), ("models", &models)]);
        let intent = if case.join("plain.yaml").exists() { "plain.yaml" } else { "intent.yaml" };
        let neutral = plan(&case, intent, &plain, &place.join("plain/out"));
        let habit = plan(&case, "intent.yaml", &other, &place.join("habit/out"));
        let differs = in_what(&neutral, &habit);
        if differs != expected.differs {
            wrong.push(format!("{}: the plans differ in {differs:?}, not in {:?}", name(&case), expected.differs));
        }
        let moved = transplanted(&neutral, &habit, &expected);
        let verdict = judge(&serde_json::from_value(moved.clone()).unwrap());
        let found = verdict.objections.first().map(|one| (one.code.to_owned(), one.step));
        if !fits(&expected, found.as_ref()) {
            wrong.push(format!(
                "{}: expected {:?} at {:?}, found {found:?}",
                name(&case),
                expected.rule,
                expected.step
            ));
        }
        let file = place.join("moved.json");
        fs::write(&file, moved.to_string()).unwrap();
        files.push(file);
        all.push((name(&case), expected));
    }
    for ((case, expected), found) in all.iter().zip(second_judge(&files)) {
        // a step may break several rules, and judges need not name them in one order
        let agrees =
            if found.is_empty() { fits(expected, None) } else { found.iter().any(|one| fits(expected, Some(one))) };
        if !agrees {
            wrong.push(format!("{case}: the second judge says {found:?}, expected {:?}", expected.rule));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let breaking = all.iter().filter(|(_, expected)| expected.rule.is_some()).count();
    assert!(
        all.len() >= 50 && breaking * 2 > all.len(),
        "{} cases, neutral's way breaks a rule in {breaking}",
        all.len()
    );
}

/// A trait without a case would be noticed.
#[test]
fn every_trait_has_a_case() {
    let written: BTreeSet<String> = cases().iter().map(|case| name(case)).collect();
    let traits = serde_json::to_value(yard::neutral()).unwrap();
    let defaults = ringwright::model::habits::DEFAULTS.iter().map(|(path, _)| (*path).to_owned());
    let mut paths: Vec<String> = defaults.collect();
    for (key, value) in traits.as_object().unwrap() {
        match value.as_object() {
            // minutes and words are one habit each
            Some(parts) if key != "minutes" => paths.extend(parts.keys().map(|part| format!("{key}.{part}"))),
            _ => paths.push(key.clone()),
        }
    }
    let missing = paths.iter().filter(|path| {
        let prefix = path.replace(['.', '_'], "-");
        !written.iter().any(|case| case.starts_with(&prefix))
    });
    let missing: Vec<&String> = missing.collect();
    assert!(missing.is_empty(), "no case has another {missing:?}");
}

/// What must not pass: another rule, another step, a plan that is accepted, one that is not.
#[test]
fn the_comparison_itself_can_fail() {
    let expected = |rule: Option<&str>| Expected {
        rule: rule.map(str::to_owned),
        step: rule.map(|_| 4),
        differs: Differ::Operations,
        places: false,
        states: None,
    };
    let said = ("never-split".to_owned(), Some(4));
    assert!(fits(&expected(Some("never-split")), Some(&said)));
    assert!(!fits(&expected(Some("never-split")), Some(&("never-split".to_owned(), Some(5)))));
    assert!(!fits(&expected(Some("one-brain")), Some(&said)));
    assert!(!fits(&expected(Some("never-split")), None));
    assert!(!fits(&expected(None), Some(&said)));
    let plan = |kind: &str, at: &str| serde_json::json!({"steps": [{"do": {"kind": kind}, "at": at}], "trust": []});
    assert_eq!(in_what(&plan("save", "a"), &plan("restart", "a")), Differ::Operations);
    assert_eq!(in_what(&plan("save", "a"), &plan("save", "b")), Differ::Places);
    assert_eq!(in_what(&plan("save", "a"), &plan("save", "a")), Differ::Nothing);
}
