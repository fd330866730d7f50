//! Arguments, terminal, processes -> one command, and its exit status.
//!
//! One file a command. Files are read here and nowhere further in.

mod check;
mod compile;
mod dialect;
mod done;
mod explain;
mod fault;
mod faults;
mod fleet;
mod folder;
mod glance;
mod manual;
mod mistake;
mod open;
mod rehearse;
mod schema;
mod terminal;
mod walk;
mod window;

use clap::{Parser, Subcommand, ValueEnum};

pub use done::DoneRecord;
pub use explain::codes;
pub use open::{Opened, Reader, Request, Standing};

/// Compiles the intent of a switch stack into proved, ordered change snippets.
#[derive(Parser)]
#[command(name = "ringwright", version, about, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Check(check::Check),
    Compile(compile::Compile),
    Rehearse(rehearse::Rehearse),
    Faults(faults::Faults),
    Schema(schema::Schema),
    Done(done::Done),
    Dialect(dialect::Dialect),
    Explain(explain::Explain),
    Completions(manual::Completions),
    Manual(manual::Manual),
}

/// How a run ends, as the exit status says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// All is well.
    Fine,
    /// The intent, the dialect or the plan is wrong, or the change is refused.
    Refused,
    /// Wrong use of the command line, or a file that cannot be read or written.
    Unusable,
    /// The files on disk are not what would be written.
    Differs,
    /// A fault in the program itself.
    Fault,
}

impl Exit {
    /// The number that the process ends with.
    #[must_use]
    pub const fn status(self) -> u8 {
        match self {
            Self::Fine => 0,
            Self::Refused => 1,
            Self::Unusable => 2,
            Self::Differs => 3,
            Self::Fault => 70,
        }
    }
}

/// How findings are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum FindingsAs {
    /// Drawn, for people.
    #[default]
    Text,
    /// As data, for pipelines.
    Json,
    /// As SARIF 2.1.0, for what shows findings beside lines.
    Sarif,
}

/// Runs the command that the arguments name.
#[must_use]
pub fn run() -> Exit {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            let exit = if error.use_stderr() { Exit::Unusable } else { Exit::Fine };
            // a closed terminal is no reason to say more
            let _ = error.print();
            return exit;
        }
    };
    match arguments.command {
        Command::Check(command) => command.run(),
        Command::Compile(command) => command.run(),
        Command::Rehearse(command) => command.run(),
        Command::Faults(command) => command.run(),
        Command::Schema(command) => command.run(),
        Command::Done(command) => command.run(),
        Command::Dialect(command) => command.run(),
        Command::Explain(command) => command.run(),
        Command::Completions(command) => command.run(),
        Command::Manual(command) => command.run(),
    }
}

/// Turns a fault in the program itself into one sentence and exit status 70.
pub fn catch_faults() {
    std::panic::set_hook(Box::new(|fault| {
        terminal::put_back();
        let place = fault.location().map_or_else(String::new, |at| format!(" ({}:{})", at.file(), at.line()));
        terminal::error(&format!(
            "ringwright has a fault of its own{place}: the stack in work was not written; please report it with the input\n"
        ));
        std::process::exit(i32::from(Exit::Fault.status()));
    }));
}
