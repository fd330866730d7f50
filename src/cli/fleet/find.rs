//! Files, folders and `-` -> the intents that are meant, in a stable order; and one part of them, for one job of many.

use std::collections::BTreeSet;
use std::fmt;
use std::path::{Component, Path, PathBuf};
use std::str::FromStr;

use ignore::WalkBuilder;

use super::super::open::is_standard_input;
use crate::render::digest;

/// One part of a fleet: `K/N`, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in super::super) struct Shard {
    part: u64,
    of: u64,
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("`{text}` is no part of a fleet; the second of three is `2/3`");
        let (part, of) = text.split_once('/').ok_or_else(wrong)?;
        let (Ok(part), Ok(of)) = (part.parse(), of.parse()) else { return Err(wrong()) };
        if part == 0 || part > of {
            return Err(wrong());
        }
        Ok(Self { part, of })
    }
}

impl Shard {
    /// Whether an intent belongs to this part: by its path as it was found, the same on every machine.
    fn holds(self, path: &Path) -> bool {
        let hash = digest(plain(path).to_string_lossy().as_bytes());
        let number = hash.get("sha256:".len()..).and_then(|digits| u64::from_str_radix(digits.get(..15)?, 16).ok());
        number.unwrap_or_default() % self.of == self.part - 1
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.part, self.of)
    }
}

/// The intents that were found.
#[derive(Debug, Default)]
pub(in super::super) struct Found {
    /// Their paths: in the order in which they were named, those of a folder sorted, each once.
    pub(in super::super) intents: Vec<PathBuf>,
    /// Those that a person named one by one.
    pub(in super::super) named: BTreeSet<PathBuf>,
    /// What could not be looked at, and why.
    pub(in super::super) unreadable: Vec<String>,
}

/// All intents that these paths mean.
pub(in super::super) fn intents(paths: &[PathBuf]) -> Found {
    let (mut found, mut seen) = (Found::default(), BTreeSet::new());
    for path in paths {
        if is_standard_input(path) || !path.is_dir() {
            found.named.insert(path.clone());
            found.intents.extend(seen.insert(plain(path)).then(|| path.clone()));
            continue;
        }
        let mut inside = Vec::new();
        for entry in WalkBuilder::new(path).require_git(false).build() {
            match entry {
                Ok(entry) if is_intent(entry.path()) && !entry.path().is_dir() => inside.push(entry.into_path()),
                Ok(_) => {}
                Err(error) => found.unreadable.push(error.to_string()),
            }
        }
        inside.sort();
        found.intents.extend(inside.into_iter().filter(|path| seen.insert(plain(path))));
    }
    found
}

/// Those of one part.
pub(in super::super) fn part(intents: Vec<PathBuf>, shard: Option<Shard>) -> Vec<PathBuf> {
    match shard {
        Some(shard) => intents.into_iter().filter(|path| shard.holds(path)).collect(),
        None => intents,
    }
}

/// Whether a file in a folder is an intent, by its name.
fn is_intent(path: &Path) -> bool {
    let name = path.file_name().map(|name| name.to_string_lossy()).unwrap_or_default();
    name == "intent.yaml" || name.ends_with(".intent.yaml")
}

/// A path without detours, so that two ways to write it are one; links are not looked at.
pub(in super::super) fn plain(path: &Path) -> PathBuf {
    let mut made = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir if matches!(made.components().next_back(), Some(Component::Normal(_))) => {
                made.pop();
            }
            Component::ParentDir | Component::Prefix(_) | Component::RootDir | Component::Normal(_) => made.push(part),
        }
    }
    made
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn a_folder_gives_its_intents_once_and_sorted() {
        let place = tempfile::tempdir().unwrap();
        for name in ["b/intent.yaml", "a/quay.intent.yaml", "a/notes.yaml", "left/intent.yaml", ".hidden/intent.yaml"] {
            let path = place.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, "format: 1\n").unwrap();
        }
        fs::write(place.path().join(".gitignore"), "left/\n").unwrap();
        let named = place.path().join("a/quay.intent.yaml");
        let found = intents(&[place.path().to_owned(), named.clone(), PathBuf::from("-")]);
        assert_eq!(found.intents, [named.clone(), place.path().join("b/intent.yaml"), PathBuf::from("-")]);
        assert!(found.named.contains(&named) && found.unreadable.is_empty());
    }

    #[test]
    fn parts_hold_each_intent_once() {
        let all: Vec<PathBuf> = (0..100).map(|number| PathBuf::from(format!("site/{number}/intent.yaml"))).collect();
        let of = |text: &str| part(all.clone(), Some(text.parse().unwrap()));
        let mut together = [of("1/3"), of("2/3"), of("3/3")].concat();
        assert!(together.len() == 100 && of("1/3").len() > 20 && of("2/3").len() > 20);
        together.sort();
        together.dedup();
        assert_eq!(together.len(), 100);
        // another way to write the same path
        assert_eq!(part(vec!["./site/x/../7/intent.yaml".into()], Some("1/1".parse().unwrap())).len(), 1);
        for wrong in ["0/3", "4/3", "1", "1/0", "a/b", ""] {
            assert!(wrong.parse::<Shard>().is_err(), "{wrong}");
        }
    }
}
