//! What can go wrong while a bundle is rendered, as data: code, message, template, place.
//!
//! Deliberately absent: how it is drawn, and where the template lies on disk.

use std::fmt;
use std::ops::Range;

/// A stable code for each kind of fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum RenderCode {
    /// A template that the dialect must have is not there.
    TemplateMissing,
    /// A template does not parse.
    TemplateSyntax,
    /// A template uses a variable, field or filter that does not exist, or uses one wrongly.
    TemplateFailed,
    /// A template runs longer than the limit.
    TemplateFuel,
    /// An output is larger than the limit.
    OutputTooLarge,
    /// A value would add a line or hide text: it holds a control character.
    ControlCharacter,
    /// The path of an output leaves the bundle's folder, or is not a plain relative path.
    OutputPath,
    /// Two outputs have one path.
    OutputTwice,
    /// An output is not what its kind says.
    OutputMalformed,
    /// The plan does not hold what rendering needs.
    PlanIncomplete,
}

/// One fault of rendering.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RenderError {
    /// The kind of fault.
    pub code: RenderCode,
    /// What was found and what would be right.
    pub message: String,
    /// The template, by its path in the dialect's folder.
    pub template: Option<String>,
    /// The line in that template, counted from 1.
    pub line: Option<usize>,
    /// What is at fault there, where that is known.
    pub part: Option<Part>,
    /// The variables that stand in that line, with what they hold.
    pub in_play: Box<[String]>,
}

/// A part of a template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// These bytes of it.
    Bytes(Range<usize>),
    /// This text: a template that stands in the manifest itself, a path or a name.
    Text(Box<str>),
}

impl RenderError {
    /// A fault that no template is to blame for.
    pub(super) fn new(code: RenderCode, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), template: None, line: None, part: None, in_play: Box::default() }
    }

    /// The same fault, found in this template.
    pub(super) fn in_template(mut self, template: &str) -> Self {
        self.template = Some(template.to_owned());
        self
    }

    /// The same fault, found in a template that stands in the manifest.
    pub(super) fn in_manifest(self, snippet: &str) -> Self {
        Self { part: Some(Part::Text(snippet.into())), ..self.in_template("dialect.yaml") }
    }

    /// A fault that the template engine reports.
    pub(super) fn from_engine(error: &minijinja::Error, template: &str) -> Self {
        use minijinja::ErrorKind;
        let error = innermost(error);
        let code = match error.kind() {
            ErrorKind::SyntaxError => RenderCode::TemplateSyntax,
            ErrorKind::TemplateNotFound => RenderCode::TemplateMissing,
            ErrorKind::OutOfFuel => RenderCode::TemplateFuel,
            _ => RenderCode::TemplateFailed,
        };
        let named = error.detail().and_then(|detail| detail.split(['\'', '"']).nth(1));
        let detail = match (code, named, error.detail()) {
            (RenderCode::TemplateMissing, Some(named), _) => {
                format!("there is no template `{named}` in this dialect, nor in one that it extends")
            }
            (_, _, Some(detail)) => format!("{}: {detail}", error.kind()),
            (_, _, None) => error.kind().to_string(),
        };
        Self {
            template: Some(error.name().unwrap_or(template).to_owned()),
            line: error.line(),
            part: error.range().map(Part::Bytes),
            in_play: in_play(error).into(),
            ..Self::new(code, detail)
        }
    }
}

/// The fault itself: one in a file that is included or imported comes wrapped in one of the file that does so.
fn innermost(error: &minijinja::Error) -> &minijinja::Error {
    let below = std::error::Error::source(error).and_then(|source| source.downcast_ref::<minijinja::Error>());
    below.map_or(error, innermost)
}

/// The variables that the engine says were used where it failed, each with what it holds, on one short line. It
/// tells them only in its debug mode, and only in what it prints for people.
fn in_play(error: &minijinja::Error) -> Vec<String> {
    let told = error.display_debug_info().to_string();
    let Some((_, block)) = told.split_once("Referenced variables: {\n") else { return Vec::new() };
    let inside = block.lines().take_while(|line| *line != "}");
    let variables =
        inside.filter_map(|line| line.strip_prefix("    ")).filter(|line| !line.starts_with([' ', '}', ']']));
    variables.take(8).map(short).collect()
}

/// A variable with a value on several lines is told by its name alone.
fn short(line: &str) -> String {
    let (name, value) = line.split_once(": ").unwrap_or((line, ""));
    let value = value.trim_end_matches(',');
    if value.ends_with(['{', '[', '(']) { format!("`{name}`") } else { format!("`{name}` is {value}") }
}

impl fmt::Display for RenderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        match (&self.template, self.line) {
            (Some(template), Some(line)) => write!(f, " ({template}, line {line})"),
            (Some(template), None) => write!(f, " ({template})"),
            (None, _) => Ok(()),
        }
    }
}

impl std::error::Error for RenderError {}
