//! Two situations, one meant and one come of a slip -> facts by which a person at a place can tell them apart.

use crate::model::derive::{Islands, Link, link};
use crate::model::document::{Fact, LinkKind};
use crate::model::facts::{Spot, View, link_kind, names_unit};
use crate::model::naming::unit_of;
use crate::model::places::unit_spot;
use crate::model::progress::Situation;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, UnitId, UnitSet};

use super::looks;

/// The first fact, in the order in which people read a unit, that is seen in the one and not in the other.
/// `there`: where the look would be made after the slip.
#[must_use]
pub fn telling(setting: &Setting, meant: &Situation, spot: Spot, slipped: &Situation, there: Spot) -> Option<Fact> {
    let (here, amiss) = (View::new(setting, meant), View::new(setting, slipped));
    let tells =
        |fact: &Fact| here.shows(spot, fact) && !amiss.shows(there, fact) && is_read_at(setting, meant, spot, fact);
    if spot == Spot::Hands {
        return by_hands(setting, meant, slipped).into_iter().find(tells);
    }
    let island = match spot {
        Spot::Stack | Spot::Hands => meant.incumbent(setting),
        Spot::Console(unit) if meant.state.units[unit].powered => Islands::of(setting, &meant.state).around(unit),
        Spot::Console(_) => UnitSet::EMPTY,
    };
    let differing = differing(setting, meant, slipped);
    // where nothing but the common settings differs, any unit says that they are not saved
    let asked = if differing.meets(island) { island.and(differing) } else { island.first().into_iter().collect() };
    let units = || asked.iter().filter_map(|unit| looks::member(setting, meant, unit, false).into_iter().next());
    let equal = || asked.iter().filter_map(|unit| looks::equal(setting, meant, unit));
    let pending = || asked.iter().filter_map(|unit| looks::pending(setting, meant, unit));
    // that none waits is told only where the slip left one
    let left = |unit: &UnitId| {
        meant.state.units[*unit].saved_id == meant.state.units[*unit].id
            && slipped.state.units[*unit].saved_id != slipped.state.units[*unit].id
    };
    let none_pending = || asked.iter().filter(left).map(|unit| looks::with_saved_id(setting, meant, unit));
    let ports = || asked.iter().flat_map(|unit| ports(setting, meant, unit));
    let links = || links(setting, meant, asked);
    // who holds the common settings as they are saved may be one that is the same in both
    let others = if meant.state.saved == slipped.state.saved { UnitSet::EMPTY } else { island.minus(asked) };
    let askable = || asked.iter().chain(others.iter());
    let saved = || askable().flat_map(|unit| looks::member(setting, meant, unit, true).into_iter().skip(1));
    let pairs = || meant.state.running.pairs.iter().map(|pair| looks::pair_as_it_is(setting, meant, pair));
    let gone = || {
        let gone = setting.uplinks.ids().filter(|pair| !meant.state.running.pairs.contains(*pair));
        gone.map(|pair| looks::pair_as_it_is(setting, meant, pair))
    };
    let guard = || {
        let uplink = meant.state.running.guard.map(|pair| setting.uplinks[pair].name.clone());
        std::iter::once(Fact::Guard { uplink })
    };
    let mut all = units()
        .chain(equal())
        .chain(pending())
        .chain(none_pending())
        .chain(ports())
        .chain(links())
        .chain(saved())
        .chain(pairs())
        .chain(gone())
        .chain(guard())
        .chain(looks::admitted(setting, meant))
        // who is in the stack is what every look at it opens with
        .chain(looks::place(setting, meant, spot).0);
    all.find(tells)
}

/// Whether a look at a place stays there with this fact in it: of several units that are together outside the
/// stack, each is read at its own console.
fn is_read_at(setting: &Setting, meant: &Situation, spot: Spot, fact: &Fact) -> bool {
    let unit = names_unit(fact).and_then(|key| unit_of(setting, key).ok());
    spot == Spot::Hands || unit.is_none_or(|unit| unit_spot(setting, meant, unit) == spot)
}

/// Units that stand otherwise in the one than in the other.
fn differing(setting: &Setting, one: &Situation, other: &Situation) -> UnitSet {
    let (one, other) = (&one.state, &other.state);
    let moved = one.plugged.minus(other.plugged).or(other.plugged.minus(one.plugged));
    let cabled: UnitSet = moved
        .iter()
        .flat_map(|cable| setting.cables[cable].unit_ends().collect::<Vec<_>>())
        .map(|port| setting.unit_of(port))
        .collect();
    let differs = |unit: &UnitId| {
        let ports = &setting.units[*unit].ports;
        one.units[*unit] != other.units[*unit] || ports.iter().any(|port| one.ports[*port] != other.ports[*port])
    };
    setting.units.ids().filter(differs).collect::<UnitSet>().or(cabled)
}

fn ports(setting: &Setting, situation: &Situation, unit: UnitId) -> Vec<Fact> {
    let fact = |port: &crate::model::table::PortId| {
        let value = situation.state.ports[*port];
        Fact::Port {
            unit: setting.units[unit].key.clone(),
            port: setting.ports[*port].name.clone(),
            enabled: Some(value.enabled()),
            side: Some(value.side()),
            active: Some(value.active()),
            lit: None,
        }
    };
    setting.units[unit].ports.iter().map(fact).collect()
}

/// Links of units, and the places of links that are gone.
fn links(setting: &Setting, situation: &Situation, of: UnitSet) -> Vec<Fact> {
    let mine = |cable: &CableId| setting.cables[*cable].unit_ends().any(|port| of.contains(setting.unit_of(port)));
    let between = setting.cables.ids().filter(mine);
    let fact = |cable: CableId| match setting.cables[cable] {
        CableRow::Units(one, other) => {
            let is = link_kind(setting, situation, one, other);
            (link(setting, &situation.state, cable) == Link::Stack || is == LinkKind::None)
                .then(|| Fact::Link { ends: setting.cable_names(cable), is })
        }
        CableRow::Far(..) => None,
    };
    between.filter_map(fact).collect()
}

/// What hands see: cables, and which units have power.
fn by_hands(setting: &Setting, meant: &Situation, slipped: &Situation) -> Vec<Fact> {
    let (one, other) = (meant.state.plugged, slipped.state.plugged);
    let moved = one.minus(other).or(other.minus(one));
    let cables =
        moved.iter().map(|cable| Fact::Cable { ends: setting.cable_names(cable), plugged: one.contains(cable) });
    let switched =
        setting.units.ids().filter(|unit| meant.state.units[*unit].powered != slipped.state.units[*unit].powered);
    let power = switched.map(|unit| Fact::power(setting.units[unit].key.clone(), meant.state.units[unit].powered));
    cables.chain(power).collect()
}
