//! What follows from faults, by names -> a few words.

use crate::model::document::FaultEntry;
use crate::model::names::list;

/// What follows from faults, in a few words.
#[must_use]
pub fn consequence(healthy: &FaultEntry, entry: &FaultEntry) -> String {
    let mut said = Vec::new();
    if entry.split_brain {
        let serving = entry.islands.iter().filter(|island| island.iter().any(|name| entry.in_service.contains(name)));
        let pieces: Vec<String> = serving.map(|island| island.join(", ")).collect();
        said.push(format!("split brain: {} serve side by side", pieces.join(" and ")));
    }
    if !entry.cut_off.is_empty() && !healthy.in_service.is_empty() {
        said.push(format!("cuts off {}", list(&entry.cut_off)));
    } else if entry.islands.len() > healthy.islands.len() && !entry.split_brain {
        let pieces: Vec<String> = entry.islands.iter().map(|island| island.join(", ")).collect();
        said.push(format!("{} pieces: {}", pieces.len(), pieces.join(" | ")));
    }
    let down: Vec<&str> =
        healthy.uplinks_up.iter().filter(|pair| !entry.uplinks_up.contains(pair)).map(String::as_str).collect();
    if !down.is_empty() {
        said.push(format!("{} down", down.join(", ")));
    }
    let new: Vec<&str> = entry
        .islands
        .iter()
        .zip(&entry.primary)
        .filter(|(island, primary)| serves(entry, island) && primary.is_some() && !healthy.primary.contains(primary))
        .filter_map(|(_, primary)| primary.as_deref())
        .collect();
    if !new.is_empty() {
        said.push(format!("{} {}", list(&new), if new.len() == 1 { "leads" } else { "lead" }));
    }
    if !entry.restarts_on_heal.is_empty() {
        let names = &entry.restarts_on_heal;
        let (it_heals, restart) = (
            if entry.faults.len() == 1 { "it heals" } else { "both heal" },
            if names.len() == 1 { "restarts" } else { "restart" },
        );
        said.push(format!("when {it_heals}, {} {restart}", list(names)));
    }
    if said.is_empty() { "no member is cut off, nothing else changes".to_owned() } else { said.join("; ") }
}

/// Whether an island is in service; where nothing is without an uplink, each counts.
fn serves(entry: &FaultEntry, island: &[String]) -> bool {
    entry.in_service.is_empty() || island.iter().any(|name| entry.in_service.contains(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(islands: &[&[&str]], in_service: &[&str], cut_off: &[&str], split_brain: bool) -> FaultEntry {
        let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
        FaultEntry {
            faults: vec!["unit a".to_owned()],
            islands: islands.iter().map(|island| owned(island)).collect(),
            primary: islands.iter().map(|island| island.first().map(|name| (*name).to_owned())).collect(),
            in_service: owned(in_service),
            uplinks_up: vec!["yard".to_owned()],
            cut_off: owned(cut_off),
            split_brain,
            restarts_on_heal: Vec::new(),
        }
    }

    #[test]
    fn the_worst_is_said_first() {
        let healthy = entry(&[&["a", "b", "c"]], &["a", "b", "c"], &[], false);
        let split = entry(&[&["a"], &["b", "c"]], &["a", "b", "c"], &[], true);
        assert_eq!(consequence(&healthy, &split), "split brain: a and b, c serve side by side; b leads");
        let cut = FaultEntry { uplinks_up: Vec::new(), ..entry(&[&["a"], &["b", "c"]], &["a"], &["b", "c"], false) };
        assert_eq!(consequence(&healthy, &cut), "cuts off b and c; yard down");
        let heals = FaultEntry { restarts_on_heal: vec!["b".to_owned()], ..cut.clone() };
        assert_eq!(consequence(&healthy, &heals), "cuts off b and c; yard down; when it heals, b restarts");
        let two = ["link a:1 b:2", "unit c"].map(str::to_owned).to_vec();
        let both = FaultEntry { faults: two, restarts_on_heal: vec!["a".to_owned(), "b".to_owned()], ..cut };
        assert_eq!(consequence(&healthy, &both), "cuts off b and c; yard down; when both heal, a and b restart");
        assert_eq!(consequence(&healthy, &healthy), "no member is cut off, nothing else changes");
        let alone = entry(&[&["a", "b", "c"]], &[], &["a", "b", "c"], false);
        let pieces = entry(&[&["a"], &["b", "c"]], &[], &["a", "b", "c"], false);
        assert_eq!(consequence(&alone, &pieces), "2 pieces: a | b, c; b leads");
    }
}
