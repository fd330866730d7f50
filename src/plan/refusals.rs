//! What can be refused without a search, because no order whatever could do.

use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, PortId, UnitId, UnitSet};
use crate::model::traits::BindingEffect;

use super::leads::leaders;
use super::roles::needs_acting;
use super::work::Work;
use super::{cuts, links, parts, work};

/// Whether the change takes a consent that is not given, whatever the order: nobody restarts a unit that must
/// restart, or hands on a lead that must be handed on, without one; and where all new links wait for ports of
/// links that go, those go first, whoever they cut off.
pub(super) fn surely_refused(setting: &Setting, work: &Work) -> bool {
    let start = Situation::start(setting);
    let live = start.memory.live;
    let (now, next) = leaders(setting);
    let moves = setting.founder().is_none() && now != next;
    let unnamed = next.filter(|_| moves).is_some_and(|next| !setting.may_lead.contains(next));
    let cut = !setting.temporary_cables && surely_cut(setting, work);
    let acting = needs_acting(setting, &start, start.incumbent(setting)) && !may_act(setting, &start, next);
    cut || unnamed || acting || !work.restarts.and(live).minus(start.memory.stranded).within(setting.may_restart)
}

/// Whether somebody may lead between one that goes and the one that comes with its id, who cannot be in together. Of
/// the live units that stay one leads then, or it is split off; and where a pair is to stay up, a stack there must be
/// that holds a leg of it. Whoever that is has joined by then, and goes as well or restarts to give the lead up.
fn may_act(setting: &Setting, start: &Situation, next: Option<UnitId>) -> bool {
    let stay = setting.all_units().minus(setting.leaving);
    let goes = setting.leaving.and(start.memory.live);
    let others = stay.or(goes).iter().filter(|unit| Some(*unit) != next && Some(*unit) != start.memory.leader);
    let nobody = !start.memory.live.meets(stay) && setting.kept_pairs.is_empty();
    let free = goes.or(setting.may_restart).or(setting.may_split).or(start.memory.stranded);
    nobody || others.collect::<UnitSet>().meets(free)
}

/// Whether units are cut off that may not be, unless a spare cable goes round, whoever leads meanwhile: all new links
/// wait for ports of links that go.
pub(super) fn surely_cut(setting: &Setting, work: &Work) -> bool {
    let start = Situation::start(setting);
    let waits = |link: &work::LinkWork| links::is_blocked(setting, &start.state, link);
    let others = setting.may_lead.and(start.memory.live).minus(setting.leaving);
    !cuts::cut_off_by(setting, work, work.restarts).within(setting.may_split)
        && others.iter().all(|lead| !cuts::cut_off_from(setting, work, lead).within(setting.may_split))
        && work.links.iter().all(waits)
        && parts::parts(setting, work).len() == 1
}

/// Whether a pair that is to stay up has nobody to stay on: all of the stack go, or its only unit restarts, no cable of
/// either state leads from it to anybody else, unless a restart comes first, and who stands apart has no leg of the pair.
///
/// One that stands apart is never the larger, so that it is the stack only once the others are off; and until then no
/// leg is added outside the stack, nor may one carry there.
pub(super) fn apart(setting: &Setting, work: &Work) -> bool {
    let start = Situation::start(setting);
    let stack = start.incumbent(setting);
    let outside = start.memory.live.minus(stack);
    let all_go = !stack.is_empty() && stack.within(setting.leaving);
    let restarts = stack.len() == 1 && stack.within(work.restarts);
    if !(all_go || restarts) || outside.len() > 1 {
        return false;
    }
    let late = setting.traits.binding.takes_effect == BindingEffect::AfterRestart;
    let at_once = |port: PortId| !late || start.state.ports[port].active();
    let joins = |cable: CableId| match setting.cables[cable] {
        CableRow::Units(a, b) => [(a, b), (b, a)].into_iter().any(|(near, far)| {
            let other = UnitSet::one(setting.unit_of(far));
            stack.contains(setting.unit_of(near)) && at_once(near) && !other.meets(stack.or(setting.dead))
        }),
        CableRow::Far(..) => false,
    };
    let has_leg = |leg| setting.legs[leg].ports.iter().any(|port| outside.contains(setting.unit_of(*port)));
    let stays_on = |pair| setting.uplinks[pair].legs.and(start.state.running.legs).iter().any(has_leg);
    !setting.kept_pairs.iter().all(stays_on)
        && !setting.target.plugged.iter().chain(setting.baseline.plugged.iter()).any(joins)
}
