//! `ringwright explain`: why a finding is one, by its code.

use clap::Args;

use super::{Exit, compile, dialect, fleet, open, terminal, window};
use crate::diag::{Code, nearest};
use crate::report::wrapped;
use crate::{intent, lower, platform, yaml};

/// Explain a finding's code, or list all codes.
#[derive(Args)]
pub(super) struct Explain {
    /// The code, as it stands in brackets after `error`.
    #[arg(value_name = "CODE")]
    code: Option<String>,
}

/// The codes of all stages, in the order of the flow.
pub fn codes() -> impl Iterator<Item = &'static Code> {
    let stages = [open::CODES, yaml::CODES, intent::CODES, platform::CODES];
    let later = [
        crate::compile::CODES,
        crate::rehearse::CODES,
        crate::render::CODES,
        crate::lint::CODES,
        dialect::CODES,
        compile::CODES,
        window::CODES,
        fleet::CODES,
    ];
    stages.into_iter().chain(lower::CODES.iter().copied()).chain(later).flatten().copied()
}

impl Explain {
    pub(super) fn run(self) -> Exit {
        let Some(name) = self.code else {
            codes().for_each(|code| terminal::print(&format!("{}\n", code.name)));
            return Exit::Fine;
        };
        match codes().find(|code| code.name == name) {
            Some(code) => {
                terminal::print(&format!("{}\n\n{}", code.name, wrapped(code.explanation, 80)));
                Exit::Fine
            }
            None => {
                let meant = nearest(&name, codes().map(|code| code.name));
                let hint = meant.map_or_else(String::new, |meant| format!("; did you mean `{meant}`?"));
                terminal::error(&format!("there is no code `{name}`{hint}\n"));
                Exit::Unusable
            }
        }
    }
}
