//! What the stack does by itself after every change: elections, merges, restarts of losers.

use super::derive::{Islands, clashes, primaries};
use super::election::{Ballot, able, compare, elect};
use super::joining::behind;
use super::setting::Setting;
use super::state::{MAX_KEYS, State};
use super::table::{UnitId, UnitSet};
use super::traits::{Criterion, Loser, PriorityEffect, StandbySeat};

/// What happened while a state settled.
#[derive(Clone, Debug, Default)]
pub struct Events {
    /// Units that restarted by themselves, each once.
    pub restarts: UnitSet,
    /// States in which some units were down.
    pub downs: Vec<State>,
    /// States that stood for a moment before losers went down or after they booted, in which a link
    /// may first be up.
    pub passing: Vec<Passing>,
    /// Merges of two primaries.
    pub merges: Vec<Merge>,
    /// One island held an id twice.
    pub clash: UnitSet,
    /// Elections that the order did not decide: the candidates.
    pub undecided: UnitSet,
}

/// A state that stood for a moment.
#[derive(Clone, Debug)]
pub struct Passing {
    /// The state.
    pub state: State,
    /// Whether a boot made it, rather than the operation itself.
    pub by_boot: bool,
}

/// Two primaries met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Merge {
    /// The one that stays.
    pub winner: UnitId,
    /// The one whose island gives way.
    pub loser: UnitId,
    /// What decided.
    pub by: Option<Criterion>,
}

/// More rounds than any real stack could need: a guard against an endless ping-pong.
const MOST_ROUNDS: usize = 200;

/// Lets a state settle. `before` is the settled state that the change was made to; `now` carries
/// the change and ends settled. Gives the islands at the end.
pub fn settle(setting: &Setting, before: &State, now: &mut State, events: &mut Events) -> Islands {
    let mut before = before.clone();
    for _ in 0..MOST_ROUNDS {
        let islands = Islands::of(setting, now);
        let clash = islands.iter().filter(|island| clashes(now, *island)).fold(UnitSet::EMPTY, UnitSet::or);
        if !clash.is_empty() {
            events.clash = clash;
            return islands;
        }
        let leaders = elect_where_none_leads(setting, now, &islands, events);
        let losers = merge(setting, &before, now, &islands, leaders, events);
        if losers.is_empty() {
            if setting.traits.joining.preempts {
                preempt(setting, now, &islands, events);
            }
            let behind = behind(setting, now, &islands);
            if behind.is_empty() {
                return islands;
            }
            for (unit, keys) in &behind {
                now.units[*unit].saved_keys = *keys;
            }
            let units: UnitSet = behind.into_iter().map(|(unit, _)| unit).collect();
            events.restarts = events.restarts.or(units);
            before = restart_together(setting, now, units, events);
            if !events.clash.is_empty() {
                return Islands::of(setting, now);
            }
            continue;
        }
        before = now.clone();
        match setting.traits.joining.loser {
            Loser::Waits => {
                for unit in losers.iter() {
                    (now.units[unit].waiting, now.units[unit].primary) = (true, false);
                }
            }
            Loser::Absorbed => losers.iter().for_each(|unit| now.units[unit].primary = false),
            Loser::Restarts => {
                events.restarts = events.restarts.or(losers);
                before = restart_together(setting, now, losers, events);
                if !events.clash.is_empty() {
                    return Islands::of(setting, now);
                }
            }
        }
    }
    events.undecided = events.undecided.or(setting.all_units());
    Islands::of(setting, now)
}

/// Gives all that lead then.
fn elect_where_none_leads(setting: &Setting, now: &mut State, islands: &Islands, events: &mut Events) -> UnitSet {
    let mut leaders = primaries(now, setting.all_units());
    for island in islands.iter() {
        if island.meets(leaders) {
            continue;
        }
        let candidates: UnitSet = island.iter().filter(|unit| !now.units[*unit].waiting).collect();
        // who has the seat takes over without an election
        if let Some(heir) = candidates.iter().find(|unit| now.units[*unit].standby) {
            (now.units[heir].primary, now.units[heir].standby) = (true, false);
            leaders.insert(heir);
        } else if let Some(elected) = elect(setting, now, Ballot::Boot, candidates) {
            now.units[elected.winner].primary = true;
            voted(setting, now, island);
            leaders.insert(elected.winner);
            if !elected.decided {
                events.undecided = events.undecided.or(candidates);
            }
        }
    }
    leaders
}

/// Compares the primaries of every island that has several; gives all losing units.
fn merge(
    setting: &Setting,
    before: &State,
    now: &mut State,
    islands: &Islands,
    leaders: UnitSet,
    events: &mut Events,
) -> UnitSet {
    let mut losers = UnitSet::EMPTY;
    for island in islands.iter() {
        let leaders = leaders.and(island);
        if leaders.len() < 2 {
            continue;
        }
        let earlier = Islands::of(setting, before);
        let ballot = Ballot::Merge(&earlier);
        let Some(elected) = elect(setting, now, ballot, leaders) else { continue };
        voted(setting, now, island);
        if !elected.decided {
            events.undecided = events.undecided.or(leaders);
        }
        for loser in leaders.iter().filter(|unit| *unit != elected.winner) {
            let by = compare(setting, now, ballot, elected.winner, loser).1;
            events.merges.push(Merge { winner: elected.winner, loser, by });
            losers = losers.or(earlier.around(loser)).with(loser);
        }
        losers.remove(elected.winner);
    }
    losers
}

/// Who boots into a led island, and beats its primary, takes the lead.
fn preempt(setting: &Setting, now: &mut State, islands: &Islands, events: &mut Events) {
    for island in islands.iter() {
        let Some(leader) = primaries(now, island).first() else { continue };
        let booted = able(now, island).iter().filter(|unit| now.units[*unit].booted_at == now.now).collect::<UnitSet>();
        if booted.is_empty() {
            continue;
        }
        let Some(elected) = elect(setting, now, Ballot::Boot, booted.with(leader)) else { continue };
        if !elected.decided {
            events.undecided = events.undecided.or(booted.with(leader));
        }
        if elected.winner != leader {
            (now.units[leader].primary, now.units[elected.winner].primary) = (false, true);
            voted(setting, now, island);
        }
    }
}

/// An election was held: what was typed counts.
fn voted(setting: &Setting, now: &mut State, island: UnitSet) {
    if setting.traits.priority.takes_effect == PriorityEffect::NextElection {
        island.iter().for_each(|unit| now.units[unit].counts = now.units[unit].priority);
    }
}

/// Seats that are kept, once all of an operation has settled: who has one keeps it, and the best of the others takes an
/// empty one. `before`: the state before the operation.
pub fn fill_seats(setting: &Setting, before: &State, now: &mut State, islands: &Islands, events: &mut Events) {
    if setting.traits.standby != StandbySeat::Sticky || !events.clash.is_empty() {
        return;
    }
    for island in islands.iter() {
        let able = able(now, island);
        let leader = primaries(now, island).first();
        let mut seated: UnitSet = able.iter().filter(|unit| now.units[*unit].standby && leader.is_some()).collect();
        if let Some(leader) = leader.filter(|_| seated.len() > 1) {
            let own = Islands::of(setting, before).around(leader);
            seated = if seated.meets(own) { seated.and(own) } else { seated };
        }
        let mut holder = seated.first();
        if let (None, Some(_), Some(elected)) = (holder, leader, elect(setting, now, Ballot::Seat, able)) {
            holder = Some(elected.winner);
            if !elected.decided {
                events.undecided = events.undecided.or(able);
            }
        }
        island.iter().for_each(|unit| now.units[unit].standby = holder == Some(unit));
    }
}

/// Takes units down together and boots them together; gives the settled state in which they were
/// down, and leaves `now` booted but not settled.
pub fn restart_together(setting: &Setting, now: &mut State, units: UnitSet, events: &mut Events) -> State {
    events.passing.push(Passing { state: now.clone(), by_boot: false });
    let up = now.clone();
    for unit in units.iter() {
        take_down(setting, now, unit);
    }
    settle(setting, &up, now, events);
    events.downs.push(now.clone());
    let down = now.clone();
    for unit in units.iter() {
        boot(setting, now, unit);
    }
    events.passing.push(Passing { state: now.clone(), by_boot: true });
    down
}

/// Takes a unit down: what it ran and its lead are forgotten.
pub fn take_down(setting: &Setting, state: &mut State, unit: UnitId) {
    let row = &mut state.units[unit];
    (row.powered, row.primary, row.waiting) = (false, false, false);
    (row.booted_at, row.id.0, row.priority.0, row.counts.0, row.standby) = (0, 0, 0, 0, false);
    (row.keys, row.lone) = ([0; MAX_KEYS], false);
    for port in setting.units[unit].ports.iter().copied() {
        state.ports[port] = state.ports[port].dark();
    }
}

/// Boots a unit: it runs what it has saved, with every saved binding active.
pub fn boot(setting: &Setting, state: &mut State, unit: UnitId) {
    let now = state.now;
    let row = &mut state.units[unit];
    (row.powered, row.primary, row.waiting, row.booted_at) = (true, false, false, now);
    (row.id, row.priority) = (row.saved_id, row.saved_priority);
    (row.keys, row.lone) = (row.saved_keys, row.saved_lone);
    let lone = row.lone;
    if setting.traits.priority.takes_effect == PriorityEffect::NextElection {
        row.counts = row.priority;
    }
    for port in setting.units[unit].ports.iter().copied() {
        state.ports[port] = if lone { state.ports[port].booted_alone() } else { state.ports[port].booted() };
    }
}

/// Every powered unit restarted together, as after a power failure; settled, with its islands.
#[must_use]
pub fn cold_start(setting: &Setting, state: &State) -> (State, Events, Islands) {
    let mut cold = state.clone();
    let powered: UnitSet = setting.units.ids().filter(|unit| state.units[*unit].powered).collect();
    for unit in powered.iter() {
        take_down(setting, &mut cold, unit);
    }
    cold.running = cold.saved;
    let off = cold.clone();
    for unit in powered.iter() {
        boot(setting, &mut cold, unit);
    }
    let mut events = Events::default();
    let islands = settle(setting, &off, &mut cold, &mut events);
    fill_seats(setting, &off, &mut cold, &islands, &mut events);
    (cold, events, islands)
}
