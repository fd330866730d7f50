//! Pieces of text with a tone -> lines that fit a width, painted for a terminal or plain.
//!
//! A tone only repeats what the words say: without colours nothing is lost. Texts come from a plan's file, so
//! that no character in them may steer a terminal.

use std::fmt::Write as _;

pub use crate::model::names::list;
pub use crate::picture::words::{Tone, counted};

/// The code that begins a tone on a terminal.
const fn code(tone: Tone) -> &'static str {
    match tone {
        Tone::Plain => "",
        Tone::Strong => "1",
        Tone::Good => "32",
        Tone::Care => "33",
        Tone::Bad => "31",
        Tone::Quiet => "2",
    }
}

/// One line of pieces.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Line(Vec<(Tone, String)>);

impl Line {
    /// An empty line.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A line of one piece.
    #[must_use]
    pub fn of(tone: Tone, text: &str) -> Self {
        Self::new().with(tone, text)
    }

    /// The same line with one more piece.
    #[must_use]
    pub fn with(mut self, tone: Tone, text: &str) -> Self {
        if !text.is_empty() {
            self.0.push((tone, text.chars().map(harmless).collect()));
        }
        self
    }

    /// The same line, and another behind it.
    #[must_use]
    pub fn then(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }

    /// Its columns.
    #[must_use]
    pub fn width(&self) -> usize {
        self.0.iter().map(|(_, text)| text.chars().count()).sum()
    }

    /// The same line, filled with blanks up to a column.
    #[must_use]
    pub fn filled(self, column: usize) -> Self {
        let missing = column.saturating_sub(self.width());
        self.with(Tone::Plain, &" ".repeat(missing))
    }

    /// The same line, cut at a width.
    #[must_use]
    pub fn cut(self, width: usize) -> Self {
        if self.width() <= width {
            return self;
        }
        let mut left = width.saturating_sub(1);
        let mut kept = Self::new();
        for (tone, text) in &self.0 {
            let part: String = text.chars().take(left).collect();
            left -= part.chars().count();
            kept = kept.with(*tone, &part);
        }
        kept.with(Tone::Quiet, "…")
    }
}

/// A character that cannot steer a terminal or turn the reading direction.
fn harmless(one: char) -> char {
    let steers =
        one.is_control() || matches!(one, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    if steers { '\u{FFFD}' } else { one }
}

/// Lines as text, each with its line break and no blanks at its end.
#[must_use]
pub fn text(lines: &[Line], coloured: bool) -> String {
    let mut out = String::new();
    for line in lines {
        let mut row = String::new();
        for (tone, text) in &line.0 {
            // writing to a String cannot fail
            let _ = match code(*tone) {
                code if coloured && !code.is_empty() => write!(row, "\x1b[{code}m{text}\x1b[0m"),
                _ => write!(row, "{text}"),
            };
        }
        out.push_str(row.trim_end());
        out.push('\n');
    }
    out
}

/// A text broken between words: the first line behind a label, the others under it. A word that is wider than a
/// line is cut.
#[must_use]
pub fn hung(label: &Line, tone: Tone, text: &str, width: usize) -> Vec<Line> {
    let indent = label.width();
    let room = width.saturating_sub(indent).max(8);
    let mut lines: Vec<Line> = Vec::new();
    let mut row = String::new();
    let mut push = |row: &mut String| {
        let head = if lines.is_empty() { label.clone() } else { Line::new().filled(indent) };
        lines.push(head.with(tone, row));
        row.clear();
    };
    for word in text.split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        let taken = row.chars().count();
        if taken > 0 && taken + 1 + word.len() > room {
            push(&mut row);
        }
        while word.len() > room {
            let rest = word.split_off(room);
            row.extend(word);
            push(&mut row);
            word = rest;
        }
        if !row.is_empty() {
            row.push(' ');
        }
        row.extend(word);
    }
    push(&mut row);
    lines
}

/// A name of at most so many columns: of a longer one, its beginning and its end.
#[must_use]
pub fn short(name: &str, most: usize) -> String {
    let all: Vec<char> = name.chars().collect();
    if all.len() <= most {
        return name.to_owned();
    }
    let tail = most.saturating_sub(1) / 2;
    let head = most.saturating_sub(1) - tail;
    let begin = all.iter().take(head);
    let end = all.iter().skip(all.len() - tail);
    begin.chain(std::iter::once(&'…')).chain(end).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_of_a_plan_can_steer_a_terminal() {
        let line = Line::of(Tone::Plain, "a\x1b[2Jb\u{202E}c\nd");
        assert_eq!(text(&[line], false), "a\u{FFFD}[2Jb\u{FFFD}c\u{FFFD}d\n");
    }

    #[test]
    fn words_are_hung_under_the_first() {
        let lines = hung(&Line::of(Tone::Strong, "why  "), Tone::Plain, "one two three four", 14);
        assert_eq!(text(&lines, false), "why  one two\n     three\n     four\n");
        let lines = hung(&Line::new(), Tone::Plain, "abcdefghijklmnop", 8);
        assert_eq!(text(&lines, false), "abcdefgh\nijklmnop\n");
        assert_eq!(hung(&Line::new(), Tone::Plain, "", 8).len(), 1);
    }

    #[test]
    fn what_is_too_long_is_cut_and_says_so() {
        assert_eq!(text(&[Line::of(Tone::Plain, "abcdef").cut(4)], false), "abc…\n");
        assert_eq!(short("drying-section-16@FT-0001", 12), "drying…-0001");
        assert_eq!(short("ramp-1", 12), "ramp-1");
    }

    #[test]
    fn colours_only_repeat() {
        let line = Line::of(Tone::Good, "stack link").with(Tone::Plain, " x");
        assert_eq!(text(std::slice::from_ref(&line), true), "\x1b[32mstack link\x1b[0m x\n");
        assert_eq!(text(&[line], false), "stack link x\n");
    }
}
