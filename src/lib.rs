//! Ringwright compiles the intent of a switch stack into proved, ordered change snippets.
pub mod cli;
pub mod compile;
pub mod diag;
pub mod disk;
pub mod intent;
pub mod lower;
pub mod model;
pub mod plan;
pub mod platform;
pub mod rehearse;
pub mod render;
pub mod report;
pub mod source;
pub mod watch;
pub mod yaml;
