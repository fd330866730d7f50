//! YAML text -> [`Node`], a tree that knows the place of every key and value; then its shape checked
//! by a JSON Schema; then a typed value.
//!
//! Beside the flow: intents, dialects and captures are all read this way. A tree has no aliases, no
//! tags and no second document: what a reader sees on the page is what is there.

mod build;
mod draft;
pub mod repair;
mod scalar;
pub mod shape;
pub mod typed;

use crate::diag::Code;
use crate::source::Span;

pub use build::{MAX_BYTES, read};

/// The codes of this stage.
pub const CODES: &[&Code] = &[
    &build::NOT_YAML,
    &build::TOO_BIG,
    &build::TOO_DEEP,
    &build::DUPLICATE_KEY,
    &build::NOT_PLAIN,
    &build::SECOND_DOCUMENT,
    &build::KEY_NOT_TEXT,
    &scalar::NUMBER_FORM,
    &shape::UNKNOWN_KEY,
    &shape::MISSING_KEY,
    &shape::WRONG_TYPE,
    &shape::UNKNOWN_VALUE,
    &shape::WRONG_FORM,
    &shape::OUT_OF_BOUNDS,
    &shape::WRONG_COUNT,
];

/// One value and where it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where: a scalar's text, or a list or map from its first to its last character.
    pub span: Span,
    /// What.
    pub data: Data,
}

/// What a node holds: the values that JSON has.
#[derive(Clone, Debug, PartialEq)]
pub enum Data {
    /// Nothing: `null`, `~` or no text at all.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A number.
    Number(serde_json::Number),
    /// Text.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// Keys and values, in the order of the file, no key twice.
    Map(Vec<Entry>),
    /// Something that was refused; whatever else is wrong with it is not said.
    Refused,
}

/// A key with its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The key.
    pub key: String,
    /// Where the key stands.
    pub key_span: Span,
    /// The value.
    pub value: Node,
}

/// One step of a path into a tree.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Segment {
    /// Into a map.
    Key(String),
    /// Into a list.
    Index(usize),
}

impl Node {
    /// The entry of a map under a key.
    #[must_use]
    pub fn entry(&self, key: &str) -> Option<&Entry> {
        match &self.data {
            Data::Map(entries) => entries.iter().find(|entry| entry.key == key),
            Data::Null | Data::Bool(_) | Data::Number(_) | Data::Text(_) | Data::List(_) | Data::Refused => None,
        }
    }

    /// The value under a key.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Self> {
        self.entry(key).map(|entry| &entry.value)
    }

    /// The text, if it is one.
    #[must_use]
    pub fn as_text(&self) -> Option<&str> {
        match &self.data {
            Data::Text(text) => Some(text),
            Data::Null | Data::Bool(_) | Data::Number(_) | Data::List(_) | Data::Map(_) | Data::Refused => None,
        }
    }

    /// The node at the end of a path.
    #[must_use]
    pub fn at(&self, path: &[Segment]) -> Option<&Self> {
        path.iter().try_fold(self, |node, segment| match (segment, &node.data) {
            (Segment::Key(key), _) => node.get(key),
            (Segment::Index(index), Data::List(items)) => items.get(*index),
            (Segment::Index(_), _) => None,
        })
    }

    /// The node at the end of a path, to be changed.
    pub fn at_mut(&mut self, path: &[Segment]) -> Option<&mut Self> {
        path.iter().try_fold(self, |node, segment| match (segment, &mut node.data) {
            (Segment::Key(key), Data::Map(entries)) => {
                entries.iter_mut().find(|entry| entry.key == *key).map(|entry| &mut entry.value)
            }
            (Segment::Index(index), Data::List(items)) => items.get_mut(*index),
            (Segment::Key(_) | Segment::Index(_), _) => None,
        })
    }

    /// A place that stands for the whole node on one line: a scalar itself, a map's first key.
    #[must_use]
    pub fn head(&self) -> Span {
        match &self.data {
            Data::Map(entries) => entries.first().map_or(self.span, |entry| entry.key_span),
            Data::List(items) => items.first().map_or(self.span, Self::head),
            Data::Null | Data::Bool(_) | Data::Number(_) | Data::Text(_) | Data::Refused => self.span,
        }
    }

    /// The same data without places.
    #[must_use]
    pub fn to_json(&self) -> serde_json::Value {
        use serde_json::Value;
        match &self.data {
            Data::Null | Data::Refused => Value::Null,
            Data::Bool(value) => Value::Bool(*value),
            Data::Number(number) => Value::Number(number.clone()),
            Data::Text(text) => Value::String(text.clone()),
            Data::List(items) => Value::Array(items.iter().map(Self::to_json).collect()),
            Data::Map(entries) => {
                Value::Object(entries.iter().map(|entry| (entry.key.clone(), entry.value.to_json())).collect())
            }
        }
    }
}
