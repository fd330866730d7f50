//! Mutants -> what each judge says of them, both from the same text.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;

use ringwright::model::document::PlanDocument;
use ringwright::rehearse::judge;
use serde_json::Value;

use super::mutants::Mutant;

/// The rule that a judge refuses a plan for, and what it says; none if it accepts it.
pub type Said = Option<(String, String)>;

/// What both say of one plan.
#[derive(Clone, Debug)]
pub struct Verdicts {
    pub ours: Said,
    pub second: Said,
}

/// How many plans one start of the second judge gets.
const BOUT: usize = 200;

/// What our judge says of a plan's text.
pub fn ours(text: &str) -> Said {
    let plan: PlanDocument = match serde_json::from_str(text) {
        Ok(plan) => plan,
        Err(error) => return Some(("shape".to_owned(), error.to_string())),
    };
    let verdict = judge(&plan);
    assert_eq!(verdict.rehearsed.is_some(), verdict.objections.is_empty(), "a refusal says why");
    let first = verdict.objections.into_iter().next()?;
    let step = first.step.map_or_else(String::new, |step| format!("step {step}: "));
    Some((first.code.to_owned(), format!("{step}{}", first.text)))
}

/// What the second judge says of each file. It answers for every one: a missing Python is a failure, not a skip.
pub fn second(files: &[PathBuf]) -> Vec<Said> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/judge/judge.py");
    let output = Command::new("python3").arg("-B").arg(script).args(files).output().expect("python3 runs");
    let told = String::from_utf8(output.stdout).unwrap();
    assert_eq!(told.lines().count(), files.len(), "{}", String::from_utf8_lossy(&output.stderr));
    let answers = files.iter().zip(told.lines()).map(|(file, line)| {
        let answer: Value = serde_json::from_str(line).unwrap();
        assert_eq!(answer["file"].as_str(), file.to_str(), "the second judge answers in order");
        let breach = answer["breaches"].as_array().unwrap().first();
        assert_eq!(breach.is_none(), answer["verdict"] == "accepted", "{line}");
        breach.map(|breach| {
            let step = breach["step"].as_u64().map_or_else(String::new, |step| format!("step {step}: "));
            let what = breach["what"].as_str().unwrap_or_default();
            (breach["rule"].as_str().unwrap().to_owned(), format!("{step}{what}"))
        })
    });
    answers.collect()
}

fn bout(number: usize, mutants: &[Mutant<'_>], folder: &Path) -> Vec<Verdicts> {
    let texts: Vec<String> = mutants.iter().map(|mutant| mutant.document().to_string()).collect();
    let files: Vec<PathBuf> = (0..texts.len()).map(|at| folder.join(format!("{number}-{at}.json"))).collect();
    files.iter().zip(&texts).for_each(|(file, text)| fs::write(file, text).unwrap());
    let said = second(&files).into_iter().zip(&texts);
    let verdicts = said.map(|(second, text)| Verdicts { ours: ours(text), second }).collect();
    files.iter().for_each(|file| fs::remove_file(file).unwrap());
    verdicts
}

/// What both judges say of every mutant, in their order; two bouts are judged side by side.
pub fn verdicts(mutants: &[Mutant<'_>]) -> Vec<Verdicts> {
    let folder = tempfile::tempdir().unwrap();
    let bouts: Vec<&[Mutant<'_>]> = mutants.chunks(BOUT).collect();
    let next = Mutex::new(0..bouts.len());
    let take = || next.lock().unwrap().next();
    let work = || {
        let mut done = Vec::new();
        while let Some(number) = take() {
            done.push((number, bout(number, bouts[number], folder.path())));
        }
        done
    };
    let mut all = std::thread::scope(|scope| {
        let workers = [scope.spawn(work), scope.spawn(work)];
        workers.into_iter().flat_map(|worker| worker.join().expect("a worker ends")).collect::<Vec<_>>()
    });
    all.sort_by_key(|(number, _)| *number);
    all.into_iter().flat_map(|(_, verdicts)| verdicts).collect()
}
