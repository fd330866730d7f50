//! The words around each value -> findings: arguments that seem to have changed places, lists out of order, and words
//! of one place at another.
//!
//! The order of two arguments in a sentence is the one thing that no change of a value shows. What shows it is the
//! rest of the dialect, which says the same kinds of things in other sentences, and the arguments' own names.

use std::collections::{BTreeMap, BTreeSet};

use super::report::{ARGUMENT_PLACE, Report, STEP_ORDER, WORDS_ALIKE};
use super::scopes::{classes, lists};
use super::words::Said;

type Classes = Vec<(&'static str, Vec<String>)>;

/// Looks at all sentences together.
pub(super) fn check(said: &[Said], report: &mut Report) {
    let classes = classes();
    by_majority(said, &classes, report);
    for one in said {
        by_name(&one.template, &one.text, &classes, report);
        glued(one, &classes, report);
        in_order(one, report);
    }
    by_place(said, report);
    alike(said, report);
}

/// Two operations in the same words, with the same values at the same place: whoever reads them cannot tell which.
fn alike(said: &[Said], report: &mut Report) {
    let mut seen: BTreeMap<(&str, &str), &str> = BTreeMap::new();
    for one in said.iter().filter(|one| one.place != "look") {
        let first = *seen.entry((one.place, one.text.trim())).or_insert(&one.template);
        if first != one.template {
            let message = format!("these are the words of `{first}` too: nobody can tell the two apart");
            report.at(&WORDS_ALIKE, &one.template, "", message);
        }
    }
}

fn words(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect()
}

fn class(classes: &Classes, word: &str) -> Option<&'static str> {
    classes.iter().find(|(_, values)| values.iter().any(|value| value == word)).map(|one| one.0)
}

/// A word that stands before one class of value in several templates, and before another class in one alone.
fn by_majority(said: &[Said], classes: &Classes, report: &mut Report) {
    let mut seen: BTreeMap<String, BTreeMap<&'static str, BTreeSet<&str>>> = BTreeMap::new();
    for one in said {
        for (class, word) in words_before(&one.text, classes) {
            seen.entry(word).or_default().entry(class).or_default().insert(&one.template);
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
fn words_before(text: &str, classes: &Classes) -> Vec<(&'static str, String)> {
    let words = words(text);
    let pairs = words.iter().zip(words.iter().skip(1)).filter(|(before, _)| class(classes, before).is_none());
    pairs.filter_map(|(before, word)| Some((class(classes, word)?, before.to_lowercase()))).collect()
}

/// The words that name a class by themselves, before a value or after it.
const NAMES: [(&str, &str, bool); 14] = [
    ("port", "port", true),
    ("unit", "unit", true),
    ("rack", "rack", true),
    ("height unit", "height unit", true),
    ("serial", "serial", true),
    ("plug's serial", "serial", true),
    ("priority", "priority", true),
    ("side", "side", true),
    ("cable's label", "label", true),
    ("device", "device", true),
    ("limit", "minutes", false),
    ("limit", "min", false),
    ("cable's length", "m", false),
    ("cable's length", "metres", false),
];

/// Values of files, by the last part of their paths in the context: the class that its words name.
const IN_FILES: [(&str, &str); 2] = [("rack", "rack"), ("height_unit", "height unit")];

/// The words beside values in whole files: `told` are the values, each with its path in the context.
pub(super) fn in_file<'t>(
    template: &str,
    text: &str,
    told: impl Iterator<Item = (&'t str, &'t str)>,
    report: &mut Report,
) {
    let mut classes: Classes = IN_FILES.iter().map(|(_, class)| (*class, Vec::new())).collect();
    for (path, value) in told {
        let at = IN_FILES.iter().position(|(last, _)| path.rsplit('.').next() == Some(last));
        if let Some((_, values)) = at.and_then(|at| classes.get_mut(at)) {
            values.push(value.to_owned());
        }
    }
    text.lines().for_each(|line| by_name(template, line, &classes, report));
}

/// A value right behind another one or a closing bracket: what belongs behind it was put before it.
fn glued(one: &Said, classes: &Classes, report: &mut Report) {
    let values = || classes.iter().flat_map(|(class, values)| values.iter().map(move |value| (class, value)));
    for (class, value) in values() {
        let after = |before: &str| one.text.contains(&format!("{before}{value}"));
        let what = values().find(|(_, other)| after(other)).map(|(class, _)| *class);
        if let Some(what) = what.or_else(|| after(")").then_some("closing bracket")) {
            let message = format!("the {class} stands right behind the {what}: the two may have changed places");
            report.at(&ARGUMENT_PLACE, &one.template, "", message);
        }
    }
}

/// A class's own name beside a value of another class, while a value of its own is there without it.
fn by_name(template: &str, text: &str, classes: &Classes, report: &mut Report) {
    let words = words(text);
    let lower: Vec<String> = words.iter().map(|word| word.to_lowercase()).collect();
    let named = |at: usize, name: &str, before: bool| {
        let parts: Vec<&str> = name.split(' ').collect();
        let start = if before { at.checked_sub(parts.len()) } else { Some(at + 1) };
        start.is_some_and(|start| lower.get(start..start + parts.len()).is_some_and(|found| found == parts.as_slice()))
    };
    let values: Vec<(usize, &'static str)> =
        words.iter().enumerate().filter_map(|(at, word)| Some((at, class(classes, word)?))).collect();
    for (own, name, before) in NAMES {
        let own_has = |(at, found): &&(usize, &'static str)| *found == own && named(*at, name, before);
        let there = values.iter().any(|(_, found)| *found == own);
        let taken = values.iter().find(|(at, found)| {
            let itself = NAMES.iter().any(|(class, name, before)| class == found && named(*at, name, *before));
            *found != own && named(*at, name, before) && !itself
        });
        if let (true, None, Some((_, odd))) = (there, values.iter().find(own_has), taken) {
            let side = if before { "before" } else { "after" };
            let message =
                format!("`{name}` stands {side} the {odd}, and not {side} the {own}: the two may have changed places");
            report.at(&ARGUMENT_PLACE, template, name.split(' ').next().unwrap_or(name), message);
        }
    }
}

/// The items of a list come out in its order.
fn in_order(one: &Said, report: &mut Report) {
    for (name, items) in lists() {
        let places: Vec<usize> = items.iter().filter_map(|item| one.text.find(item.as_str())).collect();
        if places.len() == items.len() && !places.is_sorted() {
            let message = format!("the {name} come out in another order than they are in");
            report.at(&STEP_ORDER, &one.template, name, message);
        }
    }
}

/// Two words that other templates say at one place only, and this one at the other place only.
fn by_place(said: &[Said], report: &mut Report) {
    let mut seen: BTreeMap<(String, String), BTreeMap<&str, BTreeSet<&'static str>>> = BTreeMap::new();
    for one in said.iter().filter(|one| ["console", "stack"].contains(&one.place)) {
        let words = words(&one.text);
        for (first, second) in words.iter().zip(words.iter().skip(1)) {
            let pair = (first.to_lowercase(), second.to_lowercase());
            seen.entry(pair).or_default().entry(&one.template).or_default().insert(one.place);
        }
    }
    let mut told = BTreeSet::new();
    for ((first, second), by_template) in &seen {
        for place in ["console", "stack"] {
            let only = |places: &BTreeSet<&'static str>| places.len() == 1 && places.contains(place);
            let usual = by_template.values().filter(|places| only(places)).count();
            let odd: Vec<&&str> =
                by_template.iter().filter(|(_, places)| !only(places)).map(|(path, _)| path).collect();
            let [template] = odd[..] else { continue };
            let here = by_template.get(*template).is_some_and(|places| places.len() == 1);
            if usual >= 3 && here && told.insert(*template) {
                let at = if place == "console" { "a unit's own console" } else { "the stack" };
                let message =
                    format!("`{first} {second}` is said at another place here; {usual} other templates say it at {at}");
                report.at(&ARGUMENT_PLACE, template, first, message);
            }
        }
    }
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
