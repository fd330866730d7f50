//! What may be done next: short runs of operations that belong together.
//!
//! A port's change of setting (out of use, released, bound, back in use) is one run. Typed steps on
//! other units or ports commute with it, so pulling its operations together loses no order that a
//! run of fewer operations does not offer as well: every intermediate setting is a run of its own.

use crate::model::document::Side;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{CableId, PortId, UnitId, UnitSet};
use crate::model::traits::{ActivationScope, BindingEffect, IdEffect, SaveScope};

use super::bound::pair_open;
use super::node::Node;
use super::roles::task_open;
use super::units::unit_runs;
use super::work::{LinkWork, PortWork, Work};

/// A short run of operations.
pub type Run = Vec<Operation>;

/// Every run that may come next. The unit just worked on goes on first.
#[must_use]
pub fn candidates(setting: &Setting, work: &Work, node: &Node) -> Vec<Run> {
    let Node { situation, staged, protected, .. } = node;
    let mut runs = Vec::new();
    for port in &work.ports {
        let unit = setting.unit_of(port.port);
        let waits = setting.joining.contains(unit) && !staged.contains(unit);
        if !waits && situation.state.units[unit].powered && !twin_first(setting, work, situation, port) {
            port_runs(setting, situation, port, &mut runs);
        }
    }
    runs.extend(
        work.disconnect
            .iter()
            .filter(|cable| situation.state.plugged.contains(**cable))
            .map(|cable| vec![Operation::Disconnect(*cable)]),
    );
    let present =
        |port: PortId| !setting.joining.contains(setting.unit_of(port)) || staged.contains(setting.unit_of(port));
    for cable in work.connect.iter().filter(|cable| !situation.state.plugged.contains(**cable)) {
        if setting.cables[*cable].unit_ends().all(present) && !twin_cable_first(work, situation, *cable) {
            runs.push(vec![Operation::Connect(*cable)]);
        }
    }
    // no step takes a unit out of a ring but its own
    for port in work.legs.iter().filter(|_| !protected) {
        leg_runs(setting, situation, *port, &mut runs);
    }
    runs.extend(
        work.pairs
            .iter()
            .filter(|operation| pair_open(setting, situation, **operation))
            .map(|operation| vec![*operation]),
    );
    task_runs(
        setting,
        work,
        situation,
        node.situation.incumbent_among(setting, &situation.state, &node.islands),
        &mut runs,
    );
    island_runs(setting, node, !work.is_done(setting, situation), &mut runs);
    unit_runs(setting, work, situation, &mut runs);
    runs
}

/// A leg's port on a unit that may be apart for a while: out of use before, back in use once it is back.
fn leg_runs(setting: &Setting, situation: &Situation, port: PortId, runs: &mut Vec<Run>) {
    let unit = setting.unit_of(port);
    if !situation.state.units[unit].powered {
        return;
    }
    let run =
        if situation.state.ports[port].enabled() { Operation::DisablePort(port) } else { Operation::EnablePort(port) };
    runs.push(vec![run]);
}

/// Parallel cables of one link are alike: of two ports on one side that are set and cabled alike,
/// the first goes first, and of two such cables too.
fn twin_first(setting: &Setting, work: &Work, situation: &Situation, port: &PortWork) -> bool {
    let plugged =
        |port: PortId| setting.ports[port].cables.iter().any(|cable| situation.state.plugged.contains(*cable));
    let far = |link: &LinkWork, near: PortId| {
        link.cables.iter().find_map(|(_, a, b)| {
            if *a == near {
                Some(*b)
            } else if *b == near {
                Some(*a)
            } else {
                None
            }
        })
    };
    let value = |port: PortId| situation.state.ports[port];
    work.links.iter().any(|link| {
        let Some(mine) = far(link, port.port) else { return false };
        let same_side = |other: &PortId| setting.unit_of(*other) == setting.unit_of(port.port) && *other < port.port;
        let others = link.cables.iter().flat_map(|(_, a, b)| [*a, *b]).filter(same_side);
        others.into_iter().any(|other| {
            let theirs = far(link, other);
            value(other) == value(port.port)
                && plugged(other) == plugged(port.port)
                && theirs.is_some_and(|theirs| value(theirs) == value(mine))
        })
    })
}

fn twin_cable_first(work: &Work, situation: &Situation, cable: CableId) -> bool {
    let value = |port: PortId| situation.state.ports[port];
    work.links.iter().any(|link| {
        let Some((_, a, b)) = link.cables.iter().find(|(own, _, _)| *own == cable) else { return false };
        link.cables.iter().take_while(|(own, _, _)| *own != cable).any(|(other, c, d)| {
            !situation.state.plugged.contains(*other) && value(*a) == value(*c) && value(*b) == value(*d)
        })
    })
}

/// Every setting that a port may be changed to, as the run that leads there.
fn port_runs(setting: &Setting, situation: &Situation, port: &PortWork, runs: &mut Vec<Run>) {
    let is = situation.state.ports[port.port];
    let mut sides = vec![is.side()];
    // nobody binds a fixed port, nor releases one
    let fixed = setting.traits.binding.takes_effect == BindingEffect::Fixed;
    for side in [port.side, Side::None].into_iter().filter(|_| !fixed) {
        let useful = side == port.side || port.recabled;
        if !sides.contains(&side) && useful {
            sides.push(side);
        }
    }
    for side in sides {
        for enabled in [true, false] {
            let run = port_run(setting, situation, port.port, side, enabled);
            if !run.is_empty() {
                runs.push(run);
            }
        }
    }
    let lazy = !fixed && setting.traits.binding.takes_effect != BindingEffect::AtOnce;
    if lazy && port.recabled && is.active() && is.side() == port.side {
        let mut run = port_run(setting, situation, port.port, Side::None, false);
        run.push(Operation::BindPort(port.port, port.side));
        run.extend(port.enabled.then_some(Operation::EnablePort(port.port)));
        runs.push(run);
    }
}

fn port_run(setting: &Setting, situation: &Situation, port: PortId, side: Side, enabled: bool) -> Run {
    let is = situation.state.ports[port];
    let mut in_use = is.enabled();
    let mut run = Vec::new();
    if is.side() != side {
        if setting.traits.binding.port_disabled && in_use {
            run.push(Operation::DisablePort(port));
            in_use = false;
        }
        if is.side() != Side::None {
            run.push(Operation::ReleasePort(port));
        }
        if side != Side::None {
            run.push(Operation::BindPort(port, side));
        }
    }
    if in_use != enabled {
        run.push(if enabled { Operation::EnablePort(port) } else { Operation::DisablePort(port) });
    }
    run
}

/// What only wider habits ask for. Where a command gives the lead, whoever may lead meanwhile may be given it.
fn task_runs(setting: &Setting, work: &Work, situation: &Situation, incumbent: UnitSet, runs: &mut Vec<Run>) {
    let open = work.tasks.iter().filter(|task| task_open(setting, situation, **task));
    runs.extend(open.map(|task| vec![*task]));
    if !setting.traits.lead_is_given() || incumbent.is_empty() {
        return;
    }
    let state = &situation.state;
    let leader = crate::model::derive::primaries(state, incumbent).first();
    let gives_up = |leader: UnitId| !setting.target.units[leader].primary || work.restarts.contains(leader);
    if leader.is_some_and(gives_up) {
        let heirs = setting.may_lead.and(incumbent).minus(leader.into_iter().collect());
        let named = |unit: &UnitId| work.tasks.contains(&Operation::HandOver(*unit));
        runs.extend(heirs.iter().filter(|unit| !named(unit)).map(|unit| vec![Operation::HandOver(unit)]));
    }
}

/// Activations and saves: one for each island that has something to activate or to save. A save that
/// only gives a unit its copy of the common settings waits until no other work is left: no rule asks
/// for the copy before the end, and a later save of the common settings would take it away again.
fn island_runs(setting: &Setting, node: &Node, work_left: bool, runs: &mut Vec<Run>) {
    let Node { situation, islands, last, .. } = node;
    let state = &situation.state;
    let incumbent = situation.incumbent_among(setting, state, islands);
    for island in islands.iter() {
        let speaker = last.filter(|unit| island.contains(*unit)).or_else(|| {
            let leader = crate::model::derive::primaries(state, island).first();
            leader.or_else(|| island.first())
        });
        let Some(speaker) = speaker else { continue };
        let idle = |port: &PortId| state.ports[*port].side() != Side::None && !state.ports[*port].active();
        let dormant: UnitSet = island.iter().filter(|unit| setting.units[*unit].ports.iter().any(idle)).collect();
        if setting.traits.binding.takes_effect == BindingEffect::OnActivation && !dormant.is_empty() {
            match setting.traits.activate.scope {
                ActivationScope::Stack => runs.push(vec![Operation::Activate(speaker)]),
                ActivationScope::Unit => runs.extend(dormant.iter().map(|unit| vec![Operation::Activate(unit)])),
            }
        }
        let common = island == incumbent && state.saved != state.running;
        let own = |unit: UnitId| {
            let row = &state.units[unit];
            let unstored = setting.units[unit].ports.iter().any(|port| !state.ports[*port].is_stored());
            let numbered = setting.traits.member_id.takes_effect == IdEffect::AtOnce && row.id != row.saved_id;
            unstored || numbered || row.priority != row.saved_priority
        };
        let shared = |unit: UnitId| island == incumbent && (common || !state.units[unit].copy && !work_left);
        match setting.traits.save.scope {
            SaveScope::Stack if island.iter().any(|unit| own(unit) || shared(unit)) => {
                runs.push(vec![Operation::Save(speaker)])
            }
            SaveScope::Stack => {}
            SaveScope::Unit => {
                // units that only lack their copy are alike: the first of them goes first
                let alike = island.iter().find(|unit| !own(*unit) && shared(*unit));
                let own = island.iter().filter(|unit| own(*unit));
                runs.extend(own.chain(alike).map(|unit| vec![Operation::Save(unit)]));
            }
        }
    }
}
