//! What is meant for one place, read and typed at another: names stand for whoever has the same number there.

use crate::model::derive::{Islands, primaries};
use crate::model::document::Fact;
use crate::model::facts::Spot;
use crate::model::naming::{port_of, unit_of as unit_by_key};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{PortId, UnitId, UnitSet};

/// A place at which somebody stands by mistake.
pub struct Elsewhere<'a> {
    setting: &'a Setting,
    /// What is so there.
    found: &'a Situation,
    /// What was meant to be so.
    meant: &'a Situation,
    island: UnitSet,
    stack: bool,
}

impl<'a> Elsewhere<'a> {
    /// A person at a place. `meant`: the situation that the step was written for.
    #[must_use]
    pub fn new(setting: &'a Setting, found: &'a Situation, meant: &'a Situation, at: Spot) -> Self {
        let incumbent = found.incumbent(setting);
        let island = match at {
            Spot::Hands => UnitSet::EMPTY,
            Spot::Stack if primaries(&found.state, incumbent).is_empty() => UnitSet::EMPTY,
            Spot::Stack => incumbent,
            Spot::Console(unit) if found.state.units[unit].powered => Islands::of(setting, &found.state).around(unit),
            Spot::Console(_) => UnitSet::EMPTY,
        };
        Self { setting, found, meant, island, stack: island == incumbent && !island.is_empty() }
    }

    fn unit(&self, meant: UnitId) -> Option<UnitId> {
        let row = &self.meant.state.units[meant];
        self.island.iter().find(|unit| row.powered && self.found.state.units[*unit].id == row.id)
    }

    fn port(&self, meant: PortId) -> Option<PortId> {
        let unit = self.unit(self.setting.unit_of(meant))?;
        self.setting.port(unit, &self.setting.ports[meant].name)
    }

    /// The operation as it happens there; none if it is refused.
    #[must_use]
    pub fn operation(&self, meant: Operation) -> Option<Operation> {
        Some(match meant {
            Operation::Restart(unit) => Operation::Restart(self.unit(unit)?),
            Operation::Wipe(unit) => Operation::Wipe(self.unit(unit)?),
            Operation::AssignId(unit, id) => Operation::AssignId(self.unit(unit)?, id),
            Operation::SetPriority(unit, priority) => Operation::SetPriority(self.unit(unit)?, priority),
            Operation::Activate(unit) => Operation::Activate(self.unit(unit)?),
            Operation::Save(unit) => Operation::Save(self.unit(unit)?),
            Operation::SetMode(unit, mode) => Operation::SetMode(self.unit(unit)?, mode),
            Operation::SetKey(unit, key, value) => Operation::SetKey(self.unit(unit)?, key, value),
            Operation::HandOver(unit) if self.stack => Operation::HandOver(self.unit(unit)?),
            Operation::Admit(..) | Operation::Forget(..) if self.stack => meant,
            Operation::HandOver(_) | Operation::Admit(..) | Operation::Forget(..) => return None,
            Operation::DisablePort(port) => Operation::DisablePort(self.port(port)?),
            Operation::EnablePort(port) => Operation::EnablePort(self.port(port)?),
            Operation::BindPort(port, side) => Operation::BindPort(self.port(port)?, side),
            Operation::ReleasePort(port) => Operation::ReleasePort(self.port(port)?),
            Operation::FormUplink(..)
            | Operation::DropUplink(_)
            | Operation::AddLeg(_)
            | Operation::DropLeg(_)
            | Operation::GuardSplit(_)
            | Operation::UnguardSplit(_)
                if !self.stack =>
            {
                return None;
            }
            // done by hands, which stand where they stand
            Operation::PowerOn(_)
            | Operation::PowerOff(_)
            | Operation::Connect(_)
            | Operation::Disconnect(_)
            | Operation::FormUplink(..)
            | Operation::DropUplink(_)
            | Operation::AddLeg(_)
            | Operation::DropLeg(_)
            | Operation::GuardSplit(_)
            | Operation::UnguardSplit(_) => meant,
        })
    }

    /// The fact as it is read there; none if nobody there is meant.
    #[must_use]
    pub fn fact(&self, meant: &Fact) -> Option<Fact> {
        let key = |key: &str| {
            let unit = self.unit(unit_by_key(self.setting, key).ok()?)?;
            Some(self.setting.units[unit].key.clone())
        };
        let end = |end: &str| Some(self.setting.end_name(self.port(port_of(self.setting, end).ok()?)?));
        let mut fact = meant.clone();
        match &mut fact {
            Fact::Unit { unit, .. } | Fact::Port { unit, .. } | Fact::Saved { unit, .. } => *unit = key(unit)?,
            Fact::Neighbour { end: near, .. } => *near = end(near)?,
            Fact::Link { ends: [one, other], .. } => (*one, *other) = (end(one)?, end(other)?),
            Fact::Here { .. }
            | Fact::Cable { .. }
            | Fact::Plug { .. }
            | Fact::Uplink { .. }
            | Fact::Guard { .. }
            | Fact::Admitted { .. }
            | Fact::Ask { .. } => {}
        }
        Some(fact)
    }
}
