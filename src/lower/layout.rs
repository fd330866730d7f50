//! One intent -> its layout: every member with all that was left out derived, and the cables between them.

use std::collections::{BTreeMap, BTreeSet};

use super::priorities::derived;
use super::rules::{PRIORITY_STEP, SIDE_WITHOUT_PORT, SIDES_UNKNOWN, TOO_FEW_PORTS, UNEQUAL_SIDES};
use crate::diag::{Diagnostic, Findings};
use crate::intent::{Intent, Member};
use crate::model::document::{Role, Side};
use crate::model::traits::Topology;
use crate::model::{MemberId, PortName, Priority};
use crate::platform::Platform;
use crate::source::{Located, Span};

/// One stack as an intent has it.
#[derive(Clone, Debug, Default)]
pub(super) struct Layout {
    /// The members in cabling order.
    pub members: Vec<Placed>,
    /// The cables between them.
    pub cables: Vec<Cable>,
}

/// One member with everything known.
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

/// Neighbours: whose east side faces whose west side, by their places in the order.
pub(super) fn neighbours(topology: Topology, count: usize) -> Vec<(usize, usize)> {
    let line = (1..count).map(|next| (next - 1, next));
    match topology {
        Topology::Ring if count > 1 => line.chain([(count - 1, 0)]).collect(),
        Topology::Ring | Topology::Chain => line.collect(),
    }
}

/// Lays out an intent. `live` is the stack as it stands: ports that its members use already stay.
pub(super) fn lay_out(intent: &Intent, live: Option<&Layout>, platform: &Platform, findings: &mut Findings) -> Layout {
    let pairs = neighbours(intent.topology.value, intent.members.len());
    let counts = count_cables(intent, live, &pairs, findings);
    let mut members: Vec<Placed> = Vec::new();
    for (index, member) in intent.members.iter().enumerate() {
        let wanted = Wanted {
            east: pairs.iter().zip(&counts).find(|((from, _), _)| *from == index).map(|(_, count)| *count),
            west: pairs.iter().zip(&counts).find(|((_, to), _)| *to == index).map(|(_, count)| *count),
        };
        members.push(place(
            intent,
            member,
            live.and_then(|live| live.member(&member.name.to_string())),
            wanted,
            platform,
            findings,
        ));
    }
    let cables = bind(&mut members, &pairs);
    Layout { members, cables }
}

/// How many cables each side holds; none where nothing is cabled.
#[derive(Clone, Copy)]
struct Wanted {
    west: Option<usize>,
    east: Option<usize>,
}

/// Parallel cables of each pair of neighbours: as written, as they are, or one.
fn count_cables(
    intent: &Intent,
    live: Option<&Layout>,
    pairs: &[(usize, usize)],
    findings: &mut Findings,
) -> Vec<usize> {
    let in_use = |member: &Member, side: Side| {
        let placed = live.and_then(|live| live.member(member.name.as_str()));
        placed.map_or(0, |placed| placed.bound.values().filter(|bound| **bound == side).count())
    };
    let mut count = |&(from, to): &(usize, usize)| {
        let (Some(from), Some(to)) = (intent.members.get(from), intent.members.get(to)) else { return 0 };
        let east = from.sides.as_ref().map(|sides| &sides.east);
        let west = to.sides.as_ref().map(|sides| &sides.west);
        match (east, west) {
            (Some(east), Some(west)) if east.len() != west.len() => unequal(from, east, to, west, findings),
            (Some(list), _) | (None, Some(list)) => {
                if list.is_empty() {
                    without_port(from, to, east.is_some(), findings);
                }
                list.len()
            }
            (None, None) => in_use(from, Side::East).max(in_use(to, Side::West)).max(1),
        }
    };
    pairs.iter().map(&mut count).collect()
}

fn side_place(member: &Member, list: &[Located<PortName>]) -> Span {
    list.first().map_or_else(|| member.sides.as_ref().map_or(member.name.span, |sides| sides.span), |port| port.span)
}

fn unequal(
    from: &Member,
    east: &[Located<PortName>],
    to: &Member,
    west: &[Located<PortName>],
    findings: &mut Findings,
) -> usize {
    let message = format!(
        "{} has {} on its east side and {} has {} on its west side, and each needs as many as the other",
        from.name.as_str(),
        ports(east.len()),
        to.name.as_str(),
        ports(west.len())
    );
    let diagnostic = Diagnostic::error(&UNEQUAL_SIDES, side_place(to, west), message);
    findings.error(diagnostic.related(side_place(from, east), "its neighbour's east side is here"));
    east.len().min(west.len())
}

fn ports(count: usize) -> String {
    format!("{count} {}", if count == 1 { "port" } else { "ports" })
}

fn without_port(from: &Member, to: &Member, east: bool, findings: &mut Findings) {
    let (member, side, other) = if east { (from, "east", to) } else { (to, "west", from) };
    let name = member.name.as_str();
    let message =
        format!("the {side} side of {name} has no port, and needs one for its cable to {}", other.name.as_str());
    let help = format!("list the port under `sides:` as `{side}: [\"…\"]`");
    findings.error(Diagnostic::error(&SIDE_WITHOUT_PORT, side_place(member, &[]), message).help(help));
}

fn place(
    intent: &Intent,
    member: &Member,
    live: Option<&Placed>,
    wanted: Wanted,
    platform: &Platform,
    findings: &mut Findings,
) -> Placed {
    let legs = intent.uplink_pairs.iter().flat_map(|pair| &pair.legs);
    let legs: BTreeSet<PortName> =
        legs.filter(|leg| leg.member.as_str() == member.name.as_str()).map(|leg| leg.port.value.clone()).collect();
    let model = member.model.as_ref().and_then(|model| platform.models.get(model.as_str()));
    let known = model.map(crate::platform::HardwareModel::stacking_ports);
    let (west, east) = sides(member, known.as_deref(), live, &legs, wanted, findings);
    let role = member.role();
    let priority = member
        .priority
        .as_ref()
        .map(|priority| priority.value)
        .or_else(|| derived(role, member.id.value, &platform.traits));
    if priority.is_none() {
        let message =
            format!("{} needs a `priority`: the platform's range is too small to derive one", member.name.as_str());
        findings.error(
            Diagnostic::error(&PRIORITY_STEP, member.name.span, message).help("add `priority:` to every member"),
        );
    }
    let mut stacking = known.unwrap_or_else(|| {
        let older = live.map(|live| live.stacking.as_slice()).unwrap_or_default();
        west.iter().chain(&east).chain(older).cloned().collect()
    });
    stacking.sort();
    stacking.dedup();
    Placed {
        name: member.name.to_string(),
        place: member.name.span,
        id: member.id.value,
        role,
        priority: priority.unwrap_or(platform.traits.priority.factory),
        serial: member.serial.as_ref().map(|serial| serial.to_string()),
        mac: member.mac.as_ref().map(|mac| mac.canonical()),
        model: member.model.as_ref().map(|model| model.to_string()),
        west,
        east,
        bound: BTreeMap::new(),
        legs,
        stacking,
        disabled: member.disabled_ports.iter().map(|port| port.value.clone()).collect(),
    }
}

/// The ports of both sides: as written; else those in use, then the first free ones, west before east.
///
/// A side with no cable reserves as many as the other side has, so that a chain that grows or closes
/// needs no port moved.
fn sides(
    member: &Member,
    stacking: Option<&[PortName]>,
    live: Option<&Placed>,
    legs: &BTreeSet<PortName>,
    wanted: Wanted,
    findings: &mut Findings,
) -> (Vec<PortName>, Vec<PortName>) {
    if let Some(sides) = &member.sides {
        let names = |list: &[Located<PortName>]| list.iter().map(|port| port.value.clone()).collect();
        return (names(&sides.west), names(&sides.east));
    }
    let none = Vec::new();
    let (old_west, old_east) = live.map_or((&none, &none), |live| (&live.west, &live.east));
    let pool = match stacking {
        Some(pool) => pool.to_vec(),
        None => old_west.iter().chain(old_east).cloned().collect(),
    };
    if pool.is_empty() && (wanted.west.is_some() || wanted.east.is_some()) {
        let message =
            format!("{} needs `sides`, since no model says which of its ports can stack", member.name.as_str());
        // a model that the catalogue does not have is a fault of its own
        if member.model.is_none() {
            let help = "add `sides:`, or a `model:` of the dialect's catalogue";
            findings.error(Diagnostic::error(&SIDES_UNKNOWN, member.name.span, message).help(help));
        }
        return (none.clone(), none);
    }
    let usable: Vec<&PortName> = pool.iter().filter(|port| !legs.contains(port)).collect();
    let keep = |old: &[PortName], count: Option<usize>| -> Vec<PortName> {
        old.iter().filter(|port| usable.contains(port)).take(count.unwrap_or(usize::MAX)).cloned().collect()
    };
    let (mut west, mut east) = (keep(old_west, wanted.west), keep(old_east, wanted.east));
    let reserve = wanted.west.max(wanted.east).unwrap_or(0);
    let firm = |count: Option<usize>| count.unwrap_or(0);
    // what is cabled comes first where ports are scarce
    let spare = usable.len().saturating_sub(firm(wanted.west) + firm(wanted.east));
    let goal = |count: Option<usize>| count.unwrap_or_else(|| reserve.min(spare));
    fill(&mut west, goal(wanted.west), &usable, &east.clone());
    fill(&mut east, goal(wanted.east), &usable, &west.clone());
    if west.len() < firm(wanted.west) || east.len() < firm(wanted.east) {
        let needed = firm(wanted.west) + firm(wanted.east);
        let message =
            format!("{} has {} free that can stack, and needs {needed}", member.name.as_str(), ports(usable.len()));
        findings.error(Diagnostic::error(&TOO_FEW_PORTS, member.name.span, message));
    }
    (west, east)
}

/// Adds the first free ports until there are as many as wanted.
fn fill(side: &mut Vec<PortName>, goal: usize, usable: &[&PortName], other: &[PortName]) {
    for port in usable {
        if side.len() < goal && !side.contains(port) && !other.contains(port) {
            side.push((*port).clone());
        }
    }
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
