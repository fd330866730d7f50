//! YAML text -> [`Intent`]: what was written, its shape checked, every field with its place.
//!
//! A [`Draft`] is what could be read of a file that may have faults; the rules of later stages look
//! at it too, so that one run names every fault. Only a file without any becomes an [`Intent`].

mod rules;
mod text;
mod written;

use std::sync::OnceLock;

use crate::diag::{Code, Findings, Mark, Reported};
use crate::source::{FileId, Sources};
use crate::yaml::repair::repair;
use crate::yaml::shape::{Shape, schema_of};
use crate::yaml::{self, typed};

pub use text::{Consent, FreeText, FreeValue, Mac, Moment, Name, Serial, Vars};
pub use written::{
    Availability, Budgets, CableEnd, Change, CheckWhen, FailureTimes, Far, HouseCheck, INTENT_FORMAT, Intent,
    KnownCable, Leg, Member, SidePorts, UplinkPair, Window,
};

/// The codes of this stage.
pub const CODES: &[&Code] = rules::CODES;

/// What could be read of an intent that may have faults. The rules look at it; nothing is made of it.
#[derive(Clone, Debug)]
pub struct Draft {
    intent: Intent,
}

impl Draft {
    /// What was read, for the rules.
    #[must_use]
    pub fn look(&self) -> &Intent {
        &self.intent
    }

    /// The intent, if no error was reported since the mark was made.
    ///
    /// # Errors
    /// [`Reported`], if there was one.
    pub fn accept(self, findings: &Findings, mark: Mark) -> Result<Intent, Reported> {
        findings.failed_since(mark).map(|()| self.intent)
    }
}

/// The schema of an intent, compiled once a process: the dearest part of a run on one intent.
fn shape() -> &'static Shape {
    static SHAPE: OnceLock<Shape> = OnceLock::new();
    SHAPE.get_or_init(|| Shape::new(schema_of::<Intent>()))
}

/// Reads an intent, naming every fault that its own text shows.
///
/// # Errors
/// [`Reported`], if there is one.
pub fn read(sources: &Sources, file: FileId, findings: &mut Findings) -> Result<Intent, Reported> {
    let mark = findings.mark();
    draft(sources, file, findings)?.accept(findings, mark)
}

/// Reads as much of an intent as makes sense, naming every fault.
///
/// # Errors
/// [`Reported`], if the rest of the faults cannot be looked for before those found are mended.
pub fn draft(sources: &Sources, file: FileId, findings: &mut Findings) -> Result<Draft, Reported> {
    let mark = findings.mark();
    let mut tree = yaml::read(sources, file, findings)?;
    let flaws = shape().check(&tree, sources, findings);
    let intent = match findings.failed_since(mark) {
        Ok(()) => typed::fill(&tree, findings)?,
        Err(reported) => {
            findings.settle_since(mark);
            let mended = repair(&mut tree, &flaws, sources).then(|| typed::try_fill(&tree).ok()).flatten();
            mended.ok_or(reported)?
        }
    };
    let draft = Draft { intent };
    rules::check(&draft.intent, findings);
    Ok(draft)
}
