//! The planner against a search without any of its reductions, and on differences that no name fits.
//!
//! The plain search here shares the model with the planner, and nothing else: single operations, every
//! port setting, no bound, no order given to what commutes. It is only good for the smallest stacks.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test fails by panicking"
)]

use std::collections::hash_map::DefaultHasher;
use std::collections::{BTreeMap, BinaryHeap, HashMap};
use std::fs;
use std::hash::{Hash, Hasher};
use std::path::Path;

use ringwright::diag::Findings;
use ringwright::lower::{Problem, Site, lower};
use ringwright::model::cost::Ledger;
use ringwright::model::document::{Inputs, PlanDocument, Side};
use ringwright::model::naming::{Documents, setting};
use ringwright::model::operation::Operation;
use ringwright::model::progress::{Situation, neighbour_shows};
use ringwright::model::rules::{after_step, differences, up_unread};
use ringwright::model::setting::Setting;
use ringwright::model::table::{PortId, UnitId};
use ringwright::model::traits::{BindingEffect, Loser, StoredWhen};
use ringwright::source::Sources;
use ringwright::{intent, plan, platform, rehearse, watch};

/// Items 1 to 5 of the cost; minutes in hundredths.
type Cost = [i64; 5];

fn problem(intent: &str, baseline: Option<&str>, change: impl Fn(&mut ringwright::model::Traits)) -> Problem {
    let mut sources = Sources::default();
    let mut findings = Findings::default();
    let mut read = |text: &str| {
        let file = sources.add("intent.yaml", text.to_owned());
        intent::read(&sources, file, &mut findings).unwrap()
    };
    let after = read(intent);
    let before = baseline.map(&mut read);
    let mut platform = platform::builtin("neutral", after.dialect.span, &mut sources, &mut findings).unwrap();
    change(&mut platform.traits);
    lower(&after, before.as_ref(), &platform, &mut findings).unwrap()
}

fn setting_of(problem: &Problem) -> Setting {
    let documents = Documents {
        stack: &problem.stack,
        traits: &problem.traits,
        change: &problem.change,
        units: &problem.units,
        baseline: &problem.baseline,
        target: &problem.target,
        actions: &[],
    };
    setting(&documents).unwrap()
}

fn document(problem: &Problem, setting: &Setting, route: &plan::Route) -> PlanDocument {
    let inputs = Inputs { intent: String::new(), baseline: None, dialect: String::new() };
    watch::plan(setting, problem, route, watch::Origin { compiler: "test".to_owned(), inputs })
}

/// Every operation that may be tried on a unit, a port or a cable; nothing is left out for a reason.
fn all_operations(setting: &Setting, situation: &Situation) -> Vec<Operation> {
    let state = &situation.state;
    let mut all = Vec::new();
    for unit in setting.units.ids() {
        let shall = &setting.target.units[unit];
        if !state.units[unit].powered {
            all.push(Operation::PowerOn(unit));
            continue;
        }
        all.extend([Operation::Activate(unit), Operation::Save(unit), Operation::AssignId(unit, shall.id)]);
        all.push(Operation::SetPriority(unit, shall.priority));
        all.extend(setting.joining.contains(unit).then_some(Operation::Restart(unit)));
        for port in setting.units[unit].ports.iter().copied().filter(|port| touched(setting, *port)) {
            all.extend([Operation::DisablePort(port), Operation::EnablePort(port), Operation::ReleasePort(port)]);
            all.extend([Operation::BindPort(port, Side::West), Operation::BindPort(port, Side::East)]);
        }
    }
    all.extend(setting.cables.ids().flat_map(|cable| [Operation::Connect(cable), Operation::Disconnect(cable)]));
    all
}

/// A port that a cable of either state can be in.
fn touched(setting: &Setting, port: PortId) -> bool {
    !setting.ports[port].cables.is_empty()
}

fn hash_of(setting: &Setting, situation: &Situation) -> (u64, u64) {
    let mut plain = *situation;
    let mut boots: Vec<i32> = setting.units.ids().map(|unit| plain.state.units[unit].booted_at).collect();
    boots.sort_unstable();
    boots.dedup();
    for unit in setting.units.ids() {
        let rank = boots.binary_search(&plain.state.units[unit].booted_at).unwrap();
        plain.state.units[unit].booted_at = rank as i32;
    }
    plain.state.now = 0;
    let units: Vec<UnitId> = setting.units.ids().collect();
    let mut hashers = [DefaultHasher::new(), DefaultHasher::new()];
    7_u8.hash(&mut hashers[1]);
    for hasher in &mut hashers {
        for unit in &units {
            plain.state.units[*unit].hash(hasher);
            setting.units[*unit].ports.iter().for_each(|port| plain.state.ports[*port].hash(hasher));
        }
        (plain.state.plugged, plain.state.running, plain.state.saved).hash(hasher);
        (plain.memory.live, plain.memory.unready, plain.memory.unproven).hash(hasher);
        (plain.memory.unread, plain.memory.readable, plain.memory.founded).hash(hasher);
    }
    (hashers[0].finish(), hashers[1].finish())
}

/// The least cost by a search that opens the cheapest situation first and knows nothing else.
fn plain_search(setting: &Setting, staged: bool) -> Option<Cost> {
    let start = Situation::start(setting);
    let mut nodes = vec![(start, Ledger::open(setting, &start))];
    let mut best: HashMap<(u64, u64), Cost> = HashMap::new();
    let mut queue = BinaryHeap::from([(std::cmp::Reverse([0; 5]), 0)]);
    while let Some((std::cmp::Reverse(cost), node)) = queue.pop() {
        let (situation, ledger) = nodes[node].clone();
        if differences(setting, &situation.state).0.is_empty() {
            return Some(cost);
        }
        if best.get(&hash_of(setting, &situation)).is_some_and(|known| *known < cost) {
            continue;
        }
        for operation in all_operations(setting, &situation) {
            let Ok(done) = situation.step(setting, operation) else { continue };
            let lawful = after_step(setting, &situation, operation, &done).0.is_empty();
            if !lawful || up_unread(setting, &situation, operation, &done).is_some() {
                continue;
            }
            let mut ledger = ledger.clone();
            let alone = ringwright::model::operation::unit_of(setting, operation);
            let in_stage = staged && alone.is_some_and(|unit| !situation.memory.live.contains(unit));
            ledger.enter(setting, &situation, operation, &done, in_stage);
            let next = looked(setting, done.after);
            let cost = [
                ledger.member_minutes.as_hundredths(),
                ledger.unprotected.as_hundredths(),
                i64::from(ledger.cables),
                i64::from(ledger.links_not_typed),
                i64::from(ledger.steps),
            ];
            let cost = without_unprotected(cost);
            let key = hash_of(setting, &next);
            if best.get(&key).is_none_or(|known| cost < *known) {
                best.insert(key, cost);
                nodes.push((next, ledger));
                queue.push((std::cmp::Reverse(cost), nodes.len() - 1));
            }
        }
        assert!(nodes.len() < 1_500_000, "too large for a search without reductions");
    }
    None
}

/// In these cases at most one of the two states is a ring, so item 2 does not count.
fn without_unprotected(mut cost: Cost) -> Cost {
    cost[1] = 0;
    cost
}

fn looked(setting: &Setting, mut situation: Situation) -> Situation {
    situation.memory.unready.iter().for_each(|unit| situation.found_ready(unit));
    for leg in situation.memory.unproven.iter() {
        if situation.carries(setting, leg) {
            situation.found_carrying(leg);
        }
    }
    for cable in situation.memory.unread.iter() {
        if neighbour_shows(setting, &situation.state, cable) {
            situation.found_neighbour(cable);
        }
    }
    situation
}

fn planned(problem: &Problem, setting: &Setting) -> (Cost, bool) {
    let route = plan::route(setting).unwrap();
    let verdict = rehearse::judge(&document(problem, &plan::setting_of(setting, &route), &route));
    let cost = verdict.rehearsed.unwrap_or_else(|| panic!("{:?}", verdict.objections)).plan().cost.unwrap();
    let row = [
        cost.member_minutes.as_hundredths(),
        cost.unprotected_minutes.as_hundredths(),
        i64::from(cost.cables),
        i64::from(cost.links_not_typed),
        i64::from(cost.steps),
    ];
    (row, route.proved_least)
}

const HEAD: &str = "format: 1\nstack: mill-core\ndialect: neutral\n";

fn stack(topology: &str, members: &[(&str, &str, &str)]) -> String {
    let mut text = format!("{HEAD}topology: {topology}\nmembers:\n");
    for (at, (role, west, east)) in members.iter().enumerate() {
        let number = at + 1;
        text +=
            &format!("  - {{name: mill-{number}, id: {number}, role: {role}, model: agg-48, serial: PM-000{number}, ");
        text += &format!("sides: {{west: [{west}], east: [{east}]}}}}\n");
    }
    text
}

#[test]
fn the_planner_costs_what_a_search_without_reductions_costs() {
    let one = stack("chain", &[("primary", "", "")]);
    let chain = stack("chain", &[("primary", "\"49\"", "\"50\""), ("standby", "\"49\"", "\"50\"")]);
    let ring = chain.replace("chain", "ring");
    let wide = stack("chain", &[("primary", "", "\"50\", \"51\""), ("standby", "\"49\", \"52\"", "")]);
    let cases: [(&str, &str, Option<&str>); 4] = [
        ("a second unit", &chain, Some(&one)),
        ("a ring of two closed", &ring, Some(&chain)),
        ("a second cable", &wide, Some(&chain)),
        ("a new chain of two", &chain, None),
    ];
    type Habit = (&'static str, fn(&mut ringwright::model::Traits));
    let habits: [Habit; 4] = [
        ("neutral", |_| {}),
        ("waits", |traits| traits.joining.loser = Loser::Waits),
        ("binding at once", |traits| {
            traits.binding.takes_effect = BindingEffect::AtOnce;
            traits.binding.port_disabled = false;
        }),
        ("binding stored at once", |traits| traits.stored.binding = StoredWhen::AtOnce),
    ];
    for (name, after, before) in cases {
        for (habit, change) in habits {
            let problem = problem(after, before, change);
            let setting = setting_of(&problem);
            if setting.founder().is_some() {
                // a stack that does not exist yet is none before its first unit is staged: no plain search
                let (cost, _) = planned(&problem, &setting);
                assert_eq!(cost[..4], [0, 0, 1, 0], "{name}, {habit}: one cable, and its link is typed");
                continue;
            }
            let plain = plain_search(&setting, true).unwrap_or_else(|| panic!("{name}, {habit}: no route at all"));
            let (cost, least) = planned(&problem, &setting);
            let cost = without_unprotected(cost);
            assert_eq!(cost[..4], plain[..4], "{name}, {habit}: items 1 to 4");
            // a plan that says that it is the least is so in the number of steps too
            assert!(!least || cost == plain, "{name}, {habit}: {cost:?}, but {plain:?} does it");
            let easy = habit != "binding stored at once" && name != "a second cable";
            assert!(least || !easy, "{name}, {habit}: proved least");
        }
    }
}

/// The two states of every plan written by hand, whatever its change is called, with no name handed
/// over: the route is lawful, or there is none.
#[test]
fn differences_without_a_name_are_planned_or_refused_never_planned_wrongly() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/rehearse");
    let mut planned = BTreeMap::new();
    for entry in fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()) {
        let name = entry.file_name().unwrap().to_string_lossy().into_owned();
        if !name.starts_with("good-") {
            continue;
        }
        let plan: PlanDocument = serde_json::from_str(&fs::read_to_string(entry.join("plan.json")).unwrap()).unwrap();
        let problem = Problem {
            stack: plan.stack,
            traits: plan.traits,
            change: plan.change,
            units: plan.units,
            baseline: plan.baseline,
            target: plan.target,
            delta: Default::default(),
            site: Site::default(),
        };
        let setting = setting_of(&problem);
        if let Ok(route) = plan::route(&setting) {
            let verdict = rehearse::judge(&document(&problem, &plan::setting_of(&setting, &route), &route));
            assert!(verdict.rehearsed.is_some(), "{name}: {:?}", verdict.objections);
            planned.insert(name, route.opened);
        }
    }
    for name in ["good-move-link", "good-open-ring", "good-move-uplink-pair", "good-insert-into-ring"] {
        assert!(planned.contains_key(name), "{name} is planned");
    }
}

/// Two newcomers could come in together, which the search does not try: it must not say that it did.
#[test]
fn a_plan_with_two_newcomers_is_not_said_to_be_the_least() {
    let row = ("member", "\"49\"", "\"50\"");
    let two = stack("chain", &[("primary", "\"49\"", "\"50\""), ("standby", "\"49\"", "\"50\"")]);
    let four = stack("chain", &[("primary", "\"49\"", "\"50\""), ("standby", "\"49\"", "\"50\""), row, row]);
    let problem = problem(&four, Some(&two), |_| {});
    assert!(!planned(&problem, &setting_of(&problem)).1);
}
