//! The files of a bundle, and those that a golden case expects -> a difference, for people.
//!
//! Deliberately absent: the plan and the record. They change with the compiler and hold no words of a dialect.

use std::collections::BTreeMap;

use similar::TextDiff;

use crate::render::{Bundle, PLAN_FILE, RECORD_FILE};

/// What a golden case holds of a bundle.
#[must_use]
pub fn kept(bundle: &Bundle) -> BTreeMap<String, String> {
    let words = bundle.files.iter().filter(|(path, _)| ![PLAN_FILE, RECORD_FILE].contains(&path.as_str()));
    words.map(|(path, bytes)| (path.clone(), String::from_utf8_lossy(bytes).into_owned())).collect()
}

/// What differs between the files that are expected and those that were made; empty where nothing does.
#[must_use]
pub fn difference(expected: &BTreeMap<String, String>, made: &BTreeMap<String, String>) -> String {
    let mut text = String::new();
    let paths: std::collections::BTreeSet<&String> = expected.keys().chain(made.keys()).collect();
    for path in paths {
        match (expected.get(path), made.get(path)) {
            (Some(one), Some(other)) if one == other => {}
            (Some(one), Some(other)) => {
                let headers = (format!("expected/{path}"), format!("made/{path}"));
                let diff = TextDiff::from_lines(one.as_str(), other.as_str());
                text += &diff.unified_diff().context_radius(2).header(&headers.0, &headers.1).to_string();
            }
            (Some(_), None) => text += &format!("expected/{path} is not made any more\n"),
            (None, _) => text += &format!("made/{path} is not expected\n"),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_names_the_file_and_the_line() {
        let files =
            |pairs: &[(&str, &str)]| pairs.iter().map(|(path, text)| ((*path).into(), (*text).into())).collect();
        let expected = files(&[("a.txt", "one\ntwo\n"), ("b.txt", "x\n")]);
        assert_eq!(difference(&expected, &expected), "");
        let told = difference(&expected, &files(&[("a.txt", "one\nthree\n"), ("c.txt", "")]));
        assert!(told.contains("-two\n+three\n"), "{told}");
        assert!(told.contains("expected/b.txt is not made any more"), "{told}");
        assert!(told.contains("made/c.txt is not expected"), "{told}");
    }
}
