//! The walk in a terminal: keys are pressed in a pseudo-terminal, the screen is read, and the terminal must be left
//! as it was.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::{Value, json};

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Presses keys while the command runs in a terminal of this size.
fn pressed(arguments: &[&str], size: (u16, u16), env: Value, press: Value) -> Value {
    let argv: Vec<&str> = std::iter::once(env!("CARGO_BIN_EXE_ringwright")).chain(arguments.iter().copied()).collect();
    let wanted = json!({
        "argv": argv, "cwd": here("."), "columns": size.0, "rows": size.1, "env": env, "press": press,
    });
    let mut child = Command::new("python3")
        .arg("-B")
        .arg(here("tests/terminal/press.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 runs");
    child.stdin.take().unwrap().write_all(wanted.to_string().as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    serde_json::from_slice(&output.stdout).expect("an answer")
}

fn page(found: &Value, number: usize) -> &str {
    let screen = &found["screens"][number];
    assert_eq!(screen["seen"], true, "{}", screen["text"].as_str().unwrap());
    screen["text"].as_str().unwrap()
}

/// The program has ended with this status, and the terminal is as it was.
fn restored(found: &Value, status: i64) {
    assert_eq!(found["status"], status, "{found:#}");
    let left = [&found["ended"], &found["restored"], &found["alternate"], &found["cursor"], &found["overflow"]];
    assert_eq!(left, [true, true, false, true, false], "{found:#}");
}

const THIRD_UNIT: [&str; 2] = ["rehearse", "examples/ferry-terminal/third-unit.intent.yaml"];
const SIXTEEN: [&str; 2] = ["rehearse", "tests/cases/line/fine.walk-of-sixteen/intent.yaml"];

#[test]
fn keys_lead_through_the_walk_and_the_terminal_is_put_back() {
    let found = pressed(
        &THIRD_UNIT,
        (80, 24),
        json!({}),
        json!([
            {"until": "before step 1"},
            {"keys": "n", "until": "step 1 of 24"},
            {"keys": "\u{1b}[C", "until": "step 2 of 24"},
            {"keys": "b", "until": "step 1 of 24"},
            {"keys": "\u{1b}[D", "until": "before step 1"},
            {"keys": "20", "until": "to step 20"},
            {"keys": "\r", "until": "step 20 of 24"},
            {"keys": "l", "until": "step 24 of 24"},
            {"keys": "n", "until": "step 24 of 24"},
            {"keys": "f", "until": "before step 1"},
            {"keys": "q"},
        ]),
    );
    restored(&found, 0);
    for number in 0..10 {
        assert_eq!(found["screens"][number]["raw"], number > 0, "single keys while the walk is on");
        let last = page(&found, number).lines().last().unwrap();
        assert!(last.starts_with("Keys: n on") || last.starts_with("to step 20"), "{last}");
    }
    let joins = page(&found, 6);
    assert!(joins.contains("Do:     Put the bindings of the whole stack ferry-core into force"), "{joins}");
    assert!(joins.contains("Where:  at the stack ferry-core, read on ramp-1"), "{joins}");
    assert!(joins.contains("stack link (was only lit)"), "{joins}");
    assert!(page(&found, 0).contains("not protected: one broken link splits the stack"));
    assert_eq!(found["left"].as_str().unwrap().trim(), "", "nothing is left on the terminal's own page");
}

/// However it ends, the terminal is as it was.
#[test]
fn every_way_out_puts_the_terminal_back() {
    for out in [
        json!({"keys": "\u{3}"}),
        json!({"keys": "\u{1b}"}),
        json!({"signal": "SIGTERM"}),
        json!({"signal": "SIGINT"}),
        json!({"signal": "SIGHUP"}),
    ] {
        let found = pressed(&THIRD_UNIT, (80, 24), json!({}), json!([{"until": "before step 1"}, out]));
        assert_eq!(found["screens"][1]["raw"], true, "{out}");
        restored(&found, 0);
    }
}

/// A terminal that goes away under it ends the walk; nothing goes on in the dark.
#[test]
fn a_closed_window_ends_the_walk() {
    let press = json!([{"until": "before step 1"}, {"hang_up": true}]);
    let found = pressed(&THIRD_UNIT, (80, 24), json!({}), press);
    assert_eq!((&found["ended"], &found["status"]), (&json!(true), &json!(0)), "{found:#}");
}

/// The unit of the step stays in view, the rest is folded, and nothing is lost below the last line.
#[test]
fn sixteen_members_fit_a_small_terminal() {
    let steps: Vec<Value> = (1..=13).map(|number| json!({"keys": "n", "until": format!("step {number} of")})).collect();
    let mut press = vec![json!({"until": "before step 1"})];
    press.extend(steps);
    press.push(json!({"keys": "q"}));
    let found = pressed(&SIXTEEN, (80, 24), json!({}), json!(press));
    restored(&found, 0);
    let mut folded = 0;
    for number in 0..=13 {
        let text = page(&found, number);
        assert!(text.contains("16 units, press-1 leads"), "{text}");
        assert!(!text.contains("more than this terminal has lines for"), "{text}");
        folded += usize::from(text.contains("more units, unchanged …"));
        let about = text.split("Do:     ").nth(1).filter(|what| !what.starts_with("Look"));
        if let Some(unit) = about.and_then(|what| what.split_whitespace().find(|word| word.starts_with("press-"))) {
            let row = text.lines().find(|line| line.contains(unit) && line.contains("◀ this step"));
            assert!(row.is_some(), "{unit}\n{text}");
        }
    }
    assert_eq!(folded, 14);
}

#[test]
fn a_new_size_is_a_new_page() {
    let found = pressed(
        &THIRD_UNIT,
        (80, 24),
        json!({}),
        json!([
            {"until": "before step 1"},
            {"keys": "n", "until": "step 1 of 24"},
            {"size": [200, 40], "until": "The stack before it"},
            {"keys": "q"},
        ]),
    );
    restored(&found, 0);
    let wide = page(&found, 2);
    assert!(
        wide.lines().any(|line| line.contains("The stack before it") && line.contains("The stack after it")),
        "{wide}"
    );
}

#[test]
fn colours_are_for_a_terminal_that_wants_them() {
    let press = || json!([{"until": "before step 1"}, {"keys": "l", "until": "step 24 of 24"}, {"keys": "q"}]);
    let painted = pressed(&THIRD_UNIT, (80, 24), json!({"NO_COLOR": ""}), press());
    let bare = pressed(&THIRD_UNIT, (80, 24), json!({"NO_COLOR": "1"}), press());
    restored(&painted, 0);
    restored(&bare, 0);
    assert!(painted["colours"].as_array().unwrap().len() > 2, "{}", painted["colours"]);
    assert_eq!(bare["colours"], json!([]));
    assert_eq!(page(&painted, 1), page(&bare, 1), "the words are the same");
}

/// Without keys, or where a terminal cannot show pages, the walk is text.
#[test]
fn plain_text_takes_no_terminal() {
    for (arguments, env) in [
        (vec!["--plain"], json!({})),
        (vec!["--step", "4"], json!({"NO_COLOR": "1"})),
        (vec![], json!({"TERM": "dumb"})),
    ] {
        let arguments: Vec<&str> = THIRD_UNIT.into_iter().chain(arguments).collect();
        let found = pressed(&arguments, (80, 24), env, json!([{}]));
        assert_eq!((&found["status"], &found["restored"]), (&json!(0), &json!(true)), "{found:#}");
        assert_eq!((&found["colours"], &found["screens"][0]["raw"]), (&json!([]), &json!(false)), "{arguments:?}");
    }
}
