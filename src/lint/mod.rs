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
mod outputs;
mod report;
pub mod samples;
pub mod scaffold;
mod scopes;
mod scopes_of_facts;
mod states;
mod tokens;
pub mod trial;
mod words;

pub use report::CODES;

use crate::diag::Findings;
use crate::platform::{MANIFEST, Platform};
use crate::render::Bench;
use crate::source::Sources;

use report::{Report, SAMPLE_UNPLANNED};

/// Tries every template of a dialect, and reports all that is wrong.
pub fn lint(platform: &Platform, sources: &Sources, findings: &mut Findings) {
    let mut report = Report { platform, sources, findings };
    let texts = words::check(platform, &mut report);
    words::check_places(&texts, &mut report);
    let (samples, left) = samples::samples(platform);
    for (name, why) in left {
        let message = format!("the sample `{name}` cannot be done on this platform: {why}");
        report.warn_at(&SAMPLE_UNPLANNED, MANIFEST, "platform", message);
    }
    let mut reached = outputs::check(&samples, &mut report);
    hostile::check(&samples, &mut report);
    // words have been tried one by one, each on a bench of its own: what they include is theirs
    let bench = Bench::new(platform);
    scopes::exercises(platform).iter().for_each(|exercise| drop(words::said(&bench, exercise, &exercise.scope)));
    reached.extend(bench.reached());
    leftovers::check(&reached, &mut report);
}
