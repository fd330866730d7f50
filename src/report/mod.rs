//! Findings -> text for people, JSON for pipelines.

pub mod faults;
mod json;
mod junit;
mod merge;
mod sarif;
pub mod summary;
mod text;

pub use json::{End, Entry, Place, RelatedEntry, entries, json, json_of, place};
pub use junit::{Case, junit};
pub use merge::{Fate, Row, merge_request};
pub use sarif::sarif;
pub use text::{Colour, text};

/// Breaks a text into lines of at most so many characters, between words.
#[must_use]
pub fn wrapped(text: &str, width: usize) -> String {
    let mut lines = String::new();
    let mut column = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width {
            lines.push('\n');
            column = 0;
        } else if column > 0 {
            lines.push(' ');
            column += 1;
        }
        lines.push_str(word);
        column += length;
    }
    lines.push('\n');
    lines
}
