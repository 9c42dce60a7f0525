//! The command line: one file per subcommand, one exit-code enum.

use std::process::ExitCode;

/// Parses the command line, runs it, prints what went wrong once.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
