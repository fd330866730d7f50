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
    let start = out.len();
    let simple = !matches!(value, Value::Array(_) | Value::Object(_));
    let room = if simple { usize::MAX } else { LINE.saturating_sub(indent + used) };
    if write_short(out, value, start, room) {
        return;
    }
    out.truncate(start);
    match value {
        Value::Array(items) => write_parts(out, '[', items.iter().map(|item| (None, item)), ']', indent),
        Value::Object(fields) => {
            let parts = fields.iter().map(|(name, item)| (Some(name.as_str()), item));
            write_parts(out, '{', parts, '}', indent);
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

fn write_parts<'v>(
    out: &mut String,
    open: char,
    parts: impl Iterator<Item = (Option<&'v str>, &'v Value)>,
    close: char,
    indent: usize,
) {
    out.push(open);
    for (position, (name, item)) in parts.enumerate() {
        out.push_str(if position == 0 { "\n" } else { ",\n" });
        out.extend(std::iter::repeat_n(' ', indent + 2));
        let start = out.len();
        if let Some(name) = name {
            write_name(out, name);
        }
        let used = out.len() - start;
        write_value(out, item, indent + 2, used);
    }
    out.push('\n');
    out.extend(std::iter::repeat_n(' ', indent));
    out.push(close);
}

/// Writes on one line, and says whether it fitted; stops as soon as it does not.
fn write_short(out: &mut String, value: &Value, start: usize, room: usize) -> bool {
    let mut fits = true;
    match value {
        Value::Array(items) => {
            out.push('[');
            for (position, item) in items.iter().enumerate() {
                out.push_str(if position == 0 { "" } else { ", " });
                fits = fits && write_short(out, item, start, room);
                if !fits {
                    break;
                }
            }
            out.push(']');
        }
        Value::Object(fields) => {
            out.push('{');
            for (position, (name, item)) in fields.iter().enumerate() {
                out.push_str(if position == 0 { "" } else { ", " });
                write_name(out, name);
                fits = fits && write_short(out, item, start, room);
                if !fits {
                    break;
                }
            }
            out.push('}');
        }
        Value::String(text) => write_string(out, text),
        Value::Null | Value::Bool(_) | Value::Number(_) => {
            // writing to a String cannot fail
            let _ = write!(out, "{value}");
        }
    }
    fits && out.len() - start <= room
}

fn write_name(out: &mut String, name: &str) {
    write_string(out, name);
    out.push_str(": ");
}

/// Most texts hold nothing to escape, and are written at once: a plan is mostly texts.
fn write_string(out: &mut String, text: &str) {
    if text.bytes().any(|byte| byte < b' ' || matches!(byte, b'"' | b'\\' | 0x7f)) {
        let _ = write!(out, "{}", Value::from(text));
    } else {
        out.push('"');
        out.push_str(text);
        out.push('"');
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
