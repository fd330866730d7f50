//! A route of the planner -> whether its own lower bound holds at every situation on the way: what it says is left is
//! never more than what the route still takes. Any route will do, for the bound speaks of every way on.

use ringwright::model::cost::is_ring;
use ringwright::model::derive::{Islands, protected};
use ringwright::model::operation::Operation;
use ringwright::model::progress::Situation;
use ringwright::model::rules::Breaches;
use ringwright::model::setting::Setting;
use ringwright::model::table::{UnitId, UnitSet};
use ringwright::plan::Route;
use ringwright::plan::bound::{Cost, Rings, item, left};
use ringwright::plan::node::{Node, Taken};
use ringwright::plan::parts::parts;
use ringwright::plan::price::Price;
use ringwright::plan::work::{Work, work};

/// One situation on the way: what led there, what was spent, and what is said to be left.
struct Stop {
    told: String,
    spent: Cost,
    left: Cost,
}

/// What speaks against the bound along a route.
pub fn too_much(setting: &Setting, route: &Route) -> Vec<String> {
    let stops = stops(setting, route);
    let total = stops.last().unwrap().spent;
    let over = |stop: &&Stop| exceeds(stop.left, stop.spent, total);
    stops
        .iter()
        .filter(over)
        .map(|stop| format!("{}: {:?} of {total:?}", stop.told, stop.left.plus(stop.spent)))
        .collect()
}

/// Whether a route costs less, up to likely minutes, than what was spent and what was said to be left.
pub fn exceeds(left: Cost, spent: Cost, total: Cost) -> bool {
    spent.plus(left).first(item::LIGHTS) > total.first(item::LIGHTS)
}

fn stops(setting: &Setting, route: &Route) -> Vec<Stop> {
    let (rings, work) = (rings(setting), with_gaps(setting));
    let price = Price::new(setting, &work, &[], rings);
    let mut node = root(setting);
    let stop = |node: &Node, told: String| Stop { told, spent: node.cost, left: left(setting, &work, node, rings) };
    let mut stops = vec![stop(&node, "at first".to_owned())];
    for (unit, operations) in &route.stages {
        stage(setting, &work, &mut node, *unit, operations);
        stops.push(stop(&node, format!("{unit:?} staged")));
    }
    for operation in &route.steps {
        let before = node.situation.clone();
        let done = before.step(setting, *operation).unwrap();
        let not_typed = price.links_not_typed(setting, &mut node.seen, &before, *operation, &done);
        let cost = price.of(setting, &before, *operation, &done, !node.protected);
        node.cost = node.cost.plus(cost).raised(item::NOT_TYPED, not_typed);
        node.situation = done.after.looked(setting);
        look_around(setting, &mut node);
        stops.push(stop(&node, format!("{operation:?}")));
    }
    stops
}

fn rings(setting: &Setting) -> Rings {
    let live = Situation::start(setting).memory.live;
    let stay = setting.units.ids().filter(|unit| setting.stays(*unit)).collect::<UnitSet>();
    match (is_ring(setting, &setting.baseline, live), is_ring(setting, &setting.target, stay)) {
        (true, true) => Rings::Both,
        (false, true) => Rings::ToRing,
        (true, false) => Rings::FromRing,
        (false, false) => Rings::None,
    }
}

fn with_gaps(setting: &Setting) -> Work {
    let whole = work(setting);
    let opens = |part: &&Work| !(part.disconnect.is_empty() && part.leavers.is_empty());
    let gaps = parts(setting, &whole).iter().filter(opens).count() as i64;
    Work { gaps, ..whole }
}

fn root(setting: &Setting) -> Node {
    let mut situation = Situation::start(setting);
    situation.state.now += setting.units.len() as i32 + 1;
    Node {
        islands: Islands::of(setting, &situation.state),
        protected: protected(setting, &situation.state, situation.memory.live),
        situation,
        staged: UnitSet::EMPTY,
        excused: Breaches::default(),
        cost: Cost::default(),
        seen: 0,
        turns: 0,
        depth: 0,
        last: None,
        hands: false,
        parent: 0,
        taken: Taken::Start,
    }
}

/// A newcomer as its stage leaves it.
fn stage(setting: &Setting, work: &Work, node: &mut Node, unit: UnitId, operations: &[Operation]) {
    let newcomer = work.newcomers.iter().find(|newcomer| newcomer.unit == unit).unwrap();
    let stage = newcomer.stages.iter().find(|stage| stage.operations == operations).unwrap();
    node.situation.state.units[unit] = stage.unit;
    node.situation.state.units[unit].booted_at = setting.baseline.now + node.staged.len() as i32 + 1;
    for (port, value) in &stage.values {
        node.situation.state.ports[*port] = *value;
    }
    if setting.founder() == Some(unit) {
        node.situation.found_stack(setting);
    }
    if node.situation.incumbent(setting) == UnitSet::one(unit) {
        node.situation.memory.live.insert(unit);
        node.situation.memory.was_live.insert(unit);
    }
    node.staged.insert(unit);
    node.cost = node.cost.raised(item::STEPS, operations.len() as i64);
    look_around(setting, node);
}

fn look_around(setting: &Setting, node: &mut Node) {
    node.islands = Islands::of(setting, &node.situation.state);
    node.protected = protected(setting, &node.situation.state, node.situation.memory.live);
}
