//! A situation as a row of bytes, and back: small enough to keep a million, and equal exactly where two
//! situations have the same future.
//!
//! Left out is only what no rule, no operation and no election can see: the ports that no cable of the
//! plan fits and no pair uses, and of the boot ticks everything but their order.

use ringwright::model::document::Side;
use ringwright::model::progress::{Memory, Situation};
use ringwright::model::setting::Setting;
use ringwright::model::state::{Port, Shared, State};
use ringwright::model::table::{CableSet, Id, PortId, Set, UnitId};
use ringwright::model::traits::Criterion;
use ringwright::model::{MemberId, Priority};

use crate::price::Seen;

/// How to pack the situations of one plan.
pub struct Packing {
    units: Vec<UnitId>,
    ports: Vec<PortId>,
    /// Ports that no operation of the search is about: they run what they have saved.
    others: Vec<PortId>,
    /// The units of those.
    owners: Vec<UnitId>,
    cables: usize,
    uptime_counts: bool,
    start: Situation,
    /// Every port by its bits.
    values: Vec<Port>,
}

impl Packing {
    pub fn new(setting: &Setting) -> Self {
        let units: Vec<UnitId> = setting.units.ids().collect();
        assert!(units.len() <= 5 && setting.cables.len() <= 64 && setting.legs.len() <= 8, "too large to pack");
        let (ports, others) = ports_apart(setting);
        let start = Situation::start(setting);
        let idle =
            |port: &PortId| !start.state.units[setting.unit_of(*port)].powered || start.state.ports[*port].is_stored();
        assert!(others.iter().all(idle), "a port beside the plan does not run what it has saved");
        Self {
            units,
            owners: others.iter().map(|port| setting.unit_of(*port)).collect(),
            ports,
            others,
            cables: setting.cables.len(),
            uptime_counts: setting.traits.election.compares(Criterion::Uptime),
            start,
            values: port_values(),
        }
    }

    pub fn pack(&self, situation: &Situation, seen: Seen) -> Box<[u8]> {
        // named one by one, so that what comes to be remembered stops the build here
        let State { units, ports, plugged, running, saved, now: _ } = &situation.state;
        let Memory { live, was_live, stranded, unready, uncounted, checked, .. } = situation.memory;
        let Memory { unproven, unread, readable, founded, leader: _, .. } = situation.memory;
        let mut bytes = Vec::with_capacity(80);
        let ranks = self.boot_ranks(situation);
        for (unit, rank) in self.units.iter().zip(ranks) {
            let row = &units[*unit];
            bytes.push(flags([row.powered, row.primary, row.waiting, row.copy, row.bootable]));
            bytes.push(rank);
            bytes.extend([row.id.0, row.saved_id.0].map(|id| u8::try_from(id).unwrap()));
            bytes.extend([row.priority.0, row.saved_priority.0].map(|priority| u8::try_from(priority).unwrap()));
        }
        bytes.extend(self.ports.iter().map(|port| ports[*port].bits()));
        for cables in [*plugged, unread, readable] {
            bytes.extend_from_slice(&mask(cables).to_le_bytes()[..self.cables.div_ceil(8)]);
        }
        for shared in [running, saved] {
            bytes.extend([mask(shared.pairs) as u8, mask(shared.legs) as u8]);
            bytes.push(shared.guard.map_or(u8::MAX, |guard| guard.position() as u8));
        }
        let sets = [live, was_live, stranded, unready, uncounted, checked];
        bytes.extend(sets.map(|set| mask(set) as u8));
        bytes.extend([mask(unproven) as u8, u8::from(founded)]);
        bytes.extend(seen.to_le_bytes());
        bytes.into_boxed_slice()
    }

    /// The order in which the powered units booted; nothing of it where no election asks.
    fn boot_ranks(&self, situation: &Situation) -> Vec<u8> {
        let rows = || self.units.iter().map(|unit| &situation.state.units[*unit]);
        let mut boots: Vec<i32> = rows().filter(|row| row.powered).map(|row| row.booted_at).collect();
        boots.sort_unstable();
        boots.dedup();
        let rank = |tick| boots.binary_search(&tick).unwrap() as u8;
        rows().map(|row| if row.powered && self.uptime_counts { rank(row.booted_at) } else { 0 }).collect()
    }

    pub fn unpack(&self, bytes: &[u8]) -> (Situation, Seen) {
        let mut situation = self.start.clone();
        let (state, memory) = (&mut situation.state, &mut situation.memory);
        let mut bytes = bytes.iter().copied();
        let mut next = || bytes.next().unwrap();
        for unit in &self.units {
            let row = &mut state.units[*unit];
            let flags = next();
            let flag = |at: u8| flags >> at & 1 == 1;
            (row.powered, row.primary, row.waiting, row.copy, row.bootable) =
                (flag(0), flag(1), flag(2), flag(3), flag(4));
            row.booted_at = i32::from(next());
            (row.id, row.saved_id) = (MemberId(next().into()), MemberId(next().into()));
            (row.priority, row.saved_priority) = (Priority(next().into()), Priority(next().into()));
        }
        state.now = self.units.len() as i32;
        self.ports.iter().for_each(|port| state.ports[*port] = self.values[usize::from(next())]);
        for (port, unit) in self.others.iter().zip(&self.owners) {
            let kept = state.ports[*port];
            state.ports[*port] = if state.units[*unit].powered { kept.booted() } else { kept.dark() };
        }
        for cables in [&mut state.plugged, &mut memory.unread, &mut memory.readable] {
            *cables = (0..self.cables.div_ceil(8)).fold(CableSet::EMPTY, |all, byte| all.or(set(next(), 8 * byte)));
        }
        for shared in [&mut state.running, &mut state.saved] {
            let (pairs, legs, guard) = (set(next(), 0), set(next(), 0), next());
            let guard = (guard != u8::MAX).then(|| Id::at(guard.into()));
            *shared = Shared { pairs, legs, guard, ..Shared::default() };
        }
        let Memory { live, was_live, stranded, unready, uncounted, checked, .. } = memory;
        for units in [live, was_live, stranded, unready, uncounted, checked] {
            *units = set(next(), 0);
        }
        (memory.unproven, memory.founded) = (set(next(), 0), next() == 1);
        let seen = Seen::from_le_bytes(std::array::from_fn(|_| next()));
        (situation, seen)
    }
}

/// The ports that a cable of the plan fits or a pair uses, and all others.
fn ports_apart(setting: &Setting) -> (Vec<PortId>, Vec<PortId>) {
    let touched = |port: &PortId| !setting.ports[*port].cables.is_empty() || !setting.ports[*port].legs.is_empty();
    setting.units.iter().flat_map(|unit| unit.ports.clone()).partition(touched)
}

/// The ports that a cable of the plan fits, or a pair uses.
pub fn touched_ports(setting: &Setting) -> Vec<PortId> {
    ports_apart(setting).0
}

fn flags(flags: [bool; 5]) -> u8 {
    flags.iter().rev().fold(0, |all, flag| all << 1 | u8::from(*flag))
}

fn mask<I: Id, const W: usize>(set: Set<I, W>) -> u64 {
    set.iter().fold(0, |all, id| all | 1 << id.position())
}

fn set<I: Id, const W: usize>(bits: u8, first: usize) -> Set<I, W> {
    (0..8).filter(|at| bits >> at & 1 == 1).map(|at| I::at(first + at)).collect()
}

/// Every port that there can be, at the position of its bits.
pub fn port_values() -> Vec<Port> {
    let mut values = vec![Port::default(); 256];
    let sides = [(Side::None, false), (Side::West, false), (Side::West, true), (Side::East, false), (Side::East, true)];
    for (side, active) in sides {
        for saved in [Side::None, Side::West, Side::East] {
            for (enabled, saved_enabled) in [(false, false), (false, true), (true, false), (true, true)] {
                let running = Port::default().with_enabled(enabled).with_side(side, active);
                let port = running.with_saved_enabled(saved_enabled).with_saved_side(saved);
                values[usize::from(port.bits())] = port;
            }
        }
    }
    values
}
