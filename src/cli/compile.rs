//! `ringwright compile`: intents -> their bundles on disk, and what a person wants to know of them.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use clap::Args;

use super::fleet::git::{Baseline, Revision};
use super::fleet::twice;
use super::fleet::{Done, Fleet, Intents, Sum, Tools, Worker, done};
use super::glance::Glance;
use super::open::{Opened, is_standard_input};
use super::{Exit, Request, terminal, window};
use crate::compile::{COMPILER, Compiled, Material, PLAN_NOT_PROVED, compile_problem};
use crate::diag::{Code, Diagnostic, Findings, Severity};
use crate::disk::{DiskCode, DiskError, Outcome, RealDisk, held, stands, write_bundle};
use crate::lint::cases::difference;
use crate::render::Bundle;
use crate::report::{Fate, Row, merge_request, summary};

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&NOT_WRITTEN, &KEPT_ASIDE, &OUTPUT_DIFFERS];

/// The bundle could not be written.
pub const NOT_WRITTEN: Code = Code {
    name: "not-written",
    explanation: "The bundle was not written, and what stood in its place still does: the folder cannot be written, holds a \
foreign file where one of ours would go, or a file of ours that a person has edited since. Edited files are only \
overwritten with `--overwrite-edited`.",
};
/// A file was kept aside.
pub const KEPT_ASIDE: Code = Code {
    name: "kept-aside",
    explanation: "While the bundle was exchanged, or after an earlier run was stopped, a file was found that is not ours. It \
was moved beside the bundle's folder and not deleted: look at it, then remove it.",
};

/// The files on disk are others.
pub const OUTPUT_DIFFERS: Code = Code {
    name: "output-differs",
    explanation: "`--verify-output` compiles and writes nothing: what would be written is compared with what is on disk, and \
something is not the same. Somebody edited a file, or the intent, the baseline or the dialect was changed and nobody has \
compiled since. Compile again, and read the difference before you keep it.",
};

/// Compile intents into proved, ordered snippets, a runbook and the plan.
#[derive(Args)]
pub(super) struct Compile {
    #[command(flatten)]
    fleet: Fleet,
    /// A dialect instead of the intent's: a built-in one's name, or a folder.
    #[arg(long, value_name = "DIALECT")]
    dialect: Option<String>,
    /// Where each stack's folder goes.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Overwrite files of an earlier bundle that a person has edited since.
    #[arg(long)]
    overwrite_edited: bool,
    /// Write nothing; compare with what is on disk, and end with status 3 if that is not the same.
    #[arg(long)]
    verify_output: bool,
    /// Compile all of several intents, also those of which nothing has changed since their bundles were written.
    #[arg(long)]
    all: bool,
    /// Write what each stack's change will do, in Markdown, for a merge request.
    #[arg(long, value_name = "FILE")]
    summary: Option<PathBuf>,
}

/// What came out of one intent.
struct Made {
    stack: Option<String>,
    fate: Fate,
    /// What is said to a person of one intent alone.
    said: String,
    written: bool,
}

impl Compile {
    pub(super) fn run(self) -> Exit {
        match self.done() {
            Ok(exit) | Err(exit) => exit,
        }
    }

    fn done(&self) -> Result<Exit, Exit> {
        let intents = self.fleet.intents()?;
        let revision = self.fleet.revision(&intents)?;
        let (mut sum, mut rows, mut written) = (Sum::default(), Vec::new(), 0);
        let part = self.part(&intents, &mut sum, &mut rows);
        let work = |worker: &mut Worker, intent: &Path| self.one(worker, intent, revision.as_ref(), intents.alone);
        let mut said = String::new();
        self.fleet.each((&intents, &part), &mut sum, work, |intent, entries, made: Made| {
            written += usize::from(made.written);
            if self.verify_output && !intents.alone {
                self.fleet.say(&made.said);
            }
            said = made.said;
            let (intent, entries) = (intent.display().to_string(), entries.to_vec());
            rows.push(Row { intent, stack: made.stack, fate: made.fate, entries });
        });
        if intents.alone {
            self.fleet.say(&said);
        } else {
            self.fleet.say(&self.sentence(&rows, written));
        }
        if let Some(path) = &self.summary
            && let Err(error) = std::fs::write(path, merge_request(&rows))
        {
            terminal::error(&format!("`{}` cannot be written: {}\n", path.display(), error.kind()));
            sum.worsen(Exit::Unusable);
        }
        Ok(self.fleet.finish("compile", sum))
    }

    /// The intents that are compiled: no stack as it stands, and none of two that go to one folder.
    fn part(&self, intents: &Intents, sum: &mut Sum, rows: &mut Vec<Row>) -> Vec<PathBuf> {
        if intents.alone {
            return intents.all.clone();
        }
        let glances = self.fleet.glances(intents);
        let left = twice::without_baselines(intents, &glances);
        let left = twice::apart(left, &glances, &intents.named, |intent, entry, exit| {
            if self.fleet.part(vec![intent.to_owned()]).is_empty() {
                return;
            }
            let stack = glances.get(intent).map(|glance| glance.stack.clone());
            let (shown, entries) = (intent.display().to_string(), vec![entry.clone()]);
            rows.push(Row { intent: shown, stack, fate: Fate::Refused, entries });
            self.fleet.refuse(sum, intent, entry, exit);
        });
        self.fleet.part(left)
    }

    fn one(&self, worker: &mut Worker, intent: &Path, revision: Option<&Revision>, alone: bool) -> Done<Made> {
        let baseline = Baseline::of(revision, intent, &mut worker.reader);
        let none = || Made { stack: None, fate: Fate::Refused, said: String::new(), written: false };
        let made = baseline.map(|baseline| {
            let from = baseline.standing(self.fleet.from.as_deref());
            let request = Request { intent, from, dialect: self.dialect.as_deref() };
            let may_skip = !alone && !self.all && !self.verify_output && !is_standard_input(intent);
            match may_skip.then(|| worker.reader.glance(&request)).flatten() {
                Some(glance) if self.stands(worker, &request, &glance) => {
                    Made { stack: Some(glance.stack), fate: Fate::AsItWas, said: String::new(), written: false }
                }
                _ => self.compiled(worker, &request, alone).unwrap_or_else(none),
            }
        });
        let made = made.unwrap_or_else(|_| none());
        let exit = exit_of(worker);
        done(worker, self.fleet.findings, exit, made)
    }

    /// Whether nothing has changed since the stack's bundle was written.
    fn stands(&self, worker: &mut Worker, request: &Request<'_>, glance: &Glance) -> bool {
        let inputs = worker.reader.inputs(request, glance);
        inputs.is_some_and(|inputs| stands(&RealDisk, &self.out.join(&glance.stack), COMPILER, &inputs))
    }

    fn compiled(&self, worker: &mut Worker, request: &Request<'_>, alone: bool) -> Option<Made> {
        let Opened { intent, baseline, platform, problem, .. } = worker.reader.open(request).ok()?;
        let Tools { reader, engines, shapes } = worker.with(&platform);
        let (sources, findings) = (&reader.sources, &mut reader.findings);
        let (shapes, stands) = (shapes.filter(|_| !alone), baseline.as_ref());
        let material = Material { engines, sources, intent: &intent, baseline: stands, platform: &platform, shapes };
        let compiled = compile_problem(&material, problem, findings).ok()?;
        window::look(&intent, compiled.rehearsed.plan(), findings);
        let made = self.brought_out(&compiled, alone, findings);
        if alone {
            // the process ends soon: nothing is taken apart piece by piece
            std::mem::forget((intent, baseline, platform, compiled));
        }
        made
    }

    /// Writes a bundle, or compares it with what is on disk.
    fn brought_out(&self, compiled: &Compiled, alone: bool, findings: &mut Findings) -> Option<Made> {
        let fate = Fate::Compiled(Box::new(summary::facts(compiled)));
        let stack = Some(compiled.bundle.stack.clone());
        if self.verify_output {
            let said = self.verified(&compiled.bundle, alone, findings);
            return Some(Made { stack, fate, said, written: false });
        }
        match write_bundle(&RealDisk, &self.out, &compiled.bundle, self.overwrite_edited) {
            Ok(written) => {
                for path in &written.kept {
                    let message = format!("a file that is not ours was kept in `{}`", path.display());
                    findings.warn(Diagnostic::warning(&KEPT_ASIDE, None, message));
                }
                if let Some(error) = &written.left_over {
                    findings.warn(Diagnostic::warning(&KEPT_ASIDE, None, error.to_string()));
                }
                let as_it_was = written.outcome == Outcome::Unchanged;
                let said = if alone { summary::of(compiled, &written.place, as_it_was) } else { String::new() };
                Some(Made { stack, fate, said, written: !as_it_was })
            }
            Err(error) => {
                findings.error(not_written(&error));
                None
            }
        }
    }

    /// Compares a bundle with what is on disk; what is not the same is a finding.
    fn verified(&self, bundle: &Bundle, alone: bool, findings: &mut Findings) -> String {
        let place = self.out.join(&bundle.stack);
        let held = match held(&RealDisk, &place, bundle.files.keys().cloned()) {
            Ok(held) => held,
            Err(error) => {
                findings.error(not_written(&error));
                return String::new();
            }
        };
        if held == bundle.files {
            return if alone { format!("{} is what would be written\n", place.display()) } else { String::new() };
        }
        let text = |files: &BTreeMap<String, Vec<u8>>| {
            let text = |(path, bytes): (&String, &Vec<u8>)| (path.clone(), String::from_utf8_lossy(bytes).into_owned());
            files.iter().map(text).collect::<BTreeMap<String, String>>()
        };
        let differ = held.keys().chain(bundle.files.keys()).filter(|path| held.get(*path) != bundle.files.get(*path));
        let count = differ.collect::<BTreeSet<_>>().len();
        let files = if count == 1 { "one file is".to_owned() } else { format!("{count} files are") };
        let message = format!("`{}` is not what would be written: {files} not the same", place.display());
        findings
            .error(Diagnostic::error(&OUTPUT_DIFFERS, None, message).help("compile again, and read the difference"));
        difference(&text(&held), &text(&bundle.files))
    }

    fn sentence(&self, rows: &[Row], written: usize) -> String {
        let refused = rows.iter().filter(|row| matches!(row.fate, Fate::Refused)).count();
        let all = if rows.len() == 1 { "1 stack".to_owned() } else { format!("{} stacks", rows.len()) };
        let refused_too = if refused == 0 { String::new() } else { format!(", {refused} refused") };
        if self.verify_output {
            let differs = |row: &&Row| row.entries.iter().any(|entry| entry.code == OUTPUT_DIFFERS.name);
            let differ = rows.iter().filter(differs).count();
            return format!("{all}: {} as on disk, {differ} not{refused_too}\n", rows.len() - differ - refused);
        }
        format!("{all}: {written} written, {} as they were{refused_too}\n", rows.len() - written - refused)
    }
}

/// How one intent ended.
fn exit_of(worker: &Worker) -> Exit {
    let reader = &worker.reader;
    let found = |code: &'static Code| reader.findings.all().iter().any(|found| found.code == code);
    if found(&PLAN_NOT_PROVED) {
        return Exit::Fault;
    }
    let others = reader.findings.all().iter().any(|one| one.severity == Severity::Error && one.code != &OUTPUT_DIFFERS);
    if found(&OUTPUT_DIFFERS) && !others {
        return Exit::Differs;
    }
    terminal::exit(&reader.findings, reader.unreadable || found(&NOT_WRITTEN))
}

fn not_written(error: &DiskError) -> Diagnostic {
    let found = Diagnostic::error(&NOT_WRITTEN, None, format!("`{}` {}", error.path.display(), error.message));
    if error.code == DiskCode::EditedFile { found.help("`--overwrite-edited` overwrites it") } else { found }
}
