//! `ringwright check`: reads intents and says all that is wrong with them; writes nothing.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Args;

use super::fleet::git::Baseline;
use super::fleet::twice::{Glances, of_one_stack, without_baselines};
use super::fleet::{Done, Fleet, Intents, Sum, Worker, done, git};
use super::glance::Glance;
use super::open::{Opened, Reader};
use super::{Exit, Request, Standing, terminal};
use crate::report;

/// Check intents: their shape, their rules, and the change that each asks for.
#[derive(Args)]
pub(super) struct Check {
    #[command(flatten)]
    fleet: Fleet,
}

/// What was seen of one intent.
struct Seen {
    /// Neither it nor its change is refused.
    fine: bool,
    /// What it says of itself, if it could be read.
    glance: Option<Glance>,
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
        let (mut sum, mut refused, mut glances) = (Sum::default(), BTreeSet::new(), Glances::new());
        let work = |worker: &mut Worker, intent: &Path| self.check(worker, intent, revision.as_ref());
        self.fleet.each((&intents, &part), &mut sum, work, |intent, _, seen: Seen| {
            if !seen.fine {
                refused.insert(intent.to_owned());
            }
            glances.extend(seen.glance.map(|glance| (intent.to_owned(), glance)));
        });
        refused.extend(self.twice(&intents, &part, glances, &mut sum));
        self.fleet.say(&sentence(part.len(), refused.len()));
        self.fleet.finish("check", sum)
    }

    /// Those of this part that describe one stack with another intent of the run, whichever part that is in.
    fn twice(&self, intents: &Intents, part: &[PathBuf], mut glances: Glances, sum: &mut Sum) -> Vec<PathBuf> {
        if intents.alone {
            return Vec::new();
        }
        if part.len() < intents.all.len() {
            glances = self.fleet.glances(intents);
        }
        // files that a person names one by one may be drafts of one stack; what lies in folders is what stands
        let mut left = without_baselines(intents, &glances);
        let stack = |intent: &PathBuf| glances.get(intent).map(|glance| glance.stack.as_str());
        let lying: BTreeSet<Option<&str>> =
            left.iter().filter(|intent| !intents.named.contains(*intent)).map(stack).collect();
        left.retain(|intent| lying.contains(&stack(intent)));
        let part: BTreeSet<&PathBuf> = part.iter().collect();
        let found = of_one_stack(&left, &glances, |intent, entry, exit| {
            if part.contains(&intent.to_owned()) {
                self.fleet.refuse(sum, intent, entry, exit);
            }
        });
        found.into_iter().filter(|intent| part.contains(intent)).collect()
    }

    fn check(&self, worker: &mut Worker, intent: &Path, revision: Option<&git::Revision>) -> Done<Seen> {
        let baseline = Baseline::of(revision, intent, &mut worker.reader);
        let from = baseline.as_ref().map(|baseline| baseline.standing(self.fleet.from.as_deref()));
        let seen = from.map_or(Seen { fine: false, glance: None }, |from| look(worker, intent, from));
        let exit = terminal::exit(&worker.reader.findings, worker.reader.unreadable);
        done(worker, self.fleet.findings, exit, seen)
    }
}

fn look(worker: &mut Worker, intent: &Path, from: Standing<'_>) -> Seen {
    let reader = &mut worker.reader;
    let Ok(opened) = reader.open(&Request { intent, from, dialect: None }) else {
        return Seen { fine: false, glance: None };
    };
    Seen { fine: true, glance: Some(glance(&opened, reader)) }
}

/// What an opened intent says of itself, as far as others of the run are held against it.
fn glance(opened: &Opened, reader: &Reader) -> Glance {
    let intent = &opened.intent;
    let from = intent.change.as_ref().and_then(|change| change.from.as_ref());
    Glance {
        stack: intent.stack.to_string(),
        place: report::place(intent.stack.span, &reader.sources),
        from: from.map(|from| from.to_string()),
        dialect: None,
        intent: String::new(),
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
