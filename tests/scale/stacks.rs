//! A stack as an intent has it, for any number of members -> the difference of two as the planner gets it.

use std::fmt::Write as _;

use ringwright::diag::Findings;
use ringwright::lower::{Problem, lower};
use ringwright::model::MemberId;
use ringwright::model::naming::setting;
use ringwright::model::setting::Setting;
use ringwright::source::Sources;
use ringwright::{intent, platform};

/// A stack.
#[derive(Clone)]
pub struct Stack {
    pub ring: bool,
    pub members: Vec<Member>,
    /// Members and ports of the legs of the one uplink pair, if there is one.
    pub legs: Vec<(String, u16)>,
}

/// One member; `serial` is the number on its label, so that another one is a replacement.
#[derive(Clone)]
pub struct Member {
    pub name: String,
    pub id: usize,
    pub role: &'static str,
    pub serial: usize,
    pub west: Vec<u16>,
    pub east: Vec<u16>,
}

/// One change.
pub struct Change {
    pub name: &'static str,
    pub before: Stack,
    pub after: Stack,
    /// Consents that the change takes: kind and number of the member.
    pub accept: Vec<(&'static str, usize)>,
    pub temporary_cables: bool,
    /// The single changes that it is made of, if it is several.
    pub parts: &'static [&'static str],
}

/// The name of a member by its number.
pub fn name(number: usize) -> String {
    format!("mill-{number}")
}

impl Stack {
    /// `mill-1` leads, `mill-2` stands by; west is port 49, east is port 50.
    pub fn of(ring: bool, count: usize) -> Self {
        let member = |number: usize| Member {
            name: name(number),
            id: number,
            role: ["primary", "standby", "member"][(number - 1).min(2)],
            serial: number,
            west: vec![49],
            east: vec![50],
        };
        Self { ring, members: (1..=count).map(member).collect(), legs: Vec::new() }
    }

    /// The same stack with something else about it.
    pub fn with(mut self, change: impl FnOnce(&mut Self)) -> Self {
        change(&mut self);
        self
    }

    fn yaml(&self) -> String {
        let topology = if self.ring { "ring" } else { "chain" };
        let mut text = format!("format: 1\nstack: mill-core\ndialect: neutral\ntopology: {topology}\nmembers:\n");
        let ports = |list: &[u16]| list.iter().map(|port| format!("\"{port}\"")).collect::<Vec<_>>().join(", ");
        for Member { name, id, role, serial, west, east } in &self.members {
            let sides = format!("{{west: [{}], east: [{}]}}", ports(west), ports(east));
            write!(text, "  - {{name: {name}, id: {id}, role: {role}, model: agg-48, ").unwrap();
            writeln!(text, "serial: PM-{serial:04}, sides: {sides}}}").unwrap();
        }
        if !self.legs.is_empty() {
            text += "uplink_pairs:\n  - name: yard\n    legs:\n";
        }
        for (member, port) in &self.legs {
            write!(text, "      - {{member: {member}, port: \"{port}\", ").unwrap();
            writeln!(text, "far: {{device: far-{member}, port: \"7\"}}}}").unwrap();
        }
        text
    }
}

impl Change {
    /// A change that takes no consent.
    pub fn new(name: &'static str, before: Stack, after: Stack) -> Self {
        Self { name, before, after, accept: Vec::new(), temporary_cables: false, parts: &[] }
    }

    /// The same change with these consents given.
    pub fn accepting(mut self, consents: &[(&'static str, usize)]) -> Self {
        self.accept.extend(consents);
        self
    }

    /// The same change where cables of neither state may be plugged for a while.
    pub fn with_temporary_cables(mut self) -> Self {
        self.temporary_cables = true;
        self
    }

    /// Several changes together: their names are those of the single ones.
    pub fn of(parts: &'static [&'static str], before: Stack, after: Stack) -> Self {
        Self { parts, ..Self::new("", before, after) }
    }

    /// What it is called.
    pub fn title(&self) -> String {
        if self.parts.is_empty() { self.name.to_owned() } else { self.parts.join(" + ") }
    }

    fn yaml(&self) -> String {
        let accept: Vec<String> =
            self.accept.iter().map(|(kind, number)| format!("\"{kind}:{}\"", name(*number))).collect();
        let terms = format!("  accept: [{}]\n  temporary_cables: {}\n", accept.join(", "), self.temporary_cables);
        format!("{}change:\n{terms}", self.after.yaml())
    }

    /// The two states with indices, as the planner gets them.
    pub fn setting(&self) -> Setting {
        setting(&self.problem().documents()).unwrap_or_else(|faults| panic!("{}: {faults:?}", self.title()))
    }

    /// The change on the neutral platform. A stack that is larger than that takes gets a platform that takes 80.
    pub fn problem(&self) -> Problem {
        let (mut sources, mut findings) = (Sources::default(), Findings::default());
        let mut read = |text: String| {
            let file = sources.add("intent.yaml", text);
            intent::read(&sources, file, &mut findings).unwrap()
        };
        let (after, before) = (read(self.yaml()), read(self.before.yaml()));
        let mut platform = platform::builtin("neutral", after.dialect.span, &mut sources, &mut findings).unwrap();
        let largest = self.before.members.len().max(self.after.members.len());
        if largest > usize::from(platform.traits.max_members) {
            platform.traits.member_id.range = (MemberId(1), MemberId(80));
            platform.traits.max_members = 80;
        }
        lower(&after, Some(&before), &platform, &mut findings).unwrap_or_else(|_| {
            let told: Vec<&str> = findings.all().iter().map(|found| found.message.as_str()).collect();
            panic!("{}: {told:?}", self.title())
        })
    }
}
