//! What is told in words that the templates hold themselves -> findings, where another state makes no difference.
//!
//! Whether it is safe to stop, whether one broken link would split the stack, which caution and which kind of care:
//! a yes must read otherwise than a no, and each kind otherwise than the others.

use super::report::{OUTPUT_LACKS, Report};
use super::samples::Sample;
use super::tokens::{Marked, holds, marked};
use crate::platform::{OnePer, OutputKind};
use crate::render::{Bench, CareView, CautionView, Context, StepView};

/// A state of the context: its path, its last key, and what turns it over.
type Turn = (&'static str, &'static str, fn(&mut Context));

/// Turns every state over, and looks whether a file for people says so.
pub(super) fn check(samples: &[Sample], report: &mut Report) {
    let turns: [Turn; 6] = [
        ("step.stop.safe", "safe", |context| {
            steps(context).for_each(|step| step.stop.iter_mut().for_each(|stop| stop.safe ^= true));
        }),
        ("step.sees.unprotected", "unprotected", |context| {
            steps(context).for_each(|step| step.sees.iter_mut().for_each(|sees| sees.unprotected ^= true));
        }),
        ("change.window.enough", "enough", |context| {
            context.change.window.iter_mut().for_each(|window| window.enough ^= true);
        }),
        ("change.hands.work.covered", "covered", |context| {
            let work = context.change.hands.iter_mut().filter_map(|hands| hands.work.as_mut());
            work.for_each(|work| work.covered ^= true);
        }),
        ("change.proof.primary_kept", "primary_kept", |context| context.change.proof.primary_kept ^= true),
        ("change.checks_before.*.compare", "compare", |context| {
            context.change.checks_before.iter_mut().for_each(|check| check.compare ^= true);
        }),
    ];
    let marked: Vec<Marked> = samples.iter().filter_map(|sample| marked(&sample.context, "")).collect();
    for (path, last, turn) in turns {
        let turned = |context: &Context| {
            let mut context = context.clone();
            turn(&mut context);
            context.regroup();
            context
        };
        let shows = marked.iter().any(|one| said(&one.context, report) != said(&turned(&one.context), report));
        if !shows {
            tell(path, last, report);
        }
    }
    kinds(&marked, report);
}

fn steps(context: &mut Context) -> impl Iterator<Item = &mut StepView> {
    context.moves.iter_mut().flat_map(|one| &mut one.steps).map(|step| &mut **step)
}

fn tell(path: &str, last: &str, report: &mut Report) {
    lacks(last, format!("`{path}` makes no difference to what people read"), report);
}

/// A finding in the first file for people.
fn lacks(word: &str, message: String, report: &mut Report) {
    let outputs = &report.platform.outputs;
    let template = outputs.iter().find(|one| one.one_per == OnePer::Stack && for_people(one.kind));
    let template = template.map_or(crate::platform::MANIFEST, |output| &output.template).to_owned();
    report.at(&OUTPUT_LACKS, &template, word, message);
}

const fn for_people(kind: OutputKind) -> bool {
    matches!(kind, OutputKind::Text | OutputKind::Markdown | OutputKind::Html)
}

/// All files for people, one after the other; nothing where a template fails, which another check reports.
fn said(context: &Context, report: &Report) -> String {
    let files = Bench::new(report.platform).outputs(context).unwrap_or_default();
    files
        .into_iter()
        .filter(|file| file.one_per == OnePer::Stack && for_people(file.kind))
        .map(|file| file.text)
        .collect()
}

/// Each kind of slip and of caution, on the first step: all of them read differently, and name what they are about.
fn kinds(marked: &[Marked], report: &mut Report) {
    let Some(one) = marked.first() else { return };
    let with = |change: &dyn Fn(&mut StepView)| {
        let mut context = one.context.clone();
        if let Some(step) = steps(&mut context).next() {
            (step.care, step.cautions) = (Vec::new(), Vec::new());
            change(step);
        }
        context.regroup();
        context
    };
    let care =
        |slip: &str| CareView { slip: slip.to_owned(), with: vec!["Withq".to_owned()], harm: "Harmq".to_owned() };
    // of those in one list, all say what is not to be taken for what is meant
    let slips = [&["leave-out"][..], &["repeat"], &["swap"], &["mistype"], &["misplug", "wrong-unit", "misplace"]];
    let mut texts = vec![("no care at all".to_owned(), said(&with(&|_| {}), report))];
    for group in slips {
        let own = group
            .iter()
            .map(|slip| (format!("care.slip: {slip}"), said(&with(&|step| step.care.push(care(slip))), report)));
        let own: Vec<(String, String)> = own.collect();
        own.iter().for_each(|one| names(one, "Harmq", "harm", report));
        let with = group.iter().any(|slip| !["leave-out", "repeat", "swap"].contains(slip));
        own.iter().filter(|_| with).for_each(|one| names(one, "Withq", "with", report));
        own.iter().for_each(|one| same(&[texts.as_slice(), std::slice::from_ref(one)].concat(), "slip", report));
        texts.extend(own.into_iter().take(1));
    }
    let (unit, weight_kg) = ("Unitq".to_owned(), Some("Weightq".to_owned()));
    let cautions = [
        ("mains", CautionView::Mains),
        ("lifting", CautionView::Lifting { unit: unit.clone(), weight_kg: weight_kg.clone() }),
        ("lifting, no weight known", CautionView::Lifting { unit: unit.clone(), weight_kg: None }),
        ("wrong-unit", CautionView::WrongUnit { unit: unit.clone() }),
        ("zero-touch", CautionView::ZeroTouch { unit: unit.clone() }),
        ("powered-devices", CautionView::PoweredDevices { unit: unit.clone() }),
        ("unwiped", CautionView::Unwiped { unit: unit.clone() }),
        ("earthing", CautionView::Earthing { unit }),
        ("laser", CautionView::Laser),
        ("static", CautionView::Static),
    ];
    let mut texts = vec![("no caution at all".to_owned(), said(&with(&|_| {}), report))];
    for (kind, caution) in cautions {
        texts.push((format!("caution: {kind}"), said(&with(&|step| step.cautions.push(caution.clone())), report)));
        same(&texts, "cautions", report);
        let told = texts.last().cloned().unwrap_or_default();
        match &caution {
            CautionView::Lifting { unit, weight_kg } => {
                names(&told, unit, "unit", report);
                weight_kg.iter().for_each(|weight| names(&told, weight, "weight_kg", report));
            }
            CautionView::WrongUnit { unit }
            | CautionView::ZeroTouch { unit }
            | CautionView::PoweredDevices { unit }
            | CautionView::Unwiped { unit }
            | CautionView::Earthing { unit } => names(&told, unit, "unit", report),
            CautionView::Mains | CautionView::Laser | CautionView::Static => {}
        }
    }
}

/// Tells where a text does not hold what it is about.
fn names((name, text): &(String, String), value: &str, field: &str, report: &mut Report) {
    if !holds(text, value) {
        lacks(field, format!("`{field}` of `{name}` does not come out"), report);
    }
}

/// Tells where the last text is the same as an earlier one.
fn same(texts: &[(String, String)], word: &str, report: &mut Report) {
    let Some(((name, text), earlier)) = texts.split_last() else { return };
    if let Some((other, _)) = earlier.iter().find(|(_, earlier)| earlier == text) {
        lacks(word, format!("`{name}` reads as `{other}` does"), report);
    }
}
