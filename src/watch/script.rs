//! The steps in order: operations with the looks and waits between them.

use crate::lower::Problem;
use crate::model::document::{Action, Fact, Phase, Reason, Until, Warning};
use crate::model::facts::Spot;
use crate::model::names::Minutes;
use crate::model::naming::find_cable;
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::places::operation_spot;
use crate::model::progress::{Done, Situation, neighbour_shows};
use crate::model::rules::{Rule, after_step, differences, touches_live, up_unread};
use crate::model::setting::{Point, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, UnitId, UnitSet};
use crate::plan::Route;

use super::named::named;
use super::{looks, reasons};

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
    /// Something whole is reached with this line: what a person would call it.
    pub closes: Option<String>,
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
pub fn script(setting: &Setting, problem: &Problem, route: &Route) -> Script {
    let mut writer = Writer {
        setting,
        problem,
        situation: Situation::start(setting),
        segment: None,
        fresh: false,
        staging: None,
        steps_left: route.steps.len(),
        script: Script::default(),
    };
    for (unit, operations) in &route.stages {
        writer.stage(*unit, operations);
    }
    for operation in &route.steps {
        writer.change(*operation);
        writer.steps_left -= 1;
    }
    if !(route.steps.is_empty() && route.stages.is_empty()) {
        writer.close();
    }
    writer.script
}

struct Writer<'a> {
    setting: &'a Setting,
    problem: &'a Problem,
    situation: Situation,
    segment: Option<Spot>,
    fresh: bool,
    staging: Option<UnitId>,
    steps_left: usize,
    script: Script,
}

impl Writer<'_> {
    fn write(&mut self, action: Action, phase: Phase, why: Reason) {
        let stages = if phase == Phase::Stage { self.staging } else { None };
        self.script.lines.push(Line { action, phase, why, stages, closes: None });
    }

    fn close_move(&mut self, title: String) {
        if let Some(line) = self.script.lines.last_mut() {
            line.closes = Some(title);
        }
    }

    /// A newcomer's whole staging. The first unit of a new stack is the stack as soon as its last
    /// operation is done: the wait and the look after it stand at the stack.
    fn stage(&mut self, unit: UnitId, operations: &[Operation]) {
        self.staging = Some(unit);
        let founder = self.setting.founder() == Some(unit);
        for (position, operation) in operations.iter().enumerate() {
            self.look_before(*operation, Phase::Stage, position == 1);
            self.do_it(*operation, Phase::Stage);
            let last = position + 1 == operations.len();
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
        let facts = looks::staged(self.setting, &self.situation, unit);
        self.look(spot, facts, phase, "staged", "what was typed is what the unit runs and keeps", None);
        self.close_move(format!("Stage {}", self.setting.units[unit].key));
        self.staging = None;
    }

    /// The look that must stand before a typed stage step: the right console, and at the first one
    /// a unit out of its box.
    fn look_before(&mut self, operation: Operation, phase: Phase, first: bool) {
        let Some(unit) = unit_of(self.setting, operation).filter(|_| !by_hands(operation)) else { return };
        let spot = Spot::Console(unit);
        if self.segment == Some(spot) {
            return;
        }
        let (facts, otherwise) = if first {
            (looks::factory(self.setting, unit), Some("wipe the unit, then look again".to_owned()))
        } else {
            (Vec::new(), None)
        };
        self.look(
            spot,
            facts,
            phase,
            "factory-unit",
            "this is the console of the new unit, and nothing was set on it before",
            otherwise,
        );
    }

    fn change(&mut self, operation: Operation) {
        let spot = operation_spot(self.setting, &self.situation, operation);
        if !self.fresh && touches_live(self.setting, &self.situation, operation) {
            self.fresh = true;
            let facts = looks::whole_stack(self.setting, &self.situation);
            self.look(
                Spot::Stack,
                facts,
                Phase::Settle,
                "fresh-baseline",
                "the plan is only true for the stack as it was described",
                None,
            );
            let new = self.setting.founder().is_some();
            self.close_move(if new { "Check the first unit" } else { "Check the running stack" }.to_owned());
        }
        self.read_cables(operation, spot);
        self.read_legs(operation);
        if !by_hands(operation) && self.segment != Some(spot) {
            self.look(
                spot,
                Vec::new(),
                Phase::Settle,
                "right-place",
                "what follows is meant for this console and no other",
                None,
            );
        }
        self.do_and_follow(operation);
    }

    /// Does an operation of the change, then waits for whoever restarted and looks at who joined.
    fn do_and_follow(&mut self, operation: Operation) {
        let before = self.situation;
        let phase = self.phase(operation);
        let Some(done) = self.do_it(operation, phase) else { return };
        if let Operation::Connect(cable) = operation
            && let Some(facts) = looks::plug(self.setting, self.problem, cable)
        {
            let why =
                Reason { code: "right-cable".to_owned(), text: "both ends of this cable carry its serial".to_owned() };
            self.write(
                Action::Expect { facts, otherwise: Some("unplug it and take the right cable".to_owned()) },
                Phase::Settle,
                why,
            );
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
        for unit in done.joined.iter() {
            let facts = looks::joined(self.setting, &self.situation, unit);
            self.look(Spot::Stack, facts, Phase::Settle, "joined", "the unit is in the stack as the plan says", None);
            self.close_move(format!("Join {}", self.setting.units[unit].key));
        }
        if done.joined.is_empty()
            && let Some(title) = super::moves::milestone(self.setting, &before, &self.situation, operation)
        {
            self.close_move(title);
        }
    }

    fn phase(&self, operation: Operation) -> Phase {
        match operation {
            Operation::Connect(_) | Operation::Disconnect(_) => Phase::Cable,
            Operation::Save(_) if self.steps_left == 1 => Phase::Close,
            _ => Phase::Join,
        }
    }

    /// Reads the far end of every cable that this operation would make a link of, or would darken
    /// before a link is made of it: the last moment at which it can be read.
    fn read_cables(&mut self, operation: Operation, spot: Spot) {
        while let Ok(done) = self.situation.step(self.setting, operation)
            && let Some(cable) = self.last_chance(operation, &done)
            && let Some((fact, at)) = looks::neighbour(self.setting, &self.situation, cable, spot)
        {
            let otherwise = Some("go back to the cable and look where its other end is".to_owned());
            self.look(at, vec![fact], Phase::Settle, "right-cable", "the cable leads where the plan says", otherwise);
        }
    }

    fn last_chance(&self, operation: Operation, done: &Done) -> Option<CableId> {
        let shows = |state: &State, cable: CableId| neighbour_shows(self.setting, state, cable);
        let gone = |cable: &CableId| {
            let stays = done.after.state.plugged.contains(*cable);
            stays && shows(&self.situation.state, *cable) && !shows(&done.after.state, *cable)
        };
        let unread = self.situation.memory.unread;
        up_unread(self.setting, &self.situation, operation, done).or_else(|| unread.iter().find(gone))
    }

    /// Looks at a pair whose new legs must be counted on before this operation.
    fn read_legs(&mut self, operation: Operation) {
        let Ok(done) = self.situation.step(self.setting, operation) else { return };
        let breaches = after_step(self.setting, &self.situation, operation, &done);
        let unproven = self.situation.memory.unproven;
        if unproven.is_empty() || !breaches.0.iter().any(|breach| breach.rule == Rule::UplinksUp) {
            return;
        }
        let carrying: Vec<_> = unproven.iter().filter(|leg| self.situation.carries(self.setting, *leg)).collect();
        let pairs: std::collections::BTreeSet<_> = carrying.iter().map(|leg| self.setting.legs[*leg].uplink).collect();
        let facts: Vec<Fact> =
            pairs.iter().map(|pair| looks::pair_as_it_is(self.setting, &self.situation, *pair)).collect();
        if !facts.is_empty() {
            self.look(
                Spot::Stack,
                facts,
                Phase::Settle,
                "leg-carries",
                "the new leg carries before the old one goes",
                None,
            );
        }
    }

    fn do_it(&mut self, operation: Operation, phase: Phase) -> Option<Done> {
        let before = self.situation;
        let done = before.step(self.setting, operation).ok()?;
        let why = reasons::reason(self.setting, &before, operation, &done, phase);
        self.write(named(self.setting, operation), phase, why);
        self.situation = done.after;
        let ends = by_hands(operation) || matches!(operation, Operation::Restart(_) | Operation::Wipe(_));
        if ends {
            self.segment = None;
        }
        Some(done)
    }

    fn wait(&mut self, unit: UnitId, until: Until, phase: Phase) {
        let minutes = &self.setting.traits.minutes;
        let limit = match until {
            Until::Up => minutes.restart.at(Point::Worst),
            Until::Joined | Until::Ready => minutes.restart.at(Point::Worst) + minutes.sync.at(Point::Worst),
        };
        let limit = Minutes::hundredths((limit.as_hundredths() + 99) / 100 * 100);
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

    /// Writes a look that opens with what tells the place, and learns from it.
    fn look(&mut self, spot: Spot, facts: Vec<Fact>, phase: Phase, code: &str, text: &str, otherwise: Option<String>) {
        let (mut all, by_question) = looks::place(self.setting, &self.situation, spot);
        if by_question {
            self.warn_serials(spot);
        }
        facts.iter().for_each(|fact| self.learn(fact));
        all.extend(facts);
        let otherwise = otherwise
            .or_else(|| Some("do not go on: find out why it differs, and plan again from what is there".to_owned()));
        self.write(
            Action::Expect { facts: all, otherwise },
            phase,
            Reason { code: code.to_owned(), text: text.to_owned() },
        );
        self.segment = Some(spot);
    }

    fn learn(&mut self, fact: &Fact) {
        let setting = self.setting;
        match fact {
            Fact::Uplink { uplink, carrying: Some(carrying), .. } => {
                let Some(pair) = setting.uplink(uplink) else { return };
                carrying
                    .iter()
                    .filter_map(|leg| setting.leg(pair, leg))
                    .for_each(|leg| self.situation.found_carrying(leg));
            }
            Fact::Neighbour { end, far: Some(far) } => {
                let cable = find_cable(setting, &[end.clone(), far.clone()]);
                cable.into_iter().for_each(|cable| self.situation.found_neighbour(cable));
            }
            _ => {}
        }
    }

    fn warn_serials(&mut self, spot: Spot) {
        let Spot::Console(unit) = spot else { return };
        let key = &self.setting.units[unit].key;
        let text = format!("nothing known tells the console of {key} from another one: give serials in the intent");
        let warning = Warning { code: "serials-missing".to_owned(), text };
        if !self.script.warnings.contains(&warning) {
            self.script.warnings.push(warning);
        }
    }

    fn close(&mut self) {
        let whole = differences(self.setting, &self.situation.state).0.is_empty();
        let text = if whole { "the whole stack is as the intent says" } else { "the stack as it stands" };
        let facts = looks::whole_stack(self.setting, &self.situation);
        self.look(Spot::Stack, facts, Phase::Close, "reaches-target", text, None);
        self.close_move("Save and check the whole stack".to_owned());
    }
}
