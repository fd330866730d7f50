//! What the rules must remember between steps: who is live, who just joined, what was looked at.

use super::derive::{Islands, Link, link, lit, primaries};
use super::document::{SaveWhen, Status};
use super::operation::{Circumstance, Operation, Outcome, Refusal, apply, unit_of};
use super::setting::{CableRow, Setting};
use super::settle::{Events, settle};
use super::state::State;
use super::table::{CableId, CableSet, LegId, LegSet, PortId, UnitId, UnitSet};
use super::traits::SeenOn;

/// A state and what must be remembered with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Situation {
    /// The state.
    pub state: State,
    /// What is remembered.
    pub memory: Memory,
}

/// What must be remembered between steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Memory {
    /// Units that are live.
    pub live: UnitSet,
    /// Units that are or were live.
    pub was_live: UnitSet,
    /// Live units that something failed cut off before the change: until they are back, they may restart, be
    /// apart and be merged in without a consent.
    pub stranded: UnitSet,
    /// Units that joined and were not found ready since.
    pub unready: UnitSet,
    /// Units that the change joined and that a cold start must not count yet (`after-check`).
    pub uncounted: UnitSet,
    /// Of those, the ones that were found ready and await the first save.
    pub checked: UnitSet,
    /// Legs that the change made or plugged anew and that no look has found carrying yet.
    pub unproven: LegSet,
    /// Cables plugged by the change whose far end was not read yet.
    pub unread: CableSet,
    /// Of those, the ones whose neighbour could have been read since.
    pub readable: CableSet,
    /// The first unit of a new stack has been staged, or there was a stack before.
    pub founded: bool,
    /// The primary of the baseline, or the first unit of a new stack.
    pub leader: Option<UnitId>,
}

/// One operation done: the situation after it and what happened.
#[derive(Clone, Debug)]
pub struct Done {
    /// The situation after the step.
    pub after: Situation,
    /// What happened on the way.
    pub events: Events,
    /// Units that came into the incumbent island, for the first time or again.
    pub joined: UnitSet,
    /// The incumbent island before.
    pub incumbent_before: UnitSet,
    /// The islands after the step.
    pub islands: Islands,
}

impl Situation {
    /// The situation before the first step.
    #[must_use]
    pub fn start(setting: &Setting) -> Self {
        let state = setting.baseline.clone();
        let islands = Islands::of(setting, &state);
        let chosen = baseline_island(setting, &state, &islands);
        let up = |unit: &UnitId| state.units[*unit].powered && setting.units[*unit].status == Status::Live;
        let stranded = setting.units.ids().filter(up).collect::<UnitSet>().minus(chosen);
        let live = chosen.minus(setting.joining).or(stranded);
        let memory = Memory {
            live,
            was_live: live,
            stranded,
            unready: UnitSet::EMPTY,
            uncounted: UnitSet::EMPTY,
            checked: UnitSet::EMPTY,
            unproven: LegSet::EMPTY,
            unread: CableSet::EMPTY,
            readable: CableSet::EMPTY,
            founded: setting.founder().is_none(),
            leader: primaries(&state, chosen).first().or_else(|| setting.founder()),
        };
        let mut start = Self { state, memory };
        // one that `new-primary:` names may lead a larger piece
        let stack = start.incumbent(setting).minus(setting.joining);
        start.memory.live = live.or(stack);
        start.memory.was_live = start.memory.live.or(setting.was_live);
        start.memory.stranded = stranded.minus(stack).or(chosen.minus(stack).minus(setting.joining));
        start
    }

    /// The incumbent island: led by the baseline's primary or by a unit that `new-primary:` names;
    /// of several, the one with most live units. Empty if there is none.
    #[must_use]
    pub fn incumbent(&self, setting: &Setting) -> UnitSet {
        self.incumbent_in(setting, &self.state)
    }

    /// The same in another state with this memory.
    #[must_use]
    pub fn incumbent_in(&self, setting: &Setting, state: &State) -> UnitSet {
        if self.memory.founded {
            self.incumbent_among(setting, state, &Islands::of(setting, state))
        } else {
            UnitSet::EMPTY
        }
    }

    /// The same, where the islands of that state are known already.
    #[must_use]
    pub fn incumbent_among(&self, setting: &Setting, state: &State, islands: &Islands) -> UnitSet {
        self.incumbent_with_most(setting, state, islands, self.memory.live)
    }

    /// The same, where of several islands the one with most of some units is meant.
    #[must_use]
    pub fn incumbent_with_most(&self, setting: &Setting, state: &State, islands: &Islands, of: UnitSet) -> UnitSet {
        if !self.memory.founded {
            return UnitSet::EMPTY;
        }
        let mut best = (UnitSet::EMPTY, (0, false));
        let leads = |unit: UnitId| state.units[unit].primary;
        for island in islands.iter() {
            let by_leader = self.memory.leader.is_some_and(|leader| island.contains(leader) && leads(leader));
            let rank = (island.and(of).len() + 1, by_leader);
            if (by_leader || island.and(setting.may_lead).iter().any(leads)) && rank > best.1 {
                best = (island, rank);
            }
        }
        best.0
    }

    /// Whether it is open which island is the stack: of those that may be it, two hold most live units, and the
    /// baseline's primary leads neither. The text gives no further order, so that no plan should pass through it.
    #[must_use]
    pub fn is_torn(&self, setting: &Setting, state: &State, islands: &Islands) -> bool {
        if !self.memory.founded || setting.may_lead.len() < 2 {
            return false;
        }
        let leads = |unit: UnitId| state.units[unit].primary;
        let live = |island: UnitSet| island.and(self.memory.live).len();
        let led = || islands.iter().filter(|island| island.and(setting.may_lead).iter().any(leads));
        let most = led().map(live).max();
        let first = self.memory.leader.filter(|leader| leads(*leader)).map(|leader| live(islands.around(leader)));
        first < most && led().filter(|island| Some(live(*island)) == most).count() > 1
    }

    /// Whether a step leads into that, be it while a unit restarts.
    #[must_use]
    pub fn tears(&self, setting: &Setting, done: &Done) -> bool {
        let torn = |state: &State| self.is_torn(setting, state, &Islands::of(setting, state));
        setting.may_lead.len() > 1
            && (done.after.is_torn(setting, &done.after.state, &done.islands)
                // before those that join count as live, too
                || self.is_torn(setting, &done.after.state, &done.islands)
                || done.events.downs.iter().any(torn))
            && !torn(&self.state)
    }

    /// Does one operation.
    ///
    /// # Errors
    /// The need that is not met.
    pub fn step(&self, setting: &Setting, operation: Operation) -> Result<Done, Refusal> {
        self.step_among(setting, &Islands::of(setting, &self.state), operation)
    }

    /// Does one operation, where the islands are known already.
    ///
    /// # Errors
    /// The need that is not met.
    pub fn step_among(&self, setting: &Setting, islands: &Islands, operation: Operation) -> Result<Done, Refusal> {
        let founder = if self.memory.founded { None } else { setting.founder() };
        let circumstance = Circumstance { incumbent: self.incumbent_among(setting, &self.state, islands), founder };
        let Outcome { mut after, mut events, islands: mut settled } =
            apply(setting, &self.state, islands, circumstance, operation)?;
        let mut incumbent = self.incumbent_among(setting, &after, &settled);
        // with nobody of the stack up, be it for a moment, its common settings are what is saved
        let nobody = |state: &State| self.incumbent_in(setting, state).is_empty();
        if self.memory.founded && (incumbent.is_empty() || events.downs.iter().any(nobody)) {
            let admitted = after.running.admitted;
            after.running = after.saved;
            // who is let in may be another now
            if after.running.admitted != admitted {
                settled = settle(setting, &settled, &mut after, &mut events);
                incumbent = self.incumbent_among(setting, &after, &settled);
            }
        }
        let down = |state: &State| founder.is_some_and(|unit| !state.units[unit].powered);
        if down(&after) || events.downs.iter().any(down) {
            after.running = after.saved;
        }
        let away = events.downs.iter().fold(UnitSet::EMPTY, |away, down| away.or(self.away(setting, down)));
        let joined = incumbent.minus(circumstance.incumbent).or(incumbent.and(away));
        let mut situation = Self { state: after, memory: self.memory };
        situation.remember_join(setting, joined, incumbent);
        if let Operation::Save(_) = operation {
            situation.memory.uncounted = situation.memory.uncounted.minus(situation.memory.checked);
        }
        situation.remember_legs(setting, self);
        situation.remember_cables(setting, operation);
        Ok(Done { after: situation, events, joined, incumbent_before: circumstance.incumbent, islands: settled })
    }

    /// Who is off in a state of a restart, or apart from what is the stack meanwhile.
    fn away(&self, setting: &Setting, down: &State) -> UnitSet {
        let stack = self.incumbent_in(setting, down);
        if stack.is_empty() {
            setting.units.ids().filter(|unit| !down.units[*unit].powered).collect()
        } else {
            setting.all_units().minus(stack)
        }
    }

    fn remember_join(&mut self, setting: &Setting, joined: UnitSet, incumbent: UnitSet) {
        let memory = &mut self.memory;
        let fresh = joined.minus(memory.live);
        if setting.save == SaveWhen::AfterCheck {
            memory.uncounted = memory.uncounted.or(fresh.and(setting.joining));
            memory.checked = memory.checked.minus(joined);
        }
        memory.live = memory.live.or(fresh);
        memory.was_live = memory.was_live.or(fresh);
        // who leads the stack is in step with itself
        memory.unready = memory.unready.or(joined.minus(primaries(&self.state, joined)));
        memory.live = memory.live.minus(setting.leaving.minus(incumbent));
        memory.stranded = memory.stranded.minus(incumbent);
    }

    fn remember_legs(&mut self, setting: &Setting, before: &Self) {
        let made = self.state.running.legs.minus(before.state.running.legs);
        let plugged = self.state.plugged.minus(before.state.plugged);
        let mut unproven = self.memory.unproven.or(made);
        for cable in plugged.iter() {
            if let CableRow::Far(uplink, port) = setting.cables[cable] {
                unproven = unproven.or(setting.uplinks[uplink].legs.and(setting.ports[port].legs));
            }
        }
        self.memory.unproven = unproven;
    }

    fn remember_cables(&mut self, setting: &Setting, operation: Operation) {
        match operation {
            Operation::Connect(cable) if matches!(setting.cables[cable], CableRow::Units(..)) => {
                self.memory.unread.insert(cable);
                self.memory.readable.remove(cable);
            }
            Operation::Disconnect(cable) => {
                self.memory.unread.remove(cable);
                self.memory.readable.remove(cable);
            }
            _ => {}
        }
        for cable in self.memory.unread.iter() {
            if neighbour_shows(setting, &self.state, cable) {
                self.memory.readable.insert(cable);
            }
        }
    }

    /// A wait found a unit ready.
    pub fn found_ready(&mut self, unit: UnitId) {
        self.memory.unready.remove(unit);
        if self.memory.uncounted.contains(unit) {
            self.memory.checked.insert(unit);
        }
    }

    /// A look found a leg carrying.
    pub fn found_carrying(&mut self, leg: LegId) {
        self.memory.unproven.remove(leg);
    }

    /// A look read the right far end of a cable.
    pub fn found_neighbour(&mut self, cable: CableId) {
        self.memory.unread.remove(cable);
    }

    /// The situation after everything that can be looked at now was looked at, and everything waited for.
    #[must_use]
    pub fn looked(mut self, setting: &Setting) -> Self {
        for unit in self.memory.unready.iter() {
            self.found_ready(unit);
        }
        for leg in self.memory.unproven.iter().filter(|leg| self.carries(setting, *leg)).collect::<LegSet>().iter() {
            self.found_carrying(leg);
        }
        for cable in self.memory.unread.iter() {
            if neighbour_shows(setting, &self.state, cable) {
                self.found_neighbour(cable);
            }
        }
        self
    }

    /// The last staging step on the first unit of a new stack is done: it is the incumbent and live.
    pub fn found_stack(&mut self, setting: &Setting) {
        if self.memory.founded {
            return;
        }
        self.memory.founded = true;
        let incumbent = self.incumbent(setting);
        let founder = setting.founder().filter(|unit| incumbent.contains(*unit));
        if let Some(unit) = founder {
            self.memory.live.insert(unit);
            self.memory.was_live.insert(unit);
        }
    }

    /// Whether a leg carries: formed, its far cable lit, its unit in the incumbent island.
    #[must_use]
    pub fn carries(&self, setting: &Setting, leg: LegId) -> bool {
        self.carries_in(setting, self.incumbent(setting), leg)
    }

    /// The same, where the incumbent island is known already.
    #[must_use]
    pub fn carries_in(&self, setting: &Setting, incumbent: UnitSet, leg: LegId) -> bool {
        leg_carries(setting, &self.state, incumbent, self.state.running.legs, leg)
    }
}

/// Whether a leg carries in a state, given its incumbent island and the legs that are formed.
#[must_use]
pub fn leg_carries(setting: &Setting, state: &State, incumbent: UnitSet, formed: LegSet, leg: LegId) -> bool {
    let row = &setting.legs[leg];
    formed.contains(leg)
        && row.ports.iter().any(|port| {
            incumbent.contains(setting.unit_of(*port))
                && setting.ports[*port].cables.iter().any(|cable| {
                    setting.cables[*cable] == CableRow::Far(row.uplink, *port) && lit(setting, state, *cable)
                })
        })
}

/// Whether the neighbour of a cable can be read, by `neighbours.seen_on`.
#[must_use]
pub fn neighbour_shows(setting: &Setting, state: &State, cable: CableId) -> bool {
    let seen_on = &setting.traits.neighbours.seen_on;
    match link(setting, state, cable) {
        Link::Stack => seen_on.contains(&SeenOn::Stack),
        Link::Unmatched => seen_on.contains(&SeenOn::Unmatched),
        Link::Stray => seen_on.contains(&SeenOn::Stray),
        Link::Dark | Link::Far => false,
    }
}

/// The far end that a port's neighbour table shows.
#[must_use]
pub fn neighbour(setting: &Setting, situation: &Situation, near: PortId) -> Option<PortId> {
    let shows = |cable: &&CableId| neighbour_shows(setting, &situation.state, **cable);
    let cable = setting.ports[near].cables.iter().find(shows)?;
    match setting.cables[*cable] {
        CableRow::Units(a, b) => Some(if a == near { b } else { a }),
        CableRow::Far(..) => None,
    }
}

/// Of several islands of a baseline: the one that the holder of the primary's role leads, else the
/// largest, else the election's. Where the role moves there may be two holders, the old one and the new one.
fn baseline_island(setting: &Setting, state: &State, islands: &Islands) -> UnitSet {
    let in_role = |unit: UnitId| setting.units[unit].role == super::document::Role::Primary;
    let by_role = |island: &UnitSet| primaries(state, *island).iter().any(in_role);
    let candidates =
        || islands.iter().filter(|island| island.iter().any(|unit| setting.units[unit].status != Status::Joining));
    let held = candidates().any(|island| by_role(&island));
    let fit = || candidates().filter(|island| !held || by_role(island));
    let most = fit().map(|island| island.len()).max().unwrap_or(0);
    let leaders = fit()
        .filter(|island| island.len() == most)
        .fold(UnitSet::EMPTY, |all, island| all.or(primaries(state, island)));
    let best = super::election::elect(setting, state, super::election::Ballot::Merge(islands), leaders);
    best.map_or(UnitSet::EMPTY, |elected| islands.around(elected.winner))
}

/// Whether an operation touches the live stack: a live unit, a cable at one, or a pair.
#[must_use]
pub fn touches_live(setting: &Setting, situation: &Situation, operation: Operation) -> bool {
    let live = situation.memory.live;
    match (unit_of(setting, operation), operation) {
        (Some(unit), _) => live.contains(unit),
        (None, Operation::Connect(cable) | Operation::Disconnect(cable)) => {
            setting.cables[cable].unit_ends().any(|port| live.contains(setting.unit_of(port)))
        }
        (None, _) => !live.is_empty(),
    }
}
