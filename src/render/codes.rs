//! Why a fault of rendering is one, for people who look it up.

use super::error::RenderCode;
use crate::diag::Code;
use crate::platform::OUTPUT_PATH;

/// The codes of this stage.
pub const CODES: &[&Code] = &[
    &TEMPLATE_MISSING,
    &TEMPLATE_SYNTAX,
    &TEMPLATE_FAILED,
    &TEMPLATE_FUEL,
    &OUTPUT_TOO_LARGE,
    &OUTPUT_TWICE,
    &OUTPUT_MALFORMED,
];

/// A template that is not there.
const TEMPLATE_MISSING: Code = Code {
    name: "template-missing",
    explanation: "A dialect has a template under `steps/` for each kind of operation that is not named under `silent:`, one \
under `facts/` for each fact, and every template that `outputs:` names. What a template includes or imports lies in \
the dialect's folder too: nothing outside it is ever read.",
};
/// A template that does not parse.
const TEMPLATE_SYNTAX: Code = Code {
    name: "template-syntax",
    explanation: "A template is written in the language of Jinja templates, and this one cannot be read: most often a block \
without its end, or a brace too few.",
};
/// A template that cannot be rendered.
const TEMPLATE_FAILED: Code = Code {
    name: "template-failed",
    explanation: "A template uses a variable, a field or a filter that does not exist, prints a value that is none or has \
parts, or says nothing where words are wanted. What a template sees is written down in `schema/context.schema.json`, \
`schema/words.schema.json` and `schema/facts.schema.json`.",
};
/// A template that runs too long.
const TEMPLATE_FUEL: Code = Code {
    name: "template-fuel",
    explanation: "A template may take some hundred times as many instructions as a large stack needs, and this one takes \
more: it most likely goes round without an end. What a template may do is bounded because it may come from somebody else.",
};
/// An output that is too large.
const OUTPUT_TOO_LARGE: Code = Code {
    name: "output-too-large",
    explanation: "One output has at most 16 MiB. A template that writes more most likely goes round without an end.",
};
/// Two outputs in one place.
const OUTPUT_TWICE: Code = Code {
    name: "output-twice",
    explanation: "Each output goes to a path of its own, and no path is a file and a folder at once. An output that is \
rendered more than once needs something in its `path` that differs: `{{ unit.key }}`, `{{ segment.number }}`, \
`{{ way_back.range }}`.",
};
/// An output that is not what it says.
const OUTPUT_MALFORMED: Code = Code {
    name: "output-malformed",
    explanation: "Every finished file is checked as what its `kind` says before anything is written: html, svg and xml are \
well-formed XML, json is JSON, csv has one column count, text and markdown hold no control character.",
};

impl RenderCode {
    /// The code that people look up; none for what no dialect can be the cause of.
    #[must_use]
    pub const fn code(self) -> Option<&'static Code> {
        match self {
            Self::TemplateMissing => Some(&TEMPLATE_MISSING),
            Self::TemplateSyntax => Some(&TEMPLATE_SYNTAX),
            Self::TemplateFailed => Some(&TEMPLATE_FAILED),
            Self::TemplateFuel => Some(&TEMPLATE_FUEL),
            Self::OutputTooLarge => Some(&OUTPUT_TOO_LARGE),
            Self::OutputPath => Some(&OUTPUT_PATH),
            Self::OutputTwice => Some(&OUTPUT_TWICE),
            Self::OutputMalformed => Some(&OUTPUT_MALFORMED),
            Self::ControlCharacter | Self::PlanIncomplete => None,
        }
    }
}
