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
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use mutants::{Mutant, mutant};
use ringwright::cli::Reader;
use ringwright::diag::Findings;
use ringwright::lint::samples::proved;
use ringwright::lint::{lint, lint_with, said};
use ringwright::model::habits::DEFAULTS;
use ringwright::platform::Platform;

/// The dialects of this repository.
const DIALECTS: [&str; 2] = ["templates/neutral", "examples/dialects/pentrough"];

/// Mistakes that the lint does not see, and why.
const MISSED: [(&str, u64, &str); 6] = [
    ("templates/neutral", 0, "a link at the head of the page: the part that it leads to stands there all the same"),
    ("templates/neutral", 2, "one sentence with its argument at another place: the words are there, in another order"),
    ("templates/neutral", 22, "the next line names the stack and the unit too, each in its place"),
    ("templates/neutral", 42, "the next line names the stack and the unit too, each in its place"),
    ("examples/dialects/pentrough", 13, "the same words in another order, no argument in another's place"),
    ("examples/dialects/pentrough", 69, "the unit at the end of its sentence instead of before its place"),
];

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

/// Every finding has a mistake that must be found by it: its code, the template, what stands there and what is put there.
const CANARIES: [(&str, &str, &str, &str); 15] = [
    (
        "words-alike",
        "steps/enable-port.j2",
        "put port {{ port.interface }} into",
        "take port {{ port.interface }} out of",
    ),
    ("argument-unused", "steps/assign-id.j2", "to {{ id }}", "to {{ id + 1 }}"),
    ("argument-unused", "steps/bind-port.j2", " to {{ side }}", ""),
    (
        "argument-place",
        "steps/bind-port.j2",
        "{{ port.interface }} to {{ side }}",
        "{{ side }} to {{ port.interface }}",
    ),
    ("argument-unused", "steps/await.j2", "{% if until == \"up\" %}", "{% if until != \"up\" %}"),
    (
        "argument-place",
        "steps/power-off.j2",
        "{{ unit.key }}{{ words.label(unit) }}",
        "{{ words.label(unit) }}{{ unit.key }}",
    ),
    (
        "argument-place",
        "snippet.j2",
        "rack {{ place.rack }}{% endif %}{% if place.height_unit is not none %}, height unit {{ place.height_unit }}",
        "rack {{ place.height_unit }}{% endif %}{% if place.height_unit is not none %}, height unit {{ place.rack }}",
    ),
    ("step-order", "runbook.md.j2", "for stage in times.stages", "for stage in times.stages|reverse"),
    ("step-order", "labels.csv.j2", "for one in labels", "for one in labels|reverse"),
    ("output-lacks", "runbook-step.md.j2", "- if not: {{ otherwise }}", "- if not: stop"),
    ("step-order", "snippet.j2", "for step in segment.steps", "for step in segment.steps|reverse"),
    ("line-unmarked", "snippet.j2", "# at: ", "at: "),
    (
        "value-adds-line",
        "runbook.md.j2",
        "Stack: {{ stack.description }}",
        "Stack: {% autoescape false %}{{ stack.description }}{% endautoescape %}",
    ),
    ("template-unused", "unused.j2", "", "nobody asks for this"),
    ("name-unused", "snippet.j2", "{% macro body(", "{% set idle = 1 %}\n{% macro body("),
];

#[test]
fn each_finding_has_a_mistake_that_it_finds() {
    let (reader, platform) = load("templates/neutral");
    let (proved, _) = proved(&platform);
    for (code, template, from, to) in CANARIES {
        let mut wrong = platform.clone();
        let text = wrong.files.entry(template.to_owned()).or_default();
        assert!(text.contains(from), "{template} does not hold {from}");
        *text = if from.is_empty() { to.to_owned() } else { text.replace(from, to) };
        let mut findings = Findings::default();
        lint_with(&proved, &wrong, &reader.sources, &mut findings);
        let found = findings.all().iter().any(|found| found.code.name == code);
        assert!(found, "{code}: {:?}", told(&findings));
    }
    let mut small = platform.clone();
    small.traits.max_members = 1;
    let mut glued = platform.clone();
    glued.traits.port_name = "{{ member_id }}{{ port }}".to_owned();
    assert!(findings(&reader, &glued).iter().any(|found| found.starts_with("names-alike: ")));
    assert!(findings(&reader, &small).iter().any(|found| found.starts_with("sample-unplanned: ")));
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
        let numbers: Vec<u64> = missed.iter().map(|one| one.seed).collect();
        let known: Vec<u64> = MISSED.iter().filter(|(of, ..)| *of == folder).map(|(_, seed, _)| *seed).collect();
        assert_eq!(numbers, known, "{folder}: other mistakes are missed than the list gives reasons for");
        assert!(missed.len() <= tried.len() / 20, "{folder}: too many are missed: {}", missed.len());
        assert!(kinds.len() >= 8, "{folder}: {kinds:?}");
    }
}

fn ringwright(arguments: &[&str]) -> (String, String, Option<i32>) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ringwright"));
    let done = command.current_dir(here(".")).args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (text(done.stdout), text(done.stderr), done.status.code())
}

#[test]
fn golden_cases_are_as_they_were() {
    for folder in DIALECTS {
        let (out, err, status) = ringwright(&["dialect", "test", &format!("./{folder}")]);
        assert_eq!((out.as_str(), err.as_str(), status), ("2 cases: as expected\n", "", Some(0)), "{folder}");
    }
}

/// A new dialect renders at once, and its lint is clean; one word changed shows in a golden case; written out whole
/// it says the same as before.
#[test]
fn a_dialect_from_its_beginning() {
    let place = tempfile::tempdir().unwrap();
    let path = |name: &str| place.path().join(name).to_str().unwrap().to_owned();
    let (ours, whole) = (path("ours"), path("whole"));
    let (out, err, status) = ringwright(&["dialect", "new", &ours, "--extends", "neutral"]);
    assert_eq!(status, Some(0), "{out}{err}");
    let (_, err, status) = ringwright(&["dialect", "new", &ours]);
    assert!(status == Some(1) && err.starts_with("error[in-the-way]: "), "{err}");
    let (out, err, status) = ringwright(&["dialect", "lint", &ours]);
    assert_eq!((out.as_str(), err.as_str(), status), ("nothing is wrong with the dialect ours\n", "", Some(0)));
    let (_, err, status) = ringwright(&["dialect", "test", &ours]);
    assert!(status == Some(1) && err.starts_with("error[no-cases]: "), "{err}");
    let case = place.path().join("ours/tests/new-pair");
    fs::create_dir_all(&case).unwrap();
    fs::copy(here("templates/neutral/tests/new-pair/intent.yaml"), case.join("intent.yaml")).unwrap();
    assert_eq!(ringwright(&["dialect", "test", &ours, "--bless"]).2, Some(0));
    assert_eq!(ringwright(&["dialect", "test", &ours]).0, "one case: as expected\n");
    let save = place.path().join("ours/steps/save.j2");
    let words = fs::read_to_string(&save).unwrap().replace("save the settings", "keep the settings");
    fs::write(&save, words).unwrap();
    let (out, err, status) = ringwright(&["dialect", "test", &ours]);
    assert!(status == Some(1) && err.starts_with("error[case-differs]: "), "{err}");
    assert!(out.contains("-save the settings") && out.contains("+keep the settings"), "{out}");
    assert_eq!(ringwright(&["dialect", "export", &ours, &whole]).2, Some(0));
    assert!(!fs::read_to_string(place.path().join("whole/dialect.yaml")).unwrap().contains("extends"));
    let (out, err, status) = ringwright(&["dialect", "lint", &whole]);
    assert_eq!((out.as_str(), err.as_str(), status), ("nothing is wrong with the dialect ours\n", "", Some(0)));
    let (_, err, status) = ringwright(&["dialect", "new", &path("a b")]);
    assert!(status == Some(1) && err.starts_with("error[dialect-name]: "), "{err}");
    fs::write(path("file"), "").unwrap();
    let (_, err, status) = ringwright(&["dialect", "export", "neutral", &path("file/inside")]);
    assert!(status == Some(2) && err.starts_with("error[cannot-write]: "), "{err}");
}

/// The exercise names every trait, is short, and speaks the dialect's words.
#[test]
fn the_trial_covers_every_trait() {
    for (dialect, word) in [("neutral", "take port P out of use"), ("./examples/dialects/pentrough", "moor")] {
        let (out, err, status) = ringwright(&["dialect", "trial", dialect]);
        assert_eq!((err.as_str(), status), ("", Some(0)));
        assert!(out.lines().count() <= 40, "{} lines", out.lines().count());
        assert!(out.contains(word), "{out}");
        let (_, platform) = load(if dialect == "neutral" { "templates/neutral" } else { dialect });
        let traits = serde_json::to_value(&platform.traits).unwrap();
        for (key, value) in traits.as_object().unwrap() {
            let paths = match value.as_object() {
                Some(parts) => parts.keys().map(|part| format!("{key}.{part} ")).collect(),
                None => vec![format!("{key} ")],
            };
            let usual = DEFAULTS.iter().map(|(path, _)| format!("{path} "));
            for path in usual.chain(paths) {
                assert!(out.contains(&path), "{dialect}: the trial does not try {path}\n{out}");
            }
        }
    }
}
