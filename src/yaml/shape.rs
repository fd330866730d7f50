//! A tree against a JSON Schema that was derived from a type -> diagnostics, each at its key or value.
//!
//! What a value should look like stands in the schema itself (`title`, `description`), so that an
//! editor and a diagnostic say the same.

use jsonschema::error::{ValidationError, ValidationErrorKind};
use jsonschema::paths::{Location, LocationSegment};
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde_json::Value;

use super::draft::reads_alike;
use super::{Data, Node, Segment};
use crate::diag::{Code, Diagnostic, Findings, listed, nearest};
use crate::source::{Sources, Span};

/// A key that does not exist.
pub const UNKNOWN_KEY: Code = Code {
    name: "unknown-key",
    explanation: "A key is not one of those that may stand here. It is refused and not skipped, because a misspelt key \
that is skipped changes the outcome without a word. Free data for templates goes under `vars`.",
};
/// A key that must be there.
pub const MISSING_KEY: Code =
    Code { name: "missing-key", explanation: "A key that has no default was left out of a map." };
/// A value of another type.
pub const WRONG_TYPE: Code = Code {
    name: "wrong-type",
    explanation: "A value is of another type than the key takes. The usual case is a number without quotes where text is \
wanted: ports and serial numbers are text, since `1/2` and `0007` are. Put them in quotes.",
};
/// A word that is not one of those allowed.
pub const UNKNOWN_VALUE: Code = Code {
    name: "unknown-value",
    explanation: "The key takes one of a few words or numbers, and this is another one.",
};
/// Text that is not of the form wanted.
pub const WRONG_FORM: Code = Code {
    name: "wrong-form",
    explanation: "A text is not of the form that its key takes. Names and serial numbers begin with a letter or a digit \
and hold letters, digits, `.`, `_` and `-`, at most 63 in all, so that they are safe in file names and in configuration. \
Free text holds no control character, so that no value can add a line to a configuration.",
};
/// A number that is too small or too large.
pub const OUT_OF_BOUNDS: Code =
    Code { name: "out-of-bounds", explanation: "A number is smaller or larger than its key takes on any platform." };
/// A list that is too short or too long.
pub const WRONG_COUNT: Code = Code {
    name: "wrong-count",
    explanation: "A list has fewer or more items than its key takes: an uplink pair has two to eight legs, a cable two ends.",
};

/// The most faults in one map, and in all, that are said: a file with more is no intent with slips in it.
const MOST: usize = 1000;

/// A fault in the shape of a tree.
#[derive(Debug)]
pub struct Flaw {
    /// Where in the tree.
    pub path: Vec<Segment>,
    /// What kind.
    pub kind: FlawKind,
}

/// What kind of fault in the shape.
#[derive(Debug)]
pub enum FlawKind {
    /// A key that does not exist, and the free key that was most likely meant.
    UnknownKey(String, Option<String>),
    /// A key that must be there.
    MissingKey(String),
    /// A word that is none of these.
    UnknownValue(Vec<String>),
    /// Another type.
    WrongType(String),
    /// Text of another form.
    WrongForm,
    /// A number too small or too large, or a list too short or too long.
    Bounds,
}

/// A schema ready for use.
pub struct Shape {
    schema: Value,
    validator: Option<jsonschema::Validator>,
}

/// The JSON Schema (2020-12) of a type, as files are written: defaults may be left out.
#[must_use]
pub fn schema_of<T: JsonSchema>() -> Value {
    let mut derived = SchemaSettings::draft2020_12().into_generator().into_root_schema_for::<T>().to_value();
    drop_number_formats(&mut derived);
    let Value::Object(mut keys) = derived else { return derived };
    let head = ["$schema", "title", "description"].map(|key| (key.to_owned(), keys.shift_remove(key)));
    let named = head.into_iter().filter_map(|(key, value)| Some((key, value?)));
    Value::Object(named.chain(keys.into_iter().collect::<Vec<_>>()).collect())
}

/// `uint16` and the like are names of Rust types, which strict validators of other makes refuse.
fn drop_number_formats(schema: &mut Value) {
    match schema {
        Value::Object(keys) => {
            let names_a_type = |format: &Value| {
                format
                    .as_str()
                    .is_some_and(|name| ["uint", "int", "double", "float"].iter().any(|kind| name.starts_with(kind)))
            };
            if keys.get("format").is_some_and(names_a_type) {
                keys.shift_remove("format");
            }
            keys.values_mut().for_each(drop_number_formats);
        }
        Value::Array(items) => items.iter_mut().for_each(drop_number_formats),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

impl Shape {
    /// Compiles a schema, once a process.
    #[must_use]
    pub fn new(schema: Value) -> Self {
        // an engine whose time grows with the text alone, and that compiles in a tenth of the time
        let plain = jsonschema::PatternOptions::regex();
        let options =
            if reads_alike(&schema) { jsonschema::draft7::options() } else { jsonschema::draft202012::options() };
        let validator = options.with_pattern_options(plain).build(&schema).ok();
        Self { schema, validator }
    }

    /// Reports everything about the tree that the schema does not allow, and returns it.
    pub fn check(&self, root: &Node, sources: &Sources, findings: &mut Findings) -> Vec<Flaw> {
        let instance = root.to_json();
        let Some(validator) = &self.validator else {
            findings.error(Diagnostic::error(&WRONG_FORM, root.head(), "the schema for this file cannot be used"));
            return Vec::new();
        };
        let errors: Vec<ValidationError<'_>> = validator.iter_errors(&instance).take(MOST).collect();
        let mut reader = Reader { schema: &self.schema, root, sources, findings, flaws: Vec::new() };
        // unknown keys first: a key that is missing because it is misspelt is one fault, not two
        let (unknown, other): (Vec<_>, Vec<_>) =
            errors.iter().partition(|error| matches!(error.kind(), ValidationErrorKind::AdditionalProperties { .. }));
        for error in unknown.into_iter().chain(other) {
            reader.take(error);
        }
        reader.flaws
    }
}

struct Reader<'a> {
    schema: &'a Value,
    root: &'a Node,
    sources: &'a Sources,
    findings: &'a mut Findings,
    flaws: Vec<Flaw>,
}

impl Reader<'_> {
    fn take(&mut self, error: &ValidationError<'_>) {
        let path = segments(error.instance_path());
        let Some(node) = self.root.at(&path) else { return };
        if node.data == Data::Refused {
            return;
        }
        match error.kind() {
            ValidationErrorKind::AdditionalProperties { unexpected } => {
                unexpected.iter().take(MOST).for_each(|key| self.unknown_key(&path, node, key, error));
            }
            ValidationErrorKind::Required { property } => self.missing_key(path, node, property.as_str().unwrap_or("")),
            ValidationErrorKind::AnyOf { context } => self.any_of(path, node, context),
            ValidationErrorKind::OneOfNotValid { context } => {
                let words = context.iter().flatten().filter_map(|inner| match inner.kind() {
                    ValidationErrorKind::Constant { expected_value } => Some(word(expected_value)),
                    _ => None,
                });
                self.unknown_value(path, node, words.collect());
            }
            ValidationErrorKind::Enum { options } => {
                let words = options.as_array().into_iter().flatten().map(word).collect();
                self.unknown_value(path, node, words);
            }
            ValidationErrorKind::Constant { expected_value } => {
                self.unknown_value(path, node, vec![word(expected_value)])
            }
            ValidationErrorKind::Type { .. } => self.wrong_type(path, node, error),
            ValidationErrorKind::Pattern { .. } | ValidationErrorKind::Not { .. } => {
                self.wrong_form(path, node.span, error)
            }
            ValidationErrorKind::PropertyNames { error: inner } => self.wrong_form(path, node.head(), inner),
            _ => self.bounds(path, node, error),
        }
    }

    fn unknown_key(&mut self, path: &[Segment], node: &Node, key: &str, error: &ValidationError<'_>) {
        let legal =
            parent_of(self.schema, error).and_then(|schema| schema.get("properties")).and_then(Value::as_object);
        let legal: Vec<&str> = legal.into_iter().flatten().map(|(name, _)| name.as_str()).collect();
        let meant = nearest(key, legal.iter().copied().filter(|name| node.get(name).is_none()));
        let place = node.entry(key).map_or(node.span, |entry| entry.key_span);
        let diagnostic = Diagnostic::error(&UNKNOWN_KEY, place, format!("`{key}` is not a key that may stand here"));
        let help = meant
            .map_or_else(|| format!("use {}", listed(legal.iter().copied(), "or")), |meant| format!("write `{meant}`"));
        self.findings.error(diagnostic.help(help));
        self.flaws
            .push(Flaw { path: path.to_vec(), kind: FlawKind::UnknownKey(key.to_owned(), meant.map(str::to_owned)) });
    }

    fn missing_key(&mut self, path: Vec<Segment>, node: &Node, key: &str) {
        let misspelt = self.flaws.iter().any(|flaw| {
            flaw.path == path && matches!(&flaw.kind, FlawKind::UnknownKey(_, Some(meant)) if meant == key)
        });
        if misspelt {
            return;
        }
        let message = format!("the key `{key}` is missing here");
        self.findings.error(Diagnostic::error(&MISSING_KEY, node.head(), message).help(format!("add `{key}:`")));
        self.flaws.push(Flaw { path, kind: FlawKind::MissingKey(key.to_owned()) });
    }

    /// An optional value: the alternative that is not `null` says what is wrong.
    fn any_of(&mut self, path: Vec<Segment>, node: &Node, context: &[Vec<ValidationError<'static>>]) {
        match context.iter().find(|errors| !errors.is_empty()) {
            Some(errors) => errors.iter().for_each(|inner| self.take(inner)),
            None => self.flaws.push(Flaw { path, kind: FlawKind::WrongType(describe(node).to_owned()) }),
        }
    }

    fn unknown_value(&mut self, path: Vec<Segment>, node: &Node, words: Vec<String>) {
        let found = self.sources.slice(node.span).to_owned();
        let legal = listed(words.iter().map(String::as_str), "or");
        let message = match node.data {
            Data::Null => format!("a value is missing here, and {legal} would be right"),
            Data::List(_) | Data::Map(_) => format!("{} stands where {legal} would be right", describe(node)),
            Data::Bool(_) | Data::Number(_) | Data::Text(_) | Data::Refused => {
                format!("`{found}` stands where {legal} would be right")
            }
        };
        let mut diagnostic = Diagnostic::error(&UNKNOWN_VALUE, node.head(), message);
        if let Some(meant) = nearest(&found, words.iter().map(String::as_str)) {
            diagnostic = diagnostic.help(format!("write `{meant}`"));
        }
        self.findings.error(diagnostic);
        self.flaws.push(Flaw { path, kind: FlawKind::UnknownValue(words) });
    }

    fn wrong_type(&mut self, path: Vec<Segment>, node: &Node, error: &ValidationError<'_>) {
        let schema = parent_of(self.schema, error);
        let wanted = schema.and_then(|schema| schema.get("type")).and_then(|name| match name {
            Value::Array(all) => all.iter().find(|one| *one != "null").and_then(Value::as_str),
            other => other.as_str(),
        });
        let wanted = wanted.unwrap_or("object");
        let found = describe(node);
        let diagnostic =
            Diagnostic::error(&WRONG_TYPE, node.head(), format!("{found} stands where {} is wanted", in_words(wanted)));
        let raw = self.sources.slice(node.span);
        let help = match (&node.data, wanted) {
            (Data::Number(_) | Data::Bool(_), "string") => Some(format!("put it in quotes: \"{raw}\"")),
            (Data::Null, _) => Some("give it a value".to_owned()),
            (Data::Text(text), "integer" | "number") if text.parse::<f64>().is_ok() => {
                Some(format!("take the quotes away: {text}"))
            }
            (Data::Bool(_) | Data::Number(_) | Data::Text(_), "array") => Some(format!("make it a list: [{raw}]")),
            _ => None,
        };
        self.findings.error(match help {
            Some(help) => diagnostic.help(help),
            None => diagnostic,
        });
        self.flaws.push(Flaw { path, kind: FlawKind::WrongType(wanted.to_owned()) });
    }

    fn wrong_form(&mut self, path: Vec<Segment>, place: Span, error: &ValidationError<'_>) {
        let schema = parent_of(self.schema, error);
        let text = |key: &str| schema.and_then(|schema| schema.get(key)).and_then(Value::as_str);
        let found = error.instance().as_str().unwrap_or("").escape_debug().to_string();
        let title = text("title").unwrap_or("a value of the form wanted here");
        let diagnostic = Diagnostic::error(&WRONG_FORM, place, format!("`{found}` is not {title}"));
        self.findings.error(match text("description") {
            Some(help) => diagnostic.help(format!("use {help}")),
            None => diagnostic,
        });
        self.flaws.push(Flaw { path, kind: FlawKind::WrongForm });
    }

    fn bounds(&mut self, path: Vec<Segment>, node: &Node, error: &ValidationError<'_>) {
        let (code, wanted) = match error.kind() {
            ValidationErrorKind::Minimum { limit } => (&OUT_OF_BOUNDS, format!("at least {limit}")),
            ValidationErrorKind::Maximum { limit } => (&OUT_OF_BOUNDS, format!("at most {limit}")),
            ValidationErrorKind::ExclusiveMinimum { limit } => (&OUT_OF_BOUNDS, format!("more than {limit}")),
            ValidationErrorKind::ExclusiveMaximum { limit } => (&OUT_OF_BOUNDS, format!("less than {limit}")),
            ValidationErrorKind::MinItems { limit } => (&WRONG_COUNT, format!("at least {limit} items")),
            ValidationErrorKind::MaxItems { limit } => (&WRONG_COUNT, format!("at most {limit} items")),
            ValidationErrorKind::MinLength { limit } => (&WRONG_COUNT, format!("at least {limit} characters")),
            ValidationErrorKind::MaxLength { limit } => (&WRONG_COUNT, format!("at most {limit} characters")),
            _ => (&WRONG_FORM, "another value".to_owned()),
        };
        let found = match &node.data {
            Data::List(items) => format!("a list of {}", items.len()),
            _ => format!("`{}`", self.sources.slice(node.span)),
        };
        let message = format!("{found} stands where {wanted} would be right");
        self.findings.error(Diagnostic::error(code, node.head(), message));
        self.flaws.push(Flaw { path, kind: FlawKind::Bounds });
    }
}

/// The part of the schema whose keyword failed.
fn parent_of<'a>(schema: &'a Value, error: &ValidationError<'_>) -> Option<&'a Value> {
    let pointer = error.schema_path().as_str();
    schema.pointer(pointer.rsplit_once('/').map_or("", |(parent, _)| parent))
}

fn segments(location: &Location) -> Vec<Segment> {
    let owned = |segment: LocationSegment<'_>| match segment {
        LocationSegment::Property(key) => Segment::Key(key.into_owned()),
        LocationSegment::Index(index) => Segment::Index(index),
    };
    location.iter().map(owned).collect()
}

fn word(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn describe(node: &Node) -> &'static str {
    match node.data {
        Data::Null | Data::Refused => "nothing",
        Data::Bool(_) => "true or false",
        Data::Number(_) => "a number",
        Data::Text(_) => "text",
        Data::List(_) => "a list",
        Data::Map(_) => "a map",
    }
}

fn in_words(kind: &str) -> &'static str {
    match kind {
        "string" => "text",
        "integer" => "a whole number",
        "number" => "a number",
        "boolean" => "true or false",
        "array" => "a list",
        _ => "a map of keys and values",
    }
}
