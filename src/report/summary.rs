//! What `compile` says to a person: a screen at most.

use std::fmt::Write as _;
use std::path::Path;

use crate::compile::Compiled;
use crate::lower::Site;
use crate::model::document::{CostEntry, Phase, PlanDocument, Status};
use crate::model::names::{Minutes, list};
use crate::model::traits::Topology;
use crate::render::{PLAN_FILE, TurnBack, headline, leaders, live_restarts, spare_cables, times, whole_minutes};
use crate::report::wrapped;

/// The most moves that are listed to the last one.
const MOST_MOVES: usize = 11;
/// Of more, so many are listed and the rest is counted.
const FIRST_MOVES: usize = 9;
/// Notes that are listed before the rest is counted.
const MOST_NOTES: usize = 1;
/// The columns of the smallest terminal that people use.
const WIDTH: usize = 80;

/// The summary of one compiled stack.
#[must_use]
pub fn of(compiled: &Compiled, place: &Path, unchanged: bool) -> String {
    let (problem, plan) = (&compiled.problem, compiled.rehearsed.plan());
    let mut text = wrapped(&headline(plan, problem.site.topology, &problem.delta), WIDTH);
    text.push('\n');
    // writing to a String cannot fail
    if plan.steps.is_empty() {
        let _ = writeln!(text, "The stack is as the intent says: there is nothing to do.");
    } else {
        moves(&mut text, plan);
        proof(&mut text, plan, &problem.site);
    }
    let notes = &plan.warnings;
    let opens_with = compiled.bundle.opens_with.as_deref().unwrap_or(PLAN_FILE);
    notes.iter().take(MOST_NOTES).for_each(|note| text.push_str(&wrapped(&format!("Note: {}.", note.text), WIDTH)));
    let _ = match notes.len().saturating_sub(MOST_NOTES) {
        0 => Ok(()),
        1 => writeln!(text, "1 note more stands in {opens_with}."),
        more => writeln!(text, "{more} notes more stand in {opens_with}."),
    };
    let files = compiled.bundle.files.len();
    let shown = place.display();
    let _ = match unchanged {
        false if plan.steps.is_empty() => writeln!(text, "{files} files are in {shown}."),
        true => writeln!(text, "The {files} files in {shown} are as they were: nothing was written."),
        false => writeln!(text, "{files} files are in {shown}; begin with {opens_with}."),
    };
    text
}

/// What a merge request says of one compiled stack.
#[derive(Clone, Debug)]
pub struct Facts {
    /// What changes, in one sentence.
    pub sentence: String,
    /// Live units that restart.
    pub restarts: Vec<String>,
    /// Minutes as it usually goes, whole.
    pub likely: String,
    /// Minutes at worst, whole.
    pub worst: String,
    /// Minutes in which one broken link would split a ring, whole.
    pub open: String,
    /// What the intent agrees to.
    pub consents: Vec<String>,
}

/// The facts of one compiled stack.
#[must_use]
pub fn facts(compiled: &Compiled) -> Facts {
    let (problem, plan) = (&compiled.problem, compiled.rehearsed.plan());
    let minutes = |of: fn(&CostEntry) -> Minutes, up| {
        plan.cost.map_or_else(|| "0".to_owned(), |cost| whole_minutes(of(&cost), up))
    };
    Facts {
        sentence: headline(plan, problem.site.topology, &problem.delta),
        restarts: live_restarts(plan),
        likely: minutes(|cost| cost.likely_minutes, false),
        worst: minutes(|cost| cost.worst_minutes, true),
        open: minutes(|cost| cost.unprotected_minutes, true),
        consents: plan.change.accept.clone(),
    }
}

fn moves(text: &mut String, plan: &PlanDocument) {
    let moves = plan.moves.as_deref().unwrap_or_default();
    let width = moves.iter().map(|one| one.title.chars().count()).max().unwrap_or(0);
    let listed = if moves.len() > MOST_MOVES { FIRST_MOVES } else { moves.len() };
    for one in moves.iter().take(listed) {
        let steps = plan.steps.iter().filter(|step| step.in_move == Some(one.number));
        let minutes: Minutes = steps.filter_map(|step| step.minutes.and_then(|minutes| minutes.likely)).sum();
        let _ = writeln!(text, "  {:>2}  {:width$}  {:>3} min", one.number, one.title, whole_minutes(minutes, false));
    }
    if moves.len() > listed {
        let _ = writeln!(text, "      and {} moves more", moves.len() - listed);
    }
    text.push('\n');
}

fn proof(text: &mut String, plan: &PlanDocument, site: &Site) {
    let Some(cost) = plan.cost else { return };
    let running = plan.units.iter().any(|unit| unit.status != Status::Joining);
    let primary = plan.target.units.iter().find(|(_, unit)| unit.primary).map_or("", |(key, _)| key.as_str());
    if running {
        text.push_str(&wrapped(&in_service(plan, &cost), WIDTH));
    } else if plan.units.len() > 1 {
        let _ = writeln!(text, "{primary} is primary from the first join on.");
    }
    if running {
        open(text, site.topology, &cost);
    }
    text.push_str(&wrapped(&time(plan, &cost, site), WIDTH));
    let untried = plan.trust.iter().filter(|line| line.tried_on.is_none()).count();
    let tried = match untried {
        0 => String::new(),
        all if all == plan.trust.len() => "; the dialect says of none that it was tried".to_owned(),
        some => format!("; {some} of them untried"),
    };
    let habits = plan.trust.len();
    let rests_on =
        format!("The proof holds if the {habits} habits that the dialect states are true of your platform{tried}.");
    text.push_str(&wrapped(&rests_on, WIDTH));
}

/// How long the change takes, what of it is done in its window, and when to turn back.
fn time(plan: &PlanDocument, cost: &CostEntry, site: &Site) -> String {
    let staged = plan.moves.iter().flatten().filter(|one| one.phase == Phase::Stage).count();
    let side_by_side = if staged > 1 { "; the staging of different units runs side by side" } else { "" };
    let spoken = |likely, worst| (whole_minutes(likely, false), whole_minutes(worst, true));
    let in_all = spoken(cost.likely_minutes, cost.worst_minutes);
    let times = times(plan, site.window.as_ref(), site.hands.as_ref());
    let inside = spoken(times.likely, times.worst);
    let window = match site.window {
        None => String::new(),
        Some((_, given)) if inside == in_all => format!("; window {given}"),
        Some((_, given)) => format!("; in the window of {given}: {}, at worst {}", inside.0, inside.1),
    };
    let back = match times.turn_back {
        TurnBack::Unknown => String::new(),
        TurnBack::TooLate => "; no way back fits in it".to_owned(),
        TurnBack::By { time, .. } => format!("; turn back by {time}"),
    };
    format!("{} in all, at worst {}{side_by_side}{window}{back}.", minutes(&in_all.0), in_all.1)
}

/// What the change asks of those in service: who restarts, who leads, how long somebody is out, and what was agreed.
fn in_service(plan: &PlanDocument, cost: &CostEntry) -> String {
    let (restarts, leaders) = (live_restarts(plan), leaders(plan));
    let mut said = Vec::new();
    let out = minutes(&whole_minutes(cost.member_minutes, true));
    let together = if restarts.len() > 1 { " together" } else { "" };
    let goes = if restarts.len() == 1 { "restarts" } else { "restart" };
    let lead = match leaders.as_slice() {
        [] => String::new(),
        [leader] => format!("{leader} stays primary throughout"),
        [first, rest @ ..] => format!("the lead goes from {first} to {}", rest.join(", then to ")),
    };
    match (restarts.as_slice(), cost.member_minutes > Minutes::ZERO) {
        ([], false) => said.push(format!("No live unit restarts; {lead}.")),
        ([], true) => said.push(format!("No live unit restarts, and some are cut off for {out} in all; {lead}.")),
        (names, false) => said.push(format!("{} {goes}; {lead}.", list(names))),
        (names, true) => said.push(format!("{} {goes}, out of the stack for {out}{together}; {lead}.", list(names))),
    }
    if !plan.change.accept.is_empty() {
        said.push(format!("Agreed to: {}.", plan.change.accept.join(", ")));
    }
    for [one, other] in spare_cables(plan) {
        said.push(format!("A spare cable between {one} and {other} comes, and goes again."));
    }
    said.join(" ")
}

/// How long a broken link could split the live stack, where it is, was or becomes a ring.
fn open(text: &mut String, after: Option<Topology>, cost: &CostEntry) {
    if cost.unprotected_minutes > Minutes::ZERO {
        let open = minutes(&whole_minutes(cost.unprotected_minutes, true));
        let _ = writeln!(text, "For {open} the ring is open: one broken link would split the stack.");
    } else if cost.half_protected_minutes > Minutes::ZERO && after == Some(Topology::Ring) {
        let _ = writeln!(text, "Until the ring is closed, one broken link can split the stack.");
    }
}

fn minutes(whole: &str) -> String {
    if whole == "1" { "1 minute".to_owned() } else { format!("{whole} minutes") }
}
