//! A change under a platform's habits -> the planner's route, what it costs, and what the judge says of it.
//!
//! Costs are those of the bare operations, as the model compares them; looks and waits come later.

use ringwright::lower::Problem;
use ringwright::model::operation::Operation;
use ringwright::model::progress::Situation;
use ringwright::model::setting::Setting;
use ringwright::model::traits::Traits;
use ringwright::plan::consents::Kind;
use ringwright::plan::{self, NoRoute, Route};
use ringwright::rehearse;

use crate::kinds::{Change, document, setting_with, with_used_ports};
use crate::plain::looked;
use crate::price::{Cost, Price, sum};

/// A change with the consents that its refusal asked for, and the planner's route.
pub struct Planned {
    pub problem: Problem,
    pub setting: Setting,
    pub route: Route,
    pub cost: Cost,
}

/// Plans a change. A refusal is granted what it asks for, once.
pub fn planned(change: &Change, habits: fn(&mut Traits)) -> Planned {
    let mut change = change.clone();
    for asked in [false, true] {
        let problem = with_used_ports(change.problem(habits));
        let setting = setting_with(&problem, &[]);
        match plan::route(&setting) {
            Ok(route) => {
                let cost = cost_of(&setting, &route.stages, &route.steps);
                let planned = Planned { problem, setting, route, cost };
                planned.judge(&change.name);
                return planned;
            }
            Err(NoRoute::Consents { needs, .. }) if !asked => {
                for need in needs {
                    let kind = match need.kind {
                        Kind::Restart => "restart",
                        Kind::NewPrimary => "new-primary",
                        Kind::Split => "split",
                    };
                    change.accept.push(format!("{kind}:{}", setting.units[need.unit].member));
                }
                change.accept.sort();
                change.accept.dedup();
            }
            Err(none) => panic!("{}: {none:?}", change.name),
        }
    }
    unreachable!("the second time returns or panics")
}

impl Planned {
    /// The judge, who reckons by himself, must accept the plan and find the same cables, links and steps;
    /// his minutes have looks and waits in them.
    fn judge(&self, name: &str) {
        let verdict = rehearse::judge(&document(&self.problem, &self.setting, &self.route));
        let rehearsed = verdict.rehearsed.unwrap_or_else(|| panic!("{name}: {:?}", verdict.objections));
        let cost = rehearsed.plan().cost.unwrap();
        let counted = [cost.cables, cost.links_not_typed, cost.steps].map(i64::from);
        assert_eq!(counted, self.cost[2..], "{name}: the judge counts otherwise");
        let minutes = [cost.member_minutes, cost.unprotected_minutes].map(|minutes| minutes.as_hundredths());
        assert!(minutes[0] >= self.cost[0] && minutes[1] >= self.cost[1], "{name}: {minutes:?} for {:?}", self.cost);
    }
}

/// Items 1 to 5 of an order of operations.
pub fn cost_of(
    setting: &Setting,
    stages: &[(ringwright::model::table::UnitId, Vec<Operation>)],
    steps: &[Operation],
) -> Cost {
    let price = Price::new(setting);
    let mut seen = price.seen_at_first();
    let mut cost = [0; 5];
    let mut now = Situation::start(setting);
    let mut go = |now: Situation, operation: &Operation| {
        let done = now.step(setting, *operation).unwrap_or_else(|refusal| panic!("{operation:?}: {refusal:?}"));
        cost = sum(cost, price.of(&mut seen, &now, *operation, &done));
        looked(setting, done.after)
    };
    now = stages.iter().flat_map(|(_, staged)| staged).fold(now, &mut go);
    now.found_stack(setting);
    steps.iter().fold(now, &mut go);
    cost
}
