//! Two situations -> the picture of one, with the lines marked that the other has otherwise.

use similar::{Algorithm, DiffOp, capture_diff_slices};

use crate::model::progress::Situation;
use crate::model::setting::Setting;

use super::ladder::{View, ladder};
use super::line::{Line, Tone, hung, text};

/// Before a line that the plan has otherwise.
const OTHERWISE: &str = "≠ ";
/// Before any other line.
const SAME: &str = "  ";
/// Lines are compared before they are broken: wide enough for any.
const UNBROKEN: usize = 10_000;
/// A picture has at most so many lines: beyond, units that are as planned are folded.
const MOST_LINES: usize = 24;

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
    pub fn of(setting: &Setting, now: &Situation, planned: &Situation) -> Option<Self> {
        let drawn = |situation| ladder(&View::of(setting, situation), UNBROKEN, None);
        let (whole, other) = (drawn(now), drawn(planned));
        let (news, missing) = differing(&whole, &other);
        if news.is_empty() && missing.is_empty() {
            return None;
        }
        let view = View { before: Some(planned), says_was: false, ..View::of(setting, now) };
        // lines of the whole picture come in the same order; one that is not of it stands for folded units
        let mut rest = 0;
        let marked = ladder(&view, UNBROKEN, Some(MOST_LINES)).into_iter().map(|line| {
            let at = whole.iter().skip(rest).position(|other| *other == line).map(|at| at + rest);
            rest = at.map_or(rest, |at| at + 1);
            (at.is_some_and(|at| news.contains(&at)), line)
        });
        let now = marked.collect();
        Some(Self { now, planned: missing.into_iter().filter_map(|at| other.get(at).cloned()).collect() })
    }

    /// The picture, and under it what the plan has instead.
    #[must_use]
    pub fn lines(&self, columns: usize) -> Vec<Line> {
        let title = "The stack after it (≠ is otherwise than planned):";
        let mut lines = hung(&Line::new(), Tone::Quiet, title, columns);
        for (otherwise, line) in &self.now {
            let mark = if *otherwise { Line::of(Tone::Bad, OTHERWISE) } else { Line::of(Tone::Plain, SAME) };
            lines.extend(broken(mark, line, columns));
        }
        if !self.planned.is_empty() {
            lines.push(Line::of(Tone::Quiet, "The plan has instead:"));
            for line in &self.planned {
                lines.extend(broken(Line::of(Tone::Plain, SAME), line, columns));
            }
        }
        lines
    }
}

/// A line behind a mark; one that is too long is broken, and hung under its first word.
fn broken(mark: Line, line: &Line, columns: usize) -> Vec<Line> {
    if mark.width() + line.width() <= columns {
        return vec![mark.then(line.clone())];
    }
    let whole = text(std::slice::from_ref(line), false);
    let words = whole.trim_start_matches(|one: char| !one.is_alphanumeric());
    let before = whole.strip_suffix(words).unwrap_or_default();
    hung(&mark.with(Tone::Quiet, before), Tone::Plain, words, columns)
}

/// The positions of the lines that only the one has, and of those that only the other has.
fn differing(one: &[Line], other: &[Line]) -> (Vec<usize>, Vec<usize>) {
    let words = |lines: &[Line]| lines.iter().map(|line| text(std::slice::from_ref(line), false)).collect::<Vec<_>>();
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for change in capture_diff_slices(Algorithm::Myers, &words(one), &words(other)) {
        if !matches!(change, DiffOp::Equal { .. }) {
            ours.extend(change.old_range());
            theirs.extend(change.new_range());
        }
    }
    (ours, theirs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_stands_twice_counts_twice() {
        let lines = |all: &[&str]| all.iter().map(|text| Line::of(Tone::Plain, text)).collect::<Vec<_>>();
        let (one, other) = (lines(&["a", "link", "b", "dark", "c"]), lines(&["a", "link", "b", "link", "c"]));
        assert_eq!(differing(&one, &other), (vec![3], vec![3]));
        assert_eq!(differing(&one, &one), (vec![], vec![]));
        assert_eq!(differing(&lines(&["a", "b"]), &lines(&["a"])), (vec![1], vec![]));
    }

    #[test]
    fn what_is_broken_hangs_under_its_first_word() {
        let lines = broken(Line::of(Tone::Bad, OTHERWISE), &Line::of(Tone::Good, "  | port 49: link"), 16);
        assert_eq!(text(&lines, false), "≠   | port 49:\n      link\n");
    }
}
