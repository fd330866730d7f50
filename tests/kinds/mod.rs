//! Every kind of change that must have a plan, for any number of members: the stack before, the stack
//! after, and the consents that the change takes. Lowered here too, as `compile` does it.

#![allow(dead_code, reason = "every test that shares it uses a part of it")]

pub mod list;

use std::collections::BTreeSet;
use std::fmt::Write as _;

use ringwright::diag::Findings;
use ringwright::lower::{Problem, lower};
use ringwright::model::document::{Action, Inputs, PlanDocument};
use ringwright::model::naming::{Documents, setting};
use ringwright::model::setting::Setting;
use ringwright::model::traits::Traits;
use ringwright::model::{MemberId, PortName};
use ringwright::source::Sources;
use ringwright::{intent, plan, platform, watch};

/// A stack as an intent has it.
#[derive(Clone, Debug)]
pub struct Stack {
    pub ring: bool,
    pub members: Vec<Member>,
    pub pairs: Vec<Pair>,
    pub guard: Option<&'static str>,
}

/// One member; `serial` is the number on its label, so that another one is a replacement.
#[derive(Clone, Debug)]
pub struct Member {
    pub name: String,
    pub id: usize,
    pub role: &'static str,
    pub serial: usize,
    pub west: Vec<u16>,
    pub east: Vec<u16>,
}

/// An uplink pair: the members and ports of its legs.
#[derive(Clone, Debug)]
pub struct Pair {
    pub name: &'static str,
    pub legs: Vec<(String, u16)>,
}

/// One change.
#[derive(Clone, Debug)]
pub struct Change {
    pub name: String,
    pub before: Option<Stack>,
    pub after: Stack,
    pub accept: Vec<String>,
    pub dead: Vec<String>,
    pub temporary_cables: bool,
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
        Self { ring, members: (1..=count).map(member).collect(), pairs: Vec::new(), guard: None }
    }

    /// The same stack with something else about it.
    pub fn with(mut self, change: impl FnOnce(&mut Self)) -> Self {
        change(&mut self);
        self
    }

    /// The same stack without the member at a position.
    pub fn without(self, at: usize) -> Self {
        self.with(|stack| drop(stack.members.remove(at)))
    }

    fn yaml(&self) -> String {
        let topology = if self.ring { "ring" } else { "chain" };
        let mut text = format!("format: 1\nstack: mill-core\ndialect: neutral\ntopology: {topology}\nmembers:\n");
        let ports = |list: &[u16]| list.iter().map(|port| format!("\"{port}\"")).collect::<Vec<_>>().join(", ");
        for Member { name, id, role, serial, west, east } in &self.members {
            let sides = format!("sides: {{west: [{}], east: [{}]}}", ports(west), ports(east));
            writeln!(
                text,
                "  - {{name: {name}, id: {id}, role: {role}, model: agg-48, serial: PM-{serial:04}, {sides}}}"
            )
            .unwrap();
        }
        if !self.pairs.is_empty() {
            text += "uplink_pairs:\n";
        }
        for Pair { name, legs } in &self.pairs {
            writeln!(text, "  - name: {name}\n    legs:").unwrap();
            for (member, port) in legs {
                writeln!(
                    text,
                    "      - {{member: {member}, port: \"{port}\", far: {{device: far-{member}, port: \"7\"}}}}"
                )
                .unwrap();
            }
        }
        if let Some(guard) = self.guard {
            writeln!(text, "split_guard: {guard}").unwrap();
        }
        text
    }
}

/// The name of a member by its number.
pub fn name(number: usize) -> String {
    format!("mill-{number}")
}

impl Change {
    /// A change that takes no consent.
    pub fn new(name: &str, before: Option<Stack>, after: Stack) -> Self {
        let name = name.to_owned();
        Self { name, before, after, accept: Vec::new(), dead: Vec::new(), temporary_cables: false }
    }

    /// The same change with these consents given.
    pub fn accepting(mut self, consents: &[(&str, usize)]) -> Self {
        self.accept.extend(consents.iter().map(|(kind, number)| format!("{kind}:{}", name(*number))));
        self
    }

    /// The same change where cables of neither state may be plugged for a while.
    pub fn with_temporary_cables(mut self) -> Self {
        self.temporary_cables = true;
        self
    }

    /// The same change where a member of the stack before has failed.
    pub fn with_dead(mut self, number: usize) -> Self {
        self.dead.push(name(number));
        self
    }

    fn yaml(&self) -> String {
        let list = |items: &[String]| items.join(", ");
        let mut text = self.after.yaml();
        text += "change:\n";
        writeln!(
            text,
            "  accept: [{}]",
            self.accept.iter().map(|text| format!("\"{text}\"")).collect::<Vec<_>>().join(", ")
        )
        .unwrap();
        writeln!(text, "  dead: [{}]\n  temporary_cables: {}", list(&self.dead), self.temporary_cables).unwrap();
        text
    }

    /// The change as the planner gets it, on the neutral platform with other habits. A stack that is
    /// larger than the platform takes gets a platform that takes 80.
    pub fn problem(&self, habits: impl Fn(&mut Traits)) -> Problem {
        let mut sources = Sources::default();
        let mut findings = Findings::default();
        let mut read = |text: String| {
            let file = sources.add("intent.yaml", text);
            intent::read(&sources, file, &mut findings).unwrap()
        };
        let after = read(self.yaml());
        let before = self.before.as_ref().map(|before| read(before.yaml()));
        let mut platform = platform::builtin("neutral", after.dialect.span, &mut sources, &mut findings).unwrap();
        let largest = self.before.iter().chain([&self.after]).map(|stack| stack.members.len()).max().unwrap_or(0);
        if largest > 15 {
            platform.traits.member_id.range = (MemberId(1), MemberId(80));
            platform.traits.max_members = 80;
        }
        habits(&mut platform.traits);
        lower(&after, before.as_ref(), &platform, &mut findings).unwrap_or_else(|_| {
            let told = findings.all().iter().map(|found| found.message.clone()).collect::<Vec<_>>();
            panic!("{}: {told:?}", self.name)
        })
    }
}

/// Leaves on each box only those stacking ports in which a cable of either state is, so that a search
/// that tries everything ends. What is done to a port that no cable fits makes and takes no link.
pub fn with_used_ports(mut problem: Problem) -> Problem {
    let cables = problem.baseline.cables.iter().chain(&problem.target.cables);
    let used: BTreeSet<String> = cables.flatten().cloned().collect();
    for unit in &mut problem.units {
        let keep = |port: &PortName| used.contains(&format!("{}:{port}", unit.key));
        let idle: Vec<PortName> = unit.stacking_ports.iter().filter(|port| !keep(port)).cloned().collect();
        unit.stacking_ports.retain(|port| !idle.contains(port));
        let states = [&mut problem.baseline, &mut problem.target];
        for row in states.into_iter().filter_map(|state| state.units.get_mut(&unit.key)) {
            row.running.iter_mut().for_each(|now| now.ports.retain(|port, _| !idle.contains(port)));
            row.saved.iter_mut().for_each(|now| now.ports.retain(|port, _| !idle.contains(port)));
        }
    }
    problem
}

/// The setting of a problem; `actions` are those whose cables it must know beside the two states'.
pub fn setting_with(problem: &Problem, actions: &[Action]) -> Setting {
    let documents = Documents {
        stack: &problem.stack,
        traits: &problem.traits,
        change: &problem.change,
        units: &problem.units,
        baseline: &problem.baseline,
        target: &problem.target,
        actions: &actions.iter().collect::<Vec<_>>(),
    };
    setting(&documents).unwrap_or_else(|faults| panic!("{faults:?}"))
}

/// The plan's document, made from a route.
pub fn document(problem: &Problem, setting: &Setting, route: &plan::Route) -> PlanDocument {
    let inputs = Inputs { intent: String::new(), baseline: None, dialect: String::new() };
    // the cost is that of the way there
    watch::plan(setting, problem, route, watch::Origin { compiler: "test".to_owned(), inputs }, &|_| None)
}
