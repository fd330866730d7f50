//! A state -> the upright picture of a stack: one row a unit, the links between neighbours.

use std::collections::{BTreeMap, BTreeSet};

use super::context::{CablePair, LadderRow};
use super::error::RenderError;
use super::names::{Names, split_end};
use super::operation::role_word;
use crate::model::PortName;
use crate::model::document::{Role, Side, StateDocument, UnitEntry, UnitState};

/// The picture of these units at this state; empty if there are none.
pub(super) fn ladder(
    names: &Names,
    state: &StateDocument,
    units: &[&UnitEntry],
) -> Result<Vec<LadderRow>, RenderError> {
    let picture = Picture { state, cables: cables_by_pair(state, units) };
    let mut rows = Vec::new();
    for walk in picture.walks(units) {
        if !rows.is_empty() {
            rows.push(LadderRow::Gap);
        }
        rows.extend(picture.rows(names, &walk, units)?);
    }
    Ok(rows)
}

/// The same units in the order of that picture: as they are cabled.
pub(super) fn in_cabling_order<'u>(state: &StateDocument, units: &[&'u UnitEntry]) -> Vec<&'u UnitEntry> {
    Picture { state, cables: cables_by_pair(state, units) }.walks(units).concat()
}

/// What a unit is in a state: who leads is primary, whatever the intent wants.
pub(super) fn role_in(state: Option<&UnitState>, unit: &UnitEntry) -> Role {
    match (state.is_some_and(|state| state.primary), unit.role) {
        (true, _) => Role::Primary,
        (false, Role::Primary | Role::Member) => Role::Member,
        (false, Role::Standby) => Role::Standby,
    }
}

/// Cables between two units, by their keys in order.
type Cables<'a> = BTreeMap<(&'a str, &'a str), Vec<(&'a str, &'a str)>>;

fn cables_by_pair<'a>(state: &'a StateDocument, units: &[&UnitEntry]) -> Cables<'a> {
    let known: BTreeSet<&str> = units.iter().map(|unit| unit.key.as_str()).collect();
    let mut cables: Cables = BTreeMap::new();
    for [one, other] in &state.cables {
        let (Ok((a, _)), Ok((b, _))) = (split_end(one), split_end(other)) else { continue };
        if known.contains(a) && known.contains(b) {
            cables.entry((a, b)).or_default().push((one, other));
            cables.entry((b, a)).or_default().push((other, one));
        }
    }
    cables
}

struct Picture<'a> {
    state: &'a StateDocument,
    cables: Cables<'a>,
}

impl<'a> Picture<'a> {
    /// Line by line until no unit is left.
    fn walks<'u>(&self, units: &[&'u UnitEntry]) -> Vec<Vec<&'u UnitEntry>> {
        let mut left: BTreeSet<usize> = (0..units.len()).collect();
        let mut walks = Vec::new();
        while let Some(start) = self.start(units, &left) {
            walks.push(self.walk(units, start, &mut left));
        }
        walks
    }

    /// Where the next line of units begins: at an end if it has one, with the lowest id first.
    fn start(&self, units: &[&UnitEntry], left: &BTreeSet<usize>) -> Option<usize> {
        let key = |at: &usize| units.get(*at).map_or("", |unit| unit.key.as_str());
        let is_end =
            |at: &&usize| self.cables.range((key(at), "")..).take_while(|((from, _), _)| *from == key(at)).count() < 2;
        left.iter().find(is_end).or_else(|| left.first()).copied()
    }

    /// The units from there on, each next one over an east side if there is a choice.
    fn walk<'u>(&self, units: &[&'u UnitEntry], start: usize, left: &mut BTreeSet<usize>) -> Vec<&'u UnitEntry> {
        let mut walk = Vec::new();
        let mut at = Some(start);
        while let Some(unit) = at.and_then(|position| units.get(position)) {
            left.retain(|position| Some(*position) != at);
            walk.push(*unit);
            let choices = left.iter().copied().filter_map(|position| {
                let next = units.get(position)?;
                let cables = self.cables.get(&(unit.key.as_str(), next.key.as_str()))?;
                let east = cables.iter().any(|(near, _)| self.side(near) == Side::East);
                Some((!east, position))
            });
            at = choices.min().map(|(_, position)| position);
        }
        walk
    }

    fn rows(&self, names: &Names, walk: &[&UnitEntry], all: &[&UnitEntry]) -> Result<Vec<LadderRow>, RenderError> {
        let closing = self.closing(walk);
        let ring = !closing.is_empty();
        let widest = all.iter().map(|unit| unit.key.len()).max().unwrap_or(0);
        let mut rows = Vec::new();
        for (position, unit) in walk.iter().enumerate() {
            let at_end = position == 0 || position + 1 == walk.len();
            let bracket = if !ring {
                ""
            } else if at_end {
                "+-- "
            } else {
                "|   "
            };
            rows.push(self.unit_row(names, unit, bracket, widest)?);
            if let Some(next) = walk.get(position + 1) {
                let skipped: &[(&str, &str)] = if walk.len() == 2 { &closing } else { &[] };
                let bracket = if ring { "|   " } else { "" };
                rows.push(LadderRow::Link { bracket: bracket.into(), cables: self.pairs(names, unit, next, skipped)? });
            }
        }
        if ring {
            rows.push(LadderRow::Closing { cables: self.named(names, closing.iter().copied())? });
        }
        Ok(rows)
    }

    /// The cables from the last unit back to the first. Of two units they are those at the first one's other side.
    fn closing(&self, walk: &[&UnitEntry]) -> Vec<(&'a str, &'a str)> {
        let (Some(first), Some(last)) = (walk.first(), walk.last()) else { return Vec::new() };
        let found = self.cables.iter().find(|((from, to), _)| *from == last.key && *to == first.key);
        let cables = found.map(|(_, cables)| cables.clone()).unwrap_or_default();
        match walk.len() {
            0 | 1 => Vec::new(),
            2 => {
                let sides: BTreeSet<Side> = cables.iter().map(|(_, near)| self.side(near)).collect();
                let west = |cable: &(&str, &str)| self.side(cable.1) == Side::West;
                if sides.len() < 2 { Vec::new() } else { cables.into_iter().filter(west).collect() }
            }
            _ => cables,
        }
    }

    fn unit_row(
        &self,
        names: &Names,
        unit: &UnitEntry,
        bracket: &str,
        widest: usize,
    ) -> Result<LadderRow, RenderError> {
        let here = self.state.units.get(&unit.key);
        let role = role_in(here, unit);
        let running = here.and_then(|unit| unit.running.as_ref()).map(|settings| settings.priority);
        Ok(LadderRow::Unit {
            bracket: bracket.into(),
            name: format!("{:widest$}", unit.key),
            id: names.acting(self.state, &unit.key)?.id.to_string(),
            role: format!("{:7}", if here.is_some_and(|unit| unit.powered) { role_word(role) } else { "off" }),
            priority: running.unwrap_or(unit.priority).to_string(),
        })
    }

    fn pairs(
        &self,
        names: &Names,
        one: &UnitEntry,
        other: &UnitEntry,
        skipped: &[(&str, &str)],
    ) -> Result<Vec<CablePair>, RenderError> {
        let found = self.cables.iter().find(|((from, to), _)| *from == one.key && *to == other.key);
        let cables = found.map(|(_, cables)| cables.as_slice()).unwrap_or_default();
        self.named(names, cables.iter().copied().filter(|(near, far)| !skipped.contains(&(*far, *near))))
    }

    fn named<'c>(
        &self,
        names: &Names,
        cables: impl Iterator<Item = (&'c str, &'c str)>,
    ) -> Result<Vec<CablePair>, RenderError> {
        let name = |end: &str| names.end_port(self.state, end).map(|port| port.interface);
        cables.map(|(from, to)| Ok(CablePair { from: name(from)?, to: name(to)? })).collect()
    }

    fn side(&self, end: &str) -> Side {
        let Ok((key, port)) = split_end(end) else { return Side::None };
        let running = self.state.units.get(key).and_then(|unit| unit.running.as_ref());
        running.and_then(|settings| settings.ports.get(&PortName::new(port))).map_or(Side::None, |port| port.side)
    }
}
