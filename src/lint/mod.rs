//! A dialect -> findings: what its templates forget, swap, hard-code or leave over.
//!
//! Nothing here knows the words of a platform. Templates are tried: rendered with one argument changed, with a mark
//! in the place of each value, with signs that mean something to files. A value that makes no difference has been
//! dropped; marks show what came out, where, and in which order. The changes that are rendered are made here
//! ([`samples`]), adapted to the dialect's traits.
//!
//! What no change of a value shows is a sentence without a value in it: a heading that is gone, a caution in other
//! words. Golden cases hold those ([`cases`]).

pub mod cases;
mod hostile;
mod leftovers;
mod neighbours;
mod outputs;
mod report;
pub mod samples;
pub mod scaffold;
mod scopes;
mod scopes_of_facts;
mod snippets;
mod states;
mod tokens;
pub mod trial;
mod words;

pub use report::CODES;

use crate::diag::Findings;
use crate::platform::{MANIFEST, Platform};
use crate::render::Bench;
use crate::source::Sources;

use report::{OUTPUT_LACKS, Report, SAMPLE_UNPLANNED};
use samples::Proved;

/// Tries every template of a dialect, and reports all that is wrong.
pub fn lint(platform: &Platform, sources: &Sources, findings: &mut Findings) {
    let (proved, left) = samples::proved(platform);
    for (name, why) in left {
        let message = format!("the sample `{name}` cannot be done on this platform: {why}");
        let mut report = Report { platform, sources, findings };
        report.warn_at(&SAMPLE_UNPLANNED, MANIFEST, "platform", message);
    }
    lint_with(&proved, platform, sources, findings);
}

/// The same with changes that were proved before, on the same traits.
pub fn lint_with(proved: &[Proved], platform: &Platform, sources: &Sources, findings: &mut Findings) {
    let mut report = Report { platform, sources, findings };
    let texts = words::check(platform, &mut report);
    neighbours::check(&texts, &mut report);
    words::check_names(platform, &mut report);
    let mut samples = Vec::new();
    for one in proved {
        match one.sample(platform) {
            Ok(sample) => samples.push(sample),
            Err(fault) => report.fault(&fault),
        }
    }
    if platform.outputs.is_empty() {
        report.at(
            &OUTPUT_LACKS,
            MANIFEST,
            "outputs",
            "no output is declared, and this dialect extends none that declares any",
        );
    }
    if samples.is_empty() || platform.outputs.is_empty() {
        return;
    }
    let mut reached = outputs::check(&samples, &mut report);
    hostile::check(&samples, &mut report);
    // words have been tried one by one, each on a bench of its own: what they include is theirs
    let bench = Bench::new(platform);
    scopes::exercises(platform).iter().for_each(|exercise| drop(words::said(&bench, exercise, &exercise.scope)));
    reached.extend(bench.reached());
    leftovers::check(&reached, &mut report);
}

/// Everything that a dialect says where it is tried: each file of each sample, and the words of each step and fact.
/// Two dialects that say the same here are the same to the lint; what fails says why.
#[must_use]
pub fn said(proved: &[Proved], platform: &Platform) -> Vec<(String, String)> {
    let mut said = Vec::new();
    for sample in proved {
        let name = sample.name();
        let files = sample.sample(platform).and_then(|sample| Bench::new(platform).outputs(&sample.context));
        match files {
            Ok(files) => {
                said.extend(files.into_iter().map(|file| (format!("{name}: {}", file.path), file.text)));
            }
            Err(fault) => said.push((name.to_owned(), fault.to_string())),
        }
    }
    for exercise in scopes::exercises(platform) {
        let bench = Bench::new(platform);
        let scopes = std::iter::once(&exercise.scope).chain(exercise.changed.iter().map(|(_, scope)| scope));
        for scope in scopes {
            let text = words::said(&bench, &exercise, scope).unwrap_or_else(|fault| fault.to_string());
            said.push((exercise.template.clone(), text));
        }
    }
    said
}
