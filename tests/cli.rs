//! The binary as people and pipelines meet it: `tests/cases/line/<case>/` is one run in a folder of its own.
//!
//! A case holds `args` (one argument a line) and the files that the run needs. Optional: `uses` (lines
//! `file-or-folder-of-this-repository name`), `first` (arguments of a run before, one a line) and `edits/`, files that
//! somebody puts over what that run left. `expected.txt` is what is printed, how it ended, and which files are
//! not as they were. A case is named for the code that it shows: `not-written.edited`. `BLESS=1 cargo test`
//! accepts new output.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use ringwright::model::document::PlanDocument;
use ringwright::rehearse::judge;
use serde_json::Value;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    found.sort();
    found
}

fn name(path: &Path) -> String {
    path.file_name().unwrap().to_str().unwrap().to_owned()
}

fn copy_over(from: &Path, to: &Path) {
    for path in entries(from) {
        let copy = to.join(path.file_name().unwrap());
        if path.is_dir() {
            fs::create_dir_all(&copy).unwrap();
            copy_over(&path, &copy);
        } else {
            fs::copy(&path, &copy).unwrap();
        }
    }
}

/// Every file under a folder with its bytes, by its path inside.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(one) = open.pop() {
        for path in entries(&one) {
            if path.is_dir() {
                open.push(path);
            } else {
                let inside = path.strip_prefix(folder).unwrap().to_str().unwrap().to_owned();
                found.insert(inside, fs::read(&path).unwrap());
            }
        }
    }
    found
}

struct Said {
    out: String,
    err: String,
    status: i32,
}

fn run_in(place: &Path, arguments: &[&str]) -> Said {
    let Output { stdout, stderr, status } =
        Command::new(env!("CARGO_BIN_EXE_ringwright")).current_dir(place).args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    Said { out: text(stdout), err: text(stderr), status: status.code().unwrap() }
}

fn run(arguments: &[&str]) -> Said {
    run_in(&here("."), arguments)
}

/// A run of a case: what was said, and the files before and after.
struct Run {
    said: Said,
    before: BTreeMap<String, Vec<u8>>,
    after: BTreeMap<String, Vec<u8>>,
}

fn lines(path: &Path) -> Vec<String> {
    fs::read_to_string(path).unwrap_or_default().lines().map(str::to_owned).collect()
}

fn run_case(case: &Path) -> Run {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path();
    for path in entries(case) {
        match name(&path).as_str() {
            "args" | "uses" | "first" | "edits" | "expected.txt" => {}
            inside if path.is_dir() => {
                fs::create_dir(place.join(inside)).unwrap();
                copy_over(&path, &place.join(inside));
            }
            inside => {
                fs::copy(&path, place.join(inside)).unwrap();
            }
        }
    }
    for line in lines(&case.join("uses")) {
        let (from, to) = line.split_once(' ').unwrap();
        if here(from).is_dir() {
            fs::create_dir(place.join(to)).unwrap();
            copy_over(&here(from), &place.join(to));
        } else {
            fs::copy(here(from), place.join(to)).unwrap();
        }
    }
    let first = lines(&case.join("first"));
    if !first.is_empty() {
        let said = run_in(place, &first.iter().map(String::as_str).collect::<Vec<_>>());
        assert_eq!(said.status, 0, "{}: the run before: {}", case.display(), said.err);
    }
    if case.join("edits").is_dir() {
        copy_over(&case.join("edits"), place);
    }
    let before = files(place);
    let arguments = lines(&case.join("args"));
    let said = run_in(place, &arguments.iter().map(String::as_str).collect::<Vec<_>>());
    Run { said, before, after: files(place) }
}

/// What a person sees of a run.
fn told(run: &Run) -> String {
    let mut text = String::new();
    for line in run.said.err.lines().chain(run.said.out.lines()) {
        writeln!(text, "{}", line.trim_end()).unwrap();
    }
    writeln!(text, "exit {}", run.said.status).unwrap();
    for path in run.before.keys().chain(run.after.keys()).collect::<BTreeSet<_>>() {
        let how = match (run.before.get(path), run.after.get(path)) {
            (None, _) => "new",
            (_, None) => "gone",
            (old, new) if old != new => "changed",
            _ => continue,
        };
        writeln!(text, "{how}: {path}").unwrap();
    }
    text
}

fn cases() -> Vec<PathBuf> {
    entries(&here("tests/cases/line"))
}

#[test]
fn each_run_says_and_does_what_it_shall() {
    let mut differences = Vec::new();
    for case in cases() {
        let (file, found) = (case.join("expected.txt"), told(&run_case(&case)));
        if std::env::var_os("BLESS").is_some() {
            fs::write(&file, found).unwrap();
            continue;
        }
        let expected = fs::read_to_string(&file).unwrap_or_default();
        if expected != found {
            differences.push(format!("{}\n--- expected\n{expected}\n--- found\n{found}", file.display()));
        }
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

/// Refused or not written: every file is as it was. Named for a code: that code is shown.
#[test]
fn every_case_shows_what_it_is_named_for() {
    for case in cases() {
        let (run, name) = (run_case(&case), name(&case));
        let code = name.split('.').next().unwrap();
        match run.said.status {
            0 if code == "fine" => assert_eq!(run.said.err, "", "{name}"),
            0 => assert!(run.said.err.contains(&format!("warning[{code}]")), "{name}: {}", run.said.err),
            _ => {
                let shown = code == "usage" || run.said.err.contains(&format!("error[{code}]"));
                assert!(shown, "{name}: {}", run.said.err);
                assert!(run.before == run.after, "{name}: something was written");
            }
        }
    }
}

/// Codes with a test elsewhere: input that is too long to keep, a fault of our own that no input brings about, and what takes long to come about.
const ELSEWHERE: [(&str, &str); 3] = [
    ("too-large", "tests/limits.rs"),
    ("plan-not-proved", "src/compile.rs"),
    ("search-limit", "tests/flow/outcome.rs"),
];

#[test]
fn every_code_of_the_line_has_a_case() {
    let shown: BTreeSet<String> = cases().iter().map(|case| name(case).split('.').next().unwrap().to_owned()).collect();
    let codes = ringwright::compile::CODES.iter().map(|code| code.name).chain([
        "not-written",
        "kept-aside",
        "window-too-short",
        "hands-not-there",
    ]);
    for code in codes {
        let elsewhere = ELSEWHERE.iter().find(|(name, _)| *name == code);
        let tested =
            elsewhere.is_some_and(|(_, file)| fs::read_to_string(here(file)).unwrap().contains(&format!("\"{code}\"")));
        assert!(shown.contains(code) || tested, "{code} has no case in tests/cases/line");
    }
}

/// Every code of the judge comes out of the binary, at a line of the file, and the plan is refused.
#[test]
fn a_broken_plan_is_refused_by_its_rule_and_its_place() {
    let folders = entries(&here("tests/cases/rehearse"));
    for code in ringwright::rehearse::CODES {
        let case = folders.iter().find(|folder| {
            let plan = fs::read_to_string(folder.join("plan.json")).unwrap();
            let plan: Option<PlanDocument> = serde_json::from_str(&plan).ok();
            plan.map_or(code.name == "shape", |plan| {
                judge(&plan).objections.first().is_some_and(|first| first.code == code.name)
            })
        });
        let Some(case) = case else {
            // a plan of the wrong shape has cases of its own in tests/cases/line
            assert_eq!(code.name, "shape", "no broken plan shows {}", code.name);
            continue;
        };
        let said = run_in(case, &["rehearse", "plan.json"]);
        assert!(said.err.starts_with(&format!("error[{}]: ", code.name)), "{}: {}", case.display(), said.err);
        assert!(said.err.lines().nth(1).unwrap().trim_start().starts_with("--> plan.json:"), "{}", said.err);
        assert_eq!((said.out.as_str(), said.status), ("this plan is refused\n", 1), "{}", case.display());
        let data = run_in(case, &["rehearse", "plan.json", "--findings", "json"]);
        let data: Value = serde_json::from_str(&data.out).unwrap();
        assert_eq!(data["findings"][0]["code"], code.name, "{data}");
        assert!(data["findings"][0]["line"].as_u64().unwrap() >= 1, "{data}");
    }
}

#[test]
fn a_good_plan_is_accepted() {
    let good = entries(&here("tests/cases/rehearse")).into_iter().filter(|case| name(case).starts_with("good-"));
    for case in good {
        let said = run_in(&case, &["rehearse", "plan.json"]);
        match name(&case).ends_with("-is-a-warning") {
            true => assert!(said.err.starts_with("warning[") && !said.err.contains("shape"), "{}", said.err),
            false => assert_eq!(said.err, "", "{}", case.display()),
        }
        assert_eq!(said.status, 0, "{}", case.display());
        assert!(said.out.starts_with("every rule holds through all "), "{}", said.out);
    }
}

#[test]
fn findings_are_data_with_places() {
    let said =
        run(&["compile", "tests/cases/check/ring-of-one/intent.yaml", "--out", "/nowhere", "--findings", "json"]);
    let data: Value = serde_json::from_str(&said.out).unwrap();
    let first = &data["findings"][0];
    assert_eq!((first["code"].as_str(), first["severity"].as_str()), (Some("ring-of-one"), Some("error")));
    assert!(first["line"].as_u64() > Some(0) && first["column"].as_u64() > Some(0), "{first}");
    assert_eq!((said.err.as_str(), said.status), ("", 1));
}

/// 80 columns and 24 lines, the prompt among them, also for a ring of sixteen without serials.
#[test]
fn what_compile_says_fits_a_screen() {
    let folder = tempfile::tempdir().unwrap();
    let mut ring = "format: 1\nstack: mill\ndialect: neutral\ntopology: ring\nmembers:\n".to_owned();
    for id in 1..=16 {
        let role = if id == 5 { "primary" } else { "member" };
        writeln!(ring, "  - {{name: drying-section-{id}, id: {id}, role: {role}, model: agg-48}}").unwrap();
    }
    let large = folder.path().join("large.intent.yaml");
    fs::write(&large, ring).unwrap();
    let mut intents = vec![large];
    for example in ["ferry-terminal/third-unit", "ferry-terminal/ring", "paper-mill/new-ring"] {
        intents.push(here(&format!("examples/{example}.intent.yaml")));
    }
    for (number, intent) in intents.iter().enumerate() {
        let out = format!("out-{number}");
        let said = run_in(folder.path(), &["compile", intent.to_str().unwrap(), "--out", &out]);
        assert_eq!((said.err.as_str(), said.status), ("", 0));
        let widest = said.out.lines().map(|line| line.chars().count()).max().unwrap();
        assert!(widest <= 80 && said.out.lines().count() <= 23, "{} columns\n{}", widest, said.out);
    }
}

#[test]
fn every_code_is_explained() {
    for code in ringwright::cli::codes() {
        let said = run(&["explain", code.name]);
        assert!(said.out.starts_with(&format!("{}\n\n", code.name)), "{}", said.out);
        assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
        assert_eq!((said.err.as_str(), said.status), ("", 0));
    }
}

/// A pipe gets no escape codes, whatever the terminal behind it can do.
#[test]
fn nothing_but_a_terminal_gets_colours() {
    for (variable, value) in [("NO_COLOR", "1"), ("TERM", "dumb"), ("TERM", "xterm-256color")] {
        for arguments in [
            vec!["check", "tests/cases/check/ring-of-one/intent.yaml"],
            vec!["compile", "tests/cases/check/ring-of-one/intent.yaml", "--out", "/nowhere"],
            vec!["rehearse", "tests/cases/rehearse/broken-claims-wrong-place/plan.json"],
            vec!["explain", "claims"],
            vec!["--help"],
            vec!["compile"],
        ] {
            let output = Command::new(env!("CARGO_BIN_EXE_ringwright"))
                .current_dir(here("."))
                .env(variable, value)
                .args(&arguments)
                .output()
                .unwrap();
            assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b), "{variable} {arguments:?}");
        }
    }
}
