//! A model's port ranges -> its single ports.

use std::sync::{Arc, OnceLock};

use super::{HardwareModel, PortRange};
use crate::model::PortName;

/// The most ports that one range may count.
const MAX_RANGE: u32 = 1024;

/// All ports of a model, once somebody has asked for them. It follows from the ranges, and so decides nothing; a copy,
/// whose ranges may be changed, begins without it.
#[derive(Debug, Default)]
pub struct Expanded(OnceLock<Arc<[CataloguePort]>>);

impl Clone for Expanded {
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl PartialEq for Expanded {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

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
    pub fn all_ports(&self) -> Arc<[CataloguePort]> {
        Arc::clone(self.expanded.0.get_or_init(|| {
            let mut ports: Vec<CataloguePort> =
                self.ports.iter().flat_map(|range| range.expand().unwrap_or_default()).collect();
            ports.sort_by(|a, b| a.name.cmp(&b.name));
            ports.into()
        }))
    }

    /// The ports that can stack, in natural order.
    #[must_use]
    pub fn stacking_ports(&self) -> Vec<PortName> {
        self.all_ports().iter().filter(|port| port.stacking).map(|port| port.name.clone()).collect()
    }

    /// A port of this name.
    #[must_use]
    pub fn port(&self, name: &PortName) -> Option<CataloguePort> {
        let range = self.ports.iter().find(|range| range.holds(name))?;
        Some(CataloguePort { name: name.clone(), gbps: range.gbps, stacking: range.stacking })
    }
}

impl PortRange {
    /// The ports from the first to the last, or nothing if the two are no range.
    #[must_use]
    pub fn expand(&self) -> Option<Vec<CataloguePort>> {
        let port = |name: &str| CataloguePort { name: PortName::new(name), gbps: self.gbps, stacking: self.stacking };
        if self.last.is_none() {
            return Some(vec![port(self.first.as_str())]);
        }
        let (stem, from, to) = self.bounds()?;
        Some((from..=to).map(|number| port(&format!("{stem}{number}"))).collect())
    }

    /// What its names begin with, and the numbers of the first and the last; none if the two are no range.
    fn bounds(&self) -> Option<(&str, u32, u32)> {
        let ((stem, from), (same, to)) = (counted(self.first.as_str())?, counted(self.last.as_ref()?.as_str())?);
        (stem == same && from <= to && to - from < MAX_RANGE).then_some((stem, from, to))
    }

    /// Whether a port of this name is in it.
    fn holds(&self, name: &PortName) -> bool {
        if self.last.is_none() {
            return self.first == *name;
        }
        let (Some((stem, from, to)), Some((own, number))) = (self.bounds(), counted(name.as_str())) else {
            return false;
        };
        // a number is written without zeros before it
        own == stem && (from..=to).contains(&number) && name.as_str().len() == own.len() + number.to_string().len()
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
    fn a_port_is_in_the_range_that_expands_to_it() {
        let range = |first: &str, last: Option<&str>| PortRange {
            first: PortName::new(first),
            last: last.map(PortName::new),
            gbps: 10.0,
            stacking: false,
        };
        let ranges =
            [range("1/9", Some("1/11")), range("console", None), range("49", Some("54")), range("a", Some("b"))];
        for range in &ranges {
            let expanded = range.expand().unwrap_or_default();
            for name in ["1/8", "1/9", "1/09", "1/11", "1/12", "2/9", "console", "49", "049", "54", "55", "a", ""] {
                let name = PortName::new(name);
                assert_eq!(range.holds(&name), expanded.iter().any(|port| port.name == name), "{name} in {range:?}");
            }
        }
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
