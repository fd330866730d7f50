//! A unit and a port at some state -> the names that people see there.

use std::cell::RefCell;
use std::collections::BTreeMap;

use minijinja::context;

use super::context::{ActingUnit, CableView, EndView, PortView};
use super::engine::render_short;
use super::error::{RenderCode, RenderError};
use super::service::spare_cables;
use crate::lower::{CableRecord, Site};
use crate::model::document::{PlanDocument, Side, StateDocument, UnitEntry};
use crate::model::traits::Mode;
use crate::model::{MemberId, PortName, Traits};

/// Everything that turns names of the plan into names that people see.
pub(super) struct Names<'a> {
    units: BTreeMap<&'a str, &'a UnitEntry>,
    traits: &'a Traits,
    site: &'a Site,
    spare: Vec<[String; 2]>,
    interfaces: RefCell<BTreeMap<(MemberId, String, bool), String>>,
}

impl<'a> Names<'a> {
    /// Names of the units of this plan, by its traits.
    pub(super) fn new(plan: &'a PlanDocument, site: &'a Site) -> Self {
        let units = plan.units.iter().map(|unit| (unit.key.as_str(), unit)).collect();
        Self { units, traits: &plan.traits, site, spare: spare_cables(plan), interfaces: RefCell::default() }
    }

    /// The box of this key.
    pub(super) fn entry(&self, key: &str) -> Result<&'a UnitEntry, RenderError> {
        self.units
            .get(key)
            .copied()
            .ok_or_else(|| incomplete(format!("the plan names `{key}`, which is none of its units")))
    }

    /// The unit with the id that it acts on, or boots with while it is off.
    pub(super) fn acting(&self, state: &StateDocument, key: &str) -> Result<ActingUnit, RenderError> {
        let entry = self.entry(key)?;
        let unit = state.units.get(key);
        let running = unit.and_then(|unit| unit.running.as_ref()).map(|settings| settings.id);
        let saved = unit.and_then(|unit| unit.saved.as_ref()).map(|settings| settings.id);
        Ok(ActingUnit {
            key: key.to_owned(),
            id: running.or(saved).unwrap_or(entry.id).0,
            serial: entry.serial.clone(),
            rack: self.free_text(key, "rack"),
            height_unit: self.free_text(key, "height_unit"),
        })
    }

    /// A port with its interface name at this state.
    pub(super) fn port(&self, state: &StateDocument, key: &str, port: &PortName) -> Result<PortView, RenderError> {
        let id = MemberId(self.acting(state, key)?.id);
        let unit = state.units.get(key);
        let running = unit.and_then(|unit| unit.running.as_ref()).map(|settings| settings.mode);
        let saved = unit.and_then(|unit| unit.saved.as_ref()).map(|settings| settings.mode);
        let stacks = running.or(saved).unwrap_or_default() == Mode::Stack;
        let interface = self.interface(id, port.as_str(), stacks)?;
        Ok(PortView { unit: key.to_owned(), port: port.to_string(), interface })
    }

    /// An end written `unit:port`.
    pub(super) fn end_port(&self, state: &StateDocument, end: &str) -> Result<PortView, RenderError> {
        let (key, port) = split_end(end)?;
        self.port(state, key, &PortName::new(port))
    }

    /// An end written `unit:port` or `far:uplink`; the far one takes its words from the leg it meets.
    pub(super) fn end(&self, state: &StateDocument, end: &str, other: &str) -> Result<EndView, RenderError> {
        let (key, rest) = split_end(end)?;
        if key != "far" {
            return Ok(EndView::Unit { port: self.port(state, key, &PortName::new(rest))? });
        }
        let far = self.site.far_ends.get(&(rest.to_owned(), self.by_member(other)));
        let device = far.map(|far| far.device.clone());
        Ok(EndView::Far { uplink: rest.to_owned(), device, device_port: far.and_then(|far| far.port.clone()) })
    }

    /// A leg written `member:port`, on the box of that member that is in service.
    pub(super) fn leg(&self, state: &StateDocument, leg: &str) -> Result<PortView, RenderError> {
        let (member, port) = split_end(leg)?;
        let boxes = self.units.values().filter(|unit| unit.member == member);
        let powered = |unit: &&&UnitEntry| state.units.get(&unit.key).is_some_and(|unit| unit.powered);
        let rank = |unit: &&&UnitEntry| (powered(unit), unit.status == crate::model::document::Status::Live);
        let best =
            boxes.max_by_key(rank).ok_or_else(|| incomplete(format!("leg `{leg}` names no member of the plan")))?;
        self.port(state, &best.key, &PortName::new(port))
    }

    /// The interface name of a port on a unit that acts on this id; `stacks`: it is in stack mode.
    pub(super) fn interface(&self, id: MemberId, port: &str, stacks: bool) -> Result<String, RenderError> {
        let key = (id, port.to_owned(), stacks);
        if let Some(known) = self.interfaces.borrow().get(&key) {
            return Ok(known.clone());
        }
        let name = render_short(&self.traits.port_name, &context!(member_id => id.0, port => port, stacks))?;
        self.interfaces.borrow_mut().insert(key, name.clone());
        Ok(name)
    }

    /// The platform's word for a side; none for no side.
    pub(super) fn side(&self, side: Side) -> Option<String> {
        match side {
            Side::None => None,
            Side::West => Some(self.traits.sides.names.west.clone()),
            Side::East => Some(self.traits.sides.names.east.clone()),
        }
    }

    /// Whether the cable between two ends is only lent.
    pub(super) fn is_spare(&self, ends: &[String; 2]) -> bool {
        let [one, other] = ends;
        self.spare.iter().any(|[a, b]| (a == one && b == other) || (a == other && b == one))
    }

    /// What is known of the cable between two ends.
    pub(super) fn cable(&self, ends: &[String; 2]) -> Option<&'a CableRecord> {
        let mut wanted = [self.by_member(&ends[0]), self.by_member(&ends[1])];
        wanted.sort();
        self.site.cables.iter().find(|cable| {
            let mut known = cable.ends.clone();
            known.sort();
            known == wanted
        })
    }

    /// The same, as templates see it.
    pub(super) fn cable_view(&self, ends: &[String; 2]) -> Option<CableView> {
        self.cable(ends).map(|cable| CableView {
            label: cable.label.clone(),
            medium: cable.medium.clone(),
            length_m: cable.length_m.map(|metres| metres.to_string()),
            serial: cable.serial.clone(),
        })
    }

    /// An end of a unit, as the intent writes it: by member.
    pub(super) fn by_member(&self, end: &str) -> String {
        match end.split_once(':').and_then(|(key, port)| self.units.get(key).map(|unit| (unit, port))) {
            Some((unit, port)) => format!("{}:{port}", unit.member),
            None => end.to_owned(),
        }
    }

    /// A free value of a member, as text.
    pub(super) fn free_text(&self, key: &str, name: &str) -> Option<String> {
        let member = self.units.get(key)?.member.as_str();
        match self.site.member_vars.get(member)?.get(name)? {
            serde_json::Value::String(text) => Some(text.clone()),
            value @ (serde_json::Value::Number(_) | serde_json::Value::Bool(_)) => Some(value.to_string()),
            _ => None,
        }
    }
}

/// `unit:port` or `far:uplink` in two.
pub(super) fn split_end(end: &str) -> Result<(&str, &str), RenderError> {
    end.split_once(':')
        .ok_or_else(|| incomplete(format!("`{end}` is not an end; ends are written `unit:port` or `far:uplink`")))
}

/// The plan lacks something or names something that it does not hold.
pub(super) fn incomplete(message: impl Into<String>) -> RenderError {
    RenderError::new(RenderCode::PlanIncomplete, message)
}
