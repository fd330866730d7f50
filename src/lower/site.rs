//! What people want to read beside the plan.

use std::collections::BTreeMap;

use super::layout::Layout;
use super::{CableRecord, CheckRecord, FarEnd, Site, Speeds};
use crate::intent::{CheckWhen, HouseCheck, Intent, KnownCable, Vars, Window};
use crate::platform::Platform;

/// Collects it; decides nothing. What is in both stacks is said as the target says it.
pub(super) fn site(new: (&Intent, &Layout), old: Option<(&Intent, &Layout)>, platform: &Platform) -> Site {
    let (intent, baseline) = (new.0, old.map(|(intent, _)| intent));
    let change = intent.change.as_ref();
    let both = || baseline.into_iter().chain([intent]);
    let records = intent.cables.iter().chain(baseline.into_iter().flat_map(|old| &old.cables));
    let mut cables: Vec<CableRecord> = Vec::new();
    for record in records.filter_map(cable) {
        if !cables.iter().any(|known| known.ends == record.ends || known.ends.iter().rev().eq(record.ends.iter())) {
            cables.push(record);
        }
    }
    let house = change.into_iter().flat_map(|change| &change.checks);
    let checks: Vec<&HouseCheck> = platform.checks.iter().chain(house).collect();
    Site {
        description: intent.description.as_ref().map(|text| text.to_string()),
        ticket: change.and_then(|change| change.ticket.as_ref()).map(|text| text.to_string()),
        topology: Some(intent.topology.value),
        window: change.and_then(|change| change.window.as_ref()).map(times),
        hands: change.and_then(|change| change.hands.as_ref()).map(times),
        checks_before: made(&checks, CheckWhen::Before),
        checks_after: made(&checks, CheckWhen::After),
        witnesses: change.into_iter().flat_map(|change| &change.witnesses).map(|address| address.to_string()).collect(),
        vars: vars(&intent.vars),
        member_vars: both()
            .flat_map(|intent| &intent.members)
            .map(|member| (member.name.to_string(), vars(&member.vars)))
            .collect(),
        uplink_vars: both()
            .flat_map(|intent| &intent.uplink_pairs)
            .map(|pair| (pair.name.to_string(), vars(&pair.vars)))
            .collect(),
        capacity_gbps: intent
            .uplink_pairs
            .iter()
            .filter_map(|pair| Some((pair.name.to_string(), pair.capacity_gbps.as_ref()?.value)))
            .collect(),
        cables,
        far_ends: far_ends(both()),
        speeds: speeds(old.into_iter().chain([new]).map(|(_, layout)| layout), platform),
    }
}

fn times(window: &Window) -> (String, u32) {
    (window.start.to_string(), window.minutes.value)
}

/// The checks that are made at a time. What is compared is asked at both times, whatever it says of them.
fn made(checks: &[&HouseCheck], at: CheckWhen) -> Vec<CheckRecord> {
    let then = checks.iter().filter(|check| check.compare || [at, CheckWhen::BeforeAndAfter].contains(&check.when));
    then.map(|check| CheckRecord { text: check.text.to_string(), compare: check.compare }).collect()
}

fn vars(vars: &Vars) -> BTreeMap<String, serde_json::Value> {
    vars.iter().map(|(key, value)| (key.clone(), value.0.clone())).collect()
}

fn cable(known: &KnownCable) -> Option<CableRecord> {
    let [one, other] = known.ends.as_slice() else { return None };
    Some(CableRecord {
        ends: [one.as_str().to_owned(), other.as_str().to_owned()],
        label: known.label.as_ref().map(|text| text.to_string()),
        medium: known.medium.as_ref().map(|text| text.to_string()),
        length_m: known.length_m.as_ref().map(|length| length.value),
        serial: known.serial.as_ref().map(|serial| serial.to_string()),
    })
}

fn far_ends<'a>(intents: impl Iterator<Item = &'a Intent>) -> BTreeMap<(String, String), FarEnd> {
    let mut ends = BTreeMap::new();
    for pair in intents.flat_map(|intent| &intent.uplink_pairs) {
        for leg in &pair.legs {
            let Some(far) = &leg.far else { continue };
            let key = (pair.name.to_string(), leg.end());
            let port = far.port.as_ref().map(|port| port.to_string());
            ends.insert(key, FarEnd { device: far.device.to_string(), port });
        }
    }
    ends
}

fn speeds<'a>(layouts: impl Iterator<Item = &'a Layout>, platform: &Platform) -> Speeds {
    let mut known = BTreeMap::<String, Vec<_>>::new();
    for member in layouts.flat_map(|layout| &layout.members) {
        if let Some(model) = platform.model(member.model.as_deref()) {
            known.entry(member.name.clone()).or_default().push(model.all_ports());
        }
    }
    Speeds(known)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intent::FreeText;

    #[test]
    fn what_is_compared_is_asked_at_both_times() {
        let check = |when, compare| HouseCheck { when, text: FreeText::parse("lamps").unwrap(), compare };
        for (when, compare, before, after) in [
            (CheckWhen::Before, false, 1, 0),
            (CheckWhen::After, false, 0, 1),
            (CheckWhen::BeforeAndAfter, false, 1, 1),
            (CheckWhen::Before, true, 1, 1),
            (CheckWhen::After, true, 1, 1),
        ] {
            let check = check(when, compare);
            let found = [CheckWhen::Before, CheckWhen::After].map(|at| made(&[&check], at).len());
            assert_eq!(found, [before, after], "{check:?}");
        }
    }
}
