//! Cases as folders: `tests/cases/check/<case>/` holds an intent, what it needs, and what `check` says of it.
//!
//! `expected.txt` is what a person sees, with the exit status; `expected.json` what a pipeline sees.
//! `BLESS=1 cargo test` accepts new output. Optional files: `arguments` (more arguments, one a line) and
//! `repeat` (lines `file count text`: files too large to keep).

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn folders(root: &Path) -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> = fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.retain(|path| path.is_dir());
    folders.sort();
    folders
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/check")
}

/// The case in a folder of its own, so that nothing around it helps.
fn stage(case: &Path, to: &Path) {
    for entry in fs::read_dir(case).unwrap() {
        let path = entry.unwrap().path();
        let copy = to.join(path.file_name().unwrap());
        if path.is_dir() {
            fs::create_dir(&copy).unwrap();
            stage(&path, &copy);
        } else {
            fs::copy(&path, &copy).unwrap();
        }
    }
    let repeat = fs::read_to_string(case.join("repeat")).unwrap_or_default();
    for line in repeat.lines() {
        let parts: Vec<&str> = line.splitn(3, ' ').collect();
        let old = fs::read_to_string(to.join(parts[0])).unwrap_or_default();
        fs::write(to.join(parts[0]), old + &parts[2].replace("\\n", "\n").repeat(parts[1].parse().unwrap())).unwrap();
    }
}

fn run(case: &Path, form: &str) -> (String, String, i32) {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("case");
    fs::create_dir(&place).unwrap();
    stage(case, &place);
    let more = fs::read_to_string(case.join("arguments")).unwrap_or_default();
    let output = Command::new(env!("CARGO_BIN_EXE_ringwright"))
        .current_dir(&place)
        .args(["check", "intent.yaml", "--findings", form])
        .args(more.lines())
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (text(output.stdout), text(output.stderr), output.status.code().unwrap())
}

fn compare(file: &Path, found: &str) -> Option<String> {
    let expected = fs::read_to_string(file).unwrap_or_default();
    if std::env::var_os("BLESS").is_some() {
        fs::write(file, found).unwrap();
        return None;
    }
    (expected != found).then(|| format!("{}\n--- expected\n{expected}\n--- found\n{found}", file.display()))
}

#[test]
fn check_says_of_each_case_what_it_shall() {
    let mut differences = Vec::new();
    for case in folders(&root()) {
        let (out, err, status) = run(&case, "text");
        let drawn: String =
            format!("{err}{out}exit {status}\n").lines().map(|line| format!("{}\n", line.trim_end())).collect();
        differences.extend(compare(&case.join("expected.txt"), &drawn));
        let (data, _, same) = run(&case, "json");
        assert_eq!(status, same, "{}: both forms end alike", case.display());
        differences.extend(compare(&case.join("expected.json"), &data));
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

/// A case is named for the code that it shows: `unknown-key`, `unknown-key.far-off`; or `valid.…`.
#[test]
fn every_case_shows_what_it_is_named_for() {
    for case in folders(&root()) {
        let name = case.file_name().unwrap().to_string_lossy().into_owned();
        let subject = name.split('.').next().unwrap();
        let found: serde_json::Value = serde_json::from_str(&run(&case, "json").0).unwrap();
        let codes: Vec<&str> =
            found["findings"].as_array().unwrap().iter().map(|one| one["code"].as_str().unwrap()).collect();
        match subject {
            "valid" => assert!(codes.is_empty(), "{name}: {codes:?}"),
            "many" => assert!(codes.len() > 3, "{name}: {codes:?}"),
            code => assert!(codes.contains(&code), "{name}: {codes:?}"),
        }
    }
}

#[test]
fn every_code_has_a_case_and_an_explanation() {
    let cases: BTreeSet<String> = folders(&root())
        .iter()
        .map(|case| case.file_name().unwrap().to_string_lossy().split('.').next().unwrap().to_owned())
        .collect();
    // what only `compile` and `rehearse` can say has its cases elsewhere; `tidy` asks for those
    let stages = [ringwright::rehearse::CODES, ringwright::render::CODES, ringwright::lint::CODES];
    let later = ringwright::compile::CODES.iter().chain(stages.into_iter().flatten()).map(|code| code.name);
    let disk = ["not-written", "kept-aside", "window-too-short", "hands-not-there", "cannot-write"];
    let dialects = ["case-differs", "no-cases", "in-the-way", "dialect-name"];
    let fleets =
        ["output-differs", "stack-twice", "beside-unread", "no-done-record", "done-record-wrong", "git-failed"];
    let later: BTreeSet<&str> = later.chain(disk).chain(dialects).chain(fleets).collect();
    let mut names = BTreeSet::new();
    for code in ringwright::cli::codes() {
        assert!(names.insert(code.name), "{} stands twice", code.name);
        assert!(later.contains(code.name) || cases.contains(code.name), "{} has no case", code.name);
        assert!(code.explanation.len() > 40 && code.explanation.ends_with('.'), "{} has no explanation", code.name);
    }
}

/// Lower case, no full stop, no line break; help is one line too.
#[test]
fn messages_are_worded_alike() {
    for case in folders(&root()) {
        let found: serde_json::Value = serde_json::from_str(&run(&case, "json").0).unwrap();
        for one in found["findings"].as_array().unwrap() {
            for text in [one["message"].as_str(), one["help"].as_str()].into_iter().flatten() {
                let fine =
                    !text.ends_with('.') && !text.contains('\n') && !text.starts_with(|c: char| c.is_uppercase());
                assert!(fine, "{}: {text}", case.display());
            }
        }
    }
}
