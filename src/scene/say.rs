//! An action or a fact of the plan -> a plain sentence. A plan's file carries no dialect: these words are no
//! platform's, and what is typed stands in the bundle.

use crate::model::derive::Islands;
use crate::model::document::{Action, Fact, LinkKind, Place, Role, Side, Until};
use crate::model::names::MemberId;
use crate::model::naming::{find_cable, unit_of};
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::traits::{Mode, SaveScope};

use super::line::list;
use super::words;

/// Where a step is done.
#[must_use]
pub fn place(setting: &Setting, before: &Situation, place: Option<&Place>) -> String {
    match place {
        Some(Place::Hands(_)) => "by hands, at the rack".to_owned(),
        Some(Place::Console(unit)) => format!("at the console of {unit}"),
        Some(Place::Stack(stack)) => match words::leader(setting, before) {
            Some(leader) => format!("at the stack {stack}, read on {}", setting.units[leader].key),
            None => format!("at the stack {stack}"),
        },
        None => "not said".to_owned(),
    }
}

/// What is done, as one imperative without a full stop. `at`: where, for what a place has as a whole.
#[must_use]
pub fn action(setting: &Setting, before: &Situation, action: &Action, at: Option<&Place>) -> String {
    let whole = |unit: &str| {
        let island = |unit| Islands::of(setting, &before.state).around(unit).len();
        match at {
            Some(Place::Stack(stack)) => format!("the whole stack {stack}"),
            _ if unit_of(setting, unit).map(island) == Ok(1) => unit.to_owned(),
            Some(Place::Console(_) | Place::Hands(_)) | None => format!("{unit} and of all units joined with it"),
        }
    };
    match action {
        Action::PowerOn { unit } => format!("switch on {unit}"),
        Action::PowerOff { unit } => format!("switch off {unit}"),
        Action::Restart { unit } => format!("restart {unit}"),
        Action::Wipe { unit } => format!("set {unit} back to how it left the factory"),
        Action::AssignId { unit, id } => format!("set the member id of {unit} to {id}"),
        Action::SetPriority { unit, priority } => format!("set the priority of {unit} to {priority}"),
        Action::DisablePort { unit, port } => format!("take port {port} of {unit} out of use"),
        Action::EnablePort { unit, port } => format!("put port {port} of {unit} into use"),
        Action::BindPort { unit, port, side } => {
            format!("bind port {port} of {unit} to {}", words::side(setting, *side).unwrap_or("no side"))
        }
        Action::ReleasePort { unit, port } => format!("release port {port} of {unit} from its side"),
        Action::Activate { unit } => format!("put the bindings of {} into force", whole(unit)),
        Action::Save { unit } => match setting.traits.save.scope {
            SaveScope::Unit => format!("save the settings of {unit}"),
            SaveScope::Stack => format!("save the settings of {}", whole(unit)),
        },
        Action::HandOver { unit } => format!("hand the lead over to {unit}"),
        Action::SetMode { unit, mode: Mode::Stack } => format!("set {unit} to stack from its next restart"),
        Action::SetMode { unit, mode: Mode::Lone } => format!("set {unit} to stand alone from its next restart"),
        Action::SetKey { unit, key, value } => format!("set {key} of {unit} to {value}"),
        Action::Admit { unit, id, serial } => format!("admit {unit} {}", by(*id, serial.as_deref())),
        Action::Forget { unit, id, serial } => format!("forget {unit} {}", by(*id, serial.as_deref())),
        Action::ConnectCable { ends } => cable(setting, "plug", ends),
        Action::DisconnectCable { ends } => cable(setting, "unplug", ends),
        Action::FormUplink { uplink, legs } => {
            format!("form uplink pair {uplink} from {}", list(&legs.iter().map(|leg| end(leg)).collect::<Vec<_>>()))
        }
        Action::DropUplink { uplink } => format!("dissolve uplink pair {uplink}"),
        Action::AddLeg { uplink, leg } => format!("add {} to uplink pair {uplink}", end(leg)),
        Action::DropLeg { uplink, leg } => format!("take {} out of uplink pair {uplink}", end(leg)),
        Action::GuardSplit { uplink } => format!("let uplink pair {uplink} hold the split guard"),
        Action::UnguardSplit { uplink } => format!("take the split guard off uplink pair {uplink}"),
        Action::Await { unit, until, limit } => {
            let until = match until {
                Until::Up => "is up",
                Until::Joined => "has joined the stack",
                Until::Ready => "is in the stack and ready to take over",
            };
            format!("wait until {unit} {until}, at most {limit} minutes")
        }
        Action::Expect { .. } => "look, and go on only if all of this is so:".to_owned(),
    }
}

fn by(id: Option<MemberId>, serial: Option<&str>) -> String {
    match (id, serial) {
        (Some(id), _) => format!("by the id {id}"),
        (None, serial) => format!("by the serial {}", serial.unwrap_or("?")),
    }
}

fn cable(setting: &Setting, verb: &str, ends: &[String; 2]) -> String {
    let [one, other] = ends;
    // a cable of neither state is only lent
    let known = |cable| setting.baseline.plugged.contains(cable) || setting.target.plugged.contains(cable);
    let spare = if find_cable(setting, ends).is_none_or(known) { "" } else { "spare " };
    match (one.strip_prefix("far:"), other.strip_prefix("far:")) {
        (Some(uplink), _) => format!("{verb} the cable of uplink pair {uplink} at {}", end(other)),
        (_, Some(uplink)) => format!("{verb} the cable of uplink pair {uplink} at {}", end(one)),
        (None, None) => format!("{verb} the {spare}cable between {} and {}", end(one), end(other)),
    }
}

/// `unit:port` in words.
#[must_use]
pub fn end(end: &str) -> String {
    match end.split_once(':') {
        Some(("far", uplink)) => format!("the far end of uplink pair {uplink}"),
        Some((unit, port)) => format!("port {port} of {unit}"),
        None => end.to_owned(),
    }
}

/// What must be so.
#[must_use]
pub fn fact(setting: &Setting, fact: &Fact) -> String {
    match fact {
        Fact::Here { .. } => here(fact),
        Fact::Unit { unit, .. } => format!("{unit}: {}", unit_parts(fact).join(", ")),
        Fact::Port { unit, port, enabled, side, active, lit } => {
            let bound = |side: Side| {
                words::side(setting, side).map_or("bound to no side".to_owned(), |side| format!("bound to {side}"))
            };
            let parts = [
                enabled.map(|yes| either(yes, "in use", "out of use")),
                side.map(bound),
                active.map(|yes| either(yes, "binding in force", "binding not in force")),
                lit.map(|yes| either(yes, "light", "dark")),
            ];
            format!("port {port} of {unit}: {}", parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
        }
        Fact::Neighbour { end: near, far } => {
            format!("the neighbour seen on {}: {}", end(near), far.as_deref().map_or("none".to_owned(), end))
        }
        Fact::Link { ends: [one, other], is } => {
            let is = match is {
                LinkKind::Stack => "is a stack link",
                LinkKind::Unmatched => "is lit, but carries nothing",
                LinkKind::Stray => "is stray: plain Ethernet",
                LinkKind::None => "is not there",
            };
            format!("the link from {} to {} {is}", end(one), end(other))
        }
        Fact::Cable { ends: [one, other], plugged } => {
            let how = if *plugged { "is plugged" } else { "is not plugged" };
            format!("the cable from {} to {} {how}", end(one), end(other))
        }
        Fact::Plug { end: at, serial } => match serial {
            Some(serial) => format!("the plug in {} has serial {serial}", end(at)),
            None => format!("there is no plug in {}", end(at)),
        },
        Fact::Uplink { uplink, legs, carrying } => {
            let ends = |ends: &Vec<String>| list(&ends.iter().map(|leg| end(leg)).collect::<Vec<_>>());
            let none = |text: String| if text.is_empty() { "none".to_owned() } else { text };
            let legs = legs.as_ref().map(|legs| format!("legs {}", none(ends(legs))));
            let carrying = carrying.as_ref().map(|legs| format!("carrying {}", none(ends(legs))));
            format!("uplink pair {uplink}: {}", legs.into_iter().chain(carrying).collect::<Vec<_>>().join("; "))
        }
        Fact::Guard { uplink } => match uplink {
            Some(uplink) => format!("uplink pair {uplink} holds the split guard"),
            None => "no uplink pair holds the split guard".to_owned(),
        },
        Fact::Admitted { ids, serials } => {
            let ids = ids.iter().flatten().map(ToString::to_string);
            let all: Vec<String> = ids.chain(serials.iter().flatten().cloned()).collect();
            format!("admitted: {}", if all.is_empty() { "nobody".to_owned() } else { list(&all) })
        }
        Fact::Saved { unit, saved } => format!("{unit}: {}", either(*saved, "all saved", "not saved")),
        Fact::Ask { text } => format!("a person answers: {text}"),
    }
}

fn here(fact: &Fact) -> String {
    let Fact::Here { id, serial, members } = fact else { return String::new() };
    let parts = [
        id.map(|id| format!("id {id}")),
        serial.as_ref().map(|serial| format!("serial {serial}")),
        members.as_ref().map(|members| {
            if members.len() == 1 {
                format!("alone, as {}", ranges(members))
            } else {
                format!("in a stack of {}", ranges(members))
            }
        }),
    ];
    format!("this console: {}", parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
}

/// Ids in order, three or more in a row by the first and the last: "1, 2 and 4 to 16".
fn ranges(ids: &[MemberId]) -> String {
    let mut sorted: Vec<u16> = ids.iter().map(|id| id.0).collect();
    sorted.sort_unstable();
    let mut runs: Vec<(u16, u16)> = Vec::new();
    for id in sorted {
        match runs.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(id) => *last = id,
            _ => runs.push((id, id)),
        }
    }
    let said = runs.into_iter().flat_map(|(first, last)| match last - first {
        0 => vec![first.to_string()],
        1 => vec![first.to_string(), last.to_string()],
        _ => vec![format!("{first} to {last}")],
    });
    list(&said.collect::<Vec<_>>())
}

fn unit_parts(fact: &Fact) -> Vec<String> {
    let Fact::Unit { powered, id, saved_id, priority, role, waiting, ready, serial, mac, model, keys, mode, .. } = fact
    else {
        return Vec::new();
    };
    let role = role.map(|role| {
        let word = match role {
            Role::Primary => "primary",
            Role::Standby => "standby",
            Role::Member => "member",
        };
        word.to_owned()
    });
    let parts = [
        powered.map(|yes| either(yes, "switched on", "switched off")),
        id.map(|id| format!("id {id}")),
        saved_id.map(|id| format!("id {id} after a restart")),
        role,
        priority.map(|priority| format!("priority {priority}")),
        waiting.map(|yes| either(yes, "waits for a restart", "waits for nothing")),
        ready.map(|yes| either(yes, "ready to take over", "not ready to take over")),
        serial.as_ref().map(|serial| format!("serial {serial}")),
        mac.as_ref().map(|mac| format!("MAC address {mac}")),
        model.as_ref().map(|model| format!("model {model}")),
        mode.map(|mode| either(mode == Mode::Stack, "in stack mode", "not in stack mode")),
    ];
    let keys = keys.iter().map(|(key, value)| format!("{key} {value}"));
    parts.into_iter().flatten().chain(keys).collect()
}

fn either(so: bool, yes: &str, no: &str) -> String {
    (if so { yes } else { no }).to_owned()
}

/// The same text with a capital first.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut rest = text.chars();
    rest.next().map_or_else(String::new, |first| first.to_uppercase().chain(rest).collect())
}
