//! Templates and names that nothing uses -> findings.

use std::collections::BTreeSet;

use super::report::{NAME_UNUSED, Report, TEMPLATE_UNUSED};

/// Tells of templates of the dialect that no sample reached, and of names that are made and not used.
pub(super) fn check(reached: &BTreeSet<String>, report: &mut Report) {
    let platform = report.platform;
    for path in platform.files.keys().filter(|path| path.ends_with(".j2")) {
        if !reached.contains(path) {
            report.warn_at(&TEMPLATE_UNUSED, path, "", format!("no output and no words use `{path}`"));
        }
    }
    let all: Vec<(&String, Vec<String>)> = platform
        .files
        .iter()
        .filter(|(path, _)| path.ends_with(".j2"))
        .map(|(path, text)| (path, tags(text)))
        .collect();
    for (path, own) in &all {
        for (name, everywhere) in own.iter().flat_map(|tag| made(tag)) {
            let here = uses(own, &name) > 1;
            // what a template defines for others is used in them
            let there = everywhere && all.iter().any(|(other, tags)| other != path && uses(tags, &name) > 0);
            if !here && !there {
                report.warn_at(&NAME_UNUSED, path, &name, format!("`{name}` is made here and never used"));
            }
        }
    }
}

/// What stands between the signs of a template, tags and printed expressions, without remarks.
fn tags(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find("{%").into_iter().chain(rest.find("{{")).chain(rest.find("{#")).min() {
        let (sign, after) = rest.get(at..).unwrap_or("").split_at(2);
        let end = match sign {
            "{%" => "%}",
            "{{" => "}}",
            _ => "#}",
        };
        let Some((inside, next)) = after.split_once(end) else { break };
        if sign != "{#" {
            found.push(inside.trim_matches(['-', '+', ' ', '\n']).to_owned());
        }
        rest = next;
    }
    found
}

/// The names that a tag makes, and whether other templates may use them.
fn made(tag: &str) -> Vec<(String, bool)> {
    let name = |text: &str| text.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let (word, rest) = tag.split_once(char::is_whitespace).unwrap_or((tag, ""));
    let names: Vec<(String, bool)> = match word {
        "set" if rest.contains('.') && rest.find('.') < rest.find('=') => Vec::new(),
        "set" => rest.split('=').next().unwrap_or("").split(',').map(|one| (name(one), false)).collect(),
        "macro" => vec![(name(rest), true)],
        "import" => rest.rsplit_once(" as ").map(|(_, alias)| (name(alias), false)).into_iter().collect(),
        "from" => {
            let imported = rest.split_once(" import ").map_or("", |(_, names)| names);
            imported.split(',').map(|one| (name(one.rsplit(" as ").next().unwrap_or(one)), false)).collect()
        }
        _ => Vec::new(),
    };
    names.into_iter().filter(|(name, _)| !name.is_empty()).collect()
}

/// How often a name stands in tags, by itself.
fn uses(tags: &[String], name: &str) -> usize {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    tags.iter().flat_map(|tag| tag.split(|c: char| !part(c))).filter(|word| *word == name).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_where_they_are_made() {
        let text = "{# {% set no = 1 %} #}{% import \"a.j2\" as words %}{%- set x, y = 1, 2 -%}{% macro m(a) %}{{ words.b(x) }}";
        let tags = tags(text);
        let names: Vec<(String, bool)> = tags.iter().flat_map(|tag| made(tag)).collect();
        let named = |name: &str, out| (name.to_owned(), out);
        assert_eq!(names, [named("words", false), named("x", false), named("y", false), named("m", true)]);
        assert_eq!((uses(&tags, "x"), uses(&tags, "y"), uses(&tags, "words")), (2, 1, 2));
        assert_eq!(made("from \"a.j2\" import place, far as other").len(), 2);
        assert!(made("set loop.last = 1").is_empty());
    }
}
