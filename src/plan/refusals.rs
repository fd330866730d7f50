//! What can be refused without a search, because no order whatever could do.

use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, UnitId, UnitSet};

use super::leaders;
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

/// Whether no cable of either state leads from a unit that is live to another, though all that are live go: a pair that is
/// to stay up has nobody to stay on.
pub(super) fn apart(setting: &Setting) -> bool {
    let live = Situation::start(setting).memory.live;
    let joins = |cable: CableId| match setting.cables[cable] {
        CableRow::Units(a, b) => {
            let (a, b) = (setting.unit_of(a), setting.unit_of(b));
            live.contains(a) != live.contains(b)
        }
        CableRow::Far(..) => false,
    };
    let goes = !live.is_empty() && live.within(setting.leaving) && !setting.kept_pairs.is_empty();
    goes && !setting.target.plugged.iter().chain(setting.baseline.plugged.iter()).any(joins)
}
