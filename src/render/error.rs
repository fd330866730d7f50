//! What can go wrong while a bundle is rendered, as data: code, message, template, line.
//!
//! Deliberately absent: how it is drawn, and where the template lies on disk.

use std::fmt;

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
    /// No check exists yet for this kind of output.
    KindUnsupported,
    /// The plan does not hold what rendering needs.
    PlanIncomplete,
}

impl RenderCode {
    /// The code as printed and as looked up.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::TemplateMissing => "template-missing",
            Self::TemplateSyntax => "template-syntax",
            Self::TemplateFailed => "template-failed",
            Self::TemplateFuel => "template-fuel",
            Self::OutputTooLarge => "output-too-large",
            Self::ControlCharacter => "control-character",
            Self::OutputPath => "output-path",
            Self::OutputTwice => "output-twice",
            Self::OutputMalformed => "output-malformed",
            Self::KindUnsupported => "kind-unsupported",
            Self::PlanIncomplete => "plan-incomplete",
        }
    }
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
}

impl RenderError {
    /// A fault that no template is to blame for.
    pub(super) fn new(code: RenderCode, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), template: None, line: None }
    }

    /// The same fault, found in this template.
    pub(super) fn in_template(mut self, template: &str) -> Self {
        self.template = Some(template.to_owned());
        self
    }

    /// A fault that the template engine reports.
    pub(super) fn from_engine(error: &minijinja::Error, template: &str) -> Self {
        use minijinja::ErrorKind;
        let code = match error.kind() {
            ErrorKind::SyntaxError => RenderCode::TemplateSyntax,
            ErrorKind::TemplateNotFound => RenderCode::TemplateMissing,
            ErrorKind::OutOfFuel => RenderCode::TemplateFuel,
            _ => RenderCode::TemplateFailed,
        };
        let detail =
            error.detail().map_or_else(|| error.kind().to_string(), |detail| format!("{}: {detail}", error.kind()));
        Self { code, message: detail, template: Some(error.name().unwrap_or(template).to_owned()), line: error.line() }
    }
}

impl fmt::Display for RenderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.code.as_str(), self.message)?;
        match (&self.template, self.line) {
            (Some(template), Some(line)) => write!(f, " ({template}, line {line})"),
            (Some(template), None) => write!(f, " ({template})"),
            (None, _) => Ok(()),
        }
    }
}

impl std::error::Error for RenderError {}
