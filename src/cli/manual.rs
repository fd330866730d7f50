//! `ringwright completions` and `ringwright manual`: what a shell and a reader of manuals know of the command line.

use std::io::Write;

use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};

use super::{Arguments, Exit, terminal};

/// Print the completions of a shell.
#[derive(Args)]
pub(super) struct Completions {
    /// The shell.
    #[arg(value_enum, value_name = "SHELL")]
    shell: Shell,
}

/// Print the manual page, in the language of `man`; of a command, if one is named.
#[derive(Args)]
pub(super) struct Manual {
    /// The command.
    #[arg(value_name = "COMMAND")]
    command: Option<String>,
}

impl Completions {
    pub(super) fn run(self) -> Exit {
        let mut text = Vec::new();
        generate(self.shell, &mut Arguments::command(), env!("CARGO_PKG_NAME"), &mut text);
        terminal::print(&String::from_utf8_lossy(&text));
        Exit::Fine
    }
}

impl Manual {
    pub(super) fn run(self) -> Exit {
        let mut whole = Arguments::command();
        whole.build();
        let command = match &self.command {
            None => Some(whole),
            Some(name) => whole.find_subcommand(name).cloned(),
        };
        let Some(command) = command else {
            terminal::error(&format!("there is no command `{}`\n", self.command.unwrap_or_default()));
            return Exit::Unusable;
        };
        let mut text = Vec::new();
        let written = clap_mangen::Man::new(command).render(&mut text).and_then(|()| text.flush());
        if let Err(error) = written {
            terminal::error(&format!("the manual cannot be made: {error}\n"));
            return Exit::Unusable;
        }
        terminal::print(&String::from_utf8_lossy(&text));
        Exit::Fine
    }
}
