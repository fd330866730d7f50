//! The rules that speak of a step itself: who restarted, who met whom, what it came too early for.

use super::derive::{Islands, primaries};
use super::operation::Operation;
use super::progress::{Done, Situation};
use super::rules::{Breach, Breaches, Rule, Subject};
use super::setting::Setting;
use super::settle::Events;
use super::state::State;
use super::table::{UnitId, UnitSet};
use super::traits::Criterion;

/// `no-live-restart`.
pub(super) fn restarts(
    setting: &Setting,
    before: &Situation,
    operation: Operation,
    done: &Done,
    breaches: &mut Breaches,
) {
    let typed = match operation {
        Operation::Restart(unit) | Operation::PowerOff(unit) | Operation::Wipe(unit) => UnitSet::one(unit),
        _ => UnitSet::EMPTY,
    };
    let restarted = typed.or(done.events.restarts).and(before.memory.live);
    let agreed = setting.leaving.or(setting.may_restart).or(before.memory.stranded);
    if restarted.within(agreed) {
        return;
    }
    // who is apart under `split:`, be it while another restarts, restarts when it returns, and not otherwise
    let up = |down: &State| setting.units.ids().filter(|unit| down.units[*unit].powered).collect::<UnitSet>();
    let returns = |down: &State| up(down).minus(before.incumbent_in(setting, down));
    let meanwhile = done.events.downs.iter().map(returns).fold(UnitSet::EMPTY, UnitSet::or).minus(typed);
    let apart = setting.all_units().minus(done.incumbent_before).or(meanwhile);
    let incumbent = done.after.incumbent_among(setting, &done.after.state, &done.islands);
    let back = match operation {
        Operation::PowerOff(_) => UnitSet::EMPTY,
        _ => apart.and(setting.may_split).and(incumbent),
    };
    for unit in restarted.minus(agreed.or(back)).iter() {
        breaches.now(Rule::NoLiveRestart, Subject::Unit(unit));
    }
}

/// What `no-live-restart` has against a step that switches a unit off or restarts it, whatever else would happen.
pub fn stays_up(setting: &Setting, before: &Situation, operation: Operation) -> Option<Breach> {
    let (unit, agreed) = match operation {
        Operation::PowerOff(unit) => (unit, UnitSet::EMPTY),
        // one under `split:` may do so as it returns
        Operation::Restart(unit) => (unit, setting.may_split),
        _ => return None,
    };
    let agreed = agreed.or(setting.leaving).or(setting.may_restart).or(before.memory.stranded);
    let broken = before.state.units[unit].powered && before.memory.live.contains(unit) && !agreed.contains(unit);
    broken.then_some(Breach { rule: Rule::NoLiveRestart, subject: Subject::Unit(unit), cold: false })
}

/// `no-id-clash` and `decided` on the way, and `loses-merge`.
pub(super) fn happenings(setting: &Setting, before: &Situation, done: &Done, breaches: &mut Breaches) {
    let Events { clash, undecided, merges, .. } = &done.events;
    if let Some(unit) = clash.first() {
        breaches.now(Rule::NoIdClash, Subject::Unit(unit));
    }
    if !undecided.is_empty() {
        breaches.now(Rule::Decided, Subject::Stack);
    }
    if merges.is_empty() {
        return;
    }
    let leader = primaries(&before.state, done.incumbent_before).first();
    // on a way back those that came leave: one of them that is outside must not come in by chance either
    let comes = setting.joining.or(setting.leaving).minus(before.memory.live).minus(before.memory.stranded);
    let newcomer = |unit: UnitId| comes.contains(unit);
    let islands = Islands::of(setting, &before.state);
    let brings = |unit: UnitId| newcomer(unit) || islands.around(unit).iter().any(newcomer);
    for merge in merges {
        let lost_well = Some(merge.winner) == leader && !by_chance(merge.by);
        let other = if Some(merge.loser) == leader { merge.winner } else { merge.loser };
        let meets = Some(merge.winner) == leader || Some(merge.loser) == leader;
        if meets && brings(other) && !lost_well {
            breaches.now(Rule::LosesMerge, Subject::Unit(other));
        }
    }
}

/// Whether something decided that nobody chose.
const fn by_chance(by: Option<Criterion>) -> bool {
    matches!(by, None | Some(Criterion::Uptime | Criterion::LowestMac | Criterion::HighestMac))
}

/// `settled`. Who leads the stack is no newcomer to it.
pub(super) fn unsettled(before: &Situation, operation: Operation, done: &Done, breaches: &mut Breaches) {
    let disturbs = matches!(operation, Operation::Restart(_) | Operation::PowerOff(_) | Operation::Save(_))
        || done.joined != primaries(&done.after.state, done.joined);
    if let (Some(unit), true) = (before.memory.unready.first(), disturbs) {
        breaches.now(Rule::Settled, Subject::Unit(unit));
    }
}
