//! What faults leave of a stack -> text for people: the worst first, a line each, then what would cure it.

use std::fmt::Write as _;

use super::wrapped;
use crate::model::document::{ColdStartEntry, FaultEntry};

/// The columns of what is said in whole sentences.
const WIDTH: usize = 80;

/// What is told.
#[derive(Clone, Debug)]
pub struct Told<'a> {
    /// The stack's name.
    pub stack: &'a str,
    /// The finished stack without any fault.
    pub healthy: &'a FaultEntry,
    /// Every single fault, the worst first.
    pub singles: &'a [FaultEntry],
    /// The pairs that do most harm, the worst first.
    pub pairs: &'a [FaultEntry],
    /// How many pairs were tried.
    pub tried: usize,
    /// How many of them do harm.
    pub harmful: usize,
    /// What would cure it.
    pub cures: &'a [String],
    /// What happens when the units come back one by one.
    pub cold_start: &'a ColdStartEntry,
}

/// Tells it.
#[must_use]
pub fn faults(told: &Told<'_>) -> String {
    let mut text = format!("{}, finished: {} single faults, the worst first\n", told.stack, told.singles.len());
    lines(&mut text, told, told.singles);
    // writing to a String cannot fail
    let _ = match (told.tried, told.harmful) {
        (0, _) => Ok(()),
        (tried, 0) => writeln!(text, "\nNone of the {tried} pairs of faults does harm."),
        (tried, harmful) => {
            let shown = told.pairs.len();
            let which = if shown < harmful { format!("; the worst {shown}") } else { String::new() };
            writeln!(text, "\n{harmful} of {tried} pairs of faults do harm{which}")
        }
    };
    lines(&mut text, told, told.pairs);
    text.push('\n');
    text.push_str(&wrapped(&cold_start(told.cold_start), WIDTH));
    if !told.cures.is_empty() {
        text.push_str("\nWhat would cure it:\n");
    }
    for cure in told.cures {
        let folded = wrapped(cure, WIDTH - 2);
        for (at, line) in folded.lines().enumerate() {
            let _ = writeln!(text, "{}{line}", if at == 0 { "- " } else { "  " });
        }
    }
    text
}

fn lines(text: &mut String, told: &Told<'_>, entries: &[FaultEntry]) {
    let names: Vec<String> = entries.iter().map(|entry| entry.faults.join(" + ")).collect();
    let width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0);
    for (name, entry) in names.iter().zip(entries) {
        let _ = writeln!(text, "  {name:<width$}  {}", consequence(told.healthy, entry));
    }
}

/// What follows from faults, in a few words.
#[must_use]
pub fn consequence(healthy: &FaultEntry, entry: &FaultEntry) -> String {
    let mut said = Vec::new();
    if entry.split_brain {
        let serving = entry.islands.iter().filter(|island| island.iter().any(|name| entry.in_service.contains(name)));
        let pieces: Vec<String> = serving.map(|island| island.join(", ")).collect();
        said.push(format!("split brain: {} serve side by side", pieces.join(" and ")));
    }
    if !entry.cut_off.is_empty() && !healthy.in_service.is_empty() {
        said.push(format!("cuts off {}", entry.cut_off.join(", ")));
    } else if entry.islands.len() > healthy.islands.len() && !entry.split_brain {
        let pieces: Vec<String> = entry.islands.iter().map(|island| island.join(", ")).collect();
        said.push(format!("{} pieces: {}", pieces.len(), pieces.join(" | ")));
    }
    let down: Vec<&str> =
        healthy.uplinks_up.iter().filter(|pair| !entry.uplinks_up.contains(pair)).map(String::as_str).collect();
    if !down.is_empty() {
        said.push(format!("{} down", down.join(", ")));
    }
    let new: Vec<&str> = entry
        .islands
        .iter()
        .zip(&entry.primary)
        .filter(|(island, primary)| serves(entry, island) && primary.is_some() && !healthy.primary.contains(primary))
        .filter_map(|(_, primary)| primary.as_deref())
        .collect();
    if !new.is_empty() {
        said.push(format!("{} leads", new.join(", ")));
    }
    if !entry.restarts_on_heal.is_empty() {
        said.push(format!("when it heals, {} restart", entry.restarts_on_heal.join(", ")));
    }
    if said.is_empty() { "no member is cut off, nothing else changes".to_owned() } else { said.join("; ") }
}

/// Whether an island is in service; where nothing is without an uplink, each counts.
fn serves(entry: &FaultEntry, island: &[String]) -> bool {
    entry.in_service.is_empty() || island.iter().any(|name| entry.in_service.contains(name))
}

fn cold_start(entry: &ColdStartEntry) -> String {
    let leaders = entry.leaders.join(", ");
    let restarts = match (entry.restarts, entry.every_order) {
        (0, true) => "no unit restarts because pieces merge".to_owned(),
        (count, true) => {
            let order = entry.order.join(", ");
            format!("{} at worst because pieces merge, for instance in the order {order}", times(count))
        }
        (count, false) => format!(
            "{} in the worst order that was tried because pieces merge; no order makes more than {}",
            times(count),
            entry.at_most
        ),
    };
    let how =
        if entry.every_order { "by the order in which" } else { "of the orders that were tried, by that in which" };
    format!("When the units come back one by one, {leaders} can end up leading, {how} they come; {restarts}.")
}

fn times(count: usize) -> String {
    if count == 1 { "one unit restarts once".to_owned() } else { format!("there are {count} restarts") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(islands: &[&[&str]], in_service: &[&str], cut_off: &[&str], split_brain: bool) -> FaultEntry {
        let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
        FaultEntry {
            faults: vec!["unit a".to_owned()],
            islands: islands.iter().map(|island| owned(island)).collect(),
            primary: islands.iter().map(|island| island.first().map(|name| (*name).to_owned())).collect(),
            in_service: owned(in_service),
            uplinks_up: vec!["yard".to_owned()],
            cut_off: owned(cut_off),
            split_brain,
            restarts_on_heal: Vec::new(),
        }
    }

    #[test]
    fn the_worst_is_said_first() {
        let healthy = entry(&[&["a", "b", "c"]], &["a", "b", "c"], &[], false);
        let split = entry(&[&["a"], &["b", "c"]], &["a", "b", "c"], &[], true);
        assert_eq!(consequence(&healthy, &split), "split brain: a and b, c serve side by side; b leads");
        let cut = FaultEntry { uplinks_up: Vec::new(), ..entry(&[&["a"], &["b", "c"]], &["a"], &["b", "c"], false) };
        assert_eq!(consequence(&healthy, &cut), "cuts off b, c; yard down");
        assert_eq!(consequence(&healthy, &healthy), "no member is cut off, nothing else changes");
        let alone = entry(&[&["a", "b", "c"]], &[], &["a", "b", "c"], false);
        let pieces = entry(&[&["a"], &["b", "c"]], &[], &["a", "b", "c"], false);
        assert_eq!(consequence(&alone, &pieces), "2 pieces: a | b, c; b leads");
    }
}
