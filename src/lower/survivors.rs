//! The stack as built -> what is left of it once its dead members have gone off: who is up, and who leads.
//!
//! The model itself says what the rest does: the dead go off in a state that runs, and that state settles. They go off
//! together, for nobody knows in which order they failed, and it makes no difference: whoever led in between, each
//! island ends under the old primary if it holds it, else under its own best. The settings and the cables of the dead
//! stay as they were.

use super::layout::Layout;
use crate::diag::{Code, Diagnostic, Findings, Reported, listed};
use crate::intent::Intent;
use crate::model::derive::{Islands, primaries};
use crate::model::document::StateDocument;
use crate::model::election::{Ballot, compare};
use crate::model::naming::{Documents, document, setting};
use crate::model::setting::Setting;
use crate::model::settle::{Events, settle, take_down};
use crate::model::state::State;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&LEADER_UNKNOWN];

/// Nothing says who leads what is left.
pub(super) const LEADER_UNKNOWN: Code = Code {
    name: "leader-unknown",
    explanation: "Where the primary has failed, or a part of the stack was cut off from it, the others have elected one among \
themselves. Here two of them tie in everything that the platform compares, as far as it is written down, so nothing says \
who leads now, and every step depends on it. Write what tells them apart into the intent of the stack as it stands.",
};

/// The state that the dead left behind.
///
/// # Errors
/// [`Reported`], if nothing that is written down says who leads an island of it.
pub(super) fn survivors(
    built: &Documents<'_>,
    intent: &Intent,
    old: Option<&Layout>,
    findings: &mut Findings,
) -> Result<StateDocument, Reported> {
    let as_built = || built.baseline.clone();
    if built.change.dead.is_empty() {
        return Ok(as_built());
    }
    // what is too large to be held is refused where the whole plan is
    let Ok(setting) = setting(built) else { return Ok(as_built()) };
    let (mut now, mut events) = (setting.baseline.clone(), Events::default());
    for unit in setting.dead.iter() {
        take_down(&setting, &mut now, unit);
    }
    settle(&setting, &Islands::of(&setting, &setting.baseline), &mut now, &mut events);
    let mark = findings.mark();
    for names in ties(&setting, &now, &events) {
        undecided(&names, intent, old, findings);
    }
    findings.failed_since(mark)?;
    Ok(StateDocument { units: document(&setting, &now).units, ..as_built() })
}

/// The members of each island that tie for its lead.
fn ties(setting: &Setting, now: &State, events: &Events) -> Vec<Vec<String>> {
    let undecided =
        Islands::of(setting, now).iter().filter(|island| island.meets(events.undecided)).collect::<Vec<_>>();
    let best = |leader, unit| unit == leader || compare(setting, now, Ballot::Boot, unit, leader).0.is_eq();
    let of = |island| {
        let leader = primaries(now, island).first()?;
        let tied = island.iter().filter(|unit| best(leader, *unit));
        Some(tied.map(|unit| setting.units[unit].member.clone()).collect())
    };
    undecided.into_iter().filter_map(of).collect()
}

fn undecided(tied: &[String], intent: &Intent, old: Option<&Layout>, findings: &mut Findings) {
    let dead = intent.change.iter().flat_map(|change| &change.dead);
    let off = listed(dead.clone().map(|name| name.as_str()), "and");
    let who = listed(tied.iter().map(String::as_str), "or");
    let place = dead.clone().next().map_or(intent.stack.span, |name| name.span);
    let message = format!("with {off} off, nothing says whether {who} leads now");
    let mut diagnostic = Diagnostic::error(&LEADER_UNKNOWN, place, message);
    for placed in tied.iter().filter_map(|name| old.and_then(|old| old.member(name))) {
        diagnostic = diagnostic.related(placed.place, "as far as is known, it may lead");
    }
    let help = "write their priorities into the stack as it stands, or their MAC addresses where those decide";
    findings.error(diagnostic.help(help));
}
