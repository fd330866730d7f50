//! `ringwright faults`: what fails in the finished stack, and what then.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{Exit, FindingsAs, Opened, Reader, Request, Standing, terminal};
use crate::analyse::availability::Times;
use crate::analyse::capacity;
use crate::analyse::compared::{self, Failures};
use crate::analyse::faults::{
    Common, Field, Survey, advice, cold_start, entry, finished, pair_entry, severity, survives,
};
use crate::compile::{TOO_LARGE, budgets};
use crate::diag::Diagnostic;
use crate::intent::{FailureTimes, Intent};
use crate::lower::Site;
use crate::model::document::FaultEntry;
use crate::model::naming::setting;
use crate::model::setting::Setting;
use crate::model::table::UnitId;
use crate::render::commons;
use crate::report::faults::{Told, faults, section};

/// The pairs that are listed for people.
const MOST_PAIRS: usize = 12;
/// Say what each fault of the finished stack, and each two at once, would do.
///
/// Faults are stack links, single cables of several, units, and legs of uplink pairs. The worst come first, a line
/// each, then what would cure them. Nothing is planned, and nothing is written.
#[derive(Args)]
pub(super) struct Faults {
    /// The intent.
    #[arg(value_name = "INTENT")]
    intent: PathBuf,
    /// The intent of the stack as it stands; it comes before the one that the intent names.
    #[arg(long, value_name = "BASELINE")]
    from: Option<PathBuf>,
    /// A dialect instead of the intent's: a built-in one's name, or a folder.
    #[arg(long, value_name = "DIALECT")]
    dialect: Option<String>,
    /// A folder in which dialects may lie, besides the intent's own.
    #[arg(long, value_name = "DIR")]
    dialect_root: Vec<PathBuf>,
    /// How to write what was found; as data, it is a list of every single fault, then every pair.
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    findings: ListAs,
}

/// How the list is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum ListAs {
    /// In sentences, for people.
    #[default]
    Text,
    /// As data, for programs.
    Json,
}

impl Faults {
    pub(super) fn run(self) -> Exit {
        let mut reader = Reader::new(self.dialect_root.clone());
        let found = self.found(&mut reader);
        if let Some((opened, setting)) = &found {
            budgets::of_the_stack(&opened.intent, &opened.problem.site, setting, &mut reader.findings);
        }
        reader.findings.sort();
        let exit = terminal::exit(&reader.findings, reader.unreadable);
        let Some((opened, setting)) = found else {
            let form = if self.findings == ListAs::Json { FindingsAs::Json } else { FindingsAs::Text };
            terminal::findings(&reader.findings, &reader.sources, form);
            return exit;
        };
        // the list alone goes to standard output
        terminal::findings(&reader.findings, &reader.sources, FindingsAs::Text);
        let survey = Survey::of(finished(&setting));
        match self.findings {
            ListAs::Json => terminal::print(&json(&survey)),
            ListAs::Text => {
                let mut text = told(&survey, &commons(&opened.problem.site));
                text += &loads(&survey, &opened.intent, &opened.problem.site);
                text += &availability(&setting, &opened);
                terminal::print(&text);
            }
        }
        exit
    }

    /// The finished stack, by indices.
    fn found(&self, reader: &mut Reader) -> Option<(Opened, Setting)> {
        let request = Request {
            intent: &self.intent,
            from: Standing::or_named(self.from.as_deref()),
            dialect: self.dialect.as_deref(),
        };
        let opened = reader.open(&request).ok()?;
        match setting(&opened.problem.documents()) {
            Ok(setting) => Some((opened, setting)),
            Err(faults) => {
                let told = faults.first().map_or_else(String::new, |fault| fault.text.clone());
                let message = format!("this stack cannot be held in a plan: {told}");
                reader.findings.error(Diagnostic::error(&TOO_LARGE, opened.intent.stack.span, message));
                None
            }
        }
    }
}

fn singles(survey: &Survey<'_>, order: impl Iterator<Item = usize>) -> Vec<FaultEntry> {
    let one = |at: usize| {
        let (single, outcome) = (survey.field.singles.get(at)?, survey.singles.get(at)?);
        Some(entry(survey.field.setting, &[single.fault], outcome))
    };
    order.filter_map(one).collect()
}

fn json(survey: &Survey<'_>) -> String {
    let mut all = singles(survey, 0..survey.singles.len());
    all.extend(survey.pairs().map(|pair| pair_entry(survey, &pair)));
    // plain data: writing it cannot fail
    let lines: Vec<String> = all.iter().filter_map(|entry| serde_json::to_string(entry).ok()).collect();
    format!("[\n{}\n]\n", lines.join(",\n"))
}

fn told(survey: &Survey<'_>, commons: &[Common]) -> String {
    let setting = survey.field.setting;
    let mut tried = 0;
    let mut harmful: Vec<_> = survey.pairs().inspect(|_| tried += 1).collect();
    harmful.retain(|pair| !survives(&survey.healthy, &pair.outcome));
    harmful.sort_by_key(|pair| std::cmp::Reverse(severity(&survey.healthy, &pair.outcome)));
    let pairs: Vec<FaultEntry> = harmful.iter().take(MOST_PAIRS).map(|pair| pair_entry(survey, pair)).collect();
    faults(&Told {
        stack: &setting.stack,
        healthy: &entry(setting, &[], &survey.healthy),
        singles: &singles(survey, survey.ranked().into_iter()),
        pairs: &pairs,
        tried,
        harmful: harmful.len(),
        cures: &advice(survey, commons),
        cold_start: &cold_start(&survey.field),
    })
}

/// What the links carry, where speeds and demands are known.
fn loads(survey: &Survey<'_>, intent: &Intent, site: &Site) -> String {
    let found = budgets::loads(survey, intent, site);
    found.map_or_else(String::new, |found| section("Load", &capacity::told(survey, &found)))
}

/// How often all of it works, where failures and repairs are known: as it stands, and finished.
fn availability(setting: &Setting, opened: &Opened) -> String {
    let (intent, platform) = (&opened.intent, &opened.platform);
    let times = |times: FailureTimes| Times { mtbf_hours: times.mtbf_hours, mttr_hours: times.mttr_hours };
    let given = intent.availability.as_ref();
    let Some(link) = given.and_then(|given| given.link).or(platform.links).map(times) else { return String::new() };
    let unit = |unit: UnitId| {
        let of_model = || {
            let model = platform.model(setting.units[unit].model.as_deref())?;
            Some(Times { mtbf_hours: model.mtbf_hours?, mttr_hours: model.mttr_hours? })
        };
        given.and_then(|given| given.unit).map(times).or_else(of_model)
    };
    let failures = Failures { unit: &unit, link };
    let mut lines = Vec::new();
    if opened.baseline.is_some() {
        let before = Field::new(setting, &setting.baseline, setting.all_units());
        lines.extend(compared::told(&before, failures, "as it stands").into_iter().take(1));
    }
    lines.extend(compared::told(&finished(setting), failures, "finished"));
    if lines.is_empty() { String::new() } else { section("Availability, for comparison only", &lines) }
}
