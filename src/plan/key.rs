//! A situation as a short row of bytes: equal rows have equal futures.
//!
//! Ticks become boot ranks: only who booted before whom can matter. What the work never touches is
//! the same in every situation of one search and is left out.

use crate::model::rules::Subject;
use crate::model::setting::Setting;
use crate::model::state::Unit;
use crate::model::table::{Id, UnitId};
use crate::model::traits::{PriorityEffect, StackMode, StandbySeat};

use super::node::Node;
use super::work::Work;

/// The key of a node's situation, with which newcomers are staged, which links have been up and what is excused.
#[must_use]
pub fn key(setting: &Setting, work: &Work, node: &Node) -> Box<[u8]> {
    let Node { situation, staged, seen, excused, .. } = node;
    let (state, memory) = (&situation.state, &situation.memory);
    let mut bytes = Vec::with_capacity(96 + work.ports.len() + setting.units.len() * 4);
    let mut boots: Vec<i32> = setting.units.ids().map(|unit| state.units[unit].booted_at).collect();
    boots.sort_unstable();
    boots.dedup();
    let habits = has_habits(setting);
    for unit in setting.units.ids() {
        let row = &state.units[unit];
        let rank = boots.binary_search(&row.booted_at).unwrap_or(0) as u8;
        let flags = [row.powered, row.primary, row.waiting, row.copy];
        bytes.push(flags.iter().enumerate().fold(0, |all, (bit, flag)| all | u8::from(*flag) << bit));
        bytes.push(rank);
        if work.units.contains(unit) {
            bytes.extend(row.id.0.to_le_bytes());
            bytes.extend(row.saved_id.0.to_le_bytes());
            bytes.extend(row.priority.0.to_le_bytes());
            bytes.extend(row.saved_priority.0.to_le_bytes());
            bytes.extend(setting.units[unit].ports.iter().map(|port| state.ports[*port].bits()));
            if habits {
                of_habits(row, &mut bytes);
            }
        }
    }
    let cables = work.connect.iter().chain(&work.disconnect);
    for cable in cables {
        let flags = [state.plugged.contains(*cable), memory.unread.contains(*cable), memory.readable.contains(*cable)];
        bytes.push(flags.iter().enumerate().fold(0, |all, (bit, flag)| all | u8::from(*flag) << bit));
    }
    for shared in [&state.running, &state.saved] {
        bytes.extend(shared.pairs.iter().map(|pair| pair.position() as u8));
        bytes.push(0xff);
        bytes.extend(shared.legs.iter().map(|leg| leg.position() as u8));
        bytes.extend(shared.admitted.iter().map(|ticket| ticket.position() as u8));
        bytes.push(0xff);
        bytes.push(shared.guard.map_or(0xff, |pair| pair.position() as u8));
    }
    for set in [memory.live, memory.unready, memory.uncounted, memory.stranded, *staged] {
        bytes.extend(set.iter().map(|unit: UnitId| unit.position() as u8));
        bytes.push(0xff);
    }
    bytes.extend(memory.unproven.iter().map(|leg| leg.position() as u8));
    bytes.extend(seen.to_le_bytes());
    for breach in &excused.0 {
        let (kind, index) = match breach.subject {
            Subject::Stack => (0, 0),
            Subject::Unit(unit) => (1, unit.position()),
            Subject::Cable(cable) => (2, cable.position()),
            Subject::Uplink(uplink) => (3, uplink.position()),
            Subject::Piece(count) => (4, usize::from(count)),
        };
        bytes.extend([breach.rule as u8, u8::from(breach.cold), kind]);
        bytes.extend((index as u16).to_le_bytes());
    }
    bytes.into_boxed_slice()
}

/// Whether units differ in more than their numbers, weights and ports.
fn has_habits(setting: &Setting) -> bool {
    let traits = &setting.traits;
    traits.standby != StandbySeat::Best
        || traits.priority.takes_effect != PriorityEffect::AtOnce
        || !traits.join_keys.is_empty()
        || traits.stack_mode != StackMode::Always
}

fn of_habits(row: &Unit, bytes: &mut Vec<u8>) {
    bytes.extend(row.keys.into_iter().chain(row.saved_keys));
    bytes.extend(row.counts.0.to_le_bytes());
    let flags = [row.lone, row.saved_lone, row.standby];
    bytes.push(flags.iter().enumerate().fold(0, |all, (bit, flag)| all | u8::from(*flag) << bit));
}
