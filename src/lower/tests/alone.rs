//! An intent that will be read by itself says the same then, once its warnings are heeded.

use super::*;

/// Two cables from ramp-1 to ramp-2, in ports that nobody would derive.
const OLD: &str = "topology: chain
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48, sides: {east: ['53', '54']}}
  - {name: ramp-2, id: 2, role: standby, model: agg-48, sides: {west: ['51', '52'], east: ['50']}}
  - {name: ramp-3, id: 3, model: agg-48, sides: {west: ['49']}}
";

/// ramp-2 leaves, and nothing is said of the sides of those who stay.
const NEW: &str = "topology: chain
members:
  - {name: ramp-1, id: 1, role: primary, model: agg-48}
  - {name: ramp-3, id: 3, model: agg-48}
";

#[test]
fn sides_that_only_the_stack_as_it_stands_knows_are_to_be_written() {
    let told = warnings(NEW, Some(OLD));
    let message = |name| format!("read by itself, this intent does not say the ports that the sides of {name} keep");
    let help = |west, east| format!("add `sides: {{west: [{west}], east: [{east}]}}`");
    let expected = [(message("ramp-1"), help("", "\"53\", \"54\"")), (message("ramp-3"), help("\"49\", \"50\"", ""))];
    assert_eq!(told, expected);
    let mut heeded = NEW.to_owned();
    for (name, (_, help)) in [("ramp-1", &told[0]), ("ramp-3", &told[1])] {
        let sides = help.trim_start_matches("add `").trim_end_matches('`');
        let line = NEW.lines().find(|line| line.contains(name)).expect("the member");
        heeded = heeded.replace(line, &line.replace('}', &format!(", {sides}}}")));
    }
    assert_eq!(warnings(&heeded, Some(OLD)), []);
    assert_eq!(lowered(&heeded, None).target.cables, lowered(NEW, Some(OLD)).target.cables);
}

#[test]
fn what_the_intent_derives_by_itself_needs_no_word() {
    let plain = |text: &str| {
        text.lines().map(|line| line.split(", sides").next().unwrap_or(line)).collect::<Vec<_>>().join("}\n")
    };
    let three = plain(OLD).replace("chain}", "chain").replace("members:}", "members:") + "}\n";
    assert_eq!(warnings(&three.replace("chain", "ring"), Some(&three)), []);
    assert_eq!(warnings(&three, Some(&three.replace("chain", "ring"))), []);
    assert_eq!(warnings(NEW, None), []);
}

/// A list of disabled ports disables none: it tells of a stack as it stands.
#[test]
fn a_port_that_stays_enabled_is_not_disabled_by_a_list() {
    let listed = OLD.replace("sides: {west: ['49']}", "sides: {west: ['49']}, disabled_ports: ['51', '10']");
    let message = "port `51` of ramp-3 stays enabled, and is listed as disabled".to_owned();
    let help = "take it off the list, or disable it once the change is done".to_owned();
    assert_eq!(warnings(&listed, Some(OLD)), [(message.clone(), help.clone())]);
    assert_eq!(warnings(&listed, None), [(message, help)]);
    assert_eq!(warnings(&listed, Some(&listed)), []);
}
