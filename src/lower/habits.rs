//! What wider habits add to the states before and after a change: things that must be equal, modes, whom the stack was
//! told of, fixed sides, the standby's seat; and what an intent may not say of them.
//!
//! What nobody wrote of a box is taken to be as the whole stack has it, and the first look at it asks whether that is so.

use std::collections::BTreeMap;

use super::layout::{Layout, Placed};
use super::units::{Boxes, OneBox};
use crate::diag::{Code, Diagnostic, Findings};
use crate::intent::{Intent, Member};
use crate::model::derive::{Islands, primaries};
use crate::model::document::{Admitted, Role, SharedPair, Side, StateDocument, UnitEntry, UnitState};
use crate::model::election::{Ballot, able, elect};
use crate::model::naming::{Documents, document, setting};
use crate::model::traits::{Admission, BindingEffect, Mode, StackMode, StandbySeat, Traits};
use crate::model::{MemberId, PortName};
use crate::platform::Platform;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&NO_SUCH_HABIT, &LONE_MEMBER, &SERIAL_NEEDED, &GROUP_IN_USE, &FIXED_SIDE];

/// The intent speaks of something that the platform does not have.
pub(super) const NO_SUCH_HABIT: Code = Code {
    name: "no-such-habit",
    explanation: "`keys:` holds what must be equal on all members, by the names that the dialect gives under `join_keys`; \
`lone: true` tells of a switch that is not in stack mode, which only a platform with `stack_mode: switched` has.",
};
/// A member of the stack that shall be is said to stand alone.
pub(super) const LONE_MEMBER: Code = Code {
    name: "lone-member",
    explanation: "`lone: true` tells of one switch that is not in stack mode. A stack that shall be has no such member: once \
the change is done, it is in stack mode.",
};
/// The stack is told of newcomers by their serials, and one is not known.
pub(super) const SERIAL_NEEDED: Code = Code {
    name: "serial-needed",
    explanation: "On this platform the stack lets a unit in only if it was told of its serial. So each member's serial must \
be known, of those that are there already too.",
};
/// A port group stacks and carries something else.
pub(super) const GROUP_IN_USE: Code = Code {
    name: "group-in-use",
    explanation: "Ports of one group can only change to stacking together. Where one of them is bound to a side, the others \
are out of Ethernet service: none of them may carry a leg of an uplink pair or stand under `in_use`.",
};

/// A dedicated port would change its side.
pub(super) const FIXED_SIDE: Code = Code {
    name: "fixed-side",
    explanation: "On this platform the stacking ports are dedicated: each belongs to one side of its unit for good, and nothing \
that is typed moves it. An intent cannot have it on the other side than the stack as it stands.",
};

/// An intent and its layout.
pub(super) type Laid<'a> = (&'a Intent, &'a Layout);

/// What an intent is of a change.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// The stack as it stands.
    Before,
    /// The stack that shall be, where one stands.
    After,
    /// The stack that shall be, where none stands.
    New,
}

/// What an intent says of habits that its platform does not have, and what they ask for.
pub(super) fn check((intent, layout): Laid<'_>, part: Part, platform: &Platform, findings: &mut Findings) {
    let traits = &platform.traits;
    let known = |key: &str| traits.join_keys.iter().any(|row| row.name == key);
    let names = || traits.join_keys.iter().map(|row| row.name.as_str());
    let written = intent.keys.iter().chain(intent.members.iter().flat_map(|member| &member.keys));
    for (key, value) in written.filter(|(key, _)| !known(key)) {
        let message = format!("`{key}` is nothing that must be equal on this platform");
        let diagnostic = Diagnostic::error(&NO_SUCH_HABIT, value.span, message);
        findings.error(diagnostic.help_nearest(key, names(), "leave it out, or add it to the dialect's `join_keys`"));
    }
    for (member, placed) in intent.members.iter().zip(&layout.members) {
        if let Some(lone) = member.lone.as_ref().filter(|lone| lone.value) {
            if traits.stack_mode == StackMode::Always {
                let message = "this platform has no unit out of stack mode".to_owned();
                findings.error(Diagnostic::error(&NO_SUCH_HABIT, lone.span, message).help("leave `lone:` out"));
            } else if part == Part::After || intent.members.len() > 1 {
                let message = format!("{} shall be in the stack, and is said to stand alone", placed.name);
                let help = "say so in the intent of the stack as it stands, and leave it out here";
                findings.error(Diagnostic::error(&LONE_MEMBER, lone.span, message).help(help));
            }
        }
        if traits.admission == Admission::Serial && placed.serial.is_none() {
            let message = format!("the serial of {} is not known, and the stack lets nobody in without", placed.name);
            findings.error(Diagnostic::error(&SERIAL_NEEDED, placed.place, message).help("add `serial:`"));
        }
        if part != Part::Before {
            group_in_use(member, placed, platform, findings);
        }
    }
}

fn group_in_use(member: &Member, placed: &Placed, platform: &Platform, findings: &mut Findings) {
    for group in groups(placed, platform) {
        let Some(bound) = group.iter().find(|port| placed.bound.contains_key(*port)) else { continue };
        let listed = member.in_use.iter().find(|port| group.contains(&port.value));
        let leg = group.iter().find(|port| placed.legs.contains(*port));
        let fault = listed.map(|port| (port.span, port.value.clone(), "carries something else"));
        let fault = fault.or_else(|| leg.map(|port| (placed.place, port.clone(), "carries a leg of an uplink pair")));
        if let Some((span, port, why)) = fault {
            let message =
                format!("port `{bound}` of {} shall stack, and port `{port}` of its group {why}", placed.name);
            findings.error(Diagnostic::error(&GROUP_IN_USE, span, message).help("take a port of another group"));
        }
    }
}

fn groups(placed: &Placed, platform: &Platform) -> Vec<Vec<PortName>> {
    platform.model(placed.model.as_deref()).map(|model| model.port_groups.clone()).unwrap_or_default()
}

/// Port groups and ports in use, by unit.
pub(super) fn describe(boxes: &Boxes, intents: [Option<&Intent>; 2], platform: &Platform, entries: &mut [UnitEntry]) {
    for (unit, entry) in boxes.all.iter().zip(entries) {
        let Some(placed) = unit.new_member().or_else(|| unit.old_member()) else { continue };
        let listed = |port: &PortName| unit.ports.contains(port);
        let held = groups(placed, platform).into_iter().map(|group| group.into_iter().filter(listed).collect());
        entry.port_groups = held.filter(|group: &Vec<PortName>| group.len() > 1).collect();
        let member = intents.into_iter().flatten().find_map(|intent| intent.member(&placed.name));
        entry.in_use = member.into_iter().flat_map(|member| &member.in_use).map(|port| port.value.clone()).collect();
    }
}

/// Adds to the state before the change.
pub(super) fn before(boxes: &Boxes, old: Option<Laid<'_>>, new: Laid<'_>, traits: &Traits, built: &mut StateDocument) {
    let common = common_keys(old, new);
    for unit in &boxes.all {
        let Some(state) = built.units.get_mut(&unit.key) else { continue };
        let was = unit.old_member().and_then(|placed| old.and_then(|(intent, _)| intent.member(&placed.name)));
        let is = unit.new_member().and_then(|placed| new.0.member(&placed.name));
        let lone = traits.stack_mode == StackMode::Switched
            && was.map_or(unit.old_member().is_none(), |member| member.lone.as_ref().is_some_and(|lone| lone.value));
        let older = was.map(own_keys).unwrap_or_default();
        let own = is.map(own_keys).unwrap_or_default().into_iter().chain(older);
        let keys = common.clone().into_iter().chain(own).collect();
        put(state, &keys, if lone { Mode::Lone } else { Mode::Stack });
        fix_sides(unit, traits, state);
    }
    // the first unit of a new stack is on its own list
    let first = new.1.members.iter().filter(|placed| placed.role == Role::Primary).cloned().collect::<Vec<_>>();
    let members = old.map_or(first.as_slice(), |(_, layout)| layout.members.as_slice());
    tell(members, traits, &mut built.shared);
}

/// Adds to the state after the change.
pub(super) fn after(boxes: &Boxes, old: Option<Laid<'_>>, new: Laid<'_>, traits: &Traits, target: &mut StateDocument) {
    let common = common_keys(old, new);
    for unit in boxes.all.iter().filter(|unit| unit.new_member().is_some()) {
        let Some(state) = target.units.get_mut(&unit.key) else { continue };
        let member = unit.new_member().and_then(|placed| new.0.member(&placed.name));
        let lone = traits.stack_mode == StackMode::Switched
            && old.is_none()
            && member.is_some_and(|member| member.lone.as_ref().is_some_and(|lone| lone.value));
        put(state, &common, if lone { Mode::Lone } else { Mode::Stack });
        fix_sides(unit, traits, state);
    }
    tell(&new.1.members, traits, &mut target.shared);
}

type Keys = BTreeMap<String, String>;

/// What all members have after the change: what is not written again is as it was.
fn common_keys(old: Option<Laid<'_>>, new: Laid<'_>) -> Keys {
    let of = |intent: &Intent| intent.keys.iter().map(|(key, value)| (key.clone(), value.to_string())).collect();
    let mut all: Keys = old.map(|(intent, _)| of(intent)).unwrap_or_default();
    let newer: Keys = of(new.0);
    all.extend(newer);
    all
}

fn own_keys(member: &Member) -> Keys {
    member.keys.iter().map(|(key, value)| (key.clone(), value.to_string())).collect()
}

fn put(state: &mut UnitState, keys: &Keys, mode: Mode) {
    if let Some(saved) = &mut state.saved {
        (saved.keys, saved.mode) = (keys.clone(), mode);
    }
    if let Some(running) = &mut state.running {
        (running.keys, running.mode) = (keys.clone(), mode);
    }
}

/// Dedicated ports: each on the side that is written for it, before the change or after it; the others by halves, the
/// first of them west. A port that carries an uplink or something else, before or after, is not one of them.
fn fix_sides(unit: &OneBox<'_>, traits: &Traits, state: &mut UnitState) {
    if traits.binding.takes_effect != BindingEffect::Fixed {
        return;
    }
    let known: Vec<&Placed> = unit.old_member().into_iter().chain(unit.new_member()).collect();
    let can_stack = |port: &&PortName| known.iter().any(|placed| placed.stacking.contains(port));
    let stacking: Vec<&PortName> = unit.ports.iter().filter(can_stack).collect();
    let carries =
        |port: &PortName| known.iter().any(|placed| placed.legs.contains(port) || placed.in_use.contains(port));
    for (position, port) in stacking.iter().enumerate().filter(|(_, port)| !carries(port)) {
        let half = if position * 2 < stacking.len() { Side::West } else { Side::East };
        let side = known.iter().find_map(|placed| written_side(placed, port)).unwrap_or(half);
        if let Some(saved) = state.saved.as_mut().and_then(|settings| settings.ports.get_mut(*port)) {
            (saved.side, saved.enabled) = (side, true);
        }
        if let Some(settings) = &mut state.running {
            // nothing is in force on a unit that stands alone
            let active = settings.mode == Mode::Stack;
            if let Some(running) = settings.ports.get_mut(*port) {
                (running.side, running.enabled, running.active) = (side, true, active);
            }
        }
    }
}

fn written_side(placed: &Placed, port: &PortName) -> Option<Side> {
    let sides = [(&placed.west, Side::West), (&placed.east, Side::East)];
    sides.into_iter().find(|(ports, _)| ports.contains(port)).map(|(_, side)| side)
}

/// A dedicated port that shall be on the other side than it is.
pub(super) fn fixed_sides(old: &Layout, new: Laid<'_>, traits: &Traits, findings: &mut Findings) {
    if traits.binding.takes_effect != BindingEffect::Fixed {
        return;
    }
    for placed in &new.1.members {
        let Some(was) = old.member(&placed.name).filter(|was| was.serial == placed.serial) else { continue };
        let moves = |port: &&PortName| {
            let before = written_side(was, port);
            before.is_some() && before != written_side(placed, port)
        };
        if let Some(port) = placed.west.iter().chain(&placed.east).find(moves) {
            let message = format!("port `{port}` of {} is on the other side, and the ports are fixed", placed.name);
            findings.error(Diagnostic::error(&FIXED_SIDE, placed.place, message).help("leave it on its side"));
        }
    }
}

/// Whom the stack was told of: all its members.
fn tell(members: &[Placed], traits: &Traits, shared: &mut SharedPair) {
    let ticket = |placed: &Placed| match traits.admission {
        Admission::Open => None,
        Admission::Id => Some(Admitted::Id(MemberId(placed.id.0))),
        Admission::Serial => placed.serial.clone().map(Admitted::Serial),
    };
    let mut told: Vec<Admitted> = members.iter().filter_map(ticket).collect();
    told.sort();
    let told = (traits.admission != Admission::Open).then_some(told);
    (shared.running.admitted, shared.saved.admitted) = (told.clone(), told);
}

/// Gives each standby its seat, where seats are kept: as the election has it, since nobody wrote who got it when.
pub(super) fn seated(documents: &Documents<'_>, base: StateDocument) -> StateDocument {
    if documents.traits.standby != StandbySeat::Sticky {
        return base;
    }
    let Ok(setting) = setting(&Documents { baseline: &base, ..*documents }) else { return base };
    let mut now = setting.baseline.clone();
    for island in Islands::of(&setting, &now).iter().filter(|island| !primaries(&setting.baseline, *island).is_empty())
    {
        let elected = elect(&setting, &now, Ballot::Seat, able(&now, island));
        if let Some(elected) = elected.filter(|elected| elected.decided) {
            now.units[elected.winner].standby = true;
        }
    }
    StateDocument { units: document(&setting, &now).units, ..base }
}
