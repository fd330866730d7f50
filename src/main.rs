//! The binary: arguments -> `cli` -> exit status.

use std::process::ExitCode;

fn main() -> ExitCode {
    ringwright::cli::catch_faults();
    ExitCode::from(ringwright::cli::run().status())
}
