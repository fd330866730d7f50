//! Words that must not stand in certain files.

use super::files::{File, code};

/// Where one of some words stands in the production code of files.
pub fn found(files: &[File], words: &[&str], applies: impl Fn(&str) -> bool) -> Vec<String> {
    let mut faults = Vec::new();
    for file in files.iter().filter(|file| applies(&file.path)) {
        for (number, line) in code(file) {
            let hits = words.iter().filter(|word| line.contains(**word));
            faults.extend(hits.map(|word| format!("{}:{number}: `{word}`", file.path)));
        }
    }
    faults
}

/// Names of changes, and of the types that know one, in the planner; in its comments too. What an
/// operation, a collection or an iterator is called (`insert`, `chain`, `replace`) is no such name.
pub fn kinds_of_change(files: &[File]) -> Vec<String> {
    let names = [
        "insert into",
        "inserting",
        "insertion",
        "insert_into",
        "add_at",
        "adding at",
        "closing",
        "close_ring",
        "close the",
        "open_ring",
        "opening a ring",
        "replaced",
        "replacement",
        "renumber",
        "hand over",
        "hand-over",
        "hand_over",
        "handover",
        "into a ring",
        "chain's",
        "Delta",
        "delta.",
        "Topology",
        "ChangeKind",
        "new-primary",
    ];
    let mut faults = Vec::new();
    for file in files.iter().filter(|file| file.path.starts_with("src/plan/")) {
        for (number, line) in file.text.lines().enumerate() {
            let hits = names.iter().filter(|name| line.contains(**name));
            faults.extend(hits.map(|name| format!("{}:{}: `{name}` names a change", file.path, number + 1)));
        }
    }
    faults
}

/// Folders that exist on one machine only.
pub fn machine_paths(files: &[File]) -> Vec<String> {
    let mut faults = Vec::new();
    for folder in ["work", "tmp", "home", "root"] {
        for file in files {
            for before in ["\"", "'", " ", "(", "`"] {
                if file.text.contains(&format!("{before}/{folder}/")) {
                    faults.push(format!("{}: names /{folder}/", file.path));
                }
            }
        }
    }
    faults
}
