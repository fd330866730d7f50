//! A named state -> a [`State`] of indices.

use super::find::find_cable;
use super::{Faults, fault, habits};
use crate::model::document::{SharedSettings, Side, StateDocument, UnitState};
use crate::model::names::PortName;
use crate::model::setting::Setting;
use crate::model::state::{Port, Shared, State, Unit};
use crate::model::table::{LegSet, UnitId};
use crate::model::traits::{Mode, PriorityEffect};

/// A named state as indices.
pub(super) fn state(setting: &Setting, document: &StateDocument, pointer: &str, faults: &mut Faults) -> State {
    let mut state = State::empty(setting.units.len(), setting.ports.len());
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
        standby: found.standby,
        ..Unit::ABSENT
    };
    row.booted_at = if found.powered { i32::try_from(found.booted_at).unwrap_or(i32::MAX) } else { 0 };
    if let Some(running) = &found.running {
        (row.id, row.priority, row.lone) = (running.id, running.priority, running.mode == Mode::Lone);
        row.keys = habits::keys(setting, &running.keys);
        if setting.traits.priority.takes_effect == PriorityEffect::NextElection {
            row.counts = found.counts.unwrap_or(running.priority);
        }
    }
    if let Some(saved) = &found.saved {
        (row.saved_id, row.saved_priority, row.bootable) = (saved.id, saved.priority, true);
        (row.saved_keys, row.saved_lone) = (habits::keys(setting, &saved.keys), saved.mode == Mode::Lone);
    }
    state.units[unit] = row;
    for port in setting.units[unit].ports.iter().copied() {
        state.ports[port] = port_state(found, &setting.ports[port].name, pointer, faults);
    }
}

fn port_state(found: &UnitState, name: &PortName, pointer: &str, faults: &mut Faults) -> Port {
    let mut value = Port::default();
    if let Some(running) = found.running.as_ref() {
        match running.ports.get(name) {
            Some(port) => {
                value = value.with_enabled(port.enabled).with_side(port.side, port.active && port.side != Side::None);
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
    value
}

fn shared(setting: &Setting, settings: &SharedSettings, pointer: &str, faults: &mut Faults) -> Shared {
    let mut shared = Shared::default();
    for (name, legs) in &settings.uplinks {
        let Some(uplink) = setting.uplink(name) else { continue };
        shared.pairs.insert(uplink);
        shared.legs = legs.iter().filter_map(|leg| setting.leg(uplink, leg)).fold(shared.legs, LegSet::with);
    }
    shared.admitted = settings.admitted.iter().flatten().filter_map(|one| habits::ticket(setting, one)).collect();
    if let Some(name) = &settings.guard {
        shared.guard = setting.uplink(name).filter(|uplink| shared.pairs.contains(*uplink));
        if shared.guard.is_none() {
            fault(faults, format!("{pointer}/guard"), format!("guard over `{name}`, which is no pair of this state"));
        }
    }
    shared
}
