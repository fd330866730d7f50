//! A dialect's manifest and files -> [`Platform`]: traits, hardware catalogue, declared outputs.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::diag::Code;
use crate::intent::{FailureTimes, FreeText, HouseCheck};
use crate::model::{PortName, Traits};
use crate::source::FileId;

mod catalogue;
mod extend;
mod load;
mod manifest;
mod rules;
mod sheet;
mod trust;

pub use catalogue::{CataloguePort, Expanded};
pub use load::{CASES, Layer, assemble, builtin, builtin_files, builtin_names, load, too_many};
pub use manifest::{DIALECT_FORMAT, MANIFEST, dialect_schema};
pub use rules::{EXTENDS_CYCLE, OUTPUT_PATH};
pub use sheet::trust_sheet;

/// The codes of this stage.
pub const CODES: &[&Code] = rules::CODES;

/// All that the compiler knows of one platform.
#[derive(Clone, Debug)]
pub struct Platform {
    /// The dialect's name.
    pub name: String,
    /// The dialect's own version.
    pub version: String,
    /// What the dialect is for, in one line.
    pub summary: String,
    /// The traits of the platform.
    pub traits: Traits,
    /// The hardware catalogue.
    pub models: BTreeMap<String, HardwareModel>,
    /// The files that a bundle holds.
    pub outputs: Vec<OutputSpec>,
    /// Every file of the dialect, by its path inside the folder, `/` between parts.
    pub files: BTreeMap<String, String>,
    /// The manifest with all that it takes from others, as YAML; its remarks are gone.
    pub manifest: String,
    /// The same files among the sources, so that a fault in one can be drawn.
    pub file_ids: BTreeMap<String, FileId>,
    /// `sha256:…` over the sorted (path, content) pairs.
    pub digest: String,
    /// Where each trait comes from, as far as the dialect says, by its path (`priority.range`).
    pub trust: BTreeMap<String, Trust>,
    /// The house's checks that no model knows.
    pub checks: Vec<HouseCheck>,
    /// Habits of the platform that no trait holds.
    pub unsupported: Vec<String>,
    /// Operation kinds that need no text on this platform, and why.
    pub silent: BTreeMap<String, String>,
    /// How often a cable fails and how long a repair takes.
    pub links: Option<FailureTimes>,
}

impl Platform {
    /// The model of this name, if one is named and the catalogue has it.
    #[must_use]
    pub fn model(&self, name: Option<&str>) -> Option<&HardwareModel> {
        self.models.get(name?)
    }
}

/// Why a trait is believed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Trust {
    /// Where it is written ("manual, page").
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<FreeText>,
    /// On what it was tried ("version, date").
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tried_on: Option<FreeText>,
}

/// One hardware model of the catalogue.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HardwareModel {
    /// Groups of like ports.
    pub ports: Vec<PortRange>,
    /// Models that it stacks with; with all if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stacks_with: Option<Vec<String>>,
    /// Ports that change between Ethernet and stacking only together, group by group.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub port_groups: Vec<Vec<PortName>>,
    /// Weight in kilograms, for the caution about lifting.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weight_kg: Option<f64>,
    /// Power draw in watts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_w: Option<f64>,
    /// Mean time until a unit fails, in hours; with `mttr_hours`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub mtbf_hours: Option<f64>,
    /// Mean time until it works again, in hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0))]
    pub mttr_hours: Option<f64>,
    /// Its single ports.
    #[serde(skip)]
    #[schemars(skip)]
    pub expanded: Expanded,
}

/// Some ports of one speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PortRange {
    /// The first port, or the only one.
    pub first: PortName,
    /// The last port: the digits at the end count up from the first's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last: Option<PortName>,
    /// Speed in Gbit/s.
    pub gbps: f64,
    /// Whether these ports can stack.
    #[serde(default)]
    pub stacking: bool,
}

/// One declared output of a dialect.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutputSpec {
    /// The template, by its path in the dialect's folder; none for the plan itself.
    pub template: String,
    /// How often it is rendered.
    pub one_per: OnePer,
    /// Where the file goes inside the bundle; itself a template.
    pub path: String,
    /// What the file is, which sets the escaping and the check.
    pub kind: OutputKind,
    /// Leave the file out if nothing but white space was rendered.
    #[serde(default)]
    pub optional: bool,
}

/// How often an output is rendered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OnePer {
    /// Once.
    Stack,
    /// For each joining unit.
    JoiningUnit,
    /// For each segment of staging.
    StageSegment,
    /// For each segment of the change.
    ChangeSegment,
    /// For each segment of a way back.
    WayBackSegment,
}

/// What an output file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OutputKind {
    /// Plain text.
    Text,
    /// Markdown.
    Markdown,
    /// HTML.
    Html,
    /// XML.
    Xml,
    /// JSON.
    Json,
    /// Comma-separated values, RFC 4180.
    Csv,
    /// SVG.
    Svg,
}

impl OutputKind {
    /// The word for it in a manifest.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Markdown => "markdown",
            Self::Html => "html",
            Self::Xml => "xml",
            Self::Json => "json",
            Self::Csv => "csv",
            Self::Svg => "svg",
        }
    }
}
