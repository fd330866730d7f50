//! The picture of a change: what it says after each step is what the model says, its frames are exact differences, and
//! nothing in it lies on anything else. Every example, hand-made stacks of every size, and random changes (50 by
//! default; `RINGWRIGHT_PICTURES` for more).

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
#[path = "picture/geometry.rs"]
mod geometry;
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
#[path = "picture/states.rs"]
mod states;
#[path = "flow/wiring.rs"]
mod wiring;
mod yard;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ringwright::cli::Reader;
use ringwright::compile::prove;
use ringwright::diag::Findings;
use ringwright::intent;
use ringwright::lower::lower;
use ringwright::model::document::PlanDocument;
use ringwright::picture::{Picture, Text, picture};
use ringwright::platform::Platform;
use ringwright::rehearse::{Rehearsed, judge};
use ringwright::source::Sources;

use outcome::{Outcome, outcome};

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn neutral() -> Platform {
    Reader::default().dialect_at(&here("templates/neutral"), None, None).unwrap()
}

/// Everything that is wrong with a picture.
fn faults(picture: &Picture, rehearsed: &Rehearsed) -> Vec<String> {
    let (mut found, longest) = states::faults(picture, rehearsed);
    found.extend(geometry::faults(picture, &longest));
    found
}

fn fine(name: &str, rehearsed: &Rehearsed) -> Picture {
    let picture = picture(rehearsed);
    let found = faults(&picture, rehearsed);
    assert!(found.is_empty(), "{name}:\n{}", found.join("\n"));
    picture
}

fn proved(platform: &Platform, before: Option<&str>, after: &str) -> Rehearsed {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let mut read = |text: &str| {
        let file = sources.add("intent.yaml", text);
        intent::read(&sources, file, &mut findings)
    };
    let (before, after) = (before.map(|text| read(text).unwrap()), read(after).unwrap());
    let problem = lower(&after, before.as_ref(), platform, &mut findings);
    let problem = problem.unwrap_or_else(|_| panic!("{:?}", findings.all()));
    let proved = prove(&problem, &after, &BTreeMap::new(), &mut findings);
    proved.unwrap_or_else(|_| panic!("{:?}", findings.all()))
}

/// A stack of so many units, of which two have uplink legs, with so many cables to each neighbour.
fn stack(units: usize, ring: bool, cables: usize, name: &dyn Fn(usize) -> String, replaced: Option<usize>) -> String {
    let topology = if ring { "ring" } else { "chain" };
    let mut text = format!("format: 1\nstack: mill\ndialect: neutral\ntopology: {topology}\nmembers:\n");
    let side = |first: usize| (first..first + cables).map(|port| format!("\"{port}\"")).collect::<Vec<_>>().join(", ");
    for at in 0..units {
        let role = ["primary", "standby", "member"][at.min(2)];
        let serial = at + 1 + if replaced == Some(at) { 100 } else { 0 };
        let (west, east) = (side(49), side(52));
        writeln!(
            text,
            "  - {{name: {}, id: {}, role: {role}, model: agg-48, serial: PM-{serial:04}, sides: {{west: [{west}], \
             east: [{east}]}}}}",
            name(at),
            at + 1,
        )
        .unwrap();
    }
    if units > 1 {
        text += "uplink_pairs:\n";
        for (pair, port) in [("yard", 47), ("office", 48)] {
            let leg = |at: usize| format!("{{member: {}, port: \"{port}\"}}", name(at));
            writeln!(text, "  - {{name: {pair}, legs: [{}, {}]}}", leg(0), leg(units - 1)).unwrap();
        }
    }
    text
}

fn section(at: usize) -> String {
    format!("section-{}", at + 1)
}

#[test]
fn nothing_lies_on_anything_in_a_stack_of_any_size() {
    let platform = neutral();
    for units in 1..=16 {
        for (ring, cables) in [(false, 1), (false, 2), (false, 3), (true, 1), (true, 2), (true, 3)] {
            if ring && units < 2 {
                continue;
            }
            let text = stack(units, ring, cables, &section, None);
            let name = format!("{units} units, ring: {ring}, {cables} cables");
            let picture = fine(&name, &proved(&platform, Some(&text), &text));
            let lanes = picture.cables.iter().filter(|cable| cable.lane).count();
            assert_eq!(lanes, if ring { cables } else { 0 }, "{name}");
            assert_eq!(picture.cables.len(), (units - usize::from(!ring)) * cables, "{name}");
            let order: Vec<&str> = picture.units.iter().map(|unit| unit.unit.as_str()).collect();
            assert_eq!(order, (0..units).map(section).collect::<Vec<_>>(), "{name}");
        }
    }
}

#[test]
fn a_box_that_is_replaced_stands_under_the_new_one() {
    let platform = neutral();
    for (units, ring, at) in [(2, true, 1), (3, true, 2), (5, true, 3), (5, false, 4)] {
        let before = stack(units, ring, 1, &section, None);
        let after = stack(units, ring, 1, &section, Some(at));
        let rehearsed = proved(&platform, Some(&before), &after);
        let picture = fine(&format!("{units} units, {at} replaced"), &rehearsed);
        let boxes: Vec<&str> = picture.units.iter().map(|unit| unit.unit.as_str()).collect();
        let new = format!("{}@PM-{:04}", section(at), at + 101);
        let old = format!("{}@PM-{:04}", section(at), at + 1);
        let place = boxes.iter().position(|name| *name == new).unwrap();
        assert_eq!(boxes[place + 1], old, "{boxes:?}");
        let said = |values: &ringwright::picture::Values, at: usize| values[&*format!("u{at}")]["there"].clone();
        assert_eq!([said(&picture.before, place), said(&picture.before, place + 1)], ["no", "yes"]);
        assert_eq!([said(&picture.after, place), said(&picture.after, place + 1)], ["yes", "no"]);
    }
}

#[test]
fn a_new_stack_comes_up_unit_by_unit() {
    let platform = neutral();
    for (units, ring) in [(1, false), (2, false), (2, true), (5, true), (16, false), (16, true)] {
        let picture = fine("new", &proved(&platform, None, &stack(units, ring, 1, &section, None)));
        assert!(picture.before.iter().all(|(_, says)| says.get("there").is_none_or(|there| there == "no")));
        assert_eq!(picture.before["stack"]["text"], "no stack yet");
        let wanted = format!("{} unit{}, section-1 leads", units, if units == 1 { "" } else { "s" });
        assert_eq!(picture.after["stack"]["text"], wanted);
    }
}

#[test]
fn the_longest_names_have_room() {
    let long = |at: usize| {
        format!("{}{}", "drying-section-of-the-second-machine-in-the-long-hall-".repeat(2).split_at(61).0, at)
    };
    let before = stack(3, true, 2, &long, None);
    fine("long names", &proved(&neutral(), Some(&before), &stack(3, true, 2, &long, Some(2))));
}

#[test]
fn every_example_is_drawn_as_it_is() {
    let mut folders = vec![here("examples")];
    let mut count = 0;
    while let Some(folder) = folders.pop() {
        for path in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            if path.is_dir() {
                folders.push(path);
            } else if path.to_string_lossy().ends_with(".intent.yaml") {
                let out = tempfile::tempdir().unwrap();
                let mut command = Command::new(env!("CARGO_BIN_EXE_ringwright"));
                let output = command.arg("compile").arg(&path).arg("--out").arg(out.path()).output().unwrap();
                assert!(output.status.success(), "{}", path.display());
                let bundle = fs::read_dir(out.path()).unwrap().next().unwrap().unwrap().path();
                let plan = fs::read_to_string(bundle.join("plan.json")).unwrap();
                let plan: PlanDocument = serde_json::from_str(&plan).unwrap();
                fine(&path.display().to_string(), &judge(&plan).rehearsed.unwrap());
                count += 1;
            }
        }
    }
    assert!(count >= 18, "{count} examples");
}

#[test]
fn random_changes_are_drawn_as_they_are() {
    let wanted = std::env::var("RINGWRIGHT_PICTURES").map_or(50, |text| text.parse().unwrap());
    let traits = neutral().traits;
    let (mut number, mut drawn) = (0, 0);
    while drawn < wanted {
        // platforms of the plain habits and of the wider ones, by turns
        let case = number / 2 + (number % 2) * intents::WIDE;
        match outcome(&intents::case(case, &traits)) {
            Ok(Outcome::Planned(compiled, _)) => {
                fine(&format!("change {case}"), &compiled.rehearsed);
                drawn += 1;
            }
            Ok(Outcome::NoSafeOrder(_) | Outcome::SearchLimit | Outcome::NotYet) => {}
            Err(failure) => panic!("change {case}: {}: {}", failure.symptom, failure.text),
        }
        number += 1;
    }
}

/// The canary: a picture with one thing wrong in it is found out.
#[test]
fn what_is_wrong_is_found() {
    let before = stack(3, false, 1, &section, None);
    let rehearsed = proved(&neutral(), Some(&before), &stack(3, true, 1, &section, None));
    let right = fine("right", &rehearsed);
    let spoilt = |spoil: &dyn Fn(&mut Picture)| {
        let mut picture = right.clone();
        spoil(&mut picture);
        assert!(!faults(&picture, &rehearsed).is_empty());
    };
    let text = |text: &str| Text::Owned(text.to_owned());
    let lane = right.cables.iter().position(|cable| cable.lane).unwrap();
    let step = right.frames.iter().rposition(|frame| frame.set.contains_key(&*format!("c{lane}"))).unwrap();
    let row = |picture: &Picture, at: usize| picture.units[at].y.clone();
    spoilt(&|picture| picture.width = "200".to_owned());
    spoilt(&|picture| picture.units[1].y = row(&right, 0));
    spoilt(&|picture| picture.units[0].texts.marks_y = right.units[0].texts.numbers_y.clone());
    spoilt(&|picture| picture.cables[0].text_x = right.cables[0].dot_x.clone());
    spoilt(&|picture| picture.cables[0].link_y = right.cables[0].upper_y.clone());
    spoilt(&|picture| picture.cables[lane].path = "M 60 20 H 80 V 200 H 60".to_owned());
    spoilt(&|picture| drop(picture.frames[step].set.remove(&*format!("c{lane}"))));
    spoilt(&|picture| drop(picture.frames[step].set.get_mut("stack").unwrap().insert(text("said"), text(""))));
    spoilt(&|picture| {
        picture.frames[1].set.entry(text("u0")).or_default().insert(text("id"), text("1"));
    });
    spoilt(&|picture| drop(picture.frames.pop()));
    spoilt(&|picture| drop(picture.after.get_mut("u0").unwrap().insert(text("role"), text("member"))));
}
