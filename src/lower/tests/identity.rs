//! Which box is which, where names, serial numbers, places, models and addresses do not agree.

use super::*;

const OLD: &str = "topology: ring
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, serial: FT-0001, mac: 00-00-5E-00-53-01}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, serial: FT-0002}
  - {name: ramp-3, id: 3, model: agg-48}
  - {name: ramp-4, id: 4, model: agg-48, serial: FT-0004}
";

fn codes(new: &str) -> Vec<&'static str> {
    faults(new, Some(OLD)).into_iter().map(|(code, _)| code).collect()
}

/// What is not written again of the same box is as it was.
#[test]
fn what_is_left_out_is_unchanged() {
    let bare = OLD.replace(", serial: FT-0001, mac: 00-00-5E-00-53-01", "").replace(", serial: FT-0002", "");
    let problem = lowered(&bare.replace("standby, model: agg-48", "standby"), Some(OLD));
    assert!(problem.units.iter().all(|unit| unit.status == Status::Live));
    let (one, two) = (&problem.units[0], &problem.units[1]);
    assert_eq!((one.serial.as_deref(), one.mac.as_deref()), (Some("FT-0001"), Some("00-00-5E-00-53-01")));
    assert_eq!((two.serial.as_deref(), two.model.as_deref()), (Some("FT-0002"), Some("agg-48")));
    let ports: Vec<&str> = two.stacking_ports.iter().map(PortName::as_str).collect();
    assert_eq!(ports, ["49", "50", "51", "52", "53", "54"]);
    assert_eq!(problem.baseline, problem.target);
}

#[test]
fn a_serial_number_that_becomes_known_is_documentation() {
    let known = OLD.replace("id: 3, model: agg-48}", "id: 3, model: agg-48, serial: FT-0003}");
    let problem = lowered(&known, Some(OLD));
    assert!(problem.delta.replaced.is_empty() && problem.units.len() == 4);
    assert_eq!(problem.units[2].serial.as_deref(), Some("FT-0003"));
}

#[test]
fn of_a_new_box_nothing_is_known_but_what_is_written() {
    let new = OLD.replace("FT-0001, mac: 00-00-5E-00-53-01", "FT-0011");
    let problem = lowered(&new, Some(OLD));
    let entry = |key: &str| problem.units.iter().find(|unit| unit.key == key).expect("a box");
    assert_eq!(entry("ramp-1@FT-0001").mac.as_deref(), Some("00-00-5E-00-53-01"));
    assert_eq!(entry("ramp-1@FT-0011").mac, None);
    let message = "ramp-2 needs `sides`, since no model says which of its ports can stack".to_owned();
    assert_eq!(
        faults(&OLD.replace("model: agg-48, serial: FT-0002", "serial: FT-0012"), Some(OLD)),
        [("sides-unknown", message)]
    );
}

#[test]
fn a_model_or_an_address_of_another_box_asks_for_the_serial_numbers() {
    let model = OLD.replace("id: 3, model: agg-48}", "id: 3, model: edge-24, sides: {west: ['25'], east: ['26']}}");
    let message = "the model of ramp-3 is edge-24 here and agg-48 as the stack stands, and a box keeps its model";
    assert!(faults(&model, Some(OLD)).contains(&("which-box", message.to_owned())));
    assert_eq!(codes(&OLD.replace("00-00-5E-00-53-01", "00-00-5E-00-53-09")), ["which-box"]);
    // the address of the old box on the new one, and on another member
    assert_eq!(codes(&OLD.replace("FT-0001", "FT-0011")), ["which-box"]);
    let swapped = OLD.replace(", mac: 00-00-5E-00-53-01", "").replace("FT-0002", "FT-0002, mac: 00-00-5e-00-53-01");
    assert_eq!(codes(&swapped), ["which-box"]);
    // the same address in another spelling, and one that becomes known, say nothing
    let spelt =
        OLD.replace("00-00-5E-00-53-01", "00:00:5e:00:53:01").replace("FT-0002", "FT-0002, mac: 00-00-5E-00-53-02");
    assert_eq!(lowered(&spelt, Some(OLD)).units.len(), 4);
}

/// The same id between the same neighbours under a new name: renamed, or replaced? Both are said otherwise.
#[test]
fn a_new_name_at_the_same_place_is_asked_about() {
    let message = "quay-3 has the id and the place of ramp-3, and what takes a member's place keeps its name";
    let asked = [("name-changes", message.to_owned())];
    assert_eq!(faults(&OLD.replace("ramp-3", "quay-3"), Some(OLD)), asked);
    let with_serial = OLD.replace("ramp-3, id: 3, model: agg-48", "quay-3, id: 3, model: agg-48, serial: FT-0009");
    assert_eq!(faults(&with_serial, Some(OLD)), asked);
    // all of them at once: the neighbours are known by their old names
    assert_eq!(
        codes(&OLD.replace("ramp-2", "quay-2").replace("ramp-3", "quay-3"))[..],
        ["serial-moves", "name-changes"]
    );
    // the box itself says that it is the same one
    assert_eq!(codes(&OLD.replace("ramp-4", "quay-4")), ["serial-moves"]);
}

#[test]
fn one_member_out_and_another_in_is_no_question() {
    let renumbered = OLD.replace("ramp-3, id: 3", "quay-9, id: 9");
    let problem = lowered(&renumbered, Some(OLD));
    assert_eq!(
        (&problem.delta.added[..], &problem.delta.removed[..]),
        (&["quay-9".into()][..], &["ramp-3".into()][..])
    );
    // the same id, and another place in the ring
    let mut lines: Vec<&str> = OLD.lines().collect();
    let gone = lines.remove(4);
    let newcomer = gone.replace("ramp-3", "quay-3");
    lines.push(&newcomer);
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    let problem = lowered(&text, Some(OLD));
    let of_three: Vec<(&str, Status)> =
        problem.units.iter().filter(|unit| unit.id.0 == 3).map(|unit| (unit.key.as_str(), unit.status)).collect();
    assert_eq!(of_three, [("quay-3", Status::Joining), ("ramp-3", Status::Leaving)]);
    let running =
        |key: &str| problem.target.units.get(key).and_then(|unit| unit.running.as_ref()).map(|unit| unit.id.0);
    assert_eq!((running("quay-3"), running("ramp-3")), (Some(3), None));
}
