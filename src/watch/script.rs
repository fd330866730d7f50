//! The steps in order: operations with the looks and waits between them.

use crate::model::document::{Action, Phase, Reason, Until, Warning};
use crate::model::facts::Spot;
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::places::operation_spot;
use crate::model::progress::{Done, Situation, touches_live};
use crate::model::reached::differences;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};
use crate::plan::Route;

use super::back::limit;
use super::named::named;
use super::slip::Slips;
use super::titles::{Run, newcomer, runs};
use super::trace::{Traced, trace};
use super::{Plugs, looks, outcome, reasons};

/// One line of the script: a step without number, place or minutes.
#[derive(Clone, Debug)]
pub struct Line {
    /// What is done.
    pub action: Action,
    /// When.
    pub phase: Phase,
    /// Why.
    pub why: Reason,
    /// The unit that a stage step stages.
    pub stages: Option<UnitId>,
    /// What a person would call the thing that it belongs to.
    pub title: String,
}

/// The lines of a plan and what its reader should know.
#[derive(Clone, Debug, Default)]
pub struct Script {
    /// The lines.
    pub lines: Vec<Line>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// Writes the script of a route.
#[must_use]
pub fn script(setting: &Setting, plugs: &Plugs, route: &Route) -> Script {
    let trace = trace(setting, route);
    let first = trace.iter().position(|step| step.stages.is_none()).unwrap_or(trace.len());
    let mut writer = Writer {
        setting,
        plugs,
        slips: Slips::new(setting, &trace),
        runs: runs(setting, trace.get(first..).unwrap_or_default()),
        trace: &trace,
        first,
        at: 0,
        situation: Situation::start(setting),
        segment: None,
        fresh: false,
        staging: None,
        seen_new: UnitSet::EMPTY,
        title: String::new(),
        script: Script::default(),
    };
    for (unit, operations) in &route.stages {
        writer.stage(*unit, operations.len());
    }
    while writer.at < trace.len() {
        writer.change();
    }
    if !trace.is_empty() {
        writer.close();
    }
    writer.script
}

/// A script under way.
pub(super) struct Writer<'a> {
    pub(super) setting: &'a Setting,
    plugs: &'a Plugs,
    trace: &'a [Traced],
    slips: Slips<'a>,
    /// The moves of the change.
    runs: Vec<Run>,
    /// Where the change begins in the trace, after all staging.
    first: usize,
    /// The operation that is written next.
    at: usize,
    pub(super) situation: Situation,
    pub(super) segment: Option<Spot>,
    fresh: bool,
    staging: Option<UnitId>,
    /// Newcomers that were looked at as they come out of their box.
    seen_new: UnitSet,
    pub(super) title: String,
    pub(super) script: Script,
}

impl Writer<'_> {
    pub(super) fn write(&mut self, action: Action, phase: Phase, why: Reason) {
        let stages = if phase == Phase::Stage { self.staging } else { None };
        self.script.lines.push(Line { action, phase, why, stages, title: self.title.clone() });
    }

    /// A newcomer's whole staging. The first unit of a new stack is the stack as soon as its last
    /// operation is done: the wait and the look after it stand at the stack.
    fn stage(&mut self, unit: UnitId, operations: usize) {
        self.staging = Some(unit);
        self.title = format!("Stage {}", newcomer(self.setting, unit));
        let founder = self.setting.founder() == Some(unit);
        for left in (0..operations).rev() {
            let Some(operation) = self.trace.get(self.at).map(|step| step.operation) else { return };
            self.look_before(operation, Phase::Stage);
            self.do_it(operation, Phase::Stage);
            let last = left == 0;
            if last && founder {
                self.situation.found_stack(self.setting);
                self.segment = None;
            }
            let phase = if last && founder { Phase::Settle } else { Phase::Stage };
            if matches!(operation, Operation::PowerOn(_) | Operation::Restart(_)) {
                self.wait(unit, Until::Up, phase);
            }
        }
        let phase = if founder { Phase::Settle } else { Phase::Stage };
        let spot = if founder { Spot::Stack } else { Spot::Console(unit) };
        if self.seen_new.contains(unit) {
            let facts = looks::staged(self.setting, &self.situation, unit);
            self.look(spot, facts, phase, "staged", "what was typed is what the unit runs and keeps", None);
        } else {
            self.look_at_new(unit, spot, phase);
        }
        self.staging = None;
    }

    /// The look that must stand before a typed step at a console: the right one, and before the first step on a
    /// newcomer a unit out of its box.
    fn look_before(&mut self, operation: Operation, phase: Phase) {
        let Some(unit) = unit_of(self.setting, operation).filter(|_| !by_hands(operation)) else { return };
        let spot = operation_spot(self.setting, &self.situation, operation);
        let new = self.setting.joining.contains(unit) && !self.seen_new.contains(unit);
        if new {
            self.look_at_new(unit, spot, phase);
        } else if self.segment != Some(spot) {
            let text = "what follows is meant for this console and no other";
            self.look(spot, Vec::new(), phase, "right-place", text, None);
        }
    }

    fn look_at_new(&mut self, unit: UnitId, spot: Spot, phase: Phase) {
        self.seen_new.insert(unit);
        let facts = looks::factory(self.setting, unit);
        let text = "this is the console of the new unit, and nothing was set on it before";
        let otherwise = "go to that unit's console if this is another; if it is, wipe the unit, then look again";
        let otherwise = Some(otherwise.to_owned());
        self.look(spot, facts, phase, "factory-unit", text, otherwise);
    }

    /// One operation of the change, with the looks before it and what follows it.
    fn change(&mut self) {
        let Some(operation) = self.trace.get(self.at).map(|step| step.operation) else { return };
        self.open_move();
        let spot = operation_spot(self.setting, &self.situation, operation);
        self.read_cables(operation, spot);
        self.read_legs(operation);
        if let Operation::Restart(unit) = operation
            && self.situation.memory.live.contains(unit)
        {
            self.look_before_restart(unit, spot);
        } else if !by_hands(operation) && self.segment != Some(spot) {
            self.look_before_typing(operation, spot);
        }
        self.do_and_follow(operation);
    }

    /// Looks at the place, for operations on pairs too, which name no unit.
    fn look_before_typing(&mut self, operation: Operation, spot: Spot) {
        if unit_of(self.setting, operation).is_some() {
            self.look_before(operation, Phase::Settle);
        } else {
            let text = "what follows is meant for this console and no other";
            self.look(spot, Vec::new(), Phase::Settle, "right-place", text, None);
        }
    }

    /// Begins a move, if one begins here; before the first one that touches the running stack, that is looked at.
    fn open_move(&mut self) {
        let position = self.at - self.first;
        let Some(at) = self.runs.iter().rposition(|run| run.first <= position) else {
            self.check_baseline(self.at + 1);
            self.title = self.last_title();
            return;
        };
        let saves = self.saves_at_end();
        let next = self.runs.get(at + 1).map_or(self.trace.len() - saves, |run| self.first + run.first);
        self.check_baseline(next.max(self.at + 1));
        let title = self.runs.get(at).map(|run| run.title.clone()).unwrap_or_default();
        self.title = if self.at < self.trace.len() - saves { title } else { self.last_title() };
    }

    fn saves_at_end(&self) -> usize {
        let change = self.trace.iter().skip(self.first);
        change.rev().take_while(|step| matches!(step.operation, Operation::Save(_))).count()
    }

    fn last_title(&self) -> String {
        let saves = if self.saves_at_end() > 0 { "Save and check" } else { "Check" };
        format!("{saves} the whole stack")
    }

    /// Looks at the whole stack before the first move in which it is touched.
    fn check_baseline(&mut self, end: usize) {
        let mut ahead = self.trace.iter().take(end).skip(self.at);
        if self.fresh || !ahead.any(|step| touches_live(self.setting, &step.before, step.operation)) {
            return;
        }
        self.fresh = true;
        let new = self.setting.founder().is_some();
        self.title = if new { "Check the first unit" } else { "Check the running stack" }.to_owned();
        let facts = looks::whole_stack(self.setting, &self.situation);
        let text = "the plan is only true for the stack as it was described";
        self.look(Spot::Stack, facts, Phase::Settle, "fresh-baseline", text, None);
    }

    /// Does an operation of the change, then waits for whoever restarted and looks at what came of it.
    fn do_and_follow(&mut self, operation: Operation) {
        let before = self.situation.clone();
        let phase = self.phase(operation);
        let Some(done) = self.do_it(operation, phase) else { return };
        if let Operation::Connect(cable) = operation
            && let Some(facts) = looks::plug(self.setting, self.plugs, cable)
        {
            let why =
                Reason { code: "right-cable".to_owned(), text: "both ends of this cable carry its serial".to_owned() };
            let otherwise = Some("unplug it and take the right cable".to_owned());
            self.write(Action::Expect { facts, otherwise }, Phase::Settle, why);
            self.segment = None;
        }
        let own = match operation {
            Operation::Restart(unit) | Operation::PowerOn(unit) => UnitSet::one(unit),
            _ => UnitSet::EMPTY,
        };
        for unit in done.events.restarts.or(own).or(done.joined).iter() {
            let until = if self.situation.incumbent(self.setting).contains(unit) { Until::Ready } else { Until::Up };
            self.wait(unit, until, Phase::Settle);
        }
        self.look_after(operation, &before, &done);
    }

    /// Looks at what an operation has brought about, unless the last look of all comes next.
    fn look_after(&mut self, operation: Operation, before: &Situation, done: &Done) {
        let (setting, now) = (self.setting, &self.situation);
        let seen = if !done.joined.is_empty() {
            outcome::after_join(setting, before, now, done.joined)
        } else if let Operation::PowerOff(unit) = operation {
            outcome::after_power_off(setting, now, unit)
        } else if self.at < self.trace.len() {
            outcome::after_links(setting, before, now, operation)
        } else {
            None
        };
        if let Some(seen) = seen {
            self.look(Spot::Stack, seen.facts, Phase::Settle, seen.code, &seen.text, Some(seen.otherwise));
        }
    }

    fn phase(&self, operation: Operation) -> Phase {
        match operation {
            Operation::Connect(_) | Operation::Disconnect(_) => Phase::Cable,
            Operation::Save(_) if self.at + self.saves_at_end() >= self.trace.len() => Phase::Close,
            _ => Phase::Join,
        }
    }

    /// Before a live unit restarts: it is the right box, and somebody is there to take over.
    fn look_before_restart(&mut self, unit: UnitId, spot: Spot) {
        let facts = outcome::before_restart(self.setting, &self.situation, unit);
        let text = "the unit that restarts is the one that was agreed to, and the others carry on without it";
        let otherwise = Some("restart nothing, and find out why it differs".to_owned());
        self.look(spot, facts, Phase::Settle, "right-box", text, otherwise);
    }

    fn do_it(&mut self, operation: Operation, phase: Phase) -> Option<Done> {
        let done = self.situation.step(self.setting, operation).ok()?;
        let why = reasons::reason(self.setting, &self.slips, self.trace, self.at, phase);
        self.at += 1;
        self.write(named(self.setting, operation), phase, why);
        self.situation = done.after.clone();
        let ends = by_hands(operation) || matches!(operation, Operation::Restart(_) | Operation::Wipe(_));
        if ends {
            self.segment = None;
        }
        Some(done)
    }

    fn wait(&mut self, unit: UnitId, until: Until, phase: Phase) {
        let limit = limit(self.setting, until);
        let why = match until {
            Until::Up => ("booted", "nothing can be typed on a unit that is still booting"),
            Until::Joined | Until::Ready => {
                ("settled", "nothing that disturbs may follow a join before the unit could take over")
            }
        };
        let key = self.setting.units[unit].key.clone();
        self.write(
            Action::Await { unit: key, until, limit },
            phase,
            Reason { code: why.0.to_owned(), text: why.1.to_owned() },
        );
        self.segment = None;
        if until == Until::Ready {
            self.situation.found_ready(unit);
        }
    }

    fn close(&mut self) {
        let whole = differences(self.setting, &self.situation.state).0.is_empty();
        let text = if whole { "the whole stack is as the intent says" } else { "the stack as it stands" };
        self.title = self.last_title();
        let facts = looks::whole_stack(self.setting, &self.situation);
        self.look(Spot::Stack, facts, Phase::Close, "reaches-target", text, None);
    }
}
