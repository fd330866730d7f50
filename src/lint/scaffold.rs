//! A dialect to start from -> the files of a new one on top of it, with a remark at every place to edit.
//!
//! What a trait means is said by its own documentation, and what a template sees by the scope that the lint tries it
//! with, so that neither can drift from the program.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::Value;

use super::scopes::{Scope, exercises};
use crate::platform::{MANIFEST, Platform};

/// The files of a new dialect: it renders at once, as the one below it does.
#[must_use]
pub fn files(name: &str, base: &Platform, extends: &str) -> BTreeMap<String, String> {
    let mut files = BTreeMap::from([(MANIFEST.to_owned(), manifest(name, base, extends))]);
    let seen = seen(base);
    let words = base.files.iter().filter(|(path, _)| path.starts_with("steps/") || path.starts_with("facts/"));
    for (path, text) in words {
        let sees = seen.get(path).map_or_else(String::new, |names| format!("; it sees {}", names.join(", ")));
        files.insert(path.clone(), format!("{{# edit: your platform's words{sees} #}}\n{text}"));
    }
    files
}

/// The variables of each template of words.
fn seen(base: &Platform) -> BTreeMap<String, Vec<String>> {
    let mut seen: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for exercise in exercises(base) {
        let value = match &exercise.scope {
            Scope::Step(scope) => serde_json::to_value(scope),
            Scope::Fact(fact) => serde_json::to_value(fact),
        };
        let Ok(Value::Object(fields)) = value else { continue };
        let names = fields.keys().filter(|name| !["kind", "fact"].contains(&name.as_str())).cloned();
        seen.entry(exercise.template).or_insert_with(|| names.collect());
    }
    seen
}

fn manifest(name: &str, base: &Platform, extends: &str) -> String {
    let mut text = format!(
        "# Every place marked `edit` is yours. What is not here comes from {extends}. For an editor's help:\n\
         # `ringwright schema dialect`.\n\
         format: 1\nname: {name}\nversion: \"0.1.0\"\n\
         summary: a dialect on top of {extends}      # edit: what it is for, in one line\n\
         extends: {extends}\n\n\
         # edit: the habits of your platform. Each value may be written\n\
         # {{value: …, source: \"manual, page\", tried_on: \"version, date\"}}; what is not tried is said to be so.\n\
         platform:\n"
    );
    let schema = crate::platform::dialect_schema();
    let traits = serde_json::to_value(&base.traits).unwrap_or(Value::Null);
    let Value::Object(traits) = traits else { return text };
    let properties = schema.pointer("/$defs/Traits/properties");
    for (key, value) in &traits {
        let about = properties.and_then(|all| all.get(key)).and_then(description);
        if let Some(about) = about {
            let _ = writeln!(text, "  # {}", about.replace('\n', " "));
        }
        for line in choices(&schema, &format!("Traits/properties/{key}"), "") {
            let _ = writeln!(text, "  #   {line}");
        }
        // JSON is YAML too
        match value {
            Value::Object(parts) if parts.values().all(Value::is_object) => {
                let _ = writeln!(text, "  {key}:");
                for (part, value) in parts {
                    let _ = writeln!(text, "    {part}: {value}");
                }
            }
            _ => {
                let _ = writeln!(text, "  {key}: {value}");
            }
        }
    }
    text += "\n# edit: the hardware. Of each model: its ports with their speed in Gbit/s, which of them can stack, its weight.\n\
             # models:\n\
             #   our-24:\n\
             #     ports:\n\
             #       - {first: \"1\", last: \"24\", gbps: 10}\n\
             #       - {first: \"25\", last: \"26\", gbps: 100, stacking: true}\n\
             #     weight_kg: 6\n\n\
             # edit: the files of a bundle. A list here takes the place of the whole list of the dialect below.\n\
             # outputs:\n\
             #   - {template: runbook.md.j2, one_per: stack, path: runbook.md, kind: markdown}\n\n\
             # edit: checks that no model knows, printed before and after each change.\n\
             # checks:\n\
             #   - {when: before-and-after, text: \"count of learnt addresses\", compare: true}\n\n\
             # edit: operations that take no text on your platform, each with the reason.\n\
             # silent:\n\
             #   save: the platform keeps what it is told at once\n\n\
             # edit: habits of your platform that none of the traits above holds.\n\
             # unsupported:\n\
             #   - \"a unit that is too warm gives up the lead\"\n";
    text
}

/// What a schema says of a property, itself or in the first of the shapes that it may have.
fn description(property: &Value) -> Option<String> {
    let own = property.get("description").and_then(Value::as_str);
    let inner = || property.get("anyOf")?.as_array()?.iter().find_map(|one| one.get("description")?.as_str());
    own.or_else(inner).map(str::to_owned)
}

/// The words that each part of a trait may be, part by part.
fn choices(schema: &Value, definition: &str, part: &str) -> Vec<String> {
    let Some(found) = schema.pointer(&format!("/$defs/{definition}")) else { return Vec::new() };
    let plain = found.pointer("/anyOf/0").unwrap_or(found);
    let target = |value: &Value| value.get("$ref")?.as_str()?.strip_prefix("#/$defs/").map(str::to_owned);
    if let Some(name) = target(plain).or_else(|| target(plain.get("items")?)) {
        return choices(schema, &name, part);
    }
    let words = plain.get("oneOf").and_then(Value::as_array).into_iter().flatten();
    let words: Vec<&str> = words.filter_map(|one| one.get("const")?.as_str()).collect();
    if !words.is_empty() {
        let named = if part.is_empty() { String::new() } else { format!("{part}: ") };
        return vec![format!("{named}{}", words.join(", "))];
    }
    let parts = plain.get("properties").and_then(Value::as_object).into_iter().flatten();
    parts.flat_map(|(key, _)| choices(schema, &format!("{definition}/properties/{key}"), key)).collect()
}
