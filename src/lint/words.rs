//! Words of steps and facts under changed arguments -> findings: an argument that makes no difference.

use std::collections::BTreeSet;

use super::report::{ARGUMENT_UNUSED, Report};
use super::scopes::{Exercise, Scope, exercises};
use crate::platform::Platform;
use crate::render::{Bench, RenderError};

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
        for (argument, scope) in &exercise.changed {
            let same = match said(&bench, &exercise, scope) {
                Ok(text) => text == base,
                Err(fault) => {
                    report.fault(&fault);
                    continue;
                }
            };
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

/// The last part of an argument's name, without its index.
fn last_part(argument: &str) -> &str {
    let part = argument.rsplit('.').next().unwrap_or(argument);
    part.split(['[', ' ']).next().unwrap_or(part)
}
