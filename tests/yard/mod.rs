//! A yard of boxes for tests on the model: units out of their packaging, with any cables at hand.

#![allow(dead_code, reason = "each test needs a part of the yard only")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::collections::BTreeMap;

use ringwright::model::derive::Islands;
use ringwright::model::document::{
    ChangeTerms, Role, SavedPort, SavedSettings, SharedPair, Side, StateDocument, Status, UnitEntry, UnitState,
};
use ringwright::model::names::{MemberId, PortName, Priority};
use ringwright::model::naming::{self, Documents};
use ringwright::model::operation::{Circumstance, Operation, Outcome, Refusal, apply};
use ringwright::model::setting::Setting;
use ringwright::model::state::State;
use ringwright::model::table::{CableId, PortId, UnitId};
use ringwright::model::traits::{FactoryPorts, Mode, StackMode, Traits};
use ringwright::platform;

/// The ports of each box: 47 for an uplink, the others can stack.
pub const PORTS: [&str; 5] = ["47", "49", "50", "51", "52"];

/// The traits of the neutral dialect, as its manifest says them.
pub fn neutral() -> Traits {
    let mut sources = ringwright::source::Sources::default();
    let mut findings = ringwright::diag::Findings::default();
    let place = ringwright::source::Span::new(sources.add("test", ""), 0..0);
    platform::builtin("neutral", place, &mut sources, &mut findings).unwrap().traits
}

fn key(position: usize) -> String {
    format!("mill-{}", position + 1)
}

fn entry(position: usize, count: usize) -> UnitEntry {
    UnitEntry {
        key: key(position),
        member: key(position),
        id: MemberId(position as u16 + 1),
        priority: Priority(100 - position as u32),
        role: if position == 0 { Role::Primary } else { Role::Member },
        serial: Some(format!("PM-{position:04}")),
        // some units are known by their MAC address, some are not
        mac: position.is_multiple_of(2).then(|| format!("00-00-5E-00-53-{:02X}", count - position)),
        model: None,
        stacking_ports: PORTS[1..].iter().map(|name| PortName::new(name)).collect(),
        port_groups: Vec::new(),
        in_use: Vec::new(),
        status: Status::Live,
    }
}

fn boxed(traits: &Traits) -> UnitState {
    let enabled = traits.factory_ports == FactoryPorts::Enabled;
    let ports = PORTS.iter().map(|name| (PortName::new(name), SavedPort { enabled, side: Side::None }));
    let mode = if traits.stack_mode == StackMode::Switched { Mode::Lone } else { Mode::Stack };
    let (id, priority) = (traits.member_id.factory, traits.priority.factory);
    let saved = SavedSettings { id, priority, keys: BTreeMap::new(), mode, ports: ports.collect() };
    UnitState {
        powered: false,
        booted_at: 0,
        primary: false,
        waiting: false,
        copy: false,
        standby: false,
        counts: None,
        running: None,
        saved: Some(saved),
    }
}

/// Everything that a setting is made from.
pub struct Yard {
    pub traits: Traits,
    pub change: ChangeTerms,
    pub units: Vec<UnitEntry>,
    pub state: StateDocument,
    /// Legs of the one uplink pair that the target may have.
    pub pair: Vec<String>,
}

impl Yard {
    /// So many boxes, off, without a cable.
    pub fn new(traits: Traits, count: usize) -> Self {
        let units: Vec<UnitEntry> = (0..count).map(|position| entry(position, count)).collect();
        let states: BTreeMap<String, UnitState> = units.iter().map(|unit| (unit.key.clone(), boxed(&traits))).collect();
        let state = StateDocument { units: states, cables: Vec::new(), shared: SharedPair::default() };
        Self { traits, change: ChangeTerms::default(), units, state, pair: Vec::new() }
    }

    /// The setting of this yard, with the cables of these actions at hand.
    pub fn setting(&self, actions: &[ringwright::model::document::Action]) -> Setting {
        let actions: Vec<_> = actions.iter().collect();
        let mut target = self.state.clone();
        if !self.pair.is_empty() {
            target.shared.running.uplinks.insert("border".to_owned(), self.pair.clone());
        }
        let documents = Documents {
            stack: "mill",
            traits: &self.traits,
            change: &self.change,
            units: &self.units,
            baseline: &self.state,
            target: &target,
            actions: &actions,
        };
        naming::setting(&documents).unwrap()
    }
}

pub fn unit(setting: &Setting, position: usize) -> UnitId {
    naming::unit_of(setting, &key(position)).unwrap()
}

pub fn port(setting: &Setting, position: usize, name: &str) -> PortId {
    naming::port_of(setting, &end(position, name)).unwrap()
}

pub fn cable(setting: &Setting, one: (usize, &str), other: (usize, &str)) -> CableId {
    setting.cable_between(port(setting, one.0, one.1), port(setting, other.0, other.1)).unwrap()
}

pub fn end(position: usize, name: &str) -> String {
    format!("{}:{name}", key(position))
}

/// Does an operation where no uplink is in play.
pub fn tried(setting: &Setting, state: &State, operation: Operation) -> Result<Outcome, Refusal> {
    apply(setting, state, &Islands::of(setting, state), Circumstance::default(), operation)
}

/// The Python that has the libraries of the oracles, where `tests/run` has made one; else the one of
/// the system.
pub fn python() -> std::path::PathBuf {
    let own = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/venv/bin/python3");
    if own.exists() { own } else { "python3".into() }
}
