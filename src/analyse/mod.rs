//! A rehearsed plan -> what follows from it beside the proof: how long it takes, what fails and what then, what
//! its links carry, and how often all of it works.

pub mod availability;
pub mod capacity;
pub mod compared;
mod course;
pub mod faults;
mod time;

pub use course::{Activity, Course, Estimated, course};
pub use time::{Stage, Time, estimated, time};
