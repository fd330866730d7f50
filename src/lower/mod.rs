//! Intent and platform -> [`Problem`]: the baseline, the target, and what changes between them.
//!
//! The problem speaks in names; `plan` and `rehearse` turn the names into indices by themselves.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::diag::{Code, Findings, Reported};
use crate::intent::Intent;
use crate::model::document::{ChangeTerms, StateDocument, TrustLine, UnitEntry};
use crate::model::naming::Documents;
use crate::model::traits::{Topology, Traits};
use crate::model::{MemberId, PortName};
use crate::platform::{CataloguePort, Platform, trust_sheet};

mod alone;
mod change;
mod delta;
mod elections;
mod habits;
mod identity;
mod layout;
pub mod priorities;
mod rules;
mod sides;
mod site;
mod states;
mod survivors;
mod units;

use layout::Layout;

/// The codes of this stage.
pub const CODES: &[&[&Code]] =
    &[rules::CODES, elections::CODES, change::CODES, identity::CODES, survivors::CODES, alone::CODES, habits::CODES];

/// Lowers an intent against the stack as it stands, or against boxes out of their packaging.
///
/// # Errors
/// [`Reported`], if the intent, or the two together, cannot be right on this platform.
pub fn lower(
    intent: &Intent,
    baseline: Option<&Intent>,
    platform: &Platform,
    findings: &mut Findings,
) -> Result<Problem, Reported> {
    let mark = findings.mark();
    let (old, new) = resolve(intent, baseline, platform, findings);
    findings.failed_since(mark)?;
    let before = baseline.zip(old.as_ref());
    let boxes = units::Boxes::new(old.as_ref(), &new);
    let (mut units, change) = (boxes.entries(), change::terms(intent));
    habits::describe(&boxes, [Some(intent), baseline], platform, &mut units);
    let mut built = states::as_built(&boxes, before, &platform.traits);
    habits::before(&boxes, before, (intent, &new), &platform.traits, &mut built);
    let documents = Documents {
        stack: intent.stack.as_str(),
        traits: &platform.traits,
        change: &change,
        units: &units,
        baseline: &built,
        target: &built,
        actions: &[],
    };
    let base = survivors::survivors(&documents, intent, old.as_ref(), findings)?;
    let base = habits::seated(&documents, base);
    let mut target = states::target(&boxes, (intent, &new), &base, &platform.traits);
    habits::after(&boxes, before, (intent, &new), &platform.traits, &mut target);
    alone::check((intent, &new), before.is_some(), &boxes, &target, platform, findings);
    Ok(Problem {
        stack: intent.stack.to_string(),
        traits: platform.traits.clone(),
        trust: trust_sheet(platform),
        change,
        units,
        baseline: base,
        target,
        delta: delta::between(before, (intent, &new)),
        site: site::site((intent, &new), before, platform),
    })
}

fn resolve(
    intent: &Intent,
    baseline: Option<&Intent>,
    platform: &Platform,
    findings: &mut Findings,
) -> (Option<Layout>, Layout) {
    let old = baseline.map(|baseline| {
        let layout = layout::lay_out(baseline, None, platform, findings);
        rules::check(baseline, &layout, platform, findings);
        habits::check((baseline, &layout), habits::Part::Before, platform, findings);
        layout
    });
    let new = layout::lay_out(intent, old.as_ref(), platform, findings);
    rules::check(intent, &new, platform, findings);
    let part = if baseline.is_some() { habits::Part::After } else { habits::Part::New };
    habits::check((intent, &new), part, platform, findings);
    if let Some(old) = &old {
        habits::fixed_sides(old, (intent, &new), &platform.traits, findings);
    }
    rules::capacities(intent, &new, platform, findings);
    elections::check(&new, platform, findings);
    change::check((intent, &new), baseline.zip(old.as_ref()), findings);
    (old, new)
}

/// Everything that the planner needs, and what the render stage adds for people.
#[derive(Clone, Debug)]
pub struct Problem {
    /// The stack's name.
    pub stack: String,
    /// The platform's traits.
    pub traits: Traits,
    /// What a proof on it rests on.
    pub trust: Vec<TrustLine>,
    /// What the change allows.
    pub change: ChangeTerms,
    /// Every box, sorted by id, then key.
    pub units: Vec<UnitEntry>,
    /// The state before the change.
    pub baseline: StateDocument,
    /// The state after it.
    pub target: StateDocument,
    /// What changes between the two.
    pub delta: Delta,
    /// What people want to read beside the plan.
    pub site: Site,
}

impl Problem {
    /// The same as a plan's file would hold it, before there is a step.
    #[must_use]
    pub fn documents(&self) -> Documents<'_> {
        Documents {
            stack: &self.stack,
            traits: &self.traits,
            change: &self.change,
            units: &self.units,
            baseline: &self.baseline,
            target: &self.target,
            actions: &[],
        }
    }
}

/// What changes, in the words of the intent. Only for sentences and for refusals by name:
/// the planner never sees it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Delta {
    /// There was no stack before.
    pub new_stack: bool,
    /// Members that come in.
    pub added: Vec<String>,
    /// Members that go out.
    pub removed: Vec<String>,
    /// Members whose box is exchanged.
    pub replaced: Vec<String>,
    /// Members that keep their box and get a new id: name, old id, new id.
    pub renumbered: Vec<(String, MemberId, MemberId)>,
    /// Members that keep their box and get a new priority.
    pub reweighted: Vec<String>,
    /// The primary's role goes from one live member to another.
    pub primary_moves: Option<(String, String)>,
    /// Topology before and after, if it changes.
    pub topology: Option<(Topology, Topology)>,
    /// Cables (ends by member, sorted) between members that are there before and after, plugged by the change.
    pub cables_added: Vec<[String; 2]>,
    /// The same, unplugged by the change.
    pub cables_removed: Vec<[String; 2]>,
    /// Uplink pairs formed.
    pub uplinks_formed: Vec<String>,
    /// Uplink pairs dropped.
    pub uplinks_dropped: Vec<String>,
    /// Uplink pairs whose legs change.
    pub uplinks_changed: Vec<String>,
    /// The guard before and after, if it changes.
    pub guard: Option<(Option<String>, Option<String>)>,
}

/// What people want to read beside the plan; decides nothing.
#[derive(Clone, Debug, Default)]
pub struct Site {
    /// The intent's description.
    pub description: Option<String>,
    /// The change's ticket.
    pub ticket: Option<String>,
    /// Topology of the target.
    pub topology: Option<Topology>,
    /// Minutes of the window and its start (RFC 3339), if given.
    pub window: Option<(String, u32)>,
    /// The same of the time when people are at the rack.
    pub hands: Option<(String, u32)>,
    /// Checks made before the change, the dialect's first, then the house's.
    pub checks_before: Vec<CheckRecord>,
    /// The same, made after it.
    pub checks_after: Vec<CheckRecord>,
    /// Addresses that are pinged through the whole change.
    pub witnesses: Vec<String>,
    /// Free data of the stack.
    pub vars: BTreeMap<String, serde_json::Value>,
    /// Free data by member, those that leave too.
    pub member_vars: BTreeMap<String, BTreeMap<String, serde_json::Value>>,
    /// Free data by uplink pair, those that are dropped too.
    pub uplink_vars: BTreeMap<String, BTreeMap<String, serde_json::Value>>,
    /// What each uplink pair must carry, in Gbit/s, where the intent says so.
    pub capacity_gbps: BTreeMap<String, f64>,
    /// Known single cables, those that the change takes away too.
    pub cables: Vec<CableRecord>,
    /// The equipment at the other end of each leg: (uplink, leg `member:port`) -> device, port.
    pub far_ends: BTreeMap<(String, String), FarEnd>,
    /// Interface speeds where the catalogue knows them, of those that leave too.
    pub speeds: Speeds,
}

/// Interface speeds by member: the ports of its models, the newest last.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Speeds(BTreeMap<String, Vec<Arc<[CataloguePort]>>>);

impl Speeds {
    /// The speed of a member's port in Gbit/s.
    #[must_use]
    pub fn of(&self, member: &str, port: &PortName) -> Option<f64> {
        let models = self.0.get(member)?.iter().rev();
        models.flat_map(|ports| ports.iter()).find(|known| known.name == *port).map(|known| known.gbps)
    }
}

/// One check of the house or of the dialect, at one of the times when it is made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckRecord {
    /// What is checked.
    pub text: String,
    /// Whether the answers before and after are compared.
    pub compare: bool,
}

/// One known cable.
#[derive(Clone, Debug, PartialEq)]
pub struct CableRecord {
    /// The two ends, `member:port`.
    pub ends: [String; 2],
    /// The label on it.
    pub label: Option<String>,
    /// What it is made of ("direct-attach", "fibre").
    pub medium: Option<String>,
    /// Length in metres.
    pub length_m: Option<f64>,
    /// The serial on its plugs.
    pub serial: Option<String>,
}

/// The equipment at the other end of a leg.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FarEnd {
    /// Its name.
    pub device: String,
    /// Its port, if known.
    pub port: Option<String>,
}

#[cfg(test)]
mod tests;
