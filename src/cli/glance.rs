//! An intent -> what it says of itself, before any of its rules is looked at, and the digests of what it is made from.
//!
//! Nothing is reported here: the opening of the intent does that.

use std::collections::BTreeMap;

use super::Standing;
use super::open::{Reader, Request, beside};
use crate::diag::Findings;
use crate::report;
use crate::source::{Span, sha256};
use crate::yaml::{self, MAX_BYTES};

/// What an intent says of itself.
#[derive(Clone, Debug)]
pub struct Glance {
    /// The stack's name.
    pub stack: String,
    /// Where that stands.
    pub place: report::Place,
    /// The file that describes the stack as it stands, relative to the intent.
    pub from: Option<String>,
    /// The dialect, if one is named.
    pub dialect: Option<String>,
    /// `sha256:…` of the intent.
    pub intent: String,
}

impl Reader {
    /// What an intent says of itself before any of its rules is looked at, and the digests of what it names. Nothing
    /// that is wrong with it is reported: its opening does that.
    pub fn glance(&mut self, request: &Request<'_>) -> Option<Glance> {
        let mut unsaid = Findings::default();
        let before = std::mem::take(&mut self.findings);
        let (unreadable, files) = (self.unreadable, self.sources.len());
        let file = self.read(request.intent, None);
        let tree = file.and_then(|file| yaml::read(&self.sources, file, &mut unsaid).map(|tree| (file, tree)));
        let glance = tree.ok().and_then(|(file, tree)| {
            let text = |node: Option<&yaml::Node>| node.and_then(yaml::Node::as_text).map(str::to_owned);
            let stack = tree.get("stack")?;
            Some(Glance {
                place: report::place(stack.span, &self.sources),
                stack: text(Some(stack))?,
                from: text(tree.get("change").and_then(|change| change.get("from"))),
                dialect: text(tree.get("dialect")),
                intent: self.sources.digest(file),
            })
        });
        self.sources.truncate(files);
        (self.findings, self.unreadable) = (before, unreadable);
        glance
    }

    /// `sha256:…` of all that a glance says the intent is made from, as a bundle's record has them; none if one cannot be
    /// had, and then nothing is reported.
    pub fn inputs(&mut self, request: &Request<'_>, glance: &Glance) -> Option<BTreeMap<String, String>> {
        let name = request.dialect.or(glance.dialect.as_deref())?;
        let before = std::mem::take(&mut self.findings);
        let (unreadable, files) = (self.unreadable, self.sources.len());
        let named = glance.from.as_deref().map(|from| beside(request.intent, from));
        let baseline = match (request.from, named) {
            (Standing::File(path), _) => Some(self.text(path, None, MAX_BYTES)),
            (Standing::Named, Some(path)) => Some(self.text(&path, None, MAX_BYTES)),
            (Standing::Text { text, .. }, _) => Some(Ok(text.to_owned())),
            (Standing::Named, None) | (Standing::New, _) => None,
        };
        // a dialect that is opened here is kept, and its place must be one that stays
        let place = Span::new(self.sources.add(String::new(), String::new()), 0..0);
        let dialect = self.dialect_of(name, place, request);
        if self.kept < files {
            self.sources.truncate(files);
        }
        (self.findings, self.unreadable) = (before, unreadable);
        let mut inputs = BTreeMap::from([("intent".to_owned(), glance.intent.clone())]);
        inputs.insert("dialect".to_owned(), dialect.ok()?.digest.clone());
        if let Some(text) = baseline {
            inputs.insert("baseline".to_owned(), sha256([text.ok()?.as_bytes()]));
        }
        Some(inputs)
    }
}
