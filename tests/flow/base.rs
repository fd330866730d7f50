//! A random stack as it stands, before anything is changed.

use std::collections::BTreeSet;

use ringwright::model::document::Role;
use ringwright::model::traits::{Admission, Traits};

use super::dice::Dice;
use super::roles;
use super::stack::{Member, Model, Pair, Stack};

/// The names of uplink pairs.
pub const PAIRS: [&str; 3] = ["yard", "digester", "gate"];

/// Hands out numbers that no box has had.
#[derive(Debug, Default)]
pub struct Counter(pub u32);

/// The address of a box: known by its number, in no order.
pub fn address(number: u32) -> u32 {
    (number * 37 + 11) % 256
}

impl Counter {
    pub fn next(&mut self) -> u32 {
        self.0 += 1;
        self.0
    }
}

/// What is known of the members, and how they are written.
#[derive(Clone, Copy, Debug)]
pub struct Manner {
    pub model: Model,
    /// Whether members have serials, and addresses.
    pub serials: bool,
    pub macs: bool,
    /// Whether priorities are written out.
    pub priorities: bool,
    pub sides: bool,
    /// Whether ports are given out in any order.
    pub mixed: bool,
    pub cables: u32,
}

impl Manner {
    pub fn any(dice: &mut Dice, traits: &Traits) -> Self {
        let model = dice.pick(&[Model::Agg, Model::Agg, Model::Agg, Model::Agg, Model::Edge, Model::Unsaid]);
        let sides = model == Model::Unsaid || dice.chance(80);
        let room = if model == Model::Edge { 2 } else { 3 };
        let most = room.min(u32::from(traits.sides.max_cables));
        let cables = if sides && dice.chance(25) { dice.between(1, most) } else { 1 };
        let mixed = sides && dice.chance(20);
        let (serials, macs, priorities) = (dice.chance(70), dice.chance(50), dice.chance(40));
        // a stack that is told of serials must know them
        let serials = serials || traits.admission == Admission::Serial;
        Self { model, serials, macs, priorities, sides, mixed, cables }
    }

    /// A box that no stack has had.
    pub fn fresh(&self, dice: &mut Dice, counter: &mut Counter, id: u32) -> Member {
        let number = counter.next();
        let mut pool: Vec<u32> = self.model.pool().collect();
        let half = pool.len() / 2;
        if self.mixed {
            dice.shuffle(&mut pool);
        }
        let cables = self.cables as usize;
        Member {
            number,
            id,
            role: Role::Member,
            priority: None,
            mac: self.macs.then(|| address(number)),
            serial: self.serials.then_some(number),
            west: pool[..cables].to_vec(),
            east: pool[half..half + cables].to_vec(),
            disabled: BTreeSet::new(),
        }
    }
}

/// An id that none of these has, if there is one.
pub fn free_id(dice: &mut Dice, traits: &Traits, taken: &[u32]) -> Option<u32> {
    let (low, high) = (u32::from(traits.member_id.range.0.0), u32::from(traits.member_id.range.1.0));
    let free: Vec<u32> = (low..=high).filter(|id| !taken.contains(id)).collect();
    dice.any(&free)
}

/// A stack of this many members.
pub fn stack(
    dice: &mut Dice,
    traits: &Traits,
    manner: &Manner,
    counter: &mut Counter,
    (size, ring): (usize, bool),
) -> Stack {
    let first = u32::from(traits.member_id.range.0.0);
    let mut ids: Vec<u32> = (first.max(1)..=u32::from(traits.member_id.range.1.0)).collect();
    if dice.chance(40) {
        ids.insert(0, first);
        ids.dedup();
        dice.shuffle(&mut ids);
    }
    let mut members: Vec<Member> = ids[..size].iter().map(|id| manner.fresh(dice, counter, *id)).collect();
    let primary = dice.below(size);
    members[primary].role = Role::Primary;
    if size > 1 && dice.chance(70) {
        members[(primary + 1 + dice.below(size - 1)) % size].role = Role::Standby;
    }
    let labels = manner.sides && dice.chance(20);
    let mut stack =
        Stack { model: manner.model, members, ring, pairs: Vec::new(), guard: None, sides: manner.sides, labels };
    if manner.priorities {
        roles::write_all(&mut stack, traits, dice);
    }
    roles::settle(&mut stack, traits, dice, &mut || address(counter.next()));
    if manner.sides && dice.chance(20) {
        one_link_differs(dice, traits, &mut stack);
    }
    stack
}

/// Takes a parallel cable from one link, or gives it one.
fn one_link_differs(dice: &mut Dice, traits: &Traits, stack: &mut Stack) {
    let Some((from, to)) = dice.any(&stack.links()) else { return };
    if dice.chance(50) && stack.members[from].east.len() > 1 {
        stack.members[from].east.pop();
        stack.members[to].west.pop();
    } else {
        add_cable(dice, traits, stack, (from, to));
    }
}

/// One more cable between two neighbours, if there are ports for it.
pub fn add_cable(dice: &mut Dice, traits: &Traits, stack: &mut Stack, (from, to): (usize, usize)) -> bool {
    if stack.members[from].east.len() >= usize::from(traits.sides.max_cables) {
        return false;
    }
    let (Some(east), Some(west)) = (free_port(dice, stack, from), free_port(dice, stack, to)) else { return false };
    stack.members[from].east.push(east);
    stack.members[to].west.push(west);
    true
}

/// A port of this member that can stack and that nothing names.
pub fn free_port(dice: &mut Dice, stack: &Stack, at: usize) -> Option<u32> {
    let named = stack.named(stack.members[at].number);
    let free: Vec<u32> = stack.model.pool().filter(|port| !named.contains(port)).collect();
    dice.any(&free)
}

/// One more uplink pair over these members, if there are enough.
pub fn add_pair(dice: &mut Dice, stack: &mut Stack, among: &[u32]) -> bool {
    let used: Vec<&str> = stack.pairs.iter().map(|pair| pair.name).collect();
    let Some(name) = PAIRS.into_iter().find(|name| !used.contains(name)) else { return false };
    let mut order = among.to_vec();
    dice.shuffle(&mut order);
    if order.len() < 2 {
        return false;
    }
    order.truncate(if dice.chance(30) { 3 } else { 2 });
    stack.pairs.push(Pair { name, legs: Vec::new() });
    for number in order {
        add_leg(dice, stack, stack.pairs.len() - 1, number);
    }
    true
}

/// One more leg of a pair, seldom on a port that could stack.
pub fn add_leg(dice: &mut Dice, stack: &mut Stack, pair: usize, number: u32) {
    let stacking = stack.sides && dice.chance(6);
    let spare = stack.at(number).filter(|_| stacking).and_then(|at| free_port(dice, stack, at));
    let named = stack.named(number);
    let port = spare.or_else(|| (11..=18).find(|port| !named.contains(port))).unwrap();
    stack.pairs[pair].legs.push((number, port));
}

/// Up to two uplink pairs, and the guard over one of them.
pub fn add_uplinks(dice: &mut Dice, stack: &mut Stack) {
    let numbers: Vec<u32> = stack.members.iter().map(|member| member.number).collect();
    for _ in 0..dice.pick(&[0, 1, 1, 1, 2]) {
        add_pair(dice, stack, &numbers);
    }
    if dice.chance(50) {
        let names: Vec<&'static str> = stack.pairs.iter().map(|pair| pair.name).collect();
        stack.guard = dice.any(&names);
    }
}

/// Takes some ports that nothing uses out of use.
pub fn disable_some(dice: &mut Dice, stack: &mut Stack) {
    if !stack.sides {
        return;
    }
    for at in 0..stack.members.len() {
        let cabled = stack.cabled(stack.members[at].number);
        let idle = stack.model.pool().filter(|port| !cabled.contains(port));
        stack.members[at].disabled = idle.filter(|_| dice.chance(40)).collect();
    }
}
