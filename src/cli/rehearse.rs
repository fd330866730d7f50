//! `ringwright rehearse`: the judge, from the plan's file alone.

use std::path::PathBuf;

use clap::Args;

use super::{Exit, FindingsAs, Reader, terminal};
use crate::diag::{Diagnostic, Findings};
use crate::model::document::PlanDocument;
use crate::rehearse::{Objection, Rehearsed, code, judge};
use crate::source::{FileId, Sources, Span};
use crate::yaml::{self, Node, Segment};

/// Judge a plan from its file alone: replay every step, and hold it to every rule.
#[derive(Args)]
pub(super) struct Rehearse {
    /// The plan.
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// How to write the findings.
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    findings: FindingsAs,
}

impl Rehearse {
    pub(super) fn run(self) -> Exit {
        let mut reader = Reader::default();
        let rehearsed = self.rehearse(&mut reader);
        terminal::findings(&reader.findings, &reader.sources, self.findings);
        if self.findings == FindingsAs::Text && !reader.unreadable {
            terminal::print(&sentence(rehearsed.as_ref()));
        }
        terminal::exit(&reader.findings, reader.unreadable)
    }

    fn rehearse(&self, reader: &mut Reader) -> Option<Rehearsed> {
        let file = reader.plan(&self.plan).ok()?;
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
        verdict.rehearsed
    }
}

fn sentence(rehearsed: Option<&Rehearsed>) -> String {
    let Some(rehearsed) = rehearsed else { return "this plan is refused\n".to_owned() };
    let plan = rehearsed.plan();
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
