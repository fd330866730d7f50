//! Lowered states against values worked out by hand.

use super::*;
use crate::model::document::{SavedPort, Side, Status};
use crate::source::{Sources, Span};

/// The neutral platform.
pub(crate) fn neutral() -> Platform {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let file = sources.add("test", "");
    crate::platform::builtin("neutral", Span::new(file, 0..0), &mut sources, &mut findings).expect("neutral loads")
}

mod alone;
mod identity;
mod sides;
mod states;
mod survivors;

const HEAD: &str = "format: 1\nstack: ferry-core\ndialect: neutral\n";

fn read(new: &str, old: Option<&str>) -> (Intent, Option<Intent>) {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let mut intent = |text: &str| {
        let file = sources.add("intent", format!("{HEAD}{text}"));
        crate::intent::read(&sources, file, &mut findings).unwrap_or_else(|_| panic!("{findings:#?}"))
    };
    (intent(new), old.map(intent))
}

fn lowered(new: &str, old: Option<&str>) -> Problem {
    lowered_on(&neutral(), new, old)
}

fn lowered_on(platform: &Platform, new: &str, old: Option<&str>) -> Problem {
    let ((new, old), mut findings) = (read(new, old), Findings::default());
    lower(&new, old.as_ref(), platform, &mut findings).unwrap_or_else(|_| panic!("{findings:#?}"))
}

/// Messages and helps of an intent that is not refused.
fn warnings(new: &str, old: Option<&str>) -> Vec<(String, String)> {
    let ((new, old), mut findings) = (read(new, old), Findings::default());
    lower(&new, old.as_ref(), &neutral(), &mut findings).unwrap_or_else(|_| panic!("{findings:#?}"));
    findings.all().iter().map(|found| (found.message.clone(), found.help.clone().unwrap_or_default())).collect()
}

/// What is wrong with an intent that must be refused: codes and messages.
fn faults(new: &str, old: Option<&str>) -> Vec<(&'static str, String)> {
    let ((new, old), mut findings) = (read(new, old), Findings::default());
    assert!(lower(&new, old.as_ref(), &neutral(), &mut findings).is_err(), "not refused");
    findings.all().iter().map(|found| (found.code.name, found.message.clone())).collect()
}

const PAIR: &str = "topology: chain
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, serial: FT-0001}
  - {name: ramp-2, id: 2, role: standby, model: agg-48}
uplink_pairs:
  - {name: border, legs: [{member: ramp-1, port: '47'}, {member: ramp-2, port: '47'}]}
split_guard: border
";

const TRIO: &str = "topology: ring
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, serial: FT-0002}
  - {name: ramp-3, id: 3, model: agg-48}
uplink_pairs:
  - {name: border, legs: [{member: ramp-1, port: '47'}, {member: ramp-2, port: '47'}]}
split_guard: border
";

fn bound(state: &StateDocument, unit: &str) -> Vec<(String, &'static str)> {
    let saved = state.units.get(unit).and_then(|unit| unit.saved.as_ref()).expect("saved settings");
    let ports = saved.ports.iter().filter(|(_, port)| port.side != Side::None);
    ports.map(|(name, port)| (name.to_string(), port.side.as_str())).collect()
}

fn port_of(state: &StateDocument, unit: &str, port: &str) -> SavedPort {
    let saved = state.units.get(unit).and_then(|unit| unit.saved.as_ref()).expect("saved settings");
    *saved.ports.get(&PortName::new(port)).expect("the port is listed")
}

fn cable(one: &str, other: &str) -> [String; 2] {
    [one.to_owned(), other.to_owned()]
}

#[test]
fn a_chain_of_two_as_it_stands() {
    let problem = lowered(TRIO, Some(PAIR));
    let unit = problem.baseline.units.get("ramp-1").expect("ramp-1");
    assert!(unit.powered && unit.primary && unit.copy && !unit.waiting);
    let running = unit.running.as_ref().expect("it runs");
    let ports: Vec<&str> = running.ports.keys().map(PortName::as_str).collect();
    assert_eq!(ports, ["47", "49", "50", "51", "52", "53", "54"]);
    assert_eq!((running.id.0, running.priority.0), (1, 100));
    assert_eq!(bound(&problem.baseline, "ramp-1"), [("50".to_owned(), "east")]);
    assert_eq!(bound(&problem.baseline, "ramp-2"), [("49".to_owned(), "west")]);
    let cables = [cable("far:border", "ramp-1:47"), cable("far:border", "ramp-2:47"), cable("ramp-1:50", "ramp-2:49")];
    assert_eq!(problem.baseline.cables, cables);
    assert_eq!(problem.baseline.shared.saved.guard.as_deref(), Some("border"));
}

/// Common practice, no source: a unit out of its box has the lowest id and the losing priority.
#[test]
fn a_joining_unit_waits_in_its_box() {
    let problem = lowered(TRIO, Some(PAIR));
    let unit = problem.baseline.units.get("ramp-3").expect("ramp-3");
    assert!(!unit.powered && !unit.copy && unit.running.is_none());
    let saved = unit.saved.as_ref().expect("factory settings");
    assert_eq!((saved.id.0, saved.priority.0), (1, 1));
    assert!(saved.ports.values().all(|port| *port == SavedPort { enabled: true, side: Side::None }));
    assert_eq!(saved.ports.len(), 6);
}

/// Common practice, no source: a stack link joins opposite sides; every member is saved after the change.
#[test]
fn a_third_member_closes_the_chain_into_a_ring() {
    let problem = lowered(TRIO, Some(PAIR));
    let cables = ["ramp-1:49 ramp-3:50", "ramp-1:50 ramp-2:49", "ramp-2:50 ramp-3:49"];
    let found: Vec<String> = problem.target.cables.iter().skip(2).map(|ends| ends.join(" ")).collect();
    assert_eq!(found, cables);
    assert_eq!(bound(&problem.target, "ramp-3"), [("49".to_owned(), "west"), ("50".to_owned(), "east")]);
    assert!(problem.target.units.values().all(|unit| unit.copy && unit.powered));
    let unit = problem.target.units.get("ramp-3").and_then(|unit| unit.running.as_ref()).expect("it runs");
    assert_eq!((unit.id.0, unit.priority.0), (3, 80));
    let status: Vec<Status> = problem.units.iter().map(|unit| unit.status).collect();
    assert_eq!(status, [Status::Live, Status::Live, Status::Joining]);
    assert_eq!(
        problem.units.iter().map(|unit| unit.serial.as_deref()).collect::<Vec<_>>(),
        [Some("FT-0001"), Some("FT-0002"), None]
    );
    assert_eq!(problem.delta.added, ["ramp-3"]);
    assert_eq!(problem.delta.topology, Some((Topology::Chain, Topology::Ring)));
    assert!(problem.delta.cables_removed.is_empty() && problem.delta.reweighted.is_empty());
}

#[test]
fn a_new_stack_is_factory_boxes_and_nothing_else() {
    let problem = lowered(TRIO, None);
    assert!(problem.delta.new_stack && problem.baseline.cables.is_empty());
    assert!(problem.baseline.shared.running.uplinks.is_empty());
    assert!(problem.baseline.units.values().all(|unit| !unit.powered && unit.running.is_none()));
    assert!(problem.units.iter().all(|unit| unit.status == Status::Joining));
}

#[test]
fn a_ring_of_two_has_two_different_cables() {
    let pair = PAIR.replace("chain", "ring");
    let problem = lowered(&pair, None);
    let found: Vec<String> = problem.target.cables.iter().skip(2).map(|ends| ends.join(" ")).collect();
    assert_eq!(found, ["ramp-1:49 ramp-2:50", "ramp-1:50 ramp-2:49"]);
}

#[test]
fn a_port_that_is_released_ends_disabled_and_an_unbound_one_stays() {
    let old = PAIR
        .replace("serial: FT-0001}", "disabled_ports: ['53'], sides: {east: ['51', '52']}}")
        .replace("standby, model: agg-48}", "standby, model: agg-48, sides: {west: ['51', '52']}}");
    let new = old.replace("['51', '52']", "['51']");
    let problem = lowered(&new, Some(&old));
    let enabled = |port: &str| port_of(&problem.target, "ramp-1", port).enabled;
    assert!(enabled("51"), "bound");
    assert!(!enabled("52"), "released");
    assert!(!enabled("53"), "disabled as it stands");
    assert!(enabled("54"), "as it came out of the box");
    assert_eq!(problem.delta.cables_removed, [cable("ramp-1:52", "ramp-2:52")]);
}

#[test]
fn ports_in_use_stay_and_a_growing_chain_moves_none() {
    let single = "topology: chain\nmembers:\n  - {name: ramp-1, id: 1, role: primary, model: agg-48}\n";
    assert_eq!(bound(&lowered(PAIR, Some(single)).target, "ramp-1"), [("50".to_owned(), "east")]);
    let doubled = PAIR.replace("serial: FT-0001}", "sides: {east: ['53', '54']}}");
    let problem = lowered(&TRIO.replace("topology: ring", "topology: chain"), Some(&doubled));
    let east: Vec<String> = bound(&problem.target, "ramp-1").into_iter().map(|(port, _)| port).collect();
    assert_eq!(east, ["53", "54"]);
    assert_eq!(bound(&problem.target, "ramp-2").len(), 3);
}

#[test]
fn both_boxes_of_a_replacement_have_a_key_of_their_own() {
    let old = TRIO.replace("id: 3, model: agg-48}", "id: 3, model: agg-48, serial: FT-0003}");
    let problem = lowered(&old.replace("FT-0003", "FT-0009"), Some(&old));
    let keys: Vec<(&str, Status)> = problem.units.iter().map(|unit| (unit.key.as_str(), unit.status)).collect();
    let expected = [
        ("ramp-1", Status::Live),
        ("ramp-2", Status::Live),
        ("ramp-3@FT-0003", Status::Leaving),
        ("ramp-3@FT-0009", Status::Joining),
    ];
    assert_eq!(keys, expected);
    assert!(problem.baseline.cables.contains(&cable("ramp-2:50", "ramp-3@FT-0003:49")));
    assert!(problem.target.cables.contains(&cable("ramp-2:50", "ramp-3@FT-0009:49")));
    let gone = problem.target.units.get("ramp-3@FT-0003").expect("the old box");
    assert!(!gone.powered && gone.running.is_none());
    assert_eq!(problem.delta.replaced, ["ramp-3"]);
}
