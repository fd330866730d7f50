//! Findings -> text for people, JSON for pipelines.

mod json;
pub mod summary;
mod text;

pub use json::json;
pub use text::{Colour, text};
