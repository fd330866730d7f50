//! The intents of one run -> which of them describe a stack as it stands, and which describe one stack twice.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::super::open::{Glance, is_standard_input};
use super::{Exit, Fleet, Intents, plain};
use crate::diag::Code;
use crate::report::{Entry, RelatedEntry};

/// One stack, two intents.
pub const STACK_TWICE: Code = Code {
    name: "stack-twice",
    explanation: "Two intents of one run describe a stack of the same name, and their bundles would go to the same folder. \
None of them is compiled. Rename one; or, if one is the stack as it stands, name it under `change.from` of the other: an \
intent that is found in a folder and that another one begins from is not compiled for itself.",
};

/// The glance at each intent, by its path.
pub(in super::super) type Glances = BTreeMap<PathBuf, Glance>;

/// Leaves out of a run what other intents begin from, unless it was named by itself.
pub(in super::super) fn without_baselines(intents: &Intents, glances: &Glances) -> Vec<PathBuf> {
    let begun_from: BTreeSet<PathBuf> =
        glances.iter().filter_map(|(intent, glance)| Some(beside(intent, glance.from.as_ref()?))).collect();
    let stays = |path: &&PathBuf| intents.named.contains(*path) || !begun_from.contains(&plain(path));
    intents.all.iter().filter(stays).cloned().collect()
}

fn beside(intent: &Path, from: &str) -> PathBuf {
    let home = if is_standard_input(intent) { Path::new("") } else { intent.parent().unwrap_or(Path::new("")) };
    plain(&home.join(from))
}

/// Refuses all intents of this run that describe one stack; gives those that are left.
pub(in super::super) fn apart(
    fleet: &Fleet,
    intents: Vec<PathBuf>,
    glances: &Glances,
    mut refuse: impl FnMut(&Path, Entry, Exit),
) -> Vec<PathBuf> {
    let mut by_stack: BTreeMap<&str, Vec<&PathBuf>> = BTreeMap::new();
    for intent in &intents {
        if let Some(glance) = glances.get(intent) {
            by_stack.entry(&glance.stack).or_default().push(intent);
        }
    }
    let twice: BTreeSet<PathBuf> =
        by_stack.values().filter(|intents| intents.len() > 1).flatten().map(|path| (*path).clone()).collect();
    for (stack, same) in by_stack.iter().filter(|(_, same)| same.len() > 1) {
        for intent in same {
            let others = same.iter().filter(|other| other != &intent).filter_map(|other| glances.get(*other));
            let related: Vec<RelatedEntry> =
                others.map(|other| RelatedEntry { text: "and here".to_owned(), place: other.place.clone() }).collect();
            let entry = Entry {
                code: STACK_TWICE.name,
                severity: "error",
                message: format!("the stack `{stack}` is described by {} intents of this run", same.len()),
                place: glances.get(*intent).map(|glance| glance.place.clone()),
                related,
                help: Some("give each stack a name of its own".to_owned()),
                explanation: STACK_TWICE.explanation,
            };
            if fleet.part(vec![(*intent).clone()]).len() == 1 {
                refuse(intent, entry, Exit::Refused);
            }
        }
    }
    intents.into_iter().filter(|path| !twice.contains(path)).collect()
}
