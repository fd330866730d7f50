//! `ringwright check`: reads intents and says all that is wrong with them; writes nothing.

use std::path::Path;

use clap::Args;

use super::fleet::git::Baseline;
use super::fleet::{Done, Fleet, Sum, Worker, done, git};
use super::{Exit, Request, Standing, terminal};
use crate::lower;

/// Check intents: their shape, their rules, and the change that each asks for.
#[derive(Args)]
pub(super) struct Check {
    #[command(flatten)]
    fleet: Fleet,
}

impl Check {
    pub(super) fn run(self) -> Exit {
        let intents = match self.fleet.intents() {
            Ok(intents) => intents,
            Err(exit) => return exit,
        };
        let revision = match self.fleet.revision(&intents) {
            Ok(revision) => revision,
            Err(exit) => return exit,
        };
        let part = self.fleet.part(intents.all.clone());
        let (mut sum, mut refused) = (Sum::default(), 0);
        let work = |worker: &mut Worker, intent: &Path| self.check(worker, intent, revision.as_ref());
        self.fleet.each((&intents, &part), &mut sum, work, |_, _, fine| refused += usize::from(!fine));
        self.fleet.say(&sentence(part.len(), refused));
        self.fleet.finish("check", sum)
    }

    /// False if the intent or its change is refused.
    fn check(&self, worker: &mut Worker, intent: &Path, revision: Option<&git::Revision>) -> Done<bool> {
        let baseline = Baseline::of(revision, intent, &mut worker.reader);
        let from = baseline.as_ref().map(|baseline| baseline.standing(self.fleet.from.as_deref()));
        let fine = from.is_ok_and(|from| self.is_fine(worker, intent, from));
        let exit = terminal::exit(&worker.reader.findings, worker.reader.unreadable);
        done(worker, self.fleet.findings, exit, fine)
    }

    fn is_fine(&self, worker: &mut Worker, intent: &Path, from: Standing<'_>) -> bool {
        let reader = &mut worker.reader;
        let Ok(opened) = reader.open(&Request { intent, from, dialect: None }) else { return false };
        lower::lower(&opened.intent, opened.baseline.as_ref(), &opened.platform, &mut reader.findings).is_ok()
    }
}

fn sentence(all: usize, refused: usize) -> String {
    match (all, refused) {
        (1, 0) => "nothing is wrong with this intent\n".to_owned(),
        (1, _) => "this intent is refused\n".to_owned(),
        (_, 0) => format!("{all} intents: nothing is wrong\n"),
        (_, _) => format!("{all} intents: {} fine, {refused} refused\n", all - refused),
    }
}
