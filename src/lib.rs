//! Ringwright compiles the intent of a switch stack into proved, ordered change snippets.
pub mod model;
