//! The command line: what it prints where, and how it ends.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::path::Path;
use std::process::{Command, Output};

fn run(arguments: &[&str]) -> (String, String, i32) {
    let Output { stdout, stderr, status } = Command::new(env!("CARGO_BIN_EXE_ringwright"))
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/check"))
        .args(arguments)
        .output()
        .unwrap();
    (String::from_utf8(stdout).unwrap(), String::from_utf8(stderr).unwrap(), status.code().unwrap())
}

#[test]
fn a_code_is_explained() {
    let (out, err, status) = run(&["explain", "port-used-twice"]);
    assert!(out.starts_with("port-used-twice\n\nA port takes one cable"), "{out}");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    assert_eq!((err.as_str(), status), ("", 0));
}

#[test]
fn a_misspelt_code_gets_the_nearest() {
    let (out, err, status) = run(&["explain", "prot-used-twice"]);
    assert_eq!(err, "there is no code `prot-used-twice`; did you mean `port-used-twice`?\n");
    assert_eq!((out.as_str(), status), ("", 2));
}

#[test]
fn all_codes_are_listed() {
    let (out, _, status) = run(&["explain"]);
    assert_eq!(status, 0);
    assert_eq!(out.lines().count(), ringwright::cli::codes().count());
}

#[test]
fn wrong_use_ends_with_2() {
    assert_eq!(run(&["check"]).2, 2);
    assert_eq!(run(&["chekc", "x"]).2, 2);
    assert_eq!(run(&["schema", "plna"]).2, 2);
    assert_eq!(run(&["check", "nowhere.yaml"]).2, 2);
    assert_eq!(run(&["check", "--from", "a", "b", "c"]).2, 2);
    assert_eq!(run(&["--help"]).2, 0);
    assert_eq!(run(&["--version"]).2, 0);
}

#[test]
fn several_intents_end_in_one_sentence() {
    let files = ["valid.one-member/intent.yaml", "valid.ring-of-two/intent.yaml", "ring-of-one/intent.yaml"];
    let (out, err, status) = run(&["check", files[0], files[1], files[2]]);
    assert_eq!((out.as_str(), status), ("3 intents: 2 fine, 1 refused\n", 1));
    assert!(err.starts_with("error[ring-of-one]: "), "{err}");
    let (out, _, status) = run(&["check", files[0], files[1]]);
    assert_eq!((out.as_str(), status), ("2 intents: nothing is wrong\n", 0));
}

#[test]
fn what_goes_to_a_pipe_has_no_colour() {
    let (out, err, _) = run(&["check", "ring-of-one/intent.yaml"]);
    assert!(!out.contains('\x1b') && !err.contains('\x1b'));
}
