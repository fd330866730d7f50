//! A plan -> every plan that one mistake makes of it: a step left out, one argument or one fact changed, two steps
//! exchanged.

use serde_json::{Map, Value};

use super::plans::Plan;

/// What kind of mistake it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A step is left out.
    Removed,
    /// An operation or a wait has another argument.
    Argument,
    /// A look compares something else.
    Fact,
    /// A look compares one thing less.
    Unseen,
    /// A step and the next one change places.
    Neighbours,
    /// Two steps further apart change places.
    Farther,
}

/// Every kind.
pub const KINDS: [Kind; 6] = [Kind::Removed, Kind::Argument, Kind::Fact, Kind::Unseen, Kind::Neighbours, Kind::Farther];

/// One mistake in one plan.
pub struct Mutant<'a> {
    pub plan: &'a Plan,
    pub kind: Kind,
    /// What is wrong, with the step's number in the plan as it was.
    pub name: String,
    edit: Edit,
}

enum Edit {
    Remove(usize),
    Replace(usize, Value),
    Swap(usize, usize),
}

impl Mutant<'_> {
    /// The whole document.
    pub fn document(&self) -> Value {
        let mut steps = self.plan.steps().to_vec();
        match &self.edit {
            Edit::Remove(at) => drop(steps.remove(*at)),
            Edit::Replace(at, action) => steps[*at]["do"] = action.clone(),
            Edit::Swap(one, other) => steps.swap(*one, *other),
        }
        self.plan.with_steps(steps)
    }

    /// Whether something is not done that changes the state.
    pub fn leaves_out_an_operation(&self) -> bool {
        let looks = |at: usize| ["expect", "await"].iter().any(|kind| self.plan.steps()[at]["do"]["kind"] == *kind);
        matches!(self.edit, Edit::Remove(at) if !looks(at))
    }

    /// Example and mistake in one line.
    pub fn title(&self) -> String {
        format!("{}: {}", self.plan.name, self.name)
    }
}

/// Of so many things that a look compares wrongly, one is taken: there are more of them than of all other mistakes.
const STRIDE: usize = 5;

/// Every mistake in one plan.
pub fn mutants(plan: &Plan) -> Vec<Mutant<'_>> {
    let mutant = |kind, name, edit| Mutant { plan, kind, name, edit };
    let steps = plan.steps();
    let kind_of = |at: usize| steps[at]["do"]["kind"].as_str().unwrap();
    let mut all = Vec::new();
    let mut looks = Vec::new();
    for (at, step) in steps.iter().enumerate() {
        let number = at + 1;
        all.push(mutant(Kind::Removed, format!("step {number} removed ({})", kind_of(at)), Edit::Remove(at)));
        for (kind, name, action) in changed_actions(plan, &step["do"]) {
            let into = if matches!(kind, Kind::Fact) { &mut looks } else { &mut all };
            into.push(mutant(kind, format!("step {number} ({}): {name}", kind_of(at)), Edit::Replace(at, action)));
        }
    }
    all.extend(looks.into_iter().step_by(STRIDE));
    for (one, other) in pairs(steps.len()) {
        let kind = if other == one + 1 { Kind::Neighbours } else { Kind::Farther };
        let name = format!("steps {} ({}) and {} ({}) swapped", one + 1, kind_of(one), other + 1, kind_of(other));
        all.push(mutant(kind, name, Edit::Swap(one, other)));
    }
    all
}

/// All neighbours, and as many pairs further apart, drawn with a fixed seed.
fn pairs(count: usize) -> Vec<(usize, usize)> {
    let mut all: Vec<(usize, usize)> = (1..count).map(|other| (other - 1, other)).collect();
    let mut seed = 0x9e37_79b9_7f4a_7c15_u64;
    let mut draw = |below: usize| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        (seed % below as u64) as usize
    };
    for one in 0..count.saturating_sub(2) {
        let distance = 2 + draw(count - one - 2);
        all.push((one, one + distance));
    }
    all
}

fn changed_actions(plan: &Plan, action: &Value) -> Vec<(Kind, String, Value)> {
    if action["kind"] != "expect" {
        let changed = variants(plan, action).into_iter();
        return changed.map(|(name, action)| (Kind::Argument, name, action)).collect();
    }
    let facts = action["facts"].as_array().unwrap();
    let with = |facts: Vec<Value>| {
        let mut action = action.clone();
        action["facts"] = Value::Array(facts);
        action
    };
    let mut all = Vec::new();
    for (at, fact) in facts.iter().enumerate() {
        let about = fact["fact"].as_str().unwrap();
        for (name, changed) in variants(plan, fact) {
            let mut facts = facts.clone();
            facts[at] = changed;
            all.push((Kind::Fact, format!("{about} fact {}: {name}", at + 1), with(facts)));
        }
        if facts.len() > 1 {
            let mut fewer = facts.clone();
            fewer.remove(at);
            all.push((Kind::Unseen, format!("{about} fact {} left out", at + 1), with(fewer)));
        }
    }
    all
}

/// Every object that differs from one in one value, which stays of its type.
fn variants(plan: &Plan, object: &Value) -> Vec<(String, Value)> {
    let table = object.as_object().unwrap();
    let mut all = Vec::new();
    for (field, value) in table.iter().filter(|(field, _)| !["kind", "fact", "limit", "text"].contains(&field.as_str()))
    {
        for changed in values(plan, table, field, value) {
            let name = format!("{field} {value} is {changed}");
            let mut other = table.clone();
            other.insert(field.clone(), changed);
            all.push((name, Value::Object(other)));
        }
    }
    all
}

/// What may stand in the place of one value.
fn values(plan: &Plan, table: &Map<String, Value>, field: &str, value: &Value) -> Vec<Value> {
    let others = |words: &[&str]| words.iter().filter(|word| value != **word).map(|word| Value::from(*word)).collect();
    match field {
        "unit" => other_units(plan, text(value)),
        "port" => other_ports(plan, text(&table["unit"]), text(value)).into_iter().map(Value::from).collect(),
        "end" | "leg" => other_ends(plan, text(value)).into_iter().map(Value::from).collect(),
        "far" if value.is_string() => {
            let ends = other_ends(plan, text(value)).into_iter().map(Value::from);
            ends.chain([Value::Null]).collect()
        }
        "ends" => other_lists(plan, value, 2),
        "legs" | "carrying" => [other_lists(plan, value, 1), one_less(value)].concat(),
        "members" => one_less(value),
        "side" => others(&["west", "east"]),
        "role" => others(&["primary", "standby", "member"]),
        "until" => others(&["up", "joined", "ready"]),
        "is" => others(&["stack", "unmatched", "stray", "none"]),
        "uplink" => {
            let names: Vec<&str> = plan.uplinks.iter().map(String::as_str).collect();
            let none =
                (table.contains_key("fact") && !table.contains_key("legs") && value.is_string()).then_some(Value::Null);
            [others(&names), none.into_iter().collect()].concat()
        }
        "serial" => vec![Value::from("XX-0000")],
        _ => match (value.as_bool(), value.as_i64()) {
            (Some(flag), _) => vec![Value::from(!flag)],
            (None, Some(number)) => vec![Value::from(number + 1), Value::from(number - 1)],
            (None, None) => Vec::new(),
        },
    }
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

/// Those beside an item in a row that closes in a ring.
fn beside<'a, T: PartialEq>(row: &'a [T], item: &T) -> Vec<&'a T> {
    let Some(at) = row.iter().position(|one| one == item).filter(|_| row.len() > 1) else { return Vec::new() };
    let (next, previous) = ((at + 1) % row.len(), (at + row.len() - 1) % row.len());
    if next == previous { vec![&row[next]] } else { vec![&row[next], &row[previous]] }
}

fn other_units(plan: &Plan, key: &str) -> Vec<Value> {
    let keys: Vec<&str> = plan.units.iter().map(|(key, _)| key.as_str()).collect();
    beside(&keys, &key).into_iter().map(|key| Value::from(*key)).collect()
}

fn other_ports(plan: &Plan, unit: &str, port: &str) -> Vec<String> {
    let ports = plan.units.iter().find(|(key, _)| key == unit).map_or(&[][..], |(_, ports)| ports);
    beside(ports, &port.to_owned()).into_iter().cloned().collect()
}

/// An end in the ports beside it, and in the same port of the next unit.
fn other_ends(plan: &Plan, end: &str) -> Vec<String> {
    let (unit, port) = end.rsplit_once(':').unwrap();
    let mut all: Vec<String> = other_ports(plan, unit, port).iter().map(|port| format!("{unit}:{port}")).collect();
    all.extend(other_units(plan, unit).first().map(|key| format!("{}:{port}", text(key))));
    all
}

/// A list of ends with another in the place of one, for the first so many.
fn other_lists(plan: &Plan, value: &Value, first: usize) -> Vec<Value> {
    let ends = value.as_array().unwrap();
    let mut all = Vec::new();
    for (at, end) in ends.iter().enumerate().take(first) {
        for other in other_ends(plan, text(end)) {
            let mut ends = ends.clone();
            ends[at] = Value::from(other);
            all.push(Value::Array(ends));
        }
    }
    all
}

fn one_less(value: &Value) -> Vec<Value> {
    let items = value.as_array().unwrap();
    if items.is_empty() { Vec::new() } else { vec![Value::Array(items[1..].to_vec())] }
}
