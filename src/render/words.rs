//! A dialect's words: every operation and fact through its own small template, line by line.

use super::context::{PlaceView, WordsScope};
use super::engine::Engine;
use super::error::{RenderCode, RenderError};
use super::names::Names;
use super::operation::{FACT_KINDS, OPERATION_KINDS, fact_kind, fact_view, kind, view};
use super::plain;
use crate::model::document::{Action, Fact, StateDocument};
use crate::model::traits::{SaveScope, Traits};
use crate::platform::{OutputKind, Platform};

/// Checks that the dialect has a template that parses for every operation kind, every fact and every output,
/// and that each output is of a kind that can be checked.
///
/// # Errors
/// Everything that is missing or does not parse.
pub fn coverage(platform: &Platform) -> Result<(), Vec<RenderError>> {
    let engine = Engine::new(platform, OutputKind::Text);
    let words = OPERATION_KINDS.iter().map(|kind| step_template(kind));
    let words = words.chain(FACT_KINDS.iter().map(|fact| fact_template(fact)));
    let outputs = platform.outputs.iter().map(|output| output.template.clone());
    let mut faults: Vec<RenderError> = words.chain(outputs).filter_map(|path| engine.parse(&path).err()).collect();
    for output in &platform.outputs {
        if matches!(output.kind, OutputKind::Html | OutputKind::Xml | OutputKind::Svg) {
            let message = "this release checks text, markdown, json and csv; an output of another kind is not written";
            faults.push(RenderError::new(RenderCode::KindUnsupported, message).in_template(&output.template));
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

fn step_template(kind: &str) -> String {
    format!("steps/{kind}.j2")
}

fn fact_template(fact: &str) -> String {
    format!("facts/{fact}.j2")
}

/// The words of one dialect.
pub(super) struct Words<'a> {
    engine: Engine,
    names: &'a Names<'a>,
    save_scope: &'static str,
}

impl<'a> Words<'a> {
    /// The words of this dialect, with these names.
    pub(super) fn new(platform: &Platform, traits: &Traits, names: &'a Names<'a>) -> Self {
        let save_scope = match traits.save.scope {
            SaveScope::Unit => "unit",
            SaveScope::Stack => "stack",
        };
        Self { engine: Engine::new(platform, OutputKind::Text), names, save_scope }
    }

    /// What the operation's template sees, and what it says.
    ///
    /// # Errors
    /// A template that is missing, fails, or says nothing.
    pub(super) fn say(
        &self,
        state: &StateDocument,
        place: &PlaceView,
        action: &Action,
    ) -> Result<(WordsScope, Vec<String>), RenderError> {
        let checks = match action {
            Action::Expect { facts, .. } => self.say_facts(state, facts)?,
            _ => Vec::new(),
        };
        let operation = view(self.names, state, action, checks)?;
        let scope = WordsScope { place: place.clone(), save_scope: self.save_scope.to_owned(), operation };
        let lines = self.lines(&step_template(kind(action)), &scope)?;
        Ok((scope, lines))
    }

    fn say_facts(&self, state: &StateDocument, facts: &[Fact]) -> Result<Vec<String>, RenderError> {
        let mut said = Vec::new();
        for fact in facts {
            said.extend(self.lines(&fact_template(fact_kind(fact)), &fact_view(self.names, state, fact)?)?);
        }
        Ok(said)
    }

    fn lines(&self, template: &str, scope: &impl serde::Serialize) -> Result<Vec<String>, RenderError> {
        let text = self.engine.render(template, &plain::scope(scope))?;
        let lines: Vec<String> =
            text.lines().map(|line| line.trim_end().to_owned()).filter(|line| !line.is_empty()).collect();
        if lines.is_empty() {
            return Err(RenderError::new(RenderCode::TemplateFailed, "the template says nothing").in_template(template));
        }
        Ok(lines)
    }
}
