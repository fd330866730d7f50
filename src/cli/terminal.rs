//! Text -> the terminal. A reader that has gone away is no fault.

use std::io::{IsTerminal, Write, stderr, stdout};

use super::{Exit, FindingsAs};
use crate::diag::Findings;
use crate::report::{self, Colour};
use crate::source::Sources;

/// Writes to standard output.
pub(super) fn print(text: &str) {
    let _ = stdout().lock().write_all(text.as_bytes());
}

/// Writes to standard error.
pub(super) fn error(text: &str) {
    let _ = stderr().lock().write_all(text.as_bytes());
}

/// Writes findings in the form asked for: drawn on standard error, as data on standard output.
pub(super) fn findings(findings: &Findings, sources: &Sources, form: FindingsAs) {
    match form {
        FindingsAs::Text if findings.all().is_empty() => {}
        FindingsAs::Text => error(&report::text(findings, sources, colour())),
        FindingsAs::Json => print(&report::json(findings, sources)),
    }
}

/// The exit status that findings call for.
pub(super) fn exit(findings: &Findings, unreadable: bool) -> Exit {
    match (unreadable, findings.has_errors()) {
        (true, _) => Exit::Unusable,
        (false, true) => Exit::Refused,
        (false, false) => Exit::Fine,
    }
}

fn colour() -> Colour {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    if stderr().is_terminal() && !set("NO_COLOR") && !dumb { Colour::On } else { Colour::Off }
}
