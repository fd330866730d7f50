//! The codes of the lint, and how a finding gets its place in a template.

use crate::compile::template_fault;
use crate::diag::{Code, Diagnostic, Findings};
use crate::platform::{MANIFEST, Platform};
use crate::render::RenderError;
use crate::source::{Sources, Span};

/// The codes of this stage.
pub const CODES: &[&Code] = &[
    &ARGUMENT_UNUSED,
    &ARGUMENT_PLACE,
    &WORDS_ALIKE,
    &NAMES_ALIKE,
    &OUTPUT_LACKS,
    &STEP_ORDER,
    &LINE_UNMARKED,
    &VALUE_ADDS_LINE,
    &NOT_THE_SAME_TWICE,
    &TEMPLATE_UNUSED,
    &NAME_UNUSED,
    &SAMPLE_UNPLANNED,
];

/// Words that do not change with an argument.
pub(super) const ARGUMENT_UNUSED: Code = Code {
    name: "argument-unused",
    explanation: "The words of a step or a fact hold every argument that it has: with another port, id, side or unit they \
must be other words. Where they stay the same, the argument was left out, or a value was written down in its place. At a \
unit's own console the unit itself need not be named, for the heading of the file does that.",
};
/// Arguments that may stand in each other's place.
pub(super) const ARGUMENT_PLACE: Code = Code {
    name: "argument-place",
    explanation: "A word that stands beside one class of value in several templates stands beside another class in one: as if \
two arguments had changed places. Where it is meant so, take another word.",
};
/// Two operations in the same words.
pub(super) const WORDS_ALIKE: Code = Code {
    name: "words-alike",
    explanation: "Two kinds of operation are said in the same words with the same arguments. Most likely one template was made \
from the other, and its verb was left as it was.",
};
/// Two interfaces of one name.
pub(super) const NAMES_ALIKE: Code = Code {
    name: "names-alike",
    explanation: "`port_name` gives two interfaces of one stack the same name: member 1 port 13 and member 11 port 3 must not \
both be 113. Put a sign between the two numbers.",
};
/// An output without something that people need.
pub(super) const OUTPUT_LACKS: Code = Code {
    name: "output-lacks",
    explanation: "What the plan says reaches the people who carry it out: each step's words, the checks that open a file, what \
to do if they fail, cautions, ways back, warnings. The value that is named was in the context of a sample plan, and did not \
come out.",
};
/// Steps in another order than the plan's.
pub(super) const STEP_ORDER: Code = Code {
    name: "step-order",
    explanation: "The order of the steps is what was proved. A snippet file holds the check that opens it, then the steps of \
its own segment and no others, each once, in their order; a runbook holds all steps in the order of the plan.",
};
/// A line that would be typed and is no step.
pub(super) const LINE_UNMARKED: Code = Code {
    name: "line-unmarked",
    explanation: "A snippet file is pasted as it is. Every line that is no step's begins with the mark of a remark, the same in \
all of them, so that the platform does not take it for something to do.",
};
/// A value that changes the shape of a file.
pub(super) const VALUE_ADDS_LINE: Code = Code {
    name: "value-adds-line",
    explanation: "Descriptions, labels and names come from people. A quote, a bracket or a mark of a remark in one of them must \
not add a line, end one early, or become a part of the file's own form. Print values as they are and let the output's \
`kind` escape them.",
};
/// Two renderings that differ.
pub(super) const NOT_THE_SAME_TWICE: Code = Code {
    name: "not-the-same-twice",
    explanation: "The same intent gives the same bytes, so that a pipeline can tell what changed. This output was rendered twice \
and differs.",
};
/// A template that nothing uses.
pub(super) const TEMPLATE_UNUSED: Code = Code {
    name: "template-unused",
    explanation: "A template of this dialect was used by no output of any sample plan, and by no words. Most likely an output or \
an include that named it is gone.",
};
/// A name that nothing uses.
pub(super) const NAME_UNUSED: Code = Code {
    name: "name-unused",
    explanation: "A template sets, imports or defines a name that is never used. Most likely the line that used it is gone.",
};
/// A sample that this platform cannot do.
pub(super) const SAMPLE_UNPLANNED: Code = Code {
    name: "sample-unplanned",
    explanation: "The lint renders a few changes of its own making, adapted to the platform's traits. One of them could not be \
planned on this platform, so that what only it would show was not tried. That can be right, for a platform may not be \
able to do it; read what stands there.",
};

/// Findings of one dialect, each at its place in a template.
pub(super) struct Report<'a> {
    pub(super) platform: &'a Platform,
    pub(super) sources: &'a Sources,
    pub(super) findings: &'a mut Findings,
}

impl Report<'_> {
    /// An error in a template, where a word of it stands, or at its first line.
    pub(super) fn at(&mut self, code: &'static Code, template: &str, word: &str, message: impl Into<String>) {
        let place = self.place(template, word);
        self.findings.error(Diagnostic::error(code, place, message));
    }

    /// The same as a warning.
    pub(super) fn warn_at(&mut self, code: &'static Code, template: &str, word: &str, message: impl Into<String>) {
        let place = self.place(template, word);
        self.findings.warn(Diagnostic::warning(code, place, message));
    }

    /// A template that cannot be rendered.
    pub(super) fn fault(&mut self, fault: &RenderError) {
        let Some(place) = self.place(MANIFEST, "name") else { return };
        let found = template_fault(fault, self.platform, self.sources, place);
        if !self.findings.all().contains(&found) {
            self.findings.error(found);
        }
    }

    fn place(&self, template: &str, word: &str) -> Option<Span> {
        let file = *self.platform.file_ids.get(template)?;
        let text = self.sources.text(file);
        let start = (!word.is_empty()).then(|| find_word(text, word)).flatten();
        let range = start.map_or_else(|| 0..text.lines().next().map_or(0, str::len), |start| start..start + word.len());
        Some(Span::new(file, range))
    }
}

/// The first place where a word stands by itself.
fn find_word(text: &str, word: &str) -> Option<usize> {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    let alone = |at: usize| {
        let before = text.get(..at).and_then(|before| before.chars().next_back());
        let after = text.get(at + word.len()..).and_then(|after| after.chars().next());
        !before.is_some_and(part) && !after.is_some_and(part)
    };
    text.match_indices(word).map(|(at, _)| at).find(|at| alone(*at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_found_where_it_stands_alone() {
        assert_eq!(find_word("{{ sides }} {{ side }}", "side"), Some(15));
        assert_eq!(find_word("{{ sides }}", "side"), None);
    }
}
