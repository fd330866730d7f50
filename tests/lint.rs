//! The lint of dialects: correct ones are clean, and mistakes that are drawn by a number are found.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "lint/mutants.rs"]
mod mutants;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use mutants::{Mutant, mutant};
use ringwright::cli::Reader;
use ringwright::diag::Findings;
use ringwright::lint::samples::proved;
use ringwright::lint::{lint, lint_with, said};
use ringwright::platform::Platform;

/// The dialects of this repository.
const DIALECTS: [&str; 2] = ["templates/neutral", "examples/dialects/pentrough"];

/// How many mistakes are drawn in each dialect, those that change nothing aside.
const DRAWN: usize = 80;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn load(folder: &str) -> (Reader, Platform) {
    let mut reader = Reader::default();
    let platform = reader.dialect_at(&here(folder), None, None);
    let platform = platform.unwrap_or_else(|_| panic!("{folder}: {:?}", reader.findings.all()));
    (reader, platform)
}

fn findings(reader: &Reader, platform: &Platform) -> Vec<String> {
    let mut findings = Findings::default();
    lint(platform, &reader.sources, &mut findings);
    told(&findings)
}

fn told(findings: &Findings) -> Vec<String> {
    findings.all().iter().map(|found| format!("{}: {}", found.code.name, found.message)).collect()
}

#[test]
fn our_dialects_are_clean() {
    for folder in DIALECTS {
        let (reader, platform) = load(folder);
        let none: [&str; 0] = [];
        assert_eq!(findings(&reader, &platform), none, "{folder}");
    }
}

/// What became of one mistake.
struct Tried {
    seed: u64,
    mutant: Mutant,
    found: Vec<String>,
}

fn all_tried(folder: &str) -> Vec<Tried> {
    let (next, tried) = (AtomicU64::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let (reader, platform) = load(folder);
                let (proved, _) = proved(&platform);
                let right = said(&proved, &platform);
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if tried.lock().unwrap().len() >= DRAWN {
                        break;
                    }
                    let mutant = mutant(&platform, seed);
                    let wrong = mutant.of(&platform);
                    // what no file and no words show is no mistake
                    if said(&proved, &wrong) == right {
                        continue;
                    }
                    let mut findings = Findings::default();
                    lint_with(&proved, &wrong, &reader.sources, &mut findings);
                    let found = told(&findings);
                    tried.lock().unwrap().push(Tried { seed, mutant, found });
                }
            });
        }
    });
    let mut tried = tried.into_inner().unwrap();
    tried.sort_by_key(|one| one.seed);
    tried.truncate(DRAWN);
    tried
}

#[test]
fn mistakes_are_found() {
    for folder in DIALECTS {
        let tried = all_tried(folder);
        let mut kinds: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
        for one in &tried {
            let row = kinds.entry(one.mutant.mistake).or_default();
            row.0 += 1;
            row.1 += usize::from(!one.found.is_empty());
        }
        let missed: Vec<&Tried> = tried.iter().filter(|one| one.found.is_empty()).collect();
        println!("{folder}: {} of {} found; {kinds:#?}", tried.len() - missed.len(), tried.len());
        for one in &missed {
            let Mutant { template, mistake, line, before, after } = &one.mutant;
            println!("  {}: {mistake} in {template}, line {}\n    {before}\n    {after}", one.seed, line + 1);
        }
        assert!(missed.len() * 20 <= tried.len(), "{folder}: more than one in twenty is missed: {}", missed.len());
        assert!(kinds.len() >= 9, "{folder}: {kinds:?}");
    }
}
