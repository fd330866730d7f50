//! Tidiness as an ordinary test: what may import what, how long a thing may be, what must have a case.
//!
//! A check is a function from files to faults. Each has a canary below it: a small file in which it
//! must find something, so that a check that cannot fail is noticed.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

#[path = "tidy/files.rs"]
mod files;
#[path = "tidy/imports.rs"]
mod imports;
#[path = "tidy/words.rs"]
mod words;

use std::collections::BTreeSet;
use std::path::Path;

use files::{File, production, sources, texts_under};

const LONGEST_FILE: usize = 400;
const LONGEST_FUNCTION: usize = 60;

type Faults = Vec<String>;

fn none(faults: &Faults) {
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

fn some(faults: &Faults) {
    assert!(!faults.is_empty(), "the check found nothing where it must");
}

fn canary(path: &str, text: &str) -> Vec<File> {
    vec![File { path: path.to_owned(), text: text.to_owned() }]
}

fn too_long(files: &[File]) -> Faults {
    let long = files.iter().map(|file| (file, file.text.lines().count()));
    let long = long.filter(|(_, lines)| *lines > LONGEST_FILE);
    long.map(|(file, lines)| format!("{}: {lines} lines, at most {LONGEST_FILE}", file.path)).collect()
}

#[test]
fn no_file_has_become_two_things() {
    none(&too_long(&sources()));
    some(&too_long(&canary("src/a.rs", &"//\n".repeat(LONGEST_FILE + 1))));
}

/// Every function with its length in lines, by the indentation that `cargo fmt` gives.
fn functions(text: &str) -> Vec<(String, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (start, line) in lines.iter().enumerate() {
        let code = line.trim_start();
        let indent = &line[..line.len() - code.len()];
        let words: Vec<&str> = code.split_whitespace().take_while(|word| !word.contains('(')).collect();
        let opens =
            words.contains(&"fn") || code.starts_with("fn ") || code.contains(" fn ") && !code.starts_with("//");
        if !opens || code.starts_with("//") {
            continue;
        }
        let end = lines[start..].iter().position(|line| {
            let ends = line.strip_prefix(indent);
            ends.is_some_and(|rest| rest.starts_with('}') || rest.ends_with(';') && !rest.starts_with(' '))
        });
        let length = if line.ends_with('}') || line.ends_with(';') { 1 } else { end.map_or(1, |end| end + 1) };
        found.push((code.to_owned(), length));
    }
    found
}

fn long_functions(files: &[File]) -> Faults {
    let mut faults = Vec::new();
    for file in files {
        let long = functions(&file.text).into_iter().filter(|(_, lines)| *lines > LONGEST_FUNCTION);
        faults.extend(long.map(|(code, lines)| format!("{}: {lines} lines: {code}", file.path)));
    }
    faults
}

#[test]
fn no_function_is_longer_than_a_page() {
    let files = sources();
    none(&long_functions(&files));
    let counted: usize = files.iter().map(|file| functions(&file.text).len()).sum();
    assert!(counted > 400, "{counted} functions were found, there must be more");
    let body = "    x();\n".repeat(LONGEST_FUNCTION);
    some(&long_functions(&canary("src/a.rs", &format!("pub(crate) fn a(\n    b: u8,\n) -> u8 {{\n{body}}}\n"))));
}

fn without_purpose(files: &[File]) -> Faults {
    let bare = files.iter().filter(|file| !file.text.starts_with("//! "));
    bare.map(|file| format!("{}: must open with `//!`: what it turns into what", file.path)).collect()
}

#[test]
fn every_file_says_first_what_it_is() {
    none(&without_purpose(&sources()));
    some(&without_purpose(&canary("src/a.rs", "use std::fmt;\n")));
}

fn allows_without_reason(files: &[File]) -> Faults {
    let mut faults = Vec::new();
    for file in files {
        let parts = file.text.split("#[allow(").skip(1).chain(file.text.split("#![allow(").skip(1));
        let bare = parts.filter(|part| !part.split(")]").next().is_some_and(|inside| inside.contains("reason = \"")));
        faults.extend(bare.map(|_| format!("{}: an `allow` without its reason", file.path)));
    }
    faults
}

#[test]
fn every_allow_has_its_reason() {
    none(&allows_without_reason(&sources()));
    some(&allows_without_reason(&canary("src/a.rs", "#[allow(dead_code)]\nfn a() {}\n")));
}

fn unfinished(files: &[File]) -> Faults {
    let words = ["todo!", "unimplemented!", "dbg!", "unreachable!", "panic!", ".unwrap()", ".expect(\"", "unsafe {"];
    words::found(files, &words, |_| true)
}

#[test]
fn nothing_is_left_open_or_may_panic() {
    none(&unfinished(&sources()));
    some(&unfinished(&canary("src/a.rs", "fn a() { x.unwrap(); }\n")));
}

#[test]
fn imports_point_one_way() {
    none(&imports::against_the_flow(&sources()));
    for (path, line) in [
        ("src/rehearse/a.rs", "use crate::plan::Route;"),
        ("src/plan/a.rs", "use crate::{lower, model};"),
        ("src/model/deep/a.rs", "use super::super::super::diag::Code;"),
        ("src/watch/a.rs", "use crate::plan::search::search;"),
        ("src/watch/a.rs", "use crate::lower::Delta;"),
        ("src/render/a.rs", "fn a() { crate::watch::plan() }"),
        ("src/new/a.rs", "use crate::model::State;"),
    ] {
        some(&imports::against_the_flow(&canary(path, line)));
    }
}

#[test]
fn a_library_is_used_where_it_belongs() {
    none(&imports::astray(&sources()));
    some(&imports::astray(&canary("src/model/a.rs", "use serde_json::Value;")));
    some(&imports::astray(&canary("src/plan/a.rs", "fn a() { minijinja::Environment::new() }")));
    some(&imports::astray(&canary("src/lower/a.rs", "use clap::Parser;")));
}

#[test]
fn the_core_touches_nothing_outside() {
    none(&imports::impure(&sources()));
    for line in ["use std::fs;", "let now = std::time::Instant::now();", "println!(\"x\");", "use std::{env, fmt};"] {
        some(&imports::impure(&canary("src/plan/a.rs", line)));
    }
}

#[test]
fn no_hash_order_can_reach_an_output() {
    none(&imports::hash_order(&sources()));
    some(&imports::hash_order(&canary("src/render/a.rs", "use std::collections::HashMap;")));
    let loops = "let best: HashMap<u8, u8> = HashMap::new();\nfor x in &best {}\n";
    some(&imports::hash_order(&canary("src/plan/search.rs", loops)));
    some(&imports::hash_order(&canary("src/plan/search.rs", "let best: HashMap<u8, u8> = x;\nbest.iter();\n")));
}

/// The planner sees two states and no change's name.
#[test]
fn the_planner_knows_no_kind_of_change() {
    none(&words::kinds_of_change(&sources()));
    for line in ["// first insert into the ring", "if delta.replaced {}", "fn hand_over() {}", "use x::Topology;"] {
        some(&words::kinds_of_change(&canary("src/plan/a.rs", line)));
    }
}

/// Codes that stand for a fault of ours: no input is known that shows one.
const NO_INPUT_SHOWS: [&str; 1] = ["plan-not-proved"];

/// The constants of type `Code`: name of the constant, name of the code, explanation.
fn codes(files: &[File]) -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    for file in files {
        for part in production(&file.text).split(": Code =").collect::<Vec<_>>().windows(2) {
            let constant = part[0].rsplit("const ").next().unwrap_or("").to_owned();
            let field = |name: &str| {
                let text = part[1].split(&format!("{name}: \"")).nth(1).unwrap_or("");
                text.split("\",").next().unwrap_or("").split("\" }").next().unwrap_or("").to_owned()
            };
            found.push((constant, field("name"), field("explanation")));
        }
    }
    found
}

fn badly_kept_codes(files: &[File], cases: &BTreeSet<String>) -> Faults {
    let lists: String = files.iter().map(|file| file.text.as_str()).collect();
    let mut faults = Vec::new();
    for (constant, name, explanation) in codes(files) {
        let listed = ["&", "::"]
            .iter()
            .any(|before| [",", "]"].iter().any(|after| lists.contains(&format!("{before}{constant}{after}"))));
        if !listed {
            faults.push(format!("{name}: in no stage's CODES"));
        }
        if explanation.len() < 40 || !explanation.ends_with('.') {
            faults.push(format!("{name}: explained as {explanation:?}; a whole sentence is wanted"));
        }
        if !cases.contains(&name) && !NO_INPUT_SHOWS.contains(&name.as_str()) {
            faults.push(format!("{name}: no case and no test names it"));
        }
    }
    faults
}

/// Every word with dashes in the names of case folders and in the text of tests.
fn named_in_cases() -> BTreeSet<String> {
    let mut text = String::new();
    for file in texts_under("tests", &["rs", "py", "json", "txt", "mjs"]).into_iter().chain(sources()) {
        let tests = file.text.split_once("#[cfg(test)]\nmod ").map_or("", |(_, tests)| tests);
        let tests = if files::only_for_tests(&file.path) { &file.text } else { tests };
        text.push_str(if file.path.starts_with("tests/") { &file.text } else { tests });
        text.push_str(&format!(" {} ", file.path));
        let case = file.path.split('/').find(|part| part.starts_with("broken-")).unwrap_or("");
        let rules = ringwright::rehearse::CODES.iter().map(|code| code.name);
        text.extend(rules.filter(|rule| case.starts_with(&format!("broken-{rule}-"))).map(|rule| format!(" {rule} ")));
    }
    text.split(|c: char| !c.is_alphanumeric() && c != '-').map(str::to_owned).collect()
}

#[test]
fn every_code_is_listed_explained_and_tried() {
    let files = sources();
    assert!(codes(&files).len() >= 22, "{:?}", codes(&files));
    none(&badly_kept_codes(&files, &named_in_cases()));
    let text =
        |rest: &str| format!("pub const A: Code = Code {{\n    name: \"a-b\",\n    explanation: \"{rest}\",\n}};\n");
    let whole = "A whole sentence that says what the rule is for.";
    let listed = format!("{}const CODES: &[&Code] = &[&A];", text(whole));
    let cases = BTreeSet::from(["a-b".to_owned()]);
    none(&badly_kept_codes(&canary("src/a.rs", &listed), &cases));
    some(&badly_kept_codes(&canary("src/a.rs", &listed), &BTreeSet::new()));
    some(&badly_kept_codes(&canary("src/a.rs", &text(whole)), &cases));
    some(&badly_kept_codes(&canary("src/a.rs", &listed.replace(whole, "short")), &cases));
}

/// Paths of the repository that a text names in back quotes and that do not exist.
fn dead_paths(files: &[File]) -> Faults {
    let roots = ["src/", "tests/", "templates/", "schema/", "examples/", ".ci/"];
    let mut faults = Vec::new();
    for file in files {
        for quoted in file.text.split('`').skip(1).step_by(2).flat_map(str::split_whitespace) {
            let path = quoted.trim_start_matches("./").trim_end_matches(['.', ',', ':']);
            let ours = roots.iter().any(|root| path.starts_with(root)) || path.ends_with(".md") && !path.contains('/');
            let pattern = path.contains(['<', '*', '{']) || path.contains('…');
            if ours && !pattern && path != "runbook.md" && !Path::new(env!("CARGO_MANIFEST_DIR")).join(path).exists() {
                faults.push(format!("{}: `{path}` does not exist", file.path));
            }
        }
    }
    faults
}

#[test]
fn every_path_in_the_texts_exists() {
    let texts = texts_under("", &["md"]);
    assert!(texts.iter().any(|text| text.path == "DEVELOPERS.md"));
    none(&dead_paths(&texts));
    some(&dead_paths(&canary("DEVELOPERS.md", "see `src/nowhere.rs`")));
}

#[test]
fn nothing_names_a_place_on_somebodys_machine() {
    let mut files = texts_under("tests", &["rs", "py", "txt", "mjs"]);
    files.extend(texts_under("", &["md", "toml"]).into_iter().chain(sources()));
    none(&words::machine_paths(&files));
    some(&words::machine_paths(&canary("tests/a.py", &format!("open('{}work/x')", '/'))));
}
