//! Which stage may use which other, which library, and what of the world outside.

use super::files::{File, code, only_for_tests};

/// What each stage may import, itself aside. The flow of `src/lib.rs` as a table: a new folder, or a
/// new arrow, is a decision that is taken here.
const MAY_IMPORT: [(&str, &[&str]); 19] = [
    ("model", &[]),
    ("source", &[]),
    ("diag", &["source"]),
    ("yaml", &["diag", "source"]),
    ("intent", &["diag", "model", "source", "yaml"]),
    ("platform", &["diag", "intent", "model", "source", "yaml"]),
    ("lower", &["diag", "intent", "model", "platform", "source"]),
    ("plan", &["model"]),
    ("watch", &["lower", "model", "plan"]),
    ("rehearse", &["diag", "model"]),
    ("analyse", &["model", "rehearse"]),
    ("picture", &["model", "rehearse"]),
    ("scene", &["model", "picture", "rehearse"]),
    ("render", &["analyse", "diag", "lower", "model", "picture", "platform", "rehearse", "source"]),
    ("disk", &["render"]),
    // anything that is told to a person or a pipeline
    ("report", &["analyse", "compile", "diag", "lower", "model", "render", "source"]),
    (
        "compile",
        &["analyse", "diag", "intent", "lower", "model", "plan", "platform", "rehearse", "render", "source", "watch"],
    ),
    // a client of the whole line
    ("lint", &["compile", "diag", "intent", "lower", "model", "platform", "rehearse", "render", "source"]),
    (
        "cli",
        &[
            "analyse", "compile", "diag", "disk", "intent", "lint", "lower", "model", "plan", "platform", "rehearse",
            "render", "report", "scene", "source", "watch", "yaml",
        ],
    ),
];

/// Of one stage, another may use only this.
const ONLY: [(&str, &str, &str); 2] = [("watch", "plan", "Route"), ("watch", "lower", "Problem")];

/// Where a library may be used. The others (serde, schemars) say shapes and may be used everywhere.
const LIBRARIES: [(&str, &[&str]); 18] = [
    ("annotate_snippets", &["report"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("crossterm", &["cli"]),
    ("csv", &["render"]),
    ("ignore", &["cli"]),
    ("include_dir", &["platform"]),
    ("jiff", &["render"]),
    ("jsonschema", &["render", "yaml"]),
    ("minijinja", &["render"]),
    ("quick_xml", &["render", "report"]),
    ("rustix", &["cli", "disk"]),
    ("saphyr_parser", &["yaml"]),
    (
        "serde_json",
        &["cli", "compile", "disk", "intent", "lower", "platform", "lint", "rehearse", "render", "report", "yaml"],
    ),
    ("serde_yaml", &["cli", "platform", "render"]),
    ("sha2", &["render", "source"]),
    ("signal_hook", &["cli"]),
];

/// Folders at the rim, where files, clock, terminal and processes are.
const RIM: [&str; 3] = ["cli", "disk", "main"];

fn stage(path: &str) -> &str {
    let inside = path.strip_prefix("src/").unwrap_or(path);
    inside.split(['/', '.']).next().unwrap_or("")
}

/// How many modules deep a file is: `src/plan/mod.rs` is one deep, `src/plan/search.rs` two.
fn depth(path: &str) -> usize {
    let folders = path.matches('/').count();
    if path.ends_with("/mod.rs") { folders - 1 } else { folders }
}

/// The first names after `crate::` in a line, `use crate::{a, b::c}` included.
fn crate_roots(line: &str) -> Vec<String> {
    let word = |text: &str| text.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut roots = Vec::new();
    for rest in line.split("crate::").skip(1) {
        match rest.strip_prefix('{') {
            None => roots.push(word(rest)),
            Some(group) => {
                let mut nested = 0;
                let outer = group.chars().filter(|c| {
                    nested += i32::from(*c == '{') - i32::from(*c == '}');
                    nested == 0
                });
                roots.extend(outer.collect::<String>().split(',').map(word));
            }
        }
    }
    roots.retain(|root| root.starts_with(|c: char| c.is_lowercase()));
    roots
}

/// What is imported against the flow.
pub fn against_the_flow(files: &[File]) -> Vec<String> {
    let mut faults = Vec::new();
    for file in files.iter().filter(|file| file.path != "src/lib.rs" && !only_for_tests(&file.path)) {
        let own = stage(&file.path);
        let may = MAY_IMPORT.iter().find(|(name, _)| *name == own).map(|(_, may)| *may);
        for (number, line) in code(file) {
            let mut fault = |text: String| faults.push(format!("{}:{number}: {text}", file.path));
            for root in crate_roots(line).iter().filter(|root| *root != own && own != "main") {
                match may {
                    None => fault(format!("`{own}` is in no row of MAY_IMPORT")),
                    Some(may) if !may.contains(&root.as_str()) => fault(format!("`{own}` must not use `{root}`")),
                    Some(_) => {}
                }
            }
            if line.contains(&"super::".repeat(depth(&file.path))) && depth(&file.path) > 0 {
                fault("reaches the crate by `super`: say `crate`".to_owned());
            }
            for (of, other, only) in ONLY.iter().filter(|(of, ..)| *of == own) {
                let prefix = format!("crate::{other}::");
                let uses = line.split(&prefix).skip(1).map(|rest| rest.strip_prefix(only));
                if uses.into_iter().any(|rest| rest.is_none_or(|rest| rest.starts_with(char::is_alphanumeric))) {
                    fault(format!("of `{other}`, `{of}` may use `{only}` alone"));
                }
            }
        }
    }
    faults
}

/// Libraries used where they do not belong.
pub fn astray(files: &[File]) -> Vec<String> {
    let mut faults = Vec::new();
    for file in files {
        for (number, line) in code(file) {
            for (library, stages) in LIBRARIES {
                let used = line
                    .match_indices(&format!("{library}::"))
                    .any(|(at, _)| !line[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':'));
                if used && !stages.contains(&stage(&file.path)) {
                    faults.push(format!("{}:{number}: `{library}` is for {stages:?}", file.path));
                }
            }
        }
    }
    faults
}

/// Files, clock, terminal, processes and network outside the rim.
pub fn impure(files: &[File]) -> Vec<String> {
    let modules = ["fs", "env", "process", "time", "thread", "os"];
    let words = [
        "println!",
        "print!(",
        "stdout(",
        "stderr(",
        "stdin(",
        "SystemTime",
        "Instant::",
        "TcpStream",
        "TcpListener",
        "UdpSocket",
        "Command::new",
        "File::open",
        "include_bytes!",
        "RandomState",
    ];
    let mut faults = Vec::new();
    for file in files.iter().filter(|file| !RIM.contains(&stage(&file.path))) {
        for (number, line) in code(file) {
            let group = line.split("std::{").nth(1).unwrap_or("");
            let named = |name: &str| {
                line.contains(&format!("std::{name}::"))
                    || line.contains(&format!("std::{name};"))
                    || group.split([',', '}', ':']).any(|part| part.trim() == name)
            };
            let hit =
                modules.iter().find(|name| named(name)).or_else(|| words.iter().find(|word| line.contains(**word)));
            faults.extend(hit.map(|name| format!("{}:{number}: `{name}` belongs to the rim", file.path)));
        }
    }
    faults
}

/// Hash maps and sets: only the search has one, and only to look things up.
pub fn hash_order(files: &[File]) -> Vec<String> {
    let lookups =
        ["get(", "get_mut(", "insert(", "entry(", "contains_key(", "contains(", "len(", "is_empty(", "clear("];
    let mut faults = Vec::new();
    for file in files {
        let lines = code(file);
        let hashed = |line: &str| line.contains("HashMap") || line.contains("HashSet");
        if !["src/plan/search", "src/plan/novelty"].iter().any(|search| file.path.starts_with(search)) {
            let hits = lines.iter().filter(|(_, line)| hashed(line));
            faults.extend(hits.map(|(number, _)| format!("{}:{number}: a hash map outside the search", file.path)));
            continue;
        }
        let typed = lines.iter().filter(|(_, line)| hashed(line)).filter_map(|(_, line)| line.split(": Hash").next());
        let names: Vec<&str> = typed.filter_map(|before| before.split([' ', '(']).next_back()).collect();
        for (number, line) in lines.iter().filter(|(_, line)| !line.trim_start().starts_with("use ")) {
            for name in names.iter().filter(|name| !name.is_empty()) {
                let call = format!("{name}.");
                let walked =
                    line.split(&call).skip(1).any(|rest| lookups.iter().all(|lookup| !rest.starts_with(lookup)));
                let looped = [" in ", " in &", " in &mut ", " in self.", " in &self."]
                    .iter()
                    .any(|before| line.contains(&format!("{before}{name}")));
                if walked || looped {
                    faults.push(format!("{}:{number}: `{name}` is walked in hash order", file.path));
                }
            }
        }
    }
    faults
}
