//! `ringwright rehearse`: the judge, from a plan's file alone; and the walk through a plan, step by step.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;

use super::{Exit, FindingsAs, Reader, Request, Standing, terminal, walk, window};
use crate::analyse::faults::digest;
use crate::compile::{PLAN_NOT_PROVED, prove};
use crate::diag::{Diagnostic, Findings};
use crate::model::document::PlanDocument;
use crate::rehearse::{Objection, Rehearsed, code, judge};
use crate::render::headline;
use crate::scene::Walk;
use crate::source::{FileId, Sources, Span};
use crate::yaml::{self, Node, Segment};

/// Judge a plan from its file alone, or walk through a change step by step.
///
/// A plan (`plan.json`) is replayed and every step held to every rule. An intent is compiled in memory, nothing
/// is written, and its plan is walked through: in a terminal by keys, else printed whole.
#[derive(Args)]
pub(super) struct Rehearse {
    /// A plan, or an intent.
    #[arg(value_name = "PLAN|INTENT")]
    file: PathBuf,
    /// The intent of the stack as it stands; it comes before the one that the intent names.
    #[arg(long, value_name = "BASELINE")]
    from: Option<PathBuf>,
    /// A dialect instead of the intent's: a built-in one's name, or a folder.
    #[arg(long, value_name = "DIALECT")]
    dialect: Option<String>,
    /// A folder in which dialects may lie, besides the intent's own.
    #[arg(long, value_name = "DIR")]
    dialect_root: Vec<PathBuf>,
    /// Walk through a plan, too, and not only through an intent's.
    #[arg(long)]
    walk: bool,
    #[command(flatten)]
    how: walk::How,
    /// How to write the findings; as data, nothing is walked through.
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    findings: FindingsAs,
}

/// What can be walked through.
struct Ready {
    rehearsed: Rehearsed,
    title: Option<String>,
}

impl Rehearse {
    pub(super) fn run(self) -> Exit {
        let mut reader = Reader::new(self.dialect_root.clone());
        let is_plan = is_plan(&self.file, &mut reader);
        if is_plan && (self.from.is_some() || self.dialect.is_some()) {
            terminal::error("--from and --dialect are for an intent; a plan's file says everything itself\n");
            return Exit::Unusable;
        }
        let ready = if is_plan { self.judged(&mut reader) } else { self.compiled(&mut reader) };
        // what a judge objects to stands in the judge's order
        if !is_plan {
            reader.findings.sort();
        }
        terminal::findings(&reader.findings, &reader.sources, self.findings);
        let fault = !is_plan && reader.findings.all().iter().any(|found| found.code == &PLAN_NOT_PROVED);
        let exit = if fault { Exit::Fault } else { terminal::exit(&reader.findings, reader.unreadable) };
        if self.findings == FindingsAs::Json {
            return exit;
        }
        match ready {
            Some(ready) if !is_plan || self.walk || self.how.asked() => {
                let trail = ready.rehearsed.trail();
                let walk = Walk::of(&ready.rehearsed, ready.title);
                let acts = trail.acts(&ready.rehearsed);
                self.how.show(&walk, &acts, trail).unwrap_or(exit)
            }
            ready => {
                if !reader.unreadable {
                    terminal::print(&sentence(ready.as_ref(), is_plan));
                }
                exit
            }
        }
    }

    /// The plan of an intent.
    fn compiled(&self, reader: &mut Reader) -> Option<Ready> {
        let request = Request {
            intent: &self.file,
            from: Standing::or_named(self.from.as_deref()),
            dialect: self.dialect.as_deref(),
        };
        let opened = reader.open(&request).ok()?;
        let problem = opened.problem;
        let digests = BTreeMap::from([("intent".to_owned(), opened.inputs.intent.clone())]);
        let rehearsed = prove(&problem, &opened.intent, &digests, &mut reader.findings).ok()?;
        window::look(&opened.intent, rehearsed.plan(), &mut reader.findings);
        let title = headline(rehearsed.plan(), problem.site.topology, &problem.delta);
        Some(Ready { rehearsed, title: Some(title) })
    }

    /// A plan's file.
    fn judged(&self, reader: &mut Reader) -> Option<Ready> {
        let file = reader.plan(&self.file).ok()?;
        let document: PlanDocument = match serde_json::from_str(reader.sources.text(file)) {
            Ok(document) => document,
            Err(error) => {
                let place = line_start(&reader.sources, file, error.line(), error.column());
                let told = error.to_string();
                // the place is drawn: serde says it in words too
                let told = told.rsplit_once(" at line ").map_or(told.as_str(), |(what, _)| what);
                let message = format!("this is no plan: {told}");
                let help = "compare it with the schema that `ringwright schema plan` prints";
                reader.findings.error(Diagnostic::error(code("shape"), place, message).help(help));
                return None;
            }
        };
        let verdict = judge(&document);
        let tree = yaml::read(&reader.sources, file, &mut Findings::default()).ok();
        let place = |objection: &Objection| tree.as_ref().and_then(|tree| place_of(tree, &objection.pointer));
        for warning in &verdict.warnings {
            reader.findings.warn(Diagnostic::warning(code(warning.code), place(warning), warning.text.clone()));
        }
        for objection in &verdict.objections {
            let step = objection.step.map_or_else(String::new, |step| format!("step {step}: "));
            let message = format!("{step}{}", objection.text);
            reader.findings.error(Diagnostic::error(code(objection.code), place(objection), message));
        }
        let rehearsed = verdict.rehearsed?;
        if let Some(said) = &document.faults
            && *said != digest(&rehearsed, &[]).entry
        {
            let place = tree.as_ref().and_then(|tree| place_of(tree, "/faults"));
            let message = "what the plan says of faults is not what follows from its target and its steps";
            let help = "leave `faults` out, or have the plan compiled anew";
            reader.findings.error(Diagnostic::error(code("claims"), place, message).help(help));
            return None;
        }
        Some(Ready { rehearsed, title: None })
    }
}

/// Whether a file is a plan: by its ending; of another ending, by its first character.
fn is_plan(path: &Path, reader: &mut Reader) -> bool {
    match path.extension().and_then(|ending| ending.to_str()) {
        Some("json") => true,
        Some("yaml" | "yml") => false,
        _ => reader.starts_with_brace(path),
    }
}

fn sentence(ready: Option<&Ready>, is_plan: bool) -> String {
    let Some(ready) = ready else {
        return if is_plan { "this plan is refused\n" } else { "this intent is refused\n" }.to_owned();
    };
    let plan = ready.rehearsed.plan();
    let minutes = plan.cost.map(|cost| format!(", {} minutes, at worst {}", cost.likely_minutes, cost.worst_minutes));
    format!("every rule holds through all {} steps{}\n", plan.steps.len(), minutes.unwrap_or_default())
}

/// The place of the last part of a JSON pointer that the file has.
fn place_of(tree: &Node, pointer: &str) -> Option<Span> {
    let mut node = tree;
    for part in pointer.split('/').skip(1) {
        let segment = part.parse().map_or_else(|_| Segment::Key(part.to_owned()), Segment::Index);
        match node.at(&[segment]).or_else(|| node.get(part)) {
            Some(inner) => node = inner,
            None => break,
        }
    }
    Some(node.head())
}

/// A line and a column, both from 1, as a place.
fn line_start(sources: &Sources, file: FileId, line: usize, column: usize) -> Option<Span> {
    let text = sources.text(file);
    let start: usize = text.split_inclusive('\n').take(line.checked_sub(1)?).map(str::len).sum();
    let at = (start + column.saturating_sub(1)).min(text.len().saturating_sub(1));
    let at = (0..=at).rev().find(|at| text.is_char_boundary(*at))?;
    let end = text.get(at..)?.chars().next().map_or(at, |found| at + found.len_utf8());
    Some(Span::new(file, at..end))
}
