//! `ringwright schema`: prints the JSON Schema of a public shape.

use clap::{Args, ValueEnum};
use serde_json::Value;

use super::{DoneRecord, Exit, terminal};
use crate::intent::Intent;
use crate::model::document::{FaultEntry, PlanDocument};
use crate::platform::dialect_schema;
use crate::render::{Context, FactView, WordsScope};
use crate::yaml::shape::schema_of;

/// Print the JSON Schema (2020-12) of a shape, as editors and pipelines use it.
#[derive(Args)]
pub(super) struct Schema {
    /// Which shape.
    #[arg(value_enum, value_name = "NAME")]
    name: Name,
}

#[derive(Clone, Copy, ValueEnum)]
enum Name {
    /// What people write.
    Intent,
    /// What a platform's team writes.
    Dialect,
    /// What programs read.
    Plan,
    /// What the templates of outputs see.
    Context,
    /// What the templates of steps see.
    Words,
    /// What the templates of facts see.
    Facts,
    /// What says that an intent was carried out.
    Done,
    /// The list that `faults --findings json` writes.
    Faults,
}

impl Schema {
    pub(super) fn run(self) -> Exit {
        let schema = match self.name {
            Name::Intent => schema_of::<Intent>(),
            Name::Dialect => dialect_schema(),
            Name::Plan => schema_of::<PlanDocument>(),
            Name::Context => schema_of::<Context>(),
            Name::Words => schema_of::<WordsScope>(),
            Name::Facts => schema_of::<FactView>(),
            Name::Done => schema_of::<DoneRecord>(),
            Name::Faults => schema_of::<Vec<FaultEntry>>(),
        };
        terminal::print(&pretty(&schema));
        Exit::Fine
    }
}

fn pretty(schema: &Value) -> String {
    format!("{schema:#}\n")
}
