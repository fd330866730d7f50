//! A model's port ranges -> its single ports.

use super::{HardwareModel, PortRange};
use crate::model::PortName;

/// The most ports that one range may count.
const MAX_RANGE: u32 = 1024;

/// One port of a model.
#[derive(Clone, Debug, PartialEq)]
pub struct CataloguePort {
    /// Its name.
    pub name: PortName,
    /// Speed in Gbit/s.
    pub gbps: f64,
    /// Whether it can stack.
    pub stacking: bool,
}

impl HardwareModel {
    /// All ports, in natural order; ranges that make no sense give none.
    #[must_use]
    pub fn all_ports(&self) -> Vec<CataloguePort> {
        let mut ports: Vec<CataloguePort> =
            self.ports.iter().flat_map(|range| range.expand().unwrap_or_default()).collect();
        ports.sort_by(|a, b| a.name.cmp(&b.name));
        ports
    }

    /// The ports that can stack, in natural order.
    #[must_use]
    pub fn stacking_ports(&self) -> Vec<PortName> {
        self.all_ports().into_iter().filter(|port| port.stacking).map(|port| port.name).collect()
    }

    /// A port of this name.
    #[must_use]
    pub fn port(&self, name: &PortName) -> Option<CataloguePort> {
        self.ports.iter().filter_map(|range| range.expand()).flatten().find(|port| port.name == *name)
    }
}

impl PortRange {
    /// The ports from the first to the last, or nothing if the two are no range.
    #[must_use]
    pub fn expand(&self) -> Option<Vec<CataloguePort>> {
        let port = |name: &str| CataloguePort { name: PortName::new(name), gbps: self.gbps, stacking: self.stacking };
        let Some(last) = &self.last else { return Some(vec![port(self.first.as_str())]) };
        let ((stem, from), (same, to)) = (counted(self.first.as_str())?, counted(last.as_str())?);
        let is_range = stem == same && from <= to && to - from < MAX_RANGE;
        is_range.then(|| (from..=to).map(|number| port(&format!("{stem}{number}"))).collect())
    }
}

/// A name as what stands before the number at its end, and that number.
fn counted(name: &str) -> Option<(&str, u32)> {
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = name.get(stem.len()..)?;
    Some((stem, digits.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(first: &str, last: Option<&str>) -> Option<Vec<String>> {
        let range =
            PortRange { first: PortName::new(first), last: last.map(PortName::new), gbps: 10.0, stacking: false };
        range.expand().map(|ports| ports.iter().map(|port| port.name.to_string()).collect())
    }

    #[test]
    fn the_digits_at_the_end_count() {
        assert_eq!(names("1/9", Some("1/11")), Some(vec!["1/9".into(), "1/10".into(), "1/11".into()]));
        assert_eq!(names("console", None), Some(vec!["console".into()]));
        assert_eq!(names("1/1", Some("2/4")), None);
        assert_eq!(names("4", Some("1")), None);
        assert_eq!(names("a", Some("b")), None);
        assert_eq!(names("1", Some("99999999")), None);
    }
}
