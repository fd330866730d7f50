//! What the stack does by itself after every change: elections, merges, restarts of losers.

use std::borrow::Cow;

use super::derive::{Islands, clashes, primaries};
use super::election::{Ballot, able, compare, elect};
use super::joining::behind;
use super::names::Priority;
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

/// Lets a state settle. `earlier` are the islands of the settled state that the change was made to; `now` carries
/// the change and ends settled. Gives the islands at the end.
pub fn settle(setting: &Setting, earlier: &Islands, now: &mut State, events: &mut Events) -> Islands {
    rounds(setting, earlier, None, now, events)
}

/// The same after a change that leaves every island as it was.
pub fn settle_within(setting: &Setting, islands: &Islands, now: &mut State, events: &mut Events) -> Islands {
    rounds(setting, islands, Some(islands.clone()), now, events)
}

/// Round after round, until nothing changes; `first`: the islands as they are, if they are known.
fn rounds(
    setting: &Setting,
    earlier: &Islands,
    mut first: Option<Islands>,
    now: &mut State,
    events: &mut Events,
) -> Islands {
    let mut earlier = Cow::Borrowed(earlier);
    for _ in 0..MOST_ROUNDS {
        let islands = first.take().unwrap_or_else(|| Islands::of(setting, now));
        let clash = islands.iter().filter(|island| clashes(now, *island)).fold(UnitSet::EMPTY, UnitSet::or);
        if !clash.is_empty() {
            events.clash = clash;
            return islands;
        }
        let leaders = elect_where_none_leads(setting, now, &islands, events);
        let losers = merge(setting, &earlier, now, &islands, leaders, events);
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
            earlier = Cow::Owned(restart_together(setting, &islands, now, units, events));
            if !events.clash.is_empty() {
                return Islands::of(setting, now);
            }
            continue;
        }
        match setting.traits.joining.loser {
            Loser::Waits => {
                for unit in losers.iter() {
                    (now.units[unit].waiting, now.units[unit].primary) = (true, false);
                }
                earlier = Cow::Owned(islands);
            }
            Loser::Absorbed => {
                losers.iter().for_each(|unit| now.units[unit].primary = false);
                earlier = Cow::Owned(islands);
            }
            Loser::Restarts => {
                events.restarts = events.restarts.or(losers);
                earlier = Cow::Owned(restart_together(setting, &islands, now, losers, events));
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
    earlier: &Islands,
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
        let ballot = Ballot::Merge(earlier);
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

/// Takes units down together and boots them together; gives the islands of the settled state in which they were
/// down, and leaves `now` booted but not settled. `islands`: those of `now` before.
pub fn restart_together(
    setting: &Setting,
    islands: &Islands,
    now: &mut State,
    units: UnitSet,
    events: &mut Events,
) -> Islands {
    events.passing.push(Passing { state: now.clone(), by_boot: false });
    for unit in units.iter() {
        take_down(setting, now, unit);
    }
    let down = settle(setting, islands, now, events);
    events.downs.push(now.clone());
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
    state.ports.each(&setting.units[unit].ports, |port| port.dark());
}

/// Boots a unit that is down: it runs what it has saved, with every saved binding active.
pub fn boot(setting: &Setting, state: &mut State, unit: UnitId) {
    let now = state.now;
    let row = &mut state.units[unit];
    (row.powered, row.primary, row.waiting, row.standby, row.booted_at) = (true, false, false, false, now);
    (row.id, row.priority) = (row.saved_id, row.saved_priority);
    (row.keys, row.lone) = (row.saved_keys, row.saved_lone);
    let late = setting.traits.priority.takes_effect == PriorityEffect::NextElection;
    row.counts = if late { row.priority } else { Priority(0) };
    let lone = row.lone;
    state.ports.each(&setting.units[unit].ports, |port| if lone { port.booted_alone() } else { port.booted() });
}

/// Every powered unit restarted together, as after a power failure; settled, with its islands. To be down in between
/// changes nothing: a boot takes all that a unit runs from what it has saved.
#[must_use]
pub fn cold_start(setting: &Setting, state: &State) -> (State, Events, Islands) {
    let mut cold = state.clone();
    cold.running = cold.saved;
    for unit in setting.units.ids().filter(|unit| state.units[*unit].powered) {
        boot(setting, &mut cold, unit);
    }
    let mut events = Events::default();
    let islands = settle(setting, &Islands::NONE, &mut cold, &mut events);
    fill_seats(setting, state, &mut cold, &islands, &mut events);
    (cold, events, islands)
}
