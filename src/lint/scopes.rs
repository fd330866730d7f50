//! What the templates of words see, made up for every kind of operation and every fact: each value unlike any other.
//!
//! An [`Exercise`] is one scope, and the same scope with one argument changed at a time. Words that stay the same
//! then have dropped that argument, or hold a number of their own in its place.

use crate::model::document::Action;
use crate::model::traits::{ActivationScope, SaveScope, Traits};
use crate::platform::Platform;
use crate::render::{
    ActingUnit, CableView, EndView, FactView, OperationView, PlaceView, PortView, WordsScope, fact_template,
    step_template,
};

/// What a template of words sees.
#[derive(Clone, Debug)]
pub(super) enum Scope {
    /// A step's template.
    Step(Box<WordsScope>),
    /// A fact's template.
    Fact(Box<FactView>),
}

/// One scope of a template, and what must make a difference in it.
#[derive(Clone, Debug)]
pub(super) struct Exercise {
    /// The template.
    pub(super) template: String,
    /// Where the step is done, in words.
    pub(super) place: &'static str,
    /// What it sees.
    pub(super) scope: Scope,
    /// The same with one argument changed, by the argument's name.
    pub(super) changed: Vec<(&'static str, Scope)>,
}

/// The values that are put into a scope.
#[derive(Clone, Debug)]
pub(super) struct Values {
    pub(super) unit: ActingUnit,
    pub(super) port: PortView,
    pub(super) other: PortView,
    pub(super) id: u16,
    pub(super) priority: u32,
    pub(super) side: String,
    pub(super) uplink: String,
    pub(super) device: String,
    pub(super) device_port: String,
    pub(super) until: &'static str,
    pub(super) limit: String,
    pub(super) cable: CableView,
    pub(super) spare: bool,
    pub(super) legs: [PortView; 3],
    pub(super) checks: [String; 3],
    pub(super) key: String,
    pub(super) value: String,
    pub(super) stacks: bool,
    pub(super) ticket: String,
}

/// Values of which none is part of another.
pub(super) fn values() -> Values {
    let port = |unit: &str, port: &str, interface: &str| PortView {
        unit: unit.to_owned(),
        port: port.to_owned(),
        interface: interface.to_owned(),
    };
    let unit = ActingUnit {
        key: "Ukeyq".to_owned(),
        id: 60_101,
        serial: Some("Userq".to_owned()),
        rack: Some("Urackq".to_owned()),
        height_unit: Some("Uheightq".to_owned()),
    };
    Values {
        unit,
        port: port("Punitq", "Pnumq", "Pfaceq"),
        other: port("Ounitq", "Onumq", "Ofaceq"),
        id: 60_202,
        priority: 60_303,
        side: "Sideq".to_owned(),
        uplink: "Pairq".to_owned(),
        device: "Deviceq".to_owned(),
        device_port: "Socketq".to_owned(),
        until: "up",
        limit: "60404".to_owned(),
        cable: CableView {
            label: Some("Labelq".to_owned()),
            medium: Some("Mediumq".to_owned()),
            length_m: Some("60505".to_owned()),
            serial: Some("Plugq".to_owned()),
        },
        spare: false,
        legs: [
            port("L1unitq", "L1numq", "L1faceq"),
            port("L2unitq", "L2numq", "L2faceq"),
            port("L3unitq", "L3numq", "L3faceq"),
        ],
        checks: ["Check1q".to_owned(), "Check2q".to_owned(), "Check3q".to_owned()],
        key: "Keyq".to_owned(),
        value: "Valueq".to_owned(),
        stacks: true,
        ticket: "Ticketq".to_owned(),
    }
}

/// The class of each value, and how it is found in a text: those of one class can stand in each other's place.
pub(super) fn classes() -> Vec<(&'static str, Vec<String>)> {
    let v = values();
    let ports = [&v.port, &v.other].into_iter().chain(&v.legs);
    let of = |part: fn(&PortView) -> &String| ports.clone().map(part).cloned().collect::<Vec<_>>();
    let sockets = of(|port| &port.port).into_iter().chain(of(|port| &port.interface)).collect();
    let units = of(|port| &port.unit).into_iter().chain([v.unit.key.clone(), v.unit.id.to_string()]).collect();
    vec![
        ("port", sockets),
        ("unit", units),
        ("new id", vec![v.id.to_string()]),
        ("priority", vec![v.priority.to_string()]),
        ("side", vec![v.side]),
        ("uplink pair", vec![v.uplink]),
        ("limit", vec![v.limit]),
        ("serial", v.unit.serial.into_iter().collect()),
        ("rack", v.unit.rack.into_iter().collect()),
        ("height unit", v.unit.height_unit.into_iter().collect()),
        ("device", vec![v.device]),
        ("device's port", vec![v.device_port]),
        ("cable's label", v.cable.label.into_iter().collect()),
        ("cable's medium", v.cable.medium.into_iter().collect()),
        ("cable's length", v.cable.length_m.into_iter().collect()),
        ("thing that must be equal", vec![v.key]),
        ("value of it", vec![v.value]),
        ("admitted serial", vec![v.ticket]),
        ("plug's serial", v.cable.serial.into_iter().collect()),
    ]
}

/// The lists among the values, whose items come out in their order.
pub(super) fn lists() -> Vec<(&'static str, Vec<String>)> {
    let v = values();
    let faces = v.legs.iter().map(|leg| leg.interface.clone()).collect();
    let members = super::scopes_of_facts::MEMBERS.iter().map(ToString::to_string).collect();
    vec![("checks", v.checks.to_vec()), ("legs", faces), ("members", members)]
}

/// An argument: its name, and what changes it.
type Argument = (&'static str, fn(&mut Values));

const UNIT: Argument =
    ("unit", |v| (v.unit.key, v.unit.id, v.unit.serial) = ("Xkeyq".into(), 61_101, Some("Xserq".into())));
const SERIAL: Argument = ("unit.serial", |v| v.unit.serial = Some("Xserq".into()));
const RACK: Argument = ("unit.rack", |v| v.unit.rack = Some("Xrackq".into()));
const HEIGHT: Argument = ("unit.height_unit", |v| v.unit.height_unit = Some("Xheightq".into()));
const ID: Argument = ("id", |v| v.id = 61_202);
const PRIORITY: Argument = ("priority", |v| v.priority = 61_303);
const PORT: Argument = ("port.port", |v| (v.port.port, v.port.interface) = ("Xnumq".into(), "Xfaceq".into()));
const PORT_UNIT: Argument = ("port.unit", |v| (v.port.unit, v.port.interface) = ("Xunitq".into(), "Xfaceq".into()));
const OTHER: Argument = ("ends[1].port", |v| (v.other.port, v.other.interface) = ("Xnumq".into(), "Xfaceq".into()));
const OTHER_UNIT: Argument =
    ("ends[1].unit", |v| (v.other.unit, v.other.interface) = ("Xunitq".into(), "Xfaceq".into()));
const END: Argument = ("ends[0].port", PORT.1);
const END_UNIT: Argument = ("ends[0].unit", PORT_UNIT.1);
const SIDE: Argument = ("side", |v| v.side = "Xsideq".into());
const UPLINK: Argument = ("uplink", |v| v.uplink = "Xpairq".into());
const PAIR: Argument = ("ends[1].uplink", UPLINK.1);
const DEVICE: Argument = ("ends[1].device", |v| v.device = "Xdeviceq".into());
const DEVICE_PORT: Argument = ("ends[1].device_port", |v| v.device_port = "Xsocketq".into());
const JOINED: Argument = ("until", |v| v.until = "joined");
const READY: Argument = ("until", |v| v.until = "ready");
const LIMIT: Argument = ("limit", |v| v.limit = "61404".into());
const LABEL: Argument = ("cable.label", |v| v.cable.label = Some("Xlabelq".into()));
const MEDIUM: Argument = ("cable.medium", |v| v.cable.medium = Some("Xmediumq".into()));
const LENGTH: Argument = ("cable.length_m", |v| v.cable.length_m = Some("61505".into()));
const PLUG: Argument = ("cable.serial", |v| v.cable.serial = Some("Xplugq".into()));
const SPARE: Argument = ("spare", |v| v.spare = true);
const KEY: Argument = ("key", |v| v.key = "Xkeyq".into());
const VALUE: Argument = ("value", |v| v.value = "Xvalueq".into());
const LONE: Argument = ("stacks", |v| v.stacks = false);
const TICKET: Argument = ("serial", |v| v.ticket = "Xticketq".into());
const LEGS: [Argument; 4] = [
    ("legs[0]", |v| (v.legs[0].port, v.legs[0].interface) = ("Xnumq".into(), "Xfaceq".into())),
    ("legs[1]", |v| (v.legs[1].port, v.legs[1].interface) = ("Xnumq".into(), "Xfaceq".into())),
    ("legs[2]", |v| (v.legs[2].port, v.legs[2].interface) = ("Xnumq".into(), "Xfaceq".into())),
    ("legs[2].unit", |v| (v.legs[2].unit, v.legs[2].interface) = ("Xunitq".into(), "Xfaceq".into())),
];
const CHECKS: [Argument; 3] = [
    ("checks[0]", |v| v.checks[0] = "Xcheckq".into()),
    ("checks[1]", |v| v.checks[1] = "Xcheckq".into()),
    ("checks[2]", |v| v.checks[2] = "Xcheckq".into()),
];

/// How the value of an argument may come out, each as it is; none for what is said in a sentence of its own.
pub(super) fn shown(argument: &str) -> Option<Vec<String>> {
    let v = values();
    let port = |port: &PortView| vec![port.port.clone(), port.interface.clone()];
    let whose = |port: &PortView| vec![port.unit.clone(), port.interface.clone()];
    Some(match argument {
        "unit" => vec![v.unit.key, v.unit.id.to_string(), v.unit.serial?],
        "id" => vec![v.id.to_string()],
        "priority" => vec![v.priority.to_string()],
        "side" => vec![v.side],
        "key" => vec![v.key],
        "value" => vec![v.value],
        "serial" => vec![v.ticket],
        "uplink" | "ends[1].uplink" => vec![v.uplink],
        "limit" => vec![v.limit],
        "port.port" | "ends[0].port" => port(&v.port),
        "port.unit" | "ends[0].unit" => whose(&v.port),
        "ends[1].port" => port(&v.other),
        "ends[1].unit" => whose(&v.other),
        "cable.label" => v.cable.label.into_iter().collect(),
        "legs[0]" => port(&v.legs[0]),
        "legs[1]" => port(&v.legs[1]),
        "legs[2]" => port(&v.legs[2]),
        _ => return None,
    })
}

/// Where a step of this kind can be done, and which of its arguments its words must hold there. At its own console
/// a unit need not be named: the file's heading does that.
fn needed(kind: &str, place: &'static str, traits: &Traits) -> Option<Vec<Argument>> {
    let (save, activate) = (traits.save.scope, traits.activate.scope);
    let here = place == "console";
    let by_hands = place == "hands";
    let unit = || if here { Vec::new() } else { vec![UNIT] };
    let port = || if here { vec![PORT] } else { vec![PORT, PORT_UNIT] };
    let cable = [LABEL, MEDIUM, LENGTH, PLUG];
    let all = |lists: &[&[Argument]]| Some(lists.concat());
    match kind {
        "power-on" | "power-off" if by_hands => all(&[&[UNIT, SERIAL, RACK, HEIGHT]]),
        "connect-cable" if by_hands => all(&[&[END, END_UNIT, OTHER, OTHER_UNIT, SPARE], &cable]),
        "disconnect-cable" if by_hands => all(&[&[END, END_UNIT, OTHER, OTHER_UNIT], &cable]),
        "connect-cable to a far end" | "disconnect-cable from a far end" if by_hands => {
            all(&[&[END, END_UNIT, PAIR, DEVICE, DEVICE_PORT], &cable])
        }
        "await" if !by_hands => Some(vec![UNIT, JOINED, READY, LIMIT]),
        "expect" if !by_hands => all(&[&CHECKS]),
        _ if by_hands => None,
        "restart" | "wipe" => Some(unit()),
        "assign-id" => all(&[&unit(), &[ID]]),
        "set-priority" => all(&[&unit(), &[PRIORITY]]),
        "disable-port" | "enable-port" | "release-port" => Some(port()),
        "bind-port" => all(&[&port(), &[SIDE]]),
        "save" if save == SaveScope::Unit => Some(unit()),
        "activate" if activate == ActivationScope::Unit => Some(unit()),
        "activate" | "save" => Some(Vec::new()),
        "hand-over" if !here => Some(unit()),
        "set-mode" => all(&[&unit(), &[LONE]]),
        "set-key" => all(&[&unit(), &[KEY, VALUE]]),
        "admit" | "forget" if !here => Some(vec![ID]),
        "admit by serial" | "forget by serial" if !here => Some(vec![TICKET]),
        "form-uplink" if !here => all(&[&[UPLINK], &LEGS]),
        "add-leg" | "drop-leg" if !here => Some(vec![UPLINK, PORT, PORT_UNIT]),
        "drop-uplink" | "guard-split" | "unguard-split" if !here => Some(vec![UPLINK]),
        _ => None,
    }
}

/// The faces of a kind: work on a cable reads otherwise where its other end is not ours.
fn faces(kind: &'static str) -> Vec<&'static str> {
    match kind {
        "connect-cable" => vec![kind, "connect-cable to a far end"],
        "disconnect-cable" => vec![kind, "disconnect-cable from a far end"],
        "admit" => vec![kind, "admit by serial"],
        "forget" => vec![kind, "forget by serial"],
        _ => vec![kind],
    }
}

/// One exercise for each kind that is not silent, at each place where it can be done, and for each field of a fact.
pub(super) fn exercises(platform: &Platform) -> Vec<Exercise> {
    let traits = &platform.traits;
    let mut exercises = Vec::new();
    for (kind, name) in Action::KINDS.into_iter().flat_map(|kind| faces(kind).into_iter().map(move |name| (kind, name)))
    {
        let template = step_template(kind);
        if platform.silent.contains_key(kind) || !platform.files.contains_key(&template) {
            continue;
        }
        for place in ["console", "stack", "hands"] {
            let Some(arguments) = needed(name, place, traits) else { continue };
            let scope = |values: &Values| Scope::Step(Box::new(step(name, place, traits, values)));
            let changed = arguments.iter().map(|(argument, change)| {
                let mut other = values();
                change(&mut other);
                (*argument, scope(&other))
            });
            let changed = changed.collect();
            exercises.push(Exercise { template: template.clone(), place, scope: scope(&values()), changed });
        }
    }
    let has = |kind: &str| platform.files.contains_key(&step_template(kind)) || traits.knows(kind);
    exercises.extend(super::scopes_of_facts::exercises(&|fact, field| match (fact, field) {
        ("admitted", _) => platform.files.contains_key(&of_fact(fact)) || traits.shows(fact),
        ("unit", "keys") => has("set-key"),
        ("unit", "stacks") => has("set-mode"),
        _ => true,
    }));
    exercises
}

/// The template of a kind, and what it sees of these values.
pub(super) fn words_of(kind: &str, place: &str, traits: &Traits, values: &Values) -> (String, WordsScope) {
    (step_template(kind), step(kind, place, traits, values))
}

fn step(name: &str, place: &str, traits: &Traits, v: &Values) -> WordsScope {
    let place = match place {
        "console" => PlaceView::Console {
            key: format!("console-{}", v.unit.key),
            unit: v.unit.key.clone(),
            rack: None,
            height_unit: None,
        },
        "stack" => PlaceView::Stack { key: "stack".to_owned(), stack: "Stackq".to_owned(), primary: None },
        _ => PlaceView::Hands { key: "hands".to_owned(), site: "Siteq".to_owned() },
    };
    let save_scope = if traits.save.scope == SaveScope::Unit { "unit" } else { "stack" }.to_owned();
    let activate_scope = if traits.activate.scope == ActivationScope::Unit { "unit" } else { "stack" }.to_owned();
    WordsScope { place, save_scope, activate_scope, operation: operation(name, v) }
}

fn operation(name: &str, v: &Values) -> OperationView {
    let (unit, port, uplink) = (v.unit.clone(), v.port.clone(), v.uplink.clone());
    let (cable, spare) = (Some(v.cable.clone()), v.spare);
    let near = EndView::Unit { port: v.port.clone() };
    let between = [near.clone(), EndView::Unit { port: v.other.clone() }];
    let (device, device_port) = (Some(v.device.clone()), Some(v.device_port.clone()));
    let outward = [near, EndView::Far { uplink: v.uplink.clone(), device, device_port }];
    match name {
        "power-on" => OperationView::PowerOn { unit },
        "power-off" => OperationView::PowerOff { unit },
        "restart" => OperationView::Restart { unit },
        "wipe" => OperationView::Wipe { unit },
        "assign-id" => OperationView::AssignId { unit, id: v.id },
        "set-priority" => OperationView::SetPriority { unit, priority: v.priority },
        "disable-port" => OperationView::DisablePort { port },
        "enable-port" => OperationView::EnablePort { port },
        "bind-port" => OperationView::BindPort { port, side: v.side.clone() },
        "release-port" => OperationView::ReleasePort { port },
        "activate" => OperationView::Activate { unit },
        "hand-over" => OperationView::HandOver { unit },
        "set-mode" => OperationView::SetMode { unit, stacks: v.stacks },
        "set-key" => OperationView::SetKey { unit, key: v.key.clone(), value: v.value.clone() },
        "admit" => OperationView::Admit { unit, id: Some(v.id), serial: None },
        "admit by serial" => OperationView::Admit { unit, id: None, serial: Some(v.ticket.clone()) },
        "forget" => OperationView::Forget { unit, id: Some(v.id), serial: None },
        "forget by serial" => OperationView::Forget { unit, id: None, serial: Some(v.ticket.clone()) },
        "connect-cable" => OperationView::ConnectCable { ends: between, cable, spare },
        "connect-cable to a far end" => OperationView::ConnectCable { ends: outward, cable, spare },
        "disconnect-cable" => OperationView::DisconnectCable { ends: between, cable, spare },
        "disconnect-cable from a far end" => OperationView::DisconnectCable { ends: outward, cable, spare },
        "form-uplink" => OperationView::FormUplink { uplink, legs: v.legs.to_vec() },
        "drop-uplink" => OperationView::DropUplink { uplink },
        "add-leg" => OperationView::AddLeg { uplink, leg: port },
        "drop-leg" => OperationView::DropLeg { uplink, leg: port },
        "guard-split" => OperationView::GuardSplit { uplink },
        "unguard-split" => OperationView::UnguardSplit { uplink },
        "await" => OperationView::Await { unit, until: v.until.to_owned(), limit: v.limit.clone() },
        "expect" => OperationView::Expect { checks: v.checks.to_vec() },
        _ => OperationView::Save { unit },
    }
}

/// The template of a fact.
pub(super) fn of_fact(fact: &str) -> String {
    fact_template(fact)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A new kind of operation or fact must get its exercise.
    #[test]
    fn every_kind_and_fact_is_exercised_as_itself() {
        let (mut sources, mut findings) = (crate::source::Sources::default(), crate::diag::Findings::default());
        let files = crate::platform::builtin_files("neutral").unwrap();
        let neutral = crate::platform::load(files, "neutral", None, &mut sources, &mut findings).unwrap();
        let all = exercises(&neutral);
        for kind in Action::KINDS {
            let own: Vec<&Exercise> = all.iter().filter(|one| one.template == step_template(kind)).collect();
            assert!(!own.is_empty(), "{kind} has no exercise");
            for one in own {
                let Scope::Step(scope) = &one.scope else { panic!("{kind} is exercised as a fact") };
                assert_eq!(serde_json::to_value(&scope.operation).unwrap()["kind"], kind);
            }
        }
        let facts = neutral.files.keys().filter(|path| path.starts_with("facts/"));
        let words = ["facts/words.j2", "facts/cable.j2"];
        for path in facts.filter(|path| !words.contains(&path.as_str())) {
            assert!(all.iter().any(|one| one.template == *path), "{path} has no exercise");
        }
    }
}
