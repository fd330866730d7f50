//! A state -> its units in the order in which they are cabled, strand by strand.

use std::collections::BTreeSet;

use crate::model::derive::Islands;
use crate::model::document::Side;
use crate::model::setting::{CableRow, Setting};
use crate::model::state::State;
use crate::model::table::{CableId, CableSet, PortId, UnitId, UnitSet};

/// Units that cables join, from one end to the other.
#[derive(Clone, Debug, Default)]
pub struct Strand {
    /// The units.
    pub units: Vec<UnitId>,
    /// The cables between each unit and the next one.
    pub between: Vec<Vec<CableId>>,
    /// The cables from the last unit back to the first.
    pub closing: Vec<CableId>,
}

/// A whole state.
#[derive(Clone, Debug, Default)]
pub struct Layout {
    /// Strand by strand.
    pub strands: Vec<Strand>,
    /// Plugged cables that no strand shows.
    pub others: Vec<CableId>,
}

/// How the units of a state are cabled.
#[must_use]
pub fn layout(setting: &Setting, state: &State) -> Layout {
    let order = order(setting);
    let islands = Islands::of(setting, state);
    let mut strands = Map { setting, state, plugged: state.plugged }.strands(&order);
    for strand in &mut strands {
        // an island is drawn in one piece where it can be
        let island = |at: usize| strand.units.get(at).map(|unit| islands.around(*unit));
        let last = strand.units.len().saturating_sub(1);
        if !strand.closing.is_empty()
            && island(0) == island(last)
            && let Some(start) = (1..=last).find(|at| island(*at) != island(*at - 1))
        {
            let mut links = strand.between.clone();
            links.push(strand.closing.clone());
            links.rotate_left(start);
            strand.units.rotate_left(start);
            strand.closing = links.pop().unwrap_or_default();
            strand.between = links;
        }
    }
    let shown: BTreeSet<CableId> =
        strands.iter().flat_map(|strand| strand.between.iter().flatten().chain(&strand.closing)).copied().collect();
    let hidden = |cable: &CableId| matches!(setting.cables[*cable], CableRow::Units(..)) && !shown.contains(cable);
    Layout { others: state.plugged.iter().filter(hidden).collect(), strands }
}

/// The units in the order in which a state cables them, found from another order.
#[must_use]
pub fn in_order(setting: &Setting, state: &State, order: &[UnitId]) -> Vec<UnitId> {
    let map = Map { setting, state, plugged: state.plugged };
    map.strands(order).into_iter().flat_map(|strand| strand.units).collect()
}

/// The order in which units stand if nothing else says one: as the target cables them, those that leave behind.
#[must_use]
pub fn order(setting: &Setting) -> Vec<UnitId> {
    let all: Vec<UnitId> = setting.units.ids().collect();
    let mut order = in_order(setting, &setting.target, &all);
    order.sort_by_key(|unit| setting.leaving.contains(*unit));
    order
}

/// The cables between the end of one strand and the beginning of the next that the target has, or else the baseline,
/// and whose ports are free.
#[must_use]
pub fn missing(setting: &Setting, state: &State, one: UnitId, other: UnitId) -> Vec<CableId> {
    let joins = |cable: &CableId| match setting.cables[*cable] {
        CableRow::Units(a, b) => {
            let ends = (setting.unit_of(a), setting.unit_of(b));
            ends == (one, other) || ends == (other, one)
        }
        CableRow::Far(..) => false,
    };
    let known = |cables: CableSet| cables.iter().filter(joins).collect::<Vec<_>>();
    let wanted = known(setting.target.plugged);
    let wanted = if wanted.is_empty() { known(setting.baseline.plugged) } else { wanted };
    let taken = |port: PortId| setting.ports[port].cables.iter().any(|cable| state.plugged.contains(*cable));
    wanted.into_iter().filter(|cable| !setting.cables[*cable].unit_ends().any(taken)).collect()
}

/// The two ports of a cable, the one on this unit first; none for a cable that does not touch it.
#[must_use]
pub fn ends(setting: &Setting, cable: CableId, near: UnitId) -> Option<(PortId, PortId)> {
    match setting.cables[cable] {
        CableRow::Units(a, b) if setting.unit_of(a) == near => Some((a, b)),
        CableRow::Units(a, b) if setting.unit_of(b) == near => Some((b, a)),
        CableRow::Units(..) | CableRow::Far(..) => None,
    }
}

/// The side of a port: as it runs, else as it is saved, else as it shall be.
fn side(setting: &Setting, state: &State, port: PortId) -> Side {
    let (now, then) = (state.ports[port], setting.target.ports[port]);
    [now.side(), now.saved_side(), then.side()].into_iter().find(|side| *side != Side::None).unwrap_or_default()
}

struct Map<'a> {
    setting: &'a Setting,
    state: &'a State,
    plugged: CableSet,
}

impl Map<'_> {
    /// Strand by strand until no unit is left.
    fn strands(&self, order: &[UnitId]) -> Vec<Strand> {
        let mut left: UnitSet = order.iter().copied().collect();
        let mut strands = Vec::new();
        while let Some(first) = order.iter().copied().find(|unit| left.contains(*unit)) {
            let reached = self.reached(first, left);
            let ends = order.iter().copied().filter(|unit| reached.contains(*unit));
            let ends = ends.filter(|unit| self.neighbours(*unit).and(reached).len() < 2);
            // from the end that goes on over an east side, so that the picture always reads one way
            let start = ends.min_by_key(|unit| !self.goes_east(*unit)).unwrap_or(first);
            strands.push(self.strand(start, order, &mut left));
        }
        strands
    }

    fn goes_east(&self, unit: UnitId) -> bool {
        self.plugged.iter().any(|cable| self.leaves_by(cable, unit, Side::East))
    }

    fn neighbours(&self, unit: UnitId) -> UnitSet {
        let far = |cable: CableId| ends(self.setting, cable, unit).map(|(_, far)| self.setting.unit_of(far));
        self.plugged.iter().filter_map(far).collect()
    }

    fn reached(&self, from: UnitId, among: UnitSet) -> UnitSet {
        let mut reached = UnitSet::one(from);
        let mut open = vec![from];
        while let Some(unit) = open.pop() {
            for next in self.neighbours(unit).and(among).minus(reached).iter() {
                reached.insert(next);
                open.push(next);
            }
        }
        reached
    }

    /// The units from there on, each next one over an east side if there is a choice.
    fn strand(&self, start: UnitId, order: &[UnitId], left: &mut UnitSet) -> Strand {
        let mut strand = Strand::default();
        let mut at = Some(start);
        while let Some(unit) = at {
            left.remove(unit);
            strand.units.push(unit);
            let choices = order.iter().copied().filter(|next| left.contains(*next));
            let choices = choices.filter(|next| self.neighbours(unit).contains(*next));
            at = choices.min_by_key(|next| {
                !self.cables(unit, *next).iter().any(|cable| self.leaves_by(*cable, unit, Side::East))
            });
            if let Some(next) = at {
                strand.between.push(self.cables(unit, next));
            }
        }
        self.close(&mut strand);
        strand
    }

    /// Finds the cables from the last unit back to the first. Of two units they are those at the first one's west.
    fn close(&self, strand: &mut Strand) {
        let (Some(first), Some(last)) = (strand.units.first().copied(), strand.units.last().copied()) else { return };
        match strand.units.len() {
            0 | 1 => {}
            2 => {
                let west = |cable: &CableId| self.leaves_by(*cable, first, Side::West);
                let (back, on): (Vec<CableId>, Vec<CableId>) = self.cables(first, last).into_iter().partition(west);
                if !back.is_empty() && !on.is_empty() {
                    (strand.between, strand.closing) = (vec![on], back);
                }
            }
            _ => strand.closing = self.cables(last, first),
        }
    }

    fn cables(&self, one: UnitId, other: UnitId) -> Vec<CableId> {
        let joins = |cable: &CableId| {
            ends(self.setting, *cable, one).is_some_and(|(_, far)| self.setting.unit_of(far) == other)
        };
        self.plugged.iter().filter(joins).collect()
    }

    fn leaves_by(&self, cable: CableId, unit: UnitId, wanted: Side) -> bool {
        ends(self.setting, cable, unit).is_some_and(|(near, _)| side(self.setting, self.state, near) == wanted)
    }
}
