//! Cables of neither state that may be plugged for a while: make before break.
//!
//! A spare cable joins two sides that are free before or after the change, over stacking-capable ports that
//! the target leaves empty. It helps where units would be cut off, and where the stack can only live on in one
//! that comes; it never helps a ring, which stays together while it is open.

use crate::model::document::Side;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, CableSet, PortId, UnitId};
use crate::model::traits::Facing;

use super::stage::stages;
use super::work::{LinkWork, Newcomer, PortWork, Work};

/// A spare cable: how it comes and how it goes.
pub(super) struct Spare {
    /// Plugged, both ends bound, a link.
    pub up: Work,
    /// Gone, its ports as the target has them.
    pub down: Work,
    /// What it joins.
    pub row: Option<CableRow>,
}

/// A free end: a side of a unit, and a port for it.
#[derive(Clone, Copy)]
struct End {
    unit: UnitId,
    side: Side,
    port: PortId,
    /// The side is in use neither before nor after.
    free: bool,
}

/// Every spare cable that might help, each with the setting that knows it; the freest first.
pub(super) fn spares(setting: &Setting) -> Vec<(Setting, Spare)> {
    let ends: Vec<End> = setting.units.ids().flat_map(|unit| ends(setting, unit)).collect();
    let mut pairs: Vec<(End, End)> = Vec::new();
    for (position, one) in ends.iter().enumerate() {
        for other in ends.iter().skip(position + 1) {
            let faces = setting.traits.sides.facing == Facing::Any || one.side != other.side;
            if one.unit != other.unit && faces {
                pairs.push((*one, *other));
            }
        }
    }
    let stays = |end: &End| setting.stays(end.unit) && !setting.joining.contains(end.unit);
    // one that comes may meet one that goes before anything else, so that the stack outlives the one
    pairs.retain(|(one, other)| stays(one) || stays(other) || setting.stays(one.unit) != setting.stays(other.unit));
    pairs.sort_by_key(|(one, other)| (!(stays(one) && stays(other)), !(one.free && other.free)));
    pairs.into_iter().map(|(one, other)| spare(setting, one, other)).collect()
}

/// The free sides of a unit that is or comes up, each with its best port.
fn ends(setting: &Setting, unit: UnitId) -> Vec<End> {
    let joins = setting.joining.contains(unit);
    let there = setting.baseline.units[unit].powered;
    if setting.dead.contains(unit) || !(joins || there) {
        return Vec::new();
    }
    let used = |state: &crate::model::state::State, side: Side| {
        setting.units[unit].ports.iter().any(|port| state.ports[*port].side() == side)
    };
    let empty = |state: &crate::model::state::State, port: PortId| {
        let plugged = setting.ports[port].cables.iter().any(|cable| state.plugged.contains(*cable));
        !plugged && state.ports[port].side() == Side::None && !setting.ports[port].legs.meets(state.running.legs)
    };
    let port_for = |free: bool| {
        let ports = || setting.units[unit].ports.iter().copied().filter(|port| setting.ports[*port].stacking);
        let both = |port: &PortId| empty(&setting.baseline, *port) && empty(&setting.target, *port);
        let one = |port: &PortId| empty(&setting.baseline, *port) || empty(&setting.target, *port);
        ports().find(both).or_else(|| if free { None } else { ports().find(one) })
    };
    [Side::West, Side::East]
        .into_iter()
        .filter(|side| !(used(&setting.baseline, *side) && used(&setting.target, *side)))
        .filter_map(|side| {
            let free = !used(&setting.baseline, side) && !used(&setting.target, side);
            port_for(free).map(|port| End { unit, side, port, free })
        })
        .collect()
}

fn spare(setting: &Setting, one: End, other: End) -> (Setting, Spare) {
    let (a, b) = (one.port.min(other.port), one.port.max(other.port));
    let (wider, cable) = with_cable(setting, a, b);
    let port = |end: &End| PortWork { port: end.port, side: end.side, enabled: true, recabled: true };
    let back = |end: &End| {
        let shall = setting.target.ports[end.port];
        PortWork { port: end.port, side: shall.side(), enabled: shall.enabled(), recabled: true }
    };
    let link = LinkWork { cables: vec![(cable, a, b)], blocked_by: CableSet::EMPTY, crowded: false };
    let joins = [one.unit, other.unit].into_iter().filter(|unit| setting.joining.contains(*unit));
    let newcomers = joins.map(|unit| Newcomer { unit, stages: stages(setting, unit) }).collect();
    let ports = vec![port(&one), port(&other)];
    let up = Work { ports, connect: vec![cable], links: vec![link], newcomers, ..Work::default() };
    let down = Work { ports: vec![back(&one), back(&other)], disconnect: vec![cable], ..Work::default() };
    let (up, down) = (up.touched(&wider), down.touched(&wider));
    (wider, Spare { up, down, row: Some(CableRow::Units(a, b)) })
}

/// A setting that knows one more cable; the lower port first.
pub(super) fn with_cable(setting: &Setting, a: PortId, b: PortId) -> (Setting, CableId) {
    let mut wider = setting.clone();
    let cable = setting.cable_between(a, b).unwrap_or_else(|| {
        let cable: CableId = wider.cables.push(CableRow::Units(a, b));
        wider.ports[a].cables.push(cable);
        wider.ports[b].cables.push(cable);
        cable
    });
    (wider, cable)
}
