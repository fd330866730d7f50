//! Moves and reasons of the changes that have a hand-written plan: planned here, and every slip replayed in full.

use std::fs;
use std::path::{Path, PathBuf};

use super::slip::{Slips, What};
use super::titles::runs;
use super::trace::{Traced, trace};
use crate::model::document::PlanDocument;
use crate::model::naming::{Documents, setting};
use crate::model::progress::Situation;
use crate::model::rules::{Breaches, after_step, in_state};
use crate::model::setting::Setting;
use crate::plan::{route, setting_of};

fn cases() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/rehearse");
    let all = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut good: Vec<PathBuf> =
        all.filter(|path| path.file_name().unwrap().to_str().unwrap().starts_with("good-")).collect();
    good.sort();
    good
}

fn planned(case: &Path) -> (Setting, Vec<Traced>) {
    let text = fs::read_to_string(case.join("plan.json")).unwrap();
    let plan: PlanDocument = serde_json::from_str(&text).unwrap();
    let documents = Documents {
        stack: &plan.stack,
        traits: &plan.traits,
        change: &plan.change,
        units: &plan.units,
        baseline: &plan.baseline,
        target: &plan.target,
        actions: &[],
    };
    let setting = setting(&documents).unwrap();
    let route = route(&setting).unwrap_or_else(|none| panic!("{}: {none:?}", case.display()));
    let setting = setting_of(&setting, &route).into_owned();
    let trace = trace(&setting, &route);
    assert_eq!(trace.len(), route.steps.len() + route.stages.iter().map(|(_, steps)| steps.len()).sum::<usize>());
    (setting, trace)
}

fn titles(name: &str) -> Vec<String> {
    let case = cases().into_iter().find(|case| case.ends_with(name)).unwrap();
    let (setting, trace) = planned(&case);
    let change: Vec<Traced> = trace.into_iter().filter(|step| step.stages.is_none()).collect();
    runs(&setting, &change).into_iter().map(|run| run.title).collect()
}

#[test]
fn moves_are_what_a_person_would_call_them() {
    assert_eq!(titles("good-remove-from-chain-end"), ["Take ramp-3 out"]);
}

#[test]
fn no_move_has_the_title_of_another() {
    for case in cases() {
        let (setting, trace) = planned(&case);
        let change: Vec<Traced> = trace.into_iter().filter(|step| step.stages.is_none()).collect();
        let mut titles: Vec<String> = runs(&setting, &change).into_iter().map(|run| run.title).collect();
        let all = titles.len();
        titles.sort();
        titles.dedup();
        assert_eq!(titles.len(), all, "{}: {titles:?}", case.display());
    }
}

/// The whole trace without one step, every rule in full: what is broken first.
fn broken_without(setting: &Setting, trace: &[Traced], left_out: usize) -> Breaches {
    let mut inherited = Breaches::default();
    let mut situation = Situation::start(setting);
    in_state(setting, &situation, false, &mut inherited);
    for (position, step) in trace.iter().enumerate() {
        if position == left_out {
            situation.state.now += 1;
        } else {
            let done = situation.step(setting, step.operation).unwrap();
            let mut breaches = after_step(setting, &situation, step.operation, &done);
            breaches.0.retain(|breach| !inherited.0.contains(breach));
            if !breaches.0.is_empty() {
                return breaches;
            }
            situation = done.after;
        }
        let next = trace.get(position + 1).and_then(|step| step.stages);
        if step.stages.is_some() && step.stages == setting.founder() && next != step.stages {
            situation.found_stack(setting);
        }
        situation = situation.looked(setting);
    }
    Breaches::default()
}

#[test]
fn what_a_reason_says_a_full_replay_finds() {
    let mut rules = std::collections::BTreeSet::new();
    for case in cases() {
        let (setting, trace) = planned(&case);
        let slips = Slips::new(&setting, &trace);
        for position in 0..trace.len() {
            let Some(harm) = slips.left_out(position) else { continue };
            if let What::Rule(breach) = harm.what {
                let found = broken_without(&setting, &trace, position);
                assert!(found.0.contains(&breach), "{} {position}: {breach:?} not in {found:?}", case.display());
                rules.insert(breach.rule.as_str());
            }
        }
    }
    assert!(rules.len() >= 4, "{rules:?}");
}
