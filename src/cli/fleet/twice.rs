//! The intents of one run -> which of them describe a stack as it stands, and which describe one stack twice.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::super::glance::Glance;
use super::super::open::is_standard_input;
use super::{Exit, Intents, plain};
use crate::diag::Code;
use crate::report::{Entry, RelatedEntry};

/// One stack, two intents.
pub const STACK_TWICE: Code = Code {
    name: "stack-twice",
    explanation: "Two intents of one run describe a stack of the same name, and their bundles would go to the same folder. \
None of them is compiled, and `check` refuses them too where one was found in a folder. Rename one; or, if one is the stack \
as it stands, name it under `change.from` of the other: an intent that is found in a folder and that another one begins \
from is not compiled for itself.",
};

/// Beside an intent that cannot be read.
pub const BESIDE_UNREAD: Code = Code {
    name: "beside-unread",
    explanation: "In a folder, an intent that another one begins from is the stack as it stands, and is not compiled for \
itself. Another intent of the folder cannot be read, so what it begins from is not known, and nothing in the folder is \
compiled: a bundle that builds the stack anew must not take the place of the one that changes it. Mend the other intent, or \
name this one by itself.",
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

/// Refuses all intents of this run that describe one stack, and those found beside one that cannot be read; gives those
/// that are left.
pub(in super::super) fn apart(
    intents: Vec<PathBuf>,
    glances: &Glances,
    named: &BTreeSet<PathBuf>,
    mut refuse: impl FnMut(&Path, Entry, Exit),
) -> Vec<PathBuf> {
    let folder = |path: &Path| path.parent().map(Path::to_owned);
    let unread: BTreeSet<Option<PathBuf>> = intents
        .iter()
        .filter(|path| !glances.contains_key(*path) && !is_standard_input(path))
        .map(|path| folder(path))
        .collect();
    let mut refused = of_one_stack(&intents, glances, &mut refuse);
    for intent in intents.iter().filter(|path| unread.contains(&folder(path)) && !named.contains(*path)) {
        let Some(glance) = glances.get(intent).filter(|_| !refused.contains(intent)) else { continue };
        let message = format!("whether `{}` is a stack to come, or the one that stands, cannot be told", glance.stack);
        refuse(intent, entry(&BESIDE_UNREAD, message, Some(glance), Vec::new()), Exit::Refused);
        refused.insert(intent.clone());
    }
    intents.into_iter().filter(|path| !refused.contains(path)).collect()
}

/// Refuses all intents that describe one stack; gives them.
pub(in super::super) fn of_one_stack(
    intents: &[PathBuf],
    glances: &Glances,
    mut refuse: impl FnMut(&Path, Entry, Exit),
) -> BTreeSet<PathBuf> {
    let mut by_stack: BTreeMap<&str, Vec<&PathBuf>> = BTreeMap::new();
    for intent in intents {
        if let Some(glance) = glances.get(intent) {
            by_stack.entry(&glance.stack).or_default().push(intent);
        }
    }
    let mut refused = BTreeSet::new();
    for (stack, same) in by_stack.iter().filter(|(_, same)| same.len() > 1) {
        for intent in same {
            let others = same.iter().filter(|other| other != &intent).filter_map(|other| glances.get(*other));
            let related = others.map(|other| RelatedEntry { text: "and here".to_owned(), place: other.place.clone() });
            let elsewhere: Vec<String> =
                same.iter().filter(|other| other != &intent).map(|other| format!("`{}`", other.display())).collect();
            let message = format!("the stack `{stack}` is described here and in {}", elsewhere.join(", "));
            refuse(intent, entry(&STACK_TWICE, message, glances.get(*intent), related.collect()), Exit::Refused);
            refused.insert((*intent).clone());
        }
    }
    refused
}

fn entry(code: &'static Code, message: String, glance: Option<&Glance>, related: Vec<RelatedEntry>) -> Entry {
    let help = match code.name == STACK_TWICE.name {
        true => "give each stack a name of its own",
        false => "mend the other intent in this folder first",
    };
    Entry {
        code: code.name,
        severity: "error",
        message,
        place: glance.map(|glance| glance.place.clone()),
        related,
        help: Some(help.to_owned()),
        explanation: code.explanation,
    }
}
