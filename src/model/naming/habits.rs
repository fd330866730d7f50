//! What wider habits bring into a plan's documents, as indices: things that must be equal, numbers and serials that a
//! stack may be told of, groups of ports.

use std::collections::BTreeMap;

use super::{Documents, Faults, fault};
use crate::model::document::{Action, Admitted};
use crate::model::names::MemberId;
use crate::model::setting::{Setting, Ticket};
use crate::model::state::{Keys, MAX_KEYS, MAX_TICKETS};
use crate::model::table::{TicketId, UnitId};

/// Reads all of them.
pub(super) fn read(setting: &mut Setting, documents: &Documents<'_>, faults: &mut Faults) {
    if setting.traits.join_keys.len() > MAX_KEYS {
        fault(faults, "/traits/join_keys", format!("more than {MAX_KEYS} things that must be equal"));
        return;
    }
    for (name, state) in [("baseline", documents.baseline), ("target", documents.target)] {
        for (key, unit) in &state.units {
            let running = unit.running.iter().map(|settings| &settings.keys);
            for (key_name, value) in running.chain(unit.saved.iter().map(|settings| &settings.keys)).flatten() {
                value_of(setting, key_name, value, &format!("/{name}/units/{key}"), faults);
            }
        }
        let shared = [&state.shared.running, &state.shared.saved];
        for one in shared.into_iter().flat_map(|settings| settings.admitted.iter().flatten()) {
            add(setting, one.into());
        }
    }
    for (position, action) in documents.actions.iter().enumerate() {
        match action {
            // an unknown key is for the step to be refused
            Action::SetKey { key, value, .. } if setting.traits.join_keys.iter().any(|known| known.name == *key) => {
                value_of(setting, key, value, &format!("/steps/{position}/do"), faults);
            }
            Action::Admit { id, serial, .. } | Action::Forget { id, serial, .. } => {
                if let Some(ticket) = ticket_of(*id, serial.as_deref()) {
                    add(setting, ticket);
                }
            }
            _ => {}
        }
    }
    if setting.tickets.len() >= MAX_TICKETS {
        fault(faults, "/units", format!("{MAX_TICKETS} numbers or serials that the stack is told of, or more"));
    }
    groups(setting, documents, faults);
}

fn value_of(setting: &mut Setting, key: &str, value: &str, pointer: &str, faults: &mut Faults) {
    let Some(position) = setting.traits.join_keys.iter().position(|known| known.name == key) else {
        return fault(faults, pointer, format!("`{key}` is nothing that must be equal on this platform"));
    };
    let Some(values) = setting.keys.get_mut(position) else { return };
    if values.iter().any(|known| known == value) {
        return;
    }
    if values.len() >= usize::from(u8::MAX) {
        return fault(faults, pointer, format!("more than {} values of `{key}`", u8::MAX));
    }
    values.push(value.to_owned());
}

/// Adds a ticket, and for an id its neighbours too, which a person may type by mistake.
fn add(setting: &mut Setting, ticket: Ticket) {
    let near = match &ticket {
        Ticket::Id(MemberId(id)) => [id.checked_sub(1), id.checked_add(1)].into_iter().flatten().collect(),
        Ticket::Serial(_) => Vec::new(),
    };
    let legal: Vec<MemberId> = near.into_iter().map(MemberId).filter(|id| setting.legal_id(*id)).collect();
    for ticket in std::iter::once(ticket).chain(legal.into_iter().map(Ticket::Id)) {
        let known = setting.tickets.iter().any(|known| *known == ticket);
        if !known && setting.tickets.len() < MAX_TICKETS {
            setting.tickets.push(ticket);
        }
    }
}

fn groups(setting: &mut Setting, documents: &Documents<'_>, faults: &mut Faults) {
    for (position, entry) in documents.units.iter().enumerate() {
        let Some(unit) = setting.unit_keys.get(&entry.key).copied() else { continue };
        for group in &entry.port_groups {
            let ports: Vec<_> = group.iter().filter_map(|name| setting.port(unit, name)).collect();
            for port in ports.iter().copied() {
                setting.grouped = true;
                setting.ports[port].group.clone_from(&ports);
            }
        }
        for name in &entry.in_use {
            match setting.port(unit, name) {
                Some(port) => setting.ports[port].in_use = true,
                None => fault(faults, format!("/units/{position}/in_use"), format!("port `{name}` is not listed")),
            }
        }
    }
}

/// What a unit has of the things that must be equal, as indices.
pub(super) fn keys(setting: &Setting, named: &BTreeMap<String, String>) -> Keys {
    let mut keys = [0; MAX_KEYS];
    for ((row, known), slot) in setting.traits.join_keys.iter().zip(&setting.keys).zip(&mut keys) {
        let found = named.get(&row.name).and_then(|value| known.iter().position(|known| known == value));
        *slot = found.map_or(0, |position| position as u8 + 1);
    }
    keys
}

/// The same with names.
pub fn named_keys(setting: &Setting, keys: Keys) -> BTreeMap<String, String> {
    let rows = setting.traits.join_keys.iter().zip(&setting.keys).zip(keys);
    let named = rows.filter_map(|((row, known), value)| {
        let value = usize::from(value).checked_sub(1).and_then(|position| known.get(position))?;
        Some((row.name.clone(), value.clone()))
    });
    named.collect()
}

/// The position of a thing that must be equal, and the number of one of its values.
pub fn key_value(setting: &Setting, key: &str, value: &str) -> Option<(u8, u8)> {
    let position = setting.traits.join_keys.iter().position(|known| known.name == key)?;
    let value = setting.keys.get(position)?.iter().position(|known| known == value)?;
    Some((position as u8, value as u8 + 1))
}

/// The ticket of an entry in a list of the admitted.
pub fn ticket(setting: &Setting, admitted: &Admitted) -> Option<TicketId> {
    let wanted: Ticket = admitted.into();
    find(setting, &wanted)
}

/// The id of a ticket.
pub fn find(setting: &Setting, wanted: &Ticket) -> Option<TicketId> {
    setting.tickets.ids().find(|ticket| setting.tickets[*ticket] == *wanted)
}

/// The ticket that an operation names.
pub fn ticket_of(id: Option<MemberId>, serial: Option<&str>) -> Option<Ticket> {
    id.map(Ticket::Id).or_else(|| serial.map(|serial| Ticket::Serial(serial.to_owned())))
}

/// The ticket of a unit as it stands: by its running id, or by its serial.
pub fn serial_ticket(setting: &Setting, unit: UnitId) -> Option<TicketId> {
    let serial = setting.units[unit].serial.clone()?;
    find(setting, &Ticket::Serial(serial))
}

impl From<&Admitted> for Ticket {
    fn from(admitted: &Admitted) -> Self {
        match admitted {
            Admitted::Id(id) => Self::Id(*id),
            Admitted::Serial(serial) => Self::Serial(serial.clone()),
        }
    }
}

impl From<&Ticket> for Admitted {
    fn from(ticket: &Ticket) -> Self {
        match ticket {
            Ticket::Id(id) => Self::Id(*id),
            Ticket::Serial(serial) => Self::Serial(serial.clone()),
        }
    }
}
