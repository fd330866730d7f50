//! Lawful orders that are cheaper than the planner's, for what is listed as its excess over the moves of
//! links: their least is a bound, and these show that it is reached.

use ringwright::model::PortName;
use ringwright::model::document::Side;
use ringwright::model::operation::Operation;
use ringwright::model::progress::Situation;
use ringwright::model::rules::{after_step, differences, up_unread};
use ringwright::model::setting::Setting;
use ringwright::model::table::{PortId, UnitId};

use crate::cases::{HABITS, QUICK, of_moves};
use crate::compare::{Planned, cost_of, planned};
use crate::plain::looked;

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
    let change = of_moves("insert into a chain, split", 4);
    let Planned { setting, cost, .. } = planned(&change, HABITS[0].1);
    let unit = |key: &str| setting.unit_keys[key];
    let port = |key: &str, name: &str| setting.port(unit(key), &PortName::new(name)).unwrap();
    let cable = |one: PortId, other: PortId| setting.cable_between(one, other).unwrap();
    let new: UnitId = unit("mill-4");
    let shall = &setting.target.units[new];
    let (west, east) = (port("mill-4", "49"), port("mill-4", "50"));
    let (before, behind) = (port("mill-2", "50"), port("mill-3", "49"));
    let bound =
        |port, side| [Operation::DisablePort(port), Operation::BindPort(port, side), Operation::EnablePort(port)];
    let mut steps = vec![
        Operation::PowerOn(new),
        Operation::AssignId(new, shall.id),
        Operation::Restart(new),
        Operation::SetPriority(new, shall.priority),
    ];
    steps.extend(bound(west, Side::West).into_iter().chain(bound(east, Side::East)));
    steps.extend([
        Operation::Save(new),
        Operation::Disconnect(cable(before, behind)),
        Operation::Connect(cable(behind, east)),
        Operation::Connect(cable(before, west)),
        Operation::Activate(new),
        Operation::Save(new),
    ]);
    assert_lawful(&setting, &steps);
    let cheaper = cost_of(&setting, &[], &steps);
    assert_eq!((cheaper, cost), ([950, 0, 3, 0, 16], [1400, 0, 3, 2, 15]), "as listed");
}

/// The planner's own order for a platform on which typing takes time keeps the ring closed where it takes none.
#[test]
fn a_link_of_a_ring_is_moved_without_opening_it() {
    for count in [3, 4] {
        let change = of_moves("move a link of a ring", count);
        let (timed, quick) = (planned(&change, HABITS[0].1), planned(&change, QUICK.1));
        assert!(timed.route.stages.is_empty());
        assert_lawful(&quick.setting, &timed.route.steps);
        let cheaper = cost_of(&quick.setting, &[], &timed.route.steps);
        assert_eq!((cheaper, quick.cost), ([0, 0, 2, 0, 15], [0, 400, 2, 0, 14]), "as listed");
    }
}
