//! Findings -> drawn text: the line, the words in question underlined, related places, help.

use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Renderer, Snippet};

use crate::diag::{Diagnostic, Findings, Severity};
use crate::source::{FileId, Sources, Span};

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

/// The most findings that are drawn; a person mends the first ones and looks again.
const MOST: usize = 200;

/// Draws the findings, one after the other.
#[must_use]
pub fn text(findings: &Findings, sources: &Sources, colour: Colour) -> String {
    let renderer = match colour {
        Colour::On => Renderer::styled(),
        Colour::Off => Renderer::plain(),
    };
    let renderer = renderer.decor_style(DecorStyle::Ascii).term_width(WIDTH);
    let drawn = findings.all().iter().take(MOST);
    let mut text: String = drawn.map(|found| format!("{}\n\n", renderer.render(&[group(found, sources)]))).collect();
    if let Some(more) = findings.all().len().checked_sub(MOST).filter(|more| *more > 0) {
        text.push_str(&format!("and {more} more\n\n"));
    }
    text
}

fn group<'a>(found: &'a Diagnostic, sources: &'a Sources) -> Group<'a> {
    let level = match found.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let mut group = Group::with_title(level.primary_title(found.message.as_str()).id(found.code.name));
    let marks = found.place.iter().map(|place| Mark { place: *place, label: None });
    let related = found.related.iter().map(|related| Mark { place: related.place, label: Some(related.text.as_str()) });
    let mut marks: Vec<Mark<'a>> = marks.chain(related).collect();
    // one drawing a file, that of the finding's own place first
    while let Some(file) = marks.first().map(|mark| mark.place.file) {
        let (here, elsewhere) = marks.into_iter().partition(|mark| mark.place.file == file);
        group = group.element(snippet(file, here, sources));
        marks = elsewhere;
    }
    match &found.help {
        Some(help) => group.element(Level::HELP.message(help.as_str())),
        None => group,
    }
}

/// A place to underline; the one without a label is the finding's own.
struct Mark<'a> {
    place: Span,
    label: Option<&'a str>,
}

/// The lines from the first mark to the last, so that a long file costs no more than a short one.
fn snippet<'a>(file: FileId, marks: Vec<Mark<'a>>, sources: &'a Sources) -> Snippet<'a, Annotation<'a>> {
    let text = sources.text(file);
    let ranges: Vec<Range<usize>> = marks.iter().map(|mark| drawable(mark.place, text)).collect();
    let first = ranges.iter().map(|range| range.start).min().unwrap_or(0);
    let last = ranges.iter().map(|range| range.end).max().unwrap_or(0);
    let from = text.get(..first).and_then(|before| before.rfind('\n')).map_or(0, |newline| newline + 1);
    let until = text.get(last..).and_then(|rest| rest.find('\n')).map_or(text.len(), |offset| last + offset);
    let line = sources.position(file, u32::try_from(from).unwrap_or(u32::MAX)).line;
    let snippet = Snippet::source(text.get(from..until).unwrap_or("")).line_start(line).path(sources.path(file));
    snippet.annotations(marks.iter().zip(ranges).map(|(mark, range)| {
        let range = range.start - from..range.end - from;
        match mark.label {
            Some(label) => AnnotationKind::Context.span(range).label(label),
            None => AnnotationKind::Primary.span(range),
        }
    }))
}

/// A range inside the text, on one line: a block of many lines is underlined at its first.
fn drawable(place: Span, text: &str) -> Range<usize> {
    let range = place.range();
    let start = range.start.min(text.len());
    let line_end = text.get(start..).and_then(|rest| rest.find('\n')).map_or(text.len(), |offset| start + offset);
    start..range.end.clamp(start, line_end)
}
