//! A [`Node`] -> any type that serde can fill; `Located<T>` gets its place.
//!
//! The shape was checked by a schema before; what fails here all the same (a number with too many
//! decimals, say) is reported with its place.

use std::fmt;

use serde::de::{self, Deserialize, DeserializeOwned, IntoDeserializer, Visitor};
use serde::forward_to_deserialize_any;

use super::{Data, Entry, Node, shape};
use crate::diag::{Diagnostic, Findings, Reported};
use crate::source::{FileId, Located, Span};

/// Fills a type from a tree.
///
/// # Errors
/// [`Reported`], if the tree does not hold one.
pub fn fill<T: DeserializeOwned>(node: &Node, findings: &mut Findings) -> Result<T, Reported> {
    try_fill(node).map_err(|fault| {
        let message = format!("this value does not fit: {}", fault.message);
        findings.error(Diagnostic::error(&shape::WRONG_FORM, fault.place, message))
    })
}

/// Fills a type from a tree, without a word if that is not possible.
///
/// # Errors
/// What does not fit, and where.
pub fn try_fill<T: DeserializeOwned>(node: &Node) -> Result<T, Fault> {
    T::deserialize(node)
}

/// What does not fit, and where.
#[derive(Debug)]
pub struct Fault {
    message: String,
    place: Option<Span>,
}

impl Fault {
    fn at(self, place: Span) -> Self {
        Self { place: self.place.or(Some(place)), ..self }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.message.fmt(f)
    }
}

impl std::error::Error for Fault {}

impl de::Error for Fault {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self { message: message.to_string(), place: None }
    }
}

/// The name by which [`Located`] asks for its place.
const LOCATED: &str = "ringwright::Located";

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Located<T> {
    fn deserialize<D: de::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let (file, start, end, value) =
            deserializer.deserialize_tuple_struct(LOCATED, 4, Quadruple(std::marker::PhantomData))?;
        Ok(Self { value, span: Span { file: FileId::from_index(file), start, end } })
    }
}

struct Quadruple<T>(std::marker::PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for Quadruple<T> {
    type Value = (u32, u32, u32, T);

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value with its place")
    }

    fn visit_seq<A: de::SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let missing = || de::Error::custom("a place is missing");
        let mut number = || seq.next_element::<u32>()?.ok_or_else(missing);
        let (file, start, end) = (number()?, number()?, number()?);
        Ok((file, start, end, seq.next_element()?.ok_or_else(missing)?))
    }
}

/// The place of a node, then the node.
struct WithPlace<'de>(&'de Node, u8);

impl<'de> de::SeqAccess<'de> for WithPlace<'de> {
    type Error = Fault;

    fn next_element_seed<S: de::DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Fault> {
        let span = self.0.span;
        self.1 += 1;
        match self.1 {
            1 => seed.deserialize(span.file.index().into_deserializer()).map(Some),
            2 => seed.deserialize(span.start.into_deserializer()).map(Some),
            3 => seed.deserialize(span.end.into_deserializer()).map(Some),
            _ => seed.deserialize(self.0).map(Some),
        }
    }
}

impl<'de> de::Deserializer<'de> for &'de Node {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        let filled = match &self.data {
            Data::Null | Data::Refused => visitor.visit_unit(),
            Data::Bool(value) => visitor.visit_bool(*value),
            Data::Text(text) => visitor.visit_borrowed_str(text),
            Data::List(items) => visitor.visit_seq(de::value::SeqDeserializer::new(items.iter())),
            Data::Map(entries) => visitor.visit_map(de::value::MapDeserializer::new(entries.iter().map(pair))),
            Data::Number(number) => match (number.as_u64(), number.as_i64(), number.as_f64()) {
                (Some(value), _, _) => visitor.visit_u64(value),
                (None, Some(value), _) => visitor.visit_i64(value),
                (None, None, Some(value)) => visitor.visit_f64(value),
                (None, None, None) => Err(de::Error::custom("this is no number")),
            },
        };
        filled.map_err(|fault: Fault| fault.at(self.span))
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        if matches!(self.data, Data::Null | Data::Refused) { visitor.visit_none() } else { visitor.visit_some(self) }
    }

    // what was refused is filled with nothing, so that the rest of a draft can be judged
    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        if self.data == Data::Refused { visitor.visit_str("") } else { self.deserialize_any(visitor) }
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.data {
            Data::Refused => visitor.visit_seq(de::value::SeqDeserializer::new(std::iter::empty::<&Node>())),
            Data::Null | Data::Bool(_) | Data::Number(_) | Data::Text(_) | Data::List(_) | Data::Map(_) => {
                self.deserialize_any(visitor)
            }
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Fault> {
        visitor.visit_newtype_struct(self).map_err(|fault| fault.at(self.span))
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        _: usize,
        visitor: V,
    ) -> Result<V::Value, Fault> {
        if name == LOCATED { visitor.visit_seq(WithPlace(self, 0)) } else { self.deserialize_any(visitor) }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        match &self.data {
            Data::Text(text) => {
                visitor.visit_enum(text.as_str().into_deserializer()).map_err(|fault: Fault| fault.at(self.span))
            }
            Data::Null | Data::Bool(_) | Data::Number(_) | Data::List(_) | Data::Map(_) | Data::Refused => {
                Err(Fault { message: "a word is wanted here".to_owned(), place: Some(self.span) })
            }
        }
    }

    fn deserialize_u8<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        whole(self, visitor)
    }

    fn deserialize_u16<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        whole(self, visitor)
    }

    fn deserialize_u32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        whole(self, visitor)
    }

    fn deserialize_u64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        whole(self, visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u128 f32 f64 char str bytes byte_buf unit unit_struct tuple
        map struct identifier ignored_any
    }
}

fn pair(entry: &Entry) -> (&str, &Node) {
    (entry.key.as_str(), &entry.value)
}

/// JSON Schema takes `3.0` for a whole number, so a whole number is filled from it too.
fn whole<'de, V: Visitor<'de>>(node: &'de Node, visitor: V) -> Result<V::Value, Fault> {
    if node.data == Data::Refused {
        return visitor.visit_u64(0);
    }
    if let Data::Number(number) = &node.data
        && let Some(value) =
            number.as_f64().filter(|value| number.is_f64() && value.fract() == 0.0 && (0.0..=9e15).contains(value))
    {
        return visitor.visit_u64(value as u64).map_err(|fault: Fault| fault.at(node.span));
    }
    de::Deserializer::deserialize_any(node, visitor)
}

impl<'de> IntoDeserializer<'de, Fault> for &'de Node {
    type Deserializer = Self;
    fn into_deserializer(self) -> Self {
        self
    }
}
