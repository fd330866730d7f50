//! One more run of operations, or one newcomer's stage, on top of a situation: the next situation and its price.
//!
//! Waits and looks cost nothing here and are always possible at once: a unit that joined is found
//! ready, a leg that carries is found carrying, a lit cable's neighbour is read. `watch` puts them in.

use crate::model::derive::{Islands, protected};
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::progress::{Done, Situation};
use crate::model::rules::{Breaches, Rule, after_lawful_step, after_step, in_state, up_unread};
use crate::model::table::{Id, UnitId, UnitSet};

use super::bound::item;
use super::candidates::Run;
use super::inert::{inert, typed};
use super::node::{Node, Taken};
use super::search::Search;
use super::stage::Stage;

impl Search<'_> {
    pub(super) fn staged(&self, at: usize, node: &Node, unit: UnitId, stage: &Stage) -> Node {
        let mut situation = node.situation.clone();
        situation.state.units[unit] = stage.unit;
        for (port, value) in &stage.values {
            situation.state.ports[*port] = *value;
        }
        // stages are done in the order of the units, the first unit of a new stack last
        let turn = if self.setting.founder() == Some(unit) { self.setting.units.len() } else { unit.position() };
        situation.state.units[unit].booted_at = self.setting.baseline.now + turn as i32 + 1;
        if self.setting.founder() == Some(unit) {
            situation.found_stack(self.setting);
        }
        // whoever may lead and is alone in being up is the stack
        if situation.incumbent(self.setting) == UnitSet::one(unit) && !situation.memory.live.contains(unit) {
            situation.memory.live.insert(unit);
            situation.memory.was_live.insert(unit);
        }
        let islands = Islands::of(self.setting, &situation.state);
        let protected = protected(self.setting, &situation.state, situation.memory.live);
        let cost = node.cost.raised(item::STEPS, stage.operations.len() as i64);
        Node {
            situation,
            islands,
            protected,
            staged: node.staged.with(unit),
            cost,
            depth: node.depth + stage.operations.len() as u32,
            parent: at,
            taken: Taken::Staged(unit, stage.operations.clone()),
            ..node.clone()
        }
    }

    /// Does a run, step by step, under every rule.
    pub(super) fn follow(&self, at: usize, node: &Node, run: &Run) -> Result<Node, &'static str> {
        let mut child = Node { parent: at, taken: Taken::Run(run.clone()), ..node.clone() };
        let mut relinked = false;
        for operation in run.iter().copied() {
            let before = child.situation.clone();
            if let Some(port) = inert(self.setting, &before, operation) {
                child.situation.state.ports[port] = typed(before.state.ports[port], operation);
                child.situation.state.now += 1;
                child.cost = child.cost.plus(self.price.of_command(self.setting, node, &before));
            } else {
                let done = before.step_among(self.setting, &child.islands, operation).map_err(|_| "step-refused")?;
                self.lawful(&before, operation, &done, &mut child.excused)?;
                child.cost = child.cost.plus(self.price.of(self.setting, &before, operation, &done, !node.protected));
                let not_typed = self.price.links_not_typed(self.setting, &mut child.seen, &before, operation, &done);
                child.cost = child.cost.raised(item::NOT_TYPED, not_typed);
                child.situation = done.after.looked(self.setting);
                child.islands = done.islands;
                relinked |= !keeps_links(operation);
            }
            child.depth += 1;
            let hands = by_hands(operation);
            let unit = unit_of(self.setting, operation).or(child.last);
            child.turns += u32::from(hands != child.hands) + u32::from(!hands && unit != child.last);
            (child.hands, child.last) = (hands, unit);
        }
        if relinked {
            child.protected = protected(self.setting, &child.situation.state, child.situation.memory.live);
        }
        Ok(child)
    }

    /// Whether a step keeps every rule; what the baseline breaks is excused as long as it lasts. Nor may it be open after
    /// it which island is the stack: every reader of the rules must come to the same.
    fn lawful(
        &self,
        before: &Situation,
        operation: Operation,
        done: &Done,
        excused: &mut Breaches,
    ) -> Result<(), &'static str> {
        let breaches = if excused.0.is_empty() {
            after_lawful_step(self.setting, before, operation, done)
        } else {
            after_step(self.setting, before, operation, done)
        };
        if let Some(breach) = breaches.0.iter().find(|breach| !excused.0.contains(breach)) {
            return Err(breach.rule.as_str());
        }
        if !excused.0.is_empty() {
            // what shows only while units are down is cured once they are up
            let mut lasting = Breaches::default();
            in_state(self.setting, &done.after, false, &mut lasting);
            excused.0.retain(|breach| lasting.0.contains(breach));
        }
        if up_unread(self.setting, before, operation, done).is_some() {
            return Err("right-cable");
        }
        if before.tears(self.setting, done) {
            return Err(Rule::PrimaryKept.as_str());
        }
        let newcomer = |unit: UnitId| self.setting.joining.contains(unit) && !before.memory.was_live.contains(unit);
        let among_newcomers = done.events.merges.iter().any(|merge| newcomer(merge.winner));
        let new = done.joined.and(self.setting.joining).minus(before.memory.was_live);
        if new.len() > 1 || among_newcomers { Err("one-at-a-time") } else { Ok(()) }
    }
}

/// Whether an operation makes, breaks and moves no link: who is linked to whom is the same after it.
fn keeps_links(operation: Operation) -> bool {
    matches!(
        operation,
        Operation::Save(_)
            | Operation::SetPriority(..)
            | Operation::FormUplink(..)
            | Operation::DropUplink(_)
            | Operation::AddLeg(_)
            | Operation::DropLeg(_)
            | Operation::GuardSplit(_)
            | Operation::UnguardSplit(_)
    )
}
