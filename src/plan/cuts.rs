//! Work -> the units that it cuts off: who has no way to the leader while its breaks are open.

use crate::model::derive::{SideLink, side_link, side_links};
use crate::model::election::{Ballot, elect};
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};

use super::roles::needs_acting;
use super::work::Work;

/// Units that stay and that lose their way to the leader while the work's breaks are open: all that leave
/// and all links that go, together, or one of the restarts, that of who acts for one that goes among them.
#[must_use]
pub(super) fn cut_off(setting: &Setting, work: &Work) -> UnitSet {
    let start = Situation::start(setting);
    let heir = heir(setting, &start).filter(|_| needs_acting(setting, &start, start.incumbent(setting)));
    cut_off_by(setting, work, heir.map_or(work.restarts, |heir| work.restarts.with(heir)))
}

/// Who leads when the leader is gone.
pub(super) fn heir(setting: &Setting, start: &Situation) -> Option<UnitId> {
    let stay = start.memory.live.minus(setting.leaving).minus(start.memory.stranded);
    let others = stay.iter().filter(|unit| Some(*unit) != start.memory.leader).collect();
    elect(setting, &start.state, Ballot::Boot, others).map(|elected| elected.winner)
}

/// The same, where just these restart.
#[must_use]
pub(super) fn cut_off_by(setting: &Setting, work: &Work, restarts: UnitSet) -> UnitSet {
    let start = Situation::start(setting);
    cut(setting, work, restarts, &start, start.memory.leader)
}

/// The same, where another unit leads.
#[must_use]
pub(super) fn cut_off_from(setting: &Setting, work: &Work, lead: UnitId) -> UnitSet {
    cut(setting, work, work.restarts, &Situation::start(setting), Some(lead))
}

/// The same, where a unit restarts so that the one leads that shall.
#[must_use]
pub(super) fn cut_off_without(setting: &Setting, work: &Work, unit: UnitId) -> UnitSet {
    let next = setting.units.ids().find(|unit| setting.target.units[*unit].primary);
    cut(setting, work, UnitSet::one(unit), &Situation::start(setting), next).minus(UnitSet::one(unit))
}

fn cut(setting: &Setting, work: &Work, restarts: UnitSet, start: &Situation, lead: Option<UnitId>) -> UnitSet {
    let stay = start.memory.live.minus(setting.leaving).minus(start.memory.stranded);
    let links = side_links(setting, &start.state, start.memory.live);
    let kept = side_links(setting, &setting.target, setting.all_units());
    let all = setting.all_units().minus(setting.leaving);
    let next = setting.units.ids().find(|unit| setting.target.units[*unit].primary);
    let reach = |of: UnitSet, gone: UnitSet, links: &[SideLink]| {
        let left = of.minus(gone);
        let leads = [lead, next].into_iter().flatten().find(|leader| left.contains(*leader));
        let leader = leads
            .or_else(|| elect(setting, &start.state, Ballot::Boot, left).map(|elected| elected.winner))
            .or(left.first());
        let mut reached = leader.map_or(UnitSet::EMPTY, UnitSet::one);
        loop {
            let before = reached;
            for link in links.iter().filter(|link| !gone.contains(link.0.0) && !gone.contains(link.1.0)) {
                let ends = UnitSet::one(link.0.0).with(link.1.0);
                reached = if ends.meets(reached) { reached.or(ends) } else { reached };
            }
            if reached == before {
                return left.minus(reached);
            }
        }
    };
    let crowded: Vec<SideLink> = work
        .links
        .iter()
        .filter(|link| link.crowded)
        .flat_map(|link| link.blocked_by.iter())
        .filter_map(|cable| side_link(setting, &start.state, cable))
        .collect();
    let stays: Vec<SideLink> =
        links.iter().copied().filter(|link| kept.contains(link) && !crowded.contains(link)).collect();
    let breaks = reach(stay, setting.leaving, &stays);
    restarts.iter().map(UnitSet::one).fold(breaks, |cut, unit| {
        let before = reach(stay, unit, &links);
        let meanwhile = if stays.len() < links.len() { reach(stay, unit, &stays) } else { UnitSet::EMPTY };
        cut.or(before).or(meanwhile).or(reach(all, unit, &kept))
    })
}
