//! Named documents -> [`Setting`] and [`State`], and back.
//!
//! Checks the shape of what it reads (known names, complete states, free ends); whether a state
//! keeps the rules is not its business.

use std::collections::{BTreeMap, BTreeSet};

use super::document::{
    Action, ChangeTerms, RunningPort, RunningSettings, SavedPort, SavedSettings, SharedPair, SharedSettings,
    StateDocument, Status, UnitEntry, UnitState,
};
use super::names::PortName;
use super::setting::{CableRow, LegRow, PortRow, Setting, UnitRow, UplinkRow};
use super::state::{MAX_CABLES, MAX_LEGS, MAX_PORTS, MAX_UNITS, MAX_UPLINKS, Port, Shared, State, Unit};
use super::table::{CableId, LegId, LegSet, PortId, Table, UnitId, UnitSet, UplinkId};
use super::traits::Traits;

/// The named documents of a plan.
#[derive(Clone, Copy, Debug)]
pub struct Documents<'a> {
    /// The stack's name.
    pub stack: &'a str,
    /// The platform's traits.
    pub traits: &'a Traits,
    /// What the change allows.
    pub change: &'a ChangeTerms,
    /// Every box.
    pub units: &'a [UnitEntry],
    /// The state before.
    pub baseline: &'a StateDocument,
    /// The state after.
    pub target: &'a StateDocument,
    /// What the steps do, for the cables and pairs that only they know.
    pub actions: &'a [&'a Action],
}

/// One thing that is wrong with the shape of a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShapeFault {
    /// Where, as a JSON pointer into the plan.
    pub pointer: String,
    /// What was found and what would be right.
    pub text: String,
}

type Faults = Vec<ShapeFault>;

fn fault(faults: &mut Faults, pointer: impl Into<String>, text: impl Into<String>) {
    faults.push(ShapeFault { pointer: pointer.into(), text: text.into() });
}

/// Makes the setting of a plan.
///
/// # Errors
/// Every fault of shape that was found, never an empty list.
pub fn setting(documents: &Documents<'_>) -> Result<Setting, Vec<ShapeFault>> {
    let mut faults = Vec::new();
    let mut setting = empty(documents);
    let states = [("baseline", documents.baseline), ("target", documents.target)];
    read_units(&mut setting, documents, &mut faults);
    for (name, state) in states {
        read_pairs(&mut setting, &state.shared, &format!("/{name}/shared"), &mut faults);
    }
    for (name, state) in states {
        for (position, ends) in state.cables.iter().enumerate() {
            read_cable(&mut setting, ends, &format!("/{name}/cables/{position}"), &mut faults);
        }
    }
    for (position, action) in documents.actions.iter().enumerate() {
        read_action(&mut setting, action, &format!("/steps/{position}/do"), &mut faults);
    }
    read_consents(&mut setting, documents.change, &mut faults);
    check_size(&setting, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    setting.baseline = state(&setting, documents.baseline, "/baseline", &mut faults);
    setting.target = state(&setting, documents.target, "/target", &mut faults);
    setting.kept_pairs = setting.baseline.running.pairs.and(setting.target.running.pairs);
    if faults.is_empty() { Ok(setting) } else { Err(faults) }
}

fn empty(documents: &Documents<'_>) -> Setting {
    Setting {
        stack: documents.stack.to_owned(),
        traits: documents.traits.clone(),
        save: documents.change.save,
        temporary_cables: documents.change.temporary_cables,
        save_unsaved: false,
        units: Table::new(),
        ports: Table::new(),
        cables: Table::new(),
        uplinks: Table::new(),
        legs: Table::new(),
        baseline: State::EMPTY,
        target: State::EMPTY,
        kept_pairs: Default::default(),
        leaving: UnitSet::EMPTY,
        joining: UnitSet::EMPTY,
        dead: UnitSet::EMPTY,
        may_restart: UnitSet::EMPTY,
        may_lead: UnitSet::EMPTY,
        may_split: UnitSet::EMPTY,
        unit_keys: BTreeMap::new(),
    }
}

fn read_units(setting: &mut Setting, documents: &Documents<'_>, faults: &mut Faults) {
    for (position, entry) in documents.units.iter().enumerate() {
        let pointer = format!("/units/{position}");
        let mac = entry.mac.as_deref().and_then(parse_mac);
        if entry.mac.is_some() && mac.is_none() {
            fault(faults, format!("{pointer}/mac"), "not a MAC address: six pairs of hex digits are");
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
        let port = setting.ports.push(PortRow { unit, name, stacking, cables: Vec::new(), legs: LegSet::EMPTY });
        setting.units[unit].ports.push(port);
    }
}

fn read_pairs(setting: &mut Setting, shared: &SharedPair, pointer: &str, faults: &mut Faults) {
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
        return setting.uplinks.ids().next().unwrap_or_else(|| crate::model::table::Id::at(0));
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

fn read_cable(setting: &mut Setting, ends: &[String; 2], pointer: &str, faults: &mut Faults) {
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

/// Reads `unit:port`.
///
/// # Errors
/// Says what the text is not.
pub fn port_of(setting: &Setting, end: &str) -> Result<PortId, String> {
    let (key, port) = end.rsplit_once(':').ok_or_else(|| format!("`{end}` is not `unit:port`"))?;
    let unit = unit_of(setting, key)?;
    setting.port(unit, &PortName::new(port)).ok_or_else(|| format!("unit `{key}` lists no port `{port}`"))
}

/// Finds a unit by its key.
///
/// # Errors
/// Says that the plan has no such unit.
pub fn unit_of(setting: &Setting, key: &str) -> Result<UnitId, String> {
    setting.unit_keys.get(key).copied().ok_or_else(|| format!("the plan has no unit `{key}`"))
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

fn read_action(setting: &mut Setting, action: &Action, pointer: &str, faults: &mut Faults) {
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
        | Action::Await { .. }
        | Action::Expect { .. } => return,
    };
    let row = uplink_row(setting, uplink, pointer, faults);
    for leg in legs {
        read_leg(setting, row, leg, pointer, faults);
    }
}

fn read_consents(setting: &mut Setting, change: &ChangeTerms, faults: &mut Faults) {
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

fn check_size(setting: &Setting, faults: &mut Faults) {
    for (what, count, most) in [("ports", setting.ports.len(), MAX_PORTS), ("cables", setting.cables.len(), MAX_CABLES)]
    {
        if count >= most {
            fault(faults, "/units", format!("{most} {what} or more; a plan holds fewer"));
        }
    }
}

/// Six bytes from `00-00-5E-00-53-01` or the same with colons, in any case.
#[must_use]
pub fn parse_mac(text: &str) -> Option<[u8; 6]> {
    let mut bytes = [0; 6];
    let mut parts = text.split(['-', ':']);
    for byte in &mut bytes {
        let part = parts.next().filter(|part| part.len() == 2)?;
        *byte = u8::from_str_radix(part, 16).ok()?;
    }
    parts.next().is_none().then_some(bytes)
}

/// A named state as indices.
fn state(setting: &Setting, document: &StateDocument, pointer: &str, faults: &mut Faults) -> State {
    let mut state = State::EMPTY;
    for key in document.units.keys().filter(|key| !setting.unit_keys.contains_key(*key)) {
        fault(faults, format!("{pointer}/units/{key}"), "no unit of this key is listed under `units`");
    }
    for unit in setting.units.ids() {
        let key = &setting.units[unit].key;
        let place = format!("{pointer}/units/{key}");
        match document.units.get(key) {
            Some(found) => read_unit_state(setting, &mut state, unit, found, &place, faults),
            None => fault(faults, place, "the state of this unit is missing"),
        }
    }
    for (position, ends) in document.cables.iter().enumerate() {
        plug(setting, &mut state, ends, &format!("{pointer}/cables/{position}"), faults);
    }
    let place = format!("{pointer}/shared");
    state.running = shared(setting, &document.shared.running, &place, faults);
    state.saved = shared(setting, &document.shared.saved, &place, faults);
    state
}

fn plug(setting: &Setting, state: &mut State, ends: &[String; 2], pointer: &str, faults: &mut Faults) {
    let Some(cable) = find_cable(setting, ends) else {
        return fault(faults, pointer, "not a cable between listed ends");
    };
    let taken = setting.cables[cable]
        .unit_ends()
        .any(|port| setting.ports[port].cables.iter().any(|other| state.plugged.contains(*other)));
    if taken {
        fault(faults, pointer, format!("an end of {} - {} holds another cable already", ends[0], ends[1]));
    }
    state.plugged.insert(cable);
}

/// Finds a known cable by its two ends, in either order.
#[must_use]
pub fn find_cable(setting: &Setting, ends: &[String; 2]) -> Option<CableId> {
    let [one, other] = ends;
    let (far, unit_end) = match (one.strip_prefix("far:"), other.strip_prefix("far:")) {
        (Some(name), _) => (Some(name), other),
        (None, Some(name)) => (Some(name), one),
        (None, None) => (None, one),
    };
    let port = port_of(setting, unit_end).ok()?;
    match far {
        None => setting.cable_between(port, port_of(setting, other).ok()?),
        Some(name) => {
            let wanted = CableRow::Far(setting.uplink(name)?, port);
            setting.ports[port].cables.iter().copied().find(|cable| setting.cables[*cable] == wanted)
        }
    }
}

fn read_unit_state(
    setting: &Setting,
    state: &mut State,
    unit: UnitId,
    found: &UnitState,
    pointer: &str,
    faults: &mut Faults,
) {
    if found.powered != found.running.is_some() {
        fault(faults, format!("{pointer}/running"), "a unit has running settings exactly while it is powered");
    }
    if found.powered && found.saved.is_none() {
        fault(faults, format!("{pointer}/saved"), "a powered unit has saved settings");
    }
    let mut row = Unit {
        powered: found.powered,
        primary: found.primary,
        waiting: found.waiting,
        copy: found.copy,
        ..Unit::ABSENT
    };
    row.booted_at = if found.powered { i32::try_from(found.booted_at).unwrap_or(i32::MAX) } else { 0 };
    if let Some(running) = &found.running {
        (row.id, row.priority) = (running.id, running.priority);
    }
    if let Some(saved) = &found.saved {
        (row.saved_id, row.saved_priority, row.bootable) = (saved.id, saved.priority, true);
    }
    state.units[unit] = row;
    for port in setting.units[unit].ports.iter().copied() {
        let name = &setting.ports[port].name;
        let mut value = Port::default();
        if let Some(running) = found.running.as_ref() {
            match running.ports.get(name) {
                Some(port) => {
                    value = value
                        .with_enabled(port.enabled)
                        .with_side(port.side, port.active && port.side != super::document::Side::None)
                }
                None => fault(faults, format!("{pointer}/running/ports"), format!("port `{name}` is missing")),
            }
        }
        if let Some(saved) = found.saved.as_ref() {
            match saved.ports.get(name) {
                Some(port) => value = value.with_saved_enabled(port.enabled).with_saved_side(port.side),
                None => fault(faults, format!("{pointer}/saved/ports"), format!("port `{name}` is missing")),
            }
        }
        state.ports[port] = value;
    }
}

fn shared(setting: &Setting, settings: &SharedSettings, pointer: &str, faults: &mut Faults) -> Shared {
    let mut shared = Shared::default();
    for (name, legs) in &settings.uplinks {
        let Some(uplink) = setting.uplink(name) else { continue };
        shared.pairs.insert(uplink);
        shared.legs = legs.iter().filter_map(|leg| setting.leg(uplink, leg)).fold(shared.legs, LegSet::with);
    }
    if let Some(name) = &settings.guard {
        shared.guard = setting.uplink(name).filter(|uplink| shared.pairs.contains(*uplink));
        if shared.guard.is_none() {
            fault(faults, format!("{pointer}/guard"), format!("guard over `{name}`, which is no pair of this state"));
        }
    }
    shared
}

/// A state with names, as the plan writes it.
#[must_use]
pub fn document(setting: &Setting, state: &State) -> StateDocument {
    let mut cables: Vec<[String; 2]> = state.plugged.iter().map(|cable| setting.cable_names(cable)).collect();
    cables.sort();
    StateDocument {
        units: setting
            .units
            .ids()
            .map(|unit| (setting.units[unit].key.clone(), unit_document(setting, state, unit)))
            .collect(),
        cables,
        shared: SharedPair {
            running: shared_document(setting, &state.running),
            saved: shared_document(setting, &state.saved),
        },
    }
}

fn unit_document(setting: &Setting, state: &State, unit: UnitId) -> UnitState {
    let row = &state.units[unit];
    let ports = || setting.units[unit].ports.iter().map(|port| (setting.ports[*port].name.clone(), state.ports[*port]));
    UnitState {
        powered: row.powered,
        booted_at: i64::from(row.booted_at),
        primary: row.primary,
        waiting: row.waiting,
        copy: row.copy,
        running: row.powered.then(|| RunningSettings {
            id: row.id,
            priority: row.priority,
            ports: ports()
                .map(|(name, p)| (name, RunningPort { enabled: p.enabled(), side: p.side(), active: p.active() }))
                .collect(),
        }),
        saved: row.bootable.then(|| SavedSettings {
            id: row.saved_id,
            priority: row.saved_priority,
            ports: ports()
                .map(|(name, p)| (name, SavedPort { enabled: p.saved_enabled(), side: p.saved_side() }))
                .collect(),
        }),
    }
}

fn shared_document(setting: &Setting, shared: &Shared) -> SharedSettings {
    let legs_of = |uplink: UplinkId| -> Vec<String> {
        let legs = setting.uplinks[uplink].legs.and(shared.legs);
        legs.iter().map(|leg: LegId| setting.legs[leg].name.clone()).collect()
    };
    SharedSettings {
        uplinks: shared.pairs.iter().map(|uplink| (setting.uplinks[uplink].name.clone(), legs_of(uplink))).collect(),
        guard: shared.guard.map(|uplink| setting.uplinks[uplink].name.clone()),
    }
}

/// Factory settings of one unit put into a state: off, unbound, ports as out of the box.
pub fn reset_to_factory(setting: &Setting, state: &mut State, unit: UnitId) {
    let traits = &setting.traits;
    let row = &mut state.units[unit];
    (row.saved_id, row.saved_priority, row.copy) = (traits.member_id.factory, traits.priority.factory, false);
    row.bootable = true;
    for port in setting.units[unit].ports.iter().copied() {
        let kept = state.ports[port];
        state.ports[port] =
            kept.with_saved_enabled(setting.factory_enabled()).with_saved_side(super::document::Side::None);
    }
}
