//! Lawful orders to hold the planner's against: they reach the bound that moves of links give, or the least of single
//! operations, and the judge takes them, looks and all.

use ringwright::model::PortName;
use ringwright::model::document::Side;
use ringwright::model::operation::Operation;
use ringwright::model::progress::Situation;
use ringwright::model::reached::differences;
use ringwright::model::rules::{after_step, up_unread};
use ringwright::model::setting::Setting;
use ringwright::model::table::{PortId, UnitId};
use ringwright::plan::Route;
use ringwright::rehearse;

use crate::cases::{HABITS, QUICK, changes, of_moves};
use crate::compare::{Planned, cost_of, planned};
use crate::kinds::document;
use crate::plain::looked;

/// The judge takes the route as he takes the planner's.
fn assert_judged(planned: &Planned, stages: Vec<(UnitId, Vec<Operation>)>, steps: Vec<Operation>) {
    let route = Route { stages, steps, ..Route::default() };
    let verdict = rehearse::judge(&document(&planned.problem, &planned.setting, &route));
    assert!(verdict.rehearsed.is_some(), "{:?}", verdict.objections);
}

/// Every step keeps every rule, and the last state is the target.
fn assert_lawful(setting: &Setting, steps: &[Operation]) {
    let mut now = Situation::start(setting);
    for step in steps {
        let done = now.step(setting, *step).unwrap_or_else(|refusal| panic!("{step:?}: {refusal:?}"));
        assert_eq!(after_step(setting, &now, *step, &done).0, [], "{step:?}");
        assert_eq!(up_unread(setting, &now, *step, &done), None, "{step:?}");
        now = looked(setting, done.after);
    }
    assert_eq!(differences(setting, &now.state).0, []);
}

/// With the newcomer bound but not active, both its cables are plugged before one activation makes both
/// links: the members behind it restart together with it, and once.
#[test]
fn a_unit_comes_into_a_chain_with_one_restart_of_those_behind() {
    let name = "insert into a chain, split";
    let names = "a unit saves, binding stored at once, id at once, lowest wins, neutral, plain, on activation, ports out of use";
    let lazy: Vec<_> = HABITS.iter().filter(|habit| names.contains(habit.0) && habit.0 != "plain").collect();
    assert_eq!(lazy.len(), 7);
    for (habit, habits) in lazy {
        let planned = planned(&of_moves(name, 4), *habits);
        let (new, staged, steps) = into_the_chain(&planned.setting);
        assert_lawful(&planned.setting, &[&staged[..], &steps].concat());
        let stages = vec![(new, staged)];
        let cost = cost_of(&planned.setting, &stages, &steps);
        assert_eq!((&cost[..4], &planned.cost[..4]), (&[950, 0, 3, 0][..], &[950, 0, 3, 0][..]), "{habit}");
        assert_judged(&planned, stages, steps);
    }
}

fn into_the_chain(setting: &Setting) -> (UnitId, Vec<Operation>, Vec<Operation>) {
    let unit = |key: &str| setting.unit_keys[key];
    let port = |key: &str, name: &str| setting.port(unit(key), &PortName::new(name)).unwrap();
    let cable = |one: PortId, other: PortId| setting.cable_between(one, other).unwrap();
    let new = unit("mill-4");
    let (west, east) = (port("mill-4", "49"), port("mill-4", "50"));
    let (before, behind) = (port("mill-2", "50"), port("mill-3", "49"));
    let steps = vec![
        Operation::Disconnect(cable(before, behind)),
        Operation::Connect(cable(behind, east)),
        Operation::Connect(cable(before, west)),
        Operation::Activate(new),
        Operation::Save(new),
    ];
    (new, staged(setting, new, &[(west, Side::West), (east, Side::East)]), steps)
}

/// A new box gets its id, restarts, and is saved once with all that is typed then.
fn staged(setting: &Setting, new: UnitId, ports: &[(PortId, Side)]) -> Vec<Operation> {
    let shall = &setting.target.units[new];
    let bound =
        |(port, side)| [Operation::DisablePort(port), Operation::BindPort(port, side), Operation::EnablePort(port)];
    let first = [Operation::PowerOn(new), Operation::AssignId(new, shall.id), Operation::Restart(new)];
    let typed = std::iter::once(Operation::SetPriority(new, shall.priority));
    first.into_iter().chain(typed).chain(ports.iter().copied().flat_map(bound)).chain([Operation::Save(new)]).collect()
}

/// A box that comes in where a failed one was needs one save, and the planner's has no more.
#[test]
fn a_box_in_the_place_of_a_failed_one_is_saved_once_before_its_link() {
    let change = changes().into_iter().find(|change| change.name == "replace a dead member").unwrap();
    let planned = planned(&change, HABITS[0].1);
    let Planned { setting, cost, .. } = &planned;
    let new = setting.joining.first().unwrap();
    let port = setting.port(new, &PortName::new("49")).unwrap();
    let staged = staged(setting, new, &[(port, Side::West)]);
    let [old] = setting.baseline.plugged.minus(setting.target.plugged).iter().collect::<Vec<_>>()[..] else { panic!() };
    let [cable] = setting.target.plugged.minus(setting.baseline.plugged).iter().collect::<Vec<_>>()[..] else {
        panic!()
    };
    let steps =
        vec![Operation::Disconnect(old), Operation::Connect(cable), Operation::Activate(new), Operation::Save(new)];
    assert_lawful(setting, &[&staged[..], &steps].concat());
    let stages = vec![(new, staged)];
    assert_eq!((cost_of(setting, &stages, &steps), *cost), ([0, 0, 2, 0, 12], [0, 0, 2, 0, 12]), "no cheaper");
    assert!(planned.route.proved_least, "it is said to be the least");
    assert_judged(&planned, stages, steps);
}

/// Where typing takes no time, the ring is not opened either: a step would be saved, and the plug would take its minutes
/// while it is open.
#[test]
fn a_link_of_a_ring_is_moved_without_opening_it() {
    for count in [3, 4] {
        let change = of_moves("move a link of a ring", count);
        let (timed, quick) = (planned(&change, HABITS[0].1), planned(&change, QUICK.1));
        assert!(timed.route.stages.is_empty() && quick.route.stages.is_empty());
        assert_lawful(&quick.setting, &timed.route.steps);
        let as_timed = cost_of(&quick.setting, &[], &timed.route.steps);
        assert_eq!((as_timed, quick.cost), ([0, 0, 2, 0, 15], [0, 0, 2, 0, 15]));
        assert!(quick.route.proved_least);
        assert_judged(&quick, Vec::new(), quick.route.steps.clone());
    }
}
