//! Why a step is there: what the model says would be wrong without it.

use crate::model::document::{Phase, Reason};
use crate::model::operation::Operation;
use crate::model::progress::{Done, Situation};
use crate::model::setting::Setting;
use crate::model::table::UnitId;
use crate::model::traits::{BindingEffect, IdEffect};

/// The reason of one operation at its place.
#[must_use]
pub fn reason(setting: &Setting, before: &Situation, operation: Operation, done: &Done, phase: Phase) -> Reason {
    let key = |unit: UnitId| &setting.units[unit].key;
    let (code, text) = match operation {
        Operation::PowerOn(unit) => {
            ("power", format!("{} is set up alone, before a cable can join it to anything", key(unit)))
        }
        Operation::PowerOff(unit) => ("power", format!("{} goes", key(unit))),
        Operation::Restart(unit) => ("restart", restart(setting, before, unit)),
        Operation::Wipe(unit) => ("factory-unit", format!("{} starts from factory settings", key(unit))),
        Operation::AssignId(unit, _) => ("id-before-join", assign_id(setting, before, unit)),
        Operation::SetPriority(unit, _) => set_priority(setting, before, unit),
        Operation::DisablePort(port) => ("port-out-of-use", disable(setting, before, port)),
        Operation::EnablePort(_) => {
            ("port-in-use", "the port is needed in use now that its setting is right".to_owned())
        }
        Operation::BindPort(..) => ("bound-to-its-side", "the port becomes a stacking port of this side".to_owned()),
        Operation::ReleasePort(_) => ("released", "the port is no stacking port any more".to_owned()),
        Operation::Activate(_) if !done.joined.is_empty() => {
            ("link-typed", "this makes the link, at a keyboard, where it can be taken back".to_owned())
        }
        Operation::Activate(_) => ("activation", "bindings count only once they are put into force".to_owned()),
        Operation::Save(_) => save(setting, before, phase),
        Operation::Connect(_) => ("cable", connect(done)),
        Operation::Disconnect(_) => ("cable", "the cable is not part of the stack that is wanted".to_owned()),
        Operation::FormUplink(..) | Operation::AddLeg(_) => ("uplink", "the pair needs this leg".to_owned()),
        Operation::DropUplink(_) | Operation::DropLeg(_) => {
            ("uplink", "the intent has no such leg any more".to_owned())
        }
        Operation::GuardSplit(_) => {
            ("split-guard", "the guard decides which part stays in service if the stack splits".to_owned())
        }
        Operation::UnguardSplit(_) => ("split-guard", "the guard moves or goes".to_owned()),
    };
    Reason { code: code.to_owned(), text }
}

fn set_priority(setting: &Setting, before: &Situation, unit: UnitId) -> (&'static str, String) {
    let key = &setting.units[unit].key;
    if setting.target.units[unit].primary {
        ("leads", format!("{key} must win every election of its stack"))
    } else if before.memory.live.contains(unit) {
        ("weight", format!("the intent gives {key} another weight in the next election"))
    } else {
        ("loses-merge", format!("{key} must lose the election when it meets the stack"))
    }
}

fn assign_id(setting: &Setting, before: &Situation, unit: UnitId) -> String {
    let id = before.state.units[unit].id;
    let same = before.memory.live.iter().find(|other| before.state.units[*other].id == id);
    let key = &setting.units[unit].key;
    match same {
        Some(other) => format!("with id {id} it would meet {} under the same id", setting.units[other].key),
        None => format!("{key} needs its own id before it meets another unit"),
    }
}

fn restart(setting: &Setting, before: &Situation, unit: UnitId) -> String {
    let row = &before.state.units[unit];
    let pending = row.id != row.saved_id && setting.traits.member_id.takes_effect == IdEffect::AfterRestart;
    if before.state.units[unit].waiting {
        "it lost the merge and waits for this".to_owned()
    } else if pending {
        format!("id {} counts after a restart, and so do the port names that it gives", row.saved_id)
    } else {
        "what was saved counts after a restart".to_owned()
    }
}

fn disable(setting: &Setting, before: &Situation, port: crate::model::table::PortId) -> String {
    let shall = setting.target.ports[port];
    if !shall.enabled() {
        "the port is needed no more".to_owned()
    } else if setting.traits.binding.port_disabled && before.state.ports[port].side() != shall.side() {
        "a port is bound only while it is out of use".to_owned()
    } else {
        "nothing may light here yet".to_owned()
    }
}

fn save(setting: &Setting, before: &Situation, phase: Phase) -> (&'static str, String) {
    let new_copy = before.memory.live.iter().find(|unit| !before.state.units[*unit].copy);
    let lazy = setting.traits.binding.takes_effect != BindingEffect::AtOnce;
    match (phase, new_copy) {
        (Phase::Stage, _) => ("saved-before-restart", "an unsaved setting is gone after a restart".to_owned()),
        (_, Some(unit)) => {
            ("own-copy", format!("{} must hold the stack's common settings in its own memory", setting.units[unit].key))
        }
        (Phase::Close, None) => ("saved", "a power failure must bring back the stack as it is now".to_owned()),
        (_, None) if lazy => (
            "cold-start",
            "saved before the link is made, or a power failure after it would split the stack".to_owned(),
        ),
        (_, None) => ("cold-start", "a power failure now must bring back the whole stack".to_owned()),
    }
}

fn connect(done: &Done) -> String {
    if done.joined.is_empty() && done.events.restarts.is_empty() {
        "the cable is laid before the link is made at a keyboard".to_owned()
    } else {
        "the cable itself makes the link: any other order leaves the ring open for longer".to_owned()
    }
}
