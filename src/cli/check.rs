//! `ringwright check`: reads intents and says all that is wrong with them; writes nothing.

use std::path::PathBuf;

use clap::Args;

use super::{Exit, FindingsAs, Reader, Request, terminal};
use crate::lower;

/// Check intents: their shape, their rules, and the change that each asks for.
#[derive(Args)]
pub(super) struct Check {
    /// The intents.
    #[arg(required = true, value_name = "INTENT")]
    files: Vec<PathBuf>,
    /// The intent of the stack as it stands; it comes before the one that the intent names.
    #[arg(long, value_name = "BASELINE")]
    from: Option<PathBuf>,
    /// A folder in which dialects may lie, besides each intent's own.
    #[arg(long, value_name = "DIR")]
    dialect_root: Vec<PathBuf>,
    /// How to write the findings.
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    findings: FindingsAs,
}

impl Check {
    pub(super) fn run(self) -> Exit {
        if self.from.is_some() && self.files.len() > 1 {
            terminal::error("--from names the stack as it stands of one intent; check one at a time with it\n");
            return Exit::Unusable;
        }
        let mut reader = Reader::new(self.dialect_root);
        let refused = self.files.iter().filter(|file| !check(&mut reader, file, self.from.as_deref())).count();
        reader.findings.sort();
        terminal::findings(&reader.findings, &reader.sources, self.findings);
        if self.findings == FindingsAs::Text {
            terminal::print(&sentence(self.files.len(), refused));
        }
        terminal::exit(&reader.findings, reader.unreadable)
    }
}

/// False if the intent or its change is refused.
fn check(reader: &mut Reader, file: &std::path::Path, from: Option<&std::path::Path>) -> bool {
    let Ok(opened) = reader.open(&Request { intent: file, from, dialect: None }) else { return false };
    lower::lower(&opened.intent, opened.baseline.as_ref(), &opened.platform, &mut reader.findings).is_ok()
}

fn sentence(all: usize, refused: usize) -> String {
    match (all, refused) {
        (1, 0) => "nothing is wrong with this intent\n".to_owned(),
        (1, _) => "this intent is refused\n".to_owned(),
        (_, 0) => format!("{all} intents: nothing is wrong\n"),
        (_, _) => format!("{all} intents: {} fine, {refused} refused\n", all - refused),
    }
}
