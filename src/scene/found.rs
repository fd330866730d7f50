//! A fact that is not so -> what a person finds instead, in the same words.

use crate::model::derive::lit;
use crate::model::document::Fact;
use crate::model::facts::{Spot, is_ready, is_saved, known_here, link_kind, role_of, visible};
use crate::model::naming::{named_keys, parse_mac, port_of, unit_of};
use crate::model::progress::{Situation, neighbour};
use crate::model::setting::{Setting, Ticket};
use crate::model::table::{LegSet, UnitId};
use crate::model::traits::Mode;

use super::say;

/// What is found at a place where a fact is not so: only what is otherwise.
#[must_use]
pub fn found(setting: &Setting, now: &Situation, at: Spot, fact: &Fact) -> String {
    if !visible(setting, now, at, fact) {
        return "it cannot be seen from here".to_owned();
    }
    if let Fact::Plug { end, serial: None } = fact {
        return format!("there is a plug in {}", say::end(end));
    }
    let said = real(setting, now, at, fact).map(|real| say::fact(setting, &real));
    match said.as_deref().map(|said| (said, said.trim_end().strip_suffix(':'))) {
        None if matches!(fact, Fact::Here { .. }) => "nobody answers".to_owned(),
        None => "there is none here".to_owned(),
        // what is asked for is known of nobody there
        Some((_, Some(whom))) => format!("{whom}: not this"),
        Some((said, None)) => said.to_owned(),
    }
}

/// The same fact as it really is; none where there is nothing to read.
fn real(setting: &Setting, now: &Situation, at: Spot, fact: &Fact) -> Option<Fact> {
    let mut real = fact.clone();
    match &mut real {
        Fact::Here { .. } => return here(setting, now, at, fact),
        Fact::Unit { unit: key, .. } => {
            let unit = unit_of(setting, key).ok()?;
            return Some(unit_fact(setting, now, unit, fact));
        }
        Fact::Port { unit, port, enabled, side, active, lit: light } => {
            let id = port_of(setting, &format!("{unit}:{port}")).ok()?;
            if !now.state.units[setting.unit_of(id)].powered {
                return Some(Fact::power(unit.clone(), false));
            }
            let is = now.state.ports[id];
            let shines = setting.ports[id].cables.iter().any(|cable| lit(setting, &now.state, *cable));
            other(enabled, is.enabled());
            other(side, is.side());
            other(active, is.active());
            other(light, shines);
        }
        Fact::Neighbour { end, far } => {
            let near = port_of(setting, end).ok()?;
            *far = neighbour(setting, now, near).map(|port| setting.end_name(port));
        }
        Fact::Link { ends: [one, two], is } => {
            *is = link_kind(setting, now, port_of(setting, one).ok()?, port_of(setting, two).ok()?);
        }
        Fact::Cable { plugged, .. } => *plugged = !*plugged,
        Fact::Plug { serial, .. } => *serial = None,
        Fact::Uplink { uplink, legs, carrying } => {
            let pair = setting.uplink(uplink)?;
            let formed = setting.uplinks[pair].legs.and(now.state.running.legs);
            let carries: LegSet = formed.iter().filter(|leg| now.carries(setting, *leg)).collect();
            let names = |legs: LegSet| legs.iter().map(|leg| setting.legs[leg].name.clone()).collect::<Vec<_>>();
            let same = |said: &Vec<String>, legs: LegSet| {
                let (mut said, mut is) = (said.clone(), names(legs));
                said.sort();
                is.sort();
                said == is
            };
            *legs = legs.take().filter(|said| !same(said, formed)).map(|_| names(formed));
            *carrying = carrying.take().filter(|said| !same(said, carries)).map(|_| names(carries));
        }
        Fact::Guard { uplink } => {
            *uplink = now.state.running.guard.map(|pair| setting.uplinks[pair].name.clone());
        }
        Fact::Admitted { ids, serials } => {
            let list: Vec<&Ticket> = now.state.running.admitted.iter().map(|ticket| &setting.tickets[ticket]).collect();
            let is_ids = list.iter().filter_map(|ticket| if let Ticket::Id(id) = ticket { Some(*id) } else { None });
            other(ids, is_ids.collect());
            let is = list.iter().filter_map(|one| if let Ticket::Serial(one) = one { Some(one.clone()) } else { None });
            other(serials, is.collect());
        }
        Fact::Saved { unit, saved } => *saved = is_saved(setting, now, unit_of(setting, unit).ok()?),
        Fact::Ask { .. } => {}
    }
    Some(real)
}

/// Of what is asked for, what is otherwise: its value; the rest is not asked for any more.
fn other<T: PartialEq>(asked: &mut Option<T>, is: T) {
    *asked = asked.take().filter(|said| *said != is).map(|_| is);
}

/// The same, where there may be nothing to read.
fn other_known<T: PartialEq>(asked: &mut Option<T>, is: Option<T>) {
    *asked = asked.take().and_then(|said| is.filter(|is| *is != said));
}

fn here(setting: &Setting, now: &Situation, at: Spot, fact: &Fact) -> Option<Fact> {
    let mut real = fact.clone();
    let (Fact::Here { id, serial, members }, Fact::Here { id: is_id, serial: is_serial, members: are }) =
        (&mut real, known_here(setting, now, at)?)
    else {
        return None;
    };
    if let Some(said) = members {
        said.sort_unstable();
    }
    other_known(id, is_id);
    other_known(serial, is_serial);
    other_known(members, are);
    Some(real)
}

fn unit_fact(setting: &Setting, now: &Situation, is: UnitId, fact: &Fact) -> Fact {
    let (row, label) = (&now.state.units[is], &setting.units[is]);
    let mut real = fact.clone();
    let Fact::Unit { powered, id, saved_id, priority, role, waiting, ready, serial, mac, model, keys, mode, .. } =
        &mut real
    else {
        return real;
    };
    let reads = id.is_some() || saved_id.is_some() || priority.is_some() || role.is_some() || waiting.is_some();
    if !row.powered && (reads || *powered == Some(true)) {
        return Fact::power(label.key.clone(), false);
    }
    other(powered, row.powered);
    other(id, row.id);
    other(saved_id, row.saved_id);
    other(priority, row.priority);
    other(waiting, row.waiting);
    other(ready, is_ready(setting, now, is));
    other_known(role, role_of(setting, now, is));
    other_known(serial, label.serial.clone());
    other_known(model, label.model.clone());
    other(mode, if row.lone { Mode::Lone } else { Mode::Stack });
    let own = named_keys(setting, row.keys);
    keys.retain(|key, said| own.get(key).is_some_and(|is| is != said));
    keys.iter_mut().for_each(|(key, said)| own.get(key).into_iter().for_each(|is| said.clone_from(is)));
    let octets = label.mac.map(|mac| mac.map(|octet| format!("{octet:02x}")).join(":"));
    *mac = mac.take().filter(|said| parse_mac(said) != label.mac).and(octets);
    real
}
