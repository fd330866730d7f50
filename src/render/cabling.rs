//! Cables before, after and between -> the rows of the patch list.

use std::collections::BTreeSet;

use super::context::{CableEndView, CableRow};
use super::error::RenderError;
use super::names::{Names, split_end};
use crate::model::PortName;
use crate::model::document::{Action, PlanDocument, StateDocument, Status};

/// Every cable of the plan, in the order of their ends as people count.
pub(super) fn rows(names: &Names, plan: &PlanDocument) -> Result<Vec<CableRow>, RenderError> {
    let before: BTreeSet<[&str; 2]> = plan.baseline.cables.iter().map(sorted).collect();
    let after: BTreeSet<[&str; 2]> = plan.target.cables.iter().map(sorted).collect();
    let mut handled: BTreeSet<[&str; 2]> = BTreeSet::new();
    for step in &plan.steps {
        if let Action::ConnectCable { ends } | Action::DisconnectCable { ends } = &step.action {
            handled.insert(sorted(ends));
        }
    }
    let all: BTreeSet<[&str; 2]> = before.iter().chain(&after).chain(&handled).copied().collect();
    let mut ordered: Vec<[&str; 2]> = all.into_iter().collect();
    ordered.sort_by_key(|ends| ends.map(place_in_list));
    ordered
        .into_iter()
        .map(|ends| {
            let change = match (before.contains(&ends), after.contains(&ends), handled.contains(&ends)) {
                (true, true, false) => "stays",
                (true, true, true) => "unplug, then plug",
                (false, true, _) => "plug",
                (true, false, _) => "unplug",
                (false, false, _) => "spare: plug, then unplug",
            };
            row(names, plan, ends, change)
        })
        .collect()
}

/// The two ends, one at a unit first, then as people count.
fn sorted(ends: &[String; 2]) -> [&str; 2] {
    let [one, other] = ends;
    if place_in_list(one) <= place_in_list(other) { [one, other] } else { [other, one] }
}

/// Far ends last; ports as people count.
fn place_in_list(end: &str) -> (bool, &str, PortName) {
    let (key, port) = end.split_once(':').unwrap_or((end, ""));
    (key == "far", key, PortName::new(port))
}

fn row(names: &Names, plan: &PlanDocument, ends: [&str; 2], change: &str) -> Result<CableRow, RenderError> {
    let [near, far] = ends;
    let known = names.cable(&[near.to_owned(), far.to_owned()]);
    let text = |value: Option<&String>| value.cloned().unwrap_or_default();
    let uplink = far.strip_prefix("far:").unwrap_or_default();
    Ok(CableRow {
        label: text(known.and_then(|cable| cable.label.as_ref())),
        medium: text(known.and_then(|cable| cable.medium.as_ref())),
        length_m: known.and_then(|cable| cable.length_m).map(|metres| metres.to_string()).unwrap_or_default(),
        serial: text(known.and_then(|cable| cable.serial.as_ref())),
        near: end(names, plan, near, far)?,
        far: end(names, plan, far, near)?,
        uplink: uplink.to_owned(),
        change: change.to_owned(),
    })
}

fn end(names: &Names, plan: &PlanDocument, end: &str, other: &str) -> Result<CableEndView, RenderError> {
    use super::context::EndView;
    let port = match names.end(&plan.target, end, other)? {
        EndView::Unit { port } => port,
        EndView::Far { device, device_port, .. } => {
            return Ok(CableEndView {
                device: device.unwrap_or_default(),
                port: device_port.unwrap_or_default(),
                ..CableEndView::default()
            });
        }
    };
    let status = names.entry(&port.unit)?.status;
    let interface = |state: &StateDocument, hidden: Status| {
        if status == hidden { Ok(String::new()) } else { interface_at(names, state, end) }
    };
    Ok(CableEndView {
        rack: names.free_text(&port.unit, "rack").unwrap_or_default(),
        height_unit: names.free_text(&port.unit, "height_unit").unwrap_or_default(),
        interface_before: interface(&plan.baseline, Status::Joining)?,
        interface_after: interface(&plan.target, Status::Leaving)?,
        device: port.unit,
        port: port.port,
    })
}

fn interface_at(names: &Names, state: &StateDocument, end: &str) -> Result<String, RenderError> {
    let (key, port) = split_end(end)?;
    Ok(names.port(state, key, &PortName::new(port))?.interface)
}
