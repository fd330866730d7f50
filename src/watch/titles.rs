//! Runs of operations that belong to one thing -> moves, each with the title that a person would give it.

use crate::model::derive::{becomes_protected, primaries, protected};
use crate::model::operation::Operation;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, UnitId};

use super::things::{Part, Thing, parts};
use super::trace::Traced;

/// A run of the change's operations, by their positions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// The first one.
    pub first: usize,
    /// What a person would call it.
    pub title: String,
}

/// Cuts the change into moves. The saves at its end are left over: they belong to the last look.
#[must_use]
pub fn runs(setting: &Setting, change: &[Traced]) -> Vec<Run> {
    let things = things(setting, change);
    let mut starts: Vec<(usize, Thing)> = Vec::new();
    for (position, thing) in things.iter().enumerate() {
        if starts.last().is_none_or(|(_, last)| last != thing) {
            starts.push((position, *thing));
        }
    }
    let ends = starts.iter().skip(1).map(|(first, _)| *first).chain([things.len()]);
    let spans: Vec<(usize, &[Traced], Thing)> = starts
        .iter()
        .zip(ends)
        .map(|((first, thing), end)| (*first, change.get(*first..end).unwrap_or_default(), *thing))
        .collect();
    let mut runs: Vec<Run> = Vec::new();
    for (first, span, thing) in &spans {
        let short = title(setting, span, *thing, false);
        let shared = spans.iter().filter(|(_, span, thing)| title(setting, span, *thing, false) == short).count() > 1;
        let long = if shared { title(setting, span, *thing, true) } else { short };
        let before = runs.iter().filter(|run| run.title == long || run.title.starts_with(&format!("{long}, part ")));
        let title = match before.count() {
            0 => long,
            earlier => format!("{long}, part {}", earlier + 1),
        };
        runs.push(Run { first: *first, title });
    }
    runs
}

/// What each operation belongs to; the saves after the last one that belongs to something are left over.
fn things(setting: &Setting, change: &[Traced]) -> Vec<Thing> {
    let parts = parts(setting, change);
    let mut things: Vec<Option<Thing>> = Vec::new();
    let mut last = None;
    for part in &parts {
        match part {
            Part::Of(thing) => last = Some(*thing),
            Part::Same => {}
            Part::Next => last = None,
        }
        things.push(last);
    }
    // what waits for its thing takes the next one
    let mut next = None;
    for thing in things.iter_mut().rev() {
        *thing = thing.or(next);
        next = *thing;
    }
    one_join_after_the_other(change, &mut things);
    let is_save = |one: &&Traced| matches!(one.operation, Operation::Save(_));
    let saves = change.iter().rev().take_while(is_save).count();
    things.truncate(change.len() - saves);
    things.into_iter().flatten().collect()
}

/// Newcomers are often prepared together and come in one by one: what is done up to a join belongs to it.
fn one_join_after_the_other(change: &[Traced], things: &mut [Option<Thing>]) {
    let mut next: Option<UnitId> = None;
    for (step, thing) in change.iter().zip(things.iter_mut()).rev() {
        let Some(Thing::Join(_)) = thing else {
            next = None;
            continue;
        };
        next = step.joined.first().or(next);
        *thing = next.map(Thing::Join).or(*thing);
    }
}

fn title(setting: &Setting, span: &[Traced], thing: Thing, long: bool) -> String {
    let key = |unit: UnitId| setting.units[unit].key.as_str();
    match thing {
        Thing::Join(unit) => format!("Join {}", newcomer(setting, unit)),
        Thing::TakeOut(unit) => format!("Take {} out", key(unit)),
        Thing::Exchange(unit) => format!("Replace the box of {}", setting.units[unit].member),
        Thing::Number(unit) => format!("Give {} the number {}", key(unit), setting.target.units[unit].saved_id),
        Thing::Weights => weights(setting, span),
        Thing::Lead => lead(setting, span),
        Thing::Link(one, other) => link(setting, span, (one, other), long),
        Thing::LaySpare(cable) => {
            let (one, other) = ends(setting, cable);
            format!("Lay a spare cable between {one} and {other}")
        }
        Thing::TakeSpare(_) => "Take the spare cable out".to_owned(),
        Thing::Pair(pair) => {
            let name = &setting.uplinks[pair].name;
            let (is, shall) = (&setting.baseline.running, &setting.target.running);
            match (is.pairs.contains(pair), shall.pairs.contains(pair)) {
                (false, true) => format!("Form uplink pair {name}"),
                (true, false) => format!("Dissolve uplink pair {name}"),
                (true, true) | (false, false) => format!("Change the legs of uplink pair {name}"),
            }
        }
        Thing::Guard => guard(setting),
        Thing::Away(unit) => format!("Switch {} off for a while", key(unit)),
        Thing::Back(unit) => format!("Bring {} back", key(unit)),
        Thing::Restart(unit) => format!("Restart {}", key(unit)),
        Thing::Ports(unit) => format!("Set the ports of {}", key(unit)),
    }
}

/// What a newcomer is called: the new box of a member, or the member itself.
#[must_use]
pub fn newcomer(setting: &Setting, unit: UnitId) -> String {
    let row = &setting.units[unit];
    if row.siblings.len() > 1 { format!("the new box of {}", row.member) } else { row.key.clone() }
}

fn weights(setting: &Setting, span: &[Traced]) -> String {
    let mut weighed: Vec<UnitId> = Vec::new();
    for one in span {
        if let Operation::SetPriority(unit, _) = one.operation
            && !weighed.contains(&unit)
        {
            weighed.push(unit);
        }
    }
    match weighed.as_slice() {
        [unit] => format!("Give {} its new priority", setting.units[*unit].key),
        _ => "Give the members their new priorities".to_owned(),
    }
}

fn lead(setting: &Setting, span: &[Traced]) -> String {
    let (Some(first), Some(last)) = (span.first(), span.last()) else { return String::new() };
    let leader = |situation: &crate::model::progress::Situation| {
        primaries(&situation.state, situation.incumbent(setting)).first()
    };
    let (was, is) = (leader(&first.before), leader(&last.after));
    let name = |unit: UnitId| newcomer(setting, unit);
    match (was, is) {
        (Some(was), Some(is)) if was != is && setting.baseline.units[is].primary => {
            format!("Hand the lead back to {}", name(is))
        }
        (Some(was), Some(is)) if was != is && !setting.target.units[is].primary => {
            format!("Let {} lead for a while", name(is))
        }
        (Some(was), Some(is)) if was != is => format!("Hand the lead to {}", name(is)),
        _ => "Prepare the hand-over of the lead".to_owned(),
    }
}

fn link(setting: &Setting, span: &[Traced], units: (UnitId, UnitId), long: bool) -> String {
    let (one, other) = (&setting.units[units.0].key, &setting.units[units.1].key);
    let (Some(first), Some(last)) = (span.first(), span.last()) else { return String::new() };
    let count = |connect: bool| {
        let wanted = |step: &&Traced| match step.operation {
            Operation::Connect(_) => connect,
            Operation::Disconnect(_) => !connect,
            _ => false,
        };
        span.iter().filter(wanted).count()
    };
    let (comes, goes) = (count(true), count(false));
    let before = protected(setting, &first.before.state, first.before.memory.live);
    let after = protected(setting, &last.after.state, last.after.memory.live);
    let closes = span.iter().any(|step| becomes_protected(setting, &step.before, &step.after));
    let place = if long { format!(" between {one} and {other}") } else { String::new() };
    let joined = |state: &State| state.plugged.iter().filter(|cable| joins(setting, *cable, units)).count();
    let cables = |number: usize| if number == 1 { "a cable".to_owned() } else { format!("{number} cables") };
    match (comes, goes) {
        (1.., 1..) => format!("Move the link between {one} and {other} to other ports"),
        (1.., 0) if joined(&first.before.state) > 0 => format!("Add {} between {one} and {other}", cables(comes)),
        (_, 0) if closes => format!("Close the ring{place}"),
        (1.., 0) => format!("Bring up the link between {one} and {other}"),
        (0, 1..) if joined(&last.after.state) > 0 => {
            format!("Take {} between {one} and {other} out", cables(goes))
        }
        (0, 1..) if before && !after => format!("Open the ring{place}"),
        (0, 1..) => format!("Take the link between {one} and {other} out"),
        (0, 0) => format!("Set the ports between {one} and {other}"),
    }
}

fn joins(setting: &Setting, cable: CableId, units: (UnitId, UnitId)) -> bool {
    match setting.cables[cable] {
        CableRow::Far(..) => false,
        CableRow::Units(a, b) => {
            let (one, other) = (setting.unit_of(a), setting.unit_of(b));
            (one.min(other), one.max(other)) == units
        }
    }
}

fn ends(setting: &Setting, cable: CableId) -> (&str, &str) {
    let mut keys = setting.cables[cable].unit_ends().map(|port| setting.units[setting.unit_of(port)].key.as_str());
    (keys.next().unwrap_or_default(), keys.next().unwrap_or_default())
}

fn guard(setting: &Setting) -> String {
    let name = |pair| &setting.uplinks[pair].name;
    match (setting.baseline.running.guard, setting.target.running.guard) {
        (Some(old), None) => format!("Take the split guard off uplink pair {}", name(old)),
        (None, Some(new)) => format!("Put the split guard over uplink pair {}", name(new)),
        (Some(_), Some(new)) => format!("Move the split guard to uplink pair {}", name(new)),
        (None, None) => "Set the split guard".to_owned(),
    }
}
