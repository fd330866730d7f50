//! Templates mean what they mean to Jinja2, the reference for their language: every output and every word of the
//! examples of both dialects, rendered by its Python engine, is the same text.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

mod yard;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn ringwright(arguments: &[&str]) -> String {
    let Output { stdout, stderr, status } =
        Command::new(env!("CARGO_BIN_EXE_ringwright")).current_dir(here(".")).args(arguments).output().unwrap();
    assert!(status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&stderr));
    String::from_utf8(stdout).unwrap()
}

/// The intents of the examples, each with the folder of its dialect.
fn examples() -> Vec<(PathBuf, PathBuf)> {
    let mut found = Vec::new();
    for folder in fs::read_dir(here("examples")).unwrap().map(|entry| entry.unwrap().path()) {
        for file in fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()) {
            let name = file.file_name().unwrap().to_str().unwrap();
            if !name.ends_with(".intent.yaml") {
                continue;
            }
            let text = fs::read_to_string(&file).unwrap();
            let dialect = text.lines().find_map(|line| line.strip_prefix("dialect: ")).unwrap().trim();
            let dialect = if dialect.contains('/') { folder.join(dialect) } else { here("templates").join(dialect) };
            found.push((file, dialect));
        }
    }
    found.sort();
    found
}

fn compare(intent: &Path, dialect: &Path, place: &Path) -> Output {
    let (intent, out) = (intent.to_str().unwrap(), place.join("out"));
    ringwright(&["compile", intent, "--out", out.to_str().unwrap()]);
    let bundle = fs::read_dir(&out).unwrap().next().unwrap().unwrap().path();
    let (context, words) = (place.join("context.json"), place.join("words.json"));
    fs::write(&context, ringwright(&["dialect", "context", intent])).unwrap();
    fs::write(&words, ringwright(&["dialect", "context", intent, "--words"])).unwrap();
    // what it extends is written out
    let whole = place.join("whole");
    let dialect = if fs::read_to_string(dialect.join("dialect.yaml")).unwrap().contains("\nextends:") {
        ringwright(&["dialect", "export", dialect.to_str().unwrap(), whole.to_str().unwrap()]);
        &whole
    } else {
        dialect
    };
    let script = here("tests/jinja/render.py");
    Command::new(yard::python()).args([&script, dialect, &context, &words, &bundle]).output().unwrap()
}

#[test]
fn jinja2_renders_the_same() {
    let examples = examples();
    assert!(examples.iter().any(|(_, dialect)| dialect.ends_with("pentrough")), "{examples:?}");
    for (intent, dialect) in examples {
        let place = tempfile::tempdir().unwrap();
        let said = compare(&intent, &dialect, place.path());
        let text = String::from_utf8_lossy(&said.stdout);
        assert!(said.status.success(), "{}:\n{text}{}", intent.display(), String::from_utf8_lossy(&said.stderr));
    }
}

/// A comparison that cannot fail compares nothing.
#[test]
fn another_word_in_a_template_is_a_difference() {
    let place = tempfile::tempdir().unwrap();
    let dialect = place.path().join("neutral");
    ringwright(&["dialect", "export", "neutral", dialect.to_str().unwrap()]);
    let template = dialect.join("steps/save.j2");
    fs::write(&template, fs::read_to_string(&template).unwrap().replace("save the", "keep the")).unwrap();
    let said = compare(&here("examples/ferry-terminal/third-unit.intent.yaml"), &dialect, place.path());
    assert!(!said.status.success());
    assert!(String::from_utf8_lossy(&said.stdout).contains("steps/save.j2 says"), "{said:?}");
}
