//! More than a plan can hold is refused with a code, never cut short.

use std::fmt::Write as _;

use ringwright::compile::compile;
use ringwright::diag::Findings;
use ringwright::source::Sources;
use ringwright::{intent, platform};

/// A chain of four with so many uplink pairs.
fn with_pairs(count: usize) -> String {
    let mut text = "format: 1\nstack: mill-core\ndialect: neutral\ntopology: chain\nmembers:\n".to_owned();
    for id in 1..=4 {
        let role = if id == 1 { "primary" } else { "member" };
        let _ = writeln!(text, "  - {{name: mill-{id}, id: {id}, role: {role}, model: agg-48, serial: PM-{id}}}");
    }
    let _ = writeln!(text, "uplink_pairs:");
    for pair in 0..count {
        let (first, port) = (1 + 2 * (pair / 40), pair % 40 + 1);
        let leg =
            |member| format!("{{member: mill-{member}, port: \"{port}\", far: {{device: yard, port: \"{pair}\"}}}}");
        let _ = writeln!(text, "  - {{name: pair-{pair}, legs: [{}, {}]}}", leg(first), leg(first + 1));
    }
    text
}

fn codes(text: String) -> Vec<&'static str> {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let file = sources.add("intent.yaml", text);
    let compiled = intent::read(&sources, file, &mut findings).and_then(|intent| {
        let platform = platform::builtin("neutral", intent.dialect.span, &mut sources, &mut findings)?;
        compile(&sources, &intent, None, &platform, &mut findings)
    });
    assert_eq!(compiled.is_err(), findings.has_errors());
    findings.all().iter().map(|found| found.code.name).collect()
}

#[test]
fn more_than_a_plan_can_hold_is_too_large() {
    assert_eq!(codes(with_pairs(80)), ["too-large"]);
}
