//! A situation -> what every way from there to the target still costs at least, one item at a time.
//!
//! It only lets the search open fewer situations: those whose sum exceeds the least are left. That it
//! never says too much is not taken on trust. The search looks at every step that it tries: what is ahead
//! before it is at most what the step costs and what is ahead after it; and at the target nothing is.

use ringwright::model::progress::Situation;
use ringwright::model::setting::Setting;
use ringwright::model::state::Unit;
use ringwright::model::table::{PortId, UnitId};
use ringwright::model::document::Side;
use ringwright::model::traits::{IdEffect, StoredWhen};

use crate::price::{Cost, likely};

/// What a way from here to the target costs at least.
pub fn ahead(setting: &Setting, situation: &Situation) -> Cost {
    let (state, target) = (&situation.state, &setting.target);
    let cables = state.plugged.minus(target.plugged).or(target.plugged.minus(state.plugged)).len() as i64;
    let stay = || setting.units.ids().filter(|unit| setting.stays(*unit));
    let boots = stay().filter(|unit| must_boot(setting, situation, *unit)).count() as i64;
    let off = setting.leaving.iter().filter(|unit| state.units[*unit].powered).count() as i64;
    let typed: i64 = stay().map(|unit| typed_on(setting, situation, unit)).sum();
    let saves = i64::from(stay().any(|unit| must_save(setting, situation, unit)));
    [boots * likely(&setting.traits.minutes.restart), 0, cables, 0, cables + off + typed + saves]
}

/// A live unit that stays is off, acts on an id that only a boot changes, or holds a lead that it is to
/// lose, which takes a restart or a lost merge: it is out of the stack for the time of a boot.
fn must_boot(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    let other_id = setting.traits.member_id.takes_effect == IdEffect::AfterRestart && is.id != shall.id;
    situation.memory.live.contains(unit) && (!is.powered || is.waiting || other_id || is.primary && !shall.primary)
}

/// Steps on a unit itself and on its ports that nothing else can take the place of. A wipe takes the place
/// of several, where the unit may be wiped and the value is the factory's.
fn typed_on(setting: &Setting, situation: &Situation, unit: UnitId) -> i64 {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    let wiped = may_be_wiped(setting, situation, unit);
    let traits = &setting.traits;
    let power = i64::from(!is.powered);
    let id = shall.id != is.saved_id && !(wiped && shall.id == traits.member_id.factory) && !runs(is, is.id == shall.id);
    let factory_priority = wiped && shall.priority == traits.priority.factory;
    let same_priority = shall.priority == is.saved_priority || runs(is, is.priority == shall.priority);
    let priority = !factory_priority && !same_priority;
    let ports = setting.units[unit].ports.iter();
    let on_ports: i64 = ports.map(|port| on_port(setting, situation, *port, wiped)).sum();
    power + i64::from(id) + i64::from(priority) + on_ports
}

fn runs(unit: &Unit, same: bool) -> bool {
    unit.powered && same
}

fn may_be_wiped(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    !situation.memory.live.contains(unit) || setting.may_restart.contains(unit) || setting.may_split.contains(unit)
        || situation.memory.stranded.contains(unit)
}

/// Binding or releasing, and putting into or out of use, where neither what runs nor what a boot or a wipe
/// brings is as the target has it.
fn on_port(setting: &Setting, situation: &Situation, port: PortId, wiped: bool) -> i64 {
    let (is, shall) = (situation.state.ports[port], setting.target.ports[port]);
    let powered = situation.state.units[setting.unit_of(port)].powered;
    let side = is.saved_side() != shall.side()
        && !(powered && is.side() == shall.side())
        && !(wiped && shall.side() == Side::None);
    let enabled = is.saved_enabled() != shall.enabled()
        && !(powered && is.enabled() == shall.enabled())
        && !(wiped && shall.enabled() == setting.factory_enabled());
    i64::from(side) + i64::from(enabled)
}

/// Something of a unit's own memory that only a save brings there.
fn must_save(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    let wiped = may_be_wiped(setting, situation, unit);
    let by_save = |stored| stored == StoredWhen::WithSave;
    let stored = &setting.traits.stored;
    let priority = by_save(stored.priority)
        && is.saved_priority != shall.saved_priority
        && !(wiped && shall.saved_priority == setting.traits.priority.factory);
    let port = |port: &PortId| {
        let (is, shall) = (situation.state.ports[*port], setting.target.ports[*port]);
        let side = by_save(stored.binding) && is.saved_side() != shall.saved_side() && !(wiped && shall.saved_side() == Side::None);
        let enabled = is.saved_enabled() != shall.saved_enabled() && !(wiped && shall.saved_enabled() == setting.factory_enabled());
        side || enabled
    };
    !is.copy || priority || setting.units[unit].ports.iter().any(port)
}
