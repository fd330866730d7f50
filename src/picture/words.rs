//! Units, ports and links in a situation -> the words that every picture and sentence uses for them.

use crate::model::derive::{Islands, Link, link, lit, primaries, protected};
use crate::model::document::{Side, Status};
use crate::model::election::standby;
use crate::model::facts::is_saved_but_for_id;
use crate::model::names::{Minutes, list};
use crate::model::operation::far_cable_of;
use crate::model::progress::{Situation, leg_carries};
use crate::model::setting::Setting;
use crate::model::state::State;
use crate::model::table::{CableId, LegId, PortId, UnitId, UnitSet, UplinkId};

/// The mark of a unit that would not come back as it runs.
pub const UNSAVED: &str = "not saved";
/// How the mark ends of a unit that would boot with another id than it acts on.
pub const AFTER_RESTART: &str = " after a restart";

/// How a piece of text is meant. It only repeats what the words say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// As any text.
    Plain,
    /// A heading, or what the eye should find first.
    Strong,
    /// Works.
    Good,
    /// Deserves a look.
    Care,
    /// Does not work, or must not be.
    Bad,
    /// Stays in the background.
    Quiet,
}

/// A situation with what follows from it, worked out once.
pub struct Now<'a> {
    /// What the indices mean.
    pub setting: &'a Setting,
    /// The situation.
    pub situation: &'a Situation,
    /// The powered units, island by island.
    pub islands: Islands,
    /// The island of the stack in service.
    pub incumbent: UnitSet,
    /// Who would take over there.
    standby: Option<UnitId>,
}

impl<'a> Now<'a> {
    /// Works it out.
    #[must_use]
    pub fn of(setting: &'a Setting, situation: &'a Situation) -> Self {
        let islands = Islands::of(setting, &situation.state);
        let incumbent = situation.incumbent_among(setting, &situation.state, &islands);
        let standby = standby(setting, &situation.state, incumbent);
        Self { setting, situation, islands, incumbent, standby }
    }

    /// The unit that leads the stack.
    #[must_use]
    pub fn leader(&self) -> Option<UnitId> {
        primaries(&self.situation.state, self.incumbent).first()
    }

    /// Whether a formed leg carries.
    #[must_use]
    pub fn carries(&self, leg: LegId) -> bool {
        let state = &self.situation.state;
        leg_carries(self.setting, state, self.incumbent, state.running.legs, leg)
    }
}

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

/// A port in few words: its name, its side, and what keeps it from working.
#[must_use]
pub fn port_in_short(setting: &Setting, state: &State, port: PortId) -> String {
    let (row, now) = (&setting.ports[port], state.ports[port]);
    if !state.units[row.unit].powered {
        return row.name.to_string();
    }
    let side = side(setting, now.side()).map_or(", no side".to_owned(), |side| format!(" {side}"));
    let idle = if now.side() != Side::None && !now.active() { ", not in force" } else { "" };
    let unused = if now.enabled() { "" } else { ", out of use" };
    format!("{}{side}{idle}{unused}", row.name)
}

/// What a cable between two units is, in few words.
#[must_use]
pub fn link_in_short(setting: &Setting, state: &State, cable: CableId) -> &'static str {
    if !state.plugged.contains(cable) {
        return "no cable";
    }
    match link(setting, state, cable) {
        Link::Stack => "stack link",
        Link::Unmatched => "lit, carries nothing",
        Link::Stray => "stray",
        Link::Dark | Link::Far => "dark",
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
pub fn role(now: &Now<'_>, unit: UnitId) -> (Tone, &'static str) {
    let row = &now.situation.state.units[unit];
    if !row.powered {
        return (Tone::Quiet, "switched off");
    }
    if row.waiting {
        return (Tone::Care, "waiting");
    }
    if now.incumbent.contains(unit) {
        return match (row.primary, now.standby == Some(unit)) {
            (true, _) => (Tone::Strong, "primary"),
            (false, true) => (Tone::Plain, "standby"),
            (false, false) => (Tone::Plain, "member"),
        };
    }
    match (now.islands.around(unit).len(), row.primary) {
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
    if row.powered && !is_saved_but_for_id(setting, situation, unit) {
        marks.push(UNSAVED.to_owned());
    }
    if row.powered && row.id != row.saved_id {
        marks.push(format!("id {}{AFTER_RESTART}", row.saved_id));
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
    primaries(&situation.state, situation.incumbent(setting)).first()
}

/// How many units the stack has and who leads it; none where there is no stack.
#[must_use]
pub fn stack(now: &Now<'_>) -> Option<String> {
    let units = counted(now.incumbent.len(), "unit");
    now.leader().map(|leader| format!("{units}, {} leads", now.setting.units[leader].key))
}

/// Whether one broken link would split the units in service.
#[must_use]
pub fn protection(now: &Now<'_>) -> (Tone, String) {
    let live = now.situation.memory.live;
    let apart = live.minus(now.incumbent);
    match live.len() {
        0 => (Tone::Quiet, "no unit is in service yet".to_owned()),
        1 => (Tone::Plain, "one unit alone: no link that could fail".to_owned()),
        _ if !apart.is_empty() => {
            let away = counted(apart.len(), "unit");
            (Tone::Bad, format!("not whole: {away} of the stack out of it ({})", now.setting.keys(apart).join(", ")))
        }
        _ if protected(now.setting, &now.situation.state, live) => {
            (Tone::Good, "protected: one link may fail".to_owned())
        }
        _ => (Tone::Care, "not protected: one broken link splits the stack".to_owned()),
    }
}

/// Each uplink pair that is formed or cabled, with its legs.
#[must_use]
pub fn uplinks(now: &Now<'_>) -> Vec<(Tone, String)> {
    let (setting, running) = (now.setting, &now.situation.state.running);
    let said = setting.uplinks.ids().filter_map(|uplink| {
        let legs: Vec<(Tone, String)> =
            setting.uplinks[uplink].legs.iter().filter_map(|leg| leg_words(now, uplink, leg)).collect();
        let formed = running.pairs.contains(uplink);
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
        let guard = if running.guard == Some(uplink) { " (split guard)" } else { "" };
        let formed = if formed { "" } else { " is not formed and" };
        let name = &setting.uplinks[uplink].name;
        Some((tone, format!("uplink {name}{guard}{formed} {carrying}{}", others.collect::<String>())))
    });
    said.collect()
}

/// One leg: carrying or why not. None for one that is neither formed nor cabled.
fn leg_words(now: &Now<'_>, uplink: UplinkId, leg: LegId) -> Option<(Tone, String)> {
    let state = &now.situation.state;
    let row = &now.setting.legs[leg];
    let name = row.name.split_once(':').map_or(row.name.clone(), |(member, port)| format!("{member} port {port}"));
    let cable = row.ports.iter().find_map(|port| far_cable(now.setting, state, uplink, *port));
    let (formed, carries) = (state.running.legs.contains(leg), now.carries(leg));
    let (tone, how) = match (formed, cable) {
        (true, _) if carries => (Tone::Good, ""),
        (true, None) => (Tone::Care, "does not carry: no cable"),
        (true, Some(cable)) if !lit(now.setting, state, cable) => (Tone::Care, "does not carry: dark"),
        (true, Some(_)) => (Tone::Care, "does not carry: not in the stack"),
        (false, Some(_)) => (Tone::Care, "is cabled, but no leg of it"),
        (false, None) => return None,
    };
    Some((tone, format!("{name} {how}").trim_end().to_owned()))
}

/// The cable that is plugged between a port and the far end of a pair.
#[must_use]
pub fn far_cable(setting: &Setting, state: &State, uplink: UplinkId, port: PortId) -> Option<CableId> {
    far_cable_of(setting, port, uplink).filter(|cable| state.plugged.contains(*cable))
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

/// "1 unit", "2 units".
#[must_use]
pub fn counted(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}
