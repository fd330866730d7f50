//! One operator error against a sequence of steps -> whether it is caught, harmless or dangerous.
//!
//! Seven kinds of error are listed (`list`) and each is replayed (`replay`): caught if a look or a wait fails or
//! a step is refused before a rule breaks, harmless if the end is the target all the same, dangerous otherwise.
//! A person who types at the wrong place meets whoever has the same number there (`misplaced`).

mod aside;
mod list;
mod misplaced;
mod replay;

pub use list::{slips, typed_runs};
pub use misplaced::Elsewhere;
pub use replay::{End, Replayed, Script};

use super::document::Side;
use super::facts::Spot;
use super::operation::{Operation, unit_of};
use super::setting::{Setting, Ticket};
use super::table::{PortId, UnitId};

/// One operator error; steps by their position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slip {
    /// A step is left out.
    LeaveOut(usize),
    /// A step is done twice.
    Repeat(usize),
    /// A step and the next one change places.
    Swap(usize),
    /// One end of a cable goes into another port.
    Misplug {
        /// The step.
        step: usize,
        /// The end that should have been taken.
        instead_of: PortId,
        /// The port that is taken.
        into: PortId,
    },
    /// One argument is another.
    Mistype(usize, Operation),
    /// A unit is switched or restarted, or a cable unplugged, that was not meant.
    WrongUnit(usize, Operation),
    /// A run of typed steps, its opening look and all, at another place.
    Misplace {
        /// The first step, a look if the run has one.
        first: usize,
        /// The last typed step.
        last: usize,
        /// The wrong place.
        at: Spot,
    },
}

impl Slip {
    /// Its kind's stable name.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::LeaveOut(_) => "leave-out",
            Self::Repeat(_) => "repeat",
            Self::Swap(_) => "swap",
            Self::Misplug { .. } => "misplug",
            Self::Mistype(..) => "mistype",
            Self::WrongUnit(..) => "wrong-unit",
            Self::Misplace { .. } => "misplace",
        }
    }

    /// The positions of the first and the last step that it is about.
    #[must_use]
    pub const fn steps(&self) -> (usize, usize) {
        match *self {
            Self::LeaveOut(step) | Self::Repeat(step) | Self::Misplug { step, .. } => (step, step),
            Self::Mistype(step, _) | Self::WrongUnit(step, _) => (step, step),
            Self::Swap(step) => (step, step + 1),
            Self::Misplace { first, last, .. } => (first, last),
        }
    }

    /// What it puts in the place of what was meant. `meant`: the operation of its step.
    #[must_use]
    pub fn with(&self, setting: &Setting, meant: Option<Operation>) -> Option<String> {
        let key = |unit: UnitId| setting.units[unit].key.clone();
        let port = |port: PortId| setting.ports[port].name.to_string();
        match *self {
            Self::LeaveOut(_) | Self::Repeat(_) | Self::Swap(_) => None,
            Self::Misplug { into, .. } => Some(setting.end_name(into)),
            Self::WrongUnit(_, Operation::Disconnect(cable)) => Some(setting.cable_names(cable).join(" ")),
            Self::WrongUnit(_, other) => unit_of(setting, other).map(key),
            Self::Misplace { at: Spot::Console(unit), .. } => Some(key(unit)),
            Self::Misplace { at: Spot::Stack | Spot::Hands, .. } => Some("stack".to_owned()),
            Self::Mistype(_, typed) => match (typed, meant) {
                (Operation::AssignId(_, id), _) => Some(id.to_string()),
                (Operation::SetPriority(_, priority), _) => Some(priority.to_string()),
                (Operation::Admit(_, ticket) | Operation::Forget(_, ticket), _) => match &setting.tickets[ticket] {
                    Ticket::Id(id) => Some(id.to_string()),
                    Ticket::Serial(serial) => Some(serial.clone()),
                },
                (Operation::BindPort(at, side), Some(Operation::BindPort(meant, _))) if at == meant => {
                    Some(side_name(side).to_owned())
                }
                (
                    Operation::BindPort(at, _)
                    | Operation::ReleasePort(at)
                    | Operation::EnablePort(at)
                    | Operation::DisablePort(at),
                    _,
                ) => Some(port(at)),
                _ => None,
            },
        }
    }
}

const fn side_name(side: Side) -> &'static str {
    match side {
        Side::None => "none",
        Side::West => "west",
        Side::East => "east",
    }
}
