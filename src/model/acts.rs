//! Named actions -> acts with indices. Only names are looked up; nothing is judged.

use super::document::{Action, Fact, Side, Until};
use super::names::MemberId;
use super::naming::{find_cable, find_ticket, key_value, port_of, ticket_of, unit_of};
use super::operation::Operation;
use super::setting::Setting;
use super::table::{LegSet, TicketId, UnitId};
use super::traits::Admission;

/// What a step does.
#[derive(Clone, Copy, Debug)]
pub enum Act<'a> {
    /// Changes the state.
    Do(Operation),
    /// Waits.
    Await(UnitId, Until),
    /// Compares.
    Expect(&'a [Fact]),
}

/// Resolves an action.
///
/// # Errors
/// Names what the plan does not have.
pub fn act<'a>(setting: &Setting, action: &'a Action) -> Result<Act<'a>, String> {
    Ok(match action {
        Action::Await { unit, until, .. } => Act::Await(unit_of(setting, unit)?, *until),
        Action::Expect { facts, .. } => Act::Expect(facts),
        other => Act::Do(operation(setting, other)?),
    })
}

/// Resolves an action that changes the state.
///
/// # Errors
/// Names what the plan does not have.
pub fn operation(setting: &Setting, action: &Action) -> Result<Operation, String> {
    let unit = |key: &str| unit_of(setting, key);
    let port = |key: &str, name: &str| port_of(setting, &format!("{key}:{name}"));
    let cable =
        |ends: &[String; 2]| find_cable(setting, ends).ok_or_else(|| format!("no cable {} - {}", ends[0], ends[1]));
    let pair = |name: &str| setting.uplink(name).ok_or_else(|| format!("no uplink pair `{name}`"));
    let leg = |name: &str, leg: &str| {
        setting.leg(pair(name)?, leg).ok_or_else(|| format!("uplink pair `{name}` has no leg `{leg}`"))
    };
    Ok(match action {
        Action::PowerOn { unit: key } => Operation::PowerOn(unit(key)?),
        Action::PowerOff { unit: key } => Operation::PowerOff(unit(key)?),
        Action::Restart { unit: key } => Operation::Restart(unit(key)?),
        Action::Wipe { unit: key } => Operation::Wipe(unit(key)?),
        Action::AssignId { unit: key, id } => Operation::AssignId(unit(key)?, *id),
        Action::SetPriority { unit: key, priority } => Operation::SetPriority(unit(key)?, *priority),
        Action::DisablePort { unit: key, port: name } => Operation::DisablePort(port(key, name.as_str())?),
        Action::EnablePort { unit: key, port: name } => Operation::EnablePort(port(key, name.as_str())?),
        Action::BindPort { side: Side::None, .. } => return Err("side none: `release-port` is meant".to_owned()),
        Action::BindPort { unit: key, port: name, side } => Operation::BindPort(port(key, name.as_str())?, *side),
        Action::ReleasePort { unit: key, port: name } => Operation::ReleasePort(port(key, name.as_str())?),
        Action::Activate { unit: key } => Operation::Activate(unit(key)?),
        Action::Save { unit: key } => Operation::Save(unit(key)?),
        Action::HandOver { unit: key } => Operation::HandOver(unit(key)?),
        Action::SetMode { unit: key, mode } => Operation::SetMode(unit(key)?, *mode),
        Action::SetKey { unit: of, key, value } => {
            // an unknown key is refused where the step is done
            let (key, value) = key_value(setting, key, value).unwrap_or((u8::MAX, 0));
            Operation::SetKey(unit(of)?, key, value)
        }
        Action::Admit { unit: key, id, serial } => {
            Operation::Admit(unit(key)?, ticket(setting, *id, serial.as_deref())?)
        }
        Action::Forget { unit: key, id, serial } => {
            Operation::Forget(unit(key)?, ticket(setting, *id, serial.as_deref())?)
        }
        Action::ConnectCable { ends } => Operation::Connect(cable(ends)?),
        Action::DisconnectCable { ends } => Operation::Disconnect(cable(ends)?),
        Action::FormUplink { uplink, legs } => {
            let set: Result<LegSet, String> = legs.iter().map(|name| leg(uplink, name)).collect();
            Operation::FormUplink(pair(uplink)?, set?)
        }
        Action::DropUplink { uplink } => Operation::DropUplink(pair(uplink)?),
        Action::AddLeg { uplink, leg: name } => Operation::AddLeg(leg(uplink, name)?),
        Action::DropLeg { uplink, leg: name } => Operation::DropLeg(leg(uplink, name)?),
        Action::GuardSplit { uplink } => Operation::GuardSplit(pair(uplink)?),
        Action::UnguardSplit { uplink } => Operation::UnguardSplit(pair(uplink)?),
        Action::Await { .. } | Action::Expect { .. } => return Err("not an operation".to_owned()),
    })
}

/// The ticket of an id or a serial: one of the two, as the platform asks.
fn ticket(setting: &Setting, id: Option<MemberId>, serial: Option<&str>) -> Result<TicketId, String> {
    let fits = match setting.traits.admission {
        // refused where the step is done
        Admission::Open => id.is_some() != serial.is_some(),
        Admission::Id => id.is_some() && serial.is_none(),
        Admission::Serial => serial.is_some() && id.is_none(),
    };
    let ticket = ticket_of(id, serial).filter(|_| fits).and_then(|ticket| find_ticket(setting, &ticket));
    ticket.ok_or_else(|| "an id or a serial, as the platform admits newcomers, is wanted here".to_owned())
}
