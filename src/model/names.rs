//! Names and numbers that have a meaning of their own: parsed once, trusted afterwards.
//!
//! Deliberately absent: any check against a platform's ranges; those need [`Traits`](super::Traits)
//! and belong to `lower`.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// "a", "a and b", "a, b and c".
#[must_use]
pub fn list<T: AsRef<str>>(names: &[T]) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A member's number in its stack.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct MemberId(pub u16);

/// A unit's weight in an election; whether a high or a low one wins is a trait.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Priority(pub u32);

impl fmt::Display for MemberId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for Priority {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A port as the front of the unit numbers it ("49", "1/2"); ordered as people count: 9 before 10.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, JsonSchema)]
#[serde(transparent)]
#[schemars(
    title = "a port",
    description = "1 to 32 of letters, digits, `/`, `.`, `_` and `-`, a letter or a digit first"
)]
pub struct PortName(#[schemars(regex(pattern = r"^[A-Za-z0-9][A-Za-z0-9/._-]*$"), length(max = 32))] pub String);

impl PortName {
    /// The port of this name.
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self(name.to_owned())
    }

    /// The name as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl<'de> Deserialize<'de> for PortName {
    /// Holds the form: a name that carried a line break would carry it into what is pasted.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        let known = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
        let fits = name.len() <= 32 && name.chars().all(known) && name.starts_with(|c: char| c.is_ascii_alphanumeric());
        if fits { Ok(Self(name)) } else { Err(serde::de::Error::custom(format!("{name:?} is no name of a port"))) }
    }
}

impl fmt::Display for PortName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl PartialOrd for PortName {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for PortName {
    fn cmp(&self, other: &Self) -> Ordering {
        natural_order(&self.0, &other.0)
    }
}

/// Compares two texts with runs of digits taken as numbers: `9` before `10`, `1/9` before `1/10`.
#[must_use]
pub fn natural_order(left: &str, right: &str) -> Ordering {
    let (mut a, mut b) = (left, right);
    while !a.is_empty() && !b.is_empty() {
        let ((x, rest_a), (y, rest_b)) = (leading_run(a), leading_run(b));
        let both_numbers = x.starts_with(|c: char| c.is_ascii_digit()) && y.starts_with(|c: char| c.is_ascii_digit());
        let order = if both_numbers { compare_digits(x, y) } else { x.cmp(y) };
        if order != Ordering::Equal {
            return order;
        }
        (a, b) = (rest_a, rest_b);
    }
    a.len().cmp(&b.len()).then_with(|| left.cmp(right))
}

/// The first run of digits, or of anything else, and what follows it.
fn leading_run(text: &str) -> (&str, &str) {
    let digits = text.bytes().next().is_some_and(|byte| byte.is_ascii_digit());
    // where digits begin or end, a character does
    let end = text.bytes().position(|byte| byte.is_ascii_digit() != digits).unwrap_or(text.len());
    text.split_at(end)
}

/// Digits as a number of any length, without leading zeros.
fn compare_digits(x: &str, y: &str) -> Ordering {
    let (x, y) = (x.trim_start_matches('0'), y.trim_start_matches('0'));
    x.len().cmp(&y.len()).then_with(|| x.cmp(y))
}

/// A duration in hundredths of a minute: exact, so that two equal plans cost the same.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Minutes(i64);

impl Minutes {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// So many hundredths of a minute.
    #[must_use]
    pub const fn hundredths(value: i64) -> Self {
        Self(value)
    }

    /// The duration as hundredths of a minute.
    #[must_use]
    pub const fn as_hundredths(self) -> i64 {
        self.0
    }

    /// So many times this duration.
    #[must_use]
    pub const fn times(self, count: i64) -> Self {
        Self(self.0 * count)
    }
}

impl std::ops::Add for Minutes {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::AddAssign for Minutes {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl std::iter::Sum for Minutes {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::ZERO, |sum, one| sum + one)
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.0 / 100, self.0 % 100);
        match rest {
            0 => write!(f, "{whole}"),
            tens if tens % 10 == 0 => write!(f, "{whole}.{}", tens / 10),
            _ => write!(f, "{whole}.{rest:02}"),
        }
    }
}

impl Serialize for Minutes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.0 % 100 == 0 {
            serializer.serialize_i64(self.0 / 100)
        } else {
            serializer.serialize_f64(self.0 as f64 / 100.0)
        }
    }
}

impl<'de> Deserialize<'de> for Minutes {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let value = f64::deserialize(deserializer)?;
        let hundredths = (value * 100.0).round();
        let exact = (value * 100.0 - hundredths).abs() < 1e-6;
        if !(0.0..=1e12).contains(&value) || !exact {
            return Err(serde::de::Error::custom(format!(
                "{value} is not a number of minutes: not negative, at most two decimals"
            )));
        }
        Ok(Self(hundredths as i64))
    }
}

impl JsonSchema for Minutes {
    fn schema_name() -> Cow<'static, str> {
        "Minutes".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"type": "number", "minimum": 0, "description": "minutes, at most two decimals"})
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_is_read_has_the_form_of_one() {
        let read = |text: &str| serde_json::from_str::<PortName>(text).is_ok();
        assert!(read("\"1/49\"") && read("\"a.b-c_d\""));
        assert!(!read("\"\"") && !read("\"/1\"") && !read("\"49\\nx\"") && !read(&format!("\"{}\"", "1".repeat(33))));
    }

    #[test]
    fn ports_are_ordered_as_people_count() {
        let mut ports: Vec<PortName> = ["1/10", "10", "9", "1/9", "a2", "a10"].map(PortName::new).to_vec();
        ports.sort();
        let sorted: Vec<&str> = ports.iter().map(PortName::as_str).collect();
        assert_eq!(sorted, ["1/9", "1/10", "9", "10", "a2", "a10"]);
    }

    #[test]
    fn minutes_are_exact_and_short() {
        assert_eq!(Minutes::hundredths(1205).to_string(), "12.05");
        assert_eq!(Minutes::hundredths(1250).to_string(), "12.5");
        assert_eq!(serde_json::to_string(&Minutes::hundredths(1250)).ok().as_deref(), Some("12.5"));
        assert!(serde_json::from_str::<Minutes>("0.005").is_err());
        assert!(serde_json::from_str::<Minutes>("-1").is_err());
    }
}
