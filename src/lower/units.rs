//! Two layouts -> every box of the plan, with its key and what it is before and after.

use std::collections::BTreeSet;

use super::layout::{Layout, Placed};
use crate::model::PortName;
use crate::model::document::{Status, UnitEntry};

/// Every box of a plan.
pub(super) struct Boxes<'a> {
    /// Sorted by id, then key.
    pub all: Vec<OneBox<'a>>,
}

/// One box: a member before the change, after it, or both.
pub(super) struct OneBox<'a> {
    /// The member's name, or `name@serial` for both boxes of a replacement.
    pub key: String,
    pub passage: Passage<'a>,
    /// Ports that can stack, or that a side or an uplink uses before or after.
    pub ports: BTreeSet<PortName>,
}

/// What a box is before and after the change.
#[derive(Clone, Copy)]
pub(super) enum Passage<'a> {
    Stays(&'a Placed, &'a Placed),
    Joins(&'a Placed),
    Leaves(&'a Placed),
}

/// Whether a member's box is exchanged: both serials are known, and they differ. One that becomes known is
/// documentation, and one that is left out is unchanged.
pub(super) fn is_exchanged(before: Option<&str>, after: Option<&str>) -> bool {
    matches!((before, after), (Some(before), Some(after)) if before != after)
}

/// Whether a member that is there before and after is in another box.
pub(super) fn is_replaced(old: &Placed, new: &Placed) -> bool {
    is_exchanged(old.serial.as_deref(), new.serial.as_deref())
}

impl<'a> Boxes<'a> {
    pub fn new(old: Option<&'a Layout>, new: &'a Layout) -> Self {
        let mut all: Vec<OneBox<'a>> = Vec::new();
        for placed in &new.members {
            match old.and_then(|old| old.member(&placed.name)) {
                Some(before) if is_replaced(before, placed) => {
                    all.push(OneBox::new(serial_key(before), Passage::Leaves(before)));
                    all.push(OneBox::new(serial_key(placed), Passage::Joins(placed)));
                }
                Some(before) => all.push(OneBox::new(placed.name.clone(), Passage::Stays(before, placed))),
                None => all.push(OneBox::new(placed.name.clone(), Passage::Joins(placed))),
            }
        }
        let leaving = old.into_iter().flat_map(|old| &old.members).filter(|placed| new.member(&placed.name).is_none());
        all.extend(leaving.map(|placed| OneBox::new(placed.name.clone(), Passage::Leaves(placed))));
        all.sort_by(|a, b| (a.described().id, &a.key).cmp(&(b.described().id, &b.key)));
        Self { all }
    }

    /// The key of the box that is this member before the change.
    pub fn old_key(&self, name: &str) -> String {
        self.key(name, OneBox::old_member)
    }

    /// The key of the box that is this member after the change.
    pub fn new_key(&self, name: &str) -> String {
        self.key(name, OneBox::new_member)
    }

    fn key(&self, name: &str, at: impl Fn(&OneBox<'a>) -> Option<&'a Placed>) -> String {
        let found = self.all.iter().find(|unit| at(unit).is_some_and(|placed| placed.name == name));
        found.map_or_else(|| name.to_owned(), |unit| unit.key.clone())
    }

    pub fn entries(&self) -> Vec<UnitEntry> {
        self.all.iter().map(OneBox::entry).collect()
    }
}

fn serial_key(placed: &Placed) -> String {
    format!("{}@{}", placed.name, placed.serial.as_deref().unwrap_or(""))
}

impl<'a> OneBox<'a> {
    fn new(key: String, passage: Passage<'a>) -> Self {
        let mut unit = Self { key, passage, ports: BTreeSet::new() };
        let of = |placed: &'a Placed| {
            placed.stacking.iter().chain(&placed.west).chain(&placed.east).chain(&placed.legs).chain(&placed.in_use)
        };
        unit.ports = unit.old_member().into_iter().chain(unit.new_member()).flat_map(of).cloned().collect();
        unit
    }

    /// The member that it is before the change.
    pub fn old_member(&self) -> Option<&'a Placed> {
        match self.passage {
            Passage::Stays(old, _) | Passage::Leaves(old) => Some(old),
            Passage::Joins(_) => None,
        }
    }

    /// The member that it is after the change.
    pub fn new_member(&self) -> Option<&'a Placed> {
        match self.passage {
            Passage::Stays(_, new) | Passage::Joins(new) => Some(new),
            Passage::Leaves(_) => None,
        }
    }

    /// A box is described as it is after the change; one that leaves, as it is before.
    fn described(&self) -> &'a Placed {
        match self.passage {
            Passage::Stays(_, placed) | Passage::Joins(placed) | Passage::Leaves(placed) => placed,
        }
    }

    fn entry(&self) -> UnitEntry {
        let placed = self.described();
        let older = self.old_member().unwrap_or(placed);
        let mut stacking = placed.stacking.clone();
        stacking.extend(older.stacking.iter().cloned());
        stacking.sort();
        stacking.dedup();
        UnitEntry {
            key: self.key.clone(),
            member: placed.name.clone(),
            id: placed.id,
            priority: placed.priority,
            role: placed.role,
            serial: placed.serial.clone(),
            mac: placed.mac.clone(),
            model: placed.model.clone(),
            stacking_ports: stacking,
            port_groups: Vec::new(),
            in_use: Vec::new(),
            status: match self.passage {
                Passage::Stays(..) => Status::Live,
                Passage::Joins(_) => Status::Joining,
                Passage::Leaves(_) => Status::Leaving,
            },
        }
    }
}
