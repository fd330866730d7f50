//! What a [`State`] implies and never stores: lit cables, kinds of link, islands, the cold start.

use super::document::Side;
use super::joining::may_link;
use super::setting::{CableRow, Setting};
use super::state::State;
use super::table::{CableId, CableSet, Id, PerUnit, PortId, UnitId, UnitSet};
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
    let in_use = |port: PortId| state.ports[port].enabled() && state.units[setting.unit_of(port)].powered;
    state.plugged.contains(cable)
        && match setting.cables[cable] {
            CableRow::Units(a, b) => in_use(a) && in_use(b),
            CableRow::Far(_, port) => in_use(port),
        }
}

/// What a cable is in a state. A far cable is only [`Link::Far`] or dark here: whether it is stray
/// depends on the incumbent island.
#[must_use]
pub fn link(setting: &Setting, state: &State, cable: CableId) -> Link {
    if !state.plugged.contains(cable) {
        return Link::Dark;
    }
    match setting.cables[cable] {
        CableRow::Units(a, b) => unit_link(setting, state, a, b),
        CableRow::Far(..) if lit(setting, state, cable) => Link::Far,
        CableRow::Far(..) => Link::Dark,
    }
}

/// The working stack links of a state.
#[must_use]
pub fn stack_links(setting: &Setting, state: &State) -> CableSet {
    state.plugged.iter().filter(|cable| link(setting, state, *cable) == Link::Stack).collect()
}

/// Whether the two ends of a link hang together by it alone.
#[must_use]
pub fn is_bridge(setting: &Setting, links: CableSet, link: CableId) -> bool {
    let CableRow::Units(a, b) = setting.cables[link] else { return false };
    let mut joined = Joined::new();
    for cable in links.iter().filter(|cable| *cable != link) {
        if let CableRow::Units(a, b) = setting.cables[cable] {
            joined.join(setting.unit_of(a), setting.unit_of(b));
        }
    }
    joined.lowest(setting.unit_of(a)) != joined.lowest(setting.unit_of(b))
}

/// What a plugged cable between two units is. Every settling asks it of every cable: what is cheap to ask comes first.
pub(super) fn unit_link(setting: &Setting, state: &State, a: PortId, b: PortId) -> Link {
    let (near, far) = (state.ports[a], state.ports[b]);
    let (one, other) = (setting.unit_of(a), setting.unit_of(b));
    let (here, there) = (&state.units[one], &state.units[other]);
    if !(near.enabled() && far.enabled() && here.powered && there.powered) {
        return Link::Dark;
    }
    match (near.active(), far.active()) {
        (false, false) => return Link::Stray,
        (true, true) => {}
        _ => return Link::Unmatched,
    }
    let faces = setting.traits.sides.facing == Facing::Any || near.side() != far.side();
    let links = faces && !here.waiting && !there.waiting && may_link(setting, state, one, other);
    if links { Link::Stack } else { Link::Unmatched }
}

/// The powered units, cut into connected components over stack links.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Islands(Vec<UnitSet>);

impl Islands {
    /// Nobody is up.
    pub const NONE: Self = Self(Vec::new());

    /// Cuts a state into its islands, each by its lowest unit.
    #[must_use]
    pub fn of(setting: &Setting, state: &State) -> Self {
        let mut joined = Joined::new();
        for cable in state.plugged.iter() {
            if let (CableRow::Units(a, b), Link::Stack) = (setting.cables[cable], link(setting, state, cable)) {
                joined.join(setting.unit_of(a), setting.unit_of(b));
            }
        }
        let mut islands: Vec<UnitSet> = Vec::with_capacity(4);
        let mut numbers = PerUnit::filled(0_u8);
        for unit in setting.units.ids().filter(|unit| state.units[*unit].powered) {
            let lowest = joined.lowest(unit);
            if lowest == unit {
                numbers[unit] = islands.len() as u8;
                islands.push(UnitSet::EMPTY);
            }
            if let Some(island) = islands.get_mut(usize::from(numbers[lowest])) {
                island.insert(unit);
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

/// Units that hang together, each known by the lowest of them: every unit points to a lower one, the lowest to itself.
struct Joined(PerUnit<u8>);

impl Joined {
    fn new() -> Self {
        let mut own = PerUnit::filled(0);
        (0..UnitSet::CAPACITY).for_each(|position| own[UnitId::at(position)] = position as u8);
        Self(own)
    }

    fn lowest(&mut self, unit: UnitId) -> UnitId {
        let mut at = unit;
        loop {
            let next = UnitId::at(usize::from(self.0[at]));
            if next == at {
                return at;
            }
            // the way is shorter for the next who goes it
            self.0[at] = self.0[next];
            at = next;
        }
    }

    fn join(&mut self, one: UnitId, other: UnitId) {
        let (one, other) = (self.lowest(one), self.lowest(other));
        self.0[one.max(other)] = one.min(other).position() as u8;
    }
}

/// Who is next to whom, by unit.
struct Near(PerUnit<UnitSet>);

impl Near {
    fn new() -> Self {
        Self(PerUnit::filled(UnitSet::EMPTY))
    }

    fn of(&self, unit: UnitId) -> UnitSet {
        self.0[unit]
    }

    fn join(&mut self, one: UnitId, other: UnitId) {
        self.0[one].insert(other);
        self.0[other].insert(one);
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
    // ids that share a bit are compared one by one
    let mut seen = 0_u128;
    units.iter().any(|unit| {
        let id = state.units[unit].id;
        let bit = 1 << (id.0 % 128);
        let met = seen & bit != 0;
        seen |= bit;
        met && units.iter().any(|other| other < unit && state.units[other].id == id)
    })
}

/// Whether the graph of stack links among some units, a link known by its two unit sides, stays in
/// one piece when any one link breaks. No unit, or one alone, is protected.
#[must_use]
pub fn protected(setting: &Setting, state: &State, units: UnitSet) -> bool {
    if units.len() < 2 {
        return true;
    }
    let mut bridges = Bridges::new();
    for cable in state.plugged.iter().filter(|cable| link(setting, state, *cable) == Link::Stack) {
        let sides = side_link(setting, state, cable);
        if let Some(sides) = sides.filter(|(one, other)| units.contains(one.0) && units.contains(other.0)) {
            bridges.add(sides);
        }
    }
    units.first().is_some_and(|start| bridges.none_from(start, units))
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

/// A walk over links, each taken once; `seen` holds when a unit was first met.
struct Bridges {
    near: Near,
    /// Who is next to whom over a second link as well.
    twice: Near,
    links: Vec<SideLink>,
    met: UnitSet,
    seen: PerUnit<usize>,
}

impl Bridges {
    fn new() -> Self {
        let (near, twice) = (Near::new(), Near::new());
        Self { near, twice, links: Vec::new(), met: UnitSet::EMPTY, seen: PerUnit::filled(0) }
    }

    /// Adds a link; parallel cables between the same two sides are one.
    fn add(&mut self, sides: SideLink) {
        let ((one, _), (other, _)) = sides;
        let known = self.near.of(one).contains(other);
        if !known {
            self.near.join(one, other);
        } else if !self.links.contains(&sides) {
            self.twice.join(one, other);
        }
        self.links.push(sides);
    }

    /// Whether all units are met from one, and no link is the only way between two of them.
    fn none_from(mut self, start: UnitId, units: UnitSet) -> bool {
        self.lowest(start, None).is_some() && self.met == units
    }

    /// The earliest unit that is met again from here; none if the way on crosses a bridge.
    fn lowest(&mut self, unit: UnitId, from: Option<UnitId>) -> Option<usize> {
        let mine = self.met.len();
        self.seen[unit] = mine;
        self.met.insert(unit);
        let mut low = mine;
        for next in self.near.of(unit).iter() {
            if Some(next) == from && !self.twice.of(unit).contains(next) {
                continue;
            }
            low = low.min(match self.met.contains(next) {
                true => self.seen[next],
                false => self.lowest(next, Some(unit)).filter(|below| *below <= mine)?,
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
