//! The saves that must still follow: the part of the bound that looks at them.
//!
//! As long as anything differs or is unsaved, at least one follows; those before links are counted by the bound
//! itself. And one must follow before a cable is plugged, and another after it, where a link of a ring goes over to
//! other ports and the ring stays closed meanwhile ([`before_and_after`]).

use crate::model::derive::{Link, link, side_link};
use crate::model::document::Side;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, PortId, UnitId, UnitSet};
use crate::model::traits::{IdEffect, SaveScope, StoredWhen};

use super::bound::{is_there, likely, open_port_steps};
use super::work::{LinkWork, Work};

/// Whether a save must come before a plug, and another after it, on every way on that keeps the ring closed.
///
/// A live unit that stays is held in the ring by two links. One of them goes: a port of its only cable is to be bound
/// otherwise. Once that link is down for good, another of the unit's cables must be up, or whatever is plugged for it
/// is plugged while the ring is open. None is up now and none is plugged, so that one is plugged before; and if all
/// that can be would bridge their two boxes after a cold start as they are saved now, a save comes before that plug.
/// The port is released after it, and that is saved as well.
#[must_use]
pub fn before_and_after(setting: &Setting, work: &Work, situation: &Situation) -> bool {
    let (state, live) = (&situation.state, situation.memory.live.minus(setting.leaving));
    if setting.traits.stored.binding != StoredWhen::WithSave || likely(&setting.traits.minutes.cable) == 0 {
        return false;
    }
    let gives_way = |port: PortId| {
        let (is, shall) = (state.ports[port], setting.target.ports[port].side());
        is.side() != shall && is.saved_side() != shall
    };
    let ends = |cable: CableId| match setting.cables[cable] {
        CableRow::Units(a, b) => Some([a, b]),
        CableRow::Far(..) => None,
    };
    let goes = |[a, b]: [PortId; 2]| {
        let units = [setting.unit_of(a), setting.unit_of(b)];
        units.iter().all(|unit| live.contains(*unit))
            && (gives_way(a) || gives_way(b))
            && units.iter().any(|unit| takes_a_save(setting, work, situation, *unit))
    };
    let plugged = |cable: &&CableId| state.plugged.contains(**cable);
    work.disconnect
        .iter()
        .filter(plugged)
        .any(|cable| link(setting, state, *cable) == Link::Stack && ends(*cable).is_some_and(goes))
}

/// Whether a unit has two links, and every other cable that it can get is not plugged and needs a save first.
fn takes_a_save(setting: &Setting, work: &Work, situation: &Situation, unit: UnitId) -> bool {
    let (state, live) = (&situation.state, situation.memory.live);
    let bare = |port: PortId| {
        let is = state.ports[port];
        live.contains(setting.unit_of(port)) && is.saved_side() == Side::None && is.saved_enabled()
    };
    let (mut links, mut comes) = (Vec::new(), false);
    for port in setting.units[unit].ports.iter() {
        for cable in setting.ports[*port].cables.iter().copied() {
            let CableRow::Units(a, b) = setting.cables[cable] else { continue };
            if !state.plugged.contains(cable) {
                let mine = work.connect.contains(&cable);
                comes |= mine;
                if mine && !(bare(a) && bare(b)) {
                    return false;
                }
            } else if link(setting, state, cable) == Link::Stack {
                links.push(side_link(setting, state, cable));
            } else {
                return false;
            }
        }
    }
    // no two of them are one, so that each is the only cable of its link
    comes && links.len() == 2 && links.first() != links.last()
}

/// Whether a link of a newcomer that is outside has its far end saved as it shall be.
#[must_use]
pub fn has_saved_end(setting: &Setting, work: &Work, situation: &Situation, unit: UnitId) -> bool {
    let saved = |port: PortId| {
        let (is, shall) = (situation.state.ports[port], setting.target.ports[port]);
        setting.unit_of(port) != unit && (is.saved_side(), is.saved_enabled()) == (shall.side(), shall.enabled())
    };
    let own = |port: PortId| setting.unit_of(port) == unit;
    !situation.memory.live.contains(unit)
        && work.links.iter().flat_map(|link| &link.cables).any(|(_, a, b)| own(*b) && saved(*a) || own(*a) && saved(*b))
}

/// Whether a link that is not up is bound at both ends and saved: the save before it is behind us.
#[must_use]
pub fn link_is_saved(setting: &Setting, work: &Work, situation: &Situation, staged: UnitSet) -> bool {
    let saved = |port: PortId| {
        let mine = work.ports.iter().find(|work| work.port == port);
        is_there(setting, staged, setting.unit_of(port))
            && situation.state.ports[port].is_stored()
            && mine.is_none_or(|port| open_port_steps(setting, work, situation, staged, port) == 0)
    };
    let up = |link_work: &LinkWork| {
        link_work.cables.iter().any(|(cable, _, _)| link(setting, &situation.state, *cable) == Link::Stack)
    };
    work.links.iter().filter(|link| !up(link)).any(|link| link.cables.iter().any(|(_, a, b)| saved(*a) && saved(*b)))
}

/// Saves that must still follow: those before links and a last one, whatever else is left. Where a
/// save covers one unit, each unit that lacks its copy or differs from what it has saved takes its
/// own; one before a link may be that one, unless only the copy is lacking.
#[must_use]
pub fn all_saves(
    setting: &Setting,
    situation: &Situation,
    before_links: i64,
    work_left: bool,
    pairs_left: bool,
) -> i64 {
    let state = &situation.state;
    let common = pairs_left || state.running != state.saved;
    let differs = |unit: UnitId| {
        let row = &state.units[unit];
        let stored = || setting.units[unit].ports.iter().all(|port| state.ports[*port].is_stored());
        let numbered = setting.traits.member_id.takes_effect == IdEffect::AtOnce && row.id != row.saved_id;
        row.powered && (row.priority != row.saved_priority || numbered || !stored())
    };
    let stay = || setting.units.ids().filter(|unit| setting.stays(*unit));
    let lacks = stay().filter(|unit| !state.units[*unit].copy).count() as i64;
    let open = stay().filter(|unit| common || !state.units[*unit].copy || differs(*unit)).count() as i64;
    match setting.traits.save.scope {
        SaveScope::Stack => before_links + i64::from(work_left || open > 0),
        SaveScope::Unit if common => open.max(before_links + 1),
        SaveScope::Unit => open.max(before_links + lacks).max(i64::from(work_left)),
    }
}
