//! A picture and the plan that it is of -> where the one says something else than the other, step by step.

use std::collections::{BTreeMap, BTreeSet};

use ringwright::model::PortName;
use ringwright::model::document::{PlanDocument, StateDocument};
use ringwright::picture::{CableLine, Picture, Values};
use ringwright::rehearse::Rehearsed;

use super::geometry::Longest;

/// What an element says.
fn says<'v>(values: &'v Values, key: &str, name: &str) -> &'v str {
    values.get(key).and_then(|one| one.get(name)).unwrap_or_else(|| panic!("{key} says no `{name}`"))
}

/// Everything in which frames and model differ; and the longest text of each element.
pub fn faults(picture: &Picture, rehearsed: &Rehearsed) -> (Vec<String>, Longest) {
    let (mut found, mut longest) = (Vec::new(), Longest::new());
    let mut now = Values::new();
    let numbers: Vec<String> = (0..=rehearsed.plan().steps.len()).map(|number| number.to_string()).collect();
    if picture.frames.iter().map(|frame| &frame.step).ne(&numbers) {
        found.push("there is not one frame a step".to_owned());
    }
    for (at, frame) in picture.frames.iter().enumerate() {
        let changes = frame.set.iter().flat_map(|(key, set)| set.iter().map(move |(name, value)| (key, name, value)));
        let mut news = false;
        for (key, name, value) in changes {
            let old = now.entry(key.clone()).or_default().insert(name.clone(), value.clone());
            if old.as_ref() == Some(value) {
                found.push(format!("frame {at} sets {key}.{name} to what it is"));
            }
            if at > 0 && old.is_none() {
                found.push(format!("frame {at} sets {key}.{name}, which nothing has set before"));
            }
            // where a step is done is no change of the stack, nor that a restart is over
            news |= !matches!((&**name, &**value), ("here" | "said", _) | ("restarts", "no"));
            let most = longest.entry((key.to_string(), name.to_string())).or_default();
            if value.chars().count() > most.chars().count() {
                *most = value.to_string();
            }
        }
        if at > 0 && says(&now, "stack", "said").is_empty() == news {
            found.push(format!("frame {at} says `{}` of {:?}", says(&now, "stack", "said"), frame.set));
        }
        let told = One { picture, values: &now }.against(rehearsed, at);
        found.extend(told.into_iter().map(|text| format!("after step {at}: {text}")));
        if at == 0 && now != picture.before {
            found.push("the first frame is not the picture before".to_owned());
        }
    }
    if now != picture.after {
        found.push("all frames together are not the picture after".to_owned());
    }
    (found, longest)
}

/// One moment.
struct One<'a> {
    picture: &'a Picture,
    values: &'a Values,
}

impl One<'_> {
    fn against(&self, rehearsed: &Rehearsed, at: usize) -> Vec<String> {
        let (plan, state) = (rehearsed.plan(), &rehearsed.states()[at]);
        let mut found = self.units(state);
        found.extend(self.legs(state));
        found.extend(self.picture.cables.iter().flat_map(|cable| self.cable(state, cable)));
        let drawn: BTreeSet<String> = self.picture.cables.iter().map(|cable| cable.cable.clone()).collect();
        for ends in state.cables.iter().filter(|ends| !ends.iter().any(|end| end.starts_with("far:"))) {
            let [one, other] = ends;
            if !drawn.contains(&format!("{one} {other}")) && !drawn.contains(&format!("{other} {one}")) {
                found.push(format!("no line is drawn for {one} - {other}"));
            }
        }
        if let Some(step) = at.checked_sub(1) {
            found.extend(self.islands(plan, step));
        }
        found
    }

    fn same(&self, key: &str, name: &str, wanted: &str) -> Option<String> {
        let is = says(self.values, key, name);
        (is != wanted).then(|| format!("{key} says {name} {is}, and it is {wanted}"))
    }

    fn units(&self, state: &StateDocument) -> Vec<String> {
        let drawn: BTreeSet<&String> = self.picture.units.iter().map(|unit| &unit.unit).collect();
        let mut found = Vec::new();
        if drawn != state.units.keys().collect() || drawn.len() != self.picture.units.len() {
            found.push(format!("the boxes are not the units: {drawn:?}"));
        }
        for unit in &self.picture.units {
            let is = &state.units[&unit.unit];
            let numbers = is.running.as_ref().map(|running| (running.id, running.priority));
            let numbers = numbers.or(is.saved.as_ref().map(|saved| (saved.id, saved.priority)));
            let (id, priority) =
                numbers.map_or_else(Default::default, |(id, priority)| (id.to_string(), priority.to_string()));
            let yes = |is: bool| if is { "yes" } else { "no" };
            let wanted = [
                ("power", if is.powered { "on" } else { "off" }),
                ("id", &id),
                ("priority", &priority),
                ("leads", yes(is.primary)),
                ("waiting", yes(is.waiting)),
            ];
            found.extend(wanted.into_iter().filter_map(|(name, wanted)| self.same(&unit.key, name, wanted)));
            if is.powered && says(self.values, &unit.key, "there") == "no" {
                found.push(format!("{} is on and not there", unit.unit));
            }
        }
        found
    }

    fn legs(&self, state: &StateDocument) -> Vec<String> {
        let mut found = Vec::new();
        for leg in self.picture.units.iter().flat_map(|unit| &unit.legs) {
            let plugged = state.cables.contains(&[format!("far:{}", leg.uplink), leg.leg.clone()]);
            found.extend(self.same(&leg.key, "plugged", if plugged { "yes" } else { "no" }));
            let (unit, port) = leg.leg.split_once(':').unwrap();
            let member = unit.split('@').next().unwrap();
            let formed = state.shared.running.uplinks.get(&leg.uplink);
            let formed = formed.is_some_and(|legs| legs.contains(&format!("{member}:{port}")));
            found.extend(self.same(&leg.key, "formed", if formed { "yes" } else { "no" }));
        }
        found
    }

    fn cable(&self, state: &StateDocument, cable: &CableLine) -> Vec<String> {
        let (upper, lower) = cable.cable.split_once(' ').unwrap();
        let is = |one: &str, other: &str| state.cables.contains(&[one.to_owned(), other.to_owned()]);
        let plugged = is(upper, lower) || is(lower, upper);
        let mut found: Vec<String> =
            self.same(&cable.key, "plugged", if plugged { "yes" } else { "no" }).into_iter().collect();
        if (says(self.values, &cable.key, "link") == "none") == plugged {
            found.push(format!("{} is drawn as it is not", cable.cable));
        }
        let mut sides = Vec::new();
        for (end, name) in [(upper, "upper"), (lower, "lower")] {
            let (unit, port) = end.split_once(':').unwrap();
            let running = state.units[unit].running.as_ref();
            let port = running.and_then(|running| running.ports.get(&PortName::new(port)));
            let (side, active, enabled) =
                port.map_or(("none", false, false), |port| (port.side.as_str(), port.active, port.enabled));
            sides.push((active, enabled));
            let yes = |is: bool| if is { "yes" } else { "no" };
            for (value, wanted) in [("side", side), ("active", yes(active)), ("enabled", yes(enabled))] {
                found.extend(self.same(&cable.key, &format!("{name}_{value}"), wanted));
            }
        }
        let lit = plugged && sides.iter().all(|(_, enabled)| *enabled);
        let stray = lit && sides.iter().all(|(active, _)| !active);
        let link = says(self.values, &cable.key, "link");
        let right = match (plugged, lit) {
            (false, _) => link == "none",
            (true, false) => link == "dark",
            (true, true) => (link == "stray") == stray && matches!(link, "stack" | "unmatched" | "stray"),
        };
        found.extend((!right).then(|| format!("{} is drawn as {link}", cable.cable)));
        found
    }

    fn islands(&self, plan: &PlanDocument, step: usize) -> Vec<String> {
        let Some(predicted) = &plan.steps[step].predicts else { return Vec::new() };
        let mut drawn: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for unit in &self.picture.units {
            let island = says(self.values, &unit.key, "island");
            if !island.is_empty() {
                drawn.entry(island).or_default().insert(&unit.unit);
            }
        }
        let wanted: BTreeSet<BTreeSet<&str>> =
            predicted.islands.iter().map(|island| island.iter().map(String::as_str).collect()).collect();
        let mut found = Vec::new();
        if drawn.values().cloned().collect::<BTreeSet<_>>() != wanted {
            found.push(format!("the islands are {drawn:?}, and they are {wanted:?}"));
        }
        let open = says(self.values, "stack", "protected") == "no";
        if open != predicted.unprotected {
            found.push(format!("protected is {open}, and unprotected is {}", predicted.unprotected));
        }
        found
    }
}
