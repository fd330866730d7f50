//! The outputs of marked samples -> findings: what did not come out, and what stands in another order than the plan's.
//! What is pasted is looked at in `snippets`.

use std::collections::{BTreeMap, BTreeSet};

use super::neighbours;
use super::report::{NOT_THE_SAME_TWICE, OUTPUT_LACKS, Report, STEP_ORDER};
use super::samples::Sample;
use super::snippets;
use super::tokens::{Marked, STEP_BASE, holds, marked, places};
use crate::platform::{OnePer, OutputKind};
use crate::render::{Bench, Context, PlaceView, Rendered, StepView};

/// Values that a runbook says each time: by path; the others of what it says at all, at least once.
const EACH: [&str; 26] = [
    "ways_back.*.first",
    "ways_back.*.last",
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
const FREE: [&str; 30] = [
    "change.proof.half_protected_minutes",
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
    "step.place.key",
    "way.step.place.key",
    "places.",
    "moves.*.groups.",
    "moves.*.minutes.best",
    "step.minutes.best",
    "times.",
    "hand_over.",
    "labels.",
];

/// One sample with its marks, and the files that were made from it.
pub(super) struct Made<'a> {
    pub(super) sample: &'a Sample,
    pub(super) marked: Marked,
    pub(super) files: Vec<Rendered>,
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
        made.files.iter().filter(|file| file.segment.is_some()).for_each(|file| snippets::segment(made, file, report));
    }
    snippets::marks(&made, report);
    for (made, file) in made.iter().flat_map(|made| made.files.iter().map(move |file| (made, file))) {
        if file.kind != OutputKind::Csv {
            let told = made.marked.tokens.iter().map(|token| (token.path.as_str(), token.text.as_str()));
            neighbours::in_file(&file.template, &file.text, told, report);
        }
    }
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
pub(super) fn lines(step: &StepView) -> impl Iterator<Item = &str> {
    step.lines.iter().map(String::as_str)
}

/// The number that a step has in the plan.
pub(super) fn number(step: &StepView) -> u64 {
    u64::from(step.number).saturating_sub(STEP_BASE)
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
            in_rows(made, file, &IN_ORDER, report);
            in_order(made, file, context.steps(), "step", report);
            let all: Vec<&StepView> = context.steps().collect();
            told_places(made, file, &all, report);
            for way in &context.ways_back {
                in_order(made, file, way.steps.iter().map(|step| &**step), "step of a way back", report);
            }
        }
        values(&template, &pairs, report);
    }
}

/// A file for people that tells at least some of the steps.
fn is_runbook(file: &Rendered, made: &[Made]) -> bool {
    let told = matches!(file.kind, OutputKind::Text | OutputKind::Markdown | OutputKind::Html);
    let whole = file.one_per == OnePer::Stack && told;
    let all = |context: &Context| context.steps().flat_map(lines).filter(|line| holds(&file.text, line)).count();
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

/// Wherever the place changes, it is said: between the words of the step before and those of the step after.
fn told_places(made: &Made, file: &Rendered, steps: &[&StepView], report: &mut Report) {
    let spot = |step: &StepView| lines(step).next().and_then(|line| places(&file.text, line).next());
    // marks stand for names: whether a place is the same is asked of the names
    let real: Vec<&PlaceView> = made.sample.context.steps().map(|step| &step.place).collect();
    for (at, step) in steps.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|before| steps.get(before));
        let same = at > 0 && real.get(at) == at.checked_sub(1).and_then(|before| real.get(before));
        if same || step.lines.is_empty() {
            continue;
        }
        let start = before.and_then(|step| spot(step)).unwrap_or(0);
        let end = steps.get(at + 1).and_then(|step| spot(step)).unwrap_or(file.text.len());
        let part = file.text.get(start..end.max(start)).unwrap_or("");
        let named = match &step.place {
            PlaceView::Console { unit, .. } => holds(part, unit),
            PlaceView::Stack { stack, .. } => holds(part, stack),
            PlaceView::Hands { .. } => true,
        };
        if !named {
            let message =
                format!("the place of step {} of the sample `{}` is not told", number(step), made.sample.name);
            return report.at(&OUTPUT_LACKS, &file.template, "place", message);
        }
    }
}

/// Values by their paths: how often they were there, how often they came out, and one that did not.
fn values(template: &str, pairs: &[(&Made, &Rendered)], report: &mut Report) {
    let mut count: BTreeMap<String, (usize, usize, &str)> = BTreeMap::new();
    for (made, file) in pairs {
        let drawn = is_drawn(made, file);
        let in_rows = |path: &str| path.starts_with("change.before.") || path.starts_with("change.after.");
        let tokens = made.marked.tokens.iter().filter(|token| wanted(&token.path));
        for token in tokens.filter(|token| !(drawn && in_rows(&token.path))) {
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

/// Minutes to the hundredth or whole ones, as it usually goes or as is expected: a dialect says one of them.
fn either(path: &str) -> String {
    let likely = [".minutes.about_expected", ".minutes.expected", ".minutes.about"];
    let path = likely.iter().fold(path.to_owned(), |path, one| path.replace(one, ".minutes.likely"));
    path.replace(".minutes.at_worst", ".minutes.worst")
}

/// Whether a file has the drawing, which says what the rows of the upright picture say.
fn is_drawn(made: &Made, file: &Rendered) -> bool {
    let picture = &made.marked.context.picture;
    let frames = [&picture.before, &picture.after].into_iter();
    let mut numbers = frames.flat_map(|frame| frame.values()).filter_map(|one| one.get("numbers")).peekable();
    file.kind == OutputKind::Html && numbers.peek().is_some() && numbers.all(|text| file.text.contains(&**text))
}

fn wanted(path: &str) -> bool {
    !FREE.iter().any(|free| {
        path == *free || (path.starts_with(free) && (free.ends_with('.') || path[free.len()..].starts_with('.')))
    })
}

/// What a table may tell of; the patch list, if it tells of nothing.
const CABLES: &str = "cables.";
const LABELS: &str = "labels.";

/// Tables: every value of every cable has a cell, or of every label.
fn tables(made: &[Made], report: &mut Report) {
    let is_table = |file: &&Rendered| file.kind == OutputKind::Csv && file.one_per == OnePer::Stack;
    let pairs = || made.iter().flat_map(|made| made.files.iter().filter(is_table).map(move |file| (made, file)));
    // names of units stand in both: what most of its values are of is what a table tells of
    let tells = |list: &str, template: &str| {
        pairs().filter(|(_, file)| file.template == template).any(|(made, file)| {
            let of = || made.marked.tokens.iter().filter(|token| token.path.starts_with(list));
            2 * of().filter(|token| holds(&file.text, &token.text)).count() > of().count()
        })
    };
    let mut told = BTreeSet::new();
    for (made, file) in pairs() {
        in_rows(made, file, &[CABLES, LABELS], report);
        let list = if tells(LABELS, &file.template) { LABELS } else { CABLES };
        for token in made.marked.tokens.iter().filter(|token| token.path.starts_with(list)) {
            if !holds(&file.text, &token.text) && told.insert((file.template.clone(), token.path.clone())) {
                let last = token.path.rsplit('.').next().unwrap_or("");
                let message = format!("`{}` does not come out in `{}`", token.path, file.path);
                report.at(&OUTPUT_LACKS, &file.template, last, message);
            }
        }
    }
}

/// Lists of a runbook whose order says something.
const IN_ORDER: [&str; 4] = ["times.stages.", "change.checks_before.", "change.checks_after.", "change.consents."];

/// What comes out of a list comes in its order.
fn in_rows(made: &Made, file: &Rendered, lists: &[&str], report: &mut Report) {
    let mut columns: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for token in made.marked.tokens.iter().filter(|token| lists.iter().any(|of| token.path.starts_with(of))) {
        columns.entry(&token.path).or_default().extend(places(&file.text, &token.text).next());
    }
    if let Some(path) = columns.iter().find_map(|(path, found)| (!found.is_sorted()).then_some(*path)) {
        let message = format!("in `{}`, `{path}` comes in another order than in the context", file.path);
        let list = path.split(".*").next().and_then(|list| list.rsplit('.').next()).unwrap_or(path);
        report.at(&STEP_ORDER, &file.template, list, message);
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
            declared: path.to_owned(),
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
