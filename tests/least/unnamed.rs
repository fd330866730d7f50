//! The two states of every plan written by hand, with no name handed over, and what a plan may not claim.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use ringwright::lower::{Problem, Site};
use ringwright::model::document::PlanDocument;
use ringwright::{plan, rehearse};

use crate::kinds::{Change, Stack, document, setting_with};

/// Whatever a change is called, and on whatever platform: what somebody found by hand is found, and the route is lawful.
#[test]
fn differences_without_a_name_are_planned() {
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
            trust: Vec::new(),
            change: plan.change,
            units: plan.units,
            baseline: plan.baseline,
            target: plan.target,
            delta: Default::default(),
            site: Site::default(),
        };
        let setting = setting_with(&problem, &[]);
        let route = plan::route(&setting).unwrap_or_else(|why| panic!("{name}: {why:?}"));
        let verdict = rehearse::judge(&document(&problem, &plan::setting_of(&setting, &route), &route));
        assert!(verdict.rehearsed.is_some(), "{name}: {:?}", verdict.objections);
        planned.insert(name, route.opened);
    }
    for name in ["good-move-link", "good-open-ring", "good-move-uplink-pair", "good-insert-into-ring"] {
        assert!(planned.contains_key(name), "{name} is planned");
    }
}

/// Two newcomers could come in together, which the search does not try: it must not say that it did.
#[test]
fn a_plan_with_two_newcomers_is_not_said_to_be_the_least() {
    let change = Change::new("two at once", Some(Stack::of(false, 2)), Stack::of(false, 4));
    assert!(!plan::route(&setting_with(&change.problem(|_| {}), &[])).unwrap().proved_least);
}
