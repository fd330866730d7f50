//! Random intents: a stack of a paper mill, its baseline where it runs already, and the habits of
//! its platform.

use std::fmt::Write as _;

use ringwright::model::traits::{
    BindingEffect, Criterion, FactoryPorts, IdEffect, Loser, SaveScope, StoredWhen, Traits, Wins,
};
use ringwright::model::{MemberId, Priority};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    NewChain,
    NewRing,
    NewRingOfTwo,
    NewOne,
    AddAtEnd,
    AddAtBeginning,
    AddTwo,
    InsertIntoRing,
    CloseRing,
    FormPairs,
    Together,
}

pub struct Scenario {
    pub intent: String,
    pub baseline: Option<String>,
    pub habits: Habits,
}

/// Traits that differ from neutral's.
#[derive(Clone, Copy, Debug, Default)]
pub struct Habits {
    id_at_once: bool,
    lowest_wins: bool,
    binding_at_once: bool,
    free_binding: bool,
    waits: bool,
    unit_saves: bool,
    ports_off: bool,
    stored_at_once: bool,
    priority_stored: bool,
}

impl Habits {
    pub fn apply(self, traits: &mut Traits) {
        if self.id_at_once {
            traits.member_id.takes_effect = IdEffect::AtOnce;
        }
        if self.lowest_wins {
            traits.priority.wins = Wins::Lowest;
            traits.priority.factory = Priority(100);
            traits.election = vec![Criterion::Priority, Criterion::LowestId];
        }
        if self.binding_at_once {
            traits.binding.takes_effect = BindingEffect::AtOnce;
        }
        if self.free_binding {
            traits.binding.port_disabled = false;
        }
        if self.waits {
            traits.joining.loser = Loser::Waits;
        }
        if self.unit_saves {
            traits.save.scope = SaveScope::Unit;
        }
        if self.ports_off {
            traits.factory_ports = FactoryPorts::Disabled;
        }
        if self.stored_at_once {
            traits.stored.binding = StoredWhen::AtOnce;
        }
        if self.priority_stored {
            traits.stored.priority = StoredWhen::AtOnce;
        }
        traits.member_id.factory = MemberId(1);
    }
}

/// A small generator of numbers (xorshift64*), so that a seed is a case for ever.
struct Dice(u64);

impl Dice {
    fn new(kind: Kind, seed: u64) -> Self {
        Self((seed + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (kind as u64 + 1).wrapping_mul(0xD1B5_4A32_D192_ED03))
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 16
    }

    fn below(&mut self, most: u64) -> u64 {
        self.next() % most
    }

    fn chance(&mut self, percent: u64) -> bool {
        self.below(100) < percent
    }
}

struct Member {
    number: usize,
    id: u64,
    role: &'static str,
}

struct Pair {
    name: String,
    legs: Vec<usize>,
    port: u64,
}

struct Stack {
    members: Vec<Member>,
    ring: bool,
    cables: usize,
    pairs: Vec<Pair>,
    guard: Option<String>,
    serials: bool,
}

impl Stack {
    fn yaml(&self) -> String {
        let mut text = String::new();
        let topology = if self.ring { "ring" } else { "chain" };
        writeln!(text, "format: 1\nstack: mill-core\ndialect: neutral\ntopology: {topology}\nmembers:").unwrap();
        let ports = |first: usize| {
            (0..self.cables).map(|cable| format!("\"{}\"", first + cable)).collect::<Vec<_>>().join(", ")
        };
        for member in &self.members {
            let serial = if self.serials { format!(", serial: PM-{:04}", member.number) } else { String::new() };
            writeln!(
                text,
                "  - {{name: mill-{}, id: {}, role: {}, model: agg-48{serial}, sides: {{west: [{}], east: [{}]}}}}",
                member.number,
                member.id,
                member.role,
                ports(49),
                ports(52)
            )
            .unwrap();
        }
        if !self.pairs.is_empty() {
            writeln!(text, "uplink_pairs:").unwrap();
        }
        for pair in &self.pairs {
            writeln!(text, "  - name: {}\n    legs:", pair.name).unwrap();
            for leg in &pair.legs {
                writeln!(
                    text,
                    "      - {{member: mill-{leg}, port: \"{}\", far: {{device: yard-{leg}, port: \"7\"}}}}",
                    pair.port
                )
                .unwrap();
            }
        }
        if let Some(guard) = &self.guard {
            writeln!(text, "split_guard: {guard}").unwrap();
        }
        text
    }
}

fn habits(dice: &mut Dice, seed: u64) -> Habits {
    if seed.is_multiple_of(2) {
        return Habits::default();
    }
    Habits {
        id_at_once: dice.chance(30),
        lowest_wins: dice.chance(30),
        binding_at_once: dice.chance(30),
        free_binding: dice.chance(30),
        waits: dice.chance(30),
        unit_saves: dice.chance(30),
        ports_off: dice.chance(30),
        stored_at_once: dice.chance(30),
        priority_stored: dice.chance(30),
    }
}

fn stack(dice: &mut Dice, size: usize, ring: bool) -> Stack {
    let mut ids: Vec<u64> = (1..=16).collect();
    if dice.chance(40) {
        for at in (1..ids.len()).rev() {
            ids.swap(at, dice.below(at as u64 + 1) as usize);
        }
    }
    let primary = dice.below(size as u64) as usize;
    let standby = (primary + 1 + dice.below(size.max(2) as u64 - 1) as usize) % size;
    let members = (0..size)
        .map(|at| Member {
            number: at + 1,
            id: ids[at],
            role: if at == primary {
                "primary"
            } else if at == standby && dice.chance(80) {
                "standby"
            } else {
                "member"
            },
        })
        .collect();
    Stack {
        members,
        ring,
        cables: 1 + usize::from(dice.chance(25)),
        pairs: Vec::new(),
        guard: None,
        serials: dice.chance(70),
    }
}

fn with_pair(dice: &mut Dice, stack: &mut Stack, name: &str, among: usize, port: u64) {
    if among < 2 {
        return;
    }
    let first = dice.below(among as u64) as usize;
    let second = (first + 1 + dice.below(among as u64 - 1) as usize) % among;
    let numbers = [stack.members[first].number, stack.members[second].number];
    stack.pairs.push(Pair { name: name.to_owned(), legs: numbers.to_vec(), port });
}

/// The case of a kind and a seed.
pub fn scenario(kind: Kind, seed: u64) -> Scenario {
    let mut dice = Dice::new(kind, seed);
    let habits = habits(&mut dice, seed);
    let most = if dice.chance(15) { 6 } else { 3 };
    let size = 3 + dice.below(most) as usize;
    let new = |stack: Stack| Scenario { intent: stack.yaml(), baseline: None, habits };
    match kind {
        Kind::NewOne => new(stack(&mut dice, 1, false)),
        Kind::NewRingOfTwo => new(stack(&mut dice, 2, true)),
        Kind::NewChain | Kind::NewRing => {
            let size = if kind == Kind::NewChain { size - 1 } else { size };
            let mut after = stack(&mut dice, size, kind == Kind::NewRing);
            if dice.chance(50) {
                with_pair(&mut dice, &mut after, "yard", size, 11);
                after.guard = (dice.chance(50) && !after.pairs.is_empty()).then(|| "yard".to_owned());
            }
            new(after)
        }
        _ => change(kind, &mut dice, habits, size),
    }
}

fn change(kind: Kind, dice: &mut Dice, habits: Habits, size: usize) -> Scenario {
    let ring = matches!(kind, Kind::InsertIntoRing | Kind::CloseRing);
    let ring_before = kind == Kind::InsertIntoRing;
    let mut after = stack(dice, size, ring);
    let added: Vec<usize> = match kind {
        Kind::AddAtEnd => vec![size - 1],
        Kind::AddAtBeginning => vec![0],
        Kind::AddTwo if dice.chance(50) => vec![0, size - 1],
        Kind::AddTwo => vec![size - 2, size - 1],
        Kind::InsertIntoRing => vec![dice.below(size as u64) as usize],
        Kind::Together => vec![size - 1],
        _ => Vec::new(),
    };
    if kind == Kind::Together {
        after.ring = true;
    }
    keep_roles(&mut after, &added);
    let kept: Vec<usize> = (0..size).filter(|at| !added.contains(at)).collect();
    let old = kept
        .iter()
        .map(|at| &after.members[*at])
        .map(|member| Member { number: member.number, id: member.id, role: member.role })
        .collect();
    let mut before = Stack { members: old, ring: ring_before, pairs: Vec::new(), guard: None, ..after };
    if dice.chance(60) {
        let among = before.members.len();
        with_pair(dice, &mut before, "yard", among, 11);
    }
    before.guard = (dice.chance(50) && !before.pairs.is_empty()).then(|| "yard".to_owned());
    let mut pairs: Vec<Pair> = before
        .pairs
        .iter()
        .map(|pair| Pair { name: pair.name.clone(), legs: pair.legs.clone(), port: pair.port })
        .collect();
    if matches!(kind, Kind::FormPairs | Kind::Together) {
        let mut fresh = Stack { members: Vec::new(), pairs: Vec::new(), guard: None, ..after };
        fresh.members = after
            .members
            .iter()
            .map(|member| Member { number: member.number, id: member.id, role: member.role })
            .collect();
        with_pair(dice, &mut fresh, "digester", size, 12);
        pairs.extend(fresh.pairs);
    }
    let guard =
        before.guard.clone().or_else(|| (kind == Kind::FormPairs && dice.chance(60)).then(|| "digester".to_owned()));
    let after = Stack { pairs, guard, ..after };
    Scenario { intent: after.yaml(), baseline: Some(before.yaml()), habits }
}

/// The primary is a member that was there before.
fn keep_roles(stack: &mut Stack, added: &[usize]) {
    for at in added {
        stack.members[*at].role = "member";
    }
    if !stack.members.iter().any(|member| member.role == "primary") {
        let first = (0..stack.members.len()).find(|at| !added.contains(at)).unwrap_or(0);
        stack.members[first].role = "primary";
    }
}
