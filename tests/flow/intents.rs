//! A number -> a case: an intent, the stack as it stands, and the habits of the platform.
//!
//! The kinds take turns, so that every stretch of numbers holds all of them; in every other round the
//! platform has neutral's habits.

use std::collections::BTreeSet;

use ringwright::model::traits::{Topology, Traits};
use ringwright::platform::Platform;

use super::base::{self, Counter, Manner};
use super::dice::Dice;
use super::edits::{EDITS, Edit, Plot};
use super::habits;
use super::stack::{Change, Model, Stack};

/// A kind of change, as the counts name it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    NewChain,
    NewRing,
    NewRingOfTwo,
    NewOne,
    /// These edits of a chain.
    Chain(&'static str, &'static [Edit]),
    /// These edits of a ring.
    Ring(&'static str, &'static [Edit]),
    /// These edits of any stack.
    Either(&'static str, &'static [Edit]),
    /// The same, where temporary cables are allowed.
    WithCable(&'static str, &'static [Edit]),
    /// One to four edits of any stack.
    Any,
}

use Kind::{Any, Chain, Either, NewChain, NewOne, NewRing, NewRingOfTwo, Ring, WithCable};

/// All kinds, in the order in which they take turns.
pub const KINDS: [Kind; 56] = [
    NewChain,
    NewRing,
    NewRingOfTwo,
    NewOne,
    Any,
    Chain("add at the end", &[Edit::AddAtEnd]),
    Chain("add at the beginning", &[Edit::AddAtBeginning]),
    Chain("add at both ends", &[Edit::AddAtBeginning, Edit::AddAtEnd]),
    Chain("add two at the end", &[Edit::AddAtEnd, Edit::AddAtEnd]),
    Any,
    Ring("insert into a ring", &[Edit::Insert]),
    Chain("insert into a chain", &[Edit::Insert]),
    WithCable("insert into a chain with a temporary cable", &[Edit::Insert]),
    Chain("close", &[Edit::Close]),
    Any,
    Chain("add and close", &[Edit::AddAtEnd, Edit::Close, Edit::FormPair]),
    Ring("open", &[Edit::Open]),
    Ring("remove from a ring", &[Edit::RemoveFromRing]),
    Chain("remove from an end", &[Edit::RemoveAtEnd]),
    Any,
    Chain("remove from the middle", &[Edit::RemoveFromMiddle]),
    WithCable("remove from the middle with a temporary cable", &[Edit::RemoveFromMiddle]),
    Either("remove the primary", &[Edit::RemovePrimary]),
    Chain("replace in a chain", &[Edit::Replace]),
    Any,
    Ring("replace in a ring", &[Edit::Replace]),
    WithCable("replace with a temporary cable", &[Edit::Replace]),
    Either("replace the primary", &[Edit::ReplacePrimary]),
    Either("remove a dead member", &[Edit::RemoveDead]),
    Any,
    Either("remove a dead primary", &[Edit::RemoveDeadPrimary]),
    Either("replace a dead member", &[Edit::ReplaceDead]),
    Either("replace a dead primary", &[Edit::ReplaceDeadPrimary]),
    Either("hand the role over", &[Edit::HandOver]),
    Any,
    Either("renumber", &[Edit::Renumber]),
    Either("renumber the primary", &[Edit::RenumberPrimary]),
    Either("swap two ids", &[Edit::SwapIds]),
    Either("move a link", &[Edit::MoveLink]),
    Any,
    Either("add a parallel cable", &[Edit::AddCable]),
    Either("drop a parallel cable", &[Edit::DropCable]),
    Either("form a pair", &[Edit::FormPair]),
    Either("move a pair", &[Edit::MovePair]),
    Any,
    Either("grow or shrink a pair", &[Edit::GrowPair]),
    Either("drop a pair", &[Edit::DropPair]),
    Either("move the guard", &[Edit::Guard]),
    Either("other priorities", &[Edit::Priorities]),
    Any,
    Either("another standby", &[Edit::Standby]),
    Ring("one out and one in", &[Edit::RemoveFromRing, Edit::Insert]),
    Either("replace and move a pair", &[Edit::Replace, Edit::MovePair]),
    Chain("close and insert", &[Edit::Close, Edit::Insert]),
    Any,
    Either("nothing to do", &[Edit::Document]),
];

impl Kind {
    /// Its name in the counts.
    pub fn name(self) -> &'static str {
        match self {
            NewChain => "new chain",
            NewRing => "new ring",
            NewRingOfTwo => "new ring of two",
            NewOne => "new stack of one",
            Chain(name, _) | Ring(name, _) | Either(name, _) | WithCable(name, _) => name,
            Any => "any mixture",
        }
    }
}

/// One case.
pub struct Case {
    pub number: u64,
    pub kind: Kind,
    pub traits: Traits,
    /// The edits that made it.
    pub edits: Vec<Edit>,
    pub after: Stack,
    pub change: Change,
    pub baseline: Option<String>,
    /// The platform that it is on; neutral with the case's traits if none is named.
    pub platform: Option<Platform>,
}

/// Whether the case of a number has the traits that it is asked with.
pub fn is_plain(number: u64) -> bool {
    (number / KINDS.len() as u64).is_multiple_of(2)
}

impl Case {
    /// The intent, with these consents; `cable`: a temporary cable is allowed, whatever the case says.
    pub fn intent(&self, accept: &[String], cable: bool) -> String {
        let temporary_cables = self.change.temporary_cables || cable;
        let text = self.after.yaml(Some(&Change { temporary_cables, ..self.change.clone() }), accept);
        if self.traits.join_keys.is_empty() { text } else { with_keys(&text, self.baseline.as_deref()) }
    }
}

/// From this number on the platforms have wider habits too.
pub const WIDE: u64 = 1_000_000;

/// An intent with what all members must have, and with what newcomers have instead of it.
fn with_keys(text: &str, baseline: Option<&str>) -> String {
    let is_new = |line: &str| {
        let name = line.strip_prefix("  - {name: ").and_then(|rest| rest.split(',').next());
        name.is_some_and(|name| baseline.is_some_and(|old| !old.contains(&format!("name: {name},"))))
    };
    let line = |line: &str| match line {
        _ if line.starts_with("topology:") => format!("{line}\nkeys: {{firmware: \"4.2\"}}\n"),
        _ if is_new(line) => format!("{}, keys: {{firmware: \"4.0\"}}}}\n", line.strip_suffix('}').unwrap_or(line)),
        _ => format!("{line}\n"),
    };
    text.lines().map(line).collect()
}

/// The case of a number.
pub fn case(number: u64, neutral: &Traits) -> Case {
    let kind = KINDS[(number % KINDS.len() as u64) as usize];
    let mut dice = Dice::new(number);
    let plain = is_plain(number);
    let drawn = |dice: &mut Dice| {
        let mut traits = if plain { neutral.clone() } else { habits::odd(dice, neutral) };
        if number >= WIDE {
            habits::wide(dice, &mut traits);
        }
        traits
    };
    let mut traits = drawn(&mut dice);
    let mut case = loop {
        let made = match kind {
            NewChain | NewRing | NewRingOfTwo | NewOne => Some(new(kind, &mut dice, &traits)),
            Chain(_, edits) => changed(&mut dice, &traits, Shape { ring: Some(false), cable: false }, edits),
            Ring(_, edits) => changed(&mut dice, &traits, Shape { ring: Some(true), cable: false }, edits),
            Either(_, edits) => changed(&mut dice, &traits, Shape { ring: None, cable: false }, edits),
            WithCable(_, edits) => changed(&mut dice, &traits, Shape { ring: Some(false), cable: true }, edits),
            Any => any(&mut dice, &traits),
        };
        match made {
            Some(case) => break case,
            // the stack had no place for the edits: another one; and where no stack has, habits that allow it
            None if !plain || number >= WIDE => traits = drawn(&mut dice),
            None => {}
        }
    };
    if !plain && case.before_ring() == case.after.ring && dice.chance(25) {
        traits.topologies = vec![if case.after.ring { Topology::Ring } else { Topology::Chain }];
    }
    if !traits.join_keys.is_empty() {
        case.baseline = case.baseline.map(|text| with_keys(&text, None));
    }
    (case.number, case.kind, case.traits) = (number, kind, traits);
    case
}

impl Case {
    fn before_ring(&self) -> bool {
        self.baseline.as_ref().map_or(self.after.ring, |text| text.contains("topology: ring"))
    }
}

/// How many members; up to eight, mostly few.
fn size(dice: &mut Dice, least: usize, most: usize) -> usize {
    let usual = if dice.chance(20) { most } else { 5.min(most) };
    least + dice.below(usual - least + 1)
}

fn new(kind: Kind, dice: &mut Dice, traits: &Traits) -> Case {
    let manner = Manner::any(dice, traits);
    let mut counter = Counter::default();
    let shape = match kind {
        NewOne => (1, false),
        NewRingOfTwo => (2, true),
        NewRing => (size(dice, 3, 8), true),
        _ => (size(dice, 2, 8), false),
    };
    let mut after = base::stack(dice, traits, &manner, &mut counter, shape);
    base::add_uplinks(dice, &mut after);
    let change = Change { after_check: dice.chance(30), ..Change::default() };
    Case { number: 0, kind, traits: traits.clone(), edits: Vec::new(), after, change, baseline: None, platform: None }
}

/// What the stack is like before.
#[derive(Clone, Copy)]
struct Shape {
    ring: Option<bool>,
    /// Whether temporary cables are allowed.
    cable: bool,
}

fn plot<'a>(dice: &'a mut Dice, traits: &'a Traits, shape: Shape) -> Plot<'a> {
    let mut manner = Manner::any(dice, traits);
    let ring = shape.ring.unwrap_or_else(|| dice.chance(50));
    let cable = shape.cable || (shape.ring.is_none() && dice.chance(30));
    if cable && manner.model == Model::Unsaid {
        // without a model nothing says that there are ports for it
        manner.model = Model::Agg;
    }
    let mut counter = Counter::default();
    let least = if dice.chance(50) { 3 } else { 1 + usize::from(ring) };
    let size = size(dice, least, 8);
    let mut before = base::stack(dice, traits, &manner, &mut counter, (size, ring));
    base::add_uplinks(dice, &mut before);
    base::disable_some(dice, &mut before);
    let change = Change { after_check: dice.chance(30), temporary_cables: cable, dead: BTreeSet::new() };
    let after = before.clone();
    Plot { dice, traits, manner, counter, before, after, change, touched: BTreeSet::new() }
}

fn changed(dice: &mut Dice, traits: &Traits, shape: Shape, edits: &[Edit]) -> Option<Case> {
    let mut plot = plot(dice, traits, shape);
    let done = edits.iter().all(|edit| plot.attempt(*edit));
    done.then(|| finish(plot, edits.to_vec())).flatten()
}

/// Edits that few stacks have a place for.
const SELDOM: [Edit; 4] = [Edit::RemoveAtEnd, Edit::RemoveFromMiddle, Edit::RemoveFromRing, Edit::DropCable];

/// A random stack, and one to four edits that it has a place for.
fn any(dice: &mut Dice, traits: &Traits) -> Option<Case> {
    let mut plot = plot(dice, traits, Shape { ring: None, cable: false });
    let wanted = plot.dice.pick(&[1, 2, 2, 3, 3, 4]);
    let mut done = Vec::new();
    for _ in 0..30 {
        let edit = if plot.dice.chance(25) { plot.dice.pick(&SELDOM) } else { plot.dice.pick(&EDITS) };
        if done.len() < wanted && plot.attempt(edit) {
            done.push(edit);
        }
    }
    (done.len() == wanted).then(|| finish(plot, done)).flatten()
}

fn finish(mut plot: Plot<'_>, edits: Vec<Edit>) -> Option<Case> {
    // what the edits do to ports is only said where the sides are written
    let ports = |edit: &Edit| matches!(edit, Edit::MoveLink | Edit::AddCable | Edit::DropCable);
    if edits.iter().any(ports) {
        (plot.before.sides, plot.after.sides) = (true, true);
    }
    if !plot.mend() {
        return None;
    }
    if plot.dice.chance(60) {
        plot.after.members.iter_mut().for_each(|member| member.disabled.clear());
    }
    Some(Case {
        number: 0,
        kind: Any,
        traits: plot.traits.clone(),
        edits,
        after: plot.after,
        change: plot.change,
        baseline: Some(plot.before.yaml(None, &[])),
        platform: None,
    })
}
