//! What the stack links that are not up yet need at least: the part of the bound that looks at links.

use crate::model::derive::{Link, link, lit, side_link};
use crate::model::document::Side;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::state::State;
use crate::model::table::{CableId, PortId, UnitId, UnitSet};
use crate::model::traits::{BindingEffect, SeenOn};

use super::bound::{is_there, joins_cost_a_save, likely, open_port_steps};
use super::gap::Haste;
use super::work::{LinkWork, PortWork, Work};

/// What the links that are not up yet need at least.
#[derive(Clone, Copy, Debug, Default)]
pub struct Missing {
    /// Links that can only be plugged once the ring is open.
    pub blocked: i64,
    /// Minutes of plugging (and, once the ring is open or not yet closed, of typing) for them.
    pub minutes: i64,
    /// Activations.
    pub activations: i64,
    /// Steps on ports of newcomers that cannot all be typed in their stages.
    pub late_ends: i64,
    /// Steps to make an end inactive again where both are active.
    pub rebinding: i64,
}

/// Looks at every link that is not up. While a ring stands that will be a ring again, only links
/// whose ports are still held by cables of the ring are sure to be made while it is open: each is
/// then plugged in that time, and either its plug makes it, or a typed step takes still more of it.
#[must_use]
pub fn missing_links(
    setting: &Setting,
    work: &Work,
    situation: &Situation,
    staged: UnitSet,
    ring_stands: bool,
    haste: Haste,
) -> Missing {
    let minutes = &setting.traits.minutes;
    let state = &situation.state;
    let lazy = setting.traits.binding.takes_effect == BindingEffect::OnActivation;
    let looked_at = setting.traits.neighbours.seen_on.contains(&SeenOn::Unmatched);
    let mut missing = Missing::default();
    let rebind = 2 + 2 * i64::from(setting.traits.binding.port_disabled);
    let calm = haste == Haste::None;
    missing.rebinding += if lazy && !ring_stands && calm { crowd(setting, work, situation) * rebind } else { 0 };
    for link_work in work.links.iter().filter(|link| !is_made(setting, state, link)) {
        let blocked = is_blocked(setting, state, link_work);
        let hurried =
            haste == Haste::All || ring_stands && blocked || haste == Haste::Held && is_held(setting, state, link_work);
        missing.blocked += i64::from(blocked);
        let typed_then =
            |ports: &[PortId]| if ring_stands { 0 } else { steps_of(setting, work, situation, staged, ports) };
        let cheapest = link_work.cables.iter().map(|(cable, a, b)| {
            let plug = if state.plugged.contains(*cable) { 0 } else { likely(&minutes.cable) };
            plug + typed_then(&[*a, *b]) * likely(&minutes.command)
        });
        let late = if ring_stands || hurried || !lazy || !looked_at {
            0
        } else {
            late_end(setting, work, situation, staged, link_work)
        };
        missing.late_ends += late;
        if !ring_stands || blocked {
            missing.minutes += cheapest.min().unwrap_or(0) + late * likely(&minutes.command);
        }
        if !looked_at || hurried {
            continue;
        }
        if setting.traits.binding.takes_effect == BindingEffect::AtOnce && joins_cost_a_save(setting) {
            missing.rebinding += toggles(setting, situation, staged, link_work);
        }
        let settled = link_work
            .cables
            .iter()
            .all(|(_, a, b)| [*a, *b].iter().all(|port| is_there(setting, staged, setting.unit_of(*port))));
        if lazy && settled {
            let active = |port: PortId| state.ports[port].active();
            let both = link_work.cables.iter().all(|(_, a, b)| active(*a) && active(*b));
            let neither = link_work.cables.iter().all(|(_, a, b)| !active(*a) && !active(*b));
            missing.activations = missing.activations.max(if neither { 2 } else { 1 });
            missing.rebinding += if both { rebind } else { 0 };
        }
    }
    missing
}

/// Whether a link is up, or was made and waits for the restart of one end.
pub fn is_made(setting: &Setting, state: &State, link_work: &LinkWork) -> bool {
    let waits = |port: PortId| state.units[setting.unit_of(port)].waiting;
    link_work.cables.iter().any(|(cable, a, b)| {
        let bound = state.ports[*a].active() && state.ports[*b].active();
        link(setting, state, *cable) == Link::Stack || (waits(*a) || waits(*b)) && bound && lit(setting, state, *cable)
    })
}

/// Where a binding counts at once and must be saved in use before its link is made, one end is taken
/// out of use after the far end was read, and put back last: two steps that no setting asks for. And
/// where a port is bound only out of use, one that is out of use already is put into use to be read.
fn toggles(setting: &Setting, situation: &Situation, staged: UnitSet, link_work: &LinkWork) -> i64 {
    let state = &situation.state;
    let closed = |port: PortId| state.ports[port].active() && !state.ports[port].enabled();
    let read = |cable: CableId| state.plugged.contains(cable) && !situation.memory.unread.contains(cable);
    let ends = || link_work.cables.iter().flat_map(|(_, a, b)| [*a, *b]);
    if link_work.cables.iter().any(|(cable, _, _)| read(*cable)) {
        return if ends().any(closed) { 0 } else { 2 };
    }
    let in_use = |port: PortId| match is_there(setting, staged, setting.unit_of(port)) {
        true => state.ports[port].enabled() && !state.ports[port].active(),
        false => setting.factory_enabled(),
    };
    let opened = setting.traits.binding.port_disabled && !ends().any(in_use);
    2 + if opened { 2 } else { 0 }
}

/// Newcomers beyond the first to whom a live unit's port is bound and not in force, while their own
/// end is: the next activation would bring them all in at once, so but one must be bound again.
fn crowd(setting: &Setting, work: &Work, situation: &Situation) -> i64 {
    let (state, live) = (&situation.state, situation.memory.live);
    let waits = |near: PortId, far: PortId| {
        let bound = state.ports[near].side() != Side::None && !state.ports[near].active();
        live.contains(setting.unit_of(near))
            && bound
            && !live.contains(setting.unit_of(far))
            && state.ports[far].active()
    };
    let ends = work.links.iter().flat_map(|link| &link.cables).flat_map(|(_, a, b)| [(*a, *b), (*b, *a)]);
    let crowd: UnitSet = ends.filter(|(near, far)| waits(*near, *far)).map(|(_, far)| setting.unit_of(far)).collect();
    (crowd.len() as i64 - 1).max(0)
}

/// Steps of the end of a link that must be typed after its stage, where that end is a newcomer's
/// that is not staged yet: one end of every link that is typed is inactive while it is looked at.
fn late_end(setting: &Setting, work: &Work, situation: &Situation, staged: UnitSet, link: &LinkWork) -> i64 {
    let steps = |port: PortId| {
        let mine = work.ports.iter().find(|work| work.port == port);
        mine.map_or(0, |port| open_port_steps(setting, work, situation, staged, port))
    };
    let ends = link.cables.iter().map(|(_, a, b)| {
        let (here, far) =
            (is_there(setting, staged, setting.unit_of(*a)), is_there(setting, staged, setting.unit_of(*b)));
        match (here, far) {
            (true, true) => 0,
            (false, false) => steps(*a).min(steps(*b)),
            (true, false) if situation.state.ports[*a].active() => steps(*b),
            (false, true) if situation.state.ports[*b].active() => steps(*a),
            (true, false) | (false, true) => 0,
        }
    });
    ends.min().unwrap_or(0)
}

/// Whether a link can only be plugged once the ring is open: each of its cables needs a port that the
/// only cable of a standing link holds.
pub fn is_blocked(setting: &Setting, state: &State, link_work: &LinkWork) -> bool {
    let standing = |cable: CableId| {
        (link(setting, state, cable) == Link::Stack).then(|| side_link(setting, state, cable)).flatten()
    };
    let work_leaves = |unit: UnitId| setting.leaving.contains(unit) && state.units[unit].powered;
    let sole = |cable: CableId| {
        let sides = standing(cable);
        sides.is_some() && state.plugged.iter().all(|other| other == cable || standing(other) != sides)
    };
    let held = |port: PortId| {
        // whoever comes in with the id of one that goes cannot come before it is gone
        let twin = |cable: CableId| {
            let gone = setting.cables[cable].unit_ends().map(|port| setting.unit_of(port));
            let ids: Vec<_> =
                gone.filter(|unit| work_leaves(*unit)).map(|unit| setting.baseline.units[unit].saved_id).collect();
            let fresh = link_work.cables.iter().flat_map(|(_, a, b)| [setting.unit_of(*a), setting.unit_of(*b)]);
            fresh
                .filter(|unit| setting.joining.contains(*unit))
                .any(|unit| ids.contains(&setting.target.units[unit].saved_id))
        };
        let there = |cable: CableId| link_work.crowded || setting.ports[port].cables.contains(&cable);
        link_work.blocked_by.iter().any(|cable| there(cable) && (sole(cable) || twin(cable)))
    };
    link_work.cables.iter().all(|(_, a, b)| held(*a) || held(*b))
}

/// Newcomers that can only be reached over blocked links (or over links made in a hurry): each restarts while
/// the ring is open.
#[must_use]
pub fn late_newcomers(setting: &Setting, work: &Work, situation: &Situation, haste: Haste) -> UnitSet {
    let mut reached = situation.memory.live;
    let state = &situation.state;
    let late = |link: &&LinkWork| {
        haste == Haste::All || is_blocked(setting, state, link) || haste == Haste::Held && is_held(setting, state, link)
    };
    loop {
        let before = reached;
        for link_work in work.links.iter().filter(|link| !late(link)) {
            let units: UnitSet =
                link_work.cables.iter().flat_map(|(_, a, b)| [setting.unit_of(*a), setting.unit_of(*b)]).collect();
            if units.meets(reached) {
                reached = reached.or(units);
            }
        }
        if before == reached {
            break;
        }
    }
    work.newcomers.iter().map(|newcomer| newcomer.unit).filter(|unit| !reached.contains(*unit)).collect()
}

/// Steps left on ports, as far as no stage to come types them.
#[must_use]
pub fn steps_of(setting: &Setting, work: &Work, situation: &Situation, staged: UnitSet, ports: &[PortId]) -> i64 {
    let mine = work.ports.iter().filter(|port| ports.contains(&port.port));
    // what a newcomer types in its stage is over before anything is unprotected
    let typed_now = |port: &&PortWork| {
        let unit = setting.unit_of(port.port);
        !setting.joining.contains(unit) || staged.contains(unit)
    };
    mine.filter(typed_now).map(|port| open_port_steps(setting, work, situation, staged, port)).sum()
}

/// Whether every cable of a link waits for a port that a plugged cable holds.
pub fn is_held(setting: &Setting, state: &State, link_work: &LinkWork) -> bool {
    let held = |port: PortId| {
        link_work.blocked_by.iter().any(|cable| {
            (link_work.crowded || setting.ports[port].cables.contains(&cable)) && state.plugged.contains(cable)
        })
    };
    link_work.cables.iter().all(|(_, a, b)| held(*a) || held(*b))
}
