//! The finished stack with faults in it -> what is said of it, and its picture.

use crate::model::progress::Situation;

use super::Walk;
use super::ladder::{View, ladder};
use super::line::{Line, Tone, hung};

/// What follows, then the stack as it stands then.
#[must_use]
pub fn struck(walk: &Walk<'_>, situation: &Situation, said: &str, columns: usize) -> Vec<Line> {
    let mut lines = hung(&Line::new(), Tone::Strong, said, columns);
    lines.push(Line::new());
    lines.extend(ladder(&View::of(walk.setting, situation), columns, None));
    lines
}
