//! Whether a [`Fact`] is so in a situation, and whether it can be seen from a place.

use std::cell::{Cell, OnceCell};
use std::collections::BTreeSet;

use super::derive::{Islands, Link, link, lit, primaries};
use super::document::{Fact, LinkKind, Role};
use super::names::MemberId;
use super::naming::{find_cable, named_keys, parse_mac, port_of, unit_of};
use super::progress::{Situation, neighbour};
use super::seat::Seat;
use super::setting::{Setting, Ticket};
use super::table::{LegSet, PortId, UnitId, UnitSet};
use super::traits::Mode;

/// Where a person stands, as an index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Spot {
    /// At the rack.
    Hands,
    /// At the running stack.
    Stack,
    /// At a unit's own console.
    Console(UnitId),
}

/// A situation that facts are read in: who is together with whom is worked out once for all of them.
pub struct View<'a> {
    setting: &'a Setting,
    situation: &'a Situation,
    known: Option<&'a Islands>,
    found: Found,
}

/// What was worked out already.
#[derive(Default)]
struct Found {
    islands: OnceCell<Islands>,
    incumbent: OnceCell<UnitSet>,
    /// Who answers for the stack.
    stack: OnceCell<Option<(UnitId, UnitSet)>>,
    /// The island that was asked for last, and its standby's seat.
    seat: Cell<Option<(UnitSet, Seat)>>,
}

impl<'a> View<'a> {
    /// A situation whose islands are not known yet.
    #[must_use]
    pub fn new(setting: &'a Setting, situation: &'a Situation) -> Self {
        Self { setting, situation, known: None, found: Found::default() }
    }

    /// The same, where the islands are known already.
    #[must_use]
    pub fn among(setting: &'a Setting, situation: &'a Situation, islands: &'a Islands) -> Self {
        Self { known: Some(islands), ..Self::new(setting, situation) }
    }

    fn islands(&self) -> &Islands {
        self.known
            .unwrap_or_else(|| self.found.islands.get_or_init(|| Islands::of(self.setting, &self.situation.state)))
    }

    fn incumbent(&self) -> UnitSet {
        let find = || self.situation.incumbent_among(self.setting, &self.situation.state, self.islands());
        *self.found.incumbent.get_or_init(find)
    }

    /// The standby's seat of a unit's island.
    fn seat(&self, unit: UnitId) -> Seat {
        let island = self.islands().around(unit);
        if let Some((_, seat)) = self.found.seat.get().filter(|(known, _)| *known == island) {
            return seat;
        }
        let seat = Seat::of(self.setting, &self.situation.state, island);
        self.found.seat.set(Some((island, seat)));
        seat
    }

    /// As [`holds`].
    ///
    /// # Errors
    /// Says what the fact names that the plan does not have.
    pub fn holds(&self, spot: Spot, fact: &Fact) -> Result<bool, String> {
        holds_in(self, spot, fact)
    }

    /// As [`visible`].
    #[must_use]
    pub fn is_visible(&self, spot: Spot, fact: &Fact) -> bool {
        visible_in(self, spot, fact)
    }

    /// Whether a person at a place sees that a fact is so.
    #[must_use]
    pub fn shows(&self, spot: Spot, fact: &Fact) -> bool {
        visible_in(self, spot, fact) && holds_in(self, spot, fact) == Ok(true)
    }
}

/// Whether a fact is so, read at a place.
///
/// # Errors
/// Says what the fact names that the plan does not have.
pub fn holds(setting: &Setting, situation: &Situation, spot: Spot, fact: &Fact) -> Result<bool, String> {
    holds_in(&View::new(setting, situation), spot, fact)
}

fn holds_in(view: &View<'_>, spot: Spot, fact: &Fact) -> Result<bool, String> {
    let (setting, situation) = (view.setting, view.situation);
    let state = &situation.state;
    Ok(match fact {
        Fact::Here { .. } => here(view, spot, fact),
        Fact::Unit { unit, .. } => unit_is(view, unit_of(setting, unit)?, fact),
        Fact::Port { unit, port, enabled, side, active, lit: light } => {
            let port = port_of(setting, &format!("{unit}:{port}"))?;
            let value = state.ports[port];
            let powered = state.units[setting.unit_of(port)].powered;
            powered
                && agrees(enabled, &value.enabled())
                && agrees(side, &value.side())
                && agrees(active, &value.active())
                && agrees(light, &port_lit(setting, situation, port))
        }
        Fact::Neighbour { end, far } => {
            let near = port_of(setting, end)?;
            let wanted = far.as_deref().map(|far| port_of(setting, far)).transpose()?;
            neighbour(setting, situation, near) == wanted
        }
        Fact::Link { ends: [one, other], is } => {
            link_kind(setting, situation, port_of(setting, one)?, port_of(setting, other)?) == *is
        }
        Fact::Cable { ends, plugged } => {
            find_cable(setting, ends).is_some_and(|cable| state.plugged.contains(cable)) == *plugged
        }
        Fact::Plug { end, serial } => {
            let port = port_of(setting, end)?;
            setting.ports[port].cables.iter().any(|cable| state.plugged.contains(*cable)) == serial.is_some()
        }
        Fact::Uplink { uplink, legs, carrying } => pair_is(view, uplink, legs.as_deref(), carrying.as_deref())?,
        Fact::Guard { uplink } => {
            let wanted =
                uplink.as_deref().map(|name| setting.uplink(name).ok_or_else(|| format!("no uplink pair `{name}`")));
            state.running.guard == wanted.transpose()?
        }
        Fact::Admitted { ids, serials } => {
            let list = &state.running.admitted;
            let found: BTreeSet<Ticket> = list.iter().map(|ticket| setting.tickets[ticket].clone()).collect();
            let ids = ids.iter().flatten().map(|id| Ticket::Id(*id));
            ids.chain(serials.iter().flatten().map(|serial| Ticket::Serial(serial.clone()))).collect::<BTreeSet<_>>()
                == found
        }
        Fact::Saved { unit, saved } => is_saved_in(view, unit_of(setting, unit)?) == *saved,
        Fact::Ask { .. } => true,
    })
}

fn agrees<T: PartialEq>(wanted: &Option<T>, found: &T) -> bool {
    wanted.as_ref().is_none_or(|wanted| wanted == found)
}

/// The unit that a console or a stack answers as.
fn answering(view: &View<'_>, spot: Spot) -> Option<(UnitId, UnitSet)> {
    let state = &view.situation.state;
    match spot {
        Spot::Hands => None,
        Spot::Stack => *view.found.stack.get_or_init(|| {
            let island = view.incumbent();
            primaries(state, island).first().map(|leader| (leader, island))
        }),
        Spot::Console(unit) => state.units[unit].powered.then(|| (unit, view.islands().around(unit))),
    }
}

fn here(view: &View<'_>, spot: Spot, fact: &Fact) -> bool {
    let Fact::Here { id, serial, members } = fact else { return false };
    let (setting, situation) = (view.setting, view.situation);
    let Some((unit, island)) = answering(view, spot) else { return false };
    let ids: BTreeSet<MemberId> = island.iter().map(|member| situation.state.units[member].id).collect();
    let same_members = members.as_ref().is_none_or(|wanted| wanted.iter().copied().collect::<BTreeSet<_>>() == ids);
    let same_serial = serial.as_ref().is_none_or(|wanted| setting.units[unit].serial.as_ref() == Some(wanted));
    agrees(id, &situation.state.units[unit].id) && same_serial && same_members
}

fn unit_is(view: &View<'_>, unit: UnitId, fact: &Fact) -> bool {
    let (setting, situation) = (view.setting, view.situation);
    let Fact::Unit { powered, id, saved_id, priority, role, waiting, ready, serial, mac, model, keys, mode, .. } = fact
    else {
        return false;
    };
    let row = &situation.state.units[unit];
    let label = &setting.units[unit];
    let numbers = id.is_some() || saved_id.is_some() || priority.is_some();
    let needs_power = numbers || role.is_some() || waiting.is_some() || !keys.is_empty() || mode.is_some();
    // what a unit does not list is unknown, and as good as any
    let own = named_keys(setting, row.keys);
    let keys_are = keys.iter().all(|(key, value)| own.get(key).is_none_or(|found| found == value));
    let text = |wanted: &Option<String>, found: &Option<String>| wanted.is_none() || wanted == found;
    let mac_is = mac.as_deref().is_none_or(|wanted| parse_mac(wanted).is_some() && parse_mac(wanted) == label.mac);
    agrees(powered, &row.powered)
        && (row.powered || !needs_power)
        && agrees(id, &row.id)
        && agrees(saved_id, &row.saved_id)
        && agrees(priority, &row.priority)
        && agrees(waiting, &row.waiting)
        && ready.is_none_or(|wanted| wanted == view.incumbent().contains(unit))
        && role.is_none_or(|wanted| may_be(view, unit, wanted))
        && text(serial, &label.serial)
        && text(model, &label.model)
        && mac_is
        && keys_are
        && agrees(mode, &if row.lone { Mode::Lone } else { Mode::Stack })
}

/// The role of a powered unit in its island; none where the election order leaves it open.
#[must_use]
pub fn role_of(setting: &Setting, situation: &Situation, unit: UnitId) -> Option<Role> {
    let state = &situation.state;
    if state.units[unit].primary {
        return Some(Role::Primary);
    }
    Seat::of(setting, state, Islands::of(setting, state).around(unit)).role(unit)
}

/// Whether a powered unit may be seen in a role: a seat that the election order leaves open fits either way.
fn may_be(view: &View<'_>, unit: UnitId, role: Role) -> bool {
    match (view.situation.state.units[unit].primary, role) {
        (primary, Role::Primary) => primary,
        (primary, Role::Standby | Role::Member) => !primary && view.seat(unit).fits(unit, role == Role::Standby),
    }
}

/// Joined and in step with the primary. In the model a unit is so as soon as it is in the island.
#[must_use]
pub fn is_ready(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    situation.incumbent(setting).contains(unit)
}

/// What the link between two ports is; none where no cable is plugged between them.
#[must_use]
pub fn link_kind(setting: &Setting, situation: &Situation, one: PortId, other: PortId) -> LinkKind {
    match setting.cable_between(one, other).map(|cable| link(setting, &situation.state, cable)) {
        Some(Link::Stack) => LinkKind::Stack,
        Some(Link::Unmatched) => LinkKind::Unmatched,
        Some(Link::Stray) => LinkKind::Stray,
        Some(Link::Dark | Link::Far) | None => LinkKind::None,
    }
}

fn port_lit(setting: &Setting, situation: &Situation, port: PortId) -> bool {
    setting.ports[port].cables.iter().any(|cable| lit(setting, &situation.state, *cable))
}

fn pair_is(view: &View<'_>, name: &str, legs: Option<&[String]>, carrying: Option<&[String]>) -> Result<bool, String> {
    let (setting, situation) = (view.setting, view.situation);
    let uplink = setting.uplink(name).ok_or_else(|| format!("no uplink pair `{name}`"))?;
    let formed = setting.uplinks[uplink].legs.and(situation.state.running.legs);
    let carries: LegSet = formed.iter().filter(|leg| situation.carries_in(setting, view.incumbent(), *leg)).collect();
    let same = |wanted: Option<&[String]>, found: LegSet| {
        let found: BTreeSet<&str> = found.iter().map(|leg| setting.legs[leg].name.as_str()).collect();
        wanted.is_none_or(|wanted| wanted.iter().map(String::as_str).collect::<BTreeSet<_>>() == found)
    };
    let stands = situation.state.running.pairs.contains(uplink) || legs.is_some_and(<[String]>::is_empty);
    Ok(stands && same(legs, formed) && same(carrying, carries))
}

/// Whether a unit's saved settings are its running ones, the pending id aside; in the incumbent
/// island its own memory must hold the common settings, and these must be saved.
#[must_use]
pub fn is_saved(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    is_saved_in(&View::new(setting, situation), unit)
}

fn is_saved_in(view: &View<'_>, unit: UnitId) -> bool {
    let row = &view.situation.state.units[unit];
    row.id == row.saved_id && is_saved_but_for_id_in(view, unit)
}

/// The same, where it may boot with another id.
#[must_use]
pub fn is_saved_but_for_id(setting: &Setting, situation: &Situation, unit: UnitId) -> bool {
    is_saved_but_for_id_in(&View::new(setting, situation), unit)
}

fn is_saved_but_for_id_in(view: &View<'_>, unit: UnitId) -> bool {
    let (setting, state) = (view.setting, &view.situation.state);
    let row = &state.units[unit];
    let own = row.powered
        && row.priority == row.saved_priority
        && (row.keys, row.lone) == (row.saved_keys, row.saved_lone)
        && setting.units[unit].ports.iter().all(|port| state.ports[*port].is_stored());
    let common = row.copy && state.saved == state.running;
    own && (common || !view.incumbent().contains(unit))
}

/// Whether a fact can be seen at a place: at a console or a stack, what belongs to the units of
/// that island; by hands, cables, plugs and power. A question can be asked anywhere.
#[must_use]
pub fn visible(setting: &Setting, situation: &Situation, spot: Spot, fact: &Fact) -> bool {
    visible_in(&View::new(setting, situation), spot, fact)
}

fn visible_in(view: &View<'_>, spot: Spot, fact: &Fact) -> bool {
    let island = || match answering(view, spot) {
        Some((_, island)) => island,
        None if spot == Spot::Stack => view.incumbent(),
        None => UnitSet::EMPTY,
    };
    let inside = |key: &str| unit_of(view.setting, key).is_ok_and(|unit| island().contains(unit));
    let end_inside = |end: &str| end.rsplit_once(':').is_some_and(|(key, _)| inside(key));
    match fact {
        Fact::Ask { .. } => true,
        Fact::Here { .. } => spot != Spot::Hands,
        Fact::Cable { .. } | Fact::Plug { .. } => spot == Spot::Hands,
        Fact::Unit { unit, .. } => {
            if spot == Spot::Hands {
                only_power(fact)
            } else {
                inside(unit)
            }
        }
        Fact::Port { unit, .. } | Fact::Saved { unit, .. } => inside(unit),
        Fact::Neighbour { end, .. } => end_inside(end),
        Fact::Link { ends: [one, other], .. } => end_inside(one) || end_inside(other),
        Fact::Uplink { .. } | Fact::Guard { .. } | Fact::Admitted { .. } => spot == Spot::Stack,
    }
}

/// Whether a fact speaks of nothing but a unit's power, which hands can see.
#[must_use]
pub fn only_power(fact: &Fact) -> bool {
    matches!(
        fact,
        Fact::Unit {
            powered: Some(_),
            id: None,
            saved_id: None,
            priority: None,
            role: None,
            waiting: None,
            ready: None,
            serial: None,
            mac: None,
            model: None,
            mode: None,
            keys,
            ..
        } if keys.is_empty()
    )
}

/// Whether a fact is read by hands.
#[must_use]
pub fn seen_by_hands(fact: &Fact) -> bool {
    matches!(fact, Fact::Cable { .. } | Fact::Plug { .. }) || only_power(fact)
}

/// The unit that a fact names first, if any.
#[must_use]
pub fn names_unit(fact: &Fact) -> Option<&str> {
    let key = |end: &'_ str| end.rsplit_once(':').map(|(key, _)| key.len());
    match fact {
        Fact::Unit { unit, .. } | Fact::Port { unit, .. } | Fact::Saved { unit, .. } => Some(unit),
        Fact::Neighbour { end, .. }
        | Fact::Plug { end, .. }
        | Fact::Link { ends: [end, _], .. }
        | Fact::Cable { ends: [end, _], .. } => key(end).and_then(|length| end.get(..length)),
        Fact::Here { .. } | Fact::Uplink { .. } | Fact::Guard { .. } | Fact::Admitted { .. } | Fact::Ask { .. } => None,
    }
}

/// What a look that found a fact so has proved: that a leg carries, where a cable leads.
pub fn learn(setting: &Setting, situation: &mut Situation, fact: &Fact) {
    match fact {
        Fact::Uplink { uplink, carrying: Some(carrying), .. } => {
            let Some(pair) = setting.uplink(uplink) else { return };
            let legs = carrying.iter().filter_map(|leg| setting.leg(pair, leg));
            legs.for_each(|leg| situation.found_carrying(leg));
        }
        Fact::Neighbour { end, far: Some(far) } => {
            let cable = find_cable(setting, &[end.clone(), far.clone()]);
            cable.into_iter().for_each(|cable| situation.found_neighbour(cable));
        }
        _ => {}
    }
}

/// All that is known of a typing place, as one `here`; none where nobody answers.
#[must_use]
pub fn known_here(setting: &Setting, situation: &Situation, spot: Spot) -> Option<Fact> {
    let (unit, island) = answering(&View::new(setting, situation), spot)?;
    let mut members: Vec<MemberId> = island.iter().map(|member| situation.state.units[member].id).collect();
    members.sort_unstable();
    Some(Fact::Here {
        id: Some(situation.state.units[unit].id),
        serial: setting.units[unit].serial.clone(),
        members: Some(members),
    })
}
