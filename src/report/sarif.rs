//! Findings -> SARIF 2.1.0 (OASIS Standard, 2020), as pipelines show them beside the lines of a merge request.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::json::{Entry, Place};

/// Where the standard's schema is published.
const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json";

/// The findings of one run, with a line break at the end.
#[must_use]
pub fn sarif(entries: &[Entry]) -> String {
    let kinds: BTreeMap<&str, &str> = entries.iter().map(|entry| (entry.code, entry.explanation)).collect();
    let rules: Vec<Value> =
        kinds.iter().map(|(code, why)| json!({"id": code, "fullDescription": {"text": why}})).collect();
    let results: Vec<Value> = entries.iter().map(|entry| result(entry, &kinds)).collect();
    let driver = json!({
        "name": env!("CARGO_PKG_NAME"),
        "semanticVersion": env!("CARGO_PKG_VERSION"),
        "rules": rules,
    });
    let run = json!({"tool": {"driver": driver}, "columnKind": "unicodeCodePoints", "results": results});
    let log = json!({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]});
    format!("{log:#}\n")
}

fn result(entry: &Entry, kinds: &BTreeMap<&str, &str>) -> Value {
    let help = entry.help.as_ref().map_or_else(String::new, |help| format!("; {help}"));
    let mut result = json!({
        "ruleId": entry.code,
        "ruleIndex": kinds.keys().position(|code| *code == entry.code),
        "level": entry.severity,
        "message": {"text": format!("{}{help}", entry.message)},
    });
    if let (Some(place), Some(fields)) = (&entry.place, result.as_object_mut()) {
        fields.insert("locations".to_owned(), json!([location(place)]));
    }
    let related: Vec<Value> = entry
        .related
        .iter()
        .enumerate()
        .map(|(number, one)| {
            let Value::Object(mut fields) = location(&one.place) else { return Value::Null };
            fields.insert("id".to_owned(), json!(number));
            fields.insert("message".to_owned(), json!({"text": one.text}));
            Value::Object(fields)
        })
        .collect();
    if let (false, Some(fields)) = (related.is_empty(), result.as_object_mut()) {
        fields.insert("relatedLocations".to_owned(), json!(related));
    }
    result
}

fn location(place: &Place) -> Value {
    let region = json!({
        "startLine": place.line, "startColumn": place.column, "endLine": place.end.line, "endColumn": place.end.column,
    });
    json!({"physicalLocation": {"artifactLocation": {"uri": reference(&place.file)}, "region": region}})
}

/// A path as a URI reference (RFC 3986): what may not stand in one is written with percent signs.
fn reference(path: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte);
    let mut text = if path.starts_with('/') { "file://".to_owned() } else { String::new() };
    for byte in path.trim_start_matches("./").bytes() {
        if plain(byte) { text.push(char::from(byte)) } else { text.push_str(&format!("%{byte:02X}")) }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_references() {
        assert_eq!(reference("./site a/1:2.yaml"), "site%20a/1%3A2.yaml");
        assert_eq!(reference("/srv/ä.yaml"), "file:///srv/%C3%A4.yaml");
    }
}
