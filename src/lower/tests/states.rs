//! The states before and after roles, numbers, legs and boxes change, written out from the text of the model.

use super::*;
use crate::model::traits::FactoryPorts;

const TWO: &str = "topology: ring
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, serial: FT-0001, vars: {rack: B01}}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, serial: FT-0002}
  - {name: ramp-3, id: 3, model: agg-48, serial: FT-0003, vars: {rack: B03}}
  - {name: ramp-4, id: 4, model: agg-48, serial: FT-0004}
uplink_pairs:
  - {name: border, legs: [{member: ramp-1, port: '47'}, {member: ramp-3, port: '47'}], capacity_gbps: 20}
  - {name: yard, legs: [{member: ramp-2, port: '48'}, {member: ramp-4, port: '48'}], vars: {vlan: 7}}
split_guard: border
";

/// (running id, running priority, leads) of a unit that is up.
fn acts(state: &StateDocument, key: &str) -> (u16, u32, bool) {
    let unit = state.units.get(key).expect("the unit");
    let running = unit.running.as_ref().expect("it runs");
    let saved = unit.saved.as_ref().expect("it has saved");
    assert_eq!((running.id, running.priority), (saved.id, saved.priority), "what is at rest is saved");
    (running.id.0, running.priority.0, unit.primary)
}

/// Derived priorities: primary 100, standby 99, a member 2 + (16 - id) * 6.
#[test]
fn priorities_follow_the_roles() {
    let moved = TWO.replace("id: 2, role: standby", "id: 2, role: primary").replace("id: 1, role: primary", "id: 1");
    let problem = lowered(&moved.replace("id: 3,", "id: 3, role: standby,"), Some(TWO));
    let before = ["ramp-1", "ramp-2", "ramp-3", "ramp-4"].map(|key| acts(&problem.baseline, key));
    assert_eq!(before, [(1, 100, true), (2, 99, false), (3, 80, false), (4, 74, false)]);
    let after = ["ramp-1", "ramp-2", "ramp-3", "ramp-4"].map(|key| acts(&problem.target, key));
    assert_eq!(after, [(1, 92, false), (2, 100, true), (3, 99, false), (4, 74, false)]);
    assert_eq!(problem.delta.primary_moves, Some(("ramp-1".into(), "ramp-2".into())));
    assert_eq!(problem.delta.reweighted, ["ramp-1", "ramp-2", "ramp-3"]);
    // an explicit one wins over the derived one, before and after
    let heavy = TWO.replace("id: 3,", "id: 3, priority: 60,");
    assert_eq!(acts(&lowered(TWO, Some(&heavy)).baseline, "ramp-3"), (3, 60, false));
    assert_eq!(acts(&lowered(&heavy, Some(TWO)).target, "ramp-3"), (3, 60, false));
}

#[test]
fn two_members_may_change_their_numbers_for_each_other() {
    let swapped = TWO.replace("ramp-3, id: 3", "ramp-3, id: 4").replace("ramp-4, id: 4", "ramp-4, id: 3");
    let problem = lowered(&swapped, Some(TWO));
    assert_eq!(
        (acts(&problem.baseline, "ramp-3"), acts(&problem.baseline, "ramp-4")),
        ((3, 80, false), (4, 74, false))
    );
    assert_eq!((acts(&problem.target, "ramp-3"), acts(&problem.target, "ramp-4")), ((4, 74, false), (3, 80, false)));
    assert_eq!(problem.baseline.cables, problem.target.cables);
    assert_eq!(problem.baseline.shared, problem.target.shared);
    let keys: Vec<&str> = problem.units.iter().map(|unit| unit.key.as_str()).collect();
    assert_eq!(keys, ["ramp-1", "ramp-2", "ramp-4", "ramp-3"]);
    let renumbered = [("ramp-3".to_owned(), MemberId(3), MemberId(4)), ("ramp-4".to_owned(), MemberId(4), MemberId(3))];
    assert_eq!(problem.delta.renumbered, renumbered);
}

/// A new box that also gets another id is a replacement; nobody who runs is renumbered.
#[test]
fn a_new_box_with_another_id_renumbers_nobody() {
    let problem = lowered(&TWO.replace("ramp-3, id: 3", "ramp-3, id: 9").replace("FT-0003", "FT-0013"), Some(TWO));
    assert_eq!(problem.delta.replaced, ["ramp-3"]);
    assert!(problem.delta.renumbered.is_empty() && problem.delta.reweighted.is_empty());
    assert_eq!((acts(&problem.baseline, "ramp-3@FT-0003").0, acts(&problem.target, "ramp-3@FT-0013").0), (3, 9));
}

/// The role of primary goes on with the member: the old box has it before, the new box after.
#[test]
fn a_primary_that_is_replaced() {
    let problem = lowered(&TWO.replace("FT-0001", "FT-0011"), Some(TWO));
    assert_eq!(acts(&problem.baseline, "ramp-1@FT-0001"), (1, 100, true));
    assert_eq!(acts(&problem.target, "ramp-1@FT-0011"), (1, 100, true));
    assert_eq!(problem.delta.primary_moves, None);
    let (gone, come) = (&problem.target.units["ramp-1@FT-0001"], &problem.baseline.units["ramp-1@FT-0011"]);
    assert!(!gone.powered && !gone.primary && !come.powered && !come.primary && !come.copy);
    assert_eq!(problem.baseline.shared, problem.target.shared);
    assert!(problem.baseline.cables.contains(&cable("far:border", "ramp-1@FT-0001:47")));
    assert!(problem.target.cables.contains(&cable("far:border", "ramp-1@FT-0011:47")));
}

#[test]
fn the_legs_of_a_member_that_leaves_go_with_it() {
    let lines = TWO.lines().filter(|line| !line.contains("ramp-3, id")).map(|line| format!("{line}\n"));
    let new = lines.collect::<String>().replace("{member: ramp-3, port: '47'}", "{member: ramp-2, port: '47'}");
    let problem = lowered(&new, Some(TWO));
    let legs = |state: &StateDocument| state.shared.saved.uplinks.get("border").cloned().expect("the pair");
    assert_eq!(
        (legs(&problem.baseline), legs(&problem.target)),
        (vec!["ramp-1:47".to_owned(), "ramp-3:47".to_owned()], vec!["ramp-1:47".to_owned(), "ramp-2:47".to_owned()])
    );
    assert_eq!(problem.delta.uplinks_changed, ["border"]);
    let far = |state: &StateDocument| {
        state.cables.iter().filter(|ends| ends[0] == "far:border").map(|ends| ends[1].clone()).collect::<Vec<_>>()
    };
    assert_eq!((far(&problem.baseline), far(&problem.target)), (legs(&problem.baseline), legs(&problem.target)));
    assert!(problem.target.cables.iter().flatten().all(|end| !end.starts_with("ramp-3:")));
    // what people read of it is kept
    assert_eq!(problem.site.member_vars["ramp-3"]["rack"], "B03");
    assert!(problem.site.speeds.of("ramp-3", &PortName::new("49")).is_some());
}

/// An unbound port keeps the baseline's state: a leg's port was enabled, any other is as out of the box.
#[test]
fn a_leg_that_moves_leaves_its_port_enabled() {
    let mut platform = neutral();
    platform.traits.factory_ports = FactoryPorts::Disabled;
    let new = TWO.replace("{member: ramp-3, port: '47'}", "{member: ramp-3, port: '46'}");
    let problem = lowered_on(&platform, &new, Some(TWO));
    let enabled = |state, port| port_of(state, "ramp-3", port).enabled;
    assert_eq!((enabled(&problem.baseline, "46"), enabled(&problem.baseline, "47")), (false, true));
    assert_eq!((enabled(&problem.target, "46"), enabled(&problem.target, "47")), (true, true));
    assert_eq!((enabled(&problem.baseline, "49"), enabled(&problem.target, "51")), (true, false));
}

#[test]
fn a_pair_and_the_guard_that_go() {
    let start = TWO.split("uplink_pairs").next().unwrap_or_default();
    let kept =
        "uplink_pairs:\n  - {name: border, legs: [{member: ramp-1, port: '47'}, {member: ramp-3, port: '47'}]}\n";
    let problem = lowered(&format!("{start}{kept}"), Some(TWO));
    let names = |state: &StateDocument| state.shared.running.uplinks.keys().cloned().collect::<Vec<_>>().join(" ");
    assert_eq!((names(&problem.baseline), names(&problem.target)), ("border yard".into(), "border".into()));
    assert_eq!(problem.delta.uplinks_dropped, ["yard"]);
    assert_eq!(problem.delta.guard, Some((Some("border".into()), None)));
    assert_eq!(
        (&problem.baseline.shared.saved.guard, &problem.target.shared.saved.guard),
        (&Some("border".into()), &None)
    );
    assert!(problem.target.cables.iter().flatten().all(|end| end != "far:yard"));
    assert_eq!(problem.site.uplink_vars["yard"]["vlan"], 7);
}

/// A pair that carries too little as the stack stands is what a change may be about.
#[test]
fn too_little_capacity_is_a_fault_of_the_target_only() {
    let weak = TWO.replace("capacity_gbps: 20", "capacity_gbps: 200");
    assert!(lowered(TWO, Some(&weak)).delta.uplinks_changed.is_empty());
    assert_eq!(faults(&weak, Some(TWO)).iter().map(|(code, _)| *code).collect::<Vec<_>>(), ["capacity-too-small"]);
}
