//! An operation of the change -> what is looked at after it, or just before a restart, and what to do if it is
//! not so.

use crate::model::derive::{Islands, Link, link, primaries};
use crate::model::document::{Fact, LinkKind};
use crate::model::election::standby;
use crate::model::facts::is_ready;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{CableId, UnitId, UnitSet};

use super::looks;

/// A look at the stack.
pub struct Seen {
    /// What must be so.
    pub facts: Vec<Fact>,
    /// Its stable name.
    pub code: &'static str,
    /// What it is for.
    pub text: String,
    /// What to do if it is not so.
    pub otherwise: String,
}

/// Units have come into the stack, for the first time or again; another one may lead since.
#[must_use]
pub fn after_join(setting: &Setting, before: &Situation, now: &Situation, joined: UnitSet) -> Option<Seen> {
    let leader = |situation: &Situation| primaries(&situation.state, situation.incumbent(setting)).first();
    let mut facts: Vec<Fact> = Vec::new();
    let new_leader = leader(now).filter(|unit| leader(before) != Some(*unit) && !joined.contains(*unit));
    facts.extend(new_leader.iter().flat_map(|unit| looks::member(setting, now, *unit, false)));
    for fact in joined.iter().flat_map(|unit| looks::joined(setting, now, unit)) {
        if !facts.contains(&fact) {
            facts.push(fact);
        }
    }
    let text = match new_leader {
        Some(unit) => format!("{} leads now, and everybody is back in the stack", setting.units[unit].key),
        None => "the unit is in the stack as the plan says".to_owned(),
    };
    let otherwise = "do not go on: leave cables and power as they are, and find out what the unit says of itself";
    Some(Seen { facts, code: "joined", text, otherwise: otherwise.to_owned() })
}

/// A unit was switched off: nobody else is missing, and the pairs carry as they shall.
#[must_use]
pub fn after_power_off(setting: &Setting, now: &Situation, unit: UnitId) -> Option<Seen> {
    if now.incumbent(setting).is_empty() {
        return None;
    }
    let pairs = now.state.running.pairs.iter().map(|pair| looks::pair_as_it_is(setting, now, pair));
    // the guard is seen at the stack alone, so that the look is read there
    let guard = now.state.running.guard.map(|pair| setting.uplinks[pair].name.clone());
    let facts = pairs.chain([Fact::Guard { uplink: guard }]).collect();
    let text = format!("{} is out, and nobody else is", setting.units[unit].key);
    let otherwise = "if another unit is missing, switch that one on again at once, and do not go on";
    Some(Seen { facts, code: "taken-out", text, otherwise: otherwise.to_owned() })
}

/// A link came up, or a working one was unplugged: it is that one and no other.
#[must_use]
pub fn after_links(setting: &Setting, before: &Situation, now: &Situation, operation: Operation) -> Option<Seen> {
    let is_up = |situation: &Situation, cable: CableId| link(setting, &situation.state, cable) == Link::Stack;
    let inside = |cable: &CableId| {
        let island = now.incumbent(setting);
        setting.cables[*cable].unit_ends().all(|port| island.contains(setting.unit_of(port)))
    };
    let fact = |cable: CableId, is: LinkKind| {
        // the first end is the one that is read
        let island = now.incumbent(setting);
        let mut ends: Vec<_> = setting.cables[cable].unit_ends().collect();
        ends.sort_by_key(|port| !island.contains(setting.unit_of(*port)));
        let ends = ends.iter().map(|port| setting.end_name(*port)).collect::<Vec<_>>();
        Fact::Link { ends: <[String; 2]>::try_from(ends).unwrap_or_else(|_| setting.cable_names(cable)), is }
    };
    if let Operation::Disconnect(cable) = operation
        && is_up(before, cable)
        && setting.cables[cable].unit_ends().any(|port| now.incumbent(setting).contains(setting.unit_of(port)))
    {
        return Some(Seen {
            facts: vec![fact(cable, LinkKind::None)],
            code: "unplugged",
            text: "it was the right cable that was unplugged: one more link gone would split the stack".to_owned(),
            otherwise: "plug back at once what was unplugged, and do not go on".to_owned(),
        });
    }
    let fresh = now.state.plugged.iter().filter(|cable| is_up(now, *cable) && !is_up(before, *cable)).filter(inside);
    let facts: Vec<Fact> = fresh.map(|cable| fact(cable, LinkKind::Stack)).collect();
    (!facts.is_empty()).then(|| Seen {
        facts,
        code: "link-up",
        text: "the link works before anything counts on it".to_owned(),
        otherwise: "do not go on: look for light at both ends of the cable, and at the plugs".to_owned(),
    })
}

/// What is looked at before a live unit restarts: its numbers, and who takes over.
#[must_use]
pub fn before_restart(setting: &Setting, now: &Situation, unit: UnitId) -> Vec<Fact> {
    let row = &now.state.units[unit];
    let labelled = |unit: UnitId| looks::member(setting, now, unit, false);
    let mut facts = labelled(unit);
    if let Some(Fact::Unit { saved_id, .. }) = facts.first_mut() {
        *saved_id = Some(row.saved_id);
    }
    if !row.primary {
        return facts;
    }
    // it may lead a piece of its own
    let island = Islands::of(setting, &now.state).around(unit);
    if let Some(next) = standby(setting, &now.state, island) {
        let mut second = labelled(next);
        if let Some(Fact::Unit { ready, .. }) = second.first_mut() {
            *ready = is_ready(setting, now, next).then_some(true);
        }
        facts.extend(second);
    }
    facts
}
