//! Sides that are derived while links move: what is in use stays, what is new takes the first free port.

use super::*;

/// A ring of four, all of it derived: west 49, east 50.
const RING: &str = "topology: ring
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, serial: FT-0001}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, serial: FT-0002}
  - {name: ramp-3, id: 3, model: agg-48, serial: FT-0003}
  - {name: ramp-4, id: 4, model: agg-48, serial: FT-0004}
";

/// Two cables from ramp-1 to ramp-2, one from there to ramp-3.
const DOUBLE: &str = "topology: chain
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, sides: {east: ['53', '54']}}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, sides: {west: ['51', '52'], east: ['50']}}
  - {name: ramp-3, id: 3, model: agg-48, sides: {west: ['49']}}
";

/// The same members without a word on their sides.
fn derived(text: &str) -> String {
    let bare = |line: &str| line.split_once(", sides:").map_or(line.to_owned(), |(start, _)| format!("{start}}}"));
    text.lines().map(|line| bare(line) + "\n").collect()
}

fn without(member: &str, text: &str) -> String {
    text.lines().filter(|line| !line.contains(member)).map(|line| format!("{line}\n")).collect()
}

fn sides(state: &StateDocument, unit: &str) -> String {
    bound(state, unit).into_iter().map(|(port, side)| format!("{side} {port}")).collect::<Vec<_>>().join(", ")
}

fn cables(state: &StateDocument) -> Vec<String> {
    state.cables.iter().map(|ends| ends.join(" ")).collect()
}

#[test]
fn a_ring_that_opens_releases_two_ports() {
    let problem = lowered(&RING.replace("topology: ring", "topology: chain"), Some(RING));
    assert_eq!(cables(&problem.target), ["ramp-1:50 ramp-2:49", "ramp-2:50 ramp-3:49", "ramp-3:50 ramp-4:49"]);
    assert_eq!(
        (sides(&problem.target, "ramp-1"), sides(&problem.target, "ramp-4")),
        ("east 50".into(), "west 49".into())
    );
    for (unit, port, enabled) in [("ramp-1", "49", false), ("ramp-4", "50", false), ("ramp-1", "51", true)] {
        assert_eq!(port_of(&problem.target, unit, port).enabled, enabled, "{unit}:{port}");
    }
    assert_eq!(problem.delta.cables_removed, [cable("ramp-1:49", "ramp-4:50")]);
}

#[test]
fn the_neighbours_of_one_that_leaves_keep_their_ports() {
    let problem = lowered(&without("ramp-3", RING), Some(RING));
    assert_eq!(cables(&problem.target), ["ramp-1:49 ramp-4:50", "ramp-1:50 ramp-2:49", "ramp-2:50 ramp-4:49"]);
    for unit in ["ramp-1", "ramp-2", "ramp-4"] {
        assert_eq!(problem.baseline.units.get(unit), problem.target.units.get(unit), "{unit}");
    }
    let gone = problem.target.units.get("ramp-3").expect("the one that leaves");
    assert!(!gone.powered && gone.running.is_none());
    assert_eq!(
        problem.units.iter().map(|unit| unit.status == Status::Leaving).collect::<Vec<_>>(),
        [false, false, true, false]
    );
}

/// Both cables of ramp-1 stay where they are; the second one needs a port on the other side.
#[test]
fn where_neighbours_had_unlike_counts_no_port_in_use_is_given_up() {
    let problem = lowered(&derived(&without("ramp-2", DOUBLE)), Some(DOUBLE));
    assert_eq!(cables(&problem.target), ["ramp-1:53 ramp-3:49", "ramp-1:54 ramp-3:50"]);
}

/// One end that is written says which of two cables is meant.
#[test]
fn the_other_end_of_a_written_port_is_where_its_cable_is() {
    let keep = |west: &str| {
        let text = derived(DOUBLE).replace(
            "id: 2, role: standby, model: agg-48}",
            &format!("id: 2, role: standby, model: agg-48, sides: {{west: [{west}], east: ['50']}}}}"),
        );
        lowered(&text, Some(DOUBLE))
    };
    let second = keep("'52'");
    assert_eq!(cables(&second.target), ["ramp-1:54 ramp-2:52", "ramp-2:50 ramp-3:49"]);
    assert_eq!(second.delta.cables_removed, [cable("ramp-1:53", "ramp-2:51")]);
    assert!(!port_of(&second.target, "ramp-1", "53").enabled);
    let turned = keep("'52', '51'");
    assert_eq!(turned.baseline.cables, turned.target.cables);
    let moved = keep("'49'");
    assert_eq!(cables(&moved.target), ["ramp-1:53 ramp-2:49", "ramp-2:50 ramp-3:49"]);
}

#[test]
fn one_in_the_middle_takes_what_its_neighbours_have() {
    let chain = RING.replace("topology: ring", "topology: chain");
    let middle = chain.replace("  - {name: ramp-2", "  - {name: ramp-9, id: 9, model: agg-48}\n  - {name: ramp-2");
    let problem = lowered(&middle, Some(&chain));
    assert_eq!(cables(&problem.target)[..2], ["ramp-1:50 ramp-9:49", "ramp-2:49 ramp-9:50"]);
    assert_eq!(problem.delta.cables_removed, [cable("ramp-1:50", "ramp-2:49")]);
    assert_eq!(problem.baseline.units.get("ramp-2"), problem.target.units.get("ramp-2"));
}

/// The leg takes port 49; the link that was in it goes to the first port that is free, 51.
#[test]
fn a_link_makes_room_for_a_leg() {
    let legs =
        "uplink_pairs:\n  - {name: border, legs: [{member: ramp-1, port: '47'}, {member: ramp-2, port: '47'}]}\n";
    let (old, new) = (format!("{RING}{legs}"), format!("{RING}{}", legs.replacen("'47'", "'49'", 1)));
    let problem = lowered(&new, Some(&old));
    assert_eq!(sides(&problem.target, "ramp-1"), "east 50, west 51");
    let leg = port_of(&problem.target, "ramp-1", "49");
    assert_eq!((leg.enabled, leg.side), (true, Side::None));
    assert!(port_of(&problem.target, "ramp-1", "47").enabled, "a leg no more, and as it was");
    assert!(problem.target.cables.contains(&cable("ramp-1:51", "ramp-4:50")));
}

/// Three cables and four ports: the side that holds none any more gives up what it held.
#[test]
fn what_is_cabled_comes_first_where_ports_are_scarce() {
    let old = "topology: ring
members:
  - {name: dock-1, id: 1, role: primary, model: edge-24, sides: {west: ['25', '26'], east: ['27', '28']}}
  - {name: dock-2, id: 2, model: edge-24, sides: {west: ['25', '26'], east: ['27', '28']}}
  - {name: dock-3, id: 3, model: edge-24, sides: {west: ['25', '26'], east: ['27', '28']}}
";
    let new = derived(&old.replace("topology: ring", "topology: chain"));
    let written = "id: 2, model: edge-24, sides: {west: ['25', '26', '27'], east: ['28']}}";
    let problem = lowered(&new.replace("id: 2, model: edge-24}", written), Some(old));
    let expected = ["dock-1:26 dock-2:27", "dock-1:27 dock-2:25", "dock-1:28 dock-2:26", "dock-2:28 dock-3:26"];
    assert_eq!(cables(&problem.target), expected);
    let five = written.replace("'27'], east: ['28']", "'27', '28'], east: []");
    let pair = without("dock-3", &new).replace("id: 2, model: edge-24}", &five);
    assert_eq!(cables(&lowered(&pair, Some(old)).target).len(), 4);
}

/// The ports of a new box are those of its own model.
#[test]
fn a_box_of_another_model_has_ports_of_its_own() {
    let mut platform = neutral();
    let mut short = platform.models.get("agg-48").expect("the model").clone();
    for (range, (first, last)) in short.ports.iter_mut().zip([("1", "20"), ("21", "24")]) {
        (range.first, range.last) = (PortName::new(first), Some(PortName::new(last)));
    }
    platform.models.insert("agg-20".to_owned(), short);
    let legs =
        "uplink_pairs:\n  - {name: border, legs: [{member: ramp-1, port: '20'}, {member: ramp-3, port: '20'}]}\n";
    let old = format!("{RING}{legs}");
    let new = old.replace("agg-48, serial: FT-0003", "agg-20, serial: FT-0013");
    let problem = lowered_on(&platform, &new, Some(&old));
    let (gone, come) = ("ramp-3@FT-0003", "ramp-3@FT-0013");
    assert_eq!(
        (sides(&problem.baseline, gone), sides(&problem.target, come)),
        ("west 49, east 50".into(), "west 21, east 22".into())
    );
    let listed = |key: &str| {
        let saved = problem.baseline.units.get(key).and_then(|unit| unit.saved.as_ref()).expect("saved settings");
        saved.ports.keys().map(PortName::as_str).collect::<Vec<_>>().join(" ")
    };
    assert_eq!((listed(gone).as_str(), listed(come).as_str()), ("20 49 50 51 52 53 54", "20 21 22 23 24"));
    for (state, key, ports) in [(&problem.baseline, gone, ["49", "50"]), (&problem.target, come, ["21", "22"])] {
        assert!(state.cables.contains(&cable("ramp-2:50", &format!("{key}:{}", ports[0]))));
        assert!(
            state.cables.contains(&cable(&format!("{key}:{}", ports[1]), "ramp-4:49"))
                || state.cables.contains(&cable("ramp-4:49", &format!("{key}:{}", ports[1])))
        );
        assert!(state.cables.contains(&cable("far:border", &format!("{key}:20"))));
    }
    // the leg is the member's, whichever box it has
    assert_eq!(problem.baseline.shared, problem.target.shared);
    let late = new.replace("'20'", "'47'");
    let (new, old) = read(&late, Some(&old.replace("'20'", "'47'")));
    let mut findings = Findings::default();
    assert!(lower(&new, old.as_ref(), &platform, &mut findings).is_err());
    let told: Vec<&str> = findings.all().iter().map(|found| found.message.as_str()).collect();
    assert_eq!(told, ["port `47` is not a port of ramp-3, which has 1-20, 21-24"]);
}
