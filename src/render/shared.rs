//! Data that stands in several places of the context -> one value for the template engine, made at its first need.
//!
//! A step stands in its move, in a run and in a snippet file; a snippet file's own template sees it once more.

use std::borrow::Cow;
use std::ops::{Deref, DerefMut};
use std::sync::{Arc, OnceLock};

use minijinja::Value;
use minijinja::value::{Serde, serializing_for_value};
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Data whose copies are one until one of them is changed. As data it is what it holds.
#[derive(Debug, Default)]
pub struct Shared<T>(Arc<Kept<T>>);

#[derive(Debug, Default)]
struct Kept<T> {
    data: T,
    value: OnceLock<Value>,
}

impl<T> Shared<T> {
    /// Keeps it.
    pub fn new(data: T) -> Self {
        Self(Arc::new(Kept { data, value: OnceLock::new() }))
    }
}

impl<T> Clone for Shared<T> {
    fn clone(&self) -> Self {
        Self(Arc::clone(&self.0))
    }
}

impl<T: Clone> Clone for Kept<T> {
    /// What is cloned is about to be changed: its value is made anew.
    fn clone(&self) -> Self {
        Self { data: self.data.clone(), value: OnceLock::new() }
    }
}

impl<T> Deref for Shared<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.0.data
    }
}

impl<T: Clone> DerefMut for Shared<T> {
    fn deref_mut(&mut self) -> &mut T {
        let kept = Arc::make_mut(&mut self.0);
        kept.value = OnceLock::new();
        &mut kept.data
    }
}

impl<T: Serialize> Serialize for Shared<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if serializing_for_value() {
            self.0.value.get_or_init(|| Value::from(Serde(&self.0.data))).serialize(serializer)
        } else {
            self.0.data.serialize(serializer)
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Shared<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        T::deserialize(deserializer).map(Self::new)
    }
}

impl<T: JsonSchema> JsonSchema for Shared<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn schema_id() -> Cow<'static, str> {
        T::schema_id()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use minijinja::context;

    fn said(value: &Shared<Vec<u32>>) -> String {
        let scope = context! { all => Value::from(Serde(vec![value.clone(), value.clone()])) };
        minijinja::Environment::new().render_str("{{ all }}", scope).unwrap()
    }

    #[test]
    fn a_copy_that_is_changed_is_another() {
        let one = Shared::new(vec![1, 2]);
        let mut other = one.clone();
        assert_eq!(said(&one), "[[1, 2], [1, 2]]");
        other.push(3);
        assert_eq!((said(&one), said(&other)), ("[[1, 2], [1, 2]]".to_owned(), "[[1, 2, 3], [1, 2, 3]]".to_owned()));
        other.push(4);
        assert_eq!(said(&other), "[[1, 2, 3, 4], [1, 2, 3, 4]]");
    }

    #[test]
    fn as_data_it_is_what_it_holds() {
        let text = serde_json::to_string(&Shared::new(vec![1, 2])).unwrap();
        assert_eq!(text, "[1,2]");
        assert_eq!(*serde_json::from_str::<Shared<Vec<u32>>>(&text).unwrap(), [1, 2]);
    }
}
