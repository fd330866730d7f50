//! A context -> the same with a text of its own in each place, so that a file shows which values came out, and where.
//!
//! Words that templates compare (kinds, phases, roles) stay. A step is the same step wherever the context holds it:
//! in its move, in its segment, in a way back; its parts have the same tokens there.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Number, Value};

use crate::render::Context;

/// Keys whose texts templates compare, or that are drawn and not said.
const KEPT: [&str; 15] = [
    "kind",
    "phase",
    "status",
    "role",
    "end",
    "row",
    "slip",
    "is",
    "until",
    "fact",
    "topology",
    "bracket",
    "number",
    "save_scope",
    "activate_scope",
];

/// What is drawn and not said: numbers and plain answers of a drawing, in which a word in their place means nothing.
const DRAWN: &str = "picture";

/// Keys whose numbers are those of steps.
const STEP_NUMBERS: [&str; 6] = ["number", "first_step", "last_step", "first", "last", "then"];

/// Values that files are named for: they hold letters, digits and few signs, whoever writes them.
const IN_PATHS: [&str; 4] = ["ways_back.*.range", "step.file.path", "way.step.file.path", "segments.*.files.*"];

/// What is added to a step's number, so that it is found in a text.
pub(super) const STEP_BASE: u64 = 40_000;

/// A value of the context by its token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Token {
    /// What stands in its place.
    pub(super) text: String,
    /// Where it is, every index a `*`; parts of steps begin with `step.`, those of ways back with `way.step.`.
    pub(super) path: String,
}

/// A context of which every value can be told.
#[derive(Clone, Debug)]
pub(super) struct Marked {
    /// The context.
    pub(super) context: Context,
    /// Its tokens, in the order in which the context holds them.
    pub(super) tokens: Vec<Token>,
}

/// Puts a token in the place of each value; `after` is added to each.
pub(super) fn marked(context: &Context, after: &str) -> Option<Marked> {
    let mut value = serde_json::to_value(context).ok()?;
    let keys: Vec<String> = context.units.iter().map(|unit| unit.key.clone()).collect();
    let mut walk = Walk { keys, known: BTreeMap::new(), tokens: Vec::new(), seen: BTreeSet::new(), after };
    walk.mark(&mut value, &At::default());
    let mut context: Context = serde_json::from_value(value).ok()?;
    // a step is at its own place there too
    context.regroup();
    Some(Marked { context, tokens: walk.tokens })
}

/// A place in the context.
#[derive(Clone, Default)]
struct At {
    /// Keys and indices from the root, or from the step.
    exact: Vec<String>,
    /// The same with `*` for each index.
    general: Vec<String>,
    /// The way back that it is in.
    way: Option<String>,
    /// The last key.
    key: String,
}

impl At {
    fn key(&self, key: &str) -> Self {
        let mut next = self.clone();
        next.exact.push(key.to_owned());
        next.general.push(key.to_owned());
        next.key = key.to_owned();
        next
    }

    fn index(&self, index: usize) -> Self {
        let mut next = self.clone();
        next.exact.push(index.to_string());
        next.general.push("*".to_owned());
        if self.general == ["ways_back"] {
            next.way = Some(index.to_string());
        }
        next
    }

    /// From here on everything is a step's.
    fn step(&self, number: &Value) -> Self {
        let (name, exact) = match &self.way {
            Some(way) => ("way.step", format!("way {way} step {number}")),
            None => ("step", format!("step {number}")),
        };
        Self { exact: vec![exact], general: vec![name.to_owned()], way: self.way.clone(), key: String::new() }
    }
}

struct Walk<'a> {
    keys: Vec<String>,
    known: BTreeMap<String, String>,
    tokens: Vec<Token>,
    seen: BTreeSet<String>,
    after: &'a str,
}

impl Walk<'_> {
    fn mark(&mut self, value: &mut Value, at: &At) {
        match value {
            Value::Object(fields) => {
                let is_step = fields.contains_key("lines") && fields.contains_key("operation");
                let at = if is_step { at.step(fields.get("number").unwrap_or(&Value::Null)) } else { at.clone() };
                for (key, inner) in fields.iter_mut().filter(|(key, _)| *key != DRAWN || !at.exact.is_empty()) {
                    self.mark(inner, &at.key(key));
                }
            }
            Value::Array(items) => {
                items.iter_mut().enumerate().for_each(|(index, item)| self.mark(item, &at.index(index)))
            }
            Value::String(text) => *text = self.text(text, at),
            Value::Number(number) => {
                if let Some(plain) = number.as_u64().filter(|_| is_step_number(at)) {
                    *number = Number::from(plain + STEP_BASE);
                    self.note(number.to_string(), at);
                }
            }
            Value::Null | Value::Bool(_) => {}
        }
    }

    fn text(&mut self, text: &str, at: &At) -> String {
        if KEPT.contains(&at.key.as_str()) || matches!(text, "" | "0") {
            return text.to_owned();
        }
        if let Some(unit) = self.keys.iter().position(|key| key == text.trim_end()) {
            return unit_token(unit);
        }
        let next = format!("T{}q", self.known.len());
        let token = self.known.entry(at.exact.join("/")).or_insert(next).clone();
        self.note(token.clone(), at);
        let after = if at.key == "name" || IN_PATHS.contains(&at.general.join(".").as_str()) { "" } else { self.after };
        format!("{token}{after}")
    }

    fn note(&mut self, text: String, at: &At) {
        let path = at.general.join(".");
        if self.seen.insert(format!("{text} {path}")) {
            self.tokens.push(Token { text, path });
        }
    }
}

/// What stands for a unit's key, wherever it is.
pub(super) fn unit_token(position: usize) -> String {
    format!("U{position}q")
}

/// Whether a number is a step's: those of moves and files are counted otherwise.
fn is_step_number(at: &At) -> bool {
    let whose = at.general.iter().rev().nth(1).map_or("", String::as_str);
    match at.key.as_str() {
        "number" => matches!(whose, "step" | "way.step" | "next"),
        "step" => whose == "turn_back",
        key => STEP_NUMBERS.contains(&key),
    }
}

/// Whether a text holds a token by itself.
pub(super) fn holds(text: &str, token: &str) -> bool {
    places(text, token).next().is_some()
}

/// Where a text holds a token by itself.
pub(super) fn places<'t>(text: &'t str, token: &'t str) -> impl Iterator<Item = usize> + 't {
    let part = |c: char| c.is_ascii_alphanumeric();
    text.match_indices(token).map(|(at, _)| at).filter(move |at| {
        let before = text.get(..*at).and_then(|before| before.chars().next_back());
        let after = text.get(at + token.len()..).and_then(|after| after.chars().next());
        !before.is_some_and(part) && !after.is_some_and(part)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_no_part_of_another() {
        assert!(holds("put T1q there", "T1q"));
        assert!(!holds("put T11q there", "T1q"));
        assert!(holds("T1q,T11q", "T11q"));
        assert_eq!(places("40001.40002 and 140001", "40001").count(), 1);
    }
}
