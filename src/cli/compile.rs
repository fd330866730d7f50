//! `ringwright compile`: one intent -> its bundle on disk, and what a person wants to know of it.

use std::mem::ManuallyDrop;
use std::path::PathBuf;

use clap::Args;

use super::{Exit, FindingsAs, Reader, Request, terminal, window};
use crate::compile::{Compiled, PLAN_NOT_PROVED, compile};
use crate::diag::{Code, Diagnostic};
use crate::disk::{DiskCode, DiskError, Outcome, RealDisk, Written, write_bundle};
use crate::report::summary;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&NOT_WRITTEN, &KEPT_ASIDE];

/// The bundle could not be written.
pub const NOT_WRITTEN: Code = Code {
    name: "not-written",
    explanation: "The bundle was not written, and what stood in its place still does: the folder cannot be written, holds a \
foreign file where one of ours would go, or a file of ours that a person has edited since. Edited files are only \
overwritten with `--overwrite-edited`.",
};
/// A file was kept aside.
pub const KEPT_ASIDE: Code = Code {
    name: "kept-aside",
    explanation: "While the bundle was exchanged, or after an earlier run was stopped, a file was found that is not ours. It \
was moved beside the bundle's folder and not deleted: look at it, then remove it.",
};

/// Compile an intent into proved, ordered snippets, a runbook and the plan.
#[derive(Args)]
pub(super) struct Compile {
    /// The intent.
    #[arg(value_name = "INTENT")]
    intent: PathBuf,
    /// The intent of the stack as it stands; it comes before the one that the intent names.
    #[arg(long, value_name = "BASELINE")]
    from: Option<PathBuf>,
    /// A dialect instead of the intent's: a built-in one's name, or a folder.
    #[arg(long, value_name = "DIALECT")]
    dialect: Option<String>,
    /// A folder in which dialects may lie, besides the intent's own.
    #[arg(long, value_name = "DIR")]
    dialect_root: Vec<PathBuf>,
    /// Where the stack's folder goes.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Overwrite files of an earlier bundle that a person has edited since.
    #[arg(long)]
    overwrite_edited: bool,
    /// How to write the findings.
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    findings: FindingsAs,
}

impl Compile {
    pub(super) fn run(self) -> Exit {
        // the process ends with this command: nothing of it is taken apart piece by piece
        let mut reader = ManuallyDrop::new(Reader::new(self.dialect_root.clone()));
        let written = ManuallyDrop::new(self.compile(&mut reader));
        reader.findings.sort();
        terminal::findings(&reader.findings, &reader.sources, self.findings);
        let fault = reader.findings.all().iter().any(|found| found.code == &PLAN_NOT_PROVED);
        let unwritten = reader.findings.all().iter().any(|found| found.code == &NOT_WRITTEN);
        match &*written {
            Some((compiled, written)) => {
                if self.findings == FindingsAs::Text {
                    terminal::print(&summary::of(compiled, &written.place, written.outcome == Outcome::Unchanged));
                }
                terminal::exit(&reader.findings, reader.unreadable)
            }
            None if fault => Exit::Fault,
            None => terminal::exit(&reader.findings, reader.unreadable || unwritten),
        }
    }

    fn compile(&self, reader: &mut Reader) -> Option<(Compiled, Written)> {
        let request = Request { intent: &self.intent, from: self.from.as_deref(), dialect: self.dialect.as_deref() };
        let opened = ManuallyDrop::new(reader.open(&request).ok()?);
        let (intent, baseline) = (&opened.intent, opened.baseline.as_ref());
        let compiled = compile(&reader.sources, intent, baseline, &opened.platform, &mut reader.findings).ok()?;
        window::look(intent, compiled.rehearsed.plan(), &mut reader.findings);
        match write_bundle(&RealDisk, &self.out, &compiled.bundle, self.overwrite_edited) {
            Ok(written) => {
                for path in &written.kept {
                    let message = format!("a file that is not ours was kept in `{}`", path.display());
                    reader.findings.warn(Diagnostic::warning(&KEPT_ASIDE, None, message));
                }
                if let Some(error) = &written.left_over {
                    reader.findings.warn(Diagnostic::warning(&KEPT_ASIDE, None, error.to_string()));
                }
                Some((compiled, written))
            }
            Err(error) => {
                reader.findings.error(not_written(&error));
                None
            }
        }
    }
}

fn not_written(error: &DiskError) -> Diagnostic {
    let found = Diagnostic::error(&NOT_WRITTEN, None, format!("`{}` {}", error.path.display(), error.message));
    if error.code == DiskCode::EditedFile { found.help("`--overwrite-edited` overwrites it") } else { found }
}
