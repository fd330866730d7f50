//! A stack of a paper mill as the generator holds it, and the YAML that a person would write of it.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use ringwright::model::document::Role;

/// The hardware of all members.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// Six ports that can stack, 49 to 54.
    Agg,
    /// Four, 25 to 28.
    Edge,
    /// Not said: the sides name the ports.
    Unsaid,
}

#[derive(Clone, Debug)]
pub struct Member {
    pub number: u32,
    pub id: u32,
    pub role: Role,
    /// If it is written out.
    pub priority: Option<u32>,
    pub mac: Option<u32>,
    pub serial: Option<u32>,
    pub west: Vec<u32>,
    pub east: Vec<u32>,
    pub disabled: BTreeSet<u32>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pair {
    pub name: &'static str,
    /// Members and ports.
    pub legs: Vec<(u32, u32)>,
}

#[derive(Clone, Debug)]
pub struct Stack {
    pub model: Model,
    /// In cabling order.
    pub members: Vec<Member>,
    pub ring: bool,
    pub pairs: Vec<Pair>,
    pub guard: Option<&'static str>,
    /// Whether the sides are written out; else they are derived.
    pub sides: bool,
    /// Whether each cable is listed with its serial.
    pub labels: bool,
}

/// What the intent says of the change itself.
#[derive(Clone, Debug, Default)]
pub struct Change {
    pub after_check: bool,
    pub temporary_cables: bool,
    /// Members that have failed.
    pub dead: BTreeSet<u32>,
}

impl Model {
    /// The ports that can stack.
    pub fn pool(self) -> std::ops::RangeInclusive<u32> {
        match self {
            Self::Agg | Self::Unsaid => 49..=54,
            Self::Edge => 25..=28,
        }
    }
}

impl Stack {
    /// Whose east side faces whose west side.
    pub fn links(&self) -> Vec<(usize, usize)> {
        let count = self.members.len();
        let line = (1..count).map(|next| (next - 1, next));
        let last = (self.ring && count > 1).then(|| (count - 1, 0));
        line.chain(last).collect()
    }

    /// The members that one is cabled to on its west and on its east side.
    pub fn beside(&self, number: u32) -> [Option<u32>; 2] {
        let of = |at: usize| self.members[at].number;
        let links = self.links();
        let west = links.iter().find(|(_, to)| of(*to) == number).map(|(from, _)| of(*from));
        let east = links.iter().find(|(from, _)| of(*from) == number).map(|(_, to)| of(*to));
        [west, east]
    }

    pub fn at(&self, number: u32) -> Option<usize> {
        self.members.iter().position(|member| member.number == number)
    }

    pub fn primary(&self) -> usize {
        self.members.iter().position(|member| member.role == Role::Primary).unwrap()
    }

    /// The ports of a member that one of its sides or a leg names, cabled or not.
    pub fn named(&self, number: u32) -> BTreeSet<u32> {
        let sides = self.at(number).map(|at| &self.members[at]).into_iter();
        let sides = sides.flat_map(|member| member.west.iter().chain(&member.east)).copied();
        let legs = self.pairs.iter().flat_map(|pair| &pair.legs);
        sides.chain(legs.filter(|leg| leg.0 == number).map(|leg| leg.1)).collect()
    }

    /// The ports of a member that hold a cable.
    pub fn cabled(&self, number: u32) -> BTreeSet<u32> {
        let legs = self.pairs.iter().flat_map(|pair| &pair.legs);
        let legs = legs.filter(|leg| leg.0 == number).map(|leg| leg.1);
        let links = self.links().into_iter().flat_map(|(from, to)| {
            let (from, to) = (&self.members[from], &self.members[to]);
            let east = from.east.iter().filter(move |_| from.number == number);
            east.chain(to.west.iter().filter(move |_| to.number == number)).copied().collect::<Vec<_>>()
        });
        legs.chain(links).collect()
    }

    /// The intent that a person would write.
    pub fn yaml(&self, change: Option<&Change>, accept: &[String]) -> String {
        let topology = if self.ring { "ring" } else { "chain" };
        let mut text = format!("format: 1\nstack: mill-core\ndialect: neutral\ntopology: {topology}\nmembers:\n");
        for member in &self.members {
            writeln!(text, "  - {{{}}}", self.member(member)).unwrap();
        }
        if !self.pairs.is_empty() {
            writeln!(text, "uplink_pairs:").unwrap();
        }
        for pair in &self.pairs {
            writeln!(text, "  - name: {}\n    legs:", pair.name).unwrap();
            for (member, port) in &pair.legs {
                let far = format!("{{device: yard-{member}, port: \"{port}\"}}");
                writeln!(text, "      - {{member: mill-{member}, port: \"{port}\", far: {far}}}").unwrap();
            }
        }
        if let Some(guard) = self.guard {
            writeln!(text, "split_guard: {guard}").unwrap();
        }
        self.cables(&mut text);
        if let Some(change) = change {
            change.yaml(accept, &mut text);
        }
        text
    }

    fn member(&self, member: &Member) -> String {
        let mut text = format!("name: mill-{}, id: {}", member.number, member.id);
        let role = match member.role {
            Role::Primary => ", role: primary",
            Role::Standby => ", role: standby",
            Role::Member => "",
        };
        let model = match self.model {
            Model::Agg => ", model: agg-48",
            Model::Edge => ", model: edge-24",
            Model::Unsaid => "",
        };
        write!(text, "{role}{model}").unwrap();
        if let Some(serial) = member.serial {
            write!(text, ", serial: PM-{serial:04}").unwrap();
        }
        if let Some(mac) = member.mac {
            write!(text, ", mac: 00-00-5E-00-53-{mac:02X}").unwrap();
        }
        if let Some(priority) = member.priority {
            write!(text, ", priority: {priority}").unwrap();
        }
        if self.sides {
            write!(text, ", sides: {{west: {}, east: {}}}", ports(&member.west), ports(&member.east)).unwrap();
        }
        if !member.disabled.is_empty() {
            write!(text, ", disabled_ports: {}", ports(&member.disabled)).unwrap();
        }
        text
    }

    fn cables(&self, text: &mut String) {
        if !self.labels || self.links().is_empty() {
            return;
        }
        writeln!(text, "cables:").unwrap();
        for (from, to) in self.links() {
            let (from, to) = (&self.members[from], &self.members[to]);
            for (east, west) in from.east.iter().zip(&to.west) {
                let ends = format!("[\"mill-{}:{east}\", \"mill-{}:{west}\"]", from.number, to.number);
                let name = format!("{}-{east}-{}-{west}", from.number, to.number);
                writeln!(text, "  - {{ends: {ends}, label: K-{name}, medium: direct-attach, serial: DA-{name}}}")
                    .unwrap();
            }
        }
    }
}

impl Change {
    fn yaml(&self, accept: &[String], text: &mut String) {
        let save = if self.after_check { "after-check" } else { "before-link" };
        let dead: Vec<String> = self.dead.iter().map(|number| format!("mill-{number}")).collect();
        let accept: Vec<String> = accept.iter().map(|consent| format!("\"{consent}\"")).collect();
        writeln!(text, "change:\n  save: {save}\n  temporary_cables: {}", self.temporary_cables).unwrap();
        writeln!(text, "  dead: [{}]\n  accept: [{}]", dead.join(", "), accept.join(", ")).unwrap();
    }
}

fn ports<'a>(list: impl IntoIterator<Item = &'a u32>) -> String {
    let quoted: Vec<String> = list.into_iter().map(|port| format!("\"{port}\"")).collect();
    format!("[{}]", quoted.join(", "))
}
