//! Data for templates and finished files -> the same, checked: no value can add a line, each file is what it says.

use serde::Serialize;
use serde_json::Value;

use super::engine::is_plain;
use super::error::{RenderCode, RenderError};
use super::markup;
use crate::lower::Site;
use crate::platform::OutputKind;

/// Data as JSON.
///
/// # Errors
/// Data that JSON cannot hold.
pub(super) fn as_json(data: &impl Serialize) -> Result<Value, RenderError> {
    serde_json::to_value(data)
        .map_err(|error| RenderError::new(RenderCode::PlanIncomplete, format!("as JSON: {error}")))
}

/// Data for the template engine.
pub(super) fn scope(data: impl Serialize) -> minijinja::Value {
    minijinja::Value::from(minijinja::value::Serde(data))
}

/// Checks that no text in the plan or beside it holds a control character.
///
/// # Errors
/// The first text that holds one, by its place.
pub(super) fn check_texts(plan: &Value, site: &Site) -> Result<(), RenderError> {
    check_text("the plan", plan)?;
    let text = |text: &Option<String>| text.clone().map_or(Value::Null, Value::from);
    check_text("description", &text(&site.description))?;
    check_text("ticket", &text(&site.ticket))?;
    check_text("window", &text(&site.window.clone().map(|(start, _)| start)))?;
    check_text("hands", &text(&site.hands.clone().map(|(start, _)| start)))?;
    for check in site.checks_before.iter().chain(&site.checks_after) {
        check_text("a check", &Value::from(check.text.as_str()))?;
    }
    site.witnesses.iter().try_for_each(|address| check_text("a witness", &Value::from(address.as_str())))?;
    for (name, value) in &site.vars {
        check_text(&format!("vars of the stack, {name:?}"), value)?;
    }
    for (member, vars) in &site.member_vars {
        for (name, value) in vars {
            check_text(&format!("vars of {member}, {name:?}"), value)?;
        }
    }
    for cable in &site.cables {
        let at = format!("cable {} to {}", cable.ends[0], cable.ends[1]);
        [&cable.label, &cable.medium, &cable.serial].into_iter().try_for_each(|part| check_text(&at, &text(part)))?;
    }
    for ((uplink, leg), far) in &site.far_ends {
        let at = format!("far end of {uplink} at {leg}");
        check_text(&at, &Value::from(far.device.as_str()))?;
        check_text(&at, &text(&far.port))?;
    }
    Ok(())
}

fn check_text(what: &str, value: &Value) -> Result<(), RenderError> {
    let mut path = Vec::new();
    match find_control(value, &mut path) {
        None => Ok(()),
        Some(found) => {
            let at = if path.is_empty() { String::new() } else { format!(" at `{}`", path.join(".").escape_debug()) };
            let message = format!("{what}{at} holds the control character U+{found:04X}; free text is one line");
            Err(RenderError::new(RenderCode::ControlCharacter, message))
        }
    }
}

/// The first control character, and the path to it.
fn find_control(value: &Value, path: &mut Vec<String>) -> Option<u32> {
    let bad = |text: &str| text.chars().find(|one| !is_plain(*one)).map(u32::from);
    match value {
        Value::Null | Value::Bool(_) | Value::Number(_) => None,
        Value::String(text) => bad(text),
        Value::Array(items) => items.iter().enumerate().find_map(|(at, item)| {
            let found = find_control(item, path);
            if found.is_some() {
                path.insert(0, at.to_string());
            }
            found
        }),
        Value::Object(fields) => fields.iter().find_map(|(name, item)| {
            let in_name = bad(name);
            if in_name.is_some() { in_name } else { within(name, item, path) }
        }),
    }
}

fn within(part: &str, value: &Value, path: &mut Vec<String>) -> Option<u32> {
    let found = find_control(value, path);
    if found.is_some() {
        path.insert(0, part.to_owned());
    }
    found
}

/// Checks that a finished file is what its kind says.
///
/// # Errors
/// The file is not.
pub(super) fn check_file(kind: OutputKind, text: &str) -> Result<(), RenderError> {
    let malformed = |message: String| Err(RenderError::new(RenderCode::OutputMalformed, message));
    match kind {
        OutputKind::Text | OutputKind::Markdown => {
            match text.chars().find(|one| !is_plain(*one) && !matches!(one, '\n' | '\t')) {
                Some(found) => malformed(format!("the file holds the control character U+{:04X}", u32::from(found))),
                None => Ok(()),
            }
        }
        OutputKind::Json => match serde_json::from_str::<serde::de::IgnoredAny>(text) {
            Ok(_) => Ok(()),
            Err(error) => malformed(format!("the file is not JSON: {error}")),
        },
        OutputKind::Csv => {
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
            match reader.records().find_map(Result::err) {
                Some(error) => malformed(format!("the file is not CSV of one column count: {error}")),
                None => Ok(()),
            }
        }
        OutputKind::Html | OutputKind::Xml | OutputKind::Svg => markup::check(kind, text).or_else(malformed),
    }
}

/// How many cells each row of a table has.
#[must_use]
pub fn csv_columns(text: &str) -> Vec<usize> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    reader.records().map(|row| row.map_or(0, |row| row.len())).collect()
}

/// Checks that an output's path stays inside the bundle's folder: plain parts between single slashes.
///
/// # Errors
/// What is wrong with the path.
pub(super) fn check_path(path: &str) -> Result<(), RenderError> {
    let fault = |why: &str| Err(RenderError::new(RenderCode::OutputPath, format!("`{}` {why}", path.escape_debug())));
    if path.is_empty() {
        return fault("is empty; a path inside the bundle's folder is needed");
    }
    if path.starts_with('/') {
        return fault("is absolute; a path inside the bundle's folder is needed");
    }
    if path.chars().any(|one| !is_plain(one) || matches!(one, '\\' | ':')) {
        return fault("holds a backslash, a colon or a control character");
    }
    for part in path.split('/') {
        match part {
            "" => return fault("has an empty part"),
            "." | ".." => return fault("has a part `.` or `..`; it must stay inside the bundle's folder"),
            _ if part.trim() != part || part.ends_with('.') => {
                return fault("has a part that begins or ends with a blank, or ends with a dot");
            }
            _ if part.len() > 200 => return fault("has a part of more than 200 bytes"),
            _ => {}
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_control_character_is_found_with_its_place() {
        let fault = check_text("it", &json!({"units": [{"vars": {"rack": "B07\nrestart this unit"}}]})).unwrap_err();
        assert_eq!(fault.code, RenderCode::ControlCharacter);
        assert!(fault.message.contains("it at `units.0.vars.rack` holds the control character U+000A"), "{fault}");
        assert!(check_text("it", &json!({"line\u{2028}": 1})).is_err());
        assert!(check_text("it", &json!({"a": ["plain é 漢"]})).is_ok());
    }

    #[test]
    fn paths_stay_inside() {
        for good in ["runbook.md", "bootstrap/ramp-3/10-member-id.txt", "..a/b..c"] {
            assert!(check_path(good).is_ok(), "{good}");
        }
        for bad in ["", "/etc/x", "a//b", "a/", "../x", "a/../../x", "./a", "a\\b", "c:x", "a\nb", " a", "a.", "a/b "] {
            assert_eq!(check_path(bad).unwrap_err().code, RenderCode::OutputPath, "{bad}");
        }
    }

    #[test]
    fn files_are_what_they_say() {
        assert!(check_file(OutputKind::Text, "a\tb\n").is_ok());
        assert!(check_file(OutputKind::Text, "a\u{1b}[2J").is_err());
        assert!(check_file(OutputKind::Markdown, "a\rb").is_err());
        assert!(check_file(OutputKind::Json, "{\"a\": 1}").is_ok());
        assert!(check_file(OutputKind::Json, "{\"a\": 1,}").is_err());
        assert!(check_file(OutputKind::Csv, "a,b\n\"c,d\",e\n").is_ok());
        assert!(check_file(OutputKind::Csv, "a,b\nc\n").is_err());
        assert!(check_file(OutputKind::Html, "<p/>").is_ok());
        assert_eq!(check_file(OutputKind::Svg, "<svg>").unwrap_err().code, RenderCode::OutputMalformed);
    }
}
