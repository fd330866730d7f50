//! The facts of each kind of look.

use crate::lower::Problem;
use crate::model::derive::{Islands, Link, link};
use crate::model::document::{Fact, LinkKind, Role, Side};
use crate::model::election::priority_decides_role;
use crate::model::facts::{Spot, is_saved, known_here, role_of};
use crate::model::naming::named_keys;
use crate::model::places::proves_place;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting, Ticket};
use crate::model::table::{CableId, PortId, UnitId};
use crate::model::traits::{Admission, BindingEffect, Mode, StackMode};

use super::Plugs;

/// The reason of a look at a new leg, before the old one goes.
pub const LEG_CARRIES: &str = "leg-carries";

/// Whether a look must stand wherever it does: by the code of its reason.
#[must_use]
pub fn is_demanded(code: &str) -> bool {
    ["fresh-baseline", "factory-unit", "right-place", "right-cable", LEG_CARRIES].contains(&code)
}

/// What tells this place from every other: all that is known of the console, and where that is not
/// enough, a question. The second value says that only the question does.
#[must_use]
pub fn place(setting: &Setting, situation: &Situation, spot: Spot) -> (Vec<Fact>, bool) {
    let here: Vec<Fact> = known_here(setting, situation, spot).into_iter().collect();
    if proves_place(setting, situation, spot, &here) {
        return (here, false);
    }
    let whose = match spot {
        Spot::Console(unit) => setting.units[unit].key.clone(),
        Spot::Stack | Spot::Hands => setting.stack.clone(),
    };
    let ask =
        Fact::Ask { text: format!("does the label on the unit at the other end of this console cable say {whose}?") };
    (here.into_iter().chain([ask]).collect(), true)
}

/// A unit out of its box: factory id and priority, no bindings.
#[must_use]
pub fn factory(setting: &Setting, unit: UnitId) -> Vec<Fact> {
    let traits = &setting.traits;
    let mut first = numbers(setting, unit, traits.member_id.factory, traits.priority.factory);
    if let Fact::Unit { mode, keys, .. } = &mut first {
        *keys = named_keys(setting, setting.baseline.units[unit].saved_keys);
        *mode = (traits.stack_mode == StackMode::Switched).then_some(Mode::Lone);
    }
    let mut facts = vec![first];
    // fixed ports are never without their side
    if traits.binding.takes_effect == BindingEffect::Fixed {
        return facts;
    }
    facts.extend(setting.units[unit].ports.iter().map(|port| Fact::Port {
        unit: setting.units[unit].key.clone(),
        port: setting.ports[*port].name.clone(),
        enabled: None,
        side: Some(Side::None),
        active: None,
        lit: None,
    }));
    facts
}

fn numbers(setting: &Setting, unit: UnitId, id: crate::model::MemberId, priority: crate::model::Priority) -> Fact {
    Fact::Unit {
        unit: setting.units[unit].key.clone(),
        powered: None,
        id: Some(id),
        saved_id: None,
        priority: Some(priority),
        role: None,
        waiting: None,
        ready: None,
        serial: setting.units[unit].serial.clone(),
        mac: None,
        model: None,
        keys: std::collections::BTreeMap::new(),
        mode: None,
    }
}

/// What must be equal on all members, and the mode, as a unit has them; none where the platform asks for neither.
pub fn equal(setting: &Setting, situation: &Situation, unit: UnitId) -> Option<Fact> {
    let row = &situation.state.units[unit];
    let own = named_keys(setting, row.keys);
    let switched = setting.traits.stack_mode == StackMode::Switched;
    if !row.powered || own.is_empty() && !switched {
        return None;
    }
    let mut fact = Fact::power(setting.units[unit].key.clone(), true);
    if let Fact::Unit { powered, keys, mode, .. } = &mut fact {
        (*powered, *keys) = (None, own);
        *mode = switched.then_some(if row.lone { Mode::Lone } else { Mode::Stack });
    }
    Some(fact)
}

/// A staged unit: its numbers, its bound ports, saved.
#[must_use]
pub fn staged(setting: &Setting, situation: &Situation, unit: UnitId) -> Vec<Fact> {
    let row = &situation.state.units[unit];
    let mut facts = vec![numbers(setting, unit, row.id, row.priority)];
    facts.extend(equal(setting, situation, unit));
    for port in setting.units[unit].ports.iter().copied() {
        let value = situation.state.ports[port];
        if value.side() != Side::None {
            facts.push(Fact::Port {
                unit: setting.units[unit].key.clone(),
                port: setting.ports[port].name.clone(),
                enabled: Some(value.enabled()),
                side: Some(value.side()),
                active: Some(value.active()),
                lit: None,
            });
        }
    }
    facts.push(Fact::Saved { unit: setting.units[unit].key.clone(), saved: is_saved(setting, situation, unit) });
    facts
}

/// Every live unit, link, pair and the guard, as they stand.
#[must_use]
pub fn whole_stack(setting: &Setting, situation: &Situation) -> Vec<Fact> {
    let island = situation.incumbent(setting);
    let mut facts: Vec<Fact> = island.iter().flat_map(|unit| member(setting, situation, unit, true)).collect();
    facts.extend(stack_links(setting, situation, |_| true));
    for pair in situation.state.running.pairs.iter() {
        facts.push(pair_as_it_is(setting, situation, pair));
    }
    let guard = situation.state.running.guard.map(|pair| setting.uplinks[pair].name.clone());
    facts.push(Fact::Guard { uplink: guard });
    facts.extend(admitted(setting, situation));
    facts
}

/// Whom the stack was told of, where it must be.
pub fn admitted(setting: &Setting, situation: &Situation) -> Option<Fact> {
    let list = || situation.state.running.admitted.iter().map(|ticket| &setting.tickets[ticket]);
    let ids = || list().filter_map(|ticket| if let Ticket::Id(id) = ticket { Some(*id) } else { None }).collect();
    let serials = || {
        let serials =
            list().filter_map(|ticket| if let Ticket::Serial(one) = ticket { Some(one.clone()) } else { None });
        let mut serials: Vec<String> = serials.collect();
        serials.sort();
        serials
    };
    match setting.traits.admission {
        Admission::Open => None,
        Admission::Id => Some(Fact::Admitted { ids: Some(sorted(ids())), serials: None }),
        Admission::Serial => Some(Fact::Admitted { ids: None, serials: Some(serials()) }),
    }
}

fn sorted(mut ids: Vec<crate::model::MemberId>) -> Vec<crate::model::MemberId> {
    ids.sort_unstable();
    ids
}

/// A pair's legs, and which of them carry.
#[must_use]
pub fn pair_as_it_is(setting: &Setting, situation: &Situation, pair: crate::model::table::UplinkId) -> Fact {
    let legs = setting.uplinks[pair].legs.and(situation.state.running.legs);
    let name = |leg: crate::model::table::LegId| setting.legs[leg].name.clone();
    Fact::Uplink {
        uplink: setting.uplinks[pair].name.clone(),
        legs: Some(legs.iter().map(name).collect()),
        carrying: Some(legs.iter().filter(|leg| situation.carries(setting, *leg)).map(name).collect()),
    }
}

/// A unit that has just joined: its numbers and role, and the links that it stands on.
#[must_use]
pub fn joined(setting: &Setting, situation: &Situation, unit: UnitId) -> Vec<Fact> {
    let mut facts = member(setting, situation, unit, false);
    let own = |cable: CableId| setting.cables[cable].unit_ends().any(|port| setting.unit_of(port) == unit);
    facts.extend(stack_links(setting, situation, own));
    facts
}

/// A unit's numbers, its role where priority decides it, and whether it is saved.
#[must_use]
pub fn member(setting: &Setting, situation: &Situation, unit: UnitId, with_saved: bool) -> Vec<Fact> {
    let row = &situation.state.units[unit];
    let island = Islands::of(setting, &situation.state).around(unit);
    let known = row.primary || priority_decides_role(setting, &situation.state, island, unit);
    let role: Option<Role> = if known { role_of(setting, situation, unit) } else { None };
    let mut facts = vec![numbers(setting, unit, row.id, row.priority)];
    if let Some(Fact::Unit { role: seen, .. }) = facts.first_mut() {
        *seen = role;
    }
    if with_saved {
        facts.push(Fact::Saved { unit: setting.units[unit].key.clone(), saved: is_saved(setting, situation, unit) });
    }
    facts
}

/// A unit's numbers, with the id that it boots with, where that is another one.
#[must_use]
pub fn pending(setting: &Setting, situation: &Situation, unit: UnitId) -> Option<Fact> {
    let row = &situation.state.units[unit];
    (row.id != row.saved_id).then(|| with_saved_id(setting, situation, unit))
}

/// The same, whether another id waits or not.
#[must_use]
pub fn with_saved_id(setting: &Setting, situation: &Situation, unit: UnitId) -> Fact {
    let row = &situation.state.units[unit];
    let mut fact = numbers(setting, unit, row.id, row.priority);
    if let Fact::Unit { saved_id, .. } = &mut fact {
        *saved_id = Some(row.saved_id);
    }
    fact
}

/// The stack links inside the incumbent island that a test picks.
fn stack_links(setting: &Setting, situation: &Situation, picks: impl Fn(CableId) -> bool) -> Vec<Fact> {
    let island = situation.incumbent(setting);
    let state = &situation.state;
    let up = |cable: &CableId| link(setting, state, *cable) == Link::Stack;
    let inside =
        |cable: &CableId| setting.cables[*cable].unit_ends().all(|port| island.contains(setting.unit_of(port)));
    let mut ends: Vec<[String; 2]> = state
        .plugged
        .iter()
        .filter(|cable| up(cable) && inside(cable) && picks(*cable))
        .map(|cable| setting.cable_names(cable))
        .collect();
    ends.sort_by(|a, b| crate::model::natural_order(&a.join(" "), &b.join(" ")));
    ends.into_iter().map(|ends| Fact::Link { ends, is: LinkKind::Stack }).collect()
}

/// The far end of a lit cable, read from the end that can be read at a place; the second value is
/// the place where it can be read at all.
#[must_use]
pub fn neighbour(setting: &Setting, situation: &Situation, cable: CableId, wanted: Spot) -> Option<(Fact, Spot)> {
    let CableRow::Units(a, b) = setting.cables[cable] else { return None };
    let spot = |port| crate::model::places::unit_spot(setting, situation, setting.unit_of(port));
    let (near, far) = if spot(a) == wanted || spot(b) != wanted && spot(a) == Spot::Stack { (a, b) } else { (b, a) };
    let fact = Fact::Neighbour { end: setting.end_name(near), far: Some(setting.end_name(far)) };
    Some((fact, spot(near)))
}

/// The plug of a cable whose serial the intent gives, read by hands at each end.
#[must_use]
pub fn plug(setting: &Setting, plugs: &Plugs, cable: CableId) -> Option<Vec<Fact>> {
    let serial = plugs.get(&cable)?;
    let unit_ends = setting.cables[cable].unit_ends();
    Some(unit_ends.map(|port| Fact::Plug { end: setting.end_name(port), serial: Some(serial.clone()) }).collect())
}

/// The serials that the intent gives for cables, which it names by their members' ports.
#[must_use]
pub fn plugs(setting: &Setting, problem: &Problem) -> Plugs {
    let records = &problem.site.cables;
    if records.iter().all(|record| record.serial.is_none()) {
        return Plugs::new();
    }
    let end = |port: PortId| {
        let row = &setting.ports[port];
        format!("{}:{}", setting.units[row.unit].member, row.name)
    };
    let serial = |cable: CableId| {
        let ends = match setting.cables[cable] {
            CableRow::Units(a, b) => [end(a), end(b)],
            CableRow::Far(uplink, port) => [format!("far:{}", setting.uplinks[uplink].name), end(port)],
        };
        let turned = [ends[1].clone(), ends[0].clone()];
        records.iter().find(|record| record.ends == ends || record.ends == turned)?.serial.clone()
    };
    setting.cables.ids().filter_map(|cable| Some((cable, serial(cable)?))).collect()
}
