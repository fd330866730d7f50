//! An operation or a fact of the plan, at the state before its step -> what its template sees.

use super::context::{ActingUnit, EndView, FactView, OperationView, PortView};
use super::error::RenderError;
use super::names::Names;
use crate::model::document::{Action, Fact, Role, StateDocument};
use crate::model::traits::Mode;
use crate::model::{MemberId, PortName};

/// Names of all facts, as plans and `facts/<fact>.j2` write them.
pub(super) const FACT_KINDS: [&str; 12] =
    ["here", "unit", "port", "neighbour", "link", "cable", "plug", "uplink", "guard", "admitted", "saved", "ask"];

/// The kind of an operation.
pub(super) fn kind(action: &Action) -> &'static str {
    match action {
        Action::PowerOn { .. } => "power-on",
        Action::PowerOff { .. } => "power-off",
        Action::Restart { .. } => "restart",
        Action::Wipe { .. } => "wipe",
        Action::AssignId { .. } => "assign-id",
        Action::SetPriority { .. } => "set-priority",
        Action::DisablePort { .. } => "disable-port",
        Action::EnablePort { .. } => "enable-port",
        Action::BindPort { .. } => "bind-port",
        Action::ReleasePort { .. } => "release-port",
        Action::Activate { .. } => "activate",
        Action::Save { .. } => "save",
        Action::HandOver { .. } => "hand-over",
        Action::SetMode { .. } => "set-mode",
        Action::SetKey { .. } => "set-key",
        Action::Admit { .. } => "admit",
        Action::Forget { .. } => "forget",
        Action::ConnectCable { .. } => "connect-cable",
        Action::DisconnectCable { .. } => "disconnect-cable",
        Action::FormUplink { .. } => "form-uplink",
        Action::DropUplink { .. } => "drop-uplink",
        Action::AddLeg { .. } => "add-leg",
        Action::DropLeg { .. } => "drop-leg",
        Action::GuardSplit { .. } => "guard-split",
        Action::UnguardSplit { .. } => "unguard-split",
        Action::Await { .. } => "await",
        Action::Expect { .. } => "expect",
    }
}

/// The kind of a fact.
pub(super) fn fact_kind(fact: &Fact) -> &'static str {
    match fact {
        Fact::Here { .. } => "here",
        Fact::Unit { .. } => "unit",
        Fact::Port { .. } => "port",
        Fact::Neighbour { .. } => "neighbour",
        Fact::Link { .. } => "link",
        Fact::Cable { .. } => "cable",
        Fact::Plug { .. } => "plug",
        Fact::Uplink { .. } => "uplink",
        Fact::Guard { .. } => "guard",
        Fact::Admitted { .. } => "admitted",
        Fact::Saved { .. } => "saved",
        Fact::Ask { .. } => "ask",
    }
}

/// What the operation's template sees; an `expect` gets the words of its facts.
pub(super) fn view(
    names: &Names,
    state: &StateDocument,
    action: &Action,
    checks: Vec<String>,
) -> Result<OperationView, RenderError> {
    let unit = |key: &str| names.acting(state, key);
    let port = |key: &str, port: &PortName| names.port(state, key, port);
    Ok(match action {
        Action::PowerOn { unit: key } => OperationView::PowerOn { unit: unit(key)? },
        Action::PowerOff { unit: key } => OperationView::PowerOff { unit: unit(key)? },
        Action::Restart { unit: key } => OperationView::Restart { unit: unit(key)? },
        Action::Wipe { unit: key } => OperationView::Wipe { unit: unit(key)? },
        Action::AssignId { unit: key, id } => OperationView::AssignId { unit: unit(key)?, id: id.0 },
        Action::SetPriority { unit: key, priority } => {
            OperationView::SetPriority { unit: unit(key)?, priority: priority.0 }
        }
        Action::DisablePort { unit: key, port: name } => OperationView::DisablePort { port: port(key, name)? },
        Action::EnablePort { unit: key, port: name } => OperationView::EnablePort { port: port(key, name)? },
        Action::BindPort { unit: key, port: name, side } => {
            let side = names.side(*side).unwrap_or_else(|| side.as_str().to_owned());
            OperationView::BindPort { port: port(key, name)?, side }
        }
        Action::ReleasePort { unit: key, port: name } => OperationView::ReleasePort { port: port(key, name)? },
        Action::Activate { unit: key } => OperationView::Activate { unit: unit(key)? },
        Action::Save { unit: key } => OperationView::Save { unit: unit(key)? },
        Action::HandOver { unit: key }
        | Action::SetMode { unit: key, .. }
        | Action::SetKey { unit: key, .. }
        | Action::Admit { unit: key, .. }
        | Action::Forget { unit: key, .. } => habit_view(unit(key)?, action),
        Action::ConnectCable { ends } => {
            let (cable, spare) = (names.cable_view(ends), names.is_spare(ends));
            OperationView::ConnectCable { ends: cable_ends(names, state, ends)?, cable, spare }
        }
        Action::DisconnectCable { ends } => {
            let (cable, spare) = (names.cable_view(ends), names.is_spare(ends));
            OperationView::DisconnectCable { ends: cable_ends(names, state, ends)?, cable, spare }
        }
        Action::FormUplink { uplink, legs } => {
            OperationView::FormUplink { uplink: uplink.clone(), legs: all_legs(names, state, legs)? }
        }
        Action::DropUplink { uplink } => OperationView::DropUplink { uplink: uplink.clone() },
        Action::AddLeg { uplink, leg } => OperationView::AddLeg { uplink: uplink.clone(), leg: names.leg(state, leg)? },
        Action::DropLeg { uplink, leg } => {
            OperationView::DropLeg { uplink: uplink.clone(), leg: names.leg(state, leg)? }
        }
        Action::GuardSplit { uplink } => OperationView::GuardSplit { uplink: uplink.clone() },
        Action::UnguardSplit { uplink } => OperationView::UnguardSplit { uplink: uplink.clone() },
        Action::Await { unit: key, until, limit } => {
            OperationView::Await { unit: unit(key)?, until: until.as_str().to_owned(), limit: limit.to_string() }
        }
        Action::Expect { .. } => OperationView::Expect { checks },
    })
}

/// What the templates of kinds see that only wider habits bring.
fn habit_view(unit: ActingUnit, action: &Action) -> OperationView {
    match action {
        Action::SetMode { mode, .. } => OperationView::SetMode { unit, stacks: *mode == Mode::Stack },
        Action::SetKey { key, value, .. } => OperationView::SetKey { unit, key: key.clone(), value: value.clone() },
        Action::Admit { id, serial, .. } => OperationView::Admit { unit, id: number(*id), serial: serial.clone() },
        Action::Forget { id, serial, .. } => OperationView::Forget { unit, id: number(*id), serial: serial.clone() },
        _ => OperationView::HandOver { unit },
    }
}

/// What the fact's template sees.
pub(super) fn fact_view(names: &Names, state: &StateDocument, fact: &Fact) -> Result<FactView, RenderError> {
    let end = |end: &str| names.end_port(state, end);
    let legs = |legs: &Option<Vec<String>>| legs.as_ref().map(|legs| all_legs(names, state, legs)).transpose();
    Ok(match fact {
        Fact::Here { id, serial, members } => FactView::Here {
            id: number(*id),
            serial: serial.clone(),
            members: members.as_ref().map(|ids| ids.iter().map(|id| id.0).collect()),
        },
        Fact::Unit { unit, powered, id, saved_id, priority, role, waiting, ready, serial, mac, model, keys, mode } => {
            FactView::Unit {
                unit: names.acting(state, unit)?,
                powered: *powered,
                id: number(*id),
                saved_id: number(*saved_id),
                priority: priority.map(|priority| priority.0),
                role: role.map(|role| role_word(role).to_owned()),
                waiting: *waiting,
                ready: *ready,
                serial: serial.clone(),
                mac: mac.clone(),
                model: model.clone(),
                keys: keys.clone(),
                stacks: mode.map(|mode| mode == Mode::Stack),
            }
        }
        Fact::Port { unit, port, enabled, side, active, lit } => FactView::Port {
            port: names.port(state, unit, port)?,
            enabled: *enabled,
            side_known: side.is_some(),
            side: side.and_then(|side| names.side(side)),
            active: *active,
            lit: *lit,
        },
        Fact::Neighbour { end: near, far } => {
            FactView::Neighbour { near: end(near)?, far: far.as_deref().map(end).transpose()? }
        }
        Fact::Link { ends, is } => FactView::Link { ends: both_ends(names, state, ends)?, is: is.as_str().to_owned() },
        Fact::Cable { ends, plugged } => FactView::Cable { ends: cable_ends(names, state, ends)?, plugged: *plugged },
        Fact::Plug { end: near, serial } => FactView::Plug { near: end(near)?, serial: serial.clone() },
        Fact::Uplink { uplink, legs: all, carrying } => {
            FactView::Uplink { uplink: uplink.clone(), legs: legs(all)?, carrying: legs(carrying)? }
        }
        Fact::Guard { uplink } => FactView::Guard { uplink: uplink.clone() },
        Fact::Admitted { ids, serials } => FactView::Admitted {
            ids: ids.as_ref().map(|ids| ids.iter().map(|id| id.0).collect()),
            serials: serials.clone(),
        },
        Fact::Saved { unit, saved } => FactView::Saved { unit: names.acting(state, unit)?, saved: *saved },
        Fact::Ask { text } => FactView::Ask { text: text.clone() },
    })
}

/// The word for a role.
pub(super) fn role_word(role: Role) -> &'static str {
    match role {
        Role::Primary => "primary",
        Role::Standby => "standby",
        Role::Member => "member",
    }
}

fn number(id: Option<MemberId>) -> Option<u16> {
    id.map(|id| id.0)
}

fn all_legs(names: &Names, state: &StateDocument, legs: &[String]) -> Result<Vec<PortView>, RenderError> {
    legs.iter().map(|leg| names.leg(state, leg)).collect()
}

fn both_ends(names: &Names, state: &StateDocument, ends: &[String; 2]) -> Result<[EndView; 2], RenderError> {
    let [one, other] = ends;
    Ok([names.end(state, one, other)?, names.end(state, other, one)?])
}

/// The two ends of a cable, an end at a unit first.
fn cable_ends(names: &Names, state: &StateDocument, ends: &[String; 2]) -> Result<[EndView; 2], RenderError> {
    let [one, other] = both_ends(names, state, ends)?;
    Ok(if matches!(one, EndView::Far { .. }) { [other, one] } else { [one, other] })
}
