//! A walk, broken off after a step -> whether one may stop there, what a power failure would leave, the way back.

use crate::model::derive::Islands;
use crate::model::document::{Action, Phase, Place};
use crate::model::facts::is_saved;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::settle::cold_start;
use crate::model::table::UnitId;

use super::back::{Back, back};
use super::ladder::{View, ladder};
use super::line::{Line, Tone, hung, list};
use super::page::move_of;
use super::{Frame, Walk, say, words};

/// Everything about stopping after a step; nothing if there is no such step.
#[must_use]
pub fn stop_after(walk: &Walk<'_>, number: usize, columns: usize) -> Vec<Line> {
    let Some(frame) = walk.frame(number) else { return Vec::new() };
    let mut lines = hung(&Line::new(), Tone::Strong, &walk.title, columns);
    let at = format!(
        "After step {number} of {}: {}",
        walk.last(),
        say::action(walk.setting, frame.before, &frame.step.action, frame.step.at.as_ref())
    );
    lines.extend(hung(&Line::new(), Tone::Plain, at.trim_end_matches(':'), columns));
    lines.extend(move_of(walk, frame).map(|said| Line::of(Tone::Plain, &said).cut(columns)));
    lines.push(Line::new());
    lines.extend(may_stop(frame, columns));
    lines.push(Line::new());
    lines.extend(picture(walk.setting, frame.after, columns));
    lines.push(Line::new());
    lines.extend(power_failure(walk.setting, frame.after, columns));
    lines.push(Line::new());
    lines.extend(way_back(walk, frame, columns));
    lines
}

fn may_stop(frame: &Frame<'_>, columns: usize) -> Vec<Line> {
    let (tone, text) = match &frame.step.stop_here {
        Some(stop) if stop.safe => (Tone::Good, format!("You may stop here: {}.", stop.because)),
        Some(stop) => (Tone::Bad, format!("Do not stop here: {}.", stop.because)),
        None => (Tone::Care, "The plan does not say whether you may stop here.".to_owned()),
    };
    hung(&Line::new(), tone, &text, columns)
}

fn picture(setting: &Setting, now: &Situation, columns: usize) -> Vec<Line> {
    ladder(&View::of(setting, now), columns, None)
}

/// Every powered unit restarted together, from what it saved.
fn power_failure(setting: &Setting, now: &Situation, columns: usize) -> Vec<Line> {
    let mut lines = hung(
        &Line::new(),
        Tone::Strong,
        "If the power failed now, all units that are on would boot together from what they saved:",
        columns,
    );
    let (state, events, _) = cold_start(setting, &now.state);
    let cold = Situation { state, memory: now.memory };
    let mut said = Vec::new();
    if !events.clash.is_empty() {
        let names = list(&setting.keys(events.clash));
        said.push((Tone::Bad, format!("Two units would meet under one id, and it is open what comes of it: {names}.")));
    } else if !events.undecided.is_empty() {
        let names = list(&setting.keys(events.undecided));
        said.push((Tone::Bad, format!("It would be open who leads; nothing tells these apart: {names}.")));
    }
    let decided = said.is_empty();
    said.extend(compared(setting, now, &cold, decided));
    for (tone, text) in said {
        lines.extend(hung(&Line::new(), tone, &text, columns));
    }
    lines.push(Line::new());
    lines.extend(picture(setting, &cold, columns));
    lines
}

/// What a cold start would change; `decided`: whether what comes of it is known.
fn compared(setting: &Setting, now: &Situation, cold: &Situation, decided: bool) -> Vec<(Tone, String)> {
    let (before, after) = (words::leader(setting, now), words::leader(setting, cold));
    let key = |unit| setting.units[unit].key.as_str();
    let (was, is) = (now.incumbent(setting), cold.incumbent(setting));
    let mut said = Vec::new();
    match (before, after) {
        (Some(old), None) => {
            let text = format!(
                "{} would not come back: neither {} nor one that may lead in its place leads.",
                setting.stack,
                key(old)
            );
            said.push((Tone::Bad, text));
        }
        (Some(old), Some(new)) if old != new => {
            said.push((Tone::Care, format!("{} would lead in the place of {}.", key(new), key(old))));
        }
        _ => {}
    }
    let (lost, won) = (was.minus(is), is.minus(was));
    if !lost.is_empty() && after.is_some() {
        said.push((Tone::Bad, format!("{} would not be in the stack any more.", list(&setting.keys(lost)))));
    }
    if !won.is_empty() {
        said.push((Tone::Care, format!("{} would be in the stack.", list(&setting.keys(won)))));
    }
    if decided && said.is_empty() {
        let same = Islands::of(setting, &now.state).iter().eq(Islands::of(setting, &cold.state).iter());
        let text = match (before, same) {
            (Some(_), true) => "The same stack would come back, under the same primary.",
            (Some(_), false) => "The same stack would come back; units outside it would be joined in another way.",
            (None, _) => "No stack is in service yet that could fail.",
        };
        said.push((Tone::Good, text.to_owned()));
    }
    let id = |situation: &Situation, unit| words::id(&situation.state, unit);
    for unit in setting.units.ids().filter(|unit| now.state.units[*unit].powered && id(now, *unit) != id(cold, *unit)) {
        let new = id(cold, unit).unwrap_or_default();
        said.push((Tone::Care, format!("{} would have id {new}.", key(unit))));
    }
    said.extend(unsaved(setting, now));
    said
}

/// Settings of units that would not be there after a boot.
fn unsaved(setting: &Setting, now: &Situation) -> Option<(Tone, String)> {
    let state = &now.state;
    let forgets = |unit: &UnitId| state.units[*unit].powered && !is_saved(setting, now, *unit);
    let names = setting.keys(setting.units.ids().filter(forgets).collect());
    let text = format!("What is not saved would be lost: on {}.", list(&names));
    (!names.is_empty()).then_some((Tone::Care, text))
}

fn way_back(walk: &Walk<'_>, frame: &Frame<'_>, columns: usize) -> Vec<Line> {
    let Some(way) = back(walk.plan, frame.step.number) else {
        let text = if frame.step.phase == Phase::Stage {
            "The way back: nothing of the running stack was touched; switch off what was staged."
        } else {
            "The way back: the plan has none."
        };
        return hung(&Line::new(), Tone::Plain, text, columns);
    };
    let title = match way.steps.len() {
        0 => "The way back: there is nothing to undo.".to_owned(),
        _ => format!("The way back, likely {}:", words::minutes(way.minutes)),
    };
    let mut lines = hung(&Line::new(), Tone::Strong, &title, columns);
    lines.extend(steps(walk.setting, frame.after, &way, columns));
    let end = if way.whole {
        "Then the stack is as it was before the change."
    } else {
        "Here the plan's way back ends, short of where the change began."
    };
    lines.extend(hung(&Line::new(), if way.whole { Tone::Plain } else { Tone::Bad }, end, columns));
    lines
}

fn steps(setting: &Setting, now: &Situation, way: &Back<'_>, columns: usize) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut at: Option<&Place> = None;
    for (position, step) in way.steps.iter().enumerate() {
        if step.at.is_some() && step.at.as_ref() != at {
            at = step.at.as_ref();
            let place = say::capital(&say::place(setting, now, at));
            lines.extend(hung(&Line::new().filled(2), Tone::Plain, &format!("{place}:"), columns));
        }
        let label = Line::new().filled(2).with(Tone::Quiet, &format!("{:>3}  ", position + 1));
        lines.extend(hung(&label, Tone::Plain, &say::action(setting, now, &step.action, step.at.as_ref()), columns));
        if let Action::Expect { facts, .. } = &step.action {
            for fact in facts {
                let bullet = Line::new().filled(8).with(Tone::Quiet, "- ");
                lines.extend(hung(&bullet, Tone::Plain, &say::fact(setting, fact), columns));
            }
        }
    }
    lines
}
