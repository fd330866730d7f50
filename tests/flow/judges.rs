//! Plans in a folder -> what those say of them that share no code with the planner: the second judge, the
//! reader of rendered text, and networkx.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use super::outcome::Failure;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn run(python: &OsStr, script: &str, arguments: &[&OsStr]) -> Output {
    let mut command = Command::new(python);
    command.arg("-B").arg(here(script)).args(arguments).output().expect("python3 runs")
}

fn names(paths: &[PathBuf]) -> Vec<&OsStr> {
    paths.iter().map(|path| path.as_os_str()).collect()
}

/// The second judge's objections, by plan. It answers for every plan: a missing Python is a failure, not a skip.
pub fn second_judge(plans: &[PathBuf]) -> BTreeMap<PathBuf, Failure> {
    let mut arguments: Vec<&OsStr> = vec!["--slips".as_ref()];
    arguments.extend(names(plans));
    let output = run("python3".as_ref(), "tests/judge/judge.py", &arguments);
    let told = String::from_utf8_lossy(&output.stdout);
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert_eq!(told.lines().count(), plans.len(), "the second judge answers for every plan\n{complaint}");
    let mut objections = BTreeMap::new();
    for (plan, line) in plans.iter().zip(told.lines()) {
        let verdict: serde_json::Value = serde_json::from_str(line).unwrap();
        assert_eq!(verdict["file"].as_str(), plan.to_str(), "the second judge answers in order");
        let warned = |code: &str| verdict["warnings"].as_array().unwrap().iter().any(|one| one["code"] == code);
        if verdict["verdict"] != "accepted" {
            let breach = &verdict["breaches"][0];
            let said = if breach["rule"] == "claims" { &breach["what"] } else { &breach["rule"] };
            let said = said.as_str().unwrap_or_default();
            objections.insert(plan.clone(), Failure::new(format!("second judge: {said}"), line));
        } else if warned("consent-not-needed") {
            objections.insert(plan.clone(), Failure::new("second judge: a consent is not needed", line));
        } else if warned("open-which-is-the-stack") {
            objections.insert(plan.clone(), Failure::new("second judge: it is open which island is the stack", line));
        }
    }
    objections
}

/// What the reader cannot turn back into the plan's operations, by bundle.
pub fn reader(bundles: &[PathBuf]) -> BTreeMap<PathBuf, Failure> {
    let judge = here("tests/judge/judge.py");
    let mut arguments: Vec<&OsStr> = vec!["--replay".as_ref(), judge.as_ref(), "--against-each".as_ref()];
    arguments.extend(names(bundles));
    let output = run("python3".as_ref(), "tests/reader/read_bundle.py", &arguments);
    let (told, complaints) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    let mut faults = BTreeMap::new();
    for bundle in bundles {
        let of = format!("{}: ", bundle.display());
        let lines: Vec<&str> = complaints.lines().filter(|line| line.starts_with(&of)).collect();
        if !lines.is_empty() {
            let first = lines[0].trim_start_matches(of.as_str());
            faults.insert(bundle.clone(), Failure::new(format!("reader: {first}"), lines.join("\n")));
        }
    }
    let fine = format!("{} of {} bundles read back", bundles.len() - faults.len(), bundles.len());
    assert_eq!(told.trim_end(), fine, "the reader answers for every bundle\n{complaints}");
    faults
}

/// Where networkx and a plan's predictions differ, by plan.
pub fn graphs(python: &Path, plans: &[PathBuf]) -> BTreeMap<PathBuf, Failure> {
    let output = run(python.as_ref(), "tests/oracles/predictions.py", &names(plans));
    let told = String::from_utf8_lossy(&output.stdout);
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert_eq!(
        told.lines().count(),
        plans.len(),
        "networkx answers for every plan (tests/run installs it)\n{complaint}"
    );
    let answers = plans.iter().zip(told.lines()).filter(|(_, line)| !line.starts_with("agrees"));
    answers.map(|(plan, line)| (plan.clone(), Failure::new("networkx says otherwise", line))).collect()
}

/// Where a second list of faults, worked out in Python, differs from a plan's, by plan: of the finished stack and after
/// each step.
pub fn faults(python: &Path, plans: &[PathBuf]) -> BTreeMap<PathBuf, Failure> {
    let mut arguments: Vec<&OsStr> = vec!["--plans".as_ref()];
    arguments.extend(names(plans));
    let output = run(python.as_ref(), "tests/faults/faults.py", &arguments);
    let (told, complaint) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    let mut found = BTreeMap::new();
    for plan in plans {
        let of = format!("{}: ", plan.display());
        if let Some(line) = told.lines().find(|line| line.starts_with(&of)) {
            found.insert(plan.clone(), Failure::new("faults are not as the second list has them", line));
        }
    }
    let fine = format!("{} of {} agree", plans.len() - found.len(), plans.len());
    assert_eq!(told.lines().last(), Some(fine.as_str()), "the second list answers for every plan\n{complaint}");
    found
}
