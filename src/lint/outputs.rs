//! The outputs of marked samples -> findings: what did not come out, what stands in another order than the plan's,
//! and lines of a snippet that would be typed and are no step's.

use std::collections::{BTreeMap, BTreeSet};

use super::report::{LINE_UNMARKED, NOT_THE_SAME_TWICE, OUTPUT_LACKS, Report, STEP_ORDER};
use super::samples::Sample;
use super::tokens::{Marked, STEP_BASE, holds, marked, places};
use crate::platform::{OnePer, OutputKind};
use crate::render::{Bench, Context, PlaceView, Rendered, SegmentView, StepView};

/// Values that a runbook says each time: by path; the others of what it says at all, at least once.
const EACH: [&str; 24] = [
    "change.sentence",
    "change.ticket",
    "change.window.start",
    "change.hands.start",
    "change.checks_before.*.text",
    "change.checks_after.*.text",
    "change.witnesses.*",
    "change.consents.*",
    "change.warnings.*",
    "change.before.*.id",
    "change.before.*.priority",
    "change.after.*.id",
    "change.after.*.priority",
    "change.after.*.cables.*.from",
    "change.after.*.cables.*.to",
    "dialect.unsupported.*",
    "moves.*.title",
    "step.number",
    "step.otherwise",
    "step.care.*.harm",
    "step.cautions.*.weight_kg",
    "step.silent",
    "way.step.otherwise",
    "ways_back.*.then",
];

/// Values that need not come out: what a team keeps for itself, or what the words of a step say already.
const FREE: [&str; 20] = [
    "compiler",
    "dialect.name",
    "dialect.version",
    "dialect.summary",
    "stack.vars",
    "units.",
    "segments.",
    "cables.",
    "unit",
    "segment",
    "way_back",
    "step.operation.",
    "way.step.operation.",
    "ways_back.*.segments.",
    "ways_back.*.range",
    "way.step.minutes.",
    "way.step.why",
    "way.step.stop.",
    "step.place.site",
    "way.step.place.site",
];

/// One sample with its marks, and the files that were made from it.
struct Made<'a> {
    sample: &'a Sample,
    marked: Marked,
    files: Vec<Rendered>,
}

/// Looks at every output of every sample. Returns the templates that were used.
pub(super) fn check(samples: &[Sample], report: &mut Report) -> BTreeSet<String> {
    let mut reached = BTreeSet::new();
    let mut made = Vec::new();
    for sample in samples {
        let Some(marked) = marked(&sample.context, "") else { continue };
        let bench = Bench::new(report.platform);
        match bench.outputs(&marked.context) {
            Ok(files) => {
                same_twice(&bench, &marked, &files, report);
                made.push(Made { sample, marked, files });
            }
            Err(fault) => report.fault(&fault),
        }
        reached.extend(bench.reached());
    }
    for made in &made {
        made.files.iter().filter(|file| file.segment.is_some()).for_each(|file| segment(made, file, report));
    }
    marks(&made, report);
    runbooks(&made, report);
    tables(&made, report);
    super::states::check(samples, report);
    reached
}

fn same_twice(bench: &Bench, marked: &Marked, files: &[Rendered], report: &mut Report) {
    let Ok(again) = bench.outputs(&marked.context) else { return };
    for (template, path) in differing(files, &again) {
        report.at(&NOT_THE_SAME_TWICE, &template, "", format!("`{path}` was rendered twice and differs"));
    }
}

/// Files of two renderings that are not the same: template and path.
fn differing(files: &[Rendered], again: &[Rendered]) -> Vec<(String, String)> {
    let pairs = files.iter().zip(again).filter(|(one, other)| (&one.path, &one.text) != (&other.path, &other.text));
    let mut found: Vec<_> = pairs.map(|(one, other)| (one.template.clone(), other.path.clone())).collect();
    let shorter = files.len().min(again.len());
    let alone = files.iter().skip(shorter).chain(again.iter().skip(shorter));
    found.extend(alone.map(|one| (one.template.clone(), one.path.clone())));
    found
}

/// The lines of a step, each with the word for it in messages.
fn lines(step: &StepView) -> impl Iterator<Item = &str> {
    step.lines.iter().map(String::as_str)
}

fn number(step: &StepView) -> u64 {
    u64::from(step.number).saturating_sub(STEP_BASE)
}

/// A snippet file: its check first, then its steps, each line once and in order, under the heading of its place.
fn segment(made: &Made, file: &Rendered, report: &mut Report) {
    let Some(segment) = &file.segment else { return };
    let told = format!("in `{}` of the sample `{}`", file.path, made.sample.name);
    let wanted: Vec<(&str, &StepView)> =
        segment.check.iter().chain(&segment.steps).flat_map(|step| lines(step).map(move |line| (line, step))).collect();
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
    let all = context.moves.iter().flat_map(|one| &one.steps).filter(|step| is_back || !own(step.number));
    for step in
        all.filter(|step| lines(step).any(|line| holds(&file.text, line) && !next.iter().any(|next| *next == line)))
    {
        let message = format!("the words of step {}, which belongs to another file, stand {told}", number(step));
        report.at(&STEP_ORDER, &file.template, "steps", message);
    }
}

/// The place is named before the first line that is typed.
fn heading(file: &Rendered, segment: &SegmentView, told: &str, report: &mut Report) {
    let first = segment.steps.iter().flat_map(lines).filter_map(|line| places(&file.text, line).next()).min();
    let head = file.text.get(..first.unwrap_or(file.text.len())).unwrap_or("");
    let fault = match &segment.place {
        PlaceView::Console { unit, .. } if !holds(head, unit) => Some("the unit whose console it is for"),
        PlaceView::Stack { stack } if !holds(head, stack) => Some("the stack that it is for"),
        PlaceView::Console { .. } | PlaceView::Stack { .. } | PlaceView::Hands { .. } => None,
    };
    if let Some(what) = fault {
        let message = format!("{what} is not named before the first typed line {told}");
        report.at(&OUTPUT_LACKS, &file.template, "place", message);
    }
}

/// Every line of a snippet that is no step's begins with one mark, and no step's line does.
fn marks(made: &[Made], report: &mut Report) {
    let mut remarks: Vec<(&Rendered, &str)> = Vec::new();
    let mut typed: Vec<(&Rendered, &str)> = Vec::new();
    for file in made.iter().flat_map(|made| &made.files) {
        let Some(segment) = &file.segment else { continue };
        for line in file.text.lines().filter(|line| !line.trim().is_empty()) {
            let is_step = segment.steps.iter().flat_map(lines).any(|own| holds(line, own));
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

/// The files for people: every step's words in the order of the plan, and all that they must know beside.
fn runbooks(made: &[Made], report: &mut Report) {
    let mut templates = BTreeSet::new();
    for file in made.iter().flat_map(|made| &made.files).filter(|file| is_runbook(file, made)) {
        templates.insert(file.template.clone());
    }
    if templates.is_empty() && !made.is_empty() {
        report.at(&OUTPUT_LACKS, crate::platform::MANIFEST, "outputs", "no output of the whole stack tells the steps");
    }
    for template in templates {
        let pairs: Vec<(&Made, &Rendered)> = made
            .iter()
            .filter_map(|made| Some((made, made.files.iter().find(|file| file.template == template)?)))
            .collect();
        for (made, file) in &pairs {
            let context = &made.marked.context;
            in_order(made, file, context.moves.iter().flat_map(|one| &one.steps), "step", report);
            for way in &context.ways_back {
                in_order(made, file, way.steps.iter(), "step of a way back", report);
            }
        }
        values(&template, &pairs, report);
    }
}

/// A file for people that tells at least some of the steps.
fn is_runbook(file: &Rendered, made: &[Made]) -> bool {
    let told = matches!(file.kind, OutputKind::Text | OutputKind::Markdown | OutputKind::Html);
    let whole = file.one_per == OnePer::Stack && told;
    let all = |context: &Context| {
        let steps = context.moves.iter().flat_map(|one| &one.steps);
        steps.flat_map(lines).filter(|line| holds(&file.text, line)).count()
    };
    whole
        && made
            .iter()
            .any(|made| made.files.iter().any(|other| other.text == file.text) && all(&made.marked.context) > 0)
}

fn in_order<'s>(
    made: &Made,
    file: &Rendered,
    steps: impl Iterator<Item = &'s StepView>,
    what: &str,
    report: &mut Report,
) {
    let mut after = 0;
    for step in steps {
        for line in lines(step) {
            let (number, sample) = (number(step), made.sample.name);
            match places(&file.text, line).find(|at| *at >= after) {
                Some(at) => after = at,
                None if holds(&file.text, line) => {
                    let message = format!("{what} {number} of the sample `{sample}` stands before an earlier one");
                    return report.at(&STEP_ORDER, &file.template, "steps", message);
                }
                None => {
                    let message = format!("the words of {what} {number} of the sample `{sample}` do not come out");
                    return report.at(&STEP_ORDER, &file.template, "lines", message);
                }
            }
        }
    }
}

/// Values by their paths: how often they were there, how often they came out, and one that did not.
fn values(template: &str, pairs: &[(&Made, &Rendered)], report: &mut Report) {
    let mut count: BTreeMap<String, (usize, usize, &str)> = BTreeMap::new();
    for (made, file) in pairs {
        for token in made.marked.tokens.iter().filter(|token| wanted(&token.path)) {
            let row = count.entry(either(&token.path)).or_insert((0, 0, ""));
            row.0 += 1;
            if holds(&file.text, &token.text) {
                row.1 += 1;
            } else {
                row.2 = made.sample.name;
            }
        }
    }
    for (path, (there, told, sample)) in count {
        let last = path.rsplit('.').find(|part| *part != "*").unwrap_or(&path);
        if told == 0 {
            report.at(&OUTPUT_LACKS, template, last, format!("`{path}` never comes out"));
        } else if told < there && EACH.contains(&path.as_str()) {
            let message = format!("`{path}` comes out {told} times of {there}; once not in the sample `{sample}`");
            report.at(&OUTPUT_LACKS, template, last, message);
        }
    }
}

/// Minutes to the hundredth or whole ones: a dialect says one of them.
fn either(path: &str) -> String {
    path.replace(".minutes.about", ".minutes.likely").replace(".minutes.at_worst", ".minutes.worst")
}

fn wanted(path: &str) -> bool {
    !FREE.iter().any(|free| {
        path == *free || (path.starts_with(free) && (free.ends_with('.') || path[free.len()..].starts_with('.')))
    })
}

/// Tables: every value of every cable has a cell.
fn tables(made: &[Made], report: &mut Report) {
    let mut told = BTreeSet::new();
    for made in made {
        for file in made.files.iter().filter(|file| file.kind == OutputKind::Csv && file.one_per == OnePer::Stack) {
            for token in made.marked.tokens.iter().filter(|token| token.path.starts_with("cables.")) {
                if !holds(&file.text, &token.text) && told.insert((file.template.clone(), token.path.clone())) {
                    let last = token.path.rsplit('.').next().unwrap_or("");
                    let message = format!("`{}` does not come out in `{}`", token.path, file.path);
                    report.at(&OUTPUT_LACKS, &file.template, last, message);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The canary of `not-the-same-twice`: no template that may be written is so, and the check must find one all the same.
    #[test]
    fn two_renderings_that_differ_are_found() {
        assert_eq!(NOT_THE_SAME_TWICE.name, "not-the-same-twice");
        let file = |path: &str, text: &str| Rendered {
            path: path.to_owned(),
            template: "a.j2".to_owned(),
            kind: OutputKind::Text,
            one_per: OnePer::Stack,
            segment: None,
            text: text.to_owned(),
        };
        let one = [file("a.txt", "1"), file("b.txt", "2")];
        assert!(differing(&one, &one).is_empty());
        let told = |again: &[Rendered]| differing(&one, again).into_iter().map(|(_, path)| path).collect::<Vec<_>>();
        assert_eq!(told(&[file("a.txt", "1"), file("b.txt", "3")]), ["b.txt"]);
        assert_eq!(told(&[file("a.txt", "1")]), ["b.txt"]);
    }

    #[test]
    fn what_is_free_is_free_with_all_its_parts() {
        assert!(!wanted("units.*.key") && !wanted("stack.vars.rack") && !wanted("dialect.name"));
        assert!(wanted("change.sentence") && wanted("step.care.*.harm") && wanted("stack.name"));
    }
}
