//! A replay -> what its picture shows: the units row by row, their uplink legs, the cables between them.

use std::collections::BTreeSet;

use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, CableSet, LegId, PortId, UnitId, UplinkId};
use crate::rehearse::Trail;

use super::strands::{in_order, layout, order};

/// What a picture shows.
pub struct Cast<'a> {
    /// What the indices mean.
    pub setting: &'a Setting,
    /// The units, top to bottom.
    pub rows: Vec<UnitId>,
    /// Their legs, in the order of the rows.
    pub legs: Vec<Leg>,
    /// The cables, in the order of their upper ends.
    pub cables: Vec<Cable>,
}

/// One leg of an uplink pair at a unit.
pub struct Leg {
    /// The row of its unit.
    pub row: usize,
    /// The pair.
    pub uplink: UplinkId,
    /// The leg.
    pub leg: LegId,
    /// The port.
    pub port: PortId,
}

/// One cable between two units.
pub struct Cable {
    /// The cable.
    pub cable: CableId,
    /// The port at the upper unit.
    pub upper: PortId,
    /// The port at the lower unit.
    pub lower: PortId,
    /// The two rows.
    pub rows: (usize, usize),
    /// Whether it runs beside the boxes.
    pub lane: bool,
}

impl<'a> Cast<'a> {
    /// Everything that is there at any time of a plan.
    #[must_use]
    pub fn of(trail: &'a Trail) -> Self {
        let setting = &trail.setting;
        let rows = rows(setting);
        let passed = trail.passed.iter().map(|passed| passed.situation.state.plugged);
        let plugged = passed.fold(trail.start.state.plugged, CableSet::or);
        let legs = rows.iter().enumerate().flat_map(|(row, unit)| legs_of(setting, row, *unit)).collect();
        let cables = cables(setting, &rows, plugged);
        Self { setting, rows, legs, cables }
    }
}

/// Units that stay or come as the target cables them; one that leaves stands under the box that replaces it, else
/// where it stood before the change.
fn rows(setting: &Setting) -> Vec<UnitId> {
    let known = order(setting);
    let mut rows: Vec<UnitId> = known.iter().copied().filter(|unit| setting.stays(*unit)).collect();
    let before = in_order(setting, &setting.baseline, &known);
    for (at, unit) in before.iter().enumerate().filter(|(_, unit)| !setting.stays(**unit)) {
        let place = |other: &UnitId| rows.iter().position(|row| row == other);
        let siblings = setting.units[*unit].siblings;
        let replaced = rows.iter().rposition(|row| siblings.contains(*row));
        let above = || before.iter().take(at).rev().find_map(place);
        let below = || before.iter().skip(at + 1).find_map(place);
        let under = replaced.or_else(above).map(|above| above + 1);
        rows.insert(under.or_else(below).unwrap_or(rows.len()), *unit);
    }
    rows
}

fn legs_of(setting: &Setting, row: usize, unit: UnitId) -> Vec<Leg> {
    let mut legs = Vec::new();
    for port in setting.units[unit].ports.iter().copied() {
        for cable in &setting.ports[port].cables {
            let CableRow::Far(uplink, _) = setting.cables[*cable] else { continue };
            let of_pair = |leg: &LegId| setting.legs[*leg].uplink == uplink;
            let leg = setting.ports[port].legs.iter().find(of_pair);
            legs.extend(leg.map(|leg| Leg { row, uplink, leg, port }));
        }
    }
    legs
}

fn cables(setting: &Setting, rows: &[UnitId], plugged: CableSet) -> Vec<Cable> {
    let closing: BTreeSet<CableId> = [&setting.baseline, &setting.target]
        .into_iter()
        .flat_map(|state| layout(setting, state).strands)
        .flat_map(|strand| strand.closing)
        .collect();
    let row = |port: PortId| rows.iter().position(|unit| *unit == setting.unit_of(port));
    let drawn = plugged.iter().filter_map(|cable| {
        let CableRow::Units(a, b) = setting.cables[cable] else { return None };
        let (one, other) = (row(a)?, row(b)?);
        let (upper, lower, rows) = if one <= other { (a, b, (one, other)) } else { (b, a, (other, one)) };
        let neighbours = rows.1 - rows.0 == 1;
        Some(Cable { cable, upper, lower, rows, lane: !neighbours || closing.contains(&cable) })
    });
    let mut cables: Vec<Cable> = drawn.collect();
    cables.sort_by_key(|cable| (cable.rows, cable.upper, cable.lower));
    cables
}
