//! What faults leave of a stack -> what would cure it, each with the figure that was computed for it. What was not
//! computed is not advised.

use crate::model::derive::side_link;
use crate::model::document::Side;
use crate::model::names::list;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableSet, LegSet, PortId, UnitId, UnitSet};
use crate::model::traits::Topology;

use super::named::names;
use super::rank::survives;
use super::single::{Fault, Field, Home, links};
use super::strike::{Outcome, Terms, Wreck};
use super::{Survey, fault_name};

/// Something that several members depend on, beyond the model: a power feed, a rack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Common {
    /// What it is called, as in "the power feed F1".
    pub name: String,
    /// The members that depend on it.
    pub members: Vec<String>,
}

/// What would cure it, most needed first.
#[must_use]
pub fn advice(survey: &Survey<'_>, commons: &[Common]) -> Vec<String> {
    let mut found: Vec<String> = ties(survey).into_iter().chain(close_the_ring(survey)).collect();
    found.extend(guard(survey));
    found.extend(move_a_leg(survey));
    found.extend(heir_without_uplink(survey));
    found.extend(commons.iter().filter_map(|common| shared(survey, common)));
    found
}

/// Elections after a fault, or when it heals, that the election order does not decide.
fn ties(survey: &Survey<'_>) -> Option<String> {
    let setting = survey.field.setting;
    let tied = || survey.singles.iter().zip(&survey.field.singles).filter(|(outcome, _)| !outcome.undecided.is_empty());
    let (outcome, single) = tied().next()?;
    Some(format!(
        "give {} priorities of their own: after {} of {} single faults an election is not decided, for instance after \
`{}`",
        list(&names(setting, outcome.undecided)),
        tied().count(),
        survey.singles.len(),
        fault_name(setting, single.fault)
    ))
}

/// A chain whose two ends have a free port each: one cable more between them.
fn close_the_ring(survey: &Survey<'_>) -> Option<String> {
    let field = &survey.field;
    let now = survey.unsurvived();
    if now == 0 || !field.setting.traits.topologies.contains(&Topology::Ring) || field.members.len() < 3 {
        return None;
    }
    let (setting, state, ends) = closed(field)?;
    let ring = Survey::of(Field::new(&setting, &state, field.members));
    let then = ring.unsurvived();
    if then >= now {
        return None;
    }
    let [one, other] = ends.map(|port| setting.end_name(port));
    let (tried, ring_tried) = (survey.singles.len(), ring.singles.len());
    Some(format!(
        "close the ring with a cable between {one} and {other}: then {then} of {ring_tried} single faults do harm, now \
{now} of {tried} do"
    ))
}

/// The stack with one cable more, and the ports of that cable.
fn closed(field: &Field<'_>) -> Option<(Setting, State, [PortId; 2])> {
    let (setting, state) = (field.setting, field.state);
    let mut sides: Vec<(UnitId, Side)> = Vec::new();
    for cable in links(setting, state, field.members).iter().filter_map(|cables| cables.first()) {
        let (one, other) = side_link(setting, state, *cable)?;
        sides.extend([one, other]);
    }
    let mut ends = field.members.iter().filter_map(|unit| {
        let mut own = sides.iter().filter(|(other, _)| *other == unit);
        let side = own.next().filter(|_| own.next().is_none())?.1;
        let wanted = if side == Side::East { Side::West } else { Side::East };
        let free = |port: &PortId| {
            let bound = state.ports[*port].side();
            let plugged = setting.ports[*port].cables.iter().any(|cable| state.plugged.contains(*cable));
            setting.ports[*port].stacking && !plugged && (bound == Side::None || bound == wanted)
        };
        let port = setting.units[unit].ports.iter().copied().find(free)?;
        Some((port, wanted))
    });
    let (one, other) = (ends.next()?, ends.next()?);
    if ends.next().is_some() || one.1 == other.1 {
        return None;
    }
    let (mut setting, mut state) = (setting.clone(), state.clone());
    let ports = [one.0.min(other.0), one.0.max(other.0)];
    if setting.cables.len() >= CableSet::CAPACITY {
        return None;
    }
    let cable = setting.cables.push(CableRow::Units(one.0.min(other.0), one.0.max(other.0)));
    for (port, side) in [one, other] {
        setting.ports[port].cables.push(cable);
        state.ports[port] = state.ports[port].with_enabled(true).with_side(side, true).stored();
    }
    state.plugged.insert(cable);
    Some((setting, state, ports))
}

/// Two pieces that serve side by side: a guard over one of the pairs.
fn guard(survey: &Survey<'_>) -> Option<String> {
    let field = &survey.field;
    let brains = |terms: &Terms| {
        let single = all_wrecks(survey).filter(|(_, wreck)| {
            wreck.as_ref().is_some_and(|wreck| field.serve_on(terms, wreck, LegSet::EMPTY).split_brain)
        });
        single.count()
    };
    if field.terms.guard.is_some() {
        return None;
    }
    let now = brains(&field.terms);
    let tried = all_wrecks(survey).count();
    let guarded = |uplink| Terms { guard: Some(uplink), ..field.terms.clone() };
    let pairs = field.state.running.pairs.iter();
    let (then, best) = pairs.map(|pair| (brains(&guarded(pair)), pair)).min_by_key(|(brains, _)| *brains)?;
    (then < now).then(|| {
        let name = &field.setting.uplinks[best].name;
        format!(
            "guard the pair {name} against a split: of {tried} cases of one broken link or two, {then} then end with two \
pieces in service side by side, now {now} do"
        )
    })
}

/// Every link broken alone, then every two of them.
fn all_wrecks<'s>(survey: &'s Survey<'_>) -> impl Iterator<Item = (usize, Option<std::borrow::Cow<'s, Wreck>>)> {
    let links = survey.field.widths.len();
    let single =
        (0..links).map(|at| (1, survey.wrecks.get(at).and_then(Option::as_ref).map(std::borrow::Cow::Borrowed)));
    let double = (0..links).flat_map(move |one| (one + 1..links).map(move |other| (one, other)));
    single.chain(double.map(|(one, other)| {
        let cables = |at: usize| survey.field.singles.get(at).map_or(CableSet::EMPTY, |single| single.cables);
        let wreck = survey.field.strike(cables(one).or(cables(other)), UnitSet::EMPTY);
        (2, Some(std::borrow::Cow::Owned(wreck)))
    }))
}

/// What is counted of an agreement about uplinks, the less the better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Score {
    /// Single faults that are not survived.
    singles: usize,
    /// Single faults that end in a split brain.
    single_brains: usize,
    /// Members cut off, over all single faults.
    single_cut: usize,
    /// Pairs of broken links that end in a split brain.
    brains: usize,
    /// Members cut off, over all pairs of broken links.
    cut: usize,
}

/// A leg on another member.
fn move_a_leg(survey: &Survey<'_>) -> Option<String> {
    let field = &survey.field;
    let two_links: Vec<Wreck> = all_wrecks(survey)
        .filter(|(broken, _)| *broken == 2)
        .filter_map(|(_, wreck)| Some(wreck?.into_owned()))
        .collect();
    let now = score(survey, &field.terms, &two_links);
    if now.singles == 0 && now.brains == 0 && now.cut == 0 {
        return None;
    }
    let mut best: Option<(Score, Home, UnitId)> = None;
    for (at, home) in field.terms.homes.iter().enumerate() {
        let taken = |unit: UnitId| field.terms.homes.iter().any(|one| one.uplink == home.uplink && one.unit == unit);
        for unit in field.members.iter().filter(|unit| !taken(*unit)) {
            let mut terms = field.terms.clone();
            if let Some(moved) = terms.homes.get_mut(at) {
                moved.unit = unit;
            }
            let then = score(survey, &terms, &two_links);
            if then < best.map_or(now, |(score, ..)| score) {
                best = Some((then, *home, unit));
            }
        }
    }
    let (then, home, unit) = best?;
    let (leg, key) = (&field.setting.legs[home.leg].name, &field.setting.units[unit].key);
    let pair = &field.setting.uplinks[home.uplink].name;
    let sides = if field.terms.guard == Some(home.uplink) { ", which carries the guard," } else { "" };
    let head = format!("put the leg {leg} of the pair {pair}{sides} on {key} instead");
    let (tried, pairs) = (survey.singles.len(), two_links.len());
    let single = |score: Score| (score.singles, score.single_brains, score.single_cut);
    Some(if single(then) < single(now) {
        let (with, without) = (told(single(then)), told(single(now)));
        format!("{head}: of {tried} single faults, then {with}; now {without}")
    } else {
        let brains = match (then.brains, now.brains) {
            (0, 0) => String::new(),
            (then, now) => format!("{then} then end with two pieces in service side by side, now {now}; "),
        };
        let cut = format!("they then cut off {} members between them, now {}", then.cut, now.cut);
        format!("{head}: in {pairs} cases of two broken links, {brains}{cut}")
    })
}

fn told((harm, brains, cut): (usize, usize, usize)) -> String {
    let brains =
        if brains > 0 { format!(", {brains} end with two pieces in service side by side") } else { String::new() };
    format!("{harm} do harm{brains}, {cut} members are cut off between them")
}

fn score(survey: &Survey<'_>, terms: &Terms, two_links: &[Wreck]) -> Score {
    let field = &survey.field;
    let serve = |wreck: &Wreck, lost| field.serve_on(terms, wreck, lost);
    let healthy = serve(&survey.whole, LegSet::EMPTY);
    let singles: Vec<Outcome> = field
        .singles
        .iter()
        .zip(&survey.wrecks)
        .map(|(single, wreck)| serve(wreck.as_ref().unwrap_or(&survey.whole), single.legs))
        .collect();
    let pairs: Vec<Outcome> = two_links.iter().map(|wreck| serve(wreck, LegSet::EMPTY)).collect();
    Score {
        singles: singles.iter().filter(|one| !survives(&healthy, one)).count(),
        single_brains: singles.iter().filter(|one| one.split_brain).count(),
        single_cut: singles.iter().map(|one| one.cut_off.len()).sum(),
        brains: pairs.iter().filter(|one| one.split_brain).count(),
        cut: pairs.iter().map(|one| one.cut_off.len()).sum(),
    }
}

/// Who takes the lead when the primary fails, and reaches no uplink then.
fn heir_without_uplink(survey: &Survey<'_>) -> Option<String> {
    let (field, setting) = (&survey.field, survey.field.setting);
    let leader = survey.healthy.islands.iter().find(|island| island.units.meets(survey.healthy.in_service))?.primary?;
    let at = field.singles.iter().position(|single| single.fault == Fault::Unit(leader))?;
    let outcome = survey.singles.get(at)?;
    let lone = outcome.islands.iter().filter(|island| island.units.within(outcome.cut_off));
    let largest = lone.max_by_key(|island| island.units.len())?;
    let heir = &setting.units[largest.primary?].key;
    let fault = fault_name(setting, Fault::Unit(leader));
    let others = names(setting, largest.units.minus(UnitSet::one(largest.primary?)));
    let with = if others.is_empty() { String::new() } else { format!(" with {}", others.join(", ")) };
    Some(format!(
        "after `{fault}`, {heir} leads{with} and reaches no uplink: {} of {} members that are up are cut off",
        outcome.cut_off.len(),
        field.members.len() - 1
    ))
}

/// Members that fail together.
fn shared(survey: &Survey<'_>, common: &Common) -> Option<String> {
    let (field, setting) = (&survey.field, survey.field.setting);
    let down: UnitSet =
        field.members.iter().filter(|unit| common.members.contains(&setting.units[*unit].member)).collect();
    if down.len() < 2 || down == field.members {
        return None;
    }
    let outcome = field.serve(&field.strike(CableSet::EMPTY, down), LegSet::EMPTY);
    let failed = names(setting, down).join(", ");
    let up = field.members.len() - down.len();
    (!survives(&survey.healthy, &outcome)).then(|| {
        let brain = if outcome.split_brain { ", in two pieces side by side" } else { "" };
        format!(
            "{failed} depend on {}: if it fails, {} of the {up} other members stay in service{brain}; put them on different ones",
            common.name,
            outcome.in_service.len(),
        )
    })
}
