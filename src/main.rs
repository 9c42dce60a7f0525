//! The `hornset` program: parse, run, print the error chain once, return an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    hornset::cli::main()
}
