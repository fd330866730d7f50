//! `runbook.html` of every example, of random changes and of large stacks, used in a real browser: opened from disk with
//! the network off, ticked, walked through, copied from, filtered, printed; and its picture compared, step by step, with
//! what the second judge says the stack is.
//!
//! The browser is Debian's chromium, driven by playwright-core; axe-core looks for what shuts people out. Both come from
//! `tests/run`. `RINGWRIGHT_PAGES` sets how many random changes are compared; 50 by default.

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

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use intents::case;
use outcome::{Outcome, outcome};

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn scratch(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn output(command: &mut Command, needs: &str) -> Output {
    command.output().unwrap_or_else(|error| panic!("{needs} is needed, tests/run installs it: {error}"))
}

/// Compiles an intent with the program itself; gives the bundle's folder.
fn compiled(intent: &Path, out: &Path) -> PathBuf {
    let said =
        output(Command::new(env!("CARGO_BIN_EXE_ringwright")).arg("compile").arg(intent).arg("--out").arg(out), "it");
    assert!(said.status.success(), "{}: {}", intent.display(), String::from_utf8_lossy(&said.stderr));
    fs::read_dir(out).unwrap().map(|entry| entry.unwrap().path()).find(|path| path.join("plan.json").exists()).unwrap()
}

/// The bundles of all examples whose dialect makes a page.
fn examples(folder: &Path) -> Vec<PathBuf> {
    let mut intents = Vec::new();
    let mut folders = vec![here("examples")];
    while let Some(next) = folders.pop() {
        for path in fs::read_dir(next).unwrap().map(|entry| entry.unwrap().path()) {
            if path.is_dir() {
                folders.push(path);
            } else if path.to_string_lossy().ends_with(".intent.yaml") {
                intents.push(path);
            }
        }
    }
    intents.sort();
    let bundles = intents.iter().enumerate();
    let bundles: Vec<PathBuf> =
        bundles.map(|(number, intent)| compiled(intent, &folder.join(format!("example-{number}")))).collect();
    assert!(bundles.len() > 20, "{} examples", bundles.len());
    bundles.into_iter().filter(|bundle| bundle.join("runbook.html").exists()).collect()
}

/// The bundles of the first random changes that are planned.
fn random(wanted: usize, folder: &Path) -> Vec<PathBuf> {
    let neutral = yard::neutral();
    let mut bundles = Vec::new();
    for number in 0.. {
        if bundles.len() == wanted {
            break;
        }
        let Ok(Outcome::Planned(plan, _)) = outcome(&case(number, &neutral)) else { continue };
        let place = folder.join(format!("change-{number}"));
        for (path, bytes) in &plan.bundle.files {
            let path = place.join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
        bundles.push(place);
    }
    bundles
}

/// A stack of a tide mill, so many units in a row or a ring; the last of them is missing in the baseline.
fn tide_mill(members: usize, ring: bool, from: Option<&str>) -> String {
    let topology = if ring { "ring" } else { "chain" };
    let mut text = format!("format: 1\nstack: tide-mill\ndialect: neutral\ntopology: {topology}\nmembers:\n");
    for number in 1..=members {
        let role = match number {
            1 => ", role: primary",
            2 => ", role: standby",
            _ => "",
        };
        let rack = format!("vars: {{rack: R{:02}, height_unit: {}}}", number.div_ceil(4), 10 + 2 * (number % 4));
        writeln!(
            text,
            "  - {{name: sluice-{number}, id: {number}{role}, model: agg-48, serial: TM-{number:04}, {rack}}}"
        )
        .unwrap();
    }
    text.push_str("uplink_pairs:\n  - name: shore\n    legs:\n");
    for (member, device) in [(1, "shore-a"), (2, "shore-b")] {
        writeln!(text, "      - {{member: sluice-{member}, port: \"47\", far: {{device: {device}, port: \"12\"}}}}")
            .unwrap();
    }
    text.push_str("split_guard: shore\n");
    if let Some(from) = from {
        write!(
            text,
            "change:\n  from: {from}\n  ticket: W-0077\n  window: {{start: 2026-12-05T01:00:00Z, minutes: 240}}\n"
        )
        .unwrap();
        text.push_str(
            "  checks:\n    - {when: before-and-after, text: the count of learnt addresses, compare: true}\n",
        );
    }
    text
}

/// Changes of stacks of 5, 8 and 16 units, and new rings of 8 and 16, whose pages are the largest.
fn large(folder: &Path) -> Vec<PathBuf> {
    let mut bundles = Vec::new();
    for members in [5, 8, 16] {
        for ring in [false, true] {
            let place = folder.join(format!("{members}-{ring}"));
            fs::create_dir_all(&place).unwrap();
            fs::write(place.join("as-built.intent.yaml"), tide_mill(members - 1, ring, None)).unwrap();
            let intent = place.join("grown.intent.yaml");
            fs::write(&intent, tide_mill(members, ring, Some("as-built.intent.yaml"))).unwrap();
            bundles.push(compiled(&intent, &place.join("out")));
        }
    }
    for members in [8, 16] {
        let place = folder.join(format!("new-{members}"));
        fs::create_dir_all(&place).unwrap();
        let intent = place.join("new.intent.yaml");
        fs::write(&intent, tide_mill(members, true, None)).unwrap();
        bundles.push(compiled(&intent, &place.join("out")));
    }
    bundles
}

/// Where the browser is, by the search path.
fn chromium() -> PathBuf {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).map(|folder| folder.join("chromium")).find(|file| file.is_file());
    found.expect("chromium is needed, tests/run installs it")
}

/// Runs one of the scripts in the browser; what it says.
fn in_browser(script: &str, more: &[&Path], bundles: &[PathBuf]) -> (bool, String) {
    let mut command = Command::new("node");
    command.arg(here("tests/page").join(script)).arg("--modules").arg(here("target/node"));
    command.arg("--chromium").arg(chromium()).args(more).args(bundles);
    let said = output(&mut command, "node");
    let told = format!("{}{}", String::from_utf8_lossy(&said.stdout), String::from_utf8_lossy(&said.stderr));
    (said.status.success(), told)
}

/// What the second judge says each stack is after each step, in a file.
fn states(folder: &Path, bundles: &[PathBuf]) -> PathBuf {
    let mut command = Command::new("python3");
    command.arg("-B").arg(here("tests/page/states.py")).args(bundles.iter().map(|bundle| bundle.join("plan.json")));
    let said = output(&mut command, "python3");
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    let file = folder.join("states.json");
    fs::write(&file, said.stdout).unwrap();
    file
}

#[test]
fn a_page_does_what_people_need_of_it() {
    let folder = scratch("pages-used");
    let mut bundles = examples(&folder);
    bundles.extend(large(&folder));
    let (fine, told) = in_browser("check.mjs", &[], &bundles);
    assert!(fine, "{told}");
}

#[test]
fn every_check_of_a_page_finds_its_mistake() {
    let folder = scratch("pages-mistaken");
    let intent = here("examples/exchange/one-night.intent.yaml");
    let bundle = [compiled(&intent, &folder.join("out"))];
    let (fine, told) = in_browser("check.mjs", &[Path::new("--self-test")], &bundle);
    assert!(fine, "{told}");
    let states = states(&folder, &bundle);
    let (fine, told) = in_browser("states.mjs", &[Path::new("--self-test"), Path::new("--states"), &states], &bundle);
    assert!(fine, "{told}");
}

#[test]
fn the_picture_shows_what_the_second_judge_says() {
    let wanted = std::env::var("RINGWRIGHT_PAGES").map_or(50, |text| text.parse().unwrap());
    let folder = scratch("pages-pictured");
    let mut bundles = examples(&folder);
    bundles.extend(random(wanted, &folder));
    bundles.extend(large(&folder));
    let states = states(&folder, &bundles);
    let (fine, told) = in_browser("states.mjs", &[Path::new("--states"), &states], &bundles);
    assert!(fine, "{told}");
}

/// The picture that the README shows is the one that comes out.
#[test]
fn the_picture_in_the_readme_is_true() {
    let folder = scratch("pages-readme");
    let bundle = compiled(&here("examples/ferry-terminal/third-unit.intent.yaml"), &folder);
    let shown = fs::read(here("examples/ferry-terminal/third-unit.svg")).unwrap();
    assert!(fs::read(bundle.join("topology.svg")).unwrap() == shown, "copy topology.svg of the third unit anew");
    assert!(fs::read_to_string(here("README.md")).unwrap().contains("(examples/ferry-terminal/third-unit.svg)"));
}
