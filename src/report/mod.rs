//! Findings -> text for people, JSON for pipelines.

mod json;
mod text;

pub use json::json;
pub use text::{Colour, text};
