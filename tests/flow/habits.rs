//! The habits of a platform: neutral's, or every trait at any of its values.

use ringwright::model::traits::{
    ActivationScope, Admission, BindingEffect, ConsoleAfterJoin, Criterion, Differs, Election, Estimate, Facing,
    FactoryPorts, Handover, IdEffect, JoinKey, KeyEffect, Loser, PriorityEffect, SaveScope, SeenOn, StackMac,
    StackMode, StandbySeat, Stored, StoredWhen, Traits, Wins,
};
use ringwright::model::{MemberId, Minutes, Priority};

use serde_json::Value;

use super::dice::Dice;

/// Traits of which about a third differ from neutral's.
pub fn odd(dice: &mut Dice, neutral: &Traits) -> Traits {
    let mut traits = neutral.clone();
    numbers(dice, &mut traits);
    if dice.chance(50) {
        traits.election = Election::both(election(dice));
    }
    traits.stored = Stored { id: stored(dice), priority: stored(dice), binding: stored(dice) };
    if dice.chance(35) {
        traits.sides.facing = Facing::Any;
    }
    if dice.chance(50) {
        traits.sides.max_cables = dice.pick(&[1, 2, 3]);
    }
    if dice.chance(20) {
        (traits.sides.names.west, traits.sides.names.east) = ("lower side".to_owned(), "upper side".to_owned());
    }
    if dice.chance(35) {
        traits.factory_ports = FactoryPorts::Disabled;
    }
    if dice.chance(35) {
        traits.binding.port_disabled = false;
    }
    traits.binding.takes_effect = dice.pick(&[
        BindingEffect::AtOnce,
        BindingEffect::OnActivation,
        BindingEffect::OnActivation,
        BindingEffect::AfterRestart,
    ]);
    if dice.chance(35) {
        traits.joining.loser = Loser::Waits;
    }
    if dice.chance(35) {
        traits.save.scope = SaveScope::Unit;
    }
    if dice.chance(50) {
        traits.neighbours.seen_on =
            [SeenOn::Stray, SeenOn::Unmatched, SeenOn::Stack].into_iter().filter(|_| dice.chance(50)).collect();
    }
    if dice.chance(50) {
        minutes(dice, &mut traits);
    }
    if dice.chance(20) {
        traits.port_name = "{{ member_id }}/0/{{ port }}".to_owned();
    }
    traits
}

/// Wider habits on top of others: each of them in about a quarter of the cases, but for fixed ports.
pub fn wide(dice: &mut Dice, traits: &mut Traits) {
    if dice.chance(30) {
        let mut merge = traits.election.boot.clone();
        merge.insert(0, dice.pick(&[Criterion::Acting, Criterion::Size]));
        traits.election.merge = merge;
    }
    if dice.chance(15) {
        for list in [&mut traits.election.boot, &mut traits.election.merge] {
            list.iter_mut().filter(|one| **one == Criterion::LowestMac).for_each(|one| *one = Criterion::HighestMac);
        }
    }
    traits.joining.preempts = dice.chance(25);
    if dice.chance(25) {
        traits.joining.loser = Loser::Absorbed;
    }
    if dice.chance(30) {
        traits.activate.scope = ActivationScope::Unit;
    }
    traits.activate.restarts = dice.chance(15);
    if dice.chance(30) {
        traits.standby = StandbySeat::Sticky;
    }
    if dice.chance(25) {
        traits.priority.takes_effect = PriorityEffect::NextElection;
    }
    traits.handover = dice.pick(&[Handover::None, Handover::None, Handover::OldRestarts, Handover::KeepsRunning]);
    traits.admission = dice.pick(&[Admission::Open, Admission::Open, Admission::Id, Admission::Serial]);
    if dice.chance(30) {
        let takes_effect = dice.pick(&[KeyEffect::AtOnce, KeyEffect::AfterRestart]);
        let differs = dice.pick(&[Differs::Refused, Differs::Updates, Differs::Joins]);
        traits.join_keys = vec![JoinKey { name: "firmware".to_owned(), takes_effect, differs }];
    }
    if dice.chance(20) {
        traits.stack_mode = StackMode::Switched;
    }
    if dice.chance(8) {
        traits.binding.takes_effect = BindingEffect::Fixed;
    }
    traits.stack_mac = dice.pick(&[StackMac::Stays, StackMac::Moves]);
    traits.console_after_join = dice.pick(&[ConsoleAfterJoin::Own, ConsoleAfterJoin::Primary, ConsoleAfterJoin::Mute]);
}

/// What the cases of wider habits must hold between them.
pub const WIDE_VALUES: &[&str] = &[
    "election.merge.0=acting",
    "election.merge.0=size",
    "joining.preempts=true",
    "joining.loser=absorbed",
    "activate.scope=unit",
    "activate.restarts=true",
    "standby=sticky",
    "priority.takes_effect=next-election",
    "handover=old-restarts",
    "handover=keeps-running",
    "admission=id",
    "admission=serial",
    "join_keys.0.differs=refused",
    "join_keys.0.differs=updates",
    "join_keys.0.differs=joins",
    "stack_mode=switched",
    "binding.takes_effect=fixed",
    "stack_mac=moves",
    "console_after_join=primary",
    "console_after_join=mute",
];

fn numbers(dice: &mut Dice, traits: &mut Traits) {
    if dice.chance(50) {
        let (low, high, factory) =
            dice.pick(&[(1, 16, 16), (0, 15, 0), (1, 9, 1), (1, 12, 5), (1, 31, 2), (1, 64, 1), (0, 9, 1), (1, 8, 1)]);
        traits.member_id.range = (MemberId(low), MemberId(high));
        traits.member_id.factory = MemberId(factory);
        traits.max_members = dice.pick(&[8, 9, 16, 64]);
    }
    if dice.chance(35) {
        traits.member_id.takes_effect = IdEffect::AtOnce;
    }
    if dice.chance(40) {
        traits.priority.wins = Wins::Lowest;
        traits.priority.factory = Priority(100);
    }
    if dice.chance(50) {
        let (low, high, factory) = dice.pick(&[
            (0, 255, 128),
            (1, 255, 100),
            (1, 16, 1),
            (1, 16, 16),
            (0, 32768, 32768),
            (1, 100, 50),
            (0, 15, 0),
        ]);
        traits.priority.range = (Priority(low), Priority(high));
        traits.priority.factory = Priority(factory);
    }
}

/// Any order of some criteria that decides after a power failure, when all have been up as long; mostly one
/// in which the priority comes first.
fn election(dice: &mut Dice) -> Vec<Criterion> {
    let mut all = [Criterion::Priority, Criterion::Uptime, Criterion::LowestMac, Criterion::LowestId];
    loop {
        dice.shuffle(&mut all);
        let order = &all[..1 + dice.below(4)];
        let decides = order != [Criterion::Uptime];
        if decides && (order[0] == Criterion::Priority || dice.chance(15)) {
            return order.to_vec();
        }
    }
}

fn stored(dice: &mut Dice) -> StoredWhen {
    if dice.chance(40) { StoredWhen::AtOnce } else { StoredWhen::WithSave }
}

fn minutes(dice: &mut Dice, traits: &mut Traits) {
    let table = &mut traits.minutes;
    for (estimate, most) in [
        (&mut table.restart, 1500),
        (&mut table.sync, 900),
        (&mut table.command, 60),
        (&mut table.cable, 500),
        (&mut table.power, 400),
        (&mut table.save, 200),
        (&mut table.activate, 200),
        (&mut table.check, 100),
    ] {
        let likely = dice.between(0, most);
        let best = dice.chance(50).then(|| dice.between(0, likely));
        let hundredths = |value: u32| Minutes::hundredths(i64::from(value));
        *estimate = Estimate {
            best: best.map(hundredths),
            likely: hundredths(likely),
            worst: hundredths(likely + dice.between(0, most)),
        };
    }
}

/// What differs from neutral's, as a manifest would write it.
pub fn told(traits: &Traits, neutral: &Traits) -> String {
    let (ours, theirs) = (serde_json::to_value(traits).unwrap(), serde_json::to_value(neutral).unwrap());
    let differs = ours.as_object().unwrap().iter().filter(|(name, value)| theirs.get(name) != Some(value));
    let lines: Vec<String> = differs.map(|(name, value)| format!("  {name}: {value}")).collect();
    if lines.is_empty() { "neutral's".to_owned() } else { format!("platform:\n{}", lines.join("\n")) }
}

/// What the cases must hold between them.
pub const VALUES: &[&str] = &[
    "member_id.takes_effect=at-once",
    "member_id.takes_effect=after-restart",
    "priority.wins=highest",
    "priority.wins=lowest",
    "election.0=priority",
    "election.0=uptime",
    "election.0=lowest-mac",
    "election.0=lowest-id",
    "election.3=uptime",
    "stored.id=at-once",
    "stored.id=with-save",
    "stored.priority=at-once",
    "stored.priority=with-save",
    "stored.binding=at-once",
    "stored.binding=with-save",
    "sides.facing=opposite",
    "sides.facing=any",
    "sides.max_cables=1",
    "sides.max_cables=2",
    "sides.max_cables=3",
    "sides.max_cables=4",
    "factory_ports=enabled",
    "factory_ports=disabled",
    "binding.port_disabled=true",
    "binding.port_disabled=false",
    "binding.takes_effect=at-once",
    "binding.takes_effect=on-activation",
    "binding.takes_effect=after-restart",
    "joining.loser=restarts",
    "joining.loser=waits",
    "save.scope=unit",
    "save.scope=stack",
    "neighbours.seen_on=",
    "neighbours.seen_on.0=stray",
    "neighbours.seen_on.0=unmatched",
    "neighbours.seen_on.0=stack",
    "topologies.0=ring",
    "topologies.1=ring",
    "max_members=8",
];

/// Every value that a platform has, with its place in the manifest.
pub fn values(traits: &Traits) -> Vec<String> {
    let mut found = Vec::new();
    let mut todo = vec![(String::new(), serde_json::to_value(traits).unwrap())];
    while let Some((place, value)) = todo.pop() {
        let inner = |name: &str| if place.is_empty() { name.to_owned() } else { format!("{place}.{name}") };
        match value {
            Value::Object(entries) => todo.extend(entries.into_iter().map(|(name, value)| (inner(&name), value))),
            Value::Array(entries) if !entries.is_empty() => {
                todo.extend(entries.into_iter().enumerate().map(|(at, value)| (inner(&at.to_string()), value)));
            }
            Value::Array(_) => found.push(format!("{place}=")),
            Value::String(text) => found.push(format!("{place}={text}")),
            Value::Null | Value::Bool(_) | Value::Number(_) => found.push(format!("{place}={value}")),
        }
    }
    found
}

/// Whether a platform may have both: they are not of one trait, nor of one list.
pub fn can_meet(one: &str, other: &str) -> bool {
    let place = |value: &str| value.split('=').next().unwrap_or_default().to_owned();
    let list = |value: &str| {
        let name = value.split(['.', '=']).next().unwrap_or_default();
        ["election", "neighbours", "topologies"].contains(&name).then(|| name.to_owned())
    };
    place(one) != place(other) && (list(one).is_none() || list(one) != list(other))
}
