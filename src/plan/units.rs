//! What may be done next to whole units: numbers, weights, restarts, power.
//!
//! A restart is offered only where the unit would act on something else afterwards, or gives up a lead that
//! is not to stay with it, or a seat from which it would take one; any other would be one more with nothing gained.

use crate::model::document::Side;
use crate::model::names::{MemberId, Priority};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};
use crate::model::traits::{Admission, BindingEffect, Criterion, IdEffect, SaveScope, StandbySeat, StoredWhen, Wins};

use super::candidates::Run;
use super::roles::needs_restart;
use super::work::{PortWork, Work};

/// Every such operation that may come next.
pub fn unit_runs(setting: &Setting, work: &Work, situation: &Situation, runs: &mut Vec<Run>) {
    let state = &situation.state;
    // one that joins with less weight gets its own when it is in
    let inside = |unit: UnitId| !setting.joining.contains(unit) || situation.memory.live.contains(unit);
    for (unit, priority) in work.priorities.iter().filter(|(unit, _)| state.units[*unit].powered && inside(*unit)) {
        weigh(setting, work, situation, (*unit, *priority), runs);
    }
    lighten_leavers(setting, work, situation, runs);
    for (unit, id) in work.ids.iter().filter(|(unit, _)| state.units[*unit].powered) {
        number(setting, work, situation, (*unit, *id), runs);
    }
    for unit in setting.units.ids().filter(|unit| state.units[*unit].waiting) {
        runs.push(vec![Operation::Restart(unit)]);
    }
    let live = situation.memory.live;
    let free = setting.may_restart.or(situation.memory.stranded);
    let allowed = |unit: &UnitId| !live.contains(*unit) || free.contains(*unit);
    // by uptime, whoever restarts stands back behind the others
    let by_age = work.wide && setting.traits.election.compares(Criterion::Uptime);
    let heir = heir_in_the_way(setting, situation);
    let restarts = |unit: &UnitId| by_age || heir.contains(*unit) || restart_helps(setting, work, situation, *unit);
    for unit in restartable(setting, work, situation).or(heir).iter().filter(allowed).filter(restarts) {
        runs.push(vec![Operation::Restart(unit)]);
    }
    runs.extend(
        work.leavers.iter().filter(|unit| state.units[*unit].powered).map(|unit| vec![Operation::PowerOff(unit)]),
    );
    for newcomer in work.newcomers.iter().filter(|one| one.boots_in) {
        let (unit, row) = (newcomer.unit, &state.units[newcomer.unit]);
        let ready = row.bootable && row.saved_id == setting.target.units[unit].saved_id;
        if ready && !live.contains(unit) {
            runs.push(vec![if row.powered { Operation::PowerOff(unit) } else { Operation::PowerOn(unit) }]);
        }
    }
    for unit in work.pauses.iter() {
        let on = state.units[unit].powered;
        runs.push(vec![if on { Operation::PowerOff(unit) } else { Operation::PowerOn(unit) }]);
    }
}

/// Whether a newcomer cannot lose a merge by what the stack may rely on: it is cabled while it is off, and comes
/// in as it boots, which takes no election.
pub fn boots_in(setting: &Setting, unit: UnitId) -> bool {
    let leader = Situation::start(setting).memory.leader;
    // primaries meet in a merge: both lead
    match setting.traits.election.merge.iter().find(|criterion| **criterion != Criterion::Acting) {
        Some(Criterion::Uptime | Criterion::LowestMac | Criterion::HighestMac) => true,
        Some(Criterion::LowestId) => {
            let own = setting.target.units[unit].saved_id;
            let id = |unit: UnitId| setting.baseline.units[unit].saved_id;
            let stay = Situation::start(setting).memory.live.minus(setting.leaving);
            // whoever has the leader's id comes once another leads
            let rival = leader.map(id).filter(|rival| *rival != own).or_else(|| stay.iter().map(id).min());
            leader.is_some() && rival.is_some_and(|rival| own < rival)
        }
        // a stack of one is no larger than a newcomer
        Some(Criterion::Size) => Situation::start(setting).memory.live.len() < 2,
        Some(Criterion::Priority | Criterion::Acting) | None => false,
    }
}

/// Units of the baseline that stay, are up and do not wait.
fn restartable(setting: &Setting, work: &Work, situation: &Situation) -> UnitSet {
    let fits = |unit: &UnitId| {
        let row = &situation.state.units[*unit];
        row.powered && !row.waiting && setting.stays(*unit) && (!setting.joining.contains(*unit) || row.primary)
    };
    let leaders = setting.units.ids().filter(|unit| situation.state.units[*unit].primary).collect::<UnitSet>();
    let any = if work.wide { setting.may_restart.and(situation.memory.live) } else { UnitSet::EMPTY };
    work.restarts.or(leaders).or(any).iter().filter(fits).collect()
}

/// Who keeps the seat of the standby, and would take the lead in place of the one that shall have it; once it has
/// restarted, another has the seat.
fn heir_in_the_way(setting: &Setting, situation: &Situation) -> UnitSet {
    if setting.traits.standby != StandbySeat::Sticky {
        return UnitSet::EMPTY;
    }
    let units = &situation.state.units;
    let Some(next) = setting.units.ids().find(|unit| setting.target.units[*unit].primary) else {
        return UnitSet::EMPTY;
    };
    let in_the_way = |unit: &UnitId| *unit != next && units[*unit].standby && setting.stays(*unit);
    if units[next].primary { UnitSet::EMPTY } else { setting.units.ids().filter(in_the_way).collect() }
}

/// Whether a unit would act on more of the target after a restart, or would give up a lead in favour of one
/// that shall have it.
fn restart_helps(setting: &Setting, work: &Work, situation: &Situation, unit: UnitId) -> bool {
    let row = &situation.state.units[unit];
    let pending = setting.traits.member_id.takes_effect == IdEffect::AfterRestart && row.saved_id != row.id;
    let concerned = work.restarts.contains(unit) || row.primary;
    let stored = setting.units[unit].ports.iter().any(|port| {
        let is = situation.state.ports[*port];
        is.saved_side() != is.side() || is.side() != Side::None && !is.active()
    });
    concerned
        && (pending
            || bound_meanwhile(setting, work, situation, unit)
            || needs_restart(setting, situation, unit) && (row.primary || stored))
}

/// Whether a unit has a port bound and saved for a while only, and a restart would put that into force.
fn bound_meanwhile(setting: &Setting, work: &Work, situation: &Situation, unit: UnitId) -> bool {
    let late = setting.traits.binding.takes_effect == BindingEffect::AfterRestart;
    let waits = |port: &PortWork| {
        let is = situation.state.ports[port.port];
        let bound = port.side != Side::None && is.side() == port.side && is.saved_side() == port.side;
        let meanwhile = setting.target.ports[port.port].side() != port.side;
        setting.unit_of(port.port) == unit && bound && meanwhile && !is.active()
    };
    late && work.ports.iter().any(waits)
}

/// A unit's own priority; where each is saved apart from the others, also one that nobody has, so that two
/// that change places never tie.
fn weigh(
    setting: &Setting,
    work: &Work,
    situation: &Situation,
    (unit, priority): (UnitId, Priority),
    runs: &mut Vec<Run>,
) {
    let is = situation.state.units[unit].priority;
    if work.wide && setting.traits.election.decides_by(Criterion::Priority) {
        let meanwhile = [spare_priority(setting), first_priority(setting)].into_iter().flatten();
        runs.extend(meanwhile.filter(|one| *one != is).map(|one| vec![Operation::SetPriority(unit, one)]));
    }
    if is == priority {
        return;
    }
    runs.push(vec![Operation::SetPriority(unit, priority)]);
    if work.wide {
        return;
    }
    let holds = |other: UnitId| other != unit && situation.state.units[other].priority == priority;
    let taken = work.priorities.iter().any(|(other, _)| holds(*other));
    let one_by_one =
        setting.traits.stored.priority == StoredWhen::AtOnce || setting.traits.save.scope == SaveScope::Unit;
    let spare = (taken && one_by_one).then(|| spare_priority(setting));
    runs.extend(spare.flatten().filter(|spare| *spare != is).map(|spare| vec![Operation::SetPriority(unit, spare)]));
}

/// A unit that goes, and whose weight one that stays is to have, may give it up first.
fn lighten_leavers(setting: &Setting, work: &Work, situation: &Situation, runs: &mut Vec<Run>) {
    for unit in work.leavers.iter().filter(|unit| situation.state.units[*unit].powered) {
        let own = situation.state.units[unit].priority;
        if work.priorities.iter().any(|(_, wanted)| *wanted == own) {
            runs.extend(spare_priority(setting).map(|spare| vec![Operation::SetPriority(unit, spare)]));
        }
    }
}

/// The priority that wins over the fewest and that no unit has before or after.
fn spare_priority(setting: &Setting) -> Option<Priority> {
    free_priority(setting, setting.traits.priority.wins == Wins::Highest)
}

/// The priority that wins over the most and that no unit has before or after.
pub fn first_priority(setting: &Setting) -> Option<Priority> {
    free_priority(setting, setting.traits.priority.wins == Wins::Lowest)
}

/// The lowest id, below a unit's own, that none of those that stay has before or after.
pub fn first_id(setting: &Setting, unit: UnitId) -> Option<MemberId> {
    let stay = setting.all_units().minus(setting.leaving).minus(setting.joining);
    let taken: Vec<MemberId> = stay
        .iter()
        .flat_map(|unit| [setting.baseline.units[unit].saved_id, setting.target.units[unit].saved_id])
        .collect();
    let (low, _) = setting.traits.member_id.range;
    (low.0..setting.baseline.units[unit].saved_id.0).map(MemberId).find(|id| !taken.contains(id))
}

fn free_priority(setting: &Setting, from_below: bool) -> Option<Priority> {
    let taken: Vec<Priority> = setting
        .units
        .ids()
        .flat_map(|unit| [setting.baseline.units[unit].saved_priority, setting.target.units[unit].saved_priority])
        .collect();
    let (low, high) = setting.traits.priority.range;
    let free = |value: &u32| !taken.contains(&Priority(*value));
    let found = if from_below { (low.0..=high.0).find(free) } else { (low.0..=high.0).rev().find(free) };
    found.map(Priority)
}

/// A unit's own id; where another holds it that is to be numbered anew as well, also one that nobody has.
fn number(setting: &Setting, work: &Work, situation: &Situation, (unit, id): (UnitId, MemberId), runs: &mut Vec<Run>) {
    let given = |unit: UnitId| match setting.traits.member_id.takes_effect {
        IdEffect::AtOnce => situation.state.units[unit].id,
        IdEffect::AfterRestart => situation.state.units[unit].saved_id,
    };
    let (low, high) = setting.traits.member_id.range;
    let holds = |other: UnitId, id: MemberId| {
        let row = &situation.state.units[other];
        other != unit && row.powered && (row.id == id || row.saved_id == id)
    };
    let lends = work.wide && setting.traits.election.decides_by(Criterion::LowestId) && setting.may_lead.contains(unit);
    if lends {
        // so that it leads after the next election
        let free = |id: &MemberId| setting.units.ids().all(|other| !holds(other, *id));
        let first = (low.0..given(unit).0).map(MemberId).find(free);
        runs.extend(first.filter(|first| *first != id).map(|first| vec![Operation::AssignId(unit, first)]));
    }
    if given(unit) == id {
        return;
    }
    let taken = work.ids.iter().any(|(other, _)| holds(*other, id));
    runs.push(vec![Operation::AssignId(unit, id)]);
    let used = |id: MemberId| {
        setting
            .units
            .ids()
            .any(|unit| setting.baseline.units[unit].saved_id == id || setting.target.units[unit].saved_id == id)
    };
    let unused = (low.0..=high.0).map(MemberId).find(|id| !used(*id));
    let left = left_by_a_leaver(setting, situation).filter(|_| setting.traits.admission == Admission::Id);
    let spare = unused.into_iter().chain(left).filter(|spare| taken && *spare != given(unit));
    runs.extend(spare.map(|spare| vec![Operation::AssignId(unit, spare)]));
}

/// The id of a unit that is gone and that nobody shall have: the only one besides their own with which whoever restarts is
/// let in again by a stack that is told of ids.
fn left_by_a_leaver(setting: &Setting, situation: &Situation) -> Option<MemberId> {
    let units = &situation.state.units;
    let gone = setting.leaving.iter().filter(|unit| !units[*unit].powered);
    let held = |id: MemberId| {
        let holds = |unit: UnitId| units[unit].powered && (units[unit].id == id || units[unit].saved_id == id);
        let stay = setting.all_units().minus(setting.leaving);
        setting.units.ids().any(holds) || stay.iter().any(|unit| setting.target.units[unit].saved_id == id)
    };
    gone.map(|unit| setting.baseline.units[unit].saved_id).find(|id| !held(*id))
}
