//! A situation -> what every way from there to the target still costs at least, one item at a time.
//!
//! It only lets the search open fewer situations: those whose sum exceeds the least are left. It is made of
//! parts that forget all but one port, or all but one unit, of what must still be done: whatever is done to
//! the whole does the same to the part, at the same cost or for nothing. That it never says too much is not
//! taken on trust either: the search looks, at every lawful step that it tries, whether what is ahead before
//! it is at most what the step costs and what is ahead after it.

use ringwright::model::document::Side;
use ringwright::model::progress::Situation;
use ringwright::model::setting::Setting;
use ringwright::model::state::Port;
use ringwright::model::table::{PortId, UnitId};
use ringwright::model::traits::{BindingEffect, IdEffect, SaveScope, StoredWhen};

use crate::packed::port_values;
use crate::price::{Cost, likely, sum};

/// What is ahead of every port, by whether its unit is on and by its bits.
type Table = Vec<u8>;

/// Which steps a table counts; the others are free in it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Counted {
    OnPorts,
    Activations,
    Saves,
}

/// The tables of one port: of a unit that may go down, and of one that stays up.
struct Tables {
    port: PortId,
    on_port: [Table; 2],
    activations: [Table; 2],
    saves: [Table; 2],
}

/// What can be said of the situations of one plan.
pub struct Ahead<'a> {
    setting: &'a Setting,
    stay: Vec<(UnitId, Vec<Tables>)>,
}

impl<'a> Ahead<'a> {
    pub fn new(setting: &'a Setting) -> Self {
        let tables = |port: PortId| Tables {
            port,
            on_port: [false, true].map(|up| table(setting, port, up, Counted::OnPorts)),
            activations: [false, true].map(|up| table(setting, port, up, Counted::Activations)),
            saves: [false, true].map(|up| table(setting, port, up, Counted::Saves)),
        };
        let touched = |port: &&PortId| !setting.ports[**port].cables.is_empty();
        let ports = |unit| setting.units[unit].ports.iter().filter(touched).map(|port| tables(*port)).collect();
        let stay = setting.units.ids().filter(|unit| setting.stays(*unit));
        Self { setting, stay: stay.map(|unit| (unit, ports(unit))).collect() }
    }

    /// What a way from here to the target costs at least.
    pub fn of(&self, situation: &Situation) -> Cost {
        let (setting, state) = (self.setting, &situation.state);
        let target = &setting.target;
        let cables = state.plugged.minus(target.plugged).or(target.plugged.minus(state.plugged)).len() as i64;
        let boots = self.stay.iter().filter(|(unit, _)| must_boot(setting, situation, *unit)).count() as i64;
        let mut steps = cables + setting.leaving.iter().filter(|unit| state.units[*unit].powered).count() as i64;
        let (mut saves, mut most_saves, mut activations) = (0, 0, 0);
        for (unit, ports) in &self.stay {
            let up = usize::from(stays_up(setting, situation, *unit));
            let at =
                |port: PortId| 256 * usize::from(state.units[*unit].powered) + usize::from(state.ports[port].bits());
            let look = |tables: &[Table; 2], port| i64::from(tables[up][at(port)]);
            steps += on_unit(setting, situation, *unit);
            steps += ports.iter().map(|row| look(&row.on_port, row.port)).sum::<i64>();
            let most = ports.iter().map(|row| look(&row.saves, row.port)).max().unwrap_or(0);
            let most = most.max(i64::from(must_save(setting, situation, *unit)));
            (saves, most_saves) = (saves + most, most_saves.max(most));
            activations = ports.iter().map(|row| look(&row.activations, row.port)).fold(activations, i64::max);
        }
        // one save or one activation may do for several units
        steps += activations + if setting.traits.save.scope == SaveScope::Unit { saves } else { most_saves };
        [boots * likely(&setting.traits.minutes.restart), 0, cables, 0, steps]
    }
}

/// Whether more was said to be ahead of a step than it costs and than is ahead after it, in any item.
pub fn too_much(ahead: Cost, own: Cost, later: Cost) -> bool {
    ahead.iter().zip(sum(own, later)).any(|(said, found)| *said > found)
}

/// A live unit that stays is off, acts on an id that only a boot changes, or holds a lead that it is to
/// lose, which takes a restart or a lost merge: it is out of the stack for the time of a boot.
fn must_boot(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    let other_id = setting.traits.member_id.takes_effect == IdEffect::AfterRestart && is.id != shall.id;
    situation.memory.live.contains(unit) && (!is.powered || is.waiting || other_id || is.primary && !shall.primary)
}

/// No rule lets a live unit go down that nobody named.
fn stays_up(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let named = setting.may_restart.or(setting.may_split).or(situation.memory.stranded);
    situation.memory.live.minus(named).contains(unit)
}

/// Switching on, id and priority, where neither what runs nor what a boot or a wipe brings is as the
/// target has it.
fn on_unit(setting: &Setting, situation: &Situation, unit: UnitId) -> i64 {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    let factory = &setting.traits;
    let wiped = !stays_up(setting, situation, unit);
    let id =
        shall.id == is.saved_id || is.powered && is.id == shall.id || wiped && shall.id == factory.member_id.factory;
    let priority = shall.priority == is.saved_priority
        || is.powered && is.priority == shall.priority
        || wiped && shall.priority == factory.priority.factory;
    i64::from(!is.powered) + i64::from(!id) + i64::from(!priority)
}

/// Something in a unit's own memory that only a save brings there, its ports aside.
fn must_save(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    let (is, shall) = (&situation.state.units[unit], &setting.target.units[unit]);
    let wiped = !stays_up(setting, situation, unit) && shall.saved_priority == setting.traits.priority.factory;
    let by_save = setting.traits.stored.priority == StoredWhen::WithSave;
    !is.copy || by_save && is.saved_priority != shall.saved_priority && !wiped
}

/// How many counted steps lead at least from each state of one port to its target's. `up`: its unit stays up.
fn table(setting: &Setting, port: PortId, up: bool, counted: Counted) -> Table {
    const FAR: u8 = 100;
    let values = port_values();
    let mut ahead = vec![FAR; 512];
    ahead[256 + usize::from(setting.target.ports[port].bits())] = 0;
    loop {
        let mut changed = false;
        for at in 0..512 {
            for (next, by) in moves(setting, (at >= 256, values[at % 256]), up) {
                let place = 256 * usize::from(next.0) + usize::from(next.1.bits());
                let through = ahead[place].saturating_add(u8::from(by == Some(counted)));
                if through < ahead[at] {
                    (ahead[at], changed) = (through, true);
                }
            }
        }
        if !changed {
            return ahead;
        }
    }
}

/// All that can become of one port in one step.
fn moves(setting: &Setting, (on, port): (bool, Port), up: bool) -> Vec<((bool, Port), Option<Counted>)> {
    let wiped = port.with_saved_enabled(setting.factory_enabled()).with_saved_side(Side::None);
    if !on {
        return if up { Vec::new() } else { vec![((true, port.booted()), None)] };
    }
    let at_once = setting.traits.binding.takes_effect == BindingEffect::AtOnce;
    let stored = setting.traits.stored.binding == StoredWhen::AtOnce;
    let with = |side: Side| {
        let set = port.with_side(side, at_once && side != Side::None);
        if stored { set.with_saved_side(side) } else { set }
    };
    let mut all = vec![
        ((true, port.with_enabled(!port.enabled())), Some(Counted::OnPorts)),
        ((true, port.stored()), Some(Counted::Saves)),
        ((true, port.activated()), Some(Counted::Activations)),
    ];
    if !(setting.traits.binding.port_disabled && port.enabled()) {
        let sides: &[Side] = if port.side() == Side::None { &[Side::West, Side::East] } else { &[Side::None] };
        all.extend(sides.iter().map(|side| ((true, with(*side)), Some(Counted::OnPorts))));
    }
    if !up {
        let down = [port.dark(), port.booted(), wiped.booted()].into_iter().zip([false, true, true]);
        all.extend(down.map(|(port, on)| ((on, port), None)));
    }
    all
}
