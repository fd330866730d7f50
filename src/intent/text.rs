//! The kinds of text in an intent: what form each has, said once, for editors and diagnostics alike.
//!
//! The forms are checked by the schema that is derived from these types.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};

/// Characters that could add a line to a configuration or hide in one.
const CONTROL: &str = r"[\u0000-\u001f\u007f-\u009f\u2028\u2029]";

/// The name of a stack, a member or an uplink pair.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(title = "a name", description = "1 to 63 of letters, digits, `.`, `_` and `-`, a letter or a digit first")]
pub struct Name(#[schemars(regex(pattern = r"^[A-Za-z0-9][A-Za-z0-9._-]*$"), length(max = 63))] String);

/// A serial number as it stands on a label.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(
    title = "a serial number",
    description = "1 to 63 of letters, digits, `.`, `_` and `-`, a letter or a digit first"
)]
pub struct Serial(#[schemars(regex(pattern = r"^[A-Za-z0-9][A-Za-z0-9._-]*$"), length(max = 63))] String);

/// A MAC address, IEEE 802.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(
    title = "a MAC address",
    description = "six pairs of hexadecimal digits with `-` between, as 00-00-5E-00-53-01"
)]
pub struct Mac(#[schemars(regex(pattern = r"^[0-9A-Fa-f]{2}([-:][0-9A-Fa-f]{2}){5}$"))] String);

impl Mac {
    /// The address in capitals with hyphens, so that two spellings compare alike.
    #[must_use]
    pub fn canonical(&self) -> String {
        self.0.to_ascii_uppercase().replace(':', "-")
    }
}

/// One consent to a consequence that is otherwise refused.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(
    title = "a consent",
    description = "`restart:`, `new-primary:` or `split:` and a member's name, or `save-unsaved:` and the stack's name"
)]
pub struct Consent(
    #[schemars(regex(pattern = r"^(restart|new-primary|split|save-unsaved):[A-Za-z0-9][A-Za-z0-9._-]*$"))] String,
);

impl Consent {
    /// What is consented to, and for whom.
    #[must_use]
    pub fn parts(&self) -> (&str, &str) {
        self.0.split_once(':').unwrap_or((&self.0, ""))
    }
}

/// A moment, RFC 3339.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
#[schemars(title = "a moment", description = "date, time and offset as RFC 3339 writes them: 2026-12-05T01:00:00Z")]
pub struct Moment(
    #[schemars(regex(
        pattern = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$"
    ))]
    String,
);

impl Moment {
    /// Whether the calendar and the clock have this moment.
    #[must_use]
    pub fn exists(&self) -> bool {
        let number = |from: usize, to: usize| {
            self.0.get(from..to).and_then(|digits| digits.parse::<u32>().ok()).unwrap_or(u32::MAX)
        };
        let (year, month, day) = (number(0, 4), number(5, 7), number(8, 10));
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let days = match month {
            4 | 6 | 9 | 11 => 30,
            2 => 28 + u32::from(leap),
            1..=12 => 31,
            _ => 0,
        };
        let offset = self.0.get(self.0.len().saturating_sub(6)..).filter(|tail| tail.starts_with(['+', '-']));
        let offset_fits = offset.is_none_or(|tail| {
            let part = |from: usize, to: usize| {
                tail.get(from..to).and_then(|digits| digits.parse::<u32>().ok()).unwrap_or(u32::MAX)
            };
            part(1, 3) < 24 && part(4, 6) < 60
        });
        (1..=days).contains(&day) && number(11, 13) < 24 && number(14, 16) < 60 && number(17, 19) < 60 && offset_fits
    }
}

/// Text for people; no character in it can begin a new line.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FreeText(String);

impl FreeText {
    /// The text, if every character of it prints.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let hides = |c: char| c.is_control() || matches!(c, '\u{2028}' | '\u{2029}');
        (!text.contains(hides)).then(|| Self(text.to_owned()))
    }
}

impl JsonSchema for FreeText {
    fn schema_name() -> Cow<'static, str> {
        "FreeText".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "title": "free text on one line",
            "description": "characters that print: no line break and no other control character",
            "type": "string",
            "not": {"type": "string", "pattern": CONTROL},
        })
    }
}

/// Free data for templates, by key.
pub type Vars = BTreeMap<String, FreeValue>;

/// Any data; no text in it holds a control character.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FreeValue(pub serde_json::Value);

impl JsonSchema for FreeValue {
    fn schema_name() -> Cow<'static, str> {
        "FreeValue".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let (text, inner) = (generator.subschema_for::<FreeText>(), generator.subschema_for::<Self>());
        json_schema!({
            "title": "free data on one line",
            "description": "characters that print: no line break and no other control character",
            "not": {"type": "string", "pattern": CONTROL},
            "items": inner,
            "propertyNames": text,
            "additionalProperties": inner,
        })
    }
}

/// Gives a kind of text its plain form.
macro_rules! plain_text {
    ($($kind:ident),*) => {$(
        impl $kind {
            /// The text itself.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $kind {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

plain_text!(Name, Serial, Mac, Consent, Moment, FreeText);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_in_the_calendar() {
        for (text, exists) in [
            ("2028-02-29T00:00:00Z", true),
            ("2026-02-29T00:00:00Z", false),
            ("2026-12-05T24:00:00Z", false),
            ("2026-13-05T01:00:00Z", false),
            ("2026-12-05T01:00:00+01:30", true),
            ("2026-12-05T01:00:00-24:00", false),
        ] {
            assert_eq!(Moment(text.to_owned()).exists(), exists, "{text}");
        }
    }

    #[test]
    fn two_spellings_of_an_address_are_one() {
        assert_eq!(Mac("00:00:5e:00:53:01".to_owned()).canonical(), "00-00-5E-00-53-01");
    }
}
