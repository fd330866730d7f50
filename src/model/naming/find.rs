//! A name in a plan -> the thing that it names.

use crate::model::names::PortName;
use crate::model::setting::{CableRow, Setting};
use crate::model::table::{CableId, PortId, UnitId};

/// Reads `unit:port`.
///
/// # Errors
/// Says what the text is not.
pub fn port_of(setting: &Setting, end: &str) -> Result<PortId, String> {
    let (key, port) = end.rsplit_once(':').ok_or_else(|| format!("`{end}` is not `unit:port`"))?;
    let unit = unit_of(setting, key)?;
    setting.port(unit, &PortName::new(port)).ok_or_else(|| format!("unit `{key}` lists no port `{port}`"))
}

/// Finds a unit by its key.
///
/// # Errors
/// Says that the plan has no such unit.
pub fn unit_of(setting: &Setting, key: &str) -> Result<UnitId, String> {
    setting.unit_keys.get(key).copied().ok_or_else(|| format!("the plan has no unit `{key}`"))
}

/// Finds a known cable by its two ends, in either order.
#[must_use]
pub fn find_cable(setting: &Setting, ends: &[String; 2]) -> Option<CableId> {
    let [one, other] = ends;
    let (far, unit_end) = match (one.strip_prefix("far:"), other.strip_prefix("far:")) {
        (Some(name), _) => (Some(name), other),
        (None, Some(name)) => (Some(name), one),
        (None, None) => (None, one),
    };
    let port = port_of(setting, unit_end).ok()?;
    match far {
        None => setting.cable_between(port, port_of(setting, other).ok()?),
        Some(name) => {
            let wanted = CableRow::Far(setting.uplink(name)?, port);
            setting.ports[port].cables.iter().copied().find(|cable| setting.cables[*cable] == wanted)
        }
    }
}

/// Six bytes from `00-00-5E-00-53-01` or the same with colons, in any case.
#[must_use]
pub fn parse_mac(text: &str) -> Option<[u8; 6]> {
    let mut bytes = [0; 6];
    let mut parts = text.split(['-', ':']);
    for byte in &mut bytes {
        let part = parts.next().filter(|part| part.len() == 2)?;
        *byte = u8::from_str_radix(part, 16).ok()?;
    }
    parts.next().is_none().then_some(bytes)
}
