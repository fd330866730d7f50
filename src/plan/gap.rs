//! The break that a change of cabling takes while it is open: the part of the bound that looks at it.
//!
//! Where new links need ports of links that stand, those go first. From then on minutes count that come before
//! all else: unprotected in a ring, out of the stack for units that are cut off.

use crate::model::derive::{Link, link};
use crate::model::document::Side;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, CableSet, PortId, UnitSet};
use crate::model::traits::{BindingEffect, Loser};

use super::bound::{Rings, is_there, likely};
use super::links::{is_blocked, is_made, late_newcomers, steps_of};
use super::node::Node;
use super::work::{LinkWork, Work};

/// Which links are made in a hurry: while minutes count that come before links not typed, a plug makes them
/// as soon as it can, and nothing more need be typed for them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Haste {
    /// None of them.
    None,
    /// Those whose ports a cable holds that goes.
    Held,
    /// All.
    All,
}

/// What the work's break means for the bound.
pub struct Gap {
    /// The steps by hands that are left of it.
    pub open: Break,
    /// Which links are made in a hurry.
    pub haste: Haste,
    /// Newcomers that come in while it is open.
    pub late: UnitSet,
    /// Member-minutes that are still to come.
    pub absence: i64,
    /// Steps on legs' ports of units that are out or will be: out of use before, back in use after.
    pub legs: i64,
}

/// Looks at the break: units that are out now, or will be cut off with no other way round, are out as long as
/// the hands' work on it lasts, and for the restart with which each comes back.
#[must_use]
pub fn gap(setting: &Setting, work: &Work, node: &Node, incumbent: UnitSet, rings: Rings) -> Gap {
    let Node { situation, staged, protected, .. } = node;
    let (staged, protected) = (*staged, *protected);
    let restart = likely(&setting.traits.minutes.restart);
    let out = situation.memory.live.minus(setting.leaving).minus(incumbent);
    let is_open = !out.is_empty() || rings == Rings::Both && !protected;
    let open = break_left(setting, work, situation, staged, is_open);
    let whole = protected || !open.due || !out.is_empty();
    let (cut, far) = if whole { (0, UnitSet::EMPTY) } else { cut_by_break(setting, work, situation, incumbent) };
    let haste = if is_open {
        Haste::All
    } else if cut > 0 {
        Haste::Held
    } else {
        Haste::None
    };
    let before = (open.minutes - open.opener * work.gaps.max(1)).max(0);
    let hurried = haste != Haste::None || rings == Rings::Both;
    let late = if hurried { late_newcomers(setting, work, situation, haste) } else { UnitSet::EMPTY };
    // losers that wait are restarted by hand, one after the other: newcomers between first
    let turns = 1 + if setting.traits.joining.loser == Loser::Waits { late.len() as i64 } else { 0 };
    let absence = out.len() as i64 * (open.minutes + turns * restart) + cut * (before + turns * restart);
    let legs = work.legs.iter().map(|port| match situation.state.ports[*port].enabled() {
        true if far.contains(setting.unit_of(*port)) => 2,
        true => 0,
        false => 1,
    });
    Gap { open, haste, late, absence, legs: legs.sum() }
}

/// The steps by hands that a break takes while it is open: cables out whose ports new links need, units off,
/// new links' cables in.
#[derive(Clone, Copy, Debug, Default)]
pub struct Break {
    /// Minutes of all of them.
    pub minutes: i64,
    /// Minutes of the longest of those that can open the break: it is over when the break opens.
    pub opener: i64,
    /// Any link waits for a port that a standing link holds, or a unit that carries others goes.
    pub due: bool,
}

/// What is left of the break. Each new link that is blocked is plugged while it is open; so is everything
/// unplugged that blocks it, but for the step that opens it; and a unit that goes is switched off while it is
/// linked, and before the links that take its place. `open`: it is open now.
#[must_use]
pub fn break_left(setting: &Setting, work: &Work, situation: &Situation, staged: UnitSet, open: bool) -> Break {
    let (state, minutes) = (&situation.state, &setting.traits.minutes);
    let (cable, power) = (likely(&minutes.cable), likely(&minutes.power));
    let mut left = Break::default();
    let mut unplug = CableSet::EMPTY;
    let lazy = setting.traits.binding.takes_effect == BindingEffect::OnActivation;
    let mut dormant = false;
    for link_work in work.links.iter().filter(|link| !is_made(setting, state, link)) {
        if !if open { was_held(setting, link_work) } else { is_blocked(setting, state, link_work) } {
            continue;
        }
        left.due = true;
        let plugged = link_work.cables.iter().any(|(cable, _, _)| state.plugged.contains(*cable));
        left.minutes += if plugged { 0 } else { cable };
        if open {
            // what its ends still lack is typed while it is open, unless a stage to come types it
            let ends = || link_work.cables.iter().map(|(_, a, b)| [*a, *b]);
            let typed = ends().map(|ends| steps_of(setting, work, situation, staged, &ends)).min();
            left.minutes += typed.unwrap_or(0) * likely(&minutes.command);
            let asleep = |port: PortId| is_there(setting, staged, setting.unit_of(port)) && !state.ports[port].active();
            dormant |= lazy && ends().all(|[a, b]| asleep(a) || asleep(b));
        }
        unplug = unplug.or(link_work.blocked_by.iter().filter(|cable| state.plugged.contains(*cable)).collect());
    }
    left.minutes += unplug.len() as i64 * cable + if dormant { likely(&minutes.activate) } else { 0 };
    left.opener = if unplug.is_empty() { 0 } else { cable };
    if left.due {
        let off = work.leavers.iter().filter(|unit| state.units[*unit].powered).count() as i64;
        left.minutes += off * power;
        left.opener = left.opener.max(if off > 0 { power } else { 0 });
    }
    left
}

/// Whether every cable of a link takes a port that another held before the change.
fn was_held(setting: &Setting, link_work: &LinkWork) -> bool {
    let held = |port: PortId| {
        link_work.crowded || link_work.blocked_by.iter().any(|cable| setting.ports[port].cables.contains(&cable))
    };
    link_work.cables.iter().all(|(_, a, b)| held(*a) || held(*b))
}

/// Whether a ring that is open stays so until a cable is plugged, which takes minutes, unless something is typed that
/// must be undone: nothing that is plugged can come up by what is still to be typed alone.
#[must_use]
pub fn waits_for_a_plug(setting: &Setting, situation: &Situation) -> bool {
    let (state, target) = (&situation.state, &setting.target);
    let between = |cable: CableId| match setting.cables[cable] {
        CableRow::Units(a, b) => Some([a, b]),
        CableRow::Far(..) => None,
    };
    let missing = target.plugged.minus(state.plugged).iter().any(|cable| between(cable).is_some());
    let set = |port: PortId| state.ports[port].side() != Side::None && state.ports[port].enabled();
    let may_come_up = |cable: CableId| {
        let Some(ends) = between(cable) else { return false };
        link(setting, state, cable) != Link::Stack && (target.plugged.contains(cable) || ends.into_iter().all(set))
    };
    let by_typing = state.plugged.iter().any(may_come_up);
    likely(&setting.traits.minutes.cable) > 0 && setting.may_restart.is_empty() && missing && !by_typing
}

/// Units that stay and are cut off while the break is open: those that lose their way to the rest when every
/// link goes that blocks a new one, and every unit that leaves. The smaller piece is counted; and
/// who it is, where that is sure.
#[must_use]
pub fn cut_by_break(setting: &Setting, work: &Work, situation: &Situation, incumbent: UnitSet) -> (i64, UnitSet) {
    let state = &situation.state;
    let stay = situation.memory.live.minus(setting.leaving).and(incumbent);
    let blocking = work
        .links
        .iter()
        .filter(|link| !is_made(setting, state, link) && is_blocked(setting, state, link))
        .fold(CableSet::EMPTY, |all, link| all.or(link.blocked_by));
    let pairs: Vec<UnitSet> = state
        .plugged
        .iter()
        .filter(|cable| !blocking.contains(*cable) && link(setting, state, *cable) == Link::Stack)
        .map(|cable| setting.cables[cable].unit_ends().map(|port| setting.unit_of(port)).collect::<UnitSet>())
        .filter(|ends| !ends.meets(work.leavers))
        .collect();
    let leader = situation.memory.leader.filter(|leader| stay.contains(*leader));
    let Some(first) = leader.or(stay.first()) else { return (0, UnitSet::EMPTY) };
    let mut reached = UnitSet::one(first);
    loop {
        let before = reached;
        reached = pairs.iter().filter(|ends| ends.meets(before)).fold(before, |all, ends| all.or(*ends));
        if reached == before {
            break;
        }
    }
    let far = stay.minus(reached);
    // another unit that may lead takes the larger piece with it
    if leader.is_some() && setting.may_lead.is_empty() {
        (far.len() as i64, far)
    } else {
        ((far.len() as i64).min(stay.minus(far).len() as i64), UnitSet::EMPTY)
    }
}
