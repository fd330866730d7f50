//! Ringwright compiles the intent of a switch stack into proved, ordered change snippets.
//!
//! A folder is a stage, and `ls src` reads as the flow:
//!
//! ```text
//!   intent.yaml              dialect.yaml, templates
//!       | Sources                | Sources
//!     yaml    -> Node            |                      a tree that knows the place of every key and value
//!       |                        |
//!     intent  -> Intent      platform -> Platform       what was written | traits, hardware catalogue, outputs
//!       |                        |
//!       +-----------+------------+
//!                   |
//!                 lower    -> Problem                   baseline State, target State, Delta, Site
//!                   | Setting (model::naming)           the same with indices for names
//!                 plan     -> Route                     bare operations, at least cost
//!                   |
//!                 watch    -> PlanDocument              looks, waits, reasons, moves: what `plan.json` holds
//!                   |
//!                 rehearse -> Rehearsed                 replayed from the document alone; every rule, every claim
//!                   | Dossier                           with Delta, Site and Platform
//!                 analyse  -> Time, Digest              what is expected, and what the whole waits for; what fails, and then
//!                 picture  -> Picture                   one drawing of the stack, and what each step changes in it
//!                   |
//!                 render   -> Bundle                    files in memory
//!                   |
//!                 disk                                  all or nothing
//! ```
//!
//! [`scene`] draws the steps of a `Rehearsed` plan, one by one, for those who walk through it. [`lint`] takes a dialect
//! down the whole line with changes of its own making, and says what its templates forget.
//!
//! [`compile::compile`] is that picture as one function, from [`intent::Intent`] to [`render::Bundle`].
//! Beside the flow stand [`model`], the ground floor on which everything decides, and [`source`] and
//! [`diag`], which every stage may use. What a stage may import is written down in `tests/tidy.rs`,
//! and held there.

// the ground floor
pub mod model;
// beside the flow
pub mod diag;
pub mod source;
// the flow
pub mod yaml;
pub mod intent;
pub mod platform;
pub mod lower;
pub mod plan;
pub mod watch;
pub mod rehearse;
pub mod analyse;
pub mod picture;
pub mod scene;
pub mod render;
pub mod disk;
pub mod report;
pub mod lint;
pub mod cli;
// the whole of it
pub mod compile;
