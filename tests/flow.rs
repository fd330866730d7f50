//! Hundreds of random intents of every kind of change that this release plans: each is compiled,
//! and each plan is judged twice, by `rehearse` and by the second judge in Python, which shares no
//! code with it. Bundles are written too, and a reader that holds none of the templates turns their
//! text back into operations: rendered text, not only the plan, reaches the target.
//!
//! Seeds are fixed; `RINGWRIGHT_CASES` sets how many intents a kind gets.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "flow/intents.rs"]
mod intents;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ringwright::compile::{Compiled, compile};
use ringwright::diag::Findings;
use ringwright::source::Sources;
use ringwright::{intent, platform, rehearse};

use intents::{Kind, Scenario, scenario};

fn cases() -> u64 {
    std::env::var("RINGWRIGHT_CASES").ok().and_then(|text| text.parse().ok()).unwrap_or(25)
}

/// How many bundles of a kind are read back; a quarter of them is of platforms with other habits at least.
fn bundles() -> u64 {
    cases().min((cases() / 2).max(12))
}

fn build(scenario: &Scenario) -> Result<Compiled, String> {
    let mut sources = Sources::default();
    let mut findings = Findings::default();
    let place = sources.add("intent.yaml", scenario.intent.clone());
    let baseline = scenario.baseline.as_ref().map(|text| sources.add("as-built.yaml", text.clone()));
    let told = |findings: &Findings| {
        findings
            .all()
            .iter()
            .map(|found| format!("{}: {}", found.code.name, found.message))
            .collect::<Vec<_>>()
            .join("\n")
    };
    let intent = intent::read(&sources, place, &mut findings).map_err(|_| told(&findings))?;
    let old =
        baseline.map(|file| intent::read(&sources, file, &mut findings)).transpose().map_err(|_| told(&findings))?;
    let name = intent.dialect.value.to_string();
    let mut platform =
        platform::builtin(&name, intent.dialect.span, &mut sources, &mut findings).map_err(|_| told(&findings))?;
    scenario.habits.apply(&mut platform.traits);
    compile(&sources, &intent, old.as_ref(), &platform, &mut findings).map_err(|_| told(&findings))
}

/// Compiles every scenario of a kind; gives the folder that holds `plans` and `bundles`.
fn made(kind: Kind) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("flow-{kind:?}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(folder.join("plans")).unwrap();
    for seed in 0..cases() {
        let scenario = scenario(kind, seed);
        let compiled = build(&scenario).unwrap_or_else(|error| {
            panic!(
                "{kind:?} seed {seed}: {error}
{:?}
--- intent
{}
--- baseline
{}",
                scenario.habits,
                scenario.intent,
                scenario.baseline.as_deref().unwrap_or("none")
            )
        });
        let plan = compiled.rehearsed.plan();
        assert!(rehearse::judge(plan).rehearsed.is_some(), "{kind:?} seed {seed}: refused when read again");
        let file = folder.join("plans").join(format!("{seed:04}.json"));
        fs::write(file, serde_json::to_string(plan).unwrap()).unwrap();
        if seed < bundles() {
            write(&compiled, &folder.join("bundles").join(format!("{seed:04}")));
        }
    }
    folder
}

fn write(compiled: &Compiled, folder: &Path) {
    for (path, bytes) in &compiled.bundle.files {
        let path = folder.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    found.sort();
    found
}

/// Has the reader turn every bundle back into operations, which must be the plan's and pass the second judge.
fn text_reads_back(folder: &Path) {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let bundles = entries(folder);
    let output = Command::new("python3")
        .arg("-B")
        .arg(here.join("tests/reader/read_bundle.py"))
        .arg("--replay")
        .arg(here.join("tests/judge/judge.py"))
        .arg("--against-each")
        .args(&bundles)
        .output()
        .expect("python3 runs the reader");
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{told}{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(told, format!("{0} of {0} bundles read back\n", bundles.len()));
}

/// Runs the second judge over a folder of plans; a missing Python is a failure, not a skip.
fn second_judge_accepts(folder: &Path) {
    let files = entries(folder);
    let judge = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/judge/judge.py");
    let output = Command::new("python3").arg(judge).args(&files).output().expect("python3 runs the second judge");
    let told = String::from_utf8_lossy(&output.stdout);
    let refused: Vec<&str> = told
        .lines()
        .filter(|line| !line.contains("\"verdict\": \"accepted\"") && !line.contains("\"verdict\":\"accepted\""))
        .collect();
    assert!(
        output.status.success() && refused.is_empty(),
        "{}\n{}",
        refused.join("\n"),
        String::from_utf8_lossy(&output.stderr)
    );
    assert_eq!(told.lines().count(), files.len(), "the second judge answers for every plan");
}

macro_rules! kinds {
    ($($name:ident => $kind:expr),* $(,)?) => {
        $(#[test]
        fn $name() {
            let folder = made($kind);
            second_judge_accepts(&folder.join("plans"));
            text_reads_back(&folder.join("bundles"));
        })*
    };
}

kinds! {
    new_chain => Kind::NewChain,
    new_ring => Kind::NewRing,
    new_ring_of_two => Kind::NewRingOfTwo,
    new_stack_of_one => Kind::NewOne,
    add_at_end => Kind::AddAtEnd,
    add_at_beginning => Kind::AddAtBeginning,
    add_two => Kind::AddTwo,
    insert_into_ring => Kind::InsertIntoRing,
    close_ring => Kind::CloseRing,
    form_pairs => Kind::FormPairs,
    all_together => Kind::Together,
}
