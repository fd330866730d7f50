//! From the command line to files: folders that hold more than ours, files that were edited, runs that were stopped.

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

use tempfile::{TempDir, tempdir};

const RING: &str = "paper-mill/new-ring.intent.yaml";

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Standard output, standard error and exit status.
fn run(program: impl AsRef<std::ffi::OsStr>, arguments: &[&Path]) -> (String, String, i32) {
    let output = Command::new(program).args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&output.stdout), text(&output.stderr), output.status.code().unwrap())
}

fn compile(example: &str, out: &Path, more: &[&str]) -> (String, String, i32) {
    let example = here("examples").join(example);
    let mut arguments = vec![Path::new("compile"), &example, Path::new("--out"), out];
    arguments.extend(more.iter().map(Path::new));
    run(env!("CARGO_BIN_EXE_ringwright"), &arguments)
}

/// Every file under a folder with its bytes.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                found.insert(path.clone(), fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// A new ring's bundle, and its folder.
fn written() -> (TempDir, PathBuf) {
    let out = tempdir().unwrap();
    let (_, err, status) = compile(RING, out.path(), &[]);
    assert_eq!((err.as_str(), status), ("", 0));
    let mut stacks = fs::read_dir(out.path()).unwrap();
    let place = stacks.next().unwrap().unwrap().path();
    assert!(stacks.next().is_none(), "nothing is left beside the bundle");
    (out, place)
}

#[test]
fn the_same_intent_gives_the_same_bytes() {
    let (_one, first) = written();
    let (_other, second) = written();
    let names = |place: &Path| {
        files(place).into_iter().map(|(path, bytes)| (path.strip_prefix(place).unwrap().to_owned(), bytes)).collect()
    };
    let (first, second): (Vec<_>, Vec<_>) = (names(&first), names(&second));
    assert!(first.len() > 10 && first == second);
}

/// `not-written`: what a person has edited is refused, then overwritten when told to.
#[test]
fn an_edited_file_is_not_overwritten_unasked() {
    let (out, place) = written();
    let runbook = place.join("runbook.md");
    fs::write(&runbook, "mine now\n").unwrap();
    let before = files(out.path());
    let (_, err, status) = compile(RING, out.path(), &[]);
    assert!(err.contains("error[not-written]") && err.contains("runbook.md"), "{err}");
    assert_eq!(status, 2);
    assert_eq!(files(out.path()), before, "nothing was touched");
    assert_eq!(compile(RING, out.path(), &["--overwrite-edited"]).2, 0);
    assert_ne!(fs::read(&runbook).unwrap(), b"mine now\n");
}

#[test]
fn a_file_of_somebody_else_stays_in_the_bundle() {
    let (out, place) = written();
    fs::remove_file(place.join("runbook.md")).unwrap();
    fs::write(place.join("notes.txt"), "call Friday\n").unwrap();
    assert_eq!(compile(RING, out.path(), &[]).2, 0);
    assert_eq!(fs::read(place.join("notes.txt")).unwrap(), b"call Friday\n");
    assert!(place.join("runbook.md").exists());
}

/// `kept-aside`: a run that was stopped left an old bundle, in which somebody has put a file.
#[test]
fn what_a_stopped_run_left_is_kept_if_it_is_not_ours() {
    let (out, place) = written();
    let left = out.path().join(format!(".{}.old", place.file_name().unwrap().to_str().unwrap()));
    fs::create_dir(&left).unwrap();
    fs::write(left.join("notes.txt"), "call Friday\n").unwrap();
    let (_, err, status) = compile(RING, out.path(), &[]);
    assert!(err.contains("warning[kept-aside]"), "{err}");
    assert_eq!(status, 0);
    let found: Vec<Vec<u8>> =
        files(out.path()).into_iter().filter(|(path, _)| path.ends_with("notes.txt")).map(|(_, bytes)| bytes).collect();
    assert_eq!(found, [b"call Friday\n".to_vec()]);
}

#[test]
fn what_cannot_be_written_or_is_refused_leaves_nothing() {
    let out = tempdir().unwrap();
    let taken = out.path().join("taken");
    fs::write(&taken, "a file").unwrap();
    let (_, err, status) = compile(RING, &taken, &[]);
    assert!(err.contains("error[not-written]"), "{err}");
    assert_eq!(status, 2);
    let intent = out.path().join("wrong.intent.yaml");
    fs::write(&intent, "format: 1\nstack: mill\n").unwrap();
    let place = out.path().join("out");
    let arguments = [Path::new("compile"), &intent, Path::new("--out"), &place];
    assert_eq!(run(env!("CARGO_BIN_EXE_ringwright"), &arguments).2, 1);
    assert!(!place.exists());
}

/// A plan that lies is refused with its place, and by no other way out than status 1.
#[test]
fn a_plan_that_lies_is_refused() {
    for (case, code) in [
        ("broken-claims-still-protected", "claims"),
        ("broken-never-split-old-link-first", "never-split"),
        ("broken-no-live-restart-power-cycle-under-split", "no-live-restart"),
    ] {
        let plan = here("tests/cases/rehearse").join(case).join("plan.json");
        let (_, err, status) = run(env!("CARGO_BIN_EXE_ringwright"), &[Path::new("rehearse"), &plan]);
        assert!(err.contains(&format!("error[{code}]")) && err.contains("plan.json:"), "{case}: {err}");
        assert_eq!(status, 1, "{case}");
    }
    let nowhere = here("tests/cases/nowhere.json");
    assert_eq!(run(env!("CARGO_BIN_EXE_ringwright"), &[Path::new("rehearse"), &nowhere]).2, 2);
}
