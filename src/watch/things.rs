//! An operation of the change -> what a person would call the one thing that it belongs to.
//!
//! Saves and activations serve whatever is under way and belong to nothing of their own.

use crate::model::derive::{Link, link};
use crate::model::document::Side;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, PortId, UnitId, UplinkId};
use crate::model::traits::IdEffect;

use super::trace::Traced;

/// What a person would call one thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Thing {
    /// A unit comes in.
    Join(UnitId),
    /// A unit goes.
    TakeOut(UnitId),
    /// The box of a member goes and another one takes its place; the new box.
    Exchange(UnitId),
    /// A live unit gets another number.
    Number(UnitId),
    /// Live units get other priorities.
    Weights,
    /// Another unit shall lead.
    Lead,
    /// A link between two units that are there comes, goes or moves; the lower unit first.
    Link(UnitId, UnitId),
    /// A cable of neither state comes.
    LaySpare(CableId),
    /// And goes again.
    TakeSpare(CableId),
    /// An uplink pair is formed, dissolved or gets other legs.
    Pair(UplinkId),
    /// The split guard comes, moves or goes.
    Guard,
    /// A live unit is switched off for a while.
    Away(UnitId),
    /// It comes back.
    Back(UnitId),
    /// A live unit restarts to act on what it has saved.
    Restart(UnitId),
    /// Ports of a unit that no cable of the change is for.
    Ports(UnitId),
}

/// What an operation belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// To this.
    Of(Thing),
    /// To whatever is under way.
    Same,
    /// To whatever comes next.
    Next,
}

/// What each operation of the change belongs to.
#[must_use]
pub fn parts(setting: &Setting, change: &[Traced]) -> Vec<Part> {
    let mut spare_up = false;
    let mut parts = Vec::new();
    for one in change {
        let known = Known { setting, before: &one.before, spare_up };
        parts.push(match known.part(one.operation) {
            Part::Of(thing) => Part::Of(known.exchange(thing)),
            other => other,
        });
        spare_up |= known.spare().is_some_and(|cable| link(setting, &one.after.state, cable) == Link::Stack);
    }
    parts
}

/// What is known when an operation is done.
struct Known<'a> {
    setting: &'a Setting,
    before: &'a Situation,
    /// The spare cable has carried: what is done to it now takes it out.
    spare_up: bool,
}

impl Known<'_> {
    fn part(&self, operation: Operation) -> Part {
        let pair_of_leg = |leg| Thing::Pair(self.setting.legs[leg].uplink);
        Part::Of(match operation {
            Operation::Activate(_) | Operation::Save(_) => return Part::Same,
            Operation::DisablePort(port) | Operation::EnablePort(port) if self.is_aside(port) => {
                return if matches!(operation, Operation::DisablePort(_)) { Part::Next } else { Part::Same };
            }
            Operation::DisablePort(port)
            | Operation::EnablePort(port)
            | Operation::BindPort(port, _)
            | Operation::ReleasePort(port) => self.port(port),
            Operation::Connect(cable) | Operation::Disconnect(cable) => self.cable(cable),
            Operation::FormUplink(pair, _) | Operation::DropUplink(pair) => Thing::Pair(pair),
            Operation::AddLeg(leg) | Operation::DropLeg(leg) => pair_of_leg(leg),
            Operation::GuardSplit(pair) | Operation::UnguardSplit(pair) if self.is_made_or_dropped(pair) => {
                Thing::Pair(pair)
            }
            Operation::GuardSplit(_) | Operation::UnguardSplit(_) => Thing::Guard,
            Operation::PowerOn(unit) if self.is_new(unit) => Thing::Join(unit),
            Operation::PowerOn(unit) => Thing::Back(unit),
            Operation::PowerOff(unit) if self.setting.leaving.contains(unit) => Thing::TakeOut(unit),
            Operation::PowerOff(unit) => Thing::Away(unit),
            Operation::Wipe(unit) => Thing::Join(unit),
            Operation::AssignId(unit, _) if self.is_new(unit) => Thing::Join(unit),
            Operation::HandOver(_) => Thing::Lead,
            Operation::SetMode(unit, _) | Operation::SetKey(unit, ..) if !self.is_new(unit) => Thing::Restart(unit),
            Operation::SetMode(unit, _) | Operation::SetKey(unit, ..) | Operation::Admit(unit, _) => Thing::Join(unit),
            Operation::Forget(unit, _) => Thing::TakeOut(unit),
            Operation::AssignId(unit, _) => Thing::Number(unit),
            Operation::SetPriority(unit, _) if self.is_new(unit) => Thing::Join(unit),
            Operation::SetPriority(..) if self.lead_moves() => Thing::Lead,
            Operation::SetPriority(..) => Thing::Weights,
            Operation::Restart(unit) => self.restart(unit),
        })
    }

    /// Both boxes of a member are one thing: their cables change over one by one.
    fn exchange(&self, thing: Thing) -> Thing {
        match thing {
            Thing::Join(unit) | Thing::TakeOut(unit) if self.setting.units[unit].siblings.len() > 1 => {
                let new = self.setting.units[unit].siblings.and(self.setting.joining).first();
                Thing::Exchange(new.unwrap_or(unit))
            }
            other => other,
        }
    }

    fn is_new(&self, unit: UnitId) -> bool {
        self.setting.joining.contains(unit) && !self.before.memory.live.contains(unit)
    }

    fn lead_moves(&self) -> bool {
        self.before.memory.leader.is_some_and(|leader| !self.setting.target.units[leader].primary)
    }

    fn restart(&self, unit: UnitId) -> Thing {
        let row = &self.before.state.units[unit];
        let late_id = self.setting.traits.member_id.takes_effect == IdEffect::AfterRestart;
        if self.is_new(unit) {
            Thing::Join(unit)
        } else if late_id && row.id != row.saved_id {
            Thing::Number(unit)
        } else if row.waiting || !self.before.incumbent(self.setting).contains(unit) {
            Thing::Back(unit)
        } else if row.primary && self.lead_moves() {
            Thing::Lead
        } else {
            Thing::Restart(unit)
        }
    }

    /// The guard comes and goes with a pair that is formed or dissolved.
    fn is_made_or_dropped(&self, pair: UplinkId) -> bool {
        self.setting.baseline.running.pairs.contains(pair) != self.setting.target.running.pairs.contains(pair)
    }

    /// A leg's port that only stands aside while its unit is apart.
    fn is_aside(&self, port: PortId) -> bool {
        let (is, shall) = (self.setting.baseline.ports[port], self.setting.target.ports[port]);
        let carries = self.setting.ports[port].legs.meets(self.before.state.running.legs);
        carries && is == shall && is.side() == Side::None && self.setting.may_split.contains(self.setting.unit_of(port))
    }

    fn is_moved(&self, cable: CableId) -> bool {
        let (before, after) = (&self.setting.baseline.plugged, &self.setting.target.plugged);
        before.contains(cable) != after.contains(cable)
    }

    fn is_going(&self, cable: CableId) -> bool {
        self.setting.baseline.plugged.contains(cable) && !self.setting.target.plugged.contains(cable)
    }

    /// The cable of neither state that a route may plug.
    fn spare(&self) -> Option<CableId> {
        let (before, after) = (&self.setting.baseline.plugged, &self.setting.target.plugged);
        self.setting.cables.ids().find(|cable| {
            let known = before.contains(*cable) || after.contains(*cable);
            !known && matches!(self.setting.cables[*cable], CableRow::Units(..))
        })
    }

    fn port(&self, port: PortId) -> Thing {
        let cables = &self.setting.ports[port].cables;
        let plugged = |cable: &&CableId| self.before.state.plugged.contains(**cable);
        let moved = || cables.iter().filter(|cable| self.is_moved(**cable));
        let between = |cable: &&CableId| matches!(self.setting.cables[**cable], CableRow::Units(..));
        let goes = moved().filter(between).filter(plugged).find(|cable| self.is_going(**cable));
        let comes = || moved().filter(between).find(|cable| !self.is_going(**cable));
        let spare = || cables.iter().find(|cable| Some(**cable) == self.spare());
        let any = || moved().find(between);
        let far = || moved().next();
        if let Some(cable) = goes.or_else(comes).or_else(spare).or_else(any).or_else(far) {
            return self.cable(*cable);
        }
        let unit = self.setting.unit_of(port);
        let leg = self.setting.ports[port].legs.iter().find(|leg| self.leg_changes(*leg));
        match leg {
            _ if self.is_new(unit) => Thing::Join(unit),
            _ if self.setting.leaving.contains(unit) => Thing::TakeOut(unit),
            Some(leg) => Thing::Pair(self.setting.legs[leg].uplink),
            None => Thing::Ports(unit),
        }
    }

    fn leg_changes(&self, leg: crate::model::table::LegId) -> bool {
        self.setting.baseline.running.legs.contains(leg) != self.setting.target.running.legs.contains(leg)
    }

    fn cable(&self, cable: CableId) -> Thing {
        match self.setting.cables[cable] {
            CableRow::Far(pair, port) => self.far_cable(pair, port),
            CableRow::Units(..) if Some(cable) == self.spare() && self.spare_up => Thing::TakeSpare(cable),
            CableRow::Units(..) if Some(cable) == self.spare() => Thing::LaySpare(cable),
            CableRow::Units(a, b) => self.cable_between(cable, a, b),
        }
    }

    /// A leg that only changes its box goes with the box.
    fn far_cable(&self, pair: UplinkId, port: PortId) -> Thing {
        let unit = self.setting.unit_of(port);
        let changes = self.setting.ports[port].legs.iter().any(|leg| self.leg_changes(leg));
        if changes {
            Thing::Pair(pair)
        } else if self.setting.leaving.contains(unit) {
            Thing::TakeOut(unit)
        } else if self.setting.joining.contains(unit) {
            Thing::Join(unit)
        } else {
            Thing::Pair(pair)
        }
    }

    fn cable_between(&self, cable: CableId, a: PortId, b: PortId) -> Thing {
        let units = [self.setting.unit_of(a), self.setting.unit_of(b)];
        if self.is_going(cable) {
            let leaver = units.into_iter().find(|unit| self.setting.leaving.contains(*unit));
            if let Some(unit) = leaver {
                return Thing::TakeOut(unit);
            }
            let waits = [a, b].into_iter().find_map(|port| self.newcomer_at(port));
            if let Some(unit) = waits {
                return Thing::Join(unit);
            }
        }
        let new = units.into_iter().find(|unit| self.is_new(*unit));
        let [one, other] = units;
        new.map_or(Thing::Link(one.min(other), one.max(other)), Thing::Join)
    }

    /// The newcomer that a port waits for.
    fn newcomer_at(&self, port: PortId) -> Option<UnitId> {
        let coming = self.setting.ports[port].cables.iter().filter(|cable| !self.is_going(**cable));
        let ends = coming.filter(|cable| self.is_moved(**cable)).flat_map(|cable| {
            let ends: Vec<PortId> = self.setting.cables[*cable].unit_ends().collect();
            ends
        });
        ends.map(|end| self.setting.unit_of(end)).find(|unit| self.is_new(*unit))
    }
}
