//! Findings -> entries with their places written out, and entries -> JSON: an object with a list.

use serde::Serialize;

use crate::diag::{Findings, Severity};
use crate::source::{Position, Sources, Span};

/// The version of this shape.
const FINDINGS_FORMAT: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    format: u32,
    findings: &'a [Entry],
}

/// One finding, its places as people and pipelines read them: it outlives the files that it is about.
#[derive(Clone, Debug, Serialize)]
pub struct Entry {
    /// The name of its kind.
    pub code: &'static str,
    /// `error` or `warning`.
    pub severity: &'static str,
    /// What was found, and what would be right.
    pub message: String,
    /// Where.
    #[serde(flatten)]
    pub place: Option<Place>,
    /// Other places that belong to it.
    pub related: Vec<RelatedEntry>,
    /// What to do.
    pub help: Option<String>,
    /// What the kind is about.
    #[serde(skip)]
    pub explanation: &'static str,
}

/// Another place that belongs to a finding.
#[derive(Clone, Debug, Serialize)]
pub struct RelatedEntry {
    /// What stands there.
    pub text: String,
    /// Where.
    #[serde(flatten)]
    pub place: Place,
}

/// A place in a file; line and column are counted from 1, the column in characters.
#[derive(Clone, Debug, Serialize)]
pub struct Place {
    /// The file.
    pub file: String,
    /// The line.
    pub line: usize,
    /// The column.
    pub column: usize,
    /// Behind its last character.
    pub end: End,
}

/// Where a place ends.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct End {
    /// The line.
    pub line: usize,
    /// The column.
    pub column: usize,
}

/// The findings with their places written out.
#[must_use]
pub fn entries(findings: &Findings, sources: &Sources) -> Vec<Entry> {
    let related =
        |one: &crate::diag::Related| RelatedEntry { text: one.text.clone(), place: place(one.place, sources) };
    let entry = |found: &crate::diag::Diagnostic| Entry {
        code: found.code.name,
        severity: match found.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        message: found.message.clone(),
        place: found.place.map(|span| place(span, sources)),
        related: found.related.iter().map(related).collect(),
        help: found.help.clone(),
        explanation: found.code.explanation,
    };
    findings.all().iter().map(entry).collect()
}

/// The findings as JSON, with a line break at the end.
#[must_use]
pub fn json(findings: &Findings, sources: &Sources) -> String {
    json_of(&entries(findings, sources))
}

/// The same of entries.
#[must_use]
pub fn json_of(entries: &[Entry]) -> String {
    let document = Document { format: FINDINGS_FORMAT, findings: entries };
    // plain data with text keys: writing it cannot fail
    serde_json::to_string_pretty(&document).map(|text| text + "\n").unwrap_or_default()
}

/// A place in a file, written out.
#[must_use]
pub fn place(span: Span, sources: &Sources) -> Place {
    let (start, end) = (sources.position(span.file, span.start), sources.position(span.file, span.end));
    let Position { line, column } = end;
    let file = sources.path(span.file).to_owned();
    Place { file, line: start.line, column: start.column, end: End { line, column } }
}
