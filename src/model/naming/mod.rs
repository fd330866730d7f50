//! Named documents -> [`Setting`] and [`State`], and back.
//!
//! Checks the shape of what it reads (known names, complete states, free ends); whether a state
//! keeps the rules is not its business.

mod find;
mod habits;
mod rows;
mod states;
mod write;

pub use find::{find_cable, parse_mac, port_of, unit_of};
pub use habits::{find as find_ticket, key_value, named_keys, serial_ticket, ticket_of};
pub use write::document;

use self::rows::{check_size, empty, read_action, read_cable, read_consents, read_pairs, read_units};
use self::states::state;
use super::document::{Action, ChangeTerms, Side, StateDocument, UnitEntry};
use super::setting::Setting;
use super::state::State;
use super::table::UnitId;
use super::traits::{BindingEffect, StackMode, Traits};

/// The named documents of a plan.
#[derive(Clone, Copy, Debug)]
pub struct Documents<'a> {
    /// The stack's name.
    pub stack: &'a str,
    /// The platform's traits.
    pub traits: &'a Traits,
    /// What the change allows.
    pub change: &'a ChangeTerms,
    /// Every box.
    pub units: &'a [UnitEntry],
    /// The state before.
    pub baseline: &'a StateDocument,
    /// The state after.
    pub target: &'a StateDocument,
    /// What the steps do, for the cables and pairs that only they know.
    pub actions: &'a [&'a Action],
}

/// One thing that is wrong with the shape of a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShapeFault {
    /// Where, as a JSON pointer into the plan.
    pub pointer: String,
    /// What was found and what would be right.
    pub text: String,
}

type Faults = Vec<ShapeFault>;

fn fault(faults: &mut Faults, pointer: impl Into<String>, text: impl Into<String>) {
    faults.push(ShapeFault { pointer: pointer.into(), text: text.into() });
}

/// Makes the setting of a plan.
///
/// # Errors
/// Every fault of shape that was found, never an empty list.
pub fn setting(documents: &Documents<'_>) -> Result<Setting, Vec<ShapeFault>> {
    let mut faults = Vec::new();
    let mut setting = empty(documents);
    let states = [("baseline", documents.baseline), ("target", documents.target)];
    if !legal_name(documents.stack) {
        fault(&mut faults, "/stack", "not a name: letters, digits, dots, dashes and underscores are, 63 at most");
    }
    read_units(&mut setting, documents, &mut faults);
    habits::read(&mut setting, documents, &mut faults);
    for (name, state) in states {
        read_pairs(&mut setting, &state.shared, &format!("/{name}/shared"), &mut faults);
    }
    // pairs before cables: a far end names a pair, and a step may be the first to form it
    let is_cable = |action: &Action| matches!(action, Action::ConnectCable { .. } | Action::DisconnectCable { .. });
    let read_actions = |setting: &mut Setting, cables: bool, faults: &mut Vec<ShapeFault>| {
        for (position, action) in documents.actions.iter().enumerate().filter(|(_, action)| is_cable(action) == cables)
        {
            read_action(setting, action, &format!("/steps/{position}/do"), faults);
        }
    };
    read_actions(&mut setting, false, &mut faults);
    for (name, state) in states {
        for (position, ends) in state.cables.iter().enumerate() {
            read_cable(&mut setting, ends, &format!("/{name}/cables/{position}"), &mut faults);
        }
    }
    read_actions(&mut setting, true, &mut faults);
    read_consents(&mut setting, documents.change, &mut faults);
    check_size(&setting, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    setting.baseline = state(&setting, documents.baseline, "/baseline", &mut faults);
    setting.target = state(&setting, documents.target, "/target", &mut faults);
    setting.kept_pairs = setting.baseline.running.pairs.and(setting.target.running.pairs);
    if faults.is_empty() { Ok(setting) } else { Err(faults) }
}

/// Whether a text is a name as the intent allows it: no control character, nothing that could add a
/// line anywhere.
fn legal_name(text: &str) -> bool {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-');
    (1..=63).contains(&text.len()) && text.starts_with(|c: char| c.is_ascii_alphanumeric()) && text.chars().all(plain)
}

/// Factory settings of one unit put into a state: off, unbound, ports as out of the box.
pub fn reset_to_factory(setting: &Setting, state: &mut State, unit: UnitId) {
    let traits = &setting.traits;
    let row = &mut state.units[unit];
    (row.saved_id, row.saved_priority, row.copy) = (traits.member_id.factory, traits.priority.factory, false);
    row.bootable = true;
    row.saved_lone = traits.stack_mode == StackMode::Switched;
    let fixed = traits.binding.takes_effect == BindingEffect::Fixed;
    for port in setting.units[unit].ports.iter().copied() {
        let kept = state.ports[port];
        let side = if fixed { kept.saved_side() } else { Side::None };
        state.ports[port] = kept.with_saved_enabled(setting.factory_enabled()).with_saved_side(side);
    }
}
