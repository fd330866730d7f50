//! Findings -> JSON: an object with a list, one entry a finding.

use serde::Serialize;

use crate::diag::{Findings, Severity};
use crate::source::{Position, Sources, Span};

/// The version of this shape.
const FINDINGS_FORMAT: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    format: u32,
    findings: Vec<Entry<'a>>,
}

#[derive(Serialize)]
struct Entry<'a> {
    code: &'a str,
    severity: &'a str,
    message: &'a str,
    #[serde(flatten)]
    place: Option<Place<'a>>,
    related: Vec<RelatedEntry<'a>>,
    help: Option<&'a str>,
}

#[derive(Serialize)]
struct RelatedEntry<'a> {
    text: &'a str,
    #[serde(flatten)]
    place: Place<'a>,
}

#[derive(Serialize)]
struct Place<'a> {
    file: &'a str,
    line: usize,
    column: usize,
    end: End,
}

#[derive(Serialize)]
struct End {
    line: usize,
    column: usize,
}

/// The findings as JSON, with a line break at the end.
#[must_use]
pub fn json(findings: &Findings, sources: &Sources) -> String {
    let entries = findings.all().iter().map(|found| Entry {
        code: found.code.name,
        severity: match found.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        message: &found.message,
        place: found.place.map(|span| place(span, sources)),
        related: found
            .related
            .iter()
            .map(|one| RelatedEntry { text: &one.text, place: place(one.place, sources) })
            .collect(),
        help: found.help.as_deref(),
    });
    let document = Document { format: FINDINGS_FORMAT, findings: entries.collect() };
    // plain data with text keys: writing it cannot fail
    serde_json::to_string_pretty(&document).map(|text| text + "\n").unwrap_or_default()
}

fn place(span: Span, sources: &Sources) -> Place<'_> {
    let (start, end) = (sources.position(span.file, span.start), sources.position(span.file, span.end));
    let Position { line, column } = end;
    Place { file: sources.path(span.file), line: start.line, column: start.column, end: End { line, column } }
}
