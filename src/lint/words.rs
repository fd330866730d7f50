//! Words of steps and facts under changed arguments -> findings: an argument that makes no difference, and one that
//! seems to stand in another's place.

use std::collections::{BTreeMap, BTreeSet};

use super::report::{ARGUMENT_PLACE, ARGUMENT_UNUSED, Report};
use super::scopes::{Exercise, Scope, classes, exercises};
use crate::platform::Platform;
use crate::render::{Bench, RenderError};

/// Tries every argument of every template of words. Returns the text of each exercise.
pub(super) fn check(platform: &Platform, report: &mut Report) -> Vec<(String, String)> {
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
        texts.push((exercise.template, base));
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

/// Looks for arguments that have changed places: a word that stands before one class of value in several templates,
/// and before another class in one alone. The order of two arguments in a sentence is the one thing that no change of
/// a value shows.
pub(super) fn check_places(texts: &[(String, String)], report: &mut Report) {
    let classes = classes();
    let mut seen: BTreeMap<String, BTreeMap<&'static str, BTreeSet<&str>>> = BTreeMap::new();
    for (template, text) in texts {
        for (class, word) in words_before(text, &classes) {
            seen.entry(word).or_default().entry(class).or_default().insert(template);
        }
    }
    for (word, by_class) in seen {
        let [(usual, often), (odd, once)] = by_class.iter().collect::<Vec<_>>()[..] else { continue };
        let ((usual, often), (odd, once)) =
            if often.len() >= once.len() { ((usual, often), (odd, once)) } else { ((odd, once), (usual, often)) };
        let (true, Some(template)) = (often.len() >= 3 && once.len() == 1, once.first()) else { continue };
        let message = format!(
            "`{word}` stands before the {odd} here and before the {usual} in {} other templates; the two may have changed places",
            often.len()
        );
        report.at(&ARGUMENT_PLACE, template, &word, message);
    }
}

/// Each value in a text, by its class, with the word before it if there is one that is no value itself.
fn words_before(text: &str, classes: &[(&'static str, Vec<String>)]) -> Vec<(&'static str, String)> {
    let words: Vec<&str> = text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let class =
        |word: &str| classes.iter().find(|(_, values)| values.iter().any(|value| value == word)).map(|one| one.0);
    let pairs = words.iter().zip(words.iter().skip(1));
    pairs
        .filter(|(before, _)| class(before).is_none())
        .filter_map(|(before, word)| Some((class(word)?, before.to_lowercase())))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_before_a_value_is_no_value_itself() {
        let classes = vec![("port", vec!["Pq".to_owned()]), ("side", vec!["Sq".to_owned()])];
        let found = words_before("bind Port Pq to Sq Pq", &classes);
        assert_eq!(found, [("port", "port".to_owned()), ("side", "to".to_owned())]);
    }
}
