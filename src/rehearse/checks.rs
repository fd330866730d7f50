//! The looks that every plan must hold: fresh baseline, factory unit, right place, right cable.

use std::collections::BTreeMap;

use crate::model::derive::{Islands, Link, link};
use crate::model::document::{Fact, LinkKind, Role, Side};
use crate::model::election::priority_decides_role;
use crate::model::facts::{Spot, is_saved, role_of};
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::places::{operation_spot, proves_place};
use crate::model::progress::{Situation, touches_live};

use crate::model::setting::Setting;
use crate::model::table::{CableId, UnitId, UnitSet};
use crate::model::traits::{BindingEffect, Mode, StackMode};

/// What was looked at so far.
#[derive(Clone, Debug, Default)]
pub struct Looks<'a> {
    /// Facts read at the running stack.
    at_stack: Vec<&'a Fact>,
    /// Facts read at the console of each unit.
    at_console: BTreeMap<UnitId, Vec<&'a Fact>>,
    /// The place that the running segment was opened at, if the look there proved it.
    segment: Option<Spot>,
    /// A step has touched the live stack.
    touched: bool,
    /// Joining units that were typed on.
    typed: UnitSet,
}

impl<'a> Looks<'a> {
    /// Enters a look that came out right.
    pub fn look(&mut self, setting: &Setting, situation: &Situation, spot: Spot, facts: &'a [Fact]) {
        match spot {
            Spot::Hands => {}
            Spot::Stack => self.at_stack.extend(facts),
            Spot::Console(unit) => self.at_console.entry(unit).or_default().extend(facts),
        }
        self.segment = (spot != Spot::Hands && proves_place(setting, situation, spot, facts)).then_some(spot);
    }

    /// Enters a wait: it ends a segment.
    pub fn wait(&mut self) {
        self.segment = None;
    }

    /// What was not looked at before an operation and should have been.
    pub fn before(
        &mut self,
        setting: &Setting,
        situation: &Situation,
        operation: Operation,
    ) -> Vec<(&'static str, String)> {
        let mut missing = Vec::new();
        if touches_live(setting, situation, operation) && !self.touched {
            self.touched = true;
            missing.extend(self.unseen_baseline(setting, situation).map(|text| ("fresh-baseline", text)));
        }
        if by_hands(operation) {
            self.segment = None;
            return missing;
        }
        let spot = operation_spot(setting, situation, operation);
        if self.segment != Some(spot) {
            missing.push(("right-place", "no look just before it tells this place from every other".to_owned()));
        }
        if let Some(unit) =
            unit_of(setting, operation).filter(|unit| setting.joining.contains(*unit) && !self.typed.contains(*unit))
        {
            self.typed.insert(unit);
            missing.extend(self.unseen_factory(setting, unit).map(|text| ("factory-unit", text)));
        }
        if matches!(operation, Operation::Restart(_) | Operation::Wipe(_)) {
            self.segment = None;
        }
        missing
    }

    /// The first thing of the baseline that no look at the stack has compared.
    fn unseen_baseline(&self, setting: &Setting, situation: &Situation) -> Option<String> {
        let incumbent = situation.incumbent(setting);
        let unit = incumbent.iter().find_map(|unit| self.unseen_unit(setting, situation, incumbent, unit));
        let state = &situation.state;
        let stack_links = state.plugged.iter().filter(|cable| link(setting, state, *cable) == Link::Stack);
        let inside =
            |cable: &CableId| setting.cables[*cable].unit_ends().all(|port| incumbent.contains(setting.unit_of(port)));
        let unseen_link = || stack_links.filter(inside).find(|cable| !self.link_seen(setting, *cable));
        let cable = || {
            unseen_link().map(|cable| format!("the link {} was not looked at", setting.cable_names(cable).join(" - ")))
        };
        unit.or_else(cable).or_else(|| self.unseen_shared(setting, situation))
    }

    fn unseen_unit(&self, setting: &Setting, situation: &Situation, island: UnitSet, wanted: UnitId) -> Option<String> {
        let row = &setting.units[wanted];
        let about = |fact: &&&Fact| matches!(fact, Fact::Unit { unit, .. } if *unit == row.key);
        let (mut id_seen, mut priority_seen, mut role_seen, mut serial_seen) =
            (false, false, false, row.serial.is_none());
        for fact in self.at_stack.iter().filter(about) {
            if let Fact::Unit { id, priority, role, serial, .. } = fact {
                id_seen |= id.is_some();
                priority_seen |= priority.is_some();
                role_seen |= role.is_some();
                serial_seen |= serial.is_some();
            }
        }
        let open = role_of(setting, situation, wanted) != Some(Role::Primary)
            && !priority_decides_role(setting, &situation.state, island, wanted);
        let saved = self.at_stack.iter().any(|fact| {
            matches!(fact, Fact::Saved { unit, saved } if *unit == row.key && *saved == is_saved(setting, situation, wanted))
        });
        let parts = [
            ("id", id_seen),
            ("priority", priority_seen),
            ("role", role_seen || open),
            ("serial", serial_seen),
            ("saved", saved),
        ];
        let missing: Vec<&str> = parts.iter().filter(|(_, seen)| !seen).map(|(part, _)| *part).collect();
        (!missing.is_empty())
            .then(|| format!("{} of {} not looked at before the live stack is touched", missing.join(", "), row.key))
    }

    fn link_seen(&self, setting: &Setting, cable: CableId) -> bool {
        let [one, other] = setting.cable_names(cable);
        self.at_stack.iter().any(|fact| match fact {
            Fact::Link { ends: [a, b], is: LinkKind::Stack } => {
                (*a == one && *b == other) || (*a == other && *b == one)
            }
            _ => false,
        })
    }

    fn unseen_shared(&self, setting: &Setting, situation: &Situation) -> Option<String> {
        for pair in situation.state.running.pairs.iter() {
            let name = &setting.uplinks[pair].name;
            let seen = |fact: &&Fact| matches!(fact, Fact::Uplink { uplink, legs: Some(_), carrying: Some(_) } if uplink == name);
            if !self.at_stack.iter().any(seen) {
                return Some(format!("the legs of uplink pair {name} were not looked at"));
            }
        }
        let guard = self.at_stack.iter().any(|fact| matches!(fact, Fact::Guard { .. }));
        (!guard).then(|| "the split guard was not looked at".to_owned())
    }

    /// What of a unit out of its box was not compared before it is typed on.
    fn unseen_factory(&self, setting: &Setting, wanted: UnitId) -> Option<String> {
        let (id_out, priority_out) = (setting.traits.member_id.factory, setting.traits.priority.factory);
        let nothing = Vec::new();
        // a stack of one has the console of its unit
        let facts = || self.at_console.get(&wanted).unwrap_or(&nothing).iter().chain(&self.at_stack);
        let key = &setting.units[wanted].key;
        let numbers = facts().any(|fact| {
            matches!(fact, Fact::Unit { unit, id: Some(id), priority: Some(priority), .. }
                if unit == key && *id == id_out && *priority == priority_out)
        });
        let switched = setting.traits.stack_mode == StackMode::Switched;
        let lone = !switched
            || facts().any(|fact| matches!(fact, Fact::Unit { unit, mode: Some(Mode::Lone), .. } if unit == key));
        let fixed = setting.traits.binding.takes_effect == BindingEffect::Fixed;
        let unbound = |name: &str| {
            facts().any(|fact| matches!(fact, Fact::Port { unit, port, side: Some(Side::None), .. } if unit == key && port.as_str() == name))
        };
        let stacking = setting.units[wanted].ports.iter().filter(|port| setting.ports[**port].stacking);
        let open: Vec<&str> =
            stacking.map(|port| setting.ports[*port].name.as_str()).filter(|name| !unbound(name)).collect();
        if !numbers {
            Some(format!("no look has found {key} with factory id {id_out} and priority {priority_out}"))
        } else if !lone {
            Some(format!("no look has found {key} out of stack mode, as it leaves its box"))
        } else if open.is_empty() || fixed {
            None
        } else {
            Some(format!("no look has found port {} of {key} without a binding", open.join(", ")))
        }
    }
}

/// Whether one may stop in a situation: every live unit saved, no live unit's link unmatched.
/// Gives the reason why not.
#[must_use]
pub fn unsafe_to_stop(setting: &Setting, situation: &Situation) -> Option<String> {
    let live = situation.memory.live;
    let state = &situation.state;
    // a unit that is off has nothing to save
    let up = |unit: &UnitId| state.units[*unit].powered;
    if let Some(unit) = live.iter().filter(up).find(|unit| !is_saved(setting, situation, *unit)) {
        return Some(format!("{} is not saved", setting.units[unit].key));
    }
    let touches = |cable: &CableId| setting.cables[*cable].unit_ends().any(|port| live.contains(setting.unit_of(port)));
    let mut unmatched = state.plugged.iter().filter(|cable| link(setting, state, *cable) == Link::Unmatched);
    unmatched
        .find(touches)
        .map(|cable| format!("the cable {} is lit but carries nothing yet", setting.cable_names(cable).join(" - ")))
}

/// The islands of a state by name, and each primary's.
#[must_use]
pub fn islands_by_name(setting: &Setting, situation: &Situation) -> (Vec<Vec<String>>, BTreeMap<String, Vec<String>>) {
    let mut islands = Vec::new();
    let mut leads = BTreeMap::new();
    for island in Islands::of(setting, &situation.state).iter() {
        let mut keys = setting.keys(island);
        keys.sort();
        for leader in crate::model::derive::primaries(&situation.state, island).iter() {
            leads.insert(setting.units[leader].key.clone(), keys.clone());
        }
        islands.push(keys);
    }
    islands.sort();
    (islands, leads)
}
