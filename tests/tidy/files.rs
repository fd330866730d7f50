//! The files that the tidy checks read, and which part of one is production code.

use std::fs;
use std::path::{Path, PathBuf};

/// One file, by its path in the repository.
pub struct File {
    pub path: String,
    pub text: String,
}

fn walk(folder: &Path, deep: bool, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() && deep {
            walk(&path, deep, found);
        } else if path.is_file() {
            found.push(path);
        }
    }
}

/// The files under a folder with one of these endings; of the root folder, only its own.
pub fn texts_under(folder: &str, endings: &[&str]) -> Vec<File> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = Vec::new();
    walk(&root.join(folder), !folder.is_empty(), &mut paths);
    paths.retain(|path| path.extension().is_some_and(|ending| endings.iter().any(|wanted| ending == *wanted)));
    paths.sort();
    let name = |path: &Path| path.strip_prefix(root).unwrap().to_str().unwrap().to_owned();
    // a file of bytes that are no text is a case of its own, and names nothing
    paths.iter().filter_map(|path| fs::read_to_string(path).ok().map(|text| File { path: name(path), text })).collect()
}

/// All Rust files of the crate.
pub fn sources() -> Vec<File> {
    let files = texts_under("src", &["rs"]);
    assert!(files.len() > 60, "{} files found", files.len());
    files
}

/// What of a file is compiled without tests: up to the tests, which stand last.
pub fn production(text: &str) -> &str {
    for (at, mark) in text.match_indices("#[cfg(test)]\n") {
        let next = text[at + mark.len()..].lines().next().unwrap_or("");
        if next.ends_with('{') {
            return &text[..at];
        }
    }
    text
}

/// Whether a whole file is a test: named so, in a folder named so, or declared under `#[cfg(test)]`.
pub fn only_for_tests(path: &str) -> bool {
    path.ends_with("/tests.rs") || path.contains("/tests/") || path == "src/disk/faulty.rs"
}

/// The lines of production code without comments, each with its number.
pub fn code(file: &File) -> Vec<(usize, &str)> {
    if only_for_tests(&file.path) {
        return Vec::new();
    }
    let lines = production(&file.text).lines().enumerate();
    lines.map(|(at, line)| (at + 1, line.split("//").next().unwrap_or(""))).collect()
}
