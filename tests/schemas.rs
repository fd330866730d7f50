//! Three validators, one verdict: on every intent, dialect and plan under `tests/cases`, and on
//! hundreds of damaged ones, Python's jsonschema and npm's ajv say what our own reading says.
//!
//! How far a schema goes: a file whose text is refused before it is a tree (a tab, a duplicate key)
//! is not asked about; what a rule beyond the schema refuses is valid here.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

mod yard;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ringwright::diag::Findings;
use ringwright::model::document::PlanDocument;
use ringwright::source::Sources;
use ringwright::yaml;
use ringwright::yaml::shape::Shape;
use serde_json::{Value, json};

/// One file to ask about, and what we say of it.
struct Question {
    file: PathBuf,
    schema: &'static str,
    valid: bool,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files_under(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { files_under(&path, found) } else { found.push(path) }
    }
    found.sort();
}

fn schema_for(file: &Path) -> Option<&'static str> {
    let name = file.file_name()?.to_str()?;
    match name {
        "plan.json" => Some("plan.schema.json"),
        "dialect.yaml" => Some("dialect.schema.json"),
        _ if name.ends_with("intent.yaml") => Some("intent.schema.json"),
        _ => None,
    }
}

fn schema(name: &str) -> Value {
    serde_json::from_str(&fs::read_to_string(root().join("schema").join(name)).unwrap()).unwrap()
}

/// Our own verdict on a tree in YAML or JSON; none if the text is no tree.
fn our_verdict(shape: &Shape, text: &str) -> Option<bool> {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let file = sources.add("file", text);
    let tree = yaml::read(&sources, file, &mut findings).ok().filter(|_| !findings.has_errors())?;
    shape.check(&tree, &sources, &mut findings);
    Some(!findings.has_errors())
}

/// Asks both libraries about every question; gives the differences.
fn differences(questions: &[Question], list: &str) -> Vec<String> {
    let listed = Path::new(env!("CARGO_TARGET_TMPDIR")).join(list);
    let lines =
        questions.iter().map(|question| format!("{}\n", json!({"file": question.file, "schema": question.schema})));
    fs::write(&listed, lines.collect::<String>()).unwrap();
    let script = |name: &str| root().join("tests/schemas").join(name);
    let programs = [
        (yard::python(), script("validate.py"), "jsonschema and PyYAML"),
        ("node".into(), script("validate.mjs"), "ajv and js-yaml"),
    ];
    let mut differences = Vec::new();
    for (program, script, libraries) in programs {
        let output = Command::new(program).arg(script).arg(root().join("schema")).arg(&listed).output();
        let output = output.unwrap_or_else(|error| panic!("{libraries}: {error}"));
        let told = String::from_utf8(output.stdout).unwrap();
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{error}\n({libraries} are needed: tests/run installs them)");
        assert_eq!(told.lines().count(), questions.len(), "{libraries} answer for every file");
        for (question, verdict) in questions.iter().zip(told.lines()) {
            if (verdict == "valid") != question.valid {
                let file = question.file.display();
                differences.push(format!("{file}: {verdict} by {libraries}, but valid by us: {}", question.valid));
            }
        }
    }
    differences
}

#[test]
fn three_validators_agree_on_every_case() {
    let mut files = Vec::new();
    for folder in ["tests/cases", "templates", "examples"] {
        if root().join(folder).exists() {
            files_under(&root().join(folder), &mut files);
        }
    }
    let shapes = ["intent.schema.json", "dialect.schema.json"].map(|name| (name, Shape::new(schema(name))));
    let mut questions = Vec::new();
    for file in files {
        let (Some(schema), Ok(text)) = (schema_for(&file), fs::read_to_string(&file)) else { continue };
        let verdict = match shapes.iter().find(|(name, _)| *name == schema) {
            Some((_, shape)) => our_verdict(shape, &text),
            // what is no JSON at all is nobody's to judge by a schema
            None => {
                serde_json::from_str::<Value>(&text).ok().map(|_| serde_json::from_str::<PlanDocument>(&text).is_ok())
            }
        };
        questions.extend(verdict.map(|valid| Question { file, schema, valid }));
    }
    for (schema, valid, least) in [
        ("intent.schema.json", true, 30),
        ("intent.schema.json", false, 5),
        ("dialect.schema.json", true, 5),
        ("dialect.schema.json", false, 1),
        ("plan.schema.json", true, 100),
    ] {
        let count = questions.iter().filter(|one| one.schema == schema && one.valid == valid).count();
        assert!(count >= least, "{count} files for {schema}, valid {valid}; there must be {least}");
    }
    let differences = differences(&questions, "cases.list");
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

/// A small generator of numbers, so that every run tries the same.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % limit
    }
}

fn places(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Object(keys) => keys.iter().for_each(|(key, value)| {
            places(value, &format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")), found);
        }),
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(position, value)| places(value, &format!("{at}/{position}"), found));
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// One thing of a document left out, added, or of another kind.
fn damaged(document: &Value, random: &mut Random) -> Value {
    let mut damaged = document.clone();
    let mut all = Vec::new();
    places(document, "", &mut all);
    let at = &all[random.below(all.len())];
    let words =
        [json!(null), json!(true), json!(7), json!(-3), json!(70_000), json!("word"), json!([]), json!({}), json!("")];
    let target = damaged.pointer_mut(at).unwrap();
    match (random.below(3), target) {
        (0, Value::Object(keys)) => drop(keys.insert("colour".to_owned(), json!("red"))),
        (1, Value::Object(keys)) if !keys.is_empty() => {
            let key = keys.keys().nth(random.below(keys.len())).unwrap().clone();
            keys.remove(&key);
        }
        (_, target) => *target = words[random.below(words.len())].clone(),
    }
    damaged
}

#[test]
fn three_validators_agree_on_damaged_files() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("damaged");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    let mut random = Random(11);
    let mut questions = Vec::new();
    let tree = |path: &str| {
        let (mut sources, mut findings) = (Sources::default(), Findings::default());
        let file = sources.add(path, fs::read_to_string(root().join(path)).unwrap());
        yaml::read(&sources, file, &mut findings).unwrap().to_json()
    };
    let plan =
        fs::read_to_string(root().join("tests/cases/rehearse/good-add-at-chain-end-every-claim/plan.json")).unwrap();
    let originals = [
        ("intent.schema.json", tree("tests/cases/check/valid.everything/intent.yaml")),
        ("dialect.schema.json", tree("templates/neutral/dialect.yaml")),
        ("plan.schema.json", serde_json::from_str(&plan).unwrap()),
    ];
    for (schema_name, original) in originals {
        let shape = Shape::new(schema(schema_name));
        for number in 0..200 {
            let text = serde_json::to_string(&damaged(&original, &mut random)).unwrap();
            let valid = match schema_name {
                "plan.schema.json" => Some(serde_json::from_str::<PlanDocument>(&text).is_ok()),
                _ => our_verdict(&shape, &text),
            };
            let file = folder.join(format!("{number:03}.{schema_name}"));
            fs::write(&file, text).unwrap();
            questions.push(Question { file, schema: schema_name, valid: valid.unwrap() });
        }
    }
    let fine = questions.iter().filter(|question| question.valid).count();
    assert!(fine > 20 && fine < 500, "{fine} of {} are valid", questions.len());
    let differences = differences(&questions, "damaged.list");
    assert!(differences.is_empty(), "{} differences\n{}", differences.len(), differences.join("\n"));
}

/// The comparison itself can fail: a verdict turned round is a difference with both libraries.
#[test]
fn a_wrong_verdict_would_be_noticed() {
    let file = root().join("templates/neutral/dialect.yaml");
    let question = Question { file, schema: "dialect.schema.json", valid: false };
    assert_eq!(differences(&[question], "canary.list").len(), 2);
}
