//! What the templates of facts see, made up: each field alone, so that words which stay the same have dropped it.

use std::collections::BTreeMap;

use super::scopes::{Exercise, Scope, Values, of_fact, values};
use crate::render::{ActingUnit, EndView, FactView, PortView};

/// The members of a stack, in the order of their ids.
pub(super) const MEMBERS: [u16; 3] = [60_111, 60_112, 60_113];

/// A fact of which nothing is known yet.
fn unit(v: &Values) -> FactView {
    FactView::Unit {
        unit: v.unit.clone(),
        powered: None,
        id: None,
        saved_id: None,
        priority: None,
        role: None,
        waiting: None,
        ready: None,
        serial: None,
        mac: None,
        model: None,
        keys: BTreeMap::new(),
        stacks: None,
    }
}

/// One field of a fact: its name, and the fact with each of the values that it can have.
type Field = (&'static str, &'static str, Vec<FactView>);

/// Every field of every fact that the platform can show.
pub(super) fn exercises(shown: &dyn Fn(&str, &str) -> bool) -> Vec<Exercise> {
    let all =
        [here(), units(), units_states(), units_habits(), ports(), links(), uplinks(), admitted(), others()].concat();
    all.into_iter().filter(|(fact, field, _)| shown(fact, field)).filter_map(exercise).collect()
}

fn exercise((fact, field, facts): Field) -> Option<Exercise> {
    let mut scopes = facts.into_iter().map(|fact| Scope::Fact(Box::new(fact)));
    let scope = scopes.next()?;
    let changed = scopes.map(|scope| (field, scope)).collect();
    Some(Exercise { template: of_fact(fact), place: "look", scope, changed })
}

fn here() -> Vec<Field> {
    let here = |id: Option<u16>, serial: Option<&str>, members: Option<[u16; 3]>| FactView::Here {
        id,
        serial: serial.map(str::to_owned),
        members: members.map(Vec::from),
    };
    let members = |changed| here(None, None, Some(changed));
    let [one, two, three] = MEMBERS;
    let others = [[61_111, two, three], [one, 61_111, three], [one, two, 61_111]].map(members);
    let lists = std::iter::once(members(MEMBERS)).chain(others).collect();
    vec![
        ("here", "id", vec![here(Some(60_110), None, None), here(Some(61_110), None, None)]),
        ("here", "serial", vec![here(None, Some("Userq"), None), here(None, Some("Xserq"), None)]),
        ("here", "members", lists),
    ]
}

/// The same fact with one more thing known of it.
fn with(fact: FactView, change: impl Fn(&mut FactView)) -> FactView {
    let mut fact = fact;
    change(&mut fact);
    fact
}

fn units() -> Vec<Field> {
    let v = values();
    let other = Values { unit: ActingUnit { key: "Xkeyq".into(), id: 61_101, ..v.unit.clone() }, ..v.clone() };
    let powered = |v: &Values| {
        with(unit(v), |fact| {
            if let FactView::Unit { powered, .. } = fact {
                *powered = Some(true)
            }
        })
    };
    let number = |text: &'static str, value: u16| {
        with(unit(&v), move |fact| {
            if let FactView::Unit { id, saved_id, priority, .. } = fact {
                match text {
                    "id" => *id = Some(value),
                    "saved_id" => *saved_id = Some(value),
                    _ => *priority = Some(value.into()),
                }
            }
        })
    };
    let text = |name: &'static str, value: &str| {
        let value = value.to_owned();
        with(unit(&v), move |fact| {
            if let FactView::Unit { serial, mac, model, role, .. } = fact {
                match name {
                    "serial" => *serial = Some(value.clone()),
                    "mac" => *mac = Some(value.clone()),
                    "model" => *model = Some(value.clone()),
                    _ => *role = Some(value.clone()),
                }
            }
        })
    };
    let pair = |name, one: &str, other: &str| ("unit", name, vec![text(name, one), text(name, other)]);
    vec![
        ("unit", "unit", vec![powered(&v), powered(&other)]),
        ("unit", "id", vec![number("id", 60_121), number("id", 61_121)]),
        ("unit", "saved_id", vec![number("saved_id", 60_122), number("saved_id", 61_122)]),
        ("unit", "saved_id and not id", vec![number("saved_id", 60_122), number("id", 60_122)]),
        ("unit", "priority", vec![number("priority", 60_123), number("priority", 61_123)]),
        ("unit", "role", vec![text("role", "primary"), text("role", "standby"), text("role", "member")]),
        ("unit", "role", vec![text("role", "standby"), text("role", "member")]),
        pair("serial", "Factserq", "Xserq"),
        pair("mac", "Factmacq", "Xmacq"),
        pair("model", "Factmodelq", "Xmodelq"),
    ]
}

/// What is so or not so of a unit.
fn units_states() -> Vec<Field> {
    let v = values();
    let state = |name: &'static str, value: bool| {
        with(unit(&v), move |fact| {
            if let FactView::Unit { powered, waiting, ready, .. } = fact {
                match name {
                    "powered" => *powered = Some(value),
                    "waiting" => *waiting = Some(value),
                    _ => *ready = Some(value),
                }
            }
        })
    };
    ["powered", "waiting", "ready"].map(|name| ("unit", name, vec![state(name, true), state(name, false)])).into()
}

/// What only wider habits bring.
fn units_habits() -> Vec<Field> {
    let v = values();
    let mode = |value: bool| {
        with(unit(&v), move |fact| {
            if let FactView::Unit { stacks, .. } = fact {
                *stacks = Some(value)
            }
        })
    };
    let equal = |pairs: &[(&str, &str)]| {
        let all: BTreeMap<String, String> = pairs.iter().map(|(key, value)| ((*key).into(), (*value).into())).collect();
        with(unit(&v), move |fact| {
            if let FactView::Unit { keys, .. } = fact {
                keys.clone_from(&all);
            }
        })
    };
    let first = equal(&[("Key1q", "Value1q"), ("Key2q", "Value2q")]);
    let others = [
        equal(&[("Key0q", "Value1q"), ("Key2q", "Value2q")]),
        equal(&[("Key1q", "Xvalueq"), ("Key2q", "Value2q")]),
        equal(&[("Key1q", "Value1q"), ("Key2q", "Xvalueq")]),
    ];
    let keys = std::iter::once(first).chain(others).collect();
    vec![("unit", "stacks", vec![mode(true), mode(false)]), ("unit", "keys", keys)]
}

/// Whom a stack was told of.
fn admitted() -> Vec<Field> {
    let ids = |ids: [u16; 3]| FactView::Admitted { ids: Some(ids.to_vec()), serials: None };
    let serials = |serials: [&str; 2]| FactView::Admitted {
        ids: None,
        serials: Some(serials.iter().map(|serial| (*serial).to_owned()).collect()),
    };
    let [one, two, three] = MEMBERS;
    vec![
        (
            "admitted",
            "ids",
            vec![ids(MEMBERS), ids([61_111, two, three]), ids([one, 61_111, three]), ids([one, two, 61_111])],
        ),
        (
            "admitted",
            "serials",
            vec![serials(["Ser1q", "Ser2q"]), serials(["Xserq", "Ser2q"]), serials(["Ser1q", "Xserq"])],
        ),
    ]
}

fn ports() -> Vec<Field> {
    let v = values();
    let port = |port: &PortView, side: Option<&str>, side_known: bool| FactView::Port {
        port: port.clone(),
        enabled: None,
        side_known,
        side: side.map(str::to_owned),
        active: None,
        lit: None,
    };
    let state = |name: &'static str, value: bool| {
        with(port(&v.port, None, false), move |fact| {
            if let FactView::Port { enabled, active, lit, .. } = fact {
                match name {
                    "enabled" => *enabled = Some(value),
                    "active" => *active = Some(value),
                    _ => *lit = Some(value),
                }
            }
        })
    };
    let states = ["enabled", "active", "lit"].map(|name| ("port", name, vec![state(name, true), state(name, false)]));
    let sides =
        vec![port(&v.port, Some("Sideq"), true), port(&v.port, Some("Xsideq"), true), port(&v.port, None, true)];
    let named = vec![port(&v.port, Some("Sideq"), true), port(&v.other, Some("Sideq"), true)];
    let neighbour =
        |near: &PortView, far: Option<&PortView>| FactView::Neighbour { near: near.clone(), far: far.cloned() };
    let seen = |far| neighbour(&v.port, far);
    let plug = |near: &PortView, serial: Option<&str>| FactView::Plug {
        near: near.clone(),
        serial: serial.map(str::to_owned),
    };
    // the same socket of another unit, and another socket of the same unit
    let moved = PortView { unit: "Xunitq".into(), interface: "Xfaceq".into(), ..v.port.clone() };
    let beside = PortView { port: "Xnumq".into(), interface: "Xfaceq".into(), ..v.port.clone() };
    let mut fields = Vec::from(states);
    for (name, changed) in [("port.unit", &moved), ("port.port", &beside)] {
        fields.extend([
            ("port", name, vec![port(&v.port, Some("Sideq"), true), port(changed, Some("Sideq"), true)]),
            ("neighbour", name, vec![seen(Some(&v.other)), neighbour(changed, Some(&v.other))]),
            ("plug", name, vec![plug(&v.port, Some("Plugq")), plug(changed, Some("Plugq"))]),
        ]);
    }
    fields.extend([
        ("port", "side", sides),
        ("port", "port", named),
        ("neighbour", "near", vec![seen(Some(&v.other)), neighbour(&v.legs[0], Some(&v.other))]),
        ("neighbour", "far", vec![seen(Some(&v.other)), seen(Some(&v.legs[0])), seen(None)]),
        ("plug", "near", vec![plug(&v.port, Some("Plugq")), plug(&v.other, Some("Plugq"))]),
        ("plug", "serial", vec![plug(&v.port, Some("Plugq")), plug(&v.port, Some("Xplugq")), plug(&v.port, None)]),
    ]);
    fields
}

fn links() -> Vec<Field> {
    let v = values();
    let end = |port: &PortView| EndView::Unit { port: port.clone() };
    let (one, other, third) = (end(&v.port), end(&v.other), end(&v.legs[0]));
    let far = EndView::Far { uplink: v.uplink.clone(), device: None, device_port: None };
    let other_far = EndView::Far { uplink: "Xpairq".into(), device: None, device_port: None };
    let link = |a: &EndView, b: &EndView, is: &str| FactView::Link { ends: [a.clone(), b.clone()], is: is.to_owned() };
    let cable = |a: &EndView, b: &EndView, plugged| FactView::Cable { ends: [a.clone(), b.clone()], plugged };
    let is = |all: &[&str]| all.iter().map(|is| link(&one, &other, is)).collect::<Vec<_>>();
    vec![
        ("link", "is", is(&["stack", "unmatched", "stray", "none"])),
        ("link", "is", is(&["unmatched", "stray", "none"])),
        ("link", "is", is(&["stray", "none"])),
        ("link", "ends[0]", vec![link(&one, &other, "stack"), link(&third, &other, "stack")]),
        ("link", "ends[1]", vec![link(&one, &other, "stack"), link(&one, &third, "stack"), link(&one, &far, "stack")]),
        ("link", "ends[1].uplink", vec![link(&one, &far, "stack"), link(&one, &other_far, "stack")]),
        ("cable", "ends[1].uplink", vec![cable(&one, &far, true), cable(&one, &other_far, true)]),
        ("cable", "plugged", vec![cable(&one, &other, true), cable(&one, &other, false)]),
        ("cable", "ends[0]", vec![cable(&one, &other, true), cable(&third, &other, true)]),
        ("cable", "ends[1]", vec![cable(&one, &other, true), cable(&one, &third, true), cable(&one, &far, true)]),
    ]
}

fn uplinks() -> Vec<Field> {
    let v = values();
    let uplink = |name: &str, legs: bool, ports: &[PortView]| FactView::Uplink {
        uplink: name.to_owned(),
        legs: legs.then(|| ports.to_vec()),
        carrying: (!legs).then(|| ports.to_vec()),
    };
    let all = |legs: bool| {
        let mut fewer = v.legs.to_vec();
        fewer.truncate(2);
        let [one, two, three] = v.legs.clone();
        let (first, middle) = ([v.port.clone(), two.clone(), three.clone()], [one, v.port.clone(), three]);
        let texts = [&v.legs[..], &fewer, &first, &middle, &[]];
        texts.map(|ports| uplink("Pairq", legs, ports)).to_vec()
    };
    vec![
        ("uplink", "uplink", vec![uplink("Pairq", true, &v.legs), uplink("Xpairq", true, &v.legs)]),
        ("uplink", "legs", all(true)),
        ("uplink", "carrying", all(false)),
        ("uplink", "carrying and not legs", vec![uplink("Pairq", true, &v.legs), uplink("Pairq", false, &v.legs)]),
    ]
}

fn others() -> Vec<Field> {
    let v = values();
    let guard = |uplink: Option<&str>| FactView::Guard { uplink: uplink.map(str::to_owned) };
    let saved = |v: &Values, saved| FactView::Saved { unit: v.unit.clone(), saved };
    let other = Values { unit: ActingUnit { key: "Xkeyq".into(), id: 61_101, ..v.unit.clone() }, ..v.clone() };
    let ask = |text: &str| FactView::Ask { text: text.to_owned() };
    vec![
        ("guard", "uplink", vec![guard(Some("Pairq")), guard(Some("Xpairq")), guard(None)]),
        ("saved", "saved", vec![saved(&v, true), saved(&v, false)]),
        ("saved", "unit", vec![saved(&v, true), saved(&other, true)]),
        ("ask", "text", vec![ask("Textq"), ask("Xtextq")]),
    ]
}
