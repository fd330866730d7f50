//! The binary: arguments -> `cli` -> exit status.

use std::process::ExitCode;

#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    ringwright::cli::catch_faults();
    ExitCode::from(ringwright::cli::run().status())
}
