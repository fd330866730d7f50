//! A context that somebody has changed, rendered once more: for whoever tries out a dialect.
//!
//! The same engines and limits as for a bundle. Deliberately absent: a plan. What is rendered here is no proved
//! change, and nothing of it is ever written as one.

use std::collections::BTreeSet;

use serde::Serialize;

use super::context::Context;
use super::engine::{Engines, render_short};
use super::error::RenderError;
use super::{Rendered, apart, plain, render_outputs};
use crate::platform::{OutputKind, Platform};

/// A dialect on the bench.
pub struct Bench<'a> {
    platform: &'a Platform,
    engines: Engines,
}

impl<'a> Bench<'a> {
    /// Puts a dialect on it, with the fuel of one bundle.
    #[must_use]
    pub fn new(platform: &'a Platform) -> Self {
        Self { platform, engines: Engines::new(platform) }
    }

    /// What a template of words says of this scope.
    ///
    /// # Errors
    /// A template that is missing or fails.
    pub fn words(&self, template: &str, scope: &impl Serialize) -> Result<String, RenderError> {
        self.engines.of(OutputKind::Text).render(template, &plain::scope(scope))
    }

    /// Every output of this context.
    ///
    /// # Errors
    /// A template that is missing or fails, an output that is not what its kind says, two in one place.
    pub fn outputs(&self, context: &Context) -> Result<Vec<Rendered>, RenderError> {
        let files = render_outputs(self.platform, &self.engines, context)?;
        apart(&files)?;
        Ok(files)
    }

    /// The name of an interface on this platform.
    ///
    /// # Errors
    /// A pattern that fails.
    pub fn interface(&self, id: u16, port: &str) -> Result<String, RenderError> {
        render_short(
            &self.platform.traits.port_name,
            &minijinja::context!(member_id => id, port => port, stacks => true),
        )
    }

    /// The templates that were asked for so far, by their paths in the dialect's folder.
    #[must_use]
    pub fn reached(&self) -> BTreeSet<String> {
        self.engines.reached()
    }
}
