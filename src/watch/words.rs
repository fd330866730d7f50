//! What a slip breaks -> words: the consequence for somebody, and the moment at which it shows.

use crate::model::document::Side;
use crate::model::operation::Operation;
use crate::model::rules::{Breach, Rule, Subject};
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, PortId, UnitId};

use super::slip::What;

/// What would happen, as a clause.
#[must_use]
pub fn consequence(setting: &Setting, what: What) -> String {
    match what {
        What::Rule(breach) => broken(setting, &breach),
        What::Unread(cable) => {
            format!("{} would be a link before anybody could read where it leads", cable_words(setting, cable))
        }
        What::Outside(unit) => format!("{} would not come into the stack", setting.units[unit].key),
    }
}

/// A stable short name for what is broken: the rule's, or the look's that would miss it.
#[must_use]
pub const fn code(what: What) -> &'static str {
    match what {
        What::Rule(breach) => breach.rule.as_str(),
        What::Unread(_) => "right-cable",
        What::Outside(_) => "joins",
    }
}

fn broken(setting: &Setting, breach: &Breach) -> String {
    let key = |unit: UnitId| setting.units[unit].key.as_str();
    let whom = match breach.subject {
        Subject::Stack => "the stack".to_owned(),
        Subject::Unit(unit) => key(unit).to_owned(),
        Subject::Cable(cable) => cable_words(setting, cable),
        Subject::Uplink(pair) => format!("uplink pair {}", setting.uplinks[pair].name),
        Subject::Piece(_) => "one more of the units that were cut off".to_owned(),
    };
    let after = if breach.cold { "after a power failure " } else { "" };
    match breach.rule {
        Rule::PrimaryKept => "the stack would be led by a unit that nobody agreed to".to_owned(),
        Rule::NoLiveRestart => format!("{whom} would restart in service"),
        Rule::NeverSplit => format!("{whom} would be cut off"),
        Rule::NoIdClash => format!("{after}two units would meet under the number of {whom}"),
        Rule::NoStrayLink => match breach.subject {
            Subject::Cable(cable) if matches!(setting.cables[cable], CableRow::Units(..)) => {
                format!("{after}{} would be bridged as plain Ethernet", both_ends(setting, cable))
            }
            _ => format!("{after}{whom} would bridge what is at the far ends"),
        },
        Rule::UplinksUp => format!("{after}{whom} would carry nothing"),
        Rule::OneBrain => format!("{whom} would lead a second stack with the addresses of the first"),
        Rule::Decided => format!("{after}nothing would decide who leads"),
        Rule::ColdStart if breach.subject == Subject::Stack => {
            "a power failure would bring back another primary".to_owned()
        }
        Rule::ColdStart => format!("a power failure would leave {whom} outside"),
        Rule::Settled => format!("{whom} would be disturbed before it could take over"),
        Rule::SameKeys => {
            format!("{after}{whom} would be in the stack with another version or licence than the primary")
        }
        Rule::GroupFree => format!("a port of {whom} would change to stacking together with one that is needed"),
        Rule::LosesMerge => format!("{whom} could win when it meets the stack, and the stack would restart"),
        Rule::ReachesTarget => format!("{whom} would not be as the intent says"),
    }
}

/// The moment after an operation, as a clause after "once" or "before".
#[must_use]
pub fn moment(setting: &Setting, operation: Operation) -> String {
    let key = |unit: UnitId| setting.units[unit].key.as_str();
    let port = |port: PortId| port_words(setting, port);
    let pair = |pair| &setting.uplinks[pair].name;
    match operation {
        Operation::PowerOn(unit) => format!("{} is switched on", key(unit)),
        Operation::PowerOff(unit) => format!("{} is switched off", key(unit)),
        Operation::Restart(unit) => format!("{} has restarted", key(unit)),
        Operation::Wipe(unit) => format!("{} is wiped", key(unit)),
        Operation::AssignId(unit, id) => format!("{} is given the number {id}", key(unit)),
        Operation::SetPriority(unit, priority) => format!("{} has the priority {priority}", key(unit)),
        Operation::DisablePort(id) => format!("{} is out of use", port(id)),
        Operation::EnablePort(id) => format!("{} is in use", port(id)),
        Operation::BindPort(id, side) => format!("{} is bound{}", port(id), side_words(setting, side)),
        Operation::ReleasePort(id) => format!("{} is released", port(id)),
        Operation::Activate(_) => "the bindings are in force".to_owned(),
        Operation::Save(_) => "the settings are saved".to_owned(),
        Operation::HandOver(unit) => format!("{} leads", key(unit)),
        Operation::SetMode(unit, _) => format!("the mode of {} is set", key(unit)),
        Operation::SetKey(unit, ..) => format!("{} is set as the others are", key(unit)),
        Operation::Admit(unit, _) => format!("the stack is told of {}", key(unit)),
        Operation::Forget(unit, _) => format!("the stack is told that {} is gone", key(unit)),
        Operation::Connect(cable) => format!("{} is plugged", cable_words(setting, cable)),
        Operation::Disconnect(cable) => format!("{} is unplugged", cable_words(setting, cable)),
        Operation::FormUplink(id, _) => format!("uplink pair {} is formed", pair(id)),
        Operation::DropUplink(id) => format!("uplink pair {} is dissolved", pair(id)),
        Operation::AddLeg(leg) => format!("leg {} is in its pair", setting.legs[leg].name),
        Operation::DropLeg(leg) => format!("leg {} is out of its pair", setting.legs[leg].name),
        Operation::GuardSplit(id) => format!("uplink pair {} carries the split guard", pair(id)),
        Operation::UnguardSplit(id) => format!("the split guard is off uplink pair {}", pair(id)),
    }
}

fn side_words(setting: &Setting, side: Side) -> String {
    let names = &setting.traits.sides.names;
    match side {
        Side::West => format!(" to {}", names.west),
        Side::East => format!(" to {}", names.east),
        Side::None => String::new(),
    }
}

fn port_words(setting: &Setting, port: PortId) -> String {
    format!("{} port {}", setting.units[setting.unit_of(port)].key, setting.ports[port].name)
}

/// "the cable between ramp-1 and ramp-2": its ports stand in the step that handles it.
fn cable_words(setting: &Setting, cable: CableId) -> String {
    match setting.cables[cable] {
        CableRow::Units(..) => format!("the cable between {}", both_ends(setting, cable)),
        CableRow::Far(_, port) => format!("the uplink cable at {}", port_words(setting, port)),
    }
}

fn both_ends(setting: &Setting, cable: CableId) -> String {
    let keys: Vec<&str> =
        setting.cables[cable].unit_ends().map(|port| setting.units[setting.unit_of(port)].key.as_str()).collect();
    keys.join(" and ")
}
