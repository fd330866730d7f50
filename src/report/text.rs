//! Findings -> drawn text: the line, the words in question underlined, related places, help.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use crate::diag::{Diagnostic, Findings, Severity};
use crate::source::{Sources, Span};

/// Whether the text is coloured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colour {
    /// For a terminal.
    On,
    /// For a file or a pipe.
    Off,
}

/// The columns that are drawn; one machine's terminal must not change the text.
const WIDTH: usize = 140;

/// Draws all findings, one after the other.
#[must_use]
pub fn text(findings: &Findings, sources: &Sources, colour: Colour) -> String {
    let renderer = match colour {
        Colour::On => Renderer::styled(),
        Colour::Off => Renderer::plain(),
    };
    let renderer = renderer.decor_style(DecorStyle::Ascii).term_width(WIDTH);
    let drawn = findings.all().iter().map(|found| format!("{}\n", renderer.render(&[group(found, sources)])));
    drawn.map(|one| one + "\n").collect()
}

fn group<'a>(found: &'a Diagnostic, sources: &'a Sources) -> Group<'a> {
    let level = match found.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let mut group = Group::with_title(level.primary_title(found.message.as_str()).id(found.code.name));
    if let Some(place) = found.place {
        let here = found.related.iter().filter(|related| related.place.file == place.file);
        let notes = here
            .map(|related| AnnotationKind::Context.span(drawable(related.place, sources)).label(related.text.as_str()));
        let primary = AnnotationKind::Primary.span(drawable(place, sources));
        group = group.element(snippet(place, sources).annotation(primary).annotations(notes));
    }
    let elsewhere =
        found.related.iter().filter(|related| found.place.is_none_or(|place| place.file != related.place.file));
    for related in elsewhere {
        let note = AnnotationKind::Context.span(drawable(related.place, sources)).label(related.text.as_str());
        group = group.element(snippet(related.place, sources).annotation(note));
    }
    match &found.help {
        Some(help) => group.element(Level::HELP.message(help.as_str())),
        None => group,
    }
}

fn snippet<'a, T: Clone>(place: Span, sources: &'a Sources) -> Snippet<'a, T> {
    Snippet::source(sources.text(place.file)).path(sources.path(place.file))
}

/// A range inside the text, on one line: a block of many lines is underlined at its first.
fn drawable(place: Span, sources: &Sources) -> std::ops::Range<usize> {
    let text = sources.text(place.file);
    let range = place.range();
    let start = range.start.min(text.len());
    let line_end = text.get(start..).and_then(|rest| rest.find('\n')).map_or(text.len(), |offset| start + offset);
    start..range.end.clamp(start, line_end)
}
