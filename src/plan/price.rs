//! What an operation costs where it is done, item by item.

use crate::model::cost::own_minutes;
use crate::model::derive::{Link, link, lit, protected};
use crate::model::operation::{Operation, by_hands};
use crate::model::progress::{Done, Situation};
use crate::model::setting::{Point, Setting};
use crate::model::table::{CableId, UnitId, UnitSet};

use super::bound::{Cost, Rings, item, likely};
use super::node::Node;
use super::work::{LinkWork, Work};

/// What prices depend on throughout one search.
#[derive(Clone, Debug)]
pub struct Price {
    rings: Rings,
    /// Every link of the whole work: its two units and its cables.
    links: Vec<((UnitId, UnitId), Vec<CableId>)>,
}

impl Price {
    /// The prices of a search; `spare`: links that the work does not list.
    #[must_use]
    pub fn new(setting: &Setting, work: &Work, spare: &[LinkWork], rings: Rings) -> Self {
        let links = work.links.iter().chain(spare).filter(|link| !link.crowded).filter_map(|link| {
            let (_, a, b) = link.cables.first()?;
            let units = (setting.unit_of(*a), setting.unit_of(*b));
            Some((units, link.cables.iter().map(|(cable, _, _)| *cable).collect()))
        });
        Self { rings, links: links.collect() }
    }

    /// The price of an inert command.
    #[must_use]
    pub fn of_command(&self, setting: &Setting, node: &Node, before: &Situation) -> Cost {
        let command = likely(&setting.traits.minutes.command);
        let incumbent = before.incumbent_among(setting, &before.state, &node.islands);
        let out = before.memory.live.minus(setting.leaving).minus(incumbent).len() as i64;
        let cost = Cost::default().raised(item::STEPS, 1).raised(item::LIKELY, command);
        self.open(cost.raised(item::MEMBER_MINUTES, command * out), if node.protected { 0 } else { command })
    }

    /// The price of an operation. `unprotected`: the live units were so before it.
    #[must_use]
    pub fn of(
        &self,
        setting: &Setting,
        before: &Situation,
        operation: Operation,
        done: &Done,
        unprotected: bool,
    ) -> Cost {
        let own = own_minutes(setting, operation, Point::Likely).as_hundredths();
        let restart = likely(&setting.traits.minutes.restart);
        let all = own + restart * done.events.downs.len() as i64;
        let stay = before.memory.live.minus(setting.leaving);
        let mut open = if unprotected { own } else { 0 };
        let mut out = own * stay.minus(done.incumbent_before).len() as i64;
        for down in &done.events.downs {
            out += restart * stay.minus(before.incumbent_in(setting, down)).len() as i64;
            open += if protected(setting, down, before.memory.live) { 0 } else { restart };
        }
        let cost = Cost::default().raised(item::STEPS, 1).raised(item::LIKELY, all).raised(item::MEMBER_MINUTES, out);
        let cost = self.open(cost, open);
        match operation {
            Operation::Connect(cable) => {
                let lights = i64::from(lit(setting, &done.after.state, cable));
                cost.raised(item::CABLES, 1).raised(item::LIGHTS, lights)
            }
            Operation::Disconnect(_) => cost.raised(item::CABLES, 1),
            _ => cost,
        }
    }

    fn open(&self, cost: Cost, minutes: i64) -> Cost {
        match self.rings {
            Rings::Both => cost.raised(item::UNPROTECTED, minutes),
            Rings::ToRing | Rings::FromRing => cost.raised(item::HALF_PROTECTED, minutes),
            Rings::None => cost,
        }
    }

    /// How many links to a live unit first come up without a typed step; notes all that come up.
    /// A unit that becomes live in the step counts as live here: dearer than the ledger where the two
    /// differ, so that a route on which they do is taken last.
    pub fn links_not_typed(
        &self,
        setting: &Setting,
        seen: &mut u128,
        before: &Situation,
        operation: Operation,
        done: &Done,
    ) -> i64 {
        let typed = !by_hands(operation) && !matches!(operation, Operation::Restart(_) | Operation::Wipe(_));
        let live = before.memory.live.or(done.after.memory.live);
        let mut count = 0;
        for passing in &done.events.passing {
            for (position, (units, cables)) in self.links.iter().enumerate() {
                let bit = 1_u128 << (position % 128);
                let up = |cable: &CableId| link(setting, &passing.state, *cable) == Link::Stack;
                if *seen & bit != 0 || !cables.iter().any(up) {
                    continue;
                }
                *seen |= bit;
                let to_live = UnitSet::one(units.0).with(units.1).meets(live);
                count += i64::from(to_live && (passing.by_boot || !typed));
            }
        }
        count
    }
}
