//! Who may be in one stack: who is admitted, what must be equal, which ports change to stacking together.

use super::derive::{Islands, primaries};
use super::naming;
use super::setting::{Setting, Ticket};
use super::state::{MAX_KEYS, State};
use super::table::{PortId, TicketSet, UnitId, UnitSet};
use super::traits::{Admission, Differs, GroupEffect};

/// Whether a stack was told of a unit, by the list that runs.
#[must_use]
pub fn admitted(setting: &Setting, state: &State, unit: UnitId) -> bool {
    has_ticket(setting, state, unit, state.running.admitted)
}

/// Whether a unit's id or serial is among tickets.
#[must_use]
pub fn has_ticket(setting: &Setting, state: &State, unit: UnitId, tickets: TicketSet) -> bool {
    match setting.traits.admission {
        Admission::Open => true,
        Admission::Id => {
            let id = state.units[unit].id;
            tickets.iter().any(|ticket| setting.tickets[ticket] == Ticket::Id(id))
        }
        Admission::Serial => {
            setting.units[unit].serial.is_some()
                && naming::serial_ticket(setting, unit).is_some_and(|ticket| tickets.contains(ticket))
        }
    }
}

/// Whether the habits of the platform let a cable between two units be a link.
#[must_use]
#[inline]
pub fn may_link(setting: &Setting, state: &State, one: UnitId, other: UnitId) -> bool {
    let admission =
        setting.traits.admission == Admission::Open || admitted(setting, state, one) == admitted(setting, state, other);
    let refused = || differ(setting, state, one, other, &|differs| differs == Differs::Refused);
    admission && (setting.traits.join_keys.is_empty() || !refused())
}

/// Whether two units differ in a thing that must be equal, of the kinds that are asked for.
#[must_use]
pub fn differ(setting: &Setting, state: &State, one: UnitId, other: UnitId, asked: &dyn Fn(Differs) -> bool) -> bool {
    let pairs = state.units[one].keys.into_iter().zip(state.units[other].keys);
    let mut rows = setting.traits.join_keys.iter().zip(pairs);
    rows.any(|(key, (a, b))| a != 0 && b != 0 && a != b && asked(key.differs))
}

/// Units that differ from their primary in something that they take over from it, with what it has.
#[must_use]
pub fn behind(setting: &Setting, state: &State, islands: &Islands) -> Vec<(UnitId, [u8; MAX_KEYS])> {
    let mut found = Vec::new();
    if setting.traits.join_keys.is_empty() {
        return found;
    }
    for island in islands.iter() {
        let Some(leader) = primaries(state, island).first() else { continue };
        for unit in island.iter().filter(|unit| *unit != leader) {
            if !differ(setting, state, unit, leader, &|differs| differs == Differs::Updates) {
                continue;
            }
            let mut keys = state.units[unit].saved_keys;
            for ((key, slot), value) in setting.traits.join_keys.iter().zip(&mut keys).zip(state.units[leader].keys) {
                if key.differs == Differs::Updates && value != 0 {
                    *slot = value;
                }
            }
            found.push((unit, keys));
        }
    }
    found
}

/// Units of an island that differ from its primary in anything.
#[must_use]
pub fn unequal(setting: &Setting, state: &State, island: UnitSet) -> UnitSet {
    if setting.traits.join_keys.is_empty() {
        return UnitSet::EMPTY;
    }
    let Some(leader) = primaries(state, island).first() else { return UnitSet::EMPTY };
    island.iter().filter(|unit| differ(setting, state, *unit, leader, &|_| true)).collect()
}

/// Whether a binding of a port waits for the unit's next boot, since its group has not changed to stacking yet.
#[must_use]
pub fn group_waits(setting: &Setting, state: &State, port: PortId) -> bool {
    let group = &setting.ports[port].group;
    setting.traits.port_groups.takes_effect == GroupEffect::AfterRestart
        && !group.is_empty()
        && !group.iter().any(|other| state.ports[*other].active())
}

/// Powered units with a bound port whose group carries a leg, or something else of the intent's.
#[must_use]
pub fn crowded(setting: &Setting, state: &State, incumbent: UnitSet) -> UnitSet {
    if !setting.grouped {
        return UnitSet::EMPTY;
    }
    let carries = |port: &PortId| {
        let row = &setting.ports[*port];
        row.in_use || incumbent.contains(row.unit) && row.legs.meets(state.running.legs)
    };
    let is_crowded = |unit: &UnitId| {
        let bound = |port: &&PortId| !matches!(state.ports[**port].side(), super::document::Side::None);
        let mut ports = setting.units[*unit].ports.iter().filter(bound);
        state.units[*unit].powered && ports.any(|port| setting.ports[*port].group.iter().any(carries))
    };
    setting.units.ids().filter(is_crowded).collect()
}
