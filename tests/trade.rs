//! The rules of the trade, as the model keeps them under the neutral dialect's traits.
//!
//! Each is common practice and has no source: what people who cable stacks know. A test that is
//! marked so cites nothing on purpose.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test that cannot go on has failed")]

mod yard;

use ringwright::model::derive::{Islands, Link, link, primaries};
use ringwright::model::document::{Action, Side};
use ringwright::model::names::{MemberId, Priority};
use ringwright::model::operation::{Operation, Refusal};
use ringwright::model::setting::Setting;
use ringwright::model::state::State;
use ringwright::model::table::{UnitId, UnitSet};
use yard::{Yard, cable, end, neutral, port, tried, unit};

/// Two boxes, and a cable at hand between port 50 of the first and port 49 of the second.
fn pair() -> Setting {
    let ends = |one: &str, other: &str| Action::ConnectCable { ends: [end(0, one), end(1, other)] };
    Yard::new(neutral(), 2).setting(&[ends("50", "49"), ends("49", "49")])
}

fn done(setting: &Setting, state: State, operations: &[Operation]) -> State {
    operations.iter().fold(state, |state, operation| {
        tried(setting, &state, *operation).unwrap_or_else(|refusal| panic!("{operation:?}: {refusal:?}")).after
    })
}

/// Both boxes on, with ids and priorities of their own; one port each bound to a side and in use.
fn bound(setting: &Setting, near: (&str, Side), far: (&str, Side)) -> State {
    let mut state = setting.baseline.clone();
    for (position, (name, side)) in [near, far].into_iter().enumerate() {
        let (box_of, port) = (unit(setting, position), port(setting, position, name));
        let operations = [
            Operation::PowerOn(box_of),
            Operation::AssignId(box_of, MemberId(position as u16 + 1)),
            Operation::SetPriority(box_of, Priority(100 - position as u32)),
            Operation::DisablePort(port),
            Operation::BindPort(port, side),
            Operation::EnablePort(port),
            Operation::Save(box_of),
            Operation::Restart(box_of),
        ];
        state = done(setting, state, &operations);
    }
    state
}

fn stack_of(setting: &Setting, state: &State, unit: UnitId) -> UnitSet {
    Islands::of(setting, state).around(unit)
}

/// Common practice, no source.
#[test]
fn a_stack_link_joins_opposite_sides() {
    let setting = pair();
    let (east_to_west, west_to_west) = (cable(&setting, (0, "50"), (1, "49")), cable(&setting, (0, "49"), (1, "49")));
    let joined = bound(&setting, ("50", Side::East), ("49", Side::West));
    let joined = done(&setting, joined, &[Operation::Connect(east_to_west)]);
    assert_eq!(link(&setting, &joined, east_to_west), Link::Stack);
    let apart = bound(&setting, ("49", Side::West), ("49", Side::West));
    let apart = done(&setting, apart, &[Operation::Connect(west_to_west)]);
    assert_eq!(link(&setting, &apart, west_to_west), Link::Unmatched);
    assert_eq!(stack_of(&setting, &apart, unit(&setting, 0)).len(), 1);
}

/// Common practice, no source.
#[test]
fn a_unit_out_of_its_box_has_the_lowest_id_and_the_losing_priority() {
    let traits = neutral();
    assert_eq!(traits.member_id.factory, traits.member_id.range.0);
    assert_eq!(traits.priority.factory, traits.priority.range.0, "the highest wins");
    let setting = pair();
    let state = done(&setting, setting.baseline.clone(), &[Operation::PowerOn(unit(&setting, 1))]);
    let row = &state.units[unit(&setting, 1)];
    assert_eq!((row.id, row.priority), (traits.member_id.factory, traits.priority.factory));
}

/// Common practice, no source.
#[test]
fn a_new_id_counts_after_a_restart_and_renames_the_ports() {
    let setting = pair();
    let newcomer = unit(&setting, 1);
    let name = |state: &State| {
        let text = setting.traits.port_name.replace("{{ member_id }}", &state.units[newcomer].id.to_string());
        text.replace("{{ port }}", "49")
    };
    let typed = done(
        &setting,
        setting.baseline.clone(),
        &[Operation::PowerOn(newcomer), Operation::AssignId(newcomer, MemberId(7))],
    );
    assert_eq!((typed.units[newcomer].id, name(&typed).as_str()), (MemberId(1), "m1/p49"));
    let restarted = done(&setting, typed, &[Operation::Restart(newcomer)]);
    assert_eq!((restarted.units[newcomer].id, name(&restarted).as_str()), (MemberId(7), "m7/p49"));
}

/// Common practice, no source.
#[test]
fn a_port_is_disabled_before_it_is_bound() {
    let setting = pair();
    let port = port(&setting, 0, "50");
    let on = done(&setting, setting.baseline.clone(), &[Operation::PowerOn(unit(&setting, 0))]);
    let refused = tried(&setting, &on, Operation::BindPort(port, Side::East));
    assert_eq!(refused.err(), Some(Refusal::NotDisabled(port)));
    let off = done(&setting, on, &[Operation::DisablePort(port), Operation::BindPort(port, Side::East)]);
    assert_eq!(off.ports[port].side(), Side::East);
    let used = done(&setting, off, &[Operation::EnablePort(port)]);
    assert_eq!(tried(&setting, &used, Operation::ReleasePort(port)).err(), Some(Refusal::NotDisabled(port)));
}

/// Common practice, no source.
#[test]
fn a_binding_counts_after_activation() {
    let setting = pair();
    let (first, near) = (unit(&setting, 0), port(&setting, 0, "51"));
    let state = bound(&setting, ("50", Side::East), ("49", Side::West));
    let typed = done(&setting, state, &[Operation::DisablePort(near), Operation::BindPort(near, Side::East)]);
    assert!(!typed.ports[near].active());
    assert!(done(&setting, typed.clone(), &[Operation::Activate(first)]).ports[near].active());
    let restarted = done(&setting, typed, &[Operation::Save(first), Operation::Restart(first)]);
    assert!(restarted.ports[near].active(), "a boot activates what was saved");
}

/// Common practice, no source.
#[test]
fn the_loser_of_a_merge_restarts_and_joins() {
    let setting = pair();
    let (first, second) = (unit(&setting, 0), unit(&setting, 1));
    let state = bound(&setting, ("50", Side::East), ("49", Side::West));
    assert_eq!(primaries(&state, setting.all_units()).len(), 2);
    let outcome = tried(&setting, &state, Operation::Connect(cable(&setting, (0, "50"), (1, "49")))).unwrap();
    assert_eq!(outcome.events.restarts, UnitSet::one(second));
    assert_eq!(primaries(&outcome.after, setting.all_units()), UnitSet::one(first));
    assert_eq!(stack_of(&setting, &outcome.after, first), setting.all_units());
}

/// Common practice, no source.
#[test]
fn a_save_on_every_member_follows_the_change() {
    let setting = pair();
    let (first, second) = (unit(&setting, 0), unit(&setting, 1));
    let state = bound(&setting, ("50", Side::East), ("49", Side::West));
    let joined = done(&setting, state, &[Operation::Connect(cable(&setting, (0, "50"), (1, "49")))]);
    let changed = [Operation::SetPriority(first, Priority(90)), Operation::SetPriority(second, Priority(80))];
    let changed = done(&setting, joined, &changed);
    let lost = done(&setting, changed.clone(), &[Operation::PowerOff(second), Operation::PowerOn(second)]);
    assert_eq!(lost.units[second].priority, Priority(99), "what is not saved is gone after a restart");
    let saved = done(&setting, changed, &[Operation::Save(first)]);
    for (unit, priority) in [(first, 90), (second, 80)] {
        assert_eq!(saved.units[unit].saved_priority, Priority(priority), "one save covers every member");
    }
}

/// Addresses in a text that are not set aside for documentation (RFC 5737, RFC 3849, RFC 9542).
fn strange_addresses(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !(c.is_ascii_alphanumeric() || ".:-".contains(c)));
    let words = words.map(|word| word.trim_matches(['.', ':', '-']));
    words.filter(|word| strange(word)).map(str::to_owned).collect()
}

fn strange(word: &str) -> bool {
    let hex = |part: &str| part.len() == 2 && part.chars().all(|c| c.is_ascii_hexdigit());
    let parts: Vec<&str> = word.split(['-', ':']).collect();
    if parts.len() == 6 && parts.iter().all(|part| hex(part)) {
        let known = parts[..5].join("-").to_uppercase();
        return known != "00-00-5E-00-53";
    }
    if let Ok(address) = word.parse::<std::net::Ipv4Addr>() {
        let [a, b, c, _] = address.octets();
        return !matches!((a, b, c), (192, 0, 2) | (198, 51, 100) | (203, 0, 113)) && !address.is_loopback();
    }
    match word.parse::<std::net::Ipv6Addr>() {
        Ok(address) => word.len() > 3 && address.segments()[..2] != [0x2001, 0xdb8],
        Err(_) => false,
    }
}

fn texts(folder: &std::path::Path, found: &mut Vec<(std::path::PathBuf, String)>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            texts(&path, found);
        } else if let Ok(text) = std::fs::read_to_string(&path) {
            found.push((path, text));
        }
    }
}

#[test]
fn cases_and_examples_use_documentation_addresses_only() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["tests/cases", "examples", "templates"] {
        if root.join(folder).exists() {
            texts(&root.join(folder), &mut files);
        }
    }
    assert!(files.len() > 300, "{} files", files.len());
    let strange: Vec<_> = files.iter().map(|(path, text)| (path, strange_addresses(text))).collect();
    let strange: Vec<_> = strange.iter().filter(|(_, found)| !found.is_empty()).collect();
    assert!(strange.is_empty(), "{strange:?}");
    let canary = "10.0.0.1 192.0.2.1 00-00-5E-00-53-07 02:00:00:00:00:01 fe80::1 2001:db8::1 1.2.3 12:30";
    assert_eq!(strange_addresses(canary), ["10.0.0.1", "02:00:00:00:00:01", "fe80::1"]);
}

/// The neighbour protocol is called by its standard, and by nothing that belongs to a product.
#[test]
fn standards_are_called_by_their_names() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["src", "templates"] {
        texts(&root.join(folder), &mut files);
    }
    let naming: String = files.iter().map(|(_, text)| text.as_str()).collect();
    assert!(naming.contains("IEEE 802.1AB"));
    for (standard, wrong) in [("IEEE 802.1AB", "802.1ab"), ("IEEE 802.1AX", "802.3ad"), ("IEEE 802.17", "802.17 ring")]
    {
        assert!(!naming.contains(wrong), "say {standard}, not {wrong}");
    }
}
