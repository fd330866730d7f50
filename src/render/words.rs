//! A dialect's words: every operation and fact through its own small template, line by line.

use std::cell::RefCell;
use std::rc::Rc;

use serde::Serialize;

use super::context::{PlaceView, WordsScope};
use super::engine::{Engine, Engines, is_plain};
use super::error::{RenderCode, RenderError};
use super::names::Names;
use super::operation::{FACT_KINDS, fact_kind, fact_view, kind, view};
use super::plain;
use crate::model::document::{Action, Fact, StateDocument};
use crate::model::traits::{ActivationScope, SaveScope, Traits};
use crate::platform::{OutputKind, Platform};

/// Checks that the dialect has a template that parses for every operation kind that is not silent, every fact
/// and every output.
///
/// # Errors
/// Everything that is missing or does not parse.
pub fn coverage(platform: &Platform) -> Result<(), Vec<RenderError>> {
    let engine = Engines::new(platform).of(OutputKind::Text);
    let known = Action::KINDS.iter().filter(|kind| platform.traits.knows(kind));
    let spoken = known.filter(|kind| !platform.silent.contains_key(**kind));
    let words = spoken.map(|kind| step_template(kind));
    let words =
        words.chain(FACT_KINDS.iter().filter(|fact| platform.traits.shows(fact)).map(|fact| fact_template(fact)));
    let outputs = platform.outputs.iter().map(|output| output.template.clone());
    let faults: Vec<RenderError> = words.chain(outputs).filter_map(|path| engine.parse(&path).err()).collect();
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// The template of a kind of operation, by its path in a dialect's folder.
#[must_use]
pub fn step_template(kind: &str) -> String {
    format!("steps/{kind}.j2")
}

/// The template of a fact, by its path in a dialect's folder.
#[must_use]
pub fn fact_template(fact: &str) -> String {
    format!("facts/{fact}.j2")
}

/// The words of one dialect.
pub(super) struct Words<'a> {
    engine: Rc<Engine>,
    platform: &'a Platform,
    names: &'a Names<'a>,
    save_scope: &'static str,
    activate_scope: &'static str,
    listens: bool,
    heard: RefCell<Vec<Heard>>,
}

/// What one template of words saw, and what it said.
#[derive(Clone, Debug, Serialize)]
pub struct Heard {
    /// The template, by its path in the dialect's folder.
    pub template: String,
    /// What it saw.
    pub scope: serde_json::Value,
    /// What it said, as it is, before blank lines go.
    pub text: String,
}

impl<'a> Words<'a> {
    /// The words of this dialect, with these names.
    pub(super) fn new(platform: &'a Platform, engines: &Engines, traits: &Traits, names: &'a Names<'a>) -> Self {
        let save_scope = match traits.save.scope {
            SaveScope::Unit => "unit",
            SaveScope::Stack => "stack",
        };
        let activate_scope = match traits.activate.scope {
            ActivationScope::Unit => "unit",
            ActivationScope::Stack => "stack",
        };
        Self {
            engine: engines.of(OutputKind::Text),
            platform,
            names,
            save_scope,
            activate_scope,
            listens: false,
            heard: RefCell::default(),
        }
    }

    /// The names that they use.
    pub(super) const fn names(&self) -> &'a Names<'a> {
        self.names
    }

    /// The dialect that they are of.
    pub(super) const fn platform(&self) -> &'a Platform {
        self.platform
    }

    /// The same words, which note what they see and say.
    pub(super) fn listening(self) -> Self {
        Self { listens: true, ..self }
    }

    /// What every template saw and said so far; kept only where somebody listens.
    pub(super) fn heard(self) -> Vec<Heard> {
        self.heard.into_inner()
    }

    /// Why an operation takes no text on this platform, if it takes none.
    pub(super) fn silence(&self, action: &Action) -> Option<String> {
        self.platform.silent.get(kind(action)).cloned()
    }

    /// What the operation's template sees, and what it says: nothing for an operation that is silent.
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
        let scope = WordsScope {
            place: place.clone(),
            save_scope: self.save_scope.to_owned(),
            activate_scope: self.activate_scope.to_owned(),
            operation,
        };
        let template = step_template(kind(action));
        let lines = if self.silence(action).is_some() { Vec::new() } else { self.lines(&template, &scope)? };
        Ok((scope, lines))
    }

    fn say_facts(&self, state: &StateDocument, facts: &[Fact]) -> Result<Vec<String>, RenderError> {
        let mut said = Vec::new();
        for fact in facts {
            said.extend(self.lines(&fact_template(fact_kind(fact)), &fact_view(self.names, state, fact)?)?);
        }
        Ok(said)
    }

    fn lines(&self, template: &str, scope: &impl Serialize) -> Result<Vec<String>, RenderError> {
        let text = self.engine.render(template, &plain::scope(scope))?;
        if self.listens {
            let scope = plain::as_json(scope)?;
            self.heard.borrow_mut().push(Heard { template: template.to_owned(), scope, text: text.clone() });
        }
        if let Some(found) = text.chars().find(|one| !is_plain(*one) && *one != '\n') {
            let message = format!("the words hold the control character U+{:04X}", u32::from(found));
            return Err(RenderError::new(RenderCode::OutputMalformed, message).in_template(template));
        }
        let lines: Vec<String> =
            text.lines().map(|line| line.trim_end().to_owned()).filter(|line| !line.is_empty()).collect();
        if lines.is_empty() {
            return Err(RenderError::new(RenderCode::TemplateFailed, "the template says nothing").in_template(template));
        }
        Ok(lines)
    }
}
