//! The shape of `dialect.yaml`, and the schema that editors use for it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{HardwareModel, OutputSpec};
use crate::intent::{FailureTimes, FreeText, HouseCheck, Name};
use crate::model::Traits;
use crate::yaml::shape::schema_of;

/// The manifest's name in a dialect's folder.
pub const MANIFEST: &str = "dialect.yaml";

/// The version of this shape.
pub const DIALECT_FORMAT: u32 = 1;

/// What a dialect says of itself.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "a dialect")]
pub(super) struct Manifest {
    /// The version of this shape: 1.
    #[serde(rename = "format")]
    #[schemars(extend("const" = DIALECT_FORMAT))]
    pub _format: u32,
    /// The dialect's name.
    pub name: Name,
    /// The dialect's own version.
    pub version: FreeText,
    /// What the dialect is for, in one line.
    pub summary: FreeText,
    /// The dialect from which every file and key comes that this one does not have.
    #[serde(default)]
    #[serde(rename = "extends")]
    pub _extends: Option<FreeText>,
    /// The traits of the platform.
    pub platform: Traits,
    /// The hardware catalogue.
    #[serde(default)]
    pub models: BTreeMap<String, HardwareModel>,
    /// The files that a bundle holds.
    #[serde(default)]
    pub outputs: Vec<OutputSpec>,
    /// The house's checks that no model knows.
    #[serde(default)]
    pub checks: Vec<HouseCheck>,
    /// Habits of the platform that no trait holds.
    #[serde(default)]
    pub unsupported: Vec<FreeText>,
    /// Operation kinds that need no text on this platform, and why.
    #[serde(default)]
    pub silent: BTreeMap<String, FreeText>,
    /// How often a cable with its two ports fails, and how long a repair takes.
    #[serde(default)]
    pub links: Option<FailureTimes>,
}

/// The schema of a manifest whose traits are plain values.
pub(super) fn plain_schema() -> Value {
    schema_of::<Manifest>()
}

/// The schema of a manifest as it is written: each trait plain, or with its source.
#[must_use]
pub fn dialect_schema() -> Value {
    let mut schema = plain_schema();
    let trust = json!({"$ref": "#/$defs/FreeText"});
    let of_traits = definitions_under_traits(&schema);
    // what a dialect leaves out may come from the one that it extends; whether it does is for the program to see
    if let Some(required) = schema.get_mut("required").and_then(Value::as_array_mut) {
        required.retain(|key| key != "platform");
    }
    let Some(definitions) = schema.get_mut("$defs").and_then(Value::as_object_mut) else { return schema };
    for (_, definition) in definitions.iter_mut().filter(|(name, _)| of_traits.contains(name)) {
        if let Some(definition) = definition.as_object_mut() {
            definition.remove("required");
        }
        let properties = definition.get_mut("properties").and_then(Value::as_object_mut);
        for (_, plain) in properties.into_iter().flatten() {
            let wrapped = json!({
                "type": "object",
                "properties": {"value": plain.clone(), "source": trust.clone(), "tried_on": trust.clone()},
                "required": ["value"],
                "additionalProperties": false,
            });
            *plain = json!({"anyOf": [plain.clone(), wrapped]});
        }
    }
    schema
}

/// The names of all definitions that the traits are made of.
fn definitions_under_traits(schema: &Value) -> Vec<String> {
    let mut found = vec!["Traits".to_owned()];
    let mut next = 0;
    while let Some(name) = found.get(next) {
        let text = schema.get("$defs").and_then(|all| all.get(name)).map(Value::to_string).unwrap_or_default();
        for piece in text.split("\"#/$defs/").skip(1) {
            let name = piece.split('"').next().unwrap_or("").to_owned();
            if !found.contains(&name) {
                found.push(name);
            }
        }
        next += 1;
    }
    found
}
