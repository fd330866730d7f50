//! Why a step is there and why it is here: what the model says would break without it, or in another order.
//!
//! `code` is stable. It is the name of the rule that leaving the step out, or doing it earlier or later, would
//! break first (`cold-start`, `never-split`, …), `right-cable` where a link would come up unread, or `joins` where a
//! unit would stay outside. Where nothing breaks it is a habit's name, and the text says what the step is for:
//! `power`, `restart`, `id-before-join`, `leads`, `weight`, `loses-merge`, `port-out-of-use`, `port-in-use`,
//! `bound-to-its-side`, `released`, `link-typed`, `activation`, `saved-before-restart`, `own-copy`, `saved`, `cable`,
//! `uplink`, `split-guard`, `factory-unit`.

use crate::model::derive::{Link, link};
use crate::model::document::{Phase, Reason};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, UnitId};
use crate::model::traits::{BindingEffect, IdEffect, Mode, SaveScope};

use super::slip::{Harm, Slips, What};
use super::trace::Traced;
use super::words::{code, consequence, moment};

/// The reason of one operation at its place.
#[must_use]
pub fn reason(setting: &Setting, slips: &Slips<'_>, trace: &[Traced], position: usize, phase: Phase) -> Reason {
    let Some(step) = trace.get(position) else {
        return Reason { code: String::new(), text: String::new() };
    };
    let (habit, purpose) = purpose(setting, step, phase);
    let next = trace.get(position + 1);
    let broken = |harm: &Harm| !matches!(harm.what, What::Outside(_));
    let there = slips.left_out(position);
    if let Some(harm) = there.filter(broken) {
        return Reason { code: code(harm.what).to_owned(), text: without(setting, step, &purpose, &harm) };
    }
    if let Some(harm) = slips.earlier(position).filter(broken)
        && let Some(previous) = position.checked_sub(1).and_then(|previous| trace.get(previous))
    {
        let text = format!("{purpose}; done before {}", out_of_order(setting, previous, step, &harm));
        return Reason { code: code(harm.what).to_owned(), text };
    }
    // done after the next one is the next one done before this
    if let Some(harm) = slips.earlier(position + 1).filter(broken)
        && let Some(next) = next
    {
        let text = format!("{purpose}; done only after {}", out_of_order(setting, next, step, &harm));
        return Reason { code: code(harm.what).to_owned(), text };
    }
    match there {
        Some(harm) if habit == "cable" => Reason { code: code(harm.what).to_owned(), text: purpose },
        _ => Reason { code: habit.to_owned(), text: purpose },
    }
}

/// The step that changes places with this one, and what that breaks; later, if it shows only later.
fn out_of_order(setting: &Setting, other: &Traced, step: &Traced, harm: &Harm) -> String {
    let (moved, would) = (moment(setting, other.operation), consequence(setting, harm.what));
    if harm.at == other.operation || harm.at == step.operation {
        format!("{moved}, {would}")
    } else {
        format!("{moved}, {would} once {}", moment(setting, harm.at))
    }
}

/// What leaving a step out breaks, with what it is for where that says more.
fn without(setting: &Setting, step: &Traced, purpose: &str, harm: &Harm) -> String {
    let would = consequence(setting, harm.what);
    let once = moment(setting, harm.at);
    match step.operation {
        Operation::Save(_) | Operation::Connect(_) | Operation::Disconnect(_) => {
            format!("without it, once {once}, {would}")
        }
        // the purpose names the clash already, and with whom
        Operation::AssignId(..) => purpose.to_owned(),
        _ => format!("{purpose}; without it, once {once}, {would}"),
    }
}

/// What a step is for.
fn purpose(setting: &Setting, step: &Traced, phase: Phase) -> (&'static str, String) {
    let key = |unit: UnitId| &setting.units[unit].key;
    let before = &step.before;
    match step.operation {
        Operation::PowerOn(unit) if before.memory.was_live.contains(unit) => {
            ("power", format!("{} comes back into the stack", key(unit)))
        }
        Operation::PowerOn(unit) => {
            ("power", format!("{} is set up alone, before a cable can join it to anything", key(unit)))
        }
        Operation::PowerOff(unit) if setting.leaving.contains(unit) => {
            ("power", format!("{} goes, and is switched off while it is still linked", key(unit)))
        }
        Operation::PowerOff(unit) => ("power", format!("{} is out of the way while the stack is open", key(unit))),
        Operation::Restart(unit) => ("restart", restart(setting, before, unit)),
        Operation::Wipe(unit) => ("factory-unit", format!("{} starts from factory settings", key(unit))),
        Operation::AssignId(unit, id) if before.memory.live.contains(unit) => {
            ("id-before-join", format!("the intent gives {} the number {id}", key(unit)))
        }
        Operation::AssignId(unit, _) => ("id-before-join", assign_id(setting, before, unit)),
        Operation::SetPriority(unit, _) => set_priority(setting, before, unit),
        Operation::DisablePort(port) => ("port-out-of-use", disable(setting, before, port)),
        Operation::EnablePort(_) => {
            ("port-in-use", "the port is needed in use now that its setting is right".to_owned())
        }
        Operation::BindPort(..) => ("bound-to-its-side", "the port becomes a stacking port of this side".to_owned()),
        Operation::ReleasePort(_) => ("released", "the port is no stacking port any more".to_owned()),
        Operation::Activate(_) if makes_link(setting, step) => {
            ("link-typed", "this makes the link, at a keyboard, where it can be taken back".to_owned())
        }
        Operation::Activate(_) => ("activation", "bindings count only once they are put into force".to_owned()),
        Operation::Save(unit) if !before.memory.live.contains(unit) => {
            ("saved-before-restart", "an unsaved setting is gone after a restart".to_owned())
        }
        Operation::Save(unit) => save(setting, before, unit, phase),
        Operation::HandOver(unit) => {
            ("lead", format!("{} shall lead the stack, and here the lead is handed over by a command", key(unit)))
        }
        Operation::SetMode(unit, Mode::Stack) => ("stack-mode", format!("{} stacks only in stack mode", key(unit))),
        Operation::SetMode(unit, Mode::Lone) => ("stack-mode", format!("{} shall stand alone", key(unit))),
        Operation::SetKey(unit, ..) => {
            ("same-keys", format!("{} may be in the stack only with what all members have", key(unit)))
        }
        Operation::Admit(unit, _) => ("admitted", format!("the stack lets {} in only if it was told of it", key(unit))),
        Operation::Forget(unit, _) => ("admitted", format!("{} is gone, and shall not be let in again", key(unit))),
        Operation::Connect(cable) => ("cable", connect(setting, step, cable)),
        Operation::Disconnect(cable) => ("cable", disconnect(setting, before, cable)),
        Operation::FormUplink(..) | Operation::AddLeg(_) => ("uplink", "the pair needs this leg".to_owned()),
        Operation::DropUplink(_) | Operation::DropLeg(_) => {
            ("uplink", "the intent has no such leg any more".to_owned())
        }
        Operation::GuardSplit(_) => {
            ("split-guard", "the guard decides which part stays in service if the stack splits".to_owned())
        }
        Operation::UnguardSplit(_) => ("split-guard", "the guard moves or goes".to_owned()),
    }
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
    } else if pending && before.memory.live.contains(unit) {
        format!(
            "id {} counts after a restart; what is set up under the old port names does not move by itself",
            row.saved_id
        )
    } else if pending {
        format!("id {} counts after a restart, and so do the port names that it gives", row.saved_id)
    } else if row.lone != row.saved_lone {
        "the mode counts after a restart, and so do the port names that it gives".to_owned()
    } else if row.keys != row.saved_keys {
        "what was set counts after a restart".to_owned()
    } else if row.primary && !setting.target.units[unit].primary && before.memory.live.contains(unit) {
        format!("{} gives up the lead only when it restarts", setting.units[unit].key)
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

fn save(setting: &Setting, before: &Situation, saved: UnitId, phase: Phase) -> (&'static str, String) {
    let covered = |unit: &UnitId| setting.traits.save.scope == SaveScope::Stack || *unit == saved;
    let new_copy = before.memory.live.iter().filter(covered).find(|unit| !before.state.units[*unit].copy);
    let lazy = setting.traits.binding.takes_effect != BindingEffect::AtOnce;
    match (phase, new_copy) {
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

fn is_stack_link(setting: &Setting, state: &State, cable: CableId) -> bool {
    link(setting, state, cable) == Link::Stack
}

/// Whether a step brings up a link that was not there.
fn makes_link(setting: &Setting, step: &Traced) -> bool {
    let up = |cable: &CableId| {
        is_stack_link(setting, &step.after.state, *cable) && !is_stack_link(setting, &step.before.state, *cable)
    };
    step.after.state.plugged.iter().any(|cable| up(&cable))
}

fn connect(setting: &Setting, step: &Traced, cable: CableId) -> String {
    match setting.cables[cable] {
        CableRow::Far(pair, _) => format!("this leg of uplink pair {} gets its cable", setting.uplinks[pair].name),
        CableRow::Units(..) if makes_link(setting, step) => {
            "the cable itself makes the link: both its ends are bound and in force".to_owned()
        }
        CableRow::Units(..) if setting.target.plugged.contains(cable) => {
            "the cable is laid before the link is made at a keyboard".to_owned()
        }
        CableRow::Units(..) => "the spare cable is laid before its link is made at a keyboard".to_owned(),
    }
}

fn disconnect(setting: &Setting, before: &Situation, cable: CableId) -> String {
    let spare = !setting.baseline.plugged.contains(cable) && !setting.target.plugged.contains(cable);
    let held = setting.cables[cable].unit_ends().any(|port| {
        let waits = |other: &CableId| *other != cable && !before.state.plugged.contains(*other);
        setting.ports[port].cables.iter().any(|other| waits(other) && setting.target.plugged.contains(*other))
    });
    if let CableRow::Far(pair, _) = setting.cables[cable] {
        format!("this leg of uplink pair {} goes", setting.uplinks[pair].name)
    } else if spare {
        "the spare cable has done its work: the stack holds together without it".to_owned()
    } else if held {
        "it holds a port that another cable needs".to_owned()
    } else {
        "the cable is not part of the stack that is wanted".to_owned()
    }
}
