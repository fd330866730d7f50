//! Random changes on the invented platform, whose habits and words differ from neutral's throughout: what its
//! templates say, read back by a reader that holds none of them, replays to the target.
//!
//! `RINGWRIGHT_SPOKEN` sets how many planned changes are wanted; 200 by default.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]
#![allow(dead_code, reason = "the generator of the random changes is shared, and this uses a part of it")]

#[path = "flow/base.rs"]
mod base;
#[path = "flow/dice.rs"]
mod dice;
#[path = "flow/edits.rs"]
mod edits;
#[path = "flow/habits.rs"]
mod habits;
#[path = "flow/intents.rs"]
mod intents;
#[path = "flow/outcome.rs"]
mod outcome;
#[path = "flow/roles.rs"]
mod roles;
#[path = "flow/stack.rs"]
mod stack;
#[path = "flow/wiring.rs"]
mod wiring;
mod yard;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use intents::{case, is_plain};
use outcome::{Outcome, outcome};
use ringwright::cli::Reader;
use ringwright::platform::Platform;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The invented platform, which sells the hardware of the random changes too.
fn pentrough() -> Platform {
    let mut reader = Reader::default();
    let mut load = |folder: &str| reader.dialect_at(&here(folder), None, None).unwrap();
    let neutral = load("templates/neutral");
    let mut platform = load("examples/dialects/pentrough");
    platform.models.extend(neutral.models);
    platform
}

/// Compiles changes until enough are planned; each bundle in a folder of its own.
fn bundles(wanted: usize, folder: &Path) -> Vec<PathBuf> {
    let (next, done) = (AtomicU64::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let platform = pentrough();
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if done.lock().unwrap().len() >= wanted {
                        break;
                    }
                    if !is_plain(number) {
                        continue;
                    }
                    let mut case = case(number, &platform.traits);
                    case.platform = Some(platform.clone());
                    match outcome(&case) {
                        Ok(Outcome::Planned(plan, _)) => {
                            let place = folder.join(number.to_string());
                            for (path, bytes) in &plan.bundle.files {
                                let path = place.join(path);
                                fs::create_dir_all(path.parent().unwrap()).unwrap();
                                fs::write(path, bytes).unwrap();
                            }
                            done.lock().unwrap().push(place);
                        }
                        Ok(Outcome::NoSafeOrder(_) | Outcome::SearchLimit | Outcome::NotYet) => {}
                        Err(failure) => panic!("change {number}: {}: {}", failure.symptom, failure.text),
                    }
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap();
    done.sort();
    done
}

#[test]
fn what_the_invented_platform_says_replays_to_the_target() {
    let wanted = std::env::var("RINGWRIGHT_SPOKEN").map_or(200, |text| text.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let bundles = bundles(wanted, folder.path());
    let mut command = Command::new("python3");
    command.arg("-B").arg(here("tests/reader/read_pentrough.py")).arg("--replay");
    let said = command.arg(here("tests/judge/judge.py")).arg("--against-each").args(&bundles).output().unwrap();
    let (told, complaints) = (String::from_utf8_lossy(&said.stdout), String::from_utf8_lossy(&said.stderr));
    let count = bundles.len();
    assert!(count >= wanted, "{count} changes were planned");
    assert_eq!(told.trim_end(), format!("{count} of {count} bundles read back"), "{complaints}");
}

/// A reader that reads anything reads nothing.
#[test]
fn a_word_that_is_changed_is_not_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let bundle = bundles(1, folder.path()).remove(0);
    let file = bundle.join("runbook.md");
    let text = fs::read_to_string(&file).unwrap();
    let line = text.lines().find(|line| line.starts_with("- type: ")).unwrap();
    fs::write(&file, text.replacen(&format!("{line}\n"), "", 1)).unwrap();
    let mut command = Command::new("python3");
    command.arg("-B").arg(here("tests/reader/read_pentrough.py")).arg("--against-each").arg(&bundle);
    let said = command.output().unwrap();
    assert_eq!(String::from_utf8_lossy(&said.stdout).trim_end(), "0 of 1 bundles read back");
}
