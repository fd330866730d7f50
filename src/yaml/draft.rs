//! Whether a JSON Schema means the same under draft 7 as under 2020-12.
//!
//! The library that validates compiles a draft's meta-schema before it looks at ours: eight documents for
//! 2020-12, which cost more than all the rest together, one for draft 7.

use serde_json::Value;

/// Keywords that both drafts read alike.
const ALIKE: [&str; 30] = [
    "$comment",
    "$ref",
    "$schema",
    "additionalProperties",
    "allOf",
    "anyOf",
    "const",
    "default",
    "description",
    "enum",
    "exclusiveMaximum",
    "exclusiveMinimum",
    "format",
    "items",
    "maxItems",
    "maxLength",
    "maximum",
    "minItems",
    "minLength",
    "minimum",
    "not",
    "oneOf",
    "pattern",
    "properties",
    "propertyNames",
    "required",
    "title",
    "type",
    "uniqueItems",
    "$defs",
];
/// What may stand beside a reference: draft 7 reads nothing else there.
const FOR_PEOPLE: [&str; 4] = ["$ref", "default", "description", "title"];

/// Whether both drafts accept the same documents by this schema. No, if in doubt.
pub(super) fn reads_alike(schema: &Value) -> bool {
    let Value::Object(keys) = schema else { return matches!(schema, Value::Bool(_)) };
    let refers = keys.contains_key("$ref");
    keys.iter().all(|(key, value)| {
        let known = if refers { FOR_PEOPLE.contains(&key.as_str()) } else { ALIKE.contains(&key.as_str()) };
        known
            && match (key.as_str(), value) {
                ("$defs" | "properties", Value::Object(inner)) => inner.values().all(reads_alike),
                ("allOf" | "anyOf" | "oneOf", Value::Array(inner)) => inner.iter().all(reads_alike),
                ("items" | "additionalProperties" | "not" | "propertyNames", inner) => reads_alike(inner),
                _ => true,
            }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intent::Intent;
    use crate::yaml::shape::schema_of;
    use serde_json::json;

    #[test]
    fn the_schema_of_an_intent_does() {
        let mut schema = schema_of::<Intent>();
        assert!(reads_alike(&schema));
        schema["$defs"]["Window"]["minProperties"] = json!(1);
        assert!(!reads_alike(&schema));
    }

    #[test]
    fn what_only_one_of_them_reads_is_found() {
        for other in [
            json!({"properties": {"a": {"prefixItems": [true]}}}),
            json!({"items": {"$ref": "#/$defs/b", "minimum": 1}}),
            json!({"anyOf": [{"unevaluatedProperties": false}]}),
            json!({"items": [true]}),
        ] {
            assert!(!reads_alike(&other), "{other}");
        }
    }
}
