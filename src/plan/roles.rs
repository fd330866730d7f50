//! Numbers and the lead: who still needs a restart for them, and who stands in whose way.

use crate::model::derive::primaries;
use crate::model::document::Side;
use crate::model::names::MemberId;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::state::{Keys, Unit};
use crate::model::table::{PortId, UnitId, UnitSet};
use crate::model::traits::{BindingEffect, IdEffect, KeyEffect, Mode};

use super::work::Work;

/// Whether a unit would act on something else after a restart than it does now, or leads in place of the
/// unit that shall.
#[must_use]
pub fn needs_restart(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let late_id = setting.traits.member_id.takes_effect == IdEffect::AfterRestart
        && situation.state.units[unit].id != setting.target.units[unit].id;
    needs_restart_as_numbered(setting, situation, unit)
        || late_id && setting.stays(unit) && situation.state.units[unit].powered
}

/// The same, whatever its id.
#[must_use]
pub fn needs_restart_as_numbered(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let state = &situation.state;
    let row = &state.units[unit];
    let late_port = |port: &PortId| {
        let (is, shall) = (state.ports[*port], setting.target.ports[*port]);
        setting.traits.binding.takes_effect == BindingEffect::AfterRestart
            && shall.side() != Side::None
            && !(is.side() == shall.side() && is.active())
    };
    let shall_lead = || setting.units.ids().find(|other| setting.target.units[*other].primary);
    let typed = setting.traits.lead_is_given();
    let leads = !typed && row.primary && shall_lead().is_some_and(|other| other != unit);
    let late = leads || late_habit(setting, situation, unit);
    row.powered && setting.stays(unit) && (late || setting.units[unit].ports.iter().any(late_port))
}

/// Whether a unit would run another mode, or another of the things that must be equal, after a restart.
pub fn late_habit(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    !setting.joining.contains(unit) && (is.lone != shall.lone || keys_wait(setting, is, shall))
}

/// Whether one of the open things counts after a restart.
fn keys_wait(setting: &Setting, is: &Unit, shall: &Unit) -> bool {
    let late =
        |key: usize| setting.traits.join_keys.get(key).is_some_and(|key| key.takes_effect == KeyEffect::AfterRestart);
    open_keys(is.keys, shall.keys).any(|(key, _)| late(key))
}

/// Of the things that must be equal, those that differ from what they shall be, by position, and what they shall be.
pub fn open_keys(is: Keys, shall: Keys) -> impl Iterator<Item = (usize, u8)> {
    let pairs = is.into_iter().zip(shall).enumerate();
    pairs.filter(|(_, (is, shall))| *shall != 0 && is != shall).map(|(key, (_, shall))| (key, shall))
}

/// Whether a task is still to do: the lead to give, what the stack is told, what must be equal, a mode.
#[must_use]
pub fn task_open(setting: &Setting, situation: &Situation, task: Operation) -> bool {
    let state = &situation.state;
    match task {
        Operation::Admit(_, ticket) => !state.running.admitted.contains(ticket),
        Operation::Forget(_, ticket) => state.running.admitted.contains(ticket),
        Operation::SetMode(unit, mode) => {
            state.units[unit].powered && state.units[unit].saved_lone != (mode == Mode::Lone)
        }
        Operation::SetKey(unit, key, value) => {
            let saved = state.units[unit].saved_keys.get(usize::from(key)).copied();
            state.units[unit].powered && saved != Some(value)
        }
        Operation::HandOver(unit) => !state.units[unit].primary && setting.target.units[unit].primary,
        _ => false,
    }
}

/// Whether the lead passes through a third unit, which restarts to give it up: the one that shall lead is to
/// have the id of the one that leads and leaves, so that both are never in together.
#[must_use]
pub fn needs_acting(setting: &Setting, situation: &Situation, incumbent: UnitSet) -> bool {
    let state = &situation.state;
    let next = setting.units.ids().find(|unit| setting.target.units[*unit].primary);
    let leader = primaries(state, incumbent).and(setting.leaving).first();
    next.zip(leader).is_some_and(|(next, leader)| {
        setting.joining.contains(next) && setting.target.units[next].id == state.units[leader].id
    })
}

/// Circles of units each of which is to have the id that the next was given: one of each circle is given
/// another one meanwhile.
#[must_use]
pub fn id_cycles(work: &Work, situation: &Situation) -> i64 {
    let state = &situation.state;
    let open = |(unit, id): &&(UnitId, MemberId)| state.units[*unit].saved_id != *id;
    let holder = |id: MemberId| {
        let mut holders = work.ids.iter().filter(open);
        holders.find(|(unit, _)| situation.memory.live.contains(*unit) && state.units[*unit].saved_id == id)
    };
    let mut seen = UnitSet::EMPTY;
    let mut cycles = 0;
    for (start, id) in work.ids.iter().filter(open) {
        let (mut walked, mut next) = (UnitSet::one(*start), holder(*id));
        while let Some((unit, id)) = next.filter(|(unit, _)| !walked.contains(*unit)) {
            walked.insert(*unit);
            next = holder(*id);
        }
        if next.is_some_and(|(unit, _)| unit == start) && !walked.meets(seen) {
            cycles += 1;
            seen = seen.or(walked);
        }
    }
    cycles
}
