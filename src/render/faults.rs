//! What faults leave of the stack -> the few lines that a runbook says of it.

use serde_json::Value;

use super::context::{FaultRow, FaultsView};
use crate::analyse::faults::{Common, Digest, consequence};
use crate::lower::Site;
use crate::model::document::FaultEntry;

/// The single faults, and the pairs, that a runbook lists.
const FEW: usize = 3;
/// Free data of members that say on what they depend together, and what that is called.
const COMMON: [(&str, &str); 2] = [("power_feed", "the power feed"), ("rack", "the rack")];

/// What members depend on together, by their free data.
#[must_use]
pub fn commons(site: &Site) -> Vec<Common> {
    let mut found: Vec<Common> = Vec::new();
    for (key, called) in COMMON {
        for (member, vars) in &site.member_vars {
            let value = match vars.get(key) {
                Some(Value::String(text)) => text.clone(),
                Some(Value::Number(number)) => number.to_string(),
                _ => continue,
            };
            let name = format!("{called} {value}");
            match found.iter_mut().find(|common| common.name == name) {
                Some(common) => common.members.push(member.clone()),
                None => found.push(Common { name, members: vec![member.clone()] }),
            }
        }
    }
    found
}

/// The worst few, and what would cure them.
pub(super) fn view(digest: &Digest) -> FaultsView {
    let row =
        |entry: &FaultEntry| FaultRow { name: entry.faults.join(" + "), follows: consequence(&digest.healthy, entry) };
    let pairs = digest.entry.pairs.worst.iter().take(FEW.min(digest.harmful_pairs));
    FaultsView {
        singles: digest.entry.finished.len(),
        harmful: digest.harmful.len(),
        pairs: digest.entry.pairs.tried,
        harmful_pairs: digest.harmful_pairs,
        worst: digest.harmful.iter().take(FEW).map(row).collect(),
        worst_pairs: pairs.map(row).collect(),
        cures: digest.cures.clone(),
    }
}
