//! `plan.json` and `bundle.json`: written by code, so that programs can rely on them whatever the dialect.

use std::collections::BTreeMap;
use std::fmt::Write;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};

/// The name of the record inside a bundle.
pub const RECORD_FILE: &str = "bundle.json";
/// The name of the plan inside a bundle.
pub const PLAN_FILE: &str = "plan.json";
/// The version of the record's shape.
pub const RECORD_FORMAT: u32 = 1;

/// What a bundle was made from and what it holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BundleRecord {
    /// The version of this shape.
    pub format: u32,
    /// The stack's name.
    pub stack: String,
    /// What wrote the bundle: name and version.
    pub compiler: String,
    /// The dialect that it was rendered in.
    pub dialect: DialectRecord,
    /// `sha256:…` of every input, by what it was used as.
    pub inputs: BTreeMap<String, String>,
    /// `sha256:…` of every file, by its path inside the bundle; this record aside.
    pub files: BTreeMap<String, String>,
}

/// The dialect that a bundle was rendered in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DialectRecord {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// `sha256:…` over its sorted (path, content) pairs.
    pub digest: String,
}

/// `sha256:…` of these bytes.
#[must_use]
pub fn digest(bytes: &[u8]) -> String {
    let mut text = String::from("sha256:");
    for byte in Sha256::digest(bytes) {
        // writing to a String cannot fail
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// JSON for people and programs: a list or an object that fits on one line stands on one line.
pub(super) fn readable_json(value: &Value) -> String {
    let mut out = String::new();
    write_value(&mut out, value, 0, 0);
    out.push('\n');
    out
}

/// The widest line that small things are put on.
const LINE: usize = 116;

fn write_value(out: &mut String, value: &Value, indent: usize, used: usize) {
    let short = on_one_line(value);
    if indent + used + short.chars().count() <= LINE {
        out.push_str(&short);
        return;
    }
    match value {
        Value::Array(items) => {
            let parts = items.iter().map(|item| (String::new(), item));
            write_parts(out, '[', parts, ']', indent);
        }
        Value::Object(fields) => {
            let parts = fields.iter().map(|(name, item)| (format!("{}: ", Value::from(name.as_str())), item));
            write_parts(out, '{', parts, '}', indent);
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => out.push_str(&short),
    }
}

fn write_parts<'v>(
    out: &mut String,
    open: char,
    parts: impl Iterator<Item = (String, &'v Value)>,
    close: char,
    indent: usize,
) {
    out.push(open);
    for (position, (name, item)) in parts.enumerate() {
        out.push_str(if position == 0 { "\n" } else { ",\n" });
        out.extend(std::iter::repeat_n(' ', indent + 2));
        out.push_str(&name);
        write_value(out, item, indent + 2, name.chars().count());
    }
    out.push('\n');
    out.extend(std::iter::repeat_n(' ', indent));
    out.push(close);
}

fn on_one_line(value: &Value) -> String {
    match value {
        Value::Array(items) => format!("[{}]", items.iter().map(on_one_line).collect::<Vec<_>>().join(", ")),
        Value::Object(fields) => {
            let fields =
                fields.iter().map(|(name, item)| format!("{}: {}", Value::from(name.as_str()), on_one_line(item)));
            format!("{{{}}}", fields.collect::<Vec<_>>().join(", "))
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => value.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn small_things_stand_on_one_line() {
        let long = "x".repeat(100);
        let value = json!({"format": 1, "at": {"console": "ramp-3"}, "text": long});
        let text = readable_json(&value);
        assert!(text.starts_with("{\n  \"format\": 1,\n  \"at\": {\"console\": \"ramp-3\"},\n"), "{text}");
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), value);
    }

    #[test]
    fn digests_are_the_published_ones() {
        let empty = "sha256:e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(digest(b""), empty);
    }
}
