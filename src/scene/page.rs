//! One step of a walk -> a page: what, where, why, how long, and the stack after it.

use crate::model::document::{Action, Fact};
use crate::model::facts::names_unit;
use crate::model::names::Minutes;
use crate::model::naming::{find_cable, port_of, unit_of};
use crate::model::setting::Setting;
use crate::model::table::UnitSet;

use super::ladder::{View, changes, ladder};
use super::line::{Line, Tone, counted, hung};
use super::{Frame, Walk, say, words};

/// The room for a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Columns.
    pub columns: usize,
    /// Lines, if they are short.
    pub rows: Option<usize>,
}

/// From so many columns on, the stack before a step and the stack after it stand side by side.
const TWO_PICTURES: usize = 160;
/// Texts are not drawn wider: long lines are hard to read.
const WIDEST_TEXT: usize = 110;
/// Between two pictures.
const GUTTER: usize = 4;
/// Of a long list of things to look at, so many are shown where the room is short.
const FEW_FACTS: usize = 3;
/// The fewest lines that a picture gets.
const LEAST_PICTURE: usize = 10;

/// The page of a step; of 0, the stack before the first one.
#[must_use]
pub fn page(walk: &Walk<'_>, number: usize, size: Size) -> Vec<Line> {
    let mut lines = head(walk, number, size.columns);
    let Some(frame) = walk.frame(number) else {
        lines.extend(before_the_first(walk, size.columns));
        lines.push(Line::new());
        let rows = size.rows.map(|rows| rows.saturating_sub(lines.len()));
        lines.extend(start(walk, size.columns, rows));
        return lines;
    };
    let picture = |rows: Option<usize>| pictures(walk.setting, frame, size.columns, rows);
    let told = |facts: usize| told(walk.setting, frame, size.columns, facts);
    let left = |told: &[Line]| size.rows.map(|rows| rows.saturating_sub(lines.len() + told.len() + 1));
    let whole = told(usize::MAX);
    // where the room is short, first things to look at are counted and not listed, then units
    let least = picture(None).len().min(LEAST_PICTURE);
    let fewer = |(_, told): &(usize, Vec<Line>)| left(told).is_none_or(|left| left >= least);
    let told = match left(&whole) {
        Some(left) if left < picture(None).len() => (0..=FEW_FACTS)
            .rev()
            .map(|facts| (facts, told(facts)))
            .find(fewer)
            .map_or_else(|| told(0), |(_, told)| told),
        _ => whole,
    };
    let rows = left(&told);
    lines.extend(told);
    lines.push(Line::new());
    lines.extend(picture(rows));
    lines
}

/// What the change does, and where in it one stands.
fn head(walk: &Walk<'_>, number: usize, columns: usize) -> Vec<Line> {
    let place = match number {
        0 => "before step 1".to_owned(),
        number => format!("step {number} of {}", walk.last()),
    };
    let room = columns.saturating_sub(place.chars().count() + 2);
    let first = Line::of(Tone::Strong, &walk.title).cut(room).filled(room + 2).with(Tone::Strong, &place);
    let mut lines = vec![first];
    if let Some(said) = walk.frame(number).and_then(|frame| move_of(walk, frame)) {
        lines.extend(hung(&Line::new(), Tone::Plain, &said, columns));
    }
    lines.push(Line::new());
    lines
}

/// "Move 2 of 4: Stage ramp-3".
#[must_use]
pub fn move_of(walk: &Walk<'_>, frame: &Frame<'_>) -> Option<String> {
    let moves = walk.plan.moves.as_deref()?;
    let found = moves.iter().find(|one| Some(one.number) == frame.step.in_move)?;
    Some(format!("Move {} of {}: {}", found.number, moves.len(), found.title))
}

/// How many steps there are, and how long they take.
#[must_use]
pub fn before_the_first(walk: &Walk<'_>, columns: usize) -> Vec<Line> {
    let text = match (walk.last(), walk.plan.cost) {
        (0, _) => "The stack is as it shall be: there is nothing to do.".to_owned(),
        (steps, Some(cost)) => format!(
            "{}, likely {}, at worst {}. The stack before the first one:",
            counted(steps, "step"),
            words::minutes(cost.likely_minutes),
            cost.worst_minutes
        ),
        (steps, None) => format!("{}. The stack before the first one:", counted(steps, "step")),
    };
    hung(&Line::new(), Tone::Plain, &text, columns.min(WIDEST_TEXT))
}

/// The stack before the first step.
#[must_use]
pub fn start(walk: &Walk<'_>, columns: usize, rows: Option<usize>) -> Vec<Line> {
    ladder(&View::of(walk.setting, walk.start), columns, rows)
}

/// What is done, where, why, and how long it takes.
#[must_use]
pub fn told(setting: &Setting, frame: &Frame<'_>, columns: usize, most_facts: usize) -> Vec<Line> {
    let width = columns.min(WIDEST_TEXT);
    let step = frame.step;
    let entry = |name: &str, tone: Tone, text: &str| {
        hung(&Line::of(Tone::Quiet, &format!("{:<8}", format!("{name}:"))), tone, text, width)
    };
    let mut lines =
        entry("Do", Tone::Strong, &say::capital(&say::action(setting, frame.before, &step.action, step.at.as_ref())));
    lines.extend(facts(setting, &step.action, width, most_facts));
    lines.extend(entry("Where", Tone::Plain, &say::place(setting, frame.before, step.at.as_ref())));
    if let Some(why) = &step.why {
        lines.extend(entry("Why", Tone::Plain, &why.text));
    }
    lines.extend(entry("Time", Tone::Plain, &time(frame)));
    if let Some(stop) = &step.stop_here {
        let (tone, text) = match stop.safe {
            true => (Tone::Good, "you may stop after this step".to_owned()),
            false => (Tone::Care, format!("not here: {}", stop.because)),
        };
        lines.extend(entry("Stop", tone, &text));
    }
    if let Some((tone, verdict)) = &frame.verdict {
        lines.extend(entry("But", *tone, verdict));
    }
    lines
}

fn facts(setting: &Setting, action: &Action, width: usize, most: usize) -> Vec<Line> {
    let Action::Expect { facts, otherwise } = action else { return Vec::new() };
    let bullet = Line::new().filled(8).with(Tone::Quiet, "- ");
    // one line for the rest is no shorter than one more thing
    let shown = if facts.len() > most.saturating_add(1) { most } else { facts.len() };
    let mut lines: Vec<Line> = Vec::new();
    for fact in facts.iter().take(shown) {
        lines.extend(hung(&bullet, Tone::Plain, &say::fact(setting, fact), width));
    }
    if facts.len() > shown {
        lines.push(bullet.clone().with(Tone::Quiet, &rest(facts.len(), shown)));
    }
    if let Some(otherwise) = otherwise {
        let label = Line::of(Tone::Quiet, "If not: ");
        lines.extend(hung(&label, Tone::Care, otherwise, width));
    }
    lines
}

fn rest(all: usize, shown: usize) -> String {
    if shown == 0 { format!("… {all} things to look at …") } else { format!("… and {} more …", all - shown) }
}

fn time(frame: &Frame<'_>) -> String {
    let minutes = frame.step.minutes;
    let of = |get: fn(&crate::model::document::StepMinutes) -> Option<Minutes>| minutes.as_ref().and_then(get);
    let likely = of(|minutes| minutes.likely).unwrap_or_default();
    let worst = of(|minutes| minutes.worst).unwrap_or(likely);
    let so_far = frame.clock.map_or_else(String::new, |clock| format!("; {} since the start", words::minutes(clock)));
    format!("likely {}, at worst {worst}{so_far}", words::minutes(likely))
}

/// Units that a step is about: the one it is done on, those whose cable is touched, those with a leg that changes.
#[must_use]
pub fn about(setting: &Setting, frame: &Frame<'_>) -> UnitSet {
    let named: UnitSet = match &frame.step.action {
        Action::ConnectCable { ends } | Action::DisconnectCable { ends } => {
            find_cable(setting, ends).map_or(UnitSet::EMPTY, |cable| words::cable_units(setting, cable))
        }
        Action::FormUplink { legs, .. } => members(setting, legs.iter()),
        Action::AddLeg { leg, .. } | Action::DropLeg { leg, .. } => members(setting, std::iter::once(leg)),
        // a look at many is about none of them
        Action::Expect { facts, .. } => {
            let units = facts.iter().fold(UnitSet::EMPTY, |all, fact| all.or(looked_at(setting, fact)));
            return if units.len() > 2 { UnitSet::EMPTY } else { units };
        }
        _ => UnitSet::EMPTY,
    };
    frame.unit.map_or(named, |unit| named.with(unit))
}

/// The units that a fact names.
fn looked_at(setting: &Setting, fact: &Fact) -> UnitSet {
    let ends: Vec<&String> = match fact {
        Fact::Link { ends, .. } | Fact::Cable { ends, .. } => ends.iter().collect(),
        Fact::Neighbour { end, far } => std::iter::once(end).chain(far).collect(),
        _ => Vec::new(),
    };
    let ends = ends.into_iter().filter_map(|end| port_of(setting, end).ok()).map(|port| setting.unit_of(port));
    ends.chain(names_unit(fact).and_then(|key| unit_of(setting, key).ok())).collect()
}

/// The boxes of the members that legs name.
fn members<'l>(setting: &Setting, legs: impl Iterator<Item = &'l String>) -> UnitSet {
    let names: Vec<&str> = legs.filter_map(|leg| leg.split_once(':')).map(|(member, _)| member).collect();
    setting.units.ids().filter(|unit| names.contains(&setting.units[*unit].member.as_str())).collect()
}

/// How a frame is drawn.
#[must_use]
pub fn view<'a>(setting: &'a Setting, frame: &Frame<'a>) -> View<'a> {
    let by_hand = match &frame.step.action {
        Action::Restart { unit } => unit_of(setting, unit).ok(),
        _ => None,
    };
    let restarted = by_hand.map_or(frame.restarts, |unit| frame.restarts.with(unit));
    let port = match &frame.step.action {
        Action::DisablePort { unit, port }
        | Action::EnablePort { unit, port }
        | Action::BindPort { unit, port, .. }
        | Action::ReleasePort { unit, port } => port_of(setting, &format!("{unit}:{port}")).ok(),
        _ => None,
    };
    View {
        now: frame.after,
        before: Some(frame.before),
        about: about(setting, frame),
        restarted,
        port,
        ..View::of(setting, frame.after)
    }
}

/// The stack after a step; where there is much room, beside what it was.
#[must_use]
pub fn pictures(setting: &Setting, frame: &Frame<'_>, columns: usize, rows: Option<usize>) -> Vec<Line> {
    let after = view(setting, frame);
    let less = |rows: Option<usize>| rows.map(|rows| rows.saturating_sub(1));
    if columns < TWO_PICTURES || !changes(&after) {
        let same = if changes(&after) { "The stack after it" } else { "The stack after it; the picture is as before" };
        let mut lines = vec![Line::of(Tone::Quiet, same)];
        lines.extend(ladder(&after, columns, less(rows)));
        return lines;
    }
    let half = (columns - GUTTER) / 2;
    let (now, before) = (frame.before, Some(frame.after));
    let was = View { now, before, says_was: false, restarted: UnitSet::EMPTY, ..after };
    let titled = |title: &str, view: &View<'_>| {
        let mut lines = vec![Line::of(Tone::Quiet, title)];
        lines.extend(ladder(view, half, less(rows)));
        lines
    };
    let (left, right) = (titled("The stack before it", &was), titled("The stack after it", &after));
    let count = left.len().max(right.len());
    let row = |lines: &[Line], at: usize| lines.get(at).cloned().unwrap_or_default();
    (0..count).map(|at| row(&left, at).filled(half + GUTTER).then(row(&right, at))).collect()
}
