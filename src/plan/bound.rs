//! Cost as an ordered row of integers, and a lower bound of what is left.
//!
//! The bound never exceeds what any continuation costs, so a search that opens the cheapest sum
//! first ends with a least-cost route:
//! - cables, port steps, pairs and priorities that still differ each need their own step;
//! - as long as anything differs or is unsaved, at least one save follows, or one for each unit that is
//!   concerned where a save covers one unit; two where one must come before a plug ([`saves`](super::saves));
//! - each newcomer takes the steps of its stage, and its own save, activation and weight where that leaves them to do
//!   ([`arrivals`](super::arrivals));
//! - while newcomers are outside, each needs a step that makes its link. Items 1 to 4 come before
//!   the number of steps, so only continuations whose links are typed need be bounded there: on a
//!   platform that activates bindings, saves them on command and saves before the link, each join
//!   then takes a save and an activation of its own (the one before the link, which an earlier
//!   activation cannot be, because the link was unmatched after it);
//! - a restart that a unit needs, to act on its number, on a binding that waits for one, or to give up the lead,
//!   is its own step and takes it out for its minutes ([`roles`](super::roles));
//! - minutes unprotected, and of units that are cut off: what must still be unplugged, switched off, plugged,
//!   bound and joined while a break is open ([`gap`](super::gap)); at least those of one step, for the ring is closed
//!   at the end.

use crate::model::derive::primaries;
use crate::model::document::{SaveWhen, Side};
use crate::model::names::{MemberId, Priority};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{Point, Setting};
use crate::model::state::Port;
use crate::model::table::{CableId, UnitId, UnitSet};
use crate::model::traits::{BindingEffect, Estimate, IdEffect, Loser, StoredWhen};

use super::arrivals::{arrivals, made_by_a_plug};
use super::gap::{gap, waits_for_a_plug};
use super::links::missing_links;
use super::node::Node;
use super::roles::{id_cycles, needs_acting, needs_restart, task_open};
use super::saves::{all_saves, before_and_after, has_saved_end, link_is_saved};
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

    /// Its first items alone.
    #[must_use]
    pub fn first(mut self, items: usize) -> Self {
        self.0.iter_mut().skip(items).for_each(|value| *value = 0);
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
    /// The target is.
    ToRing,
    /// The baseline is.
    FromRing,
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

/// What is left at least. `sharp`: as near to it as can be told; a search in haste goes by the plain count, for which
/// its weights were chosen.
#[must_use]
pub fn left(setting: &Setting, work: &Work, node: &Node, rings: Rings, sharp: bool) -> Cost {
    let Node { situation, staged, protected, .. } = node;
    let (staged, protected) = (*staged, *protected);
    let minutes = &setting.traits.minutes;
    let incumbent = situation.incumbent_among(setting, &situation.state, &node.islands);
    let gap = gap(setting, work, node, incumbent, rings);
    let links = missing_links(setting, work, situation, staged, protected && rings == Rings::Both, gap.haste);
    let mut counts = count(setting, work, node, incumbent, links.activations, gap.late);
    if sharp {
        sharpen(setting, work, node, gap.late, &mut counts);
    }
    let hands = (gap.open.minutes - gap.open.opener * work.gaps.max(1)).max(links.minutes);
    // who opens the ring saves a step, and pays with minutes that come before all steps
    if rings == Rings::Both
        && protected
        && hands == 0
        && gap.late.is_empty()
        && before_and_after(setting, work, situation)
    {
        counts.saves = counts.saves.max(2);
    }
    let steps = counts.steps() + links.rebinding + gap.legs;
    // what a newcomer types in its stage takes no time of the change; of each link one end is typed in it
    let typed = counts.typed_ports + links.late_ends + links.rebinding + counts.settings;
    let time = counts.cables * likely(&minutes.cable)
        + typed * likely(&minutes.command)
        + counts.saves * likely(&minutes.save)
        + counts.activations * likely(&minutes.activate)
        + counts.joins * join_minutes(setting)
        + counts.own_restarts * likely(&minutes.restart)
        + counts.leavers * likely(&minutes.power);
    let cost = Cost::default()
        .raised(item::MEMBER_MINUTES, counts.live_restarts * likely(&minutes.restart) + gap.absence)
        .raised(item::CABLES, counts.cables)
        .raised(item::STEPS, steps)
        .raised(item::LIKELY, time);
    // whoever restarts is out of the ring meanwhile
    let apart = counts.live_restarts * likely(&minutes.restart);
    let early = i64::from(rings == Rings::ToRing && situation.memory.live.len() < 2);
    match rings {
        Rings::Both if protected => cost
            .raised(item::UNPROTECTED, hands + gap.late.len() as i64 * likely(&minutes.restart) + apart)
            .raised(item::NOT_TYPED, links.blocked),
        Rings::Both => {
            let laid = links.minutes.max(gap.open.minutes);
            let known = laid + counts.joins * join_minutes(setting) + apart;
            let (least, by_plug) =
                if sharp { (shortest_step(setting), made_by_a_plug(setting, work, node)) } else { (0, 0) };
            // where typing takes no time: either the plug does, or two steps more end the break before it
            let undone = if sharp && known.max(least) == 0 && waits_for_a_plug(setting, situation) { 2 } else { 0 };
            let cost = cost.raised(item::UNPROTECTED, known.max(least)).raised(item::NOT_TYPED, by_plug);
            cost.raised(item::STEPS, undone)
        }
        Rings::ToRing if !protected || early == 1 => {
            let laid = if early == 1 { 0 } else { links.minutes };
            cost.raised(item::HALF_PROTECTED, laid + until_closed(setting, &counts, early))
        }
        Rings::ToRing | Rings::FromRing | Rings::None => cost,
    }
}

/// How long a unit that joins takes to boot: it loses its merge and restarts, or it boots in.
fn join_minutes(setting: &Setting) -> i64 {
    match setting.traits.joining.loser {
        Loser::Restarts | Loser::Waits => likely(&setting.traits.minutes.restart),
        Loser::Absorbed => 0,
    }
}

/// What any step takes at least: one more is done while a ring is open that shall be closed.
fn shortest_step(setting: &Setting) -> i64 {
    let minutes = &setting.traits.minutes;
    let all = [&minutes.command, &minutes.cable, &minutes.save, &minutes.activate, &minutes.power, &minutes.restart];
    all.into_iter().map(likely).min().unwrap_or(0)
}

/// What is left, counted.
#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    /// Cables to move.
    cables: i64,
    /// Steps on ports, staged or not.
    ports: i64,
    /// Those of them that are not part of a stage to come.
    typed_ports: i64,
    /// Steps of stages that are not on ports.
    stages: i64,
    /// Pairs, the guard, priorities.
    settings: i64,
    /// Newcomers that must join.
    joins: i64,
    /// Saves before links.
    link_saves: i64,
    /// All saves.
    saves: i64,
    /// Activations, one a join where each takes its own.
    link_activations: i64,
    /// All activations.
    activations: i64,
    /// Restarts by hand of units that lost their merge.
    restarts: i64,
    /// Restarts of units that act on something else afterwards, or hand on the lead.
    own_restarts: i64,
    /// Those of them that are live.
    live_restarts: i64,
    /// Units to switch off for good.
    leavers: i64,
}

impl Counts {
    /// All of them that are steps.
    const fn steps(&self) -> i64 {
        let typed = self.ports + self.stages + self.settings + self.saves + self.activations;
        self.cables + typed + self.restarts + self.own_restarts + self.leavers
    }
}

fn count(
    setting: &Setting,
    work: &Work,
    node: &Node,
    incumbent: UnitSet,
    least_activations: i64,
    late_units: UnitSet,
) -> Counts {
    let (situation, staged) = (&node.situation, node.staged);
    let steps = |port: &PortWork| open_port_steps(setting, work, situation, staged, port);
    let here = |port: &&PortWork| is_there(setting, staged, setting.unit_of(port.port));
    let heavier = |(unit, priority): &&(UnitId, Priority)| {
        situation.state.units[*unit].priority != *priority && is_there(setting, staged, *unit)
    };
    let numbered = |(unit, id): &&(UnitId, MemberId)| situation.state.units[*unit].saved_id != *id;
    let cycles = id_cycles(work, situation);
    let circling = if setting.traits.member_id.takes_effect == IdEffect::AfterRestart { cycles } else { 0 };
    let acting = i64::from(needs_acting(setting, situation, incumbent));
    let restarts = open_restarts(setting, work, situation, incumbent);
    let pairs = work.pairs.iter().filter(|operation| pair_open(setting, situation, **operation)).count() as i64;
    let late = late_units.len() as i64;
    let open = || work.tasks.iter().filter(|task| task_open(setting, situation, **task));
    // the lead may come without a command too
    let tasks = open().filter(|task| !matches!(task, Operation::HandOver(_))).count() as i64;
    let told = open().filter(|task| matches!(task, Operation::Admit(..) | Operation::Forget(..))).count();
    let outside = work.newcomers.iter().filter(|one| !situation.memory.live.contains(one.unit)).count() as i64;
    // a unit that lost its merge and waits needs its restart alone
    let waiting = work.newcomers.iter().filter(|one| situation.state.units[one.unit].waiting).count() as i64;
    let joins = outside - i64::from(!situation.memory.founded && outside > 0);
    let each_join = if joins_cost_a_save(setting) { (joins - waiting - late).max(0) } else { 0 };
    // the save in a lone newcomer's stage is enough where the live end is saved as it shall be
    let staged_save = joins == 1 && work.newcomers.iter().any(|one| has_saved_end(setting, work, situation, one.unit));
    let each_save = if staged_save { 0 } else { each_join };
    let lazy = setting.traits.binding.takes_effect == BindingEffect::OnActivation;
    let mut counts = Counts {
        cables: open_cables(work, situation),
        ports: work.ports.iter().map(steps).sum(),
        typed_ports: work.ports.iter().filter(here).map(steps).sum(),
        stages: arrivals(setting, work, node, UnitSet::EMPTY).stages,
        settings: pairs
            + tasks
            + work.priorities.iter().filter(heavier).count() as i64
            + work.ids.iter().filter(numbered).count() as i64
            + cycles,
        joins,
        link_saves: each_save - i64::from(each_save > 0 && link_is_saved(setting, work, situation, staged)),
        link_activations: if lazy { each_join } else { 0 },
        restarts: if setting.traits.joining.loser == Loser::Waits { joins } else { 0 },
        own_restarts: restarts.len() as i64 + circling + acting,
        live_restarts: restarts.and(situation.memory.live).len() as i64 + circling + acting,
        leavers: work.leavers.iter().filter(|unit| situation.state.units[*unit].powered).count() as i64,
        ..Counts::default()
    };
    let work_left = joins + counts.cables + counts.ports + counts.settings + counts.own_restarts > 0;
    counts.saves = all_saves(setting, situation, counts.link_saves, work_left, pairs > 0 || told > 0);
    let bound_late = i64::from(lazy && setting.may_restart.is_empty() && is_dormant(setting, work, situation));
    counts.activations = counts.link_activations.max(least_activations).max(bound_late);
    counts
}

/// Finds the units that the work, or the lead, still wants restarted.
fn open_restarts(setting: &Setting, work: &Work, situation: &Situation, incumbent: UnitSet) -> UnitSet {
    let leaders = primaries(&situation.state, incumbent).minus(setting.joining);
    work.restarts.or(leaders).iter().filter(|unit| needs_restart(setting, situation, *unit)).collect()
}

/// Counts what newcomers need on their own, and no save where nothing but restarts is left: what those bring into force
/// was saved before them.
fn sharpen(setting: &Setting, work: &Work, node: &Node, late: UnitSet, counts: &mut Counts) {
    let own = arrivals(setting, work, node, late);
    // what a newcomer does alone may be part of its stage, which takes no time of the change
    counts.stages = own.stages + own.saves + (own.activations - counts.activations).max(0);
    counts.settings += own.weights;
    if counts.joins + counts.cables + counts.ports + counts.settings == 0 {
        counts.saves = all_saves(setting, &node.situation, counts.link_saves, false, false);
    }
}

/// Whether a live unit's port is bound, or shall be, and the binding is not in force.
fn is_dormant(setting: &Setting, work: &Work, situation: &Situation) -> bool {
    let dormant = |port: &PortWork| {
        let (is, unit) = (situation.state.ports[port.port], setting.unit_of(port.port));
        situation.memory.live.contains(unit) && port.side != Side::None && !(is.active() && is.side() == port.side)
    };
    work.ports.iter().any(dormant)
}

/// Minutes, besides laying and binding, until the newcomers are in and a ring can be closed. `early`:
/// one of them may still join before anything is unprotected.
fn until_closed(setting: &Setting, counts: &Counts, early: i64) -> i64 {
    let minutes = &setting.traits.minutes;
    (counts.joins - early).max(0) * join_minutes(setting)
        + (counts.link_activations - early).max(0) * likely(&minutes.activate)
        + (counts.link_saves - early).max(0) * likely(&minutes.save)
        + (counts.activations - counts.link_activations) * likely(&minutes.activate) * (1 - early)
}

/// Whether a unit is part of the stack already, or staged.
#[must_use]
pub fn is_there(setting: &Setting, staged: UnitSet, unit: UnitId) -> bool {
    !setting.joining.contains(unit) || staged.contains(unit)
}

/// Cables still to move.
fn open_cables(work: &Work, situation: &Situation) -> i64 {
    let plugged = |cable: &&CableId| situation.state.plugged.contains(**cable);
    (work.connect.iter().filter(|cable| !plugged(cable)).count() + work.disconnect.iter().filter(plugged).count())
        as i64
}

/// Steps left on a port; those of a newcomer that is not staged yet count as from its box.
#[must_use]
pub fn open_port_steps(setting: &Setting, work: &Work, situation: &Situation, staged: UnitSet, port: &PortWork) -> i64 {
    let unit = setting.unit_of(port.port);
    let waiting = work.newcomers.iter().any(|newcomer| newcomer.unit == unit) && !staged.contains(unit);
    let is = if waiting {
        Port::default().with_enabled(setting.factory_enabled())
    } else {
        situation.state.ports[port.port]
    };
    port_steps(setting, is, port.side, port.enabled)
}

/// Whether every join by a typed step takes a save of its own.
#[must_use]
pub fn joins_cost_a_save(setting: &Setting) -> bool {
    setting.save == SaveWhen::BeforeLink
        && setting.traits.binding.takes_effect != BindingEffect::AfterRestart
        && (setting.traits.stored.binding == StoredWhen::WithSave || !setting.factory_enabled())
}

/// Whether an operation on a pair or the guard is still to do.
#[must_use]
pub fn pair_open(setting: &Setting, situation: &Situation, operation: Operation) -> bool {
    let running = &situation.state.running;
    match operation {
        Operation::FormUplink(pair, _) => !running.pairs.contains(pair),
        Operation::DropUplink(pair) => running.pairs.contains(pair),
        Operation::AddLeg(leg) => !running.legs.contains(leg),
        Operation::DropLeg(leg) => running.legs.contains(leg),
        Operation::GuardSplit(pair) => running.guard != Some(pair),
        Operation::UnguardSplit(pair) => running.guard == Some(pair) && setting.target.running.guard != Some(pair),
        _ => false,
    }
}
