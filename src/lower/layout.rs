//! One intent -> its layout: every member with all that was left out derived, and the cables between them.

use std::collections::{BTreeMap, BTreeSet};

use super::priorities::derived;
use super::rules::PRIORITY_STEP;
use super::sides::{Needs, Ports, needs, sides};
use super::units::is_exchanged;
use crate::diag::{Diagnostic, Findings};
use crate::intent::{Intent, Member};
use crate::model::document::{Role, Side};
use crate::model::traits::Topology;
use crate::model::{MemberId, PortName, Priority, natural_order};
use crate::platform::{HardwareModel, Platform};
use crate::source::Span;

/// One stack as an intent has it.
#[derive(Clone, Debug, Default)]
pub(super) struct Layout {
    /// The members in cabling order.
    pub members: Vec<Placed>,
    /// The cables between them.
    pub cables: Vec<Cable>,
}

/// One member with everything known. Of a box that was there before, what the intent does not say again is as it was.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    pub name: String,
    pub place: Span,
    pub id: MemberId,
    pub role: Role,
    pub priority: Priority,
    pub serial: Option<String>,
    pub mac: Option<String>,
    pub model: Option<String>,
    /// The ports of its sides, cabled or not.
    pub west: Vec<PortName>,
    pub east: Vec<PortName>,
    /// The ports that a cable binds to a side.
    pub bound: BTreeMap<PortName, Side>,
    /// The ports that carry a leg of an uplink pair.
    pub legs: BTreeSet<PortName>,
    /// The ports that can stack.
    pub stacking: Vec<PortName>,
    /// Unbound ports that are disabled.
    pub disabled: BTreeSet<PortName>,
    /// Ports that carry something else.
    pub in_use: BTreeSet<PortName>,
}

impl Placed {
    /// Whether a port is bound to a side or carries a leg.
    pub fn is_used(&self, port: &PortName) -> bool {
        self.bound.contains_key(port) || self.legs.contains(port)
    }
}

/// A cable from one member's east side to another's west side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cable {
    pub east: (String, PortName),
    pub west: (String, PortName),
}

impl Layout {
    pub fn member(&self, name: &str) -> Option<&Placed> {
        self.members.iter().find(|member| member.name == name)
    }
}

/// The two ends of a cable as people count.
pub(super) fn sorted(mut ends: [String; 2]) -> [String; 2] {
    ends.sort_by(|one, other| natural_order(one, other));
    ends
}

/// Cables, their ends sorted, as people count.
pub(super) fn in_order(cables: impl Iterator<Item = [String; 2]>) -> Vec<[String; 2]> {
    let mut cables: Vec<[String; 2]> = cables.collect();
    cables.sort_by(|[a, b], [c, d]| natural_order(a, c).then_with(|| natural_order(b, d)));
    cables
}

/// Neighbours: whose east side faces whose west side, by their places in the order.
pub(super) fn neighbours(topology: Topology, count: usize) -> Vec<(usize, usize)> {
    let line = (1..count).map(|next| (next - 1, next));
    match topology {
        Topology::Ring if count > 1 => line.chain([(count - 1, 0)]).collect(),
        Topology::Ring | Topology::Chain => line.collect(),
    }
}

/// Lays out an intent. `live` is the stack as it stands: what a box is stays known, and ports that its members
/// use already stay.
pub(super) fn lay_out(intent: &Intent, live: Option<&Layout>, platform: &Platform, findings: &mut Findings) -> Layout {
    let pairs = neighbours(intent.topology.value, intent.members.len());
    let needs = needs(intent, live, &pairs, findings);
    let mut members: Vec<Placed> = Vec::new();
    for (member, needs) in intent.members.iter().zip(&needs) {
        let old = live.and_then(|live| live.member(member.name.as_str()));
        members.push(place(intent, member, old, needs, platform, findings));
    }
    let cables = bind(&mut members, &pairs);
    Layout { members, cables }
}

fn place(
    intent: &Intent,
    member: &Member,
    old: Option<&Placed>,
    needs: &Needs,
    platform: &Platform,
    findings: &mut Findings,
) -> Placed {
    let serial = member.serial.as_ref().map(|serial| serial.to_string());
    let exchanged = old.is_some_and(|old| is_exchanged(old.serial.as_deref(), serial.as_deref()));
    // of the same box, what is not written again is as it was
    let same = old.filter(|_| !exchanged);
    let model = member.model.as_ref().map(|model| model.to_string()).or_else(|| same?.model.clone());
    let legs = intent.uplink_pairs.iter().flat_map(|pair| &pair.legs);
    let legs: BTreeSet<PortName> =
        legs.filter(|leg| leg.member.as_str() == member.name.as_str()).map(|leg| leg.port.value.clone()).collect();
    let stacking = platform.model(model.as_deref()).map(HardwareModel::stacking_ports);
    let known = Ports { stacking: stacking.as_deref(), old, exchanged, legs: &legs };
    let (west, east) = sides(member, needs, &known, findings);
    let mut stacking = stacking.unwrap_or_else(|| {
        let older = same.map(|old| old.stacking.as_slice()).unwrap_or_default();
        west.iter().chain(&east).chain(older).cloned().collect()
    });
    stacking.sort();
    stacking.dedup();
    Placed {
        name: member.name.to_string(),
        place: member.name.span,
        id: member.id.value,
        role: member.role(),
        priority: priority(member, platform, findings),
        serial: serial.or_else(|| same?.serial.clone()),
        mac: member.mac.as_ref().map(|mac| mac.canonical()).or_else(|| same?.mac.clone()),
        model,
        west,
        east,
        bound: BTreeMap::new(),
        legs,
        stacking,
        in_use: member.in_use.iter().map(|port| port.value.clone()).collect(),
        disabled: member.disabled_ports.iter().map(|port| port.value.clone()).collect(),
    }
}

/// As written, else derived; where neither can be, as out of the box.
fn priority(member: &Member, platform: &Platform, findings: &mut Findings) -> Priority {
    let written = member.priority.as_ref().map(|priority| priority.value);
    let priority = written.or_else(|| derived(member.role(), member.id.value, &platform.traits));
    priority.unwrap_or_else(|| {
        let message =
            format!("{} needs a `priority`: the platform's range is too small to derive one", member.name.as_str());
        let diagnostic = Diagnostic::error(&PRIORITY_STEP, member.name.span, message);
        findings.error(diagnostic.help("add `priority:` to every member"));
        platform.traits.priority.factory
    })
}

/// Pairs the ports of neighbours position by position, and binds them.
fn bind(members: &mut [Placed], pairs: &[(usize, usize)]) -> Vec<Cable> {
    let mut cables = Vec::new();
    for &(from, to) in pairs {
        let end = |index: usize, of: fn(&Placed) -> &Vec<PortName>| {
            members.get(index).map(|member| (member.name.clone(), of(member).clone())).unwrap_or_default()
        };
        let ((east_name, east), (west_name, west)) = (end(from, |member| &member.east), end(to, |member| &member.west));
        for (east, west) in east.into_iter().zip(west) {
            cables.push(Cable { east: (east_name.clone(), east), west: (west_name.clone(), west) });
        }
    }
    for cable in &cables {
        for ((name, port), side) in [(&cable.east, Side::East), (&cable.west, Side::West)] {
            if let Some(member) = members.iter_mut().find(|member| member.name == *name) {
                member.bound.insert(port.clone(), side);
            }
        }
    }
    cables
}
