//! What templates see of what is left when the change is done: the stack as built, and the labels on its new cables.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The stack as it is handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct HandOverView {
    /// Every unit of the stack, to be recorded as built.
    pub units: Vec<AsBuiltView>,
    /// What the change took out of use, to be put back, as clauses.
    pub switch_on: Vec<String>,
    /// What to look at the next morning, as clauses.
    pub tomorrow: Vec<String>,
}

/// One unit as built. What is not known is an empty text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct AsBuiltView {
    /// The unit's key in the plan.
    pub unit: String,
    /// The member that it is.
    pub member: String,
    /// Its id.
    pub id: String,
    /// Its priority.
    pub priority: String,
    /// `primary`, `standby` or `member`.
    pub role: String,
    /// The serial number on its label.
    pub serial: String,
    /// Its hardware model.
    pub model: String,
    /// `rack` of its free data.
    pub rack: String,
    /// `height_unit` of its free data.
    pub height_unit: String,
    /// What is equal on all members, by the dialect's words.
    pub keys: BTreeMap<String, String>,
}

/// The label at one end of a cable. What is not known is an empty text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LabelView {
    /// The cable's label; one that is made of its two ends where it has none.
    pub label: String,
    /// The end at which it is.
    pub from: String,
    /// The other end.
    pub to: String,
    /// The interface name of the near port after the change.
    pub from_port_name: String,
    /// The interface name of the far port after the change.
    pub to_port_name: String,
    /// Length in metres.
    pub length_m: String,
    /// What it is made of.
    pub medium: String,
}
