//! Cost as an ordered row of integers, and a lower bound of what is left.
//!
//! The bound never exceeds what any continuation costs, so a search that opens the cheapest sum
//! first ends with a least-cost route:
//! - cables, port steps, pairs and priorities that still differ each need their own step;
//! - as long as anything differs or is unsaved, at least one save follows;
//! - while newcomers are outside, each needs a step that makes its link. Items 1 to 4 come before
//!   the number of steps, so only continuations whose links are typed need be bounded there: on a
//!   platform that activates bindings, saves them on command and saves before the link, each join
//!   then takes a save and an activation of its own (the one before the link, which an earlier
//!   activation cannot be, because the link was unmatched after it);
//! - minutes unprotected: what must still be plugged, bound and joined before a ring can close.

use crate::model::document::{SaveWhen, Side};
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Point, Setting};
use crate::model::state::Port;
use crate::model::table::UnitSet;
use crate::model::traits::{BindingEffect, Estimate, StoredWhen};

use super::work::{PortWork, Work};

/// Cost, compared item by item: member-minutes, unprotected minutes (ring to ring), cables, links
/// not typed, steps, unprotected minutes (one ring), likely minutes, plugs that light at once.
/// Minutes are hundredths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost(pub [i64; 8]);

/// Positions in a [`Cost`].
pub mod item {
    /// Member-minutes out of the stack.
    pub const MEMBER_MINUTES: usize = 0;
    /// Minutes unprotected, ring to ring.
    pub const UNPROTECTED: usize = 1;
    /// Cables.
    pub const CABLES: usize = 2;
    /// Links not typed.
    pub const NOT_TYPED: usize = 3;
    /// Steps.
    pub const STEPS: usize = 4;
    /// Minutes unprotected where only one state is a ring.
    pub const HALF_PROTECTED: usize = 5;
    /// Likely minutes.
    pub const LIKELY: usize = 6;
    /// Plugs that light at once.
    pub const LIGHTS: usize = 7;
}

impl Cost {
    /// The sum, item by item.
    #[must_use]
    pub fn plus(mut self, other: Self) -> Self {
        self.0.iter_mut().zip(other.0).for_each(|(mine, theirs)| *mine += theirs);
        self
    }

    /// This cost with one item raised.
    #[must_use]
    pub fn raised(mut self, item: usize, by: i64) -> Self {
        if let Some(value) = self.0.get_mut(item) {
            *value += by;
        }
        self
    }
}

/// Which of the two kinds of unprotected minutes count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rings {
    /// Baseline and target are rings.
    Both,
    /// One of them is.
    One,
    /// Neither is.
    None,
}

/// Hundredths of a minute, as it usually goes.
#[must_use]
pub fn likely(estimate: &Estimate) -> i64 {
    estimate.at(Point::Likely).as_hundredths()
}

/// Steps from a port's present setting to another.
#[must_use]
pub fn port_steps(setting: &Setting, is: Port, side: Side, enabled: bool) -> i64 {
    let mut steps = 0;
    let mut in_use = is.enabled();
    if is.side() != side {
        steps += i64::from(is.side() != Side::None) + i64::from(side != Side::None);
        if setting.traits.binding.port_disabled && in_use {
            steps += 1;
            in_use = false;
        }
    }
    steps + i64::from(in_use != enabled)
}

/// What is left at least.
#[must_use]
pub fn left(
    setting: &Setting,
    work: &Work,
    situation: &Situation,
    staged: UnitSet,
    protected: bool,
    rings: Rings,
) -> Cost {
    let state = &situation.state;
    let minutes = &setting.traits.minutes;
    let command = likely(&minutes.command);
    let outside =
        work.newcomers.iter().filter(|newcomer| !situation.memory.live.contains(newcomer.unit)).count() as i64;
    let cables = open_cables(setting, work, situation);
    let ports = work.ports.iter().map(|port| open_port_steps(setting, work, situation, staged, port)).sum::<i64>();
    let stages = work.newcomers.iter().filter(|newcomer| !staged.contains(newcomer.unit)).map(|newcomer| {
        newcomer
            .stages
            .iter()
            .map(|stage| stage.operations.len() as i64 - stage_port_steps(setting, stage))
            .min()
            .unwrap_or(0)
    });
    let stages: i64 = stages.sum();
    let pairs = work.pairs.iter().filter(|operation| pair_open(setting, situation, **operation)).count() as i64;
    let weights =
        work.priorities.iter().filter(|(unit, priority)| state.units[*unit].priority != *priority).count() as i64;
    let each_join = joins_cost_a_save(setting);
    let saves = if each_join { outside } else { 0 }
        + i64::from(outside + cables.0 + ports + pairs + weights > 0 || unsaved(setting, situation));
    let founding = i64::from(!situation.memory.founded);
    let joins = outside - founding.min(outside);
    let saves = if each_join { saves - founding.min(outside) } else { saves };
    let activations = if each_join { joins } else { 0 };
    let steps = cables.0 + ports + stages + pairs + weights + saves + activations;
    let time = cables.0 * likely(&minutes.cable)
        + (ports + pairs + weights) * command
        + saves * likely(&minutes.save)
        + activations * likely(&minutes.activate)
        + joins * likely(&minutes.restart);
    let before_ring = if protected {
        0
    } else {
        cables.1 * likely(&minutes.cable)
            + joins * likely(&minutes.restart)
            + activations * likely(&minutes.activate)
            + if each_join { joins * likely(&minutes.save) } else { 0 }
    };
    let mut cost = Cost::default().raised(item::CABLES, cables.0).raised(item::STEPS, steps).raised(item::LIKELY, time);
    match rings {
        Rings::Both => cost = cost.raised(item::UNPROTECTED, before_ring),
        Rings::One if situation.memory.live.len() >= 2 => cost = cost.raised(item::HALF_PROTECTED, before_ring),
        Rings::One | Rings::None => {}
    }
    cost
}

/// Cables still to move, and of those the ones between units that the target needs.
fn open_cables(setting: &Setting, work: &Work, situation: &Situation) -> (i64, i64) {
    let plugged = |cable: &crate::model::table::CableId| situation.state.plugged.contains(*cable);
    let missing: Vec<_> = work.connect.iter().filter(|cable| !plugged(cable)).collect();
    let between = missing.iter().filter(|cable| matches!(setting.cables[***cable], CableRow::Units(..))).count();
    let extra = work.disconnect.iter().filter(|cable| plugged(cable)).count();
    ((missing.len() + extra) as i64, between as i64)
}

/// Steps left on a port; those of a newcomer that is not staged yet count as from its box.
fn open_port_steps(setting: &Setting, work: &Work, situation: &Situation, staged: UnitSet, port: &PortWork) -> i64 {
    let unit = setting.unit_of(port.port);
    let waiting = work.newcomers.iter().any(|newcomer| newcomer.unit == unit) && !staged.contains(unit);
    let is = if waiting {
        Port::default().with_enabled(setting.factory_enabled())
    } else {
        situation.state.ports[port.port]
    };
    port_steps(setting, is, port.side, port.enabled)
}

fn stage_port_steps(setting: &Setting, stage: &super::stage::Stage) -> i64 {
    let boxed = Port::default().with_enabled(setting.factory_enabled());
    stage
        .ports
        .iter()
        .map(|port| {
            let shall = setting.target.ports[*port];
            port_steps(setting, boxed, shall.side(), shall.enabled())
        })
        .sum()
}

/// Whether every join by a typed step takes a save and an activation of its own.
#[must_use]
pub fn joins_cost_a_save(setting: &Setting) -> bool {
    setting.save == SaveWhen::BeforeLink
        && setting.traits.binding.takes_effect == BindingEffect::OnActivation
        && setting.traits.stored.binding == StoredWhen::WithSave
}

/// Whether an operation on a pair or the guard is still to do.
#[must_use]
pub fn pair_open(setting: &Setting, situation: &Situation, operation: crate::model::operation::Operation) -> bool {
    use crate::model::operation::Operation as Do;
    let running = &situation.state.running;
    match operation {
        Do::FormUplink(pair, _) => !running.pairs.contains(pair),
        Do::DropUplink(pair) => running.pairs.contains(pair),
        Do::AddLeg(leg) => !running.legs.contains(leg),
        Do::DropLeg(leg) => running.legs.contains(leg),
        Do::GuardSplit(pair) => running.guard != Some(pair),
        Do::UnguardSplit(pair) => running.guard == Some(pair) && setting.target.running.guard != Some(pair),
        _ => false,
    }
}

/// Whether a unit that stays is not saved as it runs.
fn unsaved(setting: &Setting, situation: &Situation) -> bool {
    let state = &situation.state;
    state.running != state.saved
        || setting.units.ids().filter(|unit| setting.stays(*unit)).any(|unit| {
            let row = &state.units[unit];
            let ports = || setting.units[unit].ports.iter().all(|port| state.ports[*port].is_stored());
            !row.copy || row.powered && (row.priority != row.saved_priority || !ports())
        })
}
