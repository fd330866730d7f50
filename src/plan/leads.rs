//! Who may lead meanwhile, where consents are given: the sets that a plan is looked for with, one after the other.

use crate::model::derive::Islands;
use crate::model::election::{Ballot, elect};
use crate::model::progress::{Situation, leg_carries};
use crate::model::setting::Setting;
use crate::model::table::{UnitId, UnitSet};

use super::work::Work;

/// Who leads, and who shall.
pub(super) fn leaders(setting: &Setting) -> (Option<UnitId>, Option<UnitId>) {
    let now = Situation::start(setting).memory.leader;
    (now, setting.units.ids().find(|unit| setting.target.units[*unit].primary))
}

/// Who else may lead, where the lead moves or its holder restarts: the one that shall, and the best of those
/// that stay; then any. More is not always better: of several islands the largest that is led by one of them
/// is the stack.
pub(super) fn leads(setting: &Setting, work: &Work) -> Vec<UnitSet> {
    let (now, next) = leaders(setting);
    let stay = setting.all_units().minus(setting.leaving);
    if now == next && !now.is_some_and(|leader| work.restarts.contains(leader)) {
        return vec![UnitSet::EMPTY, stay];
    }
    let there = Situation::start(setting).memory.live.and(stay);
    let others: UnitSet = there.iter().filter(|unit| Some(*unit) != now).collect();
    let heir = elect(setting, &setting.baseline, Ballot::Boot, heirs(setting, others)).map(|elected| elected.winner);
    vec![next.into_iter().chain(heir).chain(now.filter(|now| stay.contains(*now))).collect(), stay]
}

/// The last resort: one that leaves may lead meanwhile as well.
pub(super) fn parting_leads(setting: &Setting) -> Vec<UnitSet> {
    let parting = Situation::start(setting).memory.live.and(setting.leaving);
    if parting.is_empty() { Vec::new() } else { vec![setting.all_units()] }
}

/// Of those that stay, the ones whose piece keeps every pair up once all that leave are off; all, if none does.
fn heirs(setting: &Setting, others: UnitSet) -> UnitSet {
    let mut state = setting.baseline.clone();
    for unit in setting.leaving.iter() {
        state.units[unit].powered = false;
    }
    let islands = Islands::of(setting, &state);
    let carries = |island: UnitSet, leg| leg_carries(setting, &state, island, state.running.legs, leg);
    let keeps = |unit: &UnitId| {
        let island = islands.around(*unit);
        setting.kept_pairs.iter().all(|pair| setting.uplinks[pair].legs.iter().any(|leg| carries(island, leg)))
    };
    let fit: UnitSet = others.iter().filter(keeps).collect();
    if fit.is_empty() { others } else { fit }
}
