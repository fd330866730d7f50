//! The ground floor: names, traits, states, operations, rules, facts, replay.
//!
//! Uses std, serde and the schema derive of schemars alone; knows no file, clock or terminal.

pub mod document;
pub mod names;
pub mod traits;

pub use names::{MemberId, Minutes, PortName, Priority, natural_order};
pub use traits::Traits;
