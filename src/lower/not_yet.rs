//! Changes that the planner cannot do yet, refused by their names. A release that can do one deletes its line here.

use super::{Delta, Problem};
use crate::diag::{Code, Diagnostic, Findings, Reported};
use crate::intent::Intent;
use crate::model::document::{Side, StateDocument, Status};
use crate::model::traits::Topology;
use crate::source::Span;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&NOT_YET];

/// A change that this release cannot plan.
pub const NOT_YET: Code = Code {
    name: "not-yet",
    explanation: "The change is one that a stack can take, but this release does not plan it yet. What it plans: a new \
stack; members added at the ends of a chain or into a ring; a chain closed into a ring; parallel cables added; uplink \
pairs and the split guard formed; other priorities while the primary stays. Nothing is planned wrongly instead.",
};

/// Refuses what cannot be planned yet, each thing once, at the place in the intent that asks for it.
///
/// # Errors
/// [`Reported`], if there is anything.
pub fn not_yet(problem: &Problem, intent: &Intent, findings: &mut Findings) -> Result<(), Reported> {
    let mark = findings.mark();
    let mut refuse = |place: Span, what: String| {
        findings.error(Diagnostic::error(&NOT_YET, place, format!("this release cannot yet {what}")));
    };
    members(&problem.delta, intent, &mut refuse);
    links(problem, intent, &mut refuse);
    uplinks(&problem.delta, intent, &mut refuse);
    findings.failed_since(mark)
}

type Refuse<'a> = dyn FnMut(Span, String) + 'a;

fn members(delta: &Delta, intent: &Intent, refuse: &mut Refuse<'_>) {
    let at = |name: &str| intent.member(name).map_or(intent.members_place(), |member| member.name.span);
    delta.removed.iter().for_each(|name| refuse(at(name), format!("remove a member, here {name}")));
    for name in &delta.replaced {
        let serial = intent.member(name).and_then(|member| member.serial.as_ref()).map(|serial| serial.span);
        refuse(serial.unwrap_or(at(name)), format!("replace a member's box, here {name}"));
    }
    for dead in intent.change.iter().flat_map(|change| &change.dead) {
        refuse(dead.span, format!("work around a member that has failed, here {}", dead.as_str()));
    }
    for (name, old, new) in &delta.renumbered {
        let id = intent.member(name).map_or(intent.members_place(), |member| member.id.span);
        refuse(id, format!("renumber a live member, here {name} from {old} to {new}"));
    }
    if let Some((old, new)) = &delta.primary_moves {
        let role = intent.member(new).and_then(|member| member.role.as_ref()).map(|role| role.span);
        refuse(role.unwrap_or(at(new)), format!("move the primary's role, here from {old} to {new}"));
    }
}

fn links(problem: &Problem, intent: &Intent, refuse: &mut Refuse<'_>) {
    let (place, delta) = (intent.topology.span, &problem.delta);
    if delta.topology == Some((Topology::Ring, Topology::Chain)) {
        return refuse(place, "open a ring".to_owned());
    }
    // removals and replacements move links of their own, and are refused already
    if !delta.removed.is_empty() || !delta.replaced.is_empty() {
        return;
    }
    if let Some(port) = moved_port(problem) {
        return refuse(intent.members_place(), format!("take a link off its port, here {port}"));
    }
    let into_ring = problem.site.topology == Some(Topology::Ring) && delta.topology.is_none();
    let closes_gap =
        |cable: &[String; 2]| !delta.added.is_empty() && cable.iter().all(|end| reaches_joining(problem, end));
    let is_refused = |cable: &&[String; 2]| !(into_ring && closes_gap(cable));
    if let Some([one, other]) = delta.cables_removed.iter().find(is_refused) {
        let what = match (into_ring, delta.added.first()) {
            (false, Some(_)) => "insert a member into the middle of a chain",
            (_, _) => "move or unplug a link between two live members",
        };
        refuse(intent.members_place(), format!("{what}, here the cable {one} to {other}"));
    }
}

/// A live unit's port that is bound before and released or turned to its other side after.
fn moved_port(problem: &Problem) -> Option<String> {
    let bound = |state: &StateDocument, key: &str| {
        let saved = state.units.get(key).and_then(|unit| unit.saved.as_ref());
        let ports = saved.into_iter().flat_map(|saved| &saved.ports).filter(|(_, port)| port.side != Side::None);
        ports.map(|(name, port)| (name.clone(), port.side)).collect::<Vec<_>>()
    };
    let live = problem.units.iter().filter(|unit| unit.status == Status::Live);
    live.flat_map(|unit| {
        let after = bound(&problem.target, &unit.key);
        let gone = bound(&problem.baseline, &unit.key).into_iter().filter(move |port| !after.contains(port));
        gone.map(|(port, _)| format!("{}:{port}", unit.key))
    })
    .next()
}

/// Whether the cable that an end holds after the change leads to a joining unit.
fn reaches_joining(problem: &Problem, end: &str) -> bool {
    let joins = |key: &str| problem.units.iter().any(|unit| unit.key == key && unit.status == Status::Joining);
    problem.target.cables.iter().any(|[one, other]| {
        let far = if one == end {
            other
        } else if other == end {
            one
        } else {
            return false;
        };
        far.split_once(':').is_some_and(|(key, _)| joins(key))
    })
}

fn uplinks(delta: &Delta, intent: &Intent, refuse: &mut Refuse<'_>) {
    let pair =
        |name: &str| intent.uplink_pairs.iter().find(|pair| pair.name.as_str() == name).map(|pair| pair.name.span);
    delta
        .uplinks_dropped
        .iter()
        .for_each(|name| refuse(intent.stack.span, format!("drop an uplink pair, here {name}")));
    for name in &delta.uplinks_changed {
        refuse(pair(name).unwrap_or(intent.stack.span), format!("change the legs of an uplink pair, here {name}"));
    }
    if let Some((Some(old), new)) = &delta.guard {
        let place = intent.split_guard.as_ref().map_or(intent.stack.span, |guard| guard.span);
        let what = match new {
            Some(new) => format!("move the split guard, here from {old} to {new}"),
            None => format!("take the split guard off, here from {old}"),
        };
        refuse(place, what);
    }
}
