//! Layouts -> the states before and after the change.

use std::collections::{BTreeMap, BTreeSet};

use super::layout::{Layout, Placed, in_order, sorted};
use super::units::Boxes;
use crate::intent::Intent;
use crate::model::document::{
    Role, RunningPort, RunningSettings, SavedPort, SavedSettings, SharedPair, SharedSettings, Side, StateDocument,
    UnitState,
};
use crate::model::traits::{FactoryPorts, Mode};
use crate::model::{MemberId, PortName, Priority, Traits, natural_order};

/// The stack as it was built, every member of it up, and what joins in its box, switched off.
pub(super) fn as_built(boxes: &Boxes, old: Option<(&Intent, &Layout)>, traits: &Traits) -> StateDocument {
    let mut units = BTreeMap::new();
    for unit in &boxes.all {
        let state = match unit.old_member() {
            Some(placed) => in_service(placed, built(placed, &unit.ports, traits)),
            None => off(Some(factory(&unit.ports, traits))),
        };
        units.insert(unit.key.clone(), state);
    }
    let Some((intent, layout)) = old else {
        return StateDocument { units, cables: Vec::new(), shared: SharedPair::default() };
    };
    StateDocument { units, cables: cables(intent, layout, &|name| boxes.old_key(name)), shared: shared(intent) }
}

/// The state after the change. What a unit runs it has saved, and it holds the common settings.
pub(super) fn target(boxes: &Boxes, new: (&Intent, &Layout), before: &StateDocument, traits: &Traits) -> StateDocument {
    let mut units = BTreeMap::new();
    for unit in &boxes.all {
        let saved = before.units.get(&unit.key).and_then(|state| state.saved.as_ref());
        let state = match unit.new_member() {
            Some(placed) => in_service(placed, wanted(placed, unit.old_member(), &unit.ports, saved, traits)),
            None => off(saved.cloned()),
        };
        units.insert(unit.key.clone(), state);
    }
    StateDocument { units, cables: cables(new.0, new.1, &|name| boxes.new_key(name)), shared: shared(new.0) }
}

/// A member that acts on what it has saved, and holds the common settings.
fn in_service(placed: &Placed, saved: SavedSettings) -> UnitState {
    UnitState {
        powered: true,
        booted_at: 0,
        primary: placed.role == Role::Primary,
        waiting: false,
        copy: true,
        standby: false,
        counts: None,
        running: Some(running(&saved)),
        saved: Some(saved),
    }
}

/// A box that is switched off.
fn off(saved: Option<SavedSettings>) -> UnitState {
    UnitState {
        powered: false,
        booted_at: 0,
        primary: false,
        waiting: false,
        copy: false,
        standby: false,
        counts: None,
        running: None,
        saved,
    }
}

fn built(placed: &Placed, ports: &BTreeSet<PortName>, traits: &Traits) -> SavedSettings {
    let enabled =
        |port: &PortName| placed.is_used(port) || (factory_enabled(traits) && !placed.disabled.contains(port));
    settings(placed.id, placed.priority, ports, &placed.bound, &enabled)
}

fn factory(ports: &BTreeSet<PortName>, traits: &Traits) -> SavedSettings {
    let none = BTreeMap::new();
    settings(traits.member_id.factory, traits.priority.factory, ports, &none, &|_| factory_enabled(traits))
}

fn wanted(
    placed: &Placed,
    old: Option<&Placed>,
    ports: &BTreeSet<PortName>,
    before: Option<&SavedSettings>,
    traits: &Traits,
) -> SavedSettings {
    let enabled = |port: &PortName| {
        let was_bound = old.is_some_and(|old| old.bound.contains_key(port));
        let was_enabled =
            before.and_then(|saved| saved.ports.get(port)).map_or(factory_enabled(traits), |port| port.enabled);
        placed.is_used(port) || (!was_bound && was_enabled)
    };
    settings(placed.id, placed.priority, ports, &placed.bound, &enabled)
}

fn factory_enabled(traits: &Traits) -> bool {
    match traits.factory_ports {
        FactoryPorts::Enabled => true,
        FactoryPorts::Disabled => false,
    }
}

fn settings(
    id: MemberId,
    priority: Priority,
    ports: &BTreeSet<PortName>,
    bound: &BTreeMap<PortName, Side>,
    enabled: &dyn Fn(&PortName) -> bool,
) -> SavedSettings {
    let port =
        |name: &PortName| SavedPort { enabled: enabled(name), side: bound.get(name).copied().unwrap_or_default() };
    let ports = ports.iter().map(|name| (name.clone(), port(name))).collect();
    SavedSettings { id, priority, keys: BTreeMap::new(), mode: Mode::Stack, ports }
}

/// What a unit runs that acts on what it saved: every binding is active.
fn running(saved: &SavedSettings) -> RunningSettings {
    let port =
        |port: &SavedPort| RunningPort { enabled: port.enabled, side: port.side, active: port.side != Side::None };
    let ports = saved.ports.iter().map(|(name, saved)| (name.clone(), port(saved))).collect();
    RunningSettings { id: saved.id, priority: saved.priority, keys: saved.keys.clone(), mode: saved.mode, ports }
}

/// All cables, those of uplink legs too, in natural order.
fn cables(intent: &Intent, layout: &Layout, key: &dyn Fn(&str) -> String) -> Vec<[String; 2]> {
    let end = |(name, port): &(String, PortName)| format!("{}:{port}", key(name));
    let links = layout.cables.iter().map(|cable| sorted([end(&cable.east), end(&cable.west)]));
    let legs = intent.uplink_pairs.iter().flat_map(|pair| {
        let far = move |port: String| sorted([format!("far:{}", pair.name.as_str()), port]);
        pair.legs.iter().map(move |leg| far(format!("{}:{}", key(leg.member.as_str()), leg.port.value)))
    });
    in_order(links.chain(legs))
}

fn shared(intent: &Intent) -> SharedPair {
    let legs = |pair: &crate::intent::UplinkPair| {
        let mut legs: Vec<String> = pair.legs.iter().map(|leg| leg.end()).collect();
        legs.sort_by(|a, b| natural_order(a, b));
        legs
    };
    let settings = SharedSettings {
        uplinks: intent.uplink_pairs.iter().map(|pair| (pair.name.to_string(), legs(pair))).collect(),
        guard: intent.split_guard.as_ref().map(|guard| guard.to_string()),
        admitted: None,
    };
    SharedPair { running: settings.clone(), saved: settings }
}
