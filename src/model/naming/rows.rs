//! The lists of a plan -> the tables of a [`Setting`]: boxes, ports, pairs, cables, consents.

use std::collections::{BTreeMap, BTreeSet};

use super::find::{parse_mac, port_of};
use super::legal_name;
use super::{Documents, Faults, fault};
use crate::model::document::{Action, ChangeTerms, SharedPair, Status, UnitEntry};
use crate::model::names::PortName;
use crate::model::setting::{CableRow, LegRow, PortRow, Setting, UnitRow, UplinkRow};
use crate::model::state::{MAX_CABLES, MAX_LEGS, MAX_PORTS, MAX_UNITS, MAX_UPLINKS, State};
use crate::model::table::{Id, LegSet, PortId, Table, UnitId, UnitSet, UplinkId};

pub(super) fn empty(documents: &Documents<'_>) -> Setting {
    Setting {
        stack: documents.stack.to_owned(),
        traits: documents.traits.clone(),
        save: documents.change.save,
        temporary_cables: documents.change.temporary_cables,
        save_unsaved: false,
        units: Table::new(),
        ports: Table::new(),
        hosts: Table::new(),
        cables: Table::new(),
        uplinks: Table::new(),
        legs: Table::new(),
        keys: vec![Vec::new(); documents.traits.join_keys.len()],
        tickets: Table::new(),
        grouped: false,
        baseline: State::empty(0, 0),
        target: State::empty(0, 0),
        kept_pairs: Default::default(),
        leaving: UnitSet::EMPTY,
        joining: UnitSet::EMPTY,
        dead: UnitSet::EMPTY,
        may_restart: UnitSet::EMPTY,
        may_lead: UnitSet::EMPTY,
        may_split: UnitSet::EMPTY,
        was_live: UnitSet::EMPTY,
        unit_keys: BTreeMap::new(),
    }
}

pub(super) fn read_units(setting: &mut Setting, documents: &Documents<'_>, faults: &mut Faults) {
    for (position, entry) in documents.units.iter().enumerate() {
        let pointer = format!("/units/{position}");
        let mac = entry.mac.as_deref().and_then(parse_mac);
        if entry.mac.is_some() && mac.is_none() {
            fault(faults, format!("{pointer}/mac"), "not a MAC address: six pairs of hex digits are");
        }
        let (name, serial) = entry.key.split_once('@').unwrap_or((&entry.key, "0"));
        if !(legal_name(name) && legal_name(serial) && name == entry.member) {
            fault(faults, format!("{pointer}/key"), "not a key: the member's name, or that and `@serial`, is");
        }
        if setting.unit_keys.contains_key(&entry.key) {
            fault(faults, format!("{pointer}/key"), format!("unit `{}` stands here twice", entry.key));
            continue;
        }
        if setting.units.len() >= MAX_UNITS {
            fault(faults, pointer, format!("more than {MAX_UNITS} units"));
            return;
        }
        let unit = setting.units.push(UnitRow {
            key: entry.key.clone(),
            member: entry.member.clone(),
            siblings: UnitSet::EMPTY,
            role: entry.role,
            serial: entry.serial.clone(),
            mac,
            mac_text: entry.mac.clone(),
            model: entry.model.clone(),
            status: entry.status,
            ports: Vec::new(),
        });
        setting.unit_keys.insert(entry.key.clone(), unit);
        read_ports(setting, unit, entry, documents);
        match entry.status {
            Status::Live => {}
            Status::Joining => setting.joining.insert(unit),
            Status::Leaving => setting.leaving.insert(unit),
        }
    }
    for unit in setting.units.ids() {
        let siblings = members(setting, &setting.units[unit].member);
        setting.units[unit].siblings = siblings;
    }
}

fn members(setting: &Setting, member: &str) -> UnitSet {
    setting.units.ids().filter(|unit| setting.units[*unit].member == member).collect()
}

fn read_ports(setting: &mut Setting, unit: UnitId, entry: &UnitEntry, documents: &Documents<'_>) {
    let mut names: BTreeSet<PortName> = entry.stacking_ports.iter().cloned().collect();
    for state in [documents.baseline, documents.target] {
        if let Some(found) = state.units.get(&entry.key) {
            names.extend(found.running.iter().flat_map(|settings| settings.ports.keys().cloned()));
            names.extend(found.saved.iter().flat_map(|settings| settings.ports.keys().cloned()));
        }
    }
    for name in names {
        if setting.ports.len() >= MAX_PORTS {
            return;
        }
        let stacking = entry.stacking_ports.contains(&name);
        let port = setting.ports.push(PortRow {
            unit,
            name,
            stacking,
            cables: Vec::new(),
            legs: LegSet::EMPTY,
            group: Vec::new(),
            in_use: false,
        });
        setting.hosts.push(unit);
        setting.units[unit].ports.push(port);
    }
}

pub(super) fn read_pairs(setting: &mut Setting, shared: &SharedPair, pointer: &str, faults: &mut Faults) {
    for (part, settings) in [("running", &shared.running), ("saved", &shared.saved)] {
        for (name, legs) in &settings.uplinks {
            let uplink = uplink_row(setting, name, pointer, faults);
            for leg in legs {
                read_leg(setting, uplink, leg, &format!("{pointer}/{part}/uplinks/{name}"), faults);
            }
        }
    }
}

fn uplink_row(setting: &mut Setting, name: &str, pointer: &str, faults: &mut Faults) -> UplinkId {
    if let Some(known) = setting.uplink(name) {
        return known;
    }
    if setting.uplinks.len() + 1 >= MAX_UPLINKS {
        fault(faults, pointer, format!("more than {MAX_UPLINKS} uplink pairs"));
        return setting.uplinks.ids().next().unwrap_or_else(|| Id::at(0));
    }
    setting.uplinks.push(UplinkRow { name: name.to_owned(), legs: LegSet::EMPTY })
}

fn read_leg(setting: &mut Setting, uplink: UplinkId, leg: &str, pointer: &str, faults: &mut Faults) {
    if setting.leg(uplink, leg).is_some() {
        return;
    }
    let ports: Vec<PortId> = leg.rsplit_once(':').map_or_else(Vec::new, |(member, port)| {
        let units = members(setting, member);
        units.iter().filter_map(|unit| setting.port(unit, &PortName::new(port))).collect()
    });
    if ports.is_empty() {
        fault(faults, pointer, format!("leg `{leg}` is no listed `member:port`"));
        return;
    }
    if setting.legs.len() + 1 >= MAX_LEGS {
        fault(faults, pointer, format!("more than {MAX_LEGS} legs"));
        return;
    }
    let id = setting.legs.push(LegRow { uplink, name: leg.to_owned(), ports: ports.clone() });
    setting.uplinks[uplink].legs.insert(id);
    for port in ports {
        setting.ports[port].legs.insert(id);
    }
}

pub(super) fn read_cable(setting: &mut Setting, ends: &[String; 2], pointer: &str, faults: &mut Faults) {
    match cable_row(setting, ends) {
        Ok(row) => add_cable(setting, row),
        Err(text) => fault(faults, pointer, text),
    }
}

/// Reads the two ends of a cable: a port each, or one port and `far:<uplink>`.
fn cable_row(setting: &mut Setting, ends: &[String; 2]) -> Result<CableRow, String> {
    let [one, other] = ends;
    if let Some(name) = one.strip_prefix("far:").or_else(|| other.strip_prefix("far:")) {
        let unit_end = if one.starts_with("far:") { other } else { one };
        let port = port_of(setting, unit_end)?;
        let uplink = setting.uplink(name).ok_or_else(|| format!("`far:{name}` names no uplink pair of this plan"))?;
        return Ok(CableRow::Far(uplink, port));
    }
    let (a, b) = (port_of(setting, one)?, port_of(setting, other)?);
    if a == b {
        return Err(format!("both ends of the cable are `{one}`"));
    }
    Ok(CableRow::Units(a.min(b), a.max(b)))
}

fn add_cable(setting: &mut Setting, row: CableRow) {
    let known = |setting: &Setting| row.unit_ends().next().map(|port| setting.ports[port].cables.clone());
    if known(setting).is_some_and(|cables| cables.iter().any(|cable| setting.cables[*cable] == row)) {
        return;
    }
    if setting.cables.len() >= MAX_CABLES {
        return;
    }
    let id = setting.cables.push(row);
    for port in row.unit_ends() {
        setting.ports[port].cables.push(id);
    }
}

pub(super) fn read_action(setting: &mut Setting, action: &Action, pointer: &str, faults: &mut Faults) {
    let (uplink, legs): (&String, &[String]) = match action {
        Action::ConnectCable { ends } | Action::DisconnectCable { ends } => {
            return read_cable(setting, ends, &format!("{pointer}/ends"), faults);
        }
        Action::FormUplink { uplink, legs } => (uplink, legs),
        Action::AddLeg { uplink, leg } | Action::DropLeg { uplink, leg } => (uplink, std::slice::from_ref(leg)),
        Action::DropUplink { uplink } | Action::GuardSplit { uplink } | Action::UnguardSplit { uplink } => {
            (uplink, &[])
        }
        Action::PowerOn { .. }
        | Action::PowerOff { .. }
        | Action::Restart { .. }
        | Action::Wipe { .. }
        | Action::AssignId { .. }
        | Action::SetPriority { .. }
        | Action::DisablePort { .. }
        | Action::EnablePort { .. }
        | Action::BindPort { .. }
        | Action::ReleasePort { .. }
        | Action::Activate { .. }
        | Action::Save { .. }
        | Action::HandOver { .. }
        | Action::SetMode { .. }
        | Action::SetKey { .. }
        | Action::Admit { .. }
        | Action::Forget { .. }
        | Action::Await { .. }
        | Action::Expect { .. } => return,
    };
    let row = uplink_row(setting, uplink, pointer, faults);
    for leg in legs {
        read_leg(setting, row, leg, pointer, faults);
    }
}

pub(super) fn read_consents(setting: &mut Setting, change: &ChangeTerms, faults: &mut Faults) {
    for (position, consent) in change.accept.iter().enumerate() {
        let pointer = format!("/change/accept/{position}");
        let (kind, name) = consent.split_once(':').unwrap_or((consent, ""));
        let boxes = members(setting, name);
        let unknown = boxes.is_empty() && kind != "save-unsaved";
        match kind {
            _ if unknown => fault(faults, pointer, format!("`{consent}` names no member of this plan")),
            "restart" => setting.may_restart = setting.may_restart.or(boxes),
            "new-primary" => setting.may_lead = setting.may_lead.or(boxes),
            "split" => setting.may_split = setting.may_split.or(boxes),
            "save-unsaved" if name == setting.stack => setting.save_unsaved = true,
            "save-unsaved" => {
                fault(faults, pointer, format!("`{consent}` does not name the stack `{}`", setting.stack))
            }
            _ => fault(
                faults,
                pointer,
                format!("`{consent}` is no consent: restart:, new-primary:, split: and save-unsaved: are"),
            ),
        }
    }
    for (position, name) in change.dead.iter().enumerate() {
        let boxes = members(setting, name).minus(setting.joining);
        if boxes.is_empty() {
            fault(faults, format!("/change/dead/{position}"), format!("`{name}` is no member of the baseline"));
        }
        setting.dead = setting.dead.or(boxes);
    }
}

pub(super) fn check_size(setting: &Setting, faults: &mut Faults) {
    for (what, count, most) in [("ports", setting.ports.len(), MAX_PORTS), ("cables", setting.cables.len(), MAX_CABLES)]
    {
        if count >= most {
            fault(faults, "/units", format!("{most} {what} or more; a plan holds fewer"));
        }
    }
}
