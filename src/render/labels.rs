//! The patch list -> a label for each end of each cable that the change plugs and leaves plugged.

use super::context::{CableEndView, CableRow, LabelView};
use super::names::Names;

/// Two labels a cable, in the order of the patch list.
pub(super) fn labels(names: &Names, cables: &[CableRow]) -> Vec<LabelView> {
    let plugged = cables.iter().filter(|cable| matches!(cable.change.as_str(), "plug" | "unplug, then plug"));
    plugged.flat_map(|cable| both(names, cable)).collect()
}

fn both(names: &Names, cable: &CableRow) -> [LabelView; 2] {
    let [near, far] = [&cable.near, &cable.far].map(|end| said(names, end, &cable.uplink));
    let label = if cable.label.is_empty() { format!("{near} - {far}") } else { cable.label.clone() };
    let view = |from: &str, to: &str, here: &CableEndView, there: &CableEndView| LabelView {
        label: label.clone(),
        from: from.to_owned(),
        to: to.to_owned(),
        from_port_name: here.interface_after.clone(),
        to_port_name: there.interface_after.clone(),
        length_m: cable.length_m.clone(),
        medium: cable.medium.clone(),
    };
    [view(&near, &far, &cable.near, &cable.far), view(&far, &near, &cable.far, &cable.near)]
}

/// An end as it reads after the change, when a box is only known by its member.
fn said(names: &Names, end: &CableEndView, uplink: &str) -> String {
    match (end.device.as_str(), end.port.as_str()) {
        ("", _) => format!("far end of {uplink}"),
        (device, "") => device.to_owned(),
        (device, port) => names.by_member(&format!("{device}:{port}")),
    }
}
