//! A state -> every single fault of its members: links, single cables of several, units, uplink legs.

use std::cmp::Ordering;

use crate::model::derive::{Islands, Link, SideLink, link, side_link};
use crate::model::natural_order;
use crate::model::progress::leg_carries;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, CableSet, LegId, LegSet, PortId, UnitId, UnitSet, UplinkId};

use super::strike::Terms;

/// A single fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// All cables of a stack link; its first cable.
    Link(CableId),
    /// One cable of a stack link that has several.
    Cable(CableId),
    /// A unit without power.
    Unit(UnitId),
    /// A leg of an uplink pair.
    Leg(LegId),
}

/// A single fault with what it takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Single {
    /// The fault.
    pub fault: Fault,
    /// The cables that go dark.
    pub cables: CableSet,
    /// The unit that loses power.
    pub down: UnitSet,
    /// The legs that are lost while their unit stays up.
    pub legs: LegSet,
    /// The link, as a number among links, that all or part of is lost.
    pub of_link: Option<usize>,
    /// The units at the two ends of that link.
    pub ends: UnitSet,
}

/// What a fault can strike in a state.
#[derive(Clone, Debug)]
pub struct Field<'a> {
    /// What the indices mean.
    pub setting: &'a Setting,
    /// The healthy state.
    pub state: &'a State,
    /// Its islands.
    pub islands: Islands,
    /// The members: powered units of the stack. Others are left out.
    pub members: UnitSet,
    /// Every single fault: links, cables, units, legs, each kind in natural order.
    pub singles: Vec<Single>,
    /// How many cables each link has.
    pub widths: Vec<usize>,
    /// Where its uplink legs are, and which pair carries the split guard.
    pub terms: Terms,
}

/// Where a leg is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Home {
    /// The leg.
    pub leg: LegId,
    /// Its pair.
    pub uplink: UplinkId,
    /// The unit that it runs over.
    pub unit: UnitId,
}

impl<'a> Field<'a> {
    /// Lists the single faults of a state among some members; those of them that are off are no part of it.
    #[must_use]
    pub fn new(setting: &'a Setting, state: &'a State, members: UnitSet) -> Self {
        let members: UnitSet = members.iter().filter(|unit| state.units[*unit].powered).collect();
        let links = links(setting, state, members);
        let terms = Terms { homes: homes(setting, state, members), guard: state.running.guard };
        let islands = Islands::of(setting, state);
        let mut field = Self { setting, state, islands, members, singles: Vec::new(), widths: Vec::new(), terms };
        let ends = |cables: &[CableId]| -> UnitSet {
            let cables = cables.iter().flat_map(|cable| setting.cables[*cable].unit_ends());
            cables.map(|port| setting.unit_of(port)).collect()
        };
        for (number, cables) in links.iter().enumerate() {
            let Some(first) = cables.first() else { continue };
            let all = cables.iter().copied().collect();
            let single = Single { of_link: Some(number), ends: ends(cables), ..none(Fault::Link(*first)) };
            field.singles.push(Single { cables: all, ..single });
            field.widths.push(cables.len());
        }
        let several = links.iter().enumerate().filter(|(_, cables)| cables.len() > 1);
        let mut single: Vec<(usize, CableId, UnitSet)> = several
            .flat_map(|(number, cables)| {
                let ends = ends(cables);
                cables.iter().map(move |cable| (number, *cable, ends))
            })
            .collect();
        single.sort_by(|one, other| cable_order(setting, one.1, other.1));
        field.singles.extend(single.into_iter().map(|(number, cable, ends)| Single {
            cables: CableSet::one(cable),
            of_link: Some(number),
            ends,
            ..none(Fault::Cable(cable))
        }));
        let mut units: Vec<UnitId> = members.iter().collect();
        units.sort_by(|one, other| natural_order(&setting.units[*one].key, &setting.units[*other].key));
        field
            .singles
            .extend(units.into_iter().map(|unit| Single { down: UnitSet::one(unit), ..none(Fault::Unit(unit)) }));
        let mut legs: Vec<LegId> = field.terms.homes.iter().map(|home| home.leg).collect();
        legs.sort_by(|one, other| end_order(&setting.legs[*one].name, &setting.legs[*other].name));
        field.singles.extend(legs.into_iter().map(|leg| Single { legs: LegSet::one(leg), ..none(Fault::Leg(leg)) }));
        field
    }
}

/// The legs that carry on members, each with its unit.
#[must_use]
pub fn homes(setting: &Setting, state: &State, members: UnitSet) -> Vec<Home> {
    let formed = state.running.legs;
    let home = |leg: LegId| {
        let carrying = |unit: &UnitId| leg_carries(setting, state, UnitSet::one(*unit), formed, leg);
        let ports = setting.legs[leg].ports.iter().map(|port| setting.unit_of(*port));
        let unit = ports.filter(|unit| members.contains(*unit)).find(carrying)?;
        Some(Home { leg, uplink: setting.legs[leg].uplink, unit })
    };
    formed.iter().filter_map(home).collect()
}

const fn none(fault: Fault) -> Single {
    let (cables, down, legs) = (CableSet::EMPTY, UnitSet::EMPTY, LegSet::EMPTY);
    Single { fault, cables, down, legs, of_link: None, ends: UnitSet::EMPTY }
}

/// The stack links between members, each as its cables in natural order; the links by their first cables.
#[must_use]
pub fn links(setting: &Setting, state: &State, members: UnitSet) -> Vec<Vec<CableId>> {
    let mut cables: Vec<(SideLink, CableId)> = state
        .plugged
        .iter()
        .filter(|cable| link(setting, state, *cable) == Link::Stack)
        .filter_map(|cable| Some((side_link(setting, state, cable)?, cable)))
        .filter(|((one, other), _)| members.contains(one.0) && members.contains(other.0))
        .collect();
    cables.sort_by(|one, other| one.0.cmp(&other.0).then_with(|| cable_order(setting, one.1, other.1)));
    let mut links: Vec<Vec<CableId>> = cables
        .chunk_by(|one, other| one.0 == other.0)
        .map(|cables| cables.iter().map(|(_, cable)| *cable).collect())
        .collect();
    links.sort_by(|one, other| match (one.first(), other.first()) {
        (Some(one), Some(other)) => cable_order(setting, *one, *other),
        _ => Ordering::Equal,
    });
    links
}

/// Cables between units by their ends, each cable's own ends in natural order first.
fn cable_order(setting: &Setting, one: CableId, other: CableId) -> Ordering {
    match (ordered_ends(setting, one), ordered_ends(setting, other)) {
        (Some((a, b)), Some((c, d))) => port_order(setting, a, c).then_with(|| port_order(setting, b, d)),
        _ => one.cmp(&other),
    }
}

/// The two ends of a cable between units, in natural order.
#[must_use]
pub fn ordered_ends(setting: &Setting, cable: CableId) -> Option<(PortId, PortId)> {
    match setting.cables[cable] {
        CableRow::Far(..) => None,
        CableRow::Units(a, b) if port_order(setting, a, b) == Ordering::Greater => Some((b, a)),
        CableRow::Units(a, b) => Some((a, b)),
    }
}

fn port_order(setting: &Setting, one: PortId, other: PortId) -> Ordering {
    let key = |port| &setting.units[setting.unit_of(port)].key;
    natural_order(key(one), key(other)).then_with(|| setting.ports[one].name.cmp(&setting.ports[other].name))
}

/// `member:port` by member, then port.
fn end_order(one: &str, other: &str) -> Ordering {
    match (one.split_once(':'), other.split_once(':')) {
        (Some((a, p)), Some((b, q))) => natural_order(a, b).then_with(|| natural_order(p, q)),
        _ => natural_order(one, other),
    }
}
