//! The one [`State`] on which planner, judge and analyses work: without names. A copy costs little: it shares
//! what does not differ.
//!
//! What can be derived (links, islands, the standby) is never stored; see `derive`.

use super::document::Side;
use super::names::{MemberId, Priority};
use super::table::{CableSet, LegSet, PortId, Slots, TicketSet, UnitId, UplinkId, UplinkSet};

/// The most boxes that one plan may hold.
pub const MAX_UNITS: usize = 80;
/// The most ports that one plan may list.
pub const MAX_PORTS: usize = 1024;
/// The most different cables that one plan may know.
pub const MAX_CABLES: usize = CableSet::CAPACITY;
/// The most different legs that one plan may know.
pub const MAX_LEGS: usize = LegSet::CAPACITY;
/// The most uplink pairs that one plan may know.
pub const MAX_UPLINKS: usize = UplinkSet::CAPACITY;

/// The most numbers or serials of newcomers that one plan may know.
pub const MAX_TICKETS: usize = TicketSet::CAPACITY;
/// The most things that must be equal on all members.
pub const MAX_KEYS: usize = 4;

/// What a unit has of the things that must be equal; 0 for what is not known.
pub type Keys = [u8; MAX_KEYS];

/// A state of every box, cable and common setting of the plan.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct State {
    /// The boxes.
    pub units: Slots<UnitId, Unit>,
    /// Their ports.
    pub ports: Slots<PortId, Port>,
    /// The plugged cables.
    pub plugged: CableSet,
    /// The common settings as they run.
    pub running: Shared,
    /// The common settings as they are saved.
    pub saved: Shared,
    /// One tick an operation.
    pub now: i32,
}

/// One box.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Unit {
    /// Switched on and up.
    pub powered: bool,
    /// Leads its island.
    pub primary: bool,
    /// Lost a merge and waits for a restart by hand.
    pub waiting: bool,
    /// Its own memory holds the saved common settings as they stand.
    pub copy: bool,
    /// Has the standby's seat; only where the seat is kept.
    pub standby: bool,
    /// Whether it has settings to boot with; a box that is never powered may have none.
    pub bootable: bool,
    /// Tick of its last boot; the smaller has the longer uptime.
    pub booted_at: i32,
    /// The id that it acts on; 0 while it is off.
    pub id: MemberId,
    /// The id that it boots with.
    pub saved_id: MemberId,
    /// The priority that it acts on; 0 while it is off.
    pub priority: Priority,
    /// The priority that it boots with.
    pub saved_priority: Priority,
    /// The priority that counts for the standby's seat; 0 where a new one counts at once, and while it is off.
    pub counts: Priority,
    /// What must be equal on all members, as it runs.
    pub keys: Keys,
    /// The same as it boots with it.
    pub saved_keys: Keys,
    /// Stands alone: it is not in stack mode.
    pub lone: bool,
    /// It boots so.
    pub saved_lone: bool,
}

impl Unit {
    /// A box that is off and has nothing to boot with.
    pub const ABSENT: Self = Self {
        powered: false,
        primary: false,
        waiting: false,
        copy: false,
        standby: false,
        bootable: false,
        booted_at: 0,
        id: MemberId(0),
        saved_id: MemberId(0),
        priority: Priority(0),
        saved_priority: Priority(0),
        counts: Priority(0),
        keys: [0; MAX_KEYS],
        saved_keys: [0; MAX_KEYS],
        lone: false,
        saved_lone: false,
    };
}

/// One port, running and saved, in one byte.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Port(u8);

impl Port {
    const ENABLED: u8 = 1;
    const SIDE: u8 = 2;
    const ACTIVE: u8 = 8;
    const SAVED_ENABLED: u8 = 16;
    const SAVED_SIDE: u8 = 32;

    /// In use.
    #[must_use]
    pub const fn enabled(self) -> bool {
        self.0 & Self::ENABLED != 0
    }

    /// The side that it is bound to.
    #[must_use]
    pub const fn side(self) -> Side {
        Self::decode(self.0 / Self::SIDE)
    }

    /// Whether it is bound and the binding counts.
    #[must_use]
    pub const fn active(self) -> bool {
        self.0 & Self::ACTIVE != 0
    }

    /// In use after a restart.
    #[must_use]
    pub const fn saved_enabled(self) -> bool {
        self.0 & Self::SAVED_ENABLED != 0
    }

    /// The side that it is bound to after a restart.
    #[must_use]
    pub const fn saved_side(self) -> Side {
        Self::decode(self.0 / Self::SAVED_SIDE)
    }

    /// The same port in or out of use.
    #[must_use]
    pub const fn with_enabled(self, enabled: bool) -> Self {
        Self(self.0 & !Self::ENABLED | if enabled { Self::ENABLED } else { 0 })
    }

    /// The same port bound to a side; the binding counts or does not.
    #[must_use]
    pub const fn with_side(self, side: Side, active: bool) -> Self {
        let cleared = self.0 & !(3 * Self::SIDE) & !Self::ACTIVE;
        Self(cleared | (Self::encode(side) * Self::SIDE) | if active { Self::ACTIVE } else { 0 })
    }

    /// The same port in or out of use after a restart.
    #[must_use]
    pub const fn with_saved_enabled(self, enabled: bool) -> Self {
        Self(self.0 & !Self::SAVED_ENABLED | if enabled { Self::SAVED_ENABLED } else { 0 })
    }

    /// The same port bound to a side after a restart.
    #[must_use]
    pub const fn with_saved_side(self, side: Side) -> Self {
        Self(self.0 & !(3 * Self::SAVED_SIDE) | (Self::encode(side) * Self::SAVED_SIDE))
    }

    /// The same port with its binding, if it has one, in force.
    #[must_use]
    pub const fn activated(self) -> Self {
        self.with_side(self.side(), !matches!(self.side(), Side::None))
    }

    /// The port as it comes up after a boot: every saved binding active.
    #[must_use]
    pub const fn booted(self) -> Self {
        self.with_enabled(self.saved_enabled()).with_side(self.saved_side(), false).activated()
    }

    /// The same in a unit that stands alone: no binding is in force.
    #[must_use]
    pub const fn booted_alone(self) -> Self {
        self.with_enabled(self.saved_enabled()).with_side(self.saved_side(), false)
    }

    /// The port of a unit that is off: only the saved part is left.
    #[must_use]
    pub const fn dark(self) -> Self {
        self.with_enabled(false).with_side(Side::None, false)
    }

    /// The port with its running settings saved.
    #[must_use]
    pub const fn stored(self) -> Self {
        self.with_saved_enabled(self.enabled()).with_saved_side(self.side())
    }

    /// The bits in which what two ports have saved differs.
    #[must_use]
    pub const fn saved_unlike(self, other: Self) -> u8 {
        (self.0 ^ other.0) & (Self::SAVED_ENABLED | (3 * Self::SAVED_SIDE))
    }

    /// Whether running and saved settings agree.
    #[must_use]
    pub fn is_stored(self) -> bool {
        self.stored() == self
    }

    /// The whole port in one number, for compact search keys.
    #[must_use]
    pub const fn bits(self) -> u8 {
        self.0
    }

    const fn encode(side: Side) -> u8 {
        match side {
            Side::None => 0,
            Side::West => 1,
            Side::East => 2,
        }
    }

    const fn decode(bits: u8) -> Side {
        match bits & 3 {
            1 => Side::West,
            2 => Side::East,
            _ => Side::None,
        }
    }
}

/// The stack's common settings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Shared {
    /// The pairs that are formed.
    pub pairs: UplinkSet,
    /// Their legs.
    pub legs: LegSet,
    /// The pair that carries the split guard.
    pub guard: Option<UplinkId>,
    /// Who is admitted.
    pub admitted: TicketSet,
}

impl State {
    /// So many boxes and ports, no box on, no cable plugged.
    #[must_use]
    pub fn empty(units: usize, ports: usize) -> Self {
        Self {
            units: Slots::filled(Unit::ABSENT, units),
            ports: Slots::filled(Port(0), ports),
            plugged: CableSet::EMPTY,
            running: Shared::default(),
            saved: Shared::default(),
            now: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_keeps_running_and_saved_apart() {
        let port = Port::default().with_enabled(true).with_side(Side::East, false);
        assert_eq!((port.enabled(), port.side(), port.active()), (true, Side::East, false));
        assert_eq!((port.saved_enabled(), port.saved_side()), (false, Side::None));
        let stored = port.stored().dark();
        assert_eq!((stored.enabled(), stored.side(), stored.active()), (false, Side::None, false));
        let booted = stored.booted();
        assert_eq!((booted.enabled(), booted.side(), booted.active()), (true, Side::East, true));
        assert!(booted.is_stored());
        assert!(!Port::default().activated().active());
    }
}
