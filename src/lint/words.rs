//! Words of steps and facts under changed arguments -> findings: an argument that makes no difference.

use std::collections::{BTreeMap, BTreeSet};

use super::report::{ARGUMENT_UNUSED, NAMES_ALIKE, Report};
use super::scopes::{Exercise, Scope, exercises, shown};
use super::tokens::holds;
use crate::platform::{MANIFEST, Platform};
use crate::render::{Bench, RenderError};

/// Ids whose interfaces are named: more than a stack has.
const MOST_IDS: usize = 128;

/// What a template said of one exercise.
pub(super) struct Said {
    pub(super) template: String,
    pub(super) place: &'static str,
    pub(super) text: String,
}

/// Tries every argument of every template of words. Returns the text of each exercise.
pub(super) fn check(platform: &Platform, report: &mut Report) -> Vec<Said> {
    let mut told = BTreeSet::new();
    let mut texts = Vec::new();
    for exercise in exercises(platform) {
        // each has a bundle's fuel: they are many more than a bundle has
        let bench = Bench::new(platform);
        let base = match said(&bench, &exercise, &exercise.scope) {
            Ok(text) => text,
            Err(fault) => {
                report.fault(&fault);
                continue;
            }
        };
        let mut heard: BTreeSet<(&str, String)> = BTreeSet::new();
        for (argument, scope) in &exercise.changed {
            let text = match said(&bench, &exercise, scope) {
                Ok(text) => text,
                Err(fault) => {
                    report.fault(&fault);
                    continue;
                }
            };
            let same = text == base;
            // of an argument with a few values, each has words of its own
            if !same && !heard.insert((argument, text)) && told.insert((exercise.template.clone(), *argument)) {
                let message = format!(
                    "two values of `{argument}` have the same words{}: nobody can tell which is meant",
                    at(exercise.place)
                );
                report.at(&ARGUMENT_UNUSED, &exercise.template, last_part(argument), message);
            }
            // a value comes out as it is: another case, a number more, half of a name is another port of another unit
            let of_step = matches!(exercise.scope, Scope::Step(_));
            let bent = shown(argument).filter(|values| of_step && !values.iter().any(|value| holds(&base, value)));
            if let (false, Some(values)) = (same, bent) {
                let message = format!(
                    "`{argument}` does not come out as it is, here as {}{}",
                    values.join(" or "),
                    at(exercise.place)
                );
                if told.insert((exercise.template.clone(), *argument)) {
                    report.at(&ARGUMENT_UNUSED, &exercise.template, last_part(argument), message);
                }
            }
            if same && told.insert((exercise.template.clone(), *argument)) {
                let message = format!(
                    "with another `{argument}` the words stay the same{}: it is left out, or another value stands in its place",
                    at(exercise.place)
                );
                report.at(&ARGUMENT_UNUSED, &exercise.template, last_part(argument), message);
            }
        }
        texts.push(Said { template: exercise.template, place: exercise.place, text: base });
    }
    texts
}

pub(super) fn said(bench: &Bench, exercise: &Exercise, scope: &Scope) -> Result<String, RenderError> {
    match scope {
        Scope::Step(scope) => bench.words(&exercise.template, scope),
        Scope::Fact(fact) => bench.words(&exercise.template, fact),
    }
}

fn at(place: &str) -> String {
    match place {
        "console" => " at a unit's own console".to_owned(),
        "stack" => " at the stack".to_owned(),
        _ => String::new(),
    }
}

/// Every interface of one stack has a name of its own.
pub(super) fn check_names(platform: &Platform, report: &mut Report) {
    let bench = Bench::new(platform);
    let (low, high) = platform.traits.member_id.range;
    let ports: BTreeSet<String> = platform
        .models
        .values()
        .flat_map(|model| model.all_ports().to_vec())
        .map(|port| port.name.to_string())
        .collect();
    // of a platform without a catalogue, ports as most have them
    let ports = if ports.is_empty() { (1..=54).map(|port| port.to_string()).collect() } else { ports };
    let mut names: BTreeMap<String, (u16, &String)> = BTreeMap::new();
    for id in (low.0..=high.0).take(MOST_IDS) {
        for port in &ports {
            let name = match bench.interface(id, port) {
                Ok(name) => name,
                Err(fault) => return report.fault(&fault),
            };
            if let Some((other, beside)) = names.insert(name.clone(), (id, port)) {
                let message =
                    format!("port {beside} of member {other} and port {port} of member {id} are both `{name}`");
                return report.at(&NAMES_ALIKE, MANIFEST, "port_name", message);
            }
        }
    }
}

/// The last part of an argument's name, without its index.
fn last_part(argument: &str) -> &str {
    let part = argument.rsplit('.').next().unwrap_or(argument);
    part.split(['[', ' ']).next().unwrap_or(part)
}
