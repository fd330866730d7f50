//! The files that are pasted, of marked samples -> findings: steps that are missing, strange or out of order, a heading
//! without its place, and lines that would be typed and are no step's.

use std::collections::{BTreeMap, BTreeSet};

use super::outputs::{Made, lines, number};
use super::report::{LINE_UNMARKED, OUTPUT_LACKS, Report, STEP_ORDER};
use super::tokens::{holds, places};
use crate::platform::OnePer;
use crate::render::{PlaceView, Rendered, SegmentView, StepView};

/// A snippet file: its check first, then its steps, each line once and in order, under the heading of its place.
pub(super) fn segment(made: &Made, file: &Rendered, report: &mut Report) {
    let Some(segment) = &file.segment else { return };
    let told = format!("in `{}` of the sample `{}`", file.path, made.sample.name);
    let wanted: Vec<(&str, &StepView)> = segment
        .check
        .iter()
        .chain(&segment.steps)
        .flat_map(|step| lines(step).map(move |line| (line, &**step)))
        .collect();
    let mut after = 0;
    for (line, step) in &wanted {
        let (kind, number) = (kind_of(step), number(step));
        let found: Vec<usize> = places(&file.text, line).collect();
        match found[..] {
            [] => {
                let message = format!("the words of step {number} ({kind}) are missing {told}");
                report.at(&STEP_ORDER, &file.template, "steps", message);
            }
            [at] if at >= after => after = at,
            [_] => {
                let message =
                    format!("the words of step {number} ({kind}) stand before those of an earlier one {told}");
                report.at(&STEP_ORDER, &file.template, "steps", message);
            }
            _ => {
                let message = format!("the words of step {number} ({kind}) stand {} times {told}", found.len());
                report.at(&STEP_ORDER, &file.template, "steps", message);
            }
        }
    }
    strangers(made, file, segment, &told, report);
    heading(file, segment, &told, report);
    let otherwise = segment.check.as_ref().and_then(|check| check.otherwise.as_deref());
    let numbers = [segment.first_step, segment.last_step].map(|number| number.to_string());
    let next = segment.next.iter().filter(|_| !segment.ends_with_restart).map(|next| next.number.to_string());
    let said = otherwise.map(|text| ("what to do if its check fails", text.to_owned())).into_iter();
    let said = said.chain(numbers.map(|number| ("the numbers of its steps", number)));
    for (what, value) in said.chain(next.map(|number| ("the step that comes next", number))) {
        if !holds(&file.text, &value) {
            report.at(&OUTPUT_LACKS, &file.template, "", format!("{what} is not told {told}"));
        }
    }
}

fn kind_of(step: &StepView) -> String {
    let value = serde_json::to_value(&step.operation).ok();
    value.and_then(|value| value.get("kind")?.as_str().map(str::to_owned)).unwrap_or_default()
}

/// Steps that belong to another file: what is pasted in one go is one segment.
fn strangers(made: &Made, file: &Rendered, segment: &SegmentView, told: &str, report: &mut Report) {
    let own = |number| (segment.first_step..=segment.last_step).contains(&number);
    let next: Vec<&String> = segment.next.iter().flat_map(|next| &next.lines).collect();
    let is_back = file.one_per == OnePer::WayBackSegment;
    let context = &made.marked.context;
    let all = context.steps().filter(|step| is_back || !own(step.number));
    for step in
        all.filter(|step| lines(step).any(|line| holds(&file.text, line) && !next.iter().any(|next| *next == line)))
    {
        let message = format!("the words of step {}, which belongs to another file, stand {told}", number(step));
        report.at(&STEP_ORDER, &file.template, "steps", message);
    }
}

/// The place is named before the first line that is typed.
fn heading(file: &Rendered, segment: &SegmentView, told: &str, report: &mut Report) {
    let first =
        segment.steps.iter().flat_map(|step| lines(step)).filter_map(|line| places(&file.text, line).next()).min();
    let head = file.text.get(..first.unwrap_or(file.text.len())).unwrap_or("");
    let fault = match &segment.place {
        PlaceView::Console { unit, .. } if !holds(head, unit) => Some("the unit whose console it is for"),
        PlaceView::Stack { stack, .. } if !holds(head, stack) => Some("the stack that it is for"),
        PlaceView::Console { .. } | PlaceView::Stack { .. } | PlaceView::Hands { .. } => None,
    };
    if let Some(what) = fault {
        let message = format!("{what} is not named before the first typed line {told}");
        report.at(&OUTPUT_LACKS, &file.template, "place", message);
    }
}

/// Every line of a snippet that is no step's begins with one mark, and no step's line does.
pub(super) fn marks(made: &[Made], report: &mut Report) {
    let mut remarks: Vec<(&Rendered, &str)> = Vec::new();
    let mut typed: Vec<(&Rendered, &str)> = Vec::new();
    for file in made.iter().flat_map(|made| &made.files) {
        let Some(segment) = &file.segment else { continue };
        for line in file.text.lines().filter(|line| !line.trim().is_empty()) {
            let is_step = segment.steps.iter().flat_map(|step| lines(step)).any(|own| holds(line, own));
            if is_step { typed.push((file, line)) } else { remarks.push((file, line)) }
        }
    }
    let sign = |line: &str| {
        line.trim_start().chars().take_while(|c| !c.is_alphanumeric() && !c.is_whitespace()).collect::<String>()
    };
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    remarks.iter().for_each(|(_, line)| *counts.entry(sign(line)).or_default() += 1);
    let Some((mark, _)) = counts.iter().max_by_key(|(_, count)| **count).map(|(mark, count)| (mark.clone(), *count))
    else {
        return;
    };
    let mut told = BTreeSet::new();
    for (file, line) in remarks.iter().filter(|(_, line)| mark.is_empty() || !sign(line).starts_with(&mark)) {
        if told.insert((file.template.clone(), true)) {
            let message =
                format!("a line of `{}` is no step and has no mark of a remark: {}", file.path, shortened(line));
            report.at(&LINE_UNMARKED, &file.template, "", message);
        }
    }
    for (file, line) in typed.iter().filter(|(_, line)| !mark.is_empty() && sign(line).starts_with(&mark)) {
        if told.insert((file.template.clone(), false)) {
            let message = format!("a step in `{}` is marked as a remark: {}", file.path, shortened(line));
            report.at(&LINE_UNMARKED, &file.template, "", message);
        }
    }
}

fn shortened(line: &str) -> String {
    let line = line.trim();
    let short: String = line.chars().take(60).collect();
    if short.len() < line.len() { format!("`{short}…`") } else { format!("`{short}`") }
}
