//! What stays the same through a plan: traits, boxes, ports, cables and pairs, as indices.
//!
//! A [`Setting`] is made from named documents (see `naming`) and gives every id its meaning.

use std::collections::BTreeMap;

use super::document::{Role, SaveWhen, Status};
use super::names::{MemberId, Minutes, PortName, Priority};
use super::state::State;
use super::table::{CableId, LegId, LegSet, PortId, Table, TicketId, UnitId, UnitSet, UplinkId, UplinkSet};
use super::traits::{Estimate, FactoryPorts, Traits};

/// What stays the same through a plan.
#[derive(Clone, Debug)]
pub struct Setting {
    /// The stack's name.
    pub stack: String,
    /// The platform's traits.
    pub traits: Traits,
    /// When the live side must be saved.
    pub save: SaveWhen,
    /// Whether cables that are in neither state may be plugged for a while.
    pub temporary_cables: bool,
    /// `save-unsaved:` was given for this stack.
    pub save_unsaved: bool,
    /// Every box.
    pub units: Table<UnitId, UnitRow>,
    /// Every listed port.
    pub ports: Table<PortId, PortRow>,
    /// The unit of each port, close together: nothing is asked as often.
    pub hosts: Table<PortId, UnitId>,
    /// Every cable that a state or a step knows.
    pub cables: Table<CableId, CableRow>,
    /// Every uplink pair.
    pub uplinks: Table<UplinkId, UplinkRow>,
    /// Every leg of every pair.
    pub legs: Table<LegId, LegRow>,
    /// What the things that must be equal are known to be, in the order of the platform's list.
    pub keys: Vec<Vec<String>>,
    /// Numbers or serials of newcomers that the stack may be told of.
    pub tickets: Table<TicketId, Ticket>,
    /// Whether any port belongs to a group.
    pub grouped: bool,
    /// The state before the change.
    pub baseline: State,
    /// The state after it.
    pub target: State,
    /// Pairs that are in both.
    pub kept_pairs: UplinkSet,
    /// Units that the baseline has in the stack and the target has not.
    pub leaving: UnitSet,
    /// Units that the baseline has not.
    pub joining: UnitSet,
    /// Units that have failed and are never powered on.
    pub dead: UnitSet,
    /// Units under `restart:`.
    pub may_restart: UnitSet,
    /// Units under `new-primary:`.
    pub may_lead: UnitSet,
    /// Units under `split:`.
    pub may_split: UnitSet,
    /// Units that were live before the baseline: those of a plan that is gone back on.
    pub was_live: UnitSet,
    /// Units by their key.
    pub unit_keys: BTreeMap<String, UnitId>,
}

/// What a box is.
#[derive(Clone, Debug, Hash)]
pub struct UnitRow {
    /// The member's name, or `name@serial`.
    pub key: String,
    /// The member.
    pub member: String,
    /// All boxes of that member.
    pub siblings: UnitSet,
    /// Role in the target.
    pub role: Role,
    /// The serial on its label.
    pub serial: Option<String>,
    /// Its MAC address.
    pub mac: Option<[u8; 6]>,
    /// Its MAC address as written.
    pub mac_text: Option<String>,
    /// Its hardware model.
    pub model: Option<String>,
    /// What it is in the baseline.
    pub status: Status,
    /// Its ports in natural order.
    pub ports: Vec<PortId>,
}

/// What a port is.
#[derive(Clone, Debug, Hash)]
pub struct PortRow {
    /// Its box.
    pub unit: UnitId,
    /// Its name on the front.
    pub name: PortName,
    /// Whether it can stack.
    pub stacking: bool,
    /// Cables that one end of could be in it.
    pub cables: Vec<CableId>,
    /// Legs that run over it.
    pub legs: LegSet,
    /// The ports that change to stacking together with it, itself among them; none where it is in no group.
    pub group: Vec<PortId>,
    /// Carries something else of the intent's.
    pub in_use: bool,
}

/// By what a newcomer is admitted.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ticket {
    /// A member id.
    Id(MemberId),
    /// A serial.
    Serial(String),
}

/// The two ends of a cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CableRow {
    /// Between two units; the lower port first.
    Units(PortId, PortId),
    /// Between a unit and the equipment at the far end of a pair.
    Far(UplinkId, PortId),
}

impl CableRow {
    /// Its unit ends.
    pub fn unit_ends(self) -> impl Iterator<Item = PortId> {
        let (first, second) = match self {
            Self::Units(a, b) => (a, Some(b)),
            Self::Far(_, port) => (port, None),
        };
        std::iter::once(first).chain(second)
    }
}

/// An uplink pair.
#[derive(Clone, Debug, Hash)]
pub struct UplinkRow {
    /// Its name.
    pub name: String,
    /// Its legs.
    pub legs: LegSet,
}

/// A leg of an uplink pair.
#[derive(Clone, Debug, Hash)]
pub struct LegRow {
    /// The pair.
    pub uplink: UplinkId,
    /// `member:port`.
    pub name: String,
    /// The port on each box of the member.
    pub ports: Vec<PortId>,
}

impl Setting {
    /// The unit of a port.
    #[must_use]
    pub fn unit_of(&self, port: PortId) -> UnitId {
        self.hosts[port]
    }

    /// `unit:port`.
    #[must_use]
    pub fn end_name(&self, port: PortId) -> String {
        let row = &self.ports[port];
        format!("{}:{}", self.units[row.unit].key, row.name)
    }

    /// The two ends of a cable as the plan writes them.
    #[must_use]
    pub fn cable_names(&self, cable: CableId) -> [String; 2] {
        match self.cables[cable] {
            CableRow::Units(a, b) => [self.end_name(a), self.end_name(b)],
            CableRow::Far(uplink, port) => [format!("far:{}", self.uplinks[uplink].name), self.end_name(port)],
        }
    }

    /// The keys of units in order.
    #[must_use]
    pub fn keys(&self, units: UnitSet) -> Vec<String> {
        units.iter().map(|unit| self.units[unit].key.clone()).collect()
    }

    /// The cable between two ports, if one is known.
    #[must_use]
    pub fn cable_between(&self, one: PortId, other: PortId) -> Option<CableId> {
        let wanted = CableRow::Units(one.min(other), one.max(other));
        self.ports[one].cables.iter().copied().find(|cable| self.cables[*cable] == wanted)
    }

    /// The port of this name on a unit.
    #[must_use]
    pub fn port(&self, unit: UnitId, name: &PortName) -> Option<PortId> {
        self.units[unit].ports.iter().copied().find(|port| self.ports[*port].name == *name)
    }

    /// The leg of this name in a pair.
    #[must_use]
    pub fn leg(&self, uplink: UplinkId, name: &str) -> Option<LegId> {
        self.uplinks[uplink].legs.iter().find(|leg| self.legs[*leg].name == name)
    }

    /// The pair of this name.
    #[must_use]
    pub fn uplink(&self, name: &str) -> Option<UplinkId> {
        self.uplinks.ids().find(|uplink| self.uplinks[*uplink].name == name)
    }

    /// All units.
    #[must_use]
    pub fn all_units(&self) -> UnitSet {
        UnitSet::up_to(self.units.len())
    }

    /// Whether ports are in use out of the box.
    #[must_use]
    pub fn factory_enabled(&self) -> bool {
        self.traits.factory_ports == FactoryPorts::Enabled
    }

    /// Whether an id is legal.
    #[must_use]
    pub fn legal_id(&self, id: MemberId) -> bool {
        let (low, high) = self.traits.member_id.range;
        (low..=high).contains(&id)
    }

    /// Whether a priority is legal.
    #[must_use]
    pub fn legal_priority(&self, priority: Priority) -> bool {
        let (low, high) = self.traits.priority.range;
        (low..=high).contains(&priority)
    }

    /// In a stack that does not exist yet, the unit that everything else joins.
    #[must_use]
    pub fn founder(&self) -> Option<UnitId> {
        let nobody_before = self.units.iter().all(|unit| unit.status == Status::Joining);
        let found = |unit: &UnitId| self.units[*unit].role == Role::Primary;
        if nobody_before { self.units.ids().find(found) } else { None }
    }

    /// What a way back is about: the baseline again, the joining units out of it. Those that left come in again, and
    /// count as soon as they are in.
    #[must_use]
    pub fn going_back(&self) -> Self {
        let (leaving, joining) = (self.joining, self.leaving);
        Self { leaving, joining, save: SaveWhen::BeforeLink, target: self.baseline.clone(), ..self.clone() }
    }

    /// Whether the target is compared with a unit's settings at the end.
    #[must_use]
    pub fn stays(&self, unit: UnitId) -> bool {
        !self.leaving.contains(unit)
    }
}

/// Which of the three points of an estimate is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Point {
    /// If all goes well.
    Best,
    /// As it usually goes.
    Likely,
    /// If much goes wrong.
    Worst,
}

impl Estimate {
    /// One of the three points, in minutes.
    #[must_use]
    pub fn at(&self, point: Point) -> Minutes {
        match point {
            Point::Best => self.best.unwrap_or(self.likely),
            Point::Likely => self.likely,
            Point::Worst => self.worst,
        }
    }
}
