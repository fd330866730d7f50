//! Traits written `{value, source, tried_on}` -> the plain traits, and why each is believed.

use std::collections::BTreeMap;

use super::Trust;
use crate::diag::{Diagnostic, Findings};
use crate::intent::FreeText;
use crate::yaml::{Data, Node, shape};

/// Replaces every wrapped trait by its value, and returns what the wrappers said by the trait's path.
pub(super) fn unwrap(traits: &mut Node, findings: &mut Findings) -> BTreeMap<String, Trust> {
    let mut trust = BTreeMap::new();
    unwrap_at(traits, String::new(), &mut trust, findings);
    trust
}

fn unwrap_at(node: &mut Node, path: String, trust: &mut BTreeMap<String, Trust>, findings: &mut Findings) {
    if let Some(value) = node.get("value").cloned() {
        take_trust(node, &path, trust, findings);
        *node = value;
    }
    if let Data::Map(entries) = &mut node.data {
        for entry in entries {
            let inner = if path.is_empty() { entry.key.clone() } else { format!("{path}.{}", entry.key) };
            unwrap_at(&mut entry.value, inner, trust, findings);
        }
    }
}

fn take_trust(node: &Node, path: &str, trust: &mut BTreeMap<String, Trust>, findings: &mut Findings) {
    let Data::Map(entries) = &node.data else { return };
    for entry in entries.iter().filter(|entry| !["value", "source", "tried_on"].contains(&entry.key.as_str())) {
        let message = format!("`{}` is not a key that may stand beside `value`", entry.key);
        let help = "use `source` or `tried_on`";
        findings.error(Diagnostic::error(&shape::UNKNOWN_KEY, entry.key_span, message).help(help));
    }
    let mut text = |key: &str| {
        let value = node.get(key)?;
        let parsed = if let Data::Text(text) = &value.data { FreeText::parse(text) } else { None };
        if parsed.is_some() {
            return parsed;
        }
        let message = format!("text on one line is wanted under `{key}`, which says why the value is believed");
        findings.error(Diagnostic::error(&shape::WRONG_TYPE, value.head(), message).help("put it in quotes"));
        None
    };
    let said = Trust { source: text("source"), tried_on: text("tried_on") };
    trust.insert(path.to_owned(), said);
}
