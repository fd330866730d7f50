//! Ringwright compiles the intent of a switch stack into proved, ordered change snippets.
pub mod disk;
pub mod lower;
pub mod model;
pub mod platform;
pub mod rehearse;
pub mod render;
