//! Intents of many mills: new stacks, and changes of stacks that stand.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// One stack of a mill; `from` is the stack as it stands.
pub fn mill(stack: &str, members: usize, ring: bool, from: Option<&str>) -> String {
    let topology = if ring { "ring" } else { "chain" };
    let mut text = format!("format: 1\nstack: {stack}\ndialect: neutral\ntopology: {topology}\nmembers:\n");
    for number in 1..=members {
        let role = ["primary", "standby", "member"][(number - 1).min(2)];
        writeln!(
            text,
            "  - {{name: sluice-{number}, id: {number}, role: {role}, model: agg-48, serial: TM-{number:04}}}"
        )
        .unwrap();
    }
    text.push_str("uplink_pairs:\n  - name: shore\n    legs:\n");
    text.push_str("      - {member: sluice-1, port: \"47\", far: {device: shore-a, port: \"12\"}}\n");
    text.push_str("      - {member: sluice-2, port: \"47\", far: {device: shore-b, port: \"12\"}}\n");
    text.push_str("split_guard: shore\n");
    if let Some(from) = from {
        writeln!(text, "change: {{from: {from}}}").unwrap();
    }
    text
}

/// An intent with a fault: a port that is no text, and no dialect.
pub fn broken() -> String {
    mill("mill-broken", 2, false, None).replace("dialect: neutral\n", "dialekt: neutral\n")
}

/// A fleet of so many stacks; every second one is a change of a stack that stands.
pub fn fleet(folder: &Path, count: usize) {
    for number in 0..count {
        let place = folder.join(format!("site-{number:03}"));
        fs::create_dir_all(&place).unwrap();
        let (stack, members, ring) = (format!("mill-{number:03}"), 2 + number % 3, number % 4 > 1);
        let from = (number % 2 == 1).then_some("as-built.intent.yaml");
        if let Some(name) = from {
            fs::write(place.join(name), mill(&stack, members, ring, None)).unwrap();
        }
        let after = members + usize::from(from.is_some());
        fs::write(place.join("mill.intent.yaml"), mill(&stack, after, ring, from)).unwrap();
    }
}
