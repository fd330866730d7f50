//! Breaches and refusals in words: what was found, for whom.

use crate::model::derive::{Islands, primaries};
use crate::model::operation::Refusal;
use crate::model::progress::Situation;
use crate::model::rules::{Breach, Rule, Subject};
use crate::model::setting::Setting;
use crate::model::settle::cold_start;
use crate::model::table::UnitSet;

/// A breach as a sentence.
#[must_use]
pub fn breach(setting: &Setting, breach: &Breach) -> String {
    let whom = subject(setting, breach.subject);
    let text = match breach.rule {
        Rule::PrimaryKept => "the stack's primary is no longer the one it was, and no consent names another".to_owned(),
        Rule::NoLiveRestart => format!("{whom} is live and goes down"),
        Rule::NeverSplit => format!("{whom} is live and no longer in the stack"),
        Rule::NoIdClash => format!("two units of one stack have the id of {whom}"),
        Rule::NoStrayLink => format!("{whom} bridges two boxes as plain Ethernet"),
        Rule::UplinksUp => format!("{whom} has no leg left that carries and was seen to carry"),
        Rule::OneBrain => format!("{whom} leads a second stack with the addresses of the first"),
        Rule::Decided => "an election has no winner by the election order".to_owned(),
        Rule::ColdStart if breach.subject == Subject::Stack => {
            "the stack would come back under another primary".to_owned()
        }
        Rule::ColdStart => format!("{whom} would not be in the stack"),
        Rule::Settled => format!("{whom} has joined and was not yet found ready"),
        Rule::LosesMerge => format!("{whom} does not lose its merge by priority or id"),
        Rule::SameKeys => format!("{whom} is in the stack and differs from the primary in what must be equal"),
        Rule::GroupFree => format!("a group of ports of {whom} stacks and carries something else"),
        Rule::ReachesTarget => format!("at the end, {whom} is not as the target says"),
    };
    if breach.cold { format!("after a power failure now: {text}") } else { text }
}

fn subject(setting: &Setting, subject: Subject) -> String {
    match subject {
        Subject::Stack => "the stack".to_owned(),
        Subject::Unit(unit) => setting.units[unit].key.clone(),
        Subject::Cable(cable) => format!("the cable {}", setting.cable_names(cable).join(" - ")),
        Subject::Uplink(uplink) => format!("uplink pair {}", setting.uplinks[uplink].name),
        Subject::Piece(1) => "a piece that was cut off".to_owned(),
        Subject::Piece(_) => "one more piece that was cut off".to_owned(),
    }
}

/// A refusal as a sentence.
#[must_use]
pub fn refusal(setting: &Setting, refusal: Refusal) -> String {
    let key = |unit| &setting.units[unit].key;
    let cable = |cable| setting.cable_names(cable).join(" - ");
    let pair = |uplink| &setting.uplinks[uplink].name;
    match refusal {
        Refusal::NotPowered(unit) => format!("{} is off", key(unit)),
        Refusal::Powered(unit) => format!("{} is on already", key(unit)),
        Refusal::CannotBoot(unit) => format!("{} has failed or has nothing to boot with", key(unit)),
        Refusal::NotAlone(unit) => format!("{} must be alone and without cables", key(unit)),
        Refusal::IllegalId(id) => format!("{id} is no legal member id"),
        Refusal::IllegalPriority(priority) => format!("{priority} is no legal priority"),
        Refusal::NotDisabled(port) => format!("port {} must be out of use first", setting.end_name(port)),
        Refusal::Bound(port) => format!("port {} is bound to a side", setting.end_name(port)),
        Refusal::NotBound(port) => format!("port {} is bound to no side", setting.end_name(port)),
        Refusal::CarriesLeg(port) => format!("port {} carries a leg of an uplink pair", setting.end_name(port)),
        Refusal::SideFull(port) => {
            format!("the side that {} should go to holds all the cables it may", setting.end_name(port))
        }
        Refusal::NoActivation => "bindings of this platform are not activated by a command".to_owned(),
        Refusal::NoHandover => "the lead of this platform is not handed over by a command".to_owned(),
        Refusal::Leads(unit) => format!("{} leads already", key(unit)),
        Refusal::Lone(unit) => format!("{} stands alone and is not in stack mode", key(unit)),
        Refusal::InStack(unit) => format!("{} is not alone", key(unit)),
        Refusal::FixedPorts => "the stacking ports of this platform are always bound".to_owned(),
        Refusal::NoSuchHabit => "this platform has no such command".to_owned(),
        Refusal::NoStack => "no stack is there to be told".to_owned(),
        Refusal::StillInside(unit) => format!("{} is in the stack", key(unit)),
        Refusal::NotInside(unit) => format!("{} is not a working member of the stack", key(unit)),
        Refusal::EndTaken(id) => format!("an end of {} holds a cable already", cable(id)),
        Refusal::NotPlugged(id) => format!("{} is not plugged", cable(id)),
        Refusal::OutsideStack(leg) => format!("the member of leg {} is not in the stack", setting.legs[leg].name),
        Refusal::NoPair(uplink) => format!("uplink pair {} is not formed", pair(uplink)),
        Refusal::OtherLegs(uplink) => format!("uplink pair {} stands with other legs", pair(uplink)),
        Refusal::Guarded(uplink) => format!("uplink pair {} carries the split guard", pair(uplink)),
    }
}

/// What a power failure now would leave: every powered unit boots with all others, from what it saved.
#[must_use]
pub fn power_failure(setting: &Setting, situation: &Situation) -> String {
    let (state, events, islands) = cold_start(setting, &situation.state);
    let names = |units: UnitSet| setting.keys(units).join(", ");
    if !events.clash.is_empty() {
        return format!("after a power failure {} would meet under one id", names(events.clash));
    }
    let now = Islands::of(setting, &situation.state);
    let same = |island: UnitSet| {
        now.iter().any(|known| known == island)
            && primaries(&state, island).first() == primaries(&situation.state, island).first()
    };
    let stack = situation.incumbent(setting);
    let told = |island: UnitSet| match primaries(&state, island).first() {
        Some(_) if island == stack && same(island) => "the same stack under the same primary".to_owned(),
        Some(leader) if island.len() > 1 => format!("{} under {}", names(island), setting.units[leader].key),
        Some(_) => format!("{} alone", names(island)),
        None => format!("{} without a primary", names(island)),
    };
    let (single, several): (Vec<UnitSet>, Vec<UnitSet>) = islands
        .iter()
        .partition(|island| island.len() == 1 && *island != stack && primaries(&state, *island).len() == 1);
    let mut all: Vec<String> = several.into_iter().map(told).collect();
    // many that stand alone are not listed: nobody reads sixteen names for it
    match (single.len(), all.is_empty()) {
        (0..=2, _) => all.extend(single.into_iter().map(told)),
        (_, true) => all.push("every unit alone".to_owned()),
        (_, false) => all.push("each other unit alone".to_owned()),
    }
    if all.is_empty() {
        "no unit is on".to_owned()
    } else {
        format!("a power failure now would leave {}", all.join("; "))
    }
}
