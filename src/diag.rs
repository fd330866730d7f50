//! What a stage has to say about its input: diagnostics as data.
//!
//! The wording stands beside the rule that finds the fault, the drawing in `report`. Deliberately
//! absent: any list of messages. A stage names its codes in a `CODES` list next to its rules.

use std::collections::BTreeSet;

use crate::source::Span;

/// The stable name of one kind of fault, and why it is one.
#[derive(Debug, PartialEq, Eq)]
pub struct Code {
    /// The name that people and pipelines see.
    pub name: &'static str,
    /// What the rule is for and what to do, in whole sentences.
    pub explanation: &'static str,
}

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Nothing comes out.
    Error,
    /// Worth knowing.
    Warning,
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
        }
    }
}

/// Another place that belongs to the fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Related {
    /// Where.
    pub place: Span,
    /// What stands there.
    pub text: String,
}

/// One fault that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Its kind.
    pub code: &'static Code,
    /// How bad it is.
    pub severity: Severity,
    /// What was found and what would be right: one line, lower case, no full stop.
    pub message: String,
    /// Where; none if no file holds the fault.
    pub place: Option<Span>,
    /// Other places that belong to it.
    pub related: Vec<Related>,
    /// What to do, as an imperative.
    pub help: Option<String>,
}

impl Diagnostic {
    /// An error at a place.
    #[must_use]
    pub fn error(code: &'static Code, place: impl Into<Option<Span>>, message: impl Into<String>) -> Self {
        let (message, place) = (message.into(), place.into());
        Self { code, severity: Severity::Error, message, place, related: Vec::new(), help: None }
    }

    /// A warning at a place.
    #[must_use]
    pub fn warning(code: &'static Code, place: impl Into<Option<Span>>, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, place, message) }
    }

    /// The same with one more place.
    #[must_use]
    pub fn related(mut self, place: Span, text: impl Into<String>) -> Self {
        self.related.push(Related { place, text: text.into() });
        self
    }

    /// The same with the known word that was most likely meant, if one is near, or else with an imperative.
    #[must_use]
    pub fn help_nearest<'a>(self, word: &str, known: impl IntoIterator<Item = &'a str>, otherwise: &str) -> Self {
        match nearest(word, known) {
            Some(meant) => self.help(format!("write `{meant}`")),
            None => self.help(otherwise),
        }
    }

    /// The same with an imperative.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }
}

/// Proof that an error was reported. Only [`Findings`] makes one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reported(());

/// All that a run has found so far.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Findings {
    all: Vec<Diagnostic>,
    settled: BTreeSet<Span>,
}

/// How much had been found at some moment.
#[derive(Clone, Copy, Debug)]
pub struct Mark(usize);

impl Findings {
    /// Takes in an error. At a place where an earlier stage has settled what is wrong, nothing is said twice.
    pub fn error(&mut self, diagnostic: Diagnostic) -> Reported {
        if diagnostic.place.is_none_or(|place| !self.settled.contains(&place)) {
            self.all.push(Diagnostic { severity: Severity::Error, ..diagnostic });
        }
        Reported(())
    }

    /// Settles the places of all errors since the mark: a value that has no right form is not judged further.
    pub fn settle_since(&mut self, mark: Mark) {
        let new = self.all.get(mark.0..).unwrap_or(&[]);
        self.settled
            .extend(new.iter().filter(|found| found.severity == Severity::Error).filter_map(|found| found.place));
    }

    /// Takes in a warning.
    pub fn warn(&mut self, diagnostic: Diagnostic) {
        self.all.push(Diagnostic { severity: Severity::Warning, ..diagnostic });
    }

    /// Remembers how much has been found so far.
    #[must_use]
    pub fn mark(&self) -> Mark {
        Mark(self.all.len())
    }

    /// Whether nothing was found since the mark was made.
    #[must_use]
    pub fn nothing_since(&self, mark: Mark) -> bool {
        self.all.len() == mark.0
    }

    /// Fails if an error was reported since the mark was made.
    ///
    /// # Errors
    /// [`Reported`], if there was one.
    pub fn failed_since(&self, mark: Mark) -> Result<(), Reported> {
        let new = self.all.get(mark.0..).unwrap_or(&[]);
        if new.iter().any(|found| found.severity == Severity::Error) { Err(Reported(())) } else { Ok(()) }
    }

    /// All diagnostics, in the order in which they were found.
    #[must_use]
    pub fn all(&self) -> &[Diagnostic] {
        &self.all
    }

    /// Whether there is an error among them.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.failed_since(Mark(0)).is_err()
    }

    /// Sorts by place, those without one first, and drops what was said twice.
    pub fn sort(&mut self) {
        self.all.sort_by(|a, b| {
            (a.place, a.severity, a.code.name, &a.message).cmp(&(b.place, b.severity, b.code.name, &b.message))
        });
        self.all.dedup();
    }
}

/// The candidate nearest to a misspelt word, if one is near enough to be meant.
#[must_use]
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let ratio = |candidate: &str| similar::TextDiff::from_chars(word.to_lowercase(), candidate.to_lowercase()).ratio();
    let best = candidates.into_iter().map(|candidate| (ratio(candidate), candidate)).max_by(|a, b| a.0.total_cmp(&b.0));
    best.filter(|(ratio, _)| *ratio >= 0.6).map(|(_, candidate)| candidate)
}

/// `a`, `b` and `c`, each in back quotes.
#[must_use]
pub fn listed<'a>(words: impl IntoIterator<Item = &'a str>, last: &str) -> String {
    let quoted: Vec<String> = words.into_iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        Some((end, [])) => end.clone(),
        Some((end, rest)) => format!("{} {last} {end}", rest.join(", ")),
        None => "nothing".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_word_is_near() {
        assert_eq!(nearest("topologie", ["members", "topology", "stack"]), Some("topology"));
        assert_eq!(nearest("west", ["members", "topology"]), None);
    }

    #[test]
    fn an_error_since_a_mark_fails() {
        const CODE: Code = Code { name: "x", explanation: "" };
        static STATIC: Code = CODE;
        let mut findings = Findings::default();
        let mark = findings.mark();
        findings.warn(Diagnostic::warning(&STATIC, None, "look"));
        assert!(findings.failed_since(mark).is_ok());
        let reported = findings.error(Diagnostic::error(&STATIC, None, "bad"));
        assert_eq!(findings.failed_since(mark), Err(reported));
        assert!(findings.failed_since(findings.mark()).is_ok());
    }

    #[test]
    fn words_are_listed_as_people_list_them() {
        assert_eq!(listed(["a"], "or"), "`a`");
        assert_eq!(listed(["a", "b", "c"], "or"), "`a`, `b` or `c`");
    }
}
