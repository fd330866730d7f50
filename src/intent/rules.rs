//! The rules that a schema cannot say and that need no platform.

use crate::diag::{Code, Findings};

use super::Intent;

/// codes
pub const CODES: &[&Code] = &[];

pub fn check(_intent: &Intent, _findings: &mut Findings) {}
