//! The ground floor: names, traits, states, operations, rules, facts, replay.
//!
//! Uses std, serde and the schema derive of schemars alone; knows no file, clock or terminal.

pub mod acts;
pub mod cost;
pub mod derive;
pub mod document;
pub mod election;
pub mod facts;
pub mod habits;
mod happened;
pub mod joining;
mod kept;
pub mod names;
pub mod naming;
pub mod needs;
pub mod operation;
pub mod places;
pub mod progress;
pub mod reached;
pub mod replay;
pub mod rules;
mod seat;
pub mod set;
pub mod setting;
pub mod settle;
pub mod slips;
pub mod state;
pub mod table;
pub mod traits;
mod unread;

pub use names::{MemberId, Minutes, PortName, Priority, natural_order};
pub use traits::Traits;
