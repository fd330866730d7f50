//! What failed members leave behind, worked out by hand from the text of the model.

use super::*;
use crate::model::naming::setting;
use crate::model::progress::Situation;

/// A chain of four, cabled 50 to 49; the derived priorities are 100, 99, 80 and 74.
const CHAIN: &str = "topology: chain
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, serial: FT-0001}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, serial: FT-0002}
  - {name: ramp-3, id: 3, model: agg-48, serial: FT-0003}
  - {name: ramp-4, id: 4, model: agg-48, serial: FT-0004}
";

fn without(member: &str, text: &str) -> String {
    text.lines().filter(|line| !line.contains(member)).map(|line| format!("{line}\n")).collect()
}

fn dead(names: &str) -> String {
    format!("change: {{dead: [{names}]}}\n")
}

fn leaders(problem: &Problem) -> Vec<&str> {
    let units = problem.baseline.units.iter().filter(|(_, unit)| unit.primary);
    units.map(|(key, _)| key.as_str()).collect()
}

/// Members of the incumbent island, and its primary, as the judge reads the baseline.
fn incumbent(problem: &Problem) -> (Vec<String>, Option<String>) {
    let setting = setting(&problem.documents()).expect("a setting");
    let start = Situation::start(&setting);
    let leader = start.memory.leader.map(|unit| setting.units[unit].key.clone());
    (setting.keys(start.incumbent(&setting)), leader)
}

#[test]
fn a_dead_primary_leaves_its_standby_in_the_lead() {
    let target = CHAIN.replace("FT-0001", "FT-0011") + &dead("ramp-1");
    let problem = lowered(&target, Some(CHAIN));
    let gone = problem.baseline.units.get("ramp-1@FT-0001").expect("the dead box");
    assert!(!gone.powered && !gone.primary && !gone.waiting && gone.copy && gone.running.is_none());
    let saved = gone.saved.as_ref().expect("what it had saved");
    assert_eq!((saved.id.0, saved.priority.0), (1, 100));
    assert_eq!(bound(&problem.baseline, "ramp-1@FT-0001"), [("50".to_owned(), "east")]);
    let plugged = [("ramp-1@FT-0001:50", "ramp-2:49"), ("ramp-2:50", "ramp-3:49"), ("ramp-3:50", "ramp-4:49")];
    assert_eq!(problem.baseline.cables, plugged.map(|(one, other)| cable(one, other)));
    assert_eq!(leaders(&problem), ["ramp-2"]);
    for name in ["ramp-2", "ramp-3", "ramp-4"] {
        let unit = problem.baseline.units.get(name).expect(name);
        assert!(unit.powered && unit.copy && !unit.waiting && unit.booted_at == 0, "{name}");
    }
    assert_eq!(incumbent(&problem).1.as_deref(), Some("ramp-2"));
    let new = problem.baseline.units.get("ramp-1@FT-0011").expect("the new box");
    assert!(!new.powered && new.saved.as_ref().is_some_and(|saved| saved.id.0 == 1 && saved.priority.0 == 1));
    assert_eq!(problem.change.dead, ["ramp-1"]);
}

#[test]
fn what_a_dead_member_cuts_off_elects_its_own_primary() {
    let target = without("ramp-2", CHAIN) + &dead("ramp-2");
    let problem = lowered(&target, Some(CHAIN));
    assert_eq!(leaders(&problem), ["ramp-1", "ramp-3"]);
    assert_eq!(incumbent(&problem), (vec!["ramp-1".to_owned()], Some("ramp-1".to_owned())));
    let status: Vec<(&str, Status)> = problem.units.iter().map(|unit| (unit.key.as_str(), unit.status)).collect();
    let (live, leaving) = (Status::Live, Status::Leaving);
    assert_eq!(status, [("ramp-1", live), ("ramp-2", leaving), ("ramp-3", live), ("ramp-4", live)]);
    let gone = problem.target.units.get("ramp-2").expect("the dead box");
    assert!(
        !gone.powered
            && problem.target.cables
                == [("ramp-1:50", "ramp-3:49"), ("ramp-3:50", "ramp-4:49")].map(|(one, other)| cable(one, other))
    );
}

/// In a ring nobody is cut off by one that fails; by two that are no neighbours, somebody is.
#[test]
fn a_ring_falls_apart_only_where_two_have_failed() {
    let ring = CHAIN.replace("topology: chain", "topology: ring");
    let one = lowered(&(without("ramp-3", &ring) + &dead("ramp-3")), Some(&ring));
    assert_eq!(leaders(&one), ["ramp-1"]);
    assert_eq!(incumbent(&one).0, ["ramp-1", "ramp-2", "ramp-4"]);
    let handed = without("ramp-1", &without("ramp-3", &ring)).replace("standby", "primary");
    let two = lowered(&(handed + &dead("ramp-1, ramp-3")), Some(&ring));
    assert_eq!(leaders(&two), ["ramp-2", "ramp-4"]);
    // of several islands the one counts that the holder of the primary's role leads
    assert_eq!(incumbent(&two), (vec!["ramp-2".to_owned()], Some("ramp-2".to_owned())));
}

#[test]
fn who_leads_is_asked_where_nothing_says_it() {
    let even = CHAIN.replace("role: standby", "priority: 85").replace("id: 3,", "id: 3, priority: 85,");
    let target = CHAIN.replace("FT-0001", "FT-0011") + &dead("ramp-1");
    let message = "with `ramp-1` off, nothing says whether `ramp-2` or `ramp-3` leads now";
    assert_eq!(faults(&target, Some(&even)), [("leader-unknown", message.to_owned())]);
    let known = target.replace("serial: FT-0003", "serial: FT-0003, mac: 00-00-5E-00-53-03");
    assert_eq!(leaders(&lowered(&known, Some(&even))), ["ramp-3"]);
}

/// Two that tie while both are up say nothing of the island that is left once both, or one of them, are off.
#[test]
fn the_dead_take_part_in_no_election() {
    let even = CHAIN.replace("role: standby", "priority: 85").replace("id: 3,", "id: 3, priority: 85,");
    let target = without("ramp-3", CHAIN).replace("FT-0001", "FT-0011") + &dead("ramp-1, ramp-3");
    assert_eq!(leaders(&lowered(&target, Some(&even))), ["ramp-2", "ramp-4"]);
}

#[test]
fn a_failed_box_without_a_serial_number_cannot_be_told_from_the_new_one() {
    let old = CHAIN.replace(", serial: FT-0002", "");
    let found = faults(&(CHAIN.to_owned() + &dead("ramp-2")), Some(&old));
    assert_eq!(found, [("dead-kept", "ramp-2 has failed, and must leave or be replaced".to_owned())]);
}

#[test]
fn a_stack_of_which_nobody_runs_is_a_new_stack() {
    let old = "topology: chain\nmembers:\n  - {name: ramp-1, id: 1, role: primary, model: agg-48, serial: FT-0001}\n";
    let found = faults(&(old.replace("FT-0001", "FT-0002") + &dead("ramp-1")), Some(old));
    assert_eq!(found.iter().map(|(code, _)| *code).collect::<Vec<_>>(), ["nobody-alive"]);
}
