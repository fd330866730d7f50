//! A walk -> plain text: all of it, move by move, or one step.

use super::ladder::{changes, ladder};
use super::line::{Line, Tone};
use super::page::{Size, before_the_first, move_of, page, pictures, start, told, view};
use super::{Frame, Walk};

/// A picture in the whole walk has at most so many lines: beyond, units that a step leaves alone are folded.
const MOST_LINES: usize = 24;

/// The whole walk.
#[must_use]
pub fn all(walk: &Walk<'_>, columns: usize) -> Vec<Line> {
    let mut lines = super::line::hung(&Line::new(), Tone::Strong, &walk.title, columns);
    lines.extend(before_the_first(walk, columns));
    lines.push(Line::new());
    lines.extend(start(walk, columns, None));
    let mut current = None;
    for (position, frame) in walk.frames.iter().enumerate() {
        let said = move_of(walk, frame);
        lines.push(Line::new());
        if said != current {
            lines.extend(heading(said.as_deref().unwrap_or("All steps"), columns));
            current = said;
        }
        lines.push(Line::of(Tone::Strong, &format!("Step {} of {}", frame.step.number, walk.last())));
        lines.extend(step(walk, frame, columns, position + 1 == walk.last()));
    }
    lines
}

fn heading(text: &str, columns: usize) -> Vec<Line> {
    let line = Line::of(Tone::Strong, text).cut(columns);
    let rule = Line::of(Tone::Quiet, &"=".repeat(line.width()));
    vec![line, rule, Line::new()]
}

fn step(walk: &Walk<'_>, frame: &Frame<'_>, columns: usize, last: bool) -> Vec<Line> {
    let mut lines = told(walk.setting, frame, columns, usize::MAX);
    let drawn = view(walk.setting, frame);
    if last {
        lines.push(Line::new());
        lines.push(Line::of(Tone::Quiet, "The stack after the last step"));
        lines.extend(ladder(&drawn, columns, None));
    } else if changes(&drawn) {
        lines.push(Line::new());
        lines.extend(pictures(walk.setting, frame, columns, Some(MOST_LINES)));
    } else {
        lines.push(Line::of(Tone::Quiet, "The picture of the stack is as before this step."));
    }
    lines
}

/// One step, with the whole stack; of 0, the stack before the first one.
#[must_use]
pub fn one(walk: &Walk<'_>, number: usize, columns: usize) -> Vec<Line> {
    page(walk, number, Size { columns, rows: None })
}
