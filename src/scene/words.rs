//! Units, ports and links in a situation -> the words that a picture and a sentence use for them.

use crate::model::derive::{Islands, Link, link, lit, protected};
use crate::model::document::{Role, Side, Status};
use crate::model::facts::{is_saved, role_of};
use crate::model::names::Minutes;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, LegId, PortId, UnitId, UnitSet, UplinkId};

use super::line::{Tone, counted, list};

/// The platform's word for a side; none for no side.
#[must_use]
pub fn side(setting: &Setting, side: Side) -> Option<&str> {
    let names = &setting.traits.sides.names;
    match side {
        Side::None => None,
        Side::West => Some(&names.west),
        Side::East => Some(&names.east),
    }
}

/// A port with its side, and what keeps it from working.
#[must_use]
pub fn port(setting: &Setting, state: &State, port: PortId) -> String {
    let (row, now) = (&setting.ports[port], state.ports[port]);
    if !state.units[row.unit].powered {
        return format!("port {}", row.name);
    }
    let mut said = vec![side(setting, now.side()).unwrap_or("no side").to_owned()];
    if now.side() != Side::None && !now.active() {
        said.push("not in force".to_owned());
    }
    if !now.enabled() {
        said.push("out of use".to_owned());
    }
    format!("port {} ({})", row.name, said.join(", "))
}

/// What a cable between two units is, in words.
#[must_use]
pub fn link_words(setting: &Setting, state: &State, cable: CableId) -> (Tone, &'static str) {
    if !state.plugged.contains(cable) {
        return (Tone::Quiet, "no cable");
    }
    match link(setting, state, cable) {
        Link::Stack => (Tone::Good, "stack link"),
        Link::Unmatched => (Tone::Care, "lit, but carries nothing"),
        Link::Stray => (Tone::Bad, "stray: plain Ethernet, outside the stack"),
        Link::Dark | Link::Far => (Tone::Care, "plugged, but dark"),
    }
}

/// What a cable was before a step changed it, in few words.
#[must_use]
pub fn link_was(setting: &Setting, state: &State, cable: CableId) -> &'static str {
    if !state.plugged.contains(cable) {
        return "was not plugged";
    }
    match link(setting, state, cable) {
        Link::Stack => "was a stack link",
        Link::Unmatched => "was only lit",
        Link::Stray => "was stray",
        Link::Dark | Link::Far => "was dark",
    }
}

/// What a unit is in a situation: its place in its island.
#[must_use]
pub fn role(setting: &Setting, situation: &Situation, unit: UnitId) -> (Tone, &'static str) {
    let row = &situation.state.units[unit];
    if !row.powered {
        return (Tone::Quiet, "switched off");
    }
    if row.waiting {
        return (Tone::Care, "waiting");
    }
    let island = Islands::of(setting, &situation.state).around(unit);
    if situation.incumbent(setting).contains(unit) {
        return match role_of(setting, situation, unit) {
            Some(Role::Primary) => (Tone::Strong, "primary"),
            Some(Role::Standby) => (Tone::Plain, "standby"),
            Some(Role::Member) | None => (Tone::Plain, "member"),
        };
    }
    match (island.len(), row.primary) {
        (1, _) => (Tone::Plain, "on its own"),
        (_, true) => (Tone::Care, "apart, leads"),
        (_, false) => (Tone::Care, "apart"),
    }
}

/// Whether a word for a role is one of a unit in the stack.
#[must_use]
pub fn is_in_stack(role: &str) -> bool {
    matches!(role, "primary" | "standby" | "member")
}

/// What else is to be said of a unit.
#[must_use]
pub fn marks(setting: &Setting, situation: &Situation, unit: UnitId) -> Vec<String> {
    let (row, is) = (&situation.state.units[unit], &setting.units[unit]);
    let mut marks = Vec::new();
    if row.waiting {
        marks.push("waits for a restart by hand".to_owned());
    }
    if row.powered && row.id != row.saved_id {
        marks.push(format!("id {} after a restart", row.saved_id));
    } else if row.powered && !is_saved(setting, situation, unit) {
        marks.push("not saved".to_owned());
    }
    if setting.dead.contains(unit) {
        marks.push("has failed".to_owned());
    } else if setting.leaving.contains(unit) {
        marks.push("leaves".to_owned());
    } else if is.status == Status::Joining && !situation.memory.live.contains(unit) {
        marks.push("new".to_owned());
    }
    marks
}

/// The id that a unit acts on, or boots with while it is off; none where the plan does not say.
#[must_use]
pub fn id(state: &State, unit: UnitId) -> Option<String> {
    let row = &state.units[unit];
    match (row.powered, row.bootable) {
        (true, _) => Some(row.id.to_string()),
        (false, true) => Some(row.saved_id.to_string()),
        (false, false) => None,
    }
}

/// The same of its priority.
#[must_use]
pub fn priority(state: &State, unit: UnitId) -> Option<String> {
    let row = &state.units[unit];
    match (row.powered, row.bootable) {
        (true, _) => Some(row.priority.to_string()),
        (false, true) => Some(row.saved_priority.to_string()),
        (false, false) => None,
    }
}

/// The unit that leads the stack.
#[must_use]
pub fn leader(setting: &Setting, situation: &Situation) -> Option<UnitId> {
    let island = situation.incumbent(setting);
    island.iter().find(|unit| situation.state.units[*unit].primary)
}

/// How many units the stack has and who leads it.
#[must_use]
pub fn stack(setting: &Setting, situation: &Situation) -> String {
    match leader(setting, situation) {
        Some(leader) => {
            let units = counted(situation.incumbent(setting).len(), "unit");
            format!("{}: {units}, {} leads", setting.stack, setting.units[leader].key)
        }
        None => setting.stack.clone(),
    }
}

/// Whether one broken link would split the units in service.
#[must_use]
pub fn protection(setting: &Setting, situation: &Situation) -> (Tone, String) {
    let live = situation.memory.live;
    let apart = live.minus(situation.incumbent(setting));
    match live.len() {
        0 => (Tone::Quiet, "no unit is in service yet".to_owned()),
        1 => (Tone::Plain, "one unit alone: no link that could fail".to_owned()),
        _ if !apart.is_empty() => {
            let away = counted(apart.len(), "unit");
            (Tone::Bad, format!("not whole: {away} of the stack out of it ({})", setting.keys(apart).join(", ")))
        }
        _ if protected(setting, &situation.state, live) => (Tone::Good, "protected: one link may fail".to_owned()),
        _ => (Tone::Care, "not protected: one broken link splits the stack".to_owned()),
    }
}

/// Each uplink pair that is formed or cabled, with its legs.
#[must_use]
pub fn uplinks(setting: &Setting, situation: &Situation) -> Vec<(Tone, String)> {
    let said = setting.uplinks.ids().filter_map(|uplink| {
        let legs: Vec<(Tone, String)> =
            setting.uplinks[uplink].legs.iter().filter_map(|leg| leg_words(setting, situation, uplink, leg)).collect();
        let formed = situation.state.running.pairs.contains(uplink);
        if legs.is_empty() && !formed {
            return None;
        }
        let tone = if legs.iter().all(|(tone, _)| *tone == Tone::Good) { Tone::Good } else { Tone::Care };
        let carrying = legs.iter().filter(|(tone, _)| *tone == Tone::Good).map(|(_, text)| text.clone());
        let carrying = match carrying.collect::<Vec<_>>() {
            none if none.is_empty() => "carries over no leg".to_owned(),
            some => format!("carries over {}", list(&some)),
        };
        let others = legs.iter().filter(|(tone, _)| *tone != Tone::Good).map(|(_, text)| format!("; {text}"));
        let guard = if situation.state.running.guard == Some(uplink) { " (split guard)" } else { "" };
        let formed = if formed { "" } else { " is not formed and" };
        let name = &setting.uplinks[uplink].name;
        Some((tone, format!("uplink {name}{guard}{formed} {carrying}{}", others.collect::<String>())))
    });
    said.collect()
}

/// One leg: carrying or why not. None for one that is neither formed nor cabled.
fn leg_words(setting: &Setting, situation: &Situation, uplink: UplinkId, leg: LegId) -> Option<(Tone, String)> {
    let state = &situation.state;
    let row = &setting.legs[leg];
    let name = row.name.split_once(':').map_or(row.name.clone(), |(member, port)| format!("{member} port {port}"));
    let cable = row.ports.iter().find_map(|port| {
        let far = CableRow::Far(uplink, *port);
        let cables = &setting.ports[*port].cables;
        cables.iter().copied().find(|cable| setting.cables[*cable] == far && state.plugged.contains(*cable))
    });
    let formed = state.running.legs.contains(leg);
    let (tone, how) = match (formed, cable) {
        (true, _) if situation.carries(setting, leg) => (Tone::Good, ""),
        (true, None) => (Tone::Care, "does not carry: no cable"),
        (true, Some(cable)) if !lit(setting, state, cable) => (Tone::Care, "does not carry: dark"),
        (true, Some(_)) => (Tone::Care, "does not carry: not in the stack"),
        (false, Some(_)) => (Tone::Care, "is cabled, but no leg of it"),
        (false, None) => return None,
    };
    Some((tone, format!("{name} {how}").trim_end().to_owned()))
}

/// The units that a cable joins.
#[must_use]
pub fn cable_units(setting: &Setting, cable: CableId) -> UnitSet {
    setting.cables[cable].unit_ends().map(|port| setting.unit_of(port)).collect()
}

/// Minutes as people say them.
#[must_use]
pub fn minutes(minutes: Minutes) -> String {
    if minutes == Minutes::hundredths(100) { "1 minute".to_owned() } else { format!("{minutes} minutes") }
}
