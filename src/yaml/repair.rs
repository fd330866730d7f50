//! A tree with flaws in its shape -> the tree that was most likely meant, if there is one.
//!
//! Only so that the rules which need a typed value can speak in the same run. What was repaired is an
//! error all the same; nothing is ever compiled from it.

use super::shape::{Flaw, FlawKind};
use super::{Data, Entry, Node};
use crate::diag::nearest;
use crate::source::Sources;

/// Repairs a tree in place. False if a flaw leaves open what was meant.
pub fn repair(root: &mut Node, flaws: &[Flaw], sources: &Sources) -> bool {
    // values first: a renamed key would lead their paths astray
    let (keys, values): (Vec<&Flaw>, Vec<&Flaw>) =
        flaws.iter().partition(|flaw| matches!(flaw.kind, FlawKind::UnknownKey(..)));
    values
        .into_iter()
        .chain(keys)
        .all(|flaw| root.at_mut(&flaw.path).is_some_and(|node| mend(node, &flaw.kind, sources)))
}

fn mend(node: &mut Node, kind: &FlawKind, sources: &Sources) -> bool {
    match kind {
        FlawKind::UnknownKey(key, Some(meant)) => rename(node, key, meant),
        FlawKind::UnknownKey(key, None) => remove(node, key),
        FlawKind::UnknownValue(words) => {
            let found = sources.slice(node.span);
            let meant = nearest(found, words.iter().map(String::as_str)).map(str::to_owned);
            meant.is_some_and(|meant| set_text(node, meant))
        }
        FlawKind::WrongType(wanted) if wanted == "string" && matches!(node.data, Data::Number(_) | Data::Bool(_)) => {
            let raw = sources.slice(node.span).to_owned();
            set_text(node, raw)
        }
        // still of its type, so that what else is wrong with it can be said
        FlawKind::WrongForm | FlawKind::Bounds => true,
        FlawKind::MissingKey(key) => stand_in(node, key),
        FlawKind::WrongType(_) => false,
    }
}

/// A missing value stands at its map's head, where nothing more is said of it.
fn stand_in(node: &mut Node, key: &str) -> bool {
    let place = node.head();
    if let Data::Map(entries) = &mut node.data {
        let value = Node { span: place, data: Data::Refused };
        entries.push(Entry { key: key.to_owned(), key_span: place, value });
    }
    true
}

fn set_text(node: &mut Node, text: String) -> bool {
    node.data = Data::Text(text);
    true
}

fn rename(node: &mut Node, key: &str, meant: &str) -> bool {
    if let Data::Map(entries) = &mut node.data
        && let Some(entry) = entries.iter_mut().find(|entry| entry.key == key)
    {
        meant.clone_into(&mut entry.key);
    }
    true
}

fn remove(node: &mut Node, key: &str) -> bool {
    if let Data::Map(entries) = &mut node.data {
        entries.retain(|entry| entry.key != key);
    }
    true
}
