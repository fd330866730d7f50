//! Two situations -> the picture of one, with the lines marked that the other has otherwise.

use crate::model::progress::Situation;
use crate::model::setting::Setting;

use super::ladder::{View, ladder};
use super::line::{Line, Tone, hung};

/// Before a line that the plan has otherwise.
const OTHERWISE: &str = "≠ ";
/// Before any other line.
const SAME: &str = "  ";

/// The picture of the stack as it stands, and what the plan's picture has instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Apart {
    /// Each line, and whether the plan has it otherwise.
    now: Vec<(bool, Line)>,
    /// The lines that only the plan has.
    planned: Vec<Line>,
}

impl Apart {
    /// Compares two situations; none if one picture serves both.
    #[must_use]
    pub fn of(setting: &Setting, now: &Situation, planned: &Situation, columns: usize) -> Option<Self> {
        let drawn = |situation| ladder(&View::of(setting, situation), columns.saturating_sub(2), None);
        let (now, planned) = (drawn(now), drawn(planned));
        if now == planned {
            return None;
        }
        let only: Vec<Line> = planned.iter().filter(|line| !now.contains(line)).cloned().collect();
        Some(Self { now: now.into_iter().map(|line| (!planned.contains(&line), line)).collect(), planned: only })
    }

    /// The picture, and under it what the plan has instead.
    #[must_use]
    pub fn lines(&self, columns: usize) -> Vec<Line> {
        let title = "The stack after it (≠ is otherwise than planned):";
        let mut lines = hung(&Line::new(), Tone::Quiet, title, columns);
        lines.extend(self.now.iter().map(|(otherwise, line)| match otherwise {
            true => Line::of(Tone::Bad, OTHERWISE).then(line.clone()),
            false => Line::of(Tone::Plain, SAME).then(line.clone()),
        }));
        if !self.planned.is_empty() {
            lines.push(Line::of(Tone::Quiet, "The plan has instead:"));
            lines.extend(self.planned.iter().map(|line| Line::of(Tone::Plain, SAME).then(line.clone())));
        }
        lines
    }
}
