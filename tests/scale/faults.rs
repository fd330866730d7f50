//! A number of members and of parallel cables -> a guarded ring of them, to try every fault of.

use std::fmt::Write as _;

use ringwright::diag::Findings;
use ringwright::lower::lower;
use ringwright::model::MemberId;
use ringwright::model::naming::setting;
use ringwright::model::setting::Setting;
use ringwright::source::Sources;
use ringwright::{intent, platform};

/// A ring whose pair has a leg on its first member and one on the member opposite.
pub fn ring(count: usize, cables: usize) -> Setting {
    let mut text = "format: 1\nstack: mill-core\ndialect: neutral\ntopology: ring\nmembers:\n".to_owned();
    let ports = |first: usize| {
        let list: Vec<String> = (first..first + cables).map(|port| format!("\"{port}\"")).collect();
        list.join(", ")
    };
    for number in 1..=count {
        let role = ["primary", "standby", "member"][(number - 1).min(2)];
        write!(text, "  - {{name: mill-{number}, id: {number}, role: {role}, ").unwrap();
        writeln!(text, "sides: {{west: [{}], east: [{}]}}}}", ports(60), ports(70)).unwrap();
    }
    text += "uplink_pairs:\n  - name: yard\n    legs:\n";
    for number in [1, count / 2 + 1] {
        writeln!(text, "      - {{member: mill-{number}, port: \"1\", far: {{device: far-{number}, port: \"7\"}}}}")
            .unwrap();
    }
    text += "split_guard: yard\n";
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let file = sources.add("intent.yaml", text);
    let intent = intent::read(&sources, file, &mut findings).unwrap();
    let mut platform = platform::builtin("neutral", intent.dialect.span, &mut sources, &mut findings).unwrap();
    if count > usize::from(platform.traits.max_members) {
        platform.traits.member_id.range = (MemberId(1), MemberId(80));
        platform.traits.max_members = 80;
    }
    let problem = lower(&intent, Some(&intent), &platform, &mut findings).unwrap_or_else(|_| {
        let told: Vec<&str> = findings.all().iter().map(|found| found.message.as_str()).collect();
        panic!("{count} members: {told:?}")
    });
    setting(&problem.documents()).unwrap_or_else(|faults| panic!("{count} members: {faults:?}"))
}
