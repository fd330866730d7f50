//! The cabling order -> the ports of each member's two sides: as written, else derived.
//!
//! A derived side moves nothing that can stay: a cable that is there before and after keeps its ports, then the side
//! keeps the ports it had, then come the first free ones, west before east.

use std::collections::BTreeSet;

use super::layout::{Layout, Placed};
use super::rules::{SIDE_WITHOUT_PORT, SIDES_UNKNOWN, TOO_FEW_PORTS, UNEQUAL_SIDES};
use crate::diag::{Diagnostic, Findings};
use crate::intent::{Intent, Member};
use crate::model::PortName;
use crate::model::document::Side;
use crate::source::{Located, Span};

/// The cables of one member's sides; none where nothing is cabled.
#[derive(Clone, Debug, Default)]
pub(super) struct Needs {
    pub west: Option<Vec<Plugged>>,
    pub east: Option<Vec<Plugged>>,
}

/// The port in which one end of a cable is as the stack stands, if it is that cable.
type Plugged = Option<PortName>;

/// What each member's sides need, by its place in the order.
pub(super) fn needs(
    intent: &Intent,
    live: Option<&Layout>,
    pairs: &[(usize, usize)],
    findings: &mut Findings,
) -> Vec<Needs> {
    let mut needs = vec![Needs::default(); intent.members.len()];
    for &(west, east) in pairs {
        let (Some(from), Some(to)) = (intent.members.get(west), intent.members.get(east)) else { continue };
        let count = count_cables(from, to, live, findings);
        let (near, far) = plugged(from, to, count, live);
        if let Some(member) = needs.get_mut(west) {
            member.east = Some(near);
        }
        if let Some(member) = needs.get_mut(east) {
            member.west = Some(far);
        }
    }
    needs
}

fn written(member: &Member, side: Side) -> Option<&Vec<Located<PortName>>> {
    let sides = member.sides.as_ref()?;
    match side {
        Side::West => Some(&sides.west),
        Side::East => Some(&sides.east),
        Side::None => None,
    }
}

/// Parallel cables between two neighbours: as written, as they are, or one.
fn count_cables(from: &Member, to: &Member, live: Option<&Layout>, findings: &mut Findings) -> usize {
    let in_use = |member: &Member, side: Side| {
        let placed = live.and_then(|live| live.member(member.name.as_str()));
        placed.map_or(0, |placed| placed.bound.values().filter(|bound| **bound == side).count())
    };
    let (east, west) = (written(from, Side::East), written(to, Side::West));
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
}

/// For each cable between two neighbours, the ports in which its two ends are already. Where one list is written,
/// its order says which cable is meant.
fn plugged(from: &Member, to: &Member, count: usize, live: Option<&Layout>) -> (Vec<Plugged>, Vec<Plugged>) {
    let cables = || live.into_iter().flat_map(|live| &live.cables);
    let links: Vec<_> = cables()
        .filter(|cable| cable.east.0 == from.name.as_str() && cable.west.0 == to.name.as_str())
        .map(|cable| (&cable.east.1, &cable.west.1))
        .collect();
    let link = |at: usize| match (written(from, Side::East), written(to, Side::West)) {
        (Some(list), _) => list.get(at).and_then(|port| links.iter().find(|(east, _)| **east == port.value)),
        (None, Some(list)) => list.get(at).and_then(|port| links.iter().find(|(_, west)| **west == port.value)),
        (None, None) => links.get(at),
    };
    let ends = (0..count).map(|at| link(at).map(|(east, west)| ((*east).clone(), (*west).clone())));
    ends.map(Option::unzip).unzip()
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

/// What is known of a member's ports when its sides are derived.
pub(super) struct Ports<'a> {
    /// The ports that can stack, if a model says so.
    pub stacking: Option<&'a [PortName]>,
    /// The member as the stack stands, in this box or another.
    pub old: Option<&'a Placed>,
    /// Whether it is in another box now.
    pub exchanged: bool,
    /// The ports that carry a leg of an uplink pair.
    pub legs: &'a BTreeSet<PortName>,
}

/// The ports of both sides, west and east.
///
/// A side with no cable reserves as many as the other side has, so that a chain that grows or closes
/// needs no port moved.
pub(super) fn sides(
    member: &Member,
    needs: &Needs,
    known: &Ports<'_>,
    findings: &mut Findings,
) -> (Vec<PortName>, Vec<PortName>) {
    if let Some(sides) = &member.sides {
        let names = |list: &[Located<PortName>]| list.iter().map(|port| port.value.clone()).collect();
        return (names(&sides.west), names(&sides.east));
    }
    let of_old = |side: fn(&Placed) -> &Vec<PortName>| known.old.map(side).cloned().unwrap_or_default();
    let (old_west, old_east) = (of_old(|old| &old.west), of_old(|old| &old.east));
    let pool: Vec<&PortName> = match known.stacking {
        Some(stacking) => stacking.iter().collect(),
        None if known.exchanged => Vec::new(),
        None => old_west.iter().chain(&old_east).collect(),
    };
    if pool.is_empty() && (needs.west.is_some() || needs.east.is_some()) {
        return unknown(member, findings);
    }
    let mut free: Vec<&PortName> = pool.into_iter().filter(|port| !known.legs.contains(port)).collect();
    let cabled = |side: &Option<Vec<Plugged>>| side.as_ref().map_or(0, Vec::len);
    let firm = cabled(&needs.west) + cabled(&needs.east);
    if free.len() < firm {
        let message =
            format!("{} has {} free that can stack, and needs {firm}", member.name.as_str(), ports(free.len()));
        findings.error(Diagnostic::error(&TOO_FEW_PORTS, member.name.span, message));
    }
    // what is cabled comes first where ports are scarce
    let spare = free.len().saturating_sub(firm);
    let reserve = cabled(&needs.west).max(cabled(&needs.east));
    let wanted = |side: &Option<Vec<Plugged>>, old: &[PortName]| {
        side.clone().unwrap_or_else(|| vec![None; reserve.max(old.len()).min(spare)])
    };
    let (mut west, mut east) = (wanted(&needs.west, &old_west), wanted(&needs.east, &old_east));
    for end in west.iter_mut().chain(&mut east) {
        *end = end.take().filter(|port| take(&mut free, port));
    }
    for (side, old) in [(&mut west, &old_west), (&mut east, &old_east)] {
        let mut kept = old.iter();
        for end in side.iter_mut().filter(|end| end.is_none()) {
            *end = kept.find(|port| take(&mut free, port)).cloned();
        }
    }
    let mut first = free.into_iter();
    for end in west.iter_mut().chain(&mut east).filter(|end| end.is_none()) {
        *end = first.next().cloned();
    }
    (west.into_iter().flatten().collect(), east.into_iter().flatten().collect())
}

/// Takes a port out of those that are free; false if it is not among them.
fn take(free: &mut Vec<&PortName>, port: &PortName) -> bool {
    let at = free.iter().position(|other| *other == port);
    at.is_some_and(|at| {
        free.remove(at);
        true
    })
}

fn unknown(member: &Member, findings: &mut Findings) -> (Vec<PortName>, Vec<PortName>) {
    // a model that the catalogue does not have is a fault of its own
    if member.model.is_none() {
        let name = member.name.as_str();
        let message = format!("{name} needs `sides`, since no model says which of its ports can stack");
        let help = "add `sides:`, or a `model:` of the dialect's catalogue";
        findings.error(Diagnostic::error(&SIDES_UNKNOWN, member.name.span, message).help(help));
    }
    (Vec::new(), Vec::new())
}
