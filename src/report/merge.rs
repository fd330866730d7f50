//! What became of each intent -> one text in Markdown for a merge request: what will happen to which live stack.

use std::fmt::Write as _;

use super::json::Entry;
use super::summary::Facts;

/// What became of one intent.
#[derive(Clone, Debug)]
pub enum Fate {
    /// Its stack was compiled.
    Compiled(Box<Facts>),
    /// Nothing that it is made from is different from the last run.
    AsItWas,
    /// It was refused, or could not be read or written.
    Refused,
}

/// One intent.
#[derive(Clone, Debug)]
pub struct Row {
    /// Its path.
    pub intent: String,
    /// The stack, if so much could be read.
    pub stack: Option<String>,
    /// What became of it.
    pub fate: Fate,
    /// What was found.
    pub entries: Vec<Entry>,
}

/// The whole text.
#[must_use]
pub fn merge_request(rows: &[Row]) -> String {
    let mut text = "# Changes of switch stacks\n\n".to_owned();
    let of = |wanted: fn(&Fate) -> bool| rows.iter().filter(move |row| wanted(&row.fate)).collect::<Vec<_>>();
    let refused = of(|fate| matches!(fate, Fate::Refused));
    let compiled = of(|fate| matches!(fate, Fate::Compiled(_)));
    let same = of(|fate| matches!(fate, Fate::AsItWas));
    // writing to a String cannot fail
    let _ = writeln!(text, "{}; {} refused; {} as before.\n", counted(compiled.len()), refused.len(), same.len());
    if !refused.is_empty() {
        text.push_str("## Refused\n\n");
        for row in refused {
            let _ = writeln!(text, "- **{}** ({})", escaped(name(row)), escaped(&row.intent));
            for entry in row.entries.iter().filter(|entry| entry.severity == "error") {
                let line = entry.place.as_ref().map_or_else(String::new, |at| format!("line {}: ", at.line));
                let help = entry.help.as_ref().map_or_else(String::new, |help| format!(" ({help})"));
                let _ = writeln!(text, "  - {line}{}{}", escaped(&entry.message), escaped(&help));
            }
        }
        text.push('\n');
    }
    if !compiled.is_empty() {
        text.push_str("| stack | what changes | live restarts | minutes, at worst | ring open | consents |\n");
        text.push_str("|---|---|---|---|---|---|\n");
    }
    for row in &compiled {
        let Fate::Compiled(facts) = &row.fate else { continue };
        let cells = [
            escaped(name(row)),
            escaped(&facts.sentence),
            or_none(&facts.restarts),
            format!("{}, {}", facts.likely, facts.worst),
            if facts.open == "0" { "no".to_owned() } else { format!("{} minutes", facts.open) },
            or_none(&facts.consents),
        ];
        let _ = writeln!(text, "| {} |", cells.join(" | "));
    }
    let warned = compiled.iter().filter(|row| row.entries.iter().any(|entry| entry.severity == "warning"));
    for (at, row) in warned.enumerate() {
        if at == 0 {
            text.push_str("\n## Worth knowing\n\n");
        }
        for entry in row.entries.iter().filter(|entry| entry.severity == "warning") {
            let _ = writeln!(text, "- {}: {}", escaped(name(row)), escaped(&entry.message));
        }
    }
    text
}

fn counted(stacks: usize) -> String {
    if stacks == 1 { "1 stack compiled".to_owned() } else { format!("{stacks} stacks compiled") }
}

fn name(row: &Row) -> &str {
    row.stack.as_deref().unwrap_or(&row.intent)
}

fn or_none(names: &[String]) -> String {
    if names.is_empty() { "none".to_owned() } else { escaped(&names.join(", ")) }
}

/// What Markdown would read as a mark, with a backslash before it; a line break is a blank.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for one in text.chars() {
        if matches!(one, '\\' | '`' | '*' | '[' | ']' | '<' | '>' | '|' | '&' | '_' | '#' | '~') {
            out.push('\\');
        }
        out.push(if one.is_control() { ' ' } else { one });
    }
    out
}
