//! Dialects that mean harm: each is refused within a second, with a place, and nothing is written.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

/// What somebody could do with it.
type Harm = (&'static str, &'static str, fn(&Path));

fn put(folder: &Path, path: &str, text: &str) {
    let path = folder.join(path);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, text).unwrap();
}

/// The manifest with outputs of its own.
fn outputs(folder: &Path, outputs: &str) {
    let text = format!("format: 1\nname: mill\nversion: \"1\"\nsummary: harm\nextends: neutral\noutputs:\n{outputs}");
    put(folder, "dialect.yaml", &text);
}

fn one(folder: &Path, path: &str, template: &str) {
    outputs(folder, &format!("  - {{template: own.j2, one_per: stack, path: \"{path}\", kind: text}}\n"));
    put(folder, "own.j2", template);
}

/// Each with the code that it is refused by.
const HARMS: [Harm; 25] = [
    ("an endless loop", "template-fuel", |at| {
        one(
            at,
            "a.txt",
            "{% for a in range(99999) %}{% for b in range(99999) %}{% set x = a * b %}{% endfor %}{% endfor %}",
        );
    }),
    ("an endless loop in words", "template-fuel", |at| {
        put(at, "steps/save.j2", "{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}save");
    }),
    ("a little too much in every word", "template-fuel", |at| {
        put(at, "steps/expect.j2", "{% for a in range(1500) %}{% for b in range(1000) %}{% endfor %}{% endfor %}look");
    }),
    ("gigabytes of output", "output-too-large", |at| {
        one(at, "a.txt", "{% for a in range(90000) %}{{ 'x' * 90000 }}{% endfor %}");
    }),
    ("a little too much in every file", "output-too-large", |at| {
        outputs(
            at,
            &(0..9)
                .map(|n| format!("  - {{template: own.j2, one_per: stack, path: a{n}.txt, kind: text}}\n"))
                .collect::<String>(),
        );
        put(at, "own.j2", "{% for a in range(150) %}{{ 'x' * 90000 }}{% endfor %}");
    }),
    ("text that doubles", "template-fuel", |at| {
        one(at, "a.txt", &format!("{{% set a = 'x' %}}{}{{{{ a }}}}", "{% set a = a ~ a %}".repeat(40)));
    }),
    ("text that is multiplied", "template-fuel", |at| one(at, "a.txt", "{{ 'x' * 9000000000 }}")),
    ("a width of its own", "template-failed", |at| one(at, "a.txt", "{{ '%09000000000d'|format(1) }}")),
    ("a list without an end", "template-failed", |at| one(at, "a.txt", "{{ range(9000000000)|list }}")),
    ("a macro that calls itself", "template-failed", |at| {
        one(at, "a.txt", "{% macro f(n) %}{{ f(n + 1) }}{% endmacro %}{{ f(0) }}");
    }),
    ("a template that includes itself", "template-failed", |at| one(at, "a.txt", "{% include 'own.j2' %}")),
    ("a template that extends itself", "template-failed", |at| one(at, "a.txt", "{% extends 'own.j2' %}")),
    ("brackets without an end", "template-syntax", |at| {
        one(at, "a.txt", &format!("{{{{ {}1{} }}}}", "(".repeat(90_000), ")".repeat(90_000)));
    }),
    ("a sum without an end", "template-syntax", |at| {
        put(at, "steps/save.j2", &format!("{{{{ 1{} }}}}", "+1".repeat(40_000)));
    }),
    ("a pipe that nobody writes to", "cannot-read", |at| {
        assert!(Command::new("mkfifo").arg(at.join("pipe.j2")).status().unwrap().success());
    }),
    ("a file of the machine", "template-missing", |at| one(at, "a.txt", "{% include '/etc/hostname' %}")),
    ("a file above", "template-missing", |at| one(at, "a.txt", "{% include '../third-unit.intent.yaml' %}")),
    ("a path above", "output-path", |at| one(at, "../a.txt", "x")),
    ("a path above that is made", "output-path", |at| one(at, "{{ '..' }}/a.txt", "x")),
    ("a path from the root", "output-path", |at| one(at, "/a.txt", "x")),
    ("a path without an end", "template-fuel", |at| {
        one(at, "{% for a in range(9999) %}aaaaaaaaaaaaaaaaaa{% endfor %}", "x")
    }),
    ("a link to a file of the machine", "dialect-outside", |at| {
        symlink("/etc/hostname", at.join("steps.j2")).unwrap();
        one(at, "a.txt", "x");
    }),
    ("a link to a folder above", "dialect-outside", |at| {
        symlink("..", at.join("steps")).unwrap();
        one(at, "a.txt", "x");
    }),
    ("an interface name without an end", "template-fuel", |at| {
        let name = "{% for a in range(99999) %}{% endfor %}{{ member_id }}{{ port }}";
        put(
            at,
            "dialect.yaml",
            &format!(
                "format: 1\nname: mill\nversion: \"1\"\nsummary: harm\nextends: neutral\nplatform: {{port_name: \"{name}\"}}\n"
            ),
        );
    }),
    ("a dialect below without an end", "extends-cycle", |at| {
        put(at, "dialect.yaml", "format: 1\nname: mill\nversion: \"1\"\nsummary: harm\nextends: ./\n");
    }),
];

fn compile(folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ringwright"))
        .current_dir(folder)
        .args(["compile", "third-unit.intent.yaml", "--out", "out", "--dialect", "./mill"])
        .output()
        .unwrap()
}

#[test]
fn harm_is_refused_at_once_with_its_place() {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/ferry-terminal");
    for (what, code, harm) in HARMS {
        let folder = tempfile::tempdir().unwrap();
        for name in ["as-built.intent.yaml", "third-unit.intent.yaml"] {
            fs::copy(examples.join(name), folder.path().join(name)).unwrap();
        }
        let mill = folder.path().join("mill");
        fs::create_dir(&mill).unwrap();
        put(&mill, "dialect.yaml", "format: 1\nname: mill\nversion: \"1\"\nsummary: harm\nextends: neutral\n");
        harm(&mill);
        // other work on the machine can disturb one run, hardly six
        let mut quickest = Duration::MAX;
        let mut said = None;
        for _ in 0..6 {
            let start = Instant::now();
            said = Some(compile(folder.path()));
            quickest = quickest.min(start.elapsed());
            if quickest < Duration::from_millis(900) {
                break;
            }
        }
        let said = said.unwrap();
        let text = String::from_utf8_lossy(&said.stderr);
        assert_eq!(said.status.code(), Some(1), "{what}: {text}");
        assert!(
            text.starts_with(&format!("error[{code}]: ")),
            "{what}: {}",
            text.chars().take(300).collect::<String>()
        );
        assert!(text.contains(" --> "), "{what} has no place: {}", text.chars().take(300).collect::<String>());
        assert!(text.len() < 20_000, "{what}: {} bytes are said", text.len());
        assert!(!folder.path().join("out").exists(), "{what}: something was written");
        assert!(quickest < Duration::from_secs(1), "{what} took {quickest:?}");
    }
}

/// A dialect's name that looks like an option is one for the command line's own reading of options.
#[test]
fn a_name_that_is_an_option_is_no_dialect() {
    let run = |arguments: &[&str]| Command::new(env!("CARGO_BIN_EXE_ringwright")).args(arguments).output().unwrap();
    assert_eq!(run(&["dialect", "lint", "--bless"]).status.code(), Some(2));
    assert_eq!(run(&["dialect", "new", "--", "--extends"]).status.code(), Some(1), "no name of a dialect begins so");
    assert_eq!(run(&["dialect", "export", "neutral", "-x"]).status.code(), Some(2));
}
