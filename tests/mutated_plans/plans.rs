//! An example's intent -> its plan without whatever a judge can work out, and what of it a mistake can hit.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use serde_json::{Map, Value};

/// One example's plan: only what is done, step by step.
#[derive(Clone)]
pub struct Plan {
    /// Folder and file of the example, without endings.
    pub name: String,
    /// The whole document, its steps stripped.
    pub document: Value,
    /// The units, and the ports of each in natural order.
    pub units: Vec<(String, Vec<String>)>,
    /// The uplink pairs of either state.
    pub uplinks: Vec<String>,
}

impl Plan {
    pub fn steps(&self) -> &[Value] {
        self.document["steps"].as_array().unwrap()
    }

    /// The same document with other steps, numbered anew. What follows the first step of another phase is no longer
    /// staged: a mutant is to be judged by what is done, not by the name of its phase.
    pub fn with_steps(&self, steps: Vec<Value>) -> Value {
        let mut staging = true;
        let numbered = steps.into_iter().enumerate().map(|(at, mut step)| {
            step["number"] = (at + 1).into();
            staging &= step["phase"] == "stage";
            if !staging && step["phase"] == "stage" {
                step["phase"] = "join".into();
            }
            step
        });
        let numbered: Vec<Value> = numbered.collect();
        let table = self.document.as_object().unwrap().iter();
        let with = |(key, value): (&String, &Value)| match key == "steps" {
            true => (key.clone(), Value::Null),
            false => (key.clone(), value.clone()),
        };
        let mut document = Value::Object(table.map(with).collect());
        document["steps"] = Value::Array(numbered);
        document
    }
}

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The plan of every intent under `examples/`, in the order of their names; compiled once for all tests.
pub fn plans() -> &'static [Plan] {
    static PLANS: OnceLock<Vec<Plan>> = OnceLock::new();
    PLANS.get_or_init(compiled)
}

fn compiled() -> Vec<Plan> {
    let folders = |folder: &Path| {
        let mut found: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
        found.sort();
        found
    };
    let all = folders(&here("examples"));
    let files = all.iter().filter(|path| path.is_dir()).flat_map(|folder| folders(folder));
    files.filter_map(|path| Some((named(&path)?, path))).map(|(name, path)| plan(name, &path)).collect()
}

fn named(path: &Path) -> Option<String> {
    let folder = path.parent()?.file_name()?.to_str()?;
    Some(format!("{folder}/{}", path.file_name()?.to_str()?.strip_suffix(".intent.yaml")?))
}

fn plan(name: String, intent: &Path) -> Plan {
    let out = tempfile::tempdir().unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_ringwright"));
    let output = command.arg("compile").arg(intent).arg("--out").arg(out.path()).output().unwrap();
    assert!(output.status.success(), "{name}: {}", String::from_utf8_lossy(&output.stderr));
    let bundle = fs::read_dir(out.path()).unwrap().next().unwrap().unwrap().path();
    let document = serde_json::from_str(&fs::read_to_string(bundle.join("plan.json")).unwrap()).unwrap();
    let document = stripped(document);
    let (units, uplinks) = (units(&document), uplinks(&document));
    Plan { name, document, units, uplinks }
}

/// Leaves out every field that says of the steps what the replay can find by itself.
fn stripped(mut document: Value) -> Value {
    let table = document.as_object_mut().unwrap();
    for name in ["moves", "ways_back", "cost", "inputs"] {
        table.remove(name);
    }
    table.insert("slips".to_owned(), Value::Null);
    table.insert("warnings".to_owned(), Value::Array(Vec::new()));
    for step in table["steps"].as_array_mut().unwrap() {
        let kept = ["number", "phase", "do"].map(|name| (name.to_owned(), step[name].clone()));
        *step = Value::Object(Map::from_iter(kept));
    }
    document
}

fn units(document: &Value) -> Vec<(String, Vec<String>)> {
    let ports = |key: &str| {
        let saved = ["baseline", "target"].map(|state| document[state]["units"][key]["saved"]["ports"].as_object());
        let held = saved.into_iter().flatten().next();
        let mut names: Vec<String> = held.into_iter().flat_map(|ports| ports.keys().cloned()).collect();
        names.sort_by_key(|name| (name.parse::<u32>().unwrap_or(0), name.clone()));
        names
    };
    let keys = document["units"].as_array().unwrap().iter().map(|unit| unit["key"].as_str().unwrap());
    keys.map(|key| (key.to_owned(), ports(key))).collect()
}

fn uplinks(document: &Value) -> Vec<String> {
    let held = ["baseline", "target"].map(|state| document[state]["shared"]["running"]["uplinks"].as_object());
    let mut names: Vec<String> = held.into_iter().flatten().flat_map(|pairs| pairs.keys().cloned()).collect();
    names.sort();
    names.dedup();
    names
}
