//! What came of many cases -> counts for people, and every failure with all that it takes to repeat it.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Duration;

use ringwright::model::traits::Traits;

use super::habits;
use super::intents::Kind::Any;
use super::intents::{Case, KINDS};
use super::outcome::Failure;

/// One line of the counts.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counts {
    pub planned: usize,
    pub consented: usize,
    pub no_safe_order: usize,
    pub search_limit: usize,
    pub not_yet: usize,
    pub failed: usize,
}

/// A case that somebody has to look at.
struct Look {
    number: u64,
    weight: usize,
    text: String,
}

/// What came of all cases so far.
#[derive(Default)]
pub struct Tally {
    pub counts: BTreeMap<&'static str, Counts>,
    failures: BTreeMap<String, Vec<Look>>,
    impossible: BTreeMap<String, Vec<Look>>,
    limits: BTreeMap<String, Vec<Look>>,
    one_way: BTreeMap<String, Vec<Look>>,
    careless: BTreeMap<String, Vec<Look>>,
    careless_back: BTreeMap<String, Vec<Look>>,
    slowest: Vec<(Duration, u64)>,
    /// In how many planned changes a platform has each value of a trait.
    met: BTreeMap<String, usize>,
    /// How many plans networkx has looked at, and how many bundles were read back.
    pub graphs: usize,
    pub bundles: usize,
}

impl Look {
    fn new(case: &Case, neutral: &Traits, text: &str) -> Self {
        let text = repeat(case, neutral, text);
        Self { number: case.number, weight: case.after.members.len() * 100_000 + text.len(), text }
    }
}

/// All that it takes to repeat a case.
pub fn repeat(case: &Case, neutral: &Traits, text: &str) -> String {
    format!(
        "case {} ({}; edits {:?})\nrepeat: RINGWRIGHT_FROM={} RINGWRIGHT_CASES=1 cargo test --test flow random\n{text}\n--- habits: {}\n--- intent\n{}--- baseline\n{}",
        case.number,
        case.kind.name(),
        case.edits,
        case.number,
        habits::told(&case.traits, neutral),
        case.intent(&[], false),
        case.baseline.as_deref().unwrap_or("none\n"),
    )
}

impl Tally {
    pub fn kind(&mut self, case: &Case) -> &mut Counts {
        self.counts.entry(case.kind.name()).or_default()
    }

    pub fn fail(&mut self, case: &Case, neutral: &Traits, failure: &Failure) {
        self.kind(case).failed += 1;
        self.failures.entry(failure.symptom.clone()).or_default().push(Look::new(case, neutral, &failure.text));
    }

    /// Has these files looked at, and fails the cases whose file is objected to.
    pub fn blame(
        &mut self,
        files: &BTreeMap<PathBuf, &Case>,
        neutral: &Traits,
        judge: &dyn Fn(&[PathBuf]) -> BTreeMap<PathBuf, Failure>,
    ) {
        let paths: Vec<PathBuf> = files.keys().cloned().collect();
        if paths.is_empty() {
            return;
        }
        for (path, failure) in judge(&paths) {
            self.fail(files[&path], neutral, &failure);
        }
    }

    pub fn impossible(&mut self, case: &Case, neutral: &Traits, message: &str) {
        self.kind(case).no_safe_order += 1;
        self.impossible.entry(message.to_owned()).or_default().push(Look::new(case, neutral, message));
    }

    pub fn limit(&mut self, case: &Case, neutral: &Traits) {
        self.kind(case).search_limit += 1;
        let habits = if case.traits == *neutral { "neutral's" } else { "other" };
        let look = Look::new(case, neutral, "search-limit");
        self.limits.entry(format!("search-limit, {habits} habits")).or_default().push(look);
    }

    /// A plan from some step of which there is no way back.
    pub fn no_way_back(&mut self, case: &Case, neutral: &Traits) {
        let look = Look::new(case, neutral, "no way back from some step");
        self.one_way.entry("no way back".to_owned()).or_default().push(look);
    }

    /// A plan in which a mistake does harm that a look should have shown, or a look is there for nothing.
    pub fn careless(&mut self, case: &Case, neutral: &Traits, failure: &Failure) {
        let look = Look::new(case, neutral, &failure.text);
        self.careless.entry(failure.symptom.clone()).or_default().push(look);
    }

    /// A change that is planned, on a platform with these traits.
    pub fn meets(&mut self, traits: &Traits) {
        habits::values(traits).into_iter().for_each(|value| *self.met.entry(value).or_default() += 1);
    }

    /// The values that fewer planned changes met than they should, each with how many did.
    pub fn seldom(&self, values: &[&'static str], least: usize) -> BTreeMap<&'static str, usize> {
        let met = |value: &str| self.met.get(value).copied().unwrap_or_default();
        values.iter().map(|value| (*value, met(value))).filter(|(_, count)| *count < least).collect()
    }

    /// The same of its ways back.
    pub fn careless_back(&mut self, case: &Case, neutral: &Traits, failure: &Failure) {
        let look = Look::new(case, neutral, &failure.text);
        self.careless_back.entry(failure.symptom.clone()).or_default().push(look);
    }

    /// How many plans have such ways back.
    pub fn careless_ways(&self) -> usize {
        self.careless_back.values().map(Vec::len).sum()
    }

    /// How many such plans there are.
    pub fn careless_plans(&self) -> usize {
        self.careless.values().map(Vec::len).sum()
    }

    /// How many plans have a step without a way back.
    pub fn one_way(&self) -> usize {
        self.one_way.values().map(Vec::len).sum()
    }

    pub fn took(&mut self, case: &Case, time: Duration) {
        self.slowest.push((time, case.number));
        self.slowest.sort_unstable_by(|one, other| other.cmp(one));
        self.slowest.truncate(5);
    }

    pub fn add(&mut self, other: Self) {
        for (kind, counts) in other.counts {
            let sum = self.counts.entry(kind).or_default();
            sum.planned += counts.planned;
            sum.consented += counts.consented;
            sum.no_safe_order += counts.no_safe_order;
            sum.search_limit += counts.search_limit;
            sum.not_yet += counts.not_yet;
            sum.failed += counts.failed;
        }
        let rows = [
            (other.failures, &mut self.failures),
            (other.impossible, &mut self.impossible),
            (other.limits, &mut self.limits),
            (other.one_way, &mut self.one_way),
            (other.careless, &mut self.careless),
            (other.careless_back, &mut self.careless_back),
        ];
        for (from, into) in rows {
            from.into_iter().for_each(|(symptom, looks)| into.entry(symptom).or_default().extend(looks));
        }
        other.met.into_iter().for_each(|(value, count)| *self.met.entry(value).or_default() += count);
        self.slowest.extend(other.slowest);
        self.slowest.sort_unstable_by(|one, other| other.cmp(one));
        self.slowest.truncate(5);
        self.graphs += other.graphs;
        self.bundles += other.bundles;
    }

    pub fn total(&self) -> Counts {
        self.counts.values().fold(Counts::default(), |sum, one| Counts {
            planned: sum.planned + one.planned,
            consented: sum.consented + one.consented,
            no_safe_order: sum.no_safe_order + one.no_safe_order,
            search_limit: sum.search_limit + one.search_limit,
            not_yet: sum.not_yet + one.not_yet,
            failed: sum.failed + one.failed,
        })
    }

    /// How many cases reached the bound of the search.
    pub fn limits(&self) -> usize {
        self.limits.values().map(Vec::len).sum()
    }

    /// One line a kind.
    pub fn table(&self) -> String {
        let mut text = format!("{:44} planned consents  no order  limit  not yet  failed\n", "kind");
        let mut line = |name: &str, one: &Counts| {
            writeln!(
                text,
                "{name:44} {:7} {:8} {:9} {:6} {:8} {:7}",
                one.planned, one.consented, one.no_safe_order, one.search_limit, one.not_yet, one.failed
            )
            .unwrap();
        };
        let mut names: Vec<&str> = KINDS.iter().map(|kind| kind.name()).collect();
        names.retain(|name| *name != Any.name());
        for name in names.into_iter().chain([Any.name()]) {
            self.counts.get(name).into_iter().for_each(|one| line(name, one));
        }
        line("all", &self.total());
        for (time, number) in &self.slowest {
            writeln!(text, "case {number} took {} ms", time.as_millis()).unwrap();
        }
        writeln!(text, "networkx saw {} plans, {} bundles were read back", self.graphs, self.bundles).unwrap();
        text
    }

    /// Each symptom with the numbers of its cases and the smallest of them in full.
    pub fn failures(&self) -> String {
        grouped(&self.failures)
    }

    /// The same of cases that nothing can do, and of those that took too long.
    pub fn refusals(&self) -> String {
        let plans = [&self.impossible, &self.limits, &self.one_way, &self.careless, &self.careless_back];
        plans.into_iter().map(grouped).collect()
    }
}

fn grouped(looks: &BTreeMap<String, Vec<Look>>) -> String {
    let mut text = String::new();
    for (symptom, looks) in looks {
        let mut numbers: Vec<u64> = looks.iter().map(|look| look.number).collect();
        numbers.sort_unstable();
        let smallest = looks.iter().min_by_key(|look| (look.weight, look.number)).unwrap();
        writeln!(text, "== {symptom}: {} cases {numbers:?}; the smallest:\n{}", looks.len(), smallest.text).unwrap();
    }
    text
}
