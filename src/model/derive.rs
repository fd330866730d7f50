//! What a [`State`] implies and never stores: lit cables, kinds of link, islands, the cold start.

use std::collections::BTreeMap;

use super::document::Side;
use super::setting::{CableRow, Setting};
use super::state::State;
use super::table::{CableId, PortId, UnitId, UnitSet};
use super::traits::Facing;

/// What a plugged cable is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Link {
    /// Not plugged, or an end is off or out of use.
    Dark,
    /// A working stack link.
    Stack,
    /// Lit, carrying nothing.
    Unmatched,
    /// Two boxes bridged as plain Ethernet.
    Stray,
    /// A lit cable to the equipment at the far end of a pair.
    Far,
}

/// Whether every unit end of a cable is powered and in use, and the cable plugged.
#[must_use]
pub fn lit(setting: &Setting, state: &State, cable: CableId) -> bool {
    state.plugged.contains(cable)
        && setting.cables[cable]
            .unit_ends()
            .all(|port| state.units[setting.unit_of(port)].powered && state.ports[port].enabled())
}

/// What a cable is in a state. A far cable is only [`Link::Far`] or dark here: whether it is stray
/// depends on the incumbent island.
#[must_use]
pub fn link(setting: &Setting, state: &State, cable: CableId) -> Link {
    if !lit(setting, state, cable) {
        return Link::Dark;
    }
    match setting.cables[cable] {
        CableRow::Far(..) => Link::Far,
        CableRow::Units(a, b) => unit_link(setting, state, a, b),
    }
}

fn unit_link(setting: &Setting, state: &State, a: PortId, b: PortId) -> Link {
    let (near, far) = (state.ports[a], state.ports[b]);
    if !near.active() && !far.active() {
        return Link::Stray;
    }
    let waiting = state.units[setting.unit_of(a)].waiting || state.units[setting.unit_of(b)].waiting;
    let faces = match setting.traits.sides.facing {
        Facing::Any => true,
        Facing::Opposite => near.side() != far.side(),
    };
    if near.active() && far.active() && !waiting && faces { Link::Stack } else { Link::Unmatched }
}

/// The powered units, cut into connected components over stack links.
#[derive(Clone, Debug)]
pub struct Islands(Vec<UnitSet>);

impl Islands {
    /// Cuts a state into its islands, each by its lowest unit.
    #[must_use]
    pub fn of(setting: &Setting, state: &State) -> Self {
        let mut islands: Vec<UnitSet> =
            setting.units.ids().filter(|unit| state.units[*unit].powered).map(UnitSet::one).collect();
        for cable in state.plugged.iter() {
            if let (CableRow::Units(a, b), Link::Stack) = (setting.cables[cable], link(setting, state, cable)) {
                let (u, v) = (setting.unit_of(a), setting.unit_of(b));
                join(&mut islands, u, v);
            }
        }
        Self(islands)
    }

    /// The islands in order.
    pub fn iter(&self) -> impl Iterator<Item = UnitSet> + '_ {
        self.0.iter().copied()
    }

    /// The island that holds a unit; empty if the unit is off.
    #[must_use]
    pub fn around(&self, unit: UnitId) -> UnitSet {
        self.iter().find(|island| island.contains(unit)).unwrap_or(UnitSet::EMPTY)
    }
}

/// Makes one island of those of two units; it takes the place of the first.
fn join(islands: &mut Vec<UnitSet>, one: UnitId, other: UnitId) {
    let at = |unit: UnitId| islands.iter().position(|island| island.contains(unit));
    let (Some(one), Some(other)) = (at(one), at(other)) else { return };
    if one != other {
        let gone = islands.remove(one.max(other));
        if let Some(kept) = islands.get_mut(one.min(other)) {
            *kept = kept.or(gone);
        }
    }
}

/// The primaries among some units.
#[must_use]
pub fn primaries(state: &State, units: UnitSet) -> UnitSet {
    units.iter().filter(|unit| state.units[*unit].primary).collect()
}

/// Whether two units of a set act on one id.
#[must_use]
pub fn clashes(state: &State, units: UnitSet) -> bool {
    units.iter().any(|unit| units.iter().any(|other| other > unit && state.units[other].id == state.units[unit].id))
}

/// Whether the graph of stack links among some units, a link known by its two unit sides, stays in
/// one piece when any one link breaks. No unit, or one alone, is protected.
#[must_use]
pub fn protected(setting: &Setting, state: &State, units: UnitSet) -> bool {
    if units.len() < 2 {
        return true;
    }
    let links = side_links(setting, state, units);
    units.first().is_some_and(|start| Bridges::new(&links).none_from(start, units))
}

/// A stack link by its two unit sides, the lower first.
pub type SideLink = ((UnitId, Side), (UnitId, Side));

/// A cable's two unit sides as they are bound now, the lower first; none for a far cable.
#[must_use]
pub fn side_link(setting: &Setting, state: &State, cable: CableId) -> Option<SideLink> {
    match setting.cables[cable] {
        CableRow::Far(..) => None,
        CableRow::Units(a, b) => {
            let one = (setting.unit_of(a), state.ports[a].side());
            let other = (setting.unit_of(b), state.ports[b].side());
            Some((one.min(other), one.max(other)))
        }
    }
}

/// The stack links among some units, each once however many cables it has.
#[must_use]
pub fn side_links(setting: &Setting, state: &State, units: UnitSet) -> Vec<SideLink> {
    let mut links: Vec<SideLink> = state
        .plugged
        .iter()
        .filter(|cable| link(setting, state, *cable) == Link::Stack)
        .filter_map(|cable| side_link(setting, state, cable))
        .filter(|(one, other)| units.contains(one.0) && units.contains(other.0))
        .collect();
    links.sort_unstable();
    links.dedup();
    links
}

/// A walk over links, each taken once; `seen` and `low` count units in the order in which they are met.
struct Bridges<'a> {
    links: &'a [SideLink],
    taken: Vec<bool>,
    met: UnitSet,
    seen: BTreeMap<UnitId, usize>,
}

impl<'a> Bridges<'a> {
    fn new(links: &'a [SideLink]) -> Self {
        Self { links, taken: vec![false; links.len()], met: UnitSet::EMPTY, seen: BTreeMap::new() }
    }

    /// Whether all units are met from one, and no link is the only way between two of them.
    fn none_from(mut self, start: UnitId, units: UnitSet) -> bool {
        self.lowest(start).is_some() && self.met == units
    }

    /// The earliest unit that is met again from here; none if the way on crosses a bridge.
    fn lowest(&mut self, unit: UnitId) -> Option<usize> {
        let mine = self.seen.len();
        self.seen.insert(unit, mine);
        self.met = self.met.with(unit);
        let mut low = mine;
        for at in 0..self.links.len() {
            let Some(((one, _), (other, _))) = self.links.get(at).copied() else { continue };
            if one != unit && other != unit || self.taken.get(at) == Some(&true) {
                continue;
            }
            if let Some(taken) = self.taken.get_mut(at) {
                *taken = true;
            }
            let next = if one == unit { other } else { one };
            low = low.min(match self.seen.get(&next) {
                Some(seen) => *seen,
                None => self.lowest(next).filter(|below| *below <= mine)?,
            });
        }
        Some(low)
    }
}

/// Whether the live units were unprotected before and are protected after.
#[must_use]
pub fn becomes_protected(
    setting: &Setting,
    before: &super::progress::Situation,
    after: &super::progress::Situation,
) -> bool {
    !protected(setting, &before.state, before.memory.live) && protected(setting, &after.state, after.memory.live)
}
