//! Makes the roles of a random stack those that its elections give, so that the intent is right.

use std::cmp::Ordering;

use ringwright::lower::priorities::derived;
use ringwright::model::document::Role;
use ringwright::model::traits::{Criterion, Traits, Wins};
use ringwright::model::{MemberId, Priority};

use super::dice::Dice;
use super::stack::{Member, Stack};

/// Whether the priority alone can give the primary's role to any member.
pub fn led_by_priority(traits: &Traits) -> bool {
    traits.election.boot.iter().find(|criterion| **criterion != Criterion::Uptime) == Some(&Criterion::Priority)
}

/// The priority that a member acts on, if one is written or can be derived.
pub fn priority(member: &Member, traits: &Traits) -> Option<u32> {
    let given = || derived(member.role, MemberId(member.id as u16), traits).map(|priority| priority.0);
    member.priority.or_else(given)
}

/// Whether one wins over the other after a power failure, where uptime says nothing.
fn against(one: &Member, other: &Member, traits: &Traits) -> Ordering {
    let weight = |member: &Member| {
        let value = i64::from(priority(member, traits).unwrap_or(0));
        match traits.priority.wins {
            Wins::Highest => -value,
            Wins::Lowest => value,
        }
    };
    // an unknown address loses to a known one, and ties with another unknown one
    let address = |member: &Member| member.mac.unwrap_or(u32::MAX);
    let order = traits.election.boot.iter().map(|criterion| match criterion {
        Criterion::Priority => weight(one).cmp(&weight(other)),
        // all start together and alone
        Criterion::Uptime | Criterion::Acting | Criterion::Size => Ordering::Equal,
        Criterion::HighestMac => member_mac(one).cmp(&member_mac(other)).reverse(),
        Criterion::LowestMac => address(one).cmp(&address(other)),
        Criterion::LowestId => one.id.cmp(&other.id),
    });
    order.fold(Ordering::Equal, Ordering::then)
}

/// An unknown address loses here too.
fn member_mac(member: &Member) -> u32 {
    member.mac.map_or(0, |mac| mac + 1)
}

/// The member that wins over all others, if the election is decided.
fn winner(stack: &Stack, among: &[usize], traits: &Traits) -> Option<usize> {
    let beats = |at: usize, other: usize| against(&stack.members[at], &stack.members[other], traits).is_lt();
    among.iter().copied().find(|at| among.iter().all(|other| other == at || beats(*at, *other)))
}

/// Mends the roles or, where the priority decides, the priorities; `fresh` hands out unused addresses.
pub fn settle(stack: &mut Stack, traits: &Traits, dice: &mut Dice, fresh: &mut dyn FnMut() -> u32) {
    for _ in 0..4 {
        if stack.members.iter().any(|member| priority(member, traits).is_none()) {
            write_all(stack, traits, dice);
        }
        let all: Vec<usize> = (0..stack.members.len()).collect();
        let primary = stack.primary();
        match winner(stack, &all, traits) {
            Some(found) if found == primary => return settle_standby(stack, traits),
            Some(_) | None if led_by_priority(traits) => write_all(stack, traits, dice),
            Some(found) => {
                stack.members[primary].role = Role::Member;
                stack.members[found].role = Role::Primary;
            }
            None => {
                // only addresses can tell them apart
                stack.members.iter_mut().for_each(|member| member.mac = Some(member.mac.unwrap_or_else(&mut *fresh)));
            }
        }
    }
}

/// A standby that others would win over is an ordinary member.
fn settle_standby(stack: &mut Stack, traits: &Traits) {
    let Some(standby) = stack.members.iter().position(|member| member.role == Role::Standby) else { return };
    let loses = |other: &Member| other.role == Role::Member && against(&stack.members[standby], other, traits).is_gt();
    if stack.members.iter().any(loses) {
        stack.members[standby].role = Role::Member;
    }
}

/// Writes a priority for every member: different ones, the best for the primary, the next for the standby.
pub fn write_all(stack: &mut Stack, traits: &Traits, dice: &mut Dice) {
    let mut values = distinct(stack.members.len(), traits, dice);
    values.sort_unstable();
    match traits.priority.wins {
        Wins::Highest => values.reverse(),
        Wins::Lowest => {}
    }
    let mut order: Vec<usize> = (0..stack.members.len()).collect();
    dice.shuffle(&mut order);
    order.sort_by_key(|at| match stack.members[*at].role {
        Role::Primary => 0,
        Role::Standby => 1,
        Role::Member => 2,
    });
    for (at, value) in order.into_iter().zip(values) {
        stack.members[at].priority = Some(value);
    }
}

fn distinct(count: usize, traits: &Traits, dice: &mut Dice) -> Vec<u32> {
    let (Priority(low), Priority(high)) = traits.priority.range;
    let mut values = Vec::new();
    while values.len() < count {
        let value = dice.between(low, high);
        if !values.contains(&value) {
            values.push(value);
        }
    }
    values
}
