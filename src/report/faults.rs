//! What faults leave of a stack -> text for people: the worst first, a line each, then what would cure it.

use std::fmt::Write as _;

use super::wrapped;
use crate::analyse::faults::consequence;
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
        text.push_str(&section("What would cure it", told.cures));
    }
    text
}

/// A list under a heading.
#[must_use]
pub fn section(heading: &str, items: &[String]) -> String {
    let mut text = format!("\n{heading}:\n");
    for item in items {
        let folded = wrapped(item, WIDTH - 2);
        for (at, line) in folded.lines().enumerate() {
            // writing to a String cannot fail
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
