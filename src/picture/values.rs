//! A situation -> what each element of the picture says in it.

use crate::model::derive::{Link, link, lit};
use crate::model::document::{Side, Status};
use crate::model::table::{PortId, UnitId, UnitSet};

use super::Text;
use super::cast::{Cable, Cast, Leg};
use super::film::Who;
use super::words::{self, Now, Tone};

/// What is said of a unit.
pub const UNIT: [&str; 12] =
    ["power", "there", "id", "priority", "role", "leads", "island", "numbers", "marks", "waiting", "here", "restarts"];
/// What is said of a leg.
pub const LEG: [&str; 5] = ["plugged", "formed", "carries", "enabled", "text"];
/// What is said of a cable.
pub const CABLE: [&str; 11] = [
    "plugged",
    "link",
    "word",
    "upper",
    "lower",
    "upper_side",
    "lower_side",
    "upper_active",
    "lower_active",
    "upper_enabled",
    "lower_enabled",
];
/// What is said of the whole.
pub const STACK: [&str; 5] = ["text", "protected", "protection", "uplinks", "said"];
/// A situation, and the step that led to it.
pub struct Step<'a> {
    cast: &'a Cast<'a>,
    now: &'a Now<'a>,
    /// The islands, top to bottom.
    islands: Vec<UnitSet>,
    here: UnitSet,
    restarts: UnitSet,
}

/// A plain answer.
pub const fn yes(is: bool) -> Text {
    Text::Borrowed(if is { "yes" } else { "no" })
}

impl<'a> Step<'a> {
    /// A situation after a step that was done on some units and in which some restart.
    #[must_use]
    pub fn new(cast: &'a Cast<'a>, now: &'a Now<'a>, here: UnitSet, restarts: UnitSet) -> Self {
        let mut islands: Vec<UnitSet> = Vec::new();
        for unit in &cast.rows {
            let island = now.islands.around(*unit);
            if !island.is_empty() && !islands.contains(&island) {
                islands.push(island);
            }
        }
        Self { cast, now, islands, here, restarts }
    }

    /// What an element says, in the order of its names.
    #[must_use]
    pub fn values(&self, who: Who) -> Vec<Text> {
        let cast = self.cast;
        match who {
            Who::Unit(row) => cast.rows.get(row).map(|unit| self.unit(*unit).to_vec()),
            Who::Leg(at) => cast.legs.get(at).map(|leg| self.leg(leg).to_vec()),
            Who::Cable(at) => cast.cables.get(at).map(|cable| self.cable(cable).to_vec()),
            Who::Stack => Some(self.stack().to_vec()),
        }
        .unwrap_or_default()
    }

    fn unit(&self, unit: UnitId) -> [Text; UNIT.len()] {
        let (setting, situation) = (self.now.setting, self.now.situation);
        let row = &situation.state.units[unit];
        let (id, priority) = (words::id(&situation.state, unit), words::priority(&situation.state, unit));
        let numbers = id.iter().zip(&priority).map(|(id, priority)| format!("id {id}, priority {priority}")).next();
        let island = self.islands.iter().position(|island| island.contains(unit));
        [
            Text::Borrowed(if row.powered { "on" } else { "off" }),
            yes(self.is_there(unit)),
            Text::Owned(id.unwrap_or_default()),
            Text::Owned(priority.unwrap_or_default()),
            Text::Borrowed(words::role(self.now, unit).1),
            yes(row.primary),
            Text::Owned(island.map(|at| (at + 1).to_string()).unwrap_or_default()),
            Text::Owned(numbers.unwrap_or_default()),
            Text::Owned(words::marks(setting, situation, unit).join("; ")),
            yes(row.waiting),
            yes(self.here.contains(unit)),
            yes(self.restarts.contains(unit)),
        ]
    }

    /// Not one that has not come yet, or is gone: off, without a cable, and in no service.
    fn is_there(&self, unit: UnitId) -> bool {
        let (setting, situation) = (self.now.setting, self.now.situation);
        let plugged = situation.state.plugged;
        let cabled = |port: &PortId| setting.ports[*port].cables.iter().any(|cable| plugged.contains(*cable));
        setting.units[unit].status == Status::Live
            || situation.state.units[unit].powered
            || situation.memory.live.contains(unit)
            || setting.units[unit].ports.iter().any(cabled)
    }

    fn leg(&self, leg: &Leg) -> [Text; LEG.len()] {
        let (setting, state) = (self.now.setting, &self.now.situation.state);
        let unit = setting.unit_of(leg.port);
        let cable = words::far_cable(setting, state, leg.uplink, leg.port);
        let formed = state.running.legs.contains(leg.leg);
        let shines = cable.is_some_and(|cable| lit(setting, state, cable));
        let carries = formed && shines && self.now.incumbent.contains(unit);
        let enabled = state.units[unit].powered && state.ports[leg.port].enabled();
        let how = match (formed, cable) {
            _ if carries => "carries",
            (true, None) => "no cable",
            (true, Some(_)) if shines => "not in the stack",
            (true, Some(_)) => "dark",
            (false, Some(_)) => "cabled, no leg of it",
            (false, None) => "",
        };
        let (pair, port) = (&setting.uplinks[leg.uplink].name, &setting.ports[leg.port].name);
        let text = if how.is_empty() { String::new() } else { format!("{pair} port {port}: {how}") };
        [yes(cable.is_some()), yes(formed), yes(carries), yes(enabled), Text::Owned(text)]
    }

    fn cable(&self, cable: &Cable) -> [Text; CABLE.len()] {
        let (setting, state) = (self.now.setting, &self.now.situation.state);
        let plugged = state.plugged.contains(cable.cable);
        let kind = match (plugged, link(setting, state, cable.cable)) {
            (false, _) => "none",
            (true, Link::Dark | Link::Far) => "dark",
            (true, Link::Unmatched) => "unmatched",
            (true, Link::Stray) => "stray",
            (true, Link::Stack) => "stack",
        };
        let said = |port: PortId| Text::Owned(words::port_in_short(setting, state, port));
        let of = |port: PortId| {
            let up = state.units[setting.unit_of(port)].powered;
            (
                if up { state.ports[port].side() } else { Side::None },
                up && state.ports[port].active(),
                up && state.ports[port].enabled(),
            )
        };
        let (upper, lower) = (of(cable.upper), of(cable.lower));
        [
            yes(plugged),
            Text::Borrowed(kind),
            Text::Borrowed(words::link_in_short(setting, state, cable.cable)),
            said(cable.upper),
            said(cable.lower),
            Text::Borrowed(upper.0.as_str()),
            Text::Borrowed(lower.0.as_str()),
            yes(upper.1),
            yes(lower.1),
            yes(upper.2),
            yes(lower.2),
        ]
    }

    fn stack(&self) -> [Text; STACK.len()] {
        let (tone, protection) = words::protection(self.now);
        let protected = match tone {
            Tone::Quiet => "none",
            Tone::Plain => "alone",
            Tone::Good | Tone::Strong => "yes",
            Tone::Care | Tone::Bad => "no",
        };
        let pairs = words::uplinks(self.now).into_iter().map(|(_, text)| text).collect::<Vec<_>>().join("; ");
        let mut letters = pairs.chars();
        let uplinks =
            letters.next().map_or(String::new(), |first| format!("{}{}.", first.to_uppercase(), letters.as_str()));
        let text = words::stack(self.now).unwrap_or_else(|| "no stack yet".to_owned());
        [
            Text::Owned(text),
            Text::Borrowed(protected),
            Text::Owned(protection),
            Text::Owned(uplinks),
            Text::Borrowed(""),
        ]
    }
}
