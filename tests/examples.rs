//! Every example that people are shown, as they would run it: checked, compiled twice, judged by both
//! judges, and its text read back into operations by a reader that holds none of the templates.

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
use std::process::{Command, Output};

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Every file under a folder, sorted.
fn files_under(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap().map(Result::unwrap) {
            let into = if entry.path().is_dir() { &mut folders } else { &mut files };
            into.push(entry.path());
        }
    }
    files.sort();
    files
}

fn examples() -> Vec<PathBuf> {
    let mut found = files_under(&here("examples"));
    found.retain(|path| path.to_string_lossy().ends_with(".intent.yaml"));
    found
}

fn bytes_under(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    files_under(folder)
        .into_iter()
        .map(|path| (path.strip_prefix(folder).unwrap().to_owned(), fs::read(&path).unwrap()))
        .collect()
}

fn ringwright(arguments: &[&str]) -> String {
    said("ringwright", Command::new(env!("CARGO_BIN_EXE_ringwright")).args(arguments))
}

/// What a program says, which must end well; one that cannot be started is a failure, not a skip.
fn said(name: &str, command: &mut Command) -> String {
    let Output { status, stdout, stderr } = command.output().unwrap_or_else(|error| panic!("{name}: {error}"));
    let told = String::from_utf8(stdout).unwrap();
    assert!(status.success(), "{command:?}\n{told}\n{}", String::from_utf8_lossy(&stderr));
    told
}

/// The one folder in a folder.
fn only_folder(out: &Path) -> PathBuf {
    let folders: Vec<PathBuf> = fs::read_dir(out).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(folders.len(), 1, "{folders:?}");
    folders[0].clone()
}

#[test]
fn there_are_examples() {
    assert!(examples().len() >= 18, "{:?}", examples());
}

#[test]
fn every_example_is_a_fine_intent() {
    for example in examples() {
        assert_eq!(ringwright(&["check", example.to_str().unwrap()]), "nothing is wrong with this intent\n");
    }
}

#[test]
fn every_example_compiles_to_the_same_bytes_wherever_and_whenever() {
    for example in examples() {
        let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let compile = |out: &Path| ringwright(&["compile", example.to_str().unwrap(), "--out", out.to_str().unwrap()]);
        let told = compile(first.path());
        assert!(told.contains("begin with runbook."), "{told}");
        assert!(told.lines().count() <= 23, "{}: more than a screen\n{told}", example.display());
        let before = bytes_under(first.path());
        let told = compile(first.path());
        assert!(told.contains("nothing was written"), "{told}");
        assert!(before == bytes_under(first.path()), "{}: the second run changed something", example.display());
        compile(second.path());
        assert!(before == bytes_under(second.path()), "{}: other bytes in another folder", example.display());
    }
}

/// People read five to ten moves, and no title means two things.
#[test]
fn the_moves_of_every_example_are_few_and_each_has_its_own_title() {
    for example in examples() {
        let out = tempfile::tempdir().unwrap();
        ringwright(&["compile", example.to_str().unwrap(), "--out", out.path().to_str().unwrap()]);
        let plan = fs::read_to_string(only_folder(out.path()).join("plan.json")).unwrap();
        let plan: ringwright::model::document::PlanDocument = serde_json::from_str(&plan).unwrap();
        let titles: Vec<String> = plan.moves.unwrap().into_iter().map(|one| one.title).collect();
        let distinct: std::collections::BTreeSet<&String> = titles.iter().collect();
        assert!(titles.len() <= 10 && distinct.len() == titles.len(), "{}: {titles:#?}", example.display());
        assert!(!titles.iter().any(|title| title.contains("part ")), "{}: {titles:#?}", example.display());
    }
}

#[test]
fn every_example_is_proved_thrice() {
    let mut bundles = Vec::new();
    let out = tempfile::tempdir().unwrap();
    for (number, example) in examples().iter().enumerate() {
        let place = out.path().join(number.to_string());
        ringwright(&["compile", example.to_str().unwrap(), "--out", place.to_str().unwrap()]);
        let bundle = only_folder(&place);
        let told = ringwright(&["rehearse", bundle.join("plan.json").to_str().unwrap()]);
        assert!(told.starts_with("every rule holds"), "{told}");
        bundles.push(bundle);
    }
    let plans = bundles.iter().map(|bundle| bundle.join("plan.json"));
    let told = said("the second judge", python("tests/judge/judge.py").args(plans));
    assert_eq!(told.matches("\"accepted\"").count(), bundles.len(), "{told}");
    for bundle in &bundles {
        let plan = bundle.join("plan.json");
        let judge = here("tests/judge/judge.py");
        said("the reader", reader_of(bundle).arg(bundle).arg("--against").arg(plan).arg("--replay").arg(judge));
    }
}

/// The reader of the dialect that a bundle is written in.
fn reader_of(bundle: &Path) -> Command {
    let record = fs::read_to_string(bundle.join("bundle.json")).unwrap();
    let record: serde_json::Value = serde_json::from_str(&record).unwrap();
    match record["dialect"]["name"].as_str() {
        // those that extend neutral have its words
        Some("neutral" | "harbour-fixed" | "quay-refused" | "quay-updates" | "sawmill-handed") => {
            python("tests/reader/read_bundle.py")
        }
        Some("pentrough") => {
            let mut command = python("tests/reader/read_pentrough.py");
            command.arg("--ways-back");
            command
        }
        other => panic!("no reader knows the words of {other:?}"),
    }
}

fn python(script: &str) -> Command {
    let mut command = Command::new("python3");
    command.arg("-B").arg(here(script));
    command
}
