//! The command line: one file per subcommand, one exit-code enum.
//!
//! Data go to standard output, messages to standard error; an error's chain is printed once, here.
//! To add a subcommand: a file beside this one with `Args` and `run(Args) -> Outcome`, and one
//! line in each of the two lists below.

mod check;
mod console;
mod exit;
mod export;
mod fit;
mod fk;
mod foot;
mod ik;
mod new;
mod open;
mod ports;
#[cfg(feature = "practice")]
mod practice;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

pub use exit::{Exit, Failure, Outcome};

/// Bench tool for builders of walking robots made of hobby servos.
///
/// Without a command it opens the console: on a board if one is found and chosen, on the built-in
/// practice robot otherwise.
///
/// This tool moves machinery near fingers, and the servo supply is often a lithium pack: keep
/// hands out of the legs while anything is awake, and a switch in the servo supply within reach.
/// A software stop is no emergency stop.
///
/// Exit codes: 0 done; 1 done, and the answer is no; 2 command line not understood; 3 a file
/// could not be read or written; 4 the terminal or the system failed. A board's link that fails
/// is shown in the console, which goes on.
#[derive(Debug, Parser)]
#[command(name = "hornset", version, args_conflicts_with_subcommands = true)]
struct Line {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    console: console::Args,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Open the console (the same as no command at all)
    Console(console::Args),
    /// List the serial ports; opens none of them
    Ports(ports::Args),
    /// Serve the practice robot on a pseudo-terminal
    #[cfg(feature = "practice")]
    Practice(practice::Args),
    /// Write the file of a new robot
    New(new::Args),
    /// Say everything that is wrong with calibration files
    Check(check::Args),
    /// Which angles and pulses put a foot at a point
    Ik(ik::Args),
    /// Where a foot is at three joint angles
    Fk(fk::Args),
    /// Make the calibration anew from the logbook alone, and compare it with the file
    Fit(fit::Args),
    /// Write the calibration for other programs: a C header, a URDF, JSON
    Export(export::Args),
}

/// Says something on standard error, as `eprintln!` does, and lets it be where nobody listens there.
macro_rules! say {
    ($($text:tt)*) => {{
        use std::io::Write as _;
        let _ = writeln!(std::io::stderr(), $($text)*);
    }};
}
use say;

/// Parses the command line, runs it, prints what went wrong once.
pub fn main() -> ExitCode {
    match run(Line::parse()) {
        Ok(exit) => exit.into(),
        Err(failure) if nobody_reads(&failure.error) => quiet_end(),
        Err(failure) => {
            say!("hornset: {:#}", failure.error);
            failure.exit.into()
        }
    }
}

/// Whether the reader of what is printed went away, as `head` does once it has enough.
fn nobody_reads(error: &anyhow::Error) -> bool {
    let io = error.downcast_ref::<std::io::Error>();
    io.is_some_and(|it| it.kind() == std::io::ErrorKind::BrokenPipe)
}

/// Ends as a program does that never asked to be told: without a word, by the signal that it would have got.
fn quiet_end() -> ExitCode {
    #[cfg(unix)]
    let _ = signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGPIPE);
    Exit::System.into()
}

fn run(line: Line) -> Outcome {
    match line.command {
        None => console::run(line.console),
        Some(Command::Console(args)) => console::run(args),
        Some(Command::Ports(args)) => ports::run(args),
        #[cfg(feature = "practice")]
        Some(Command::Practice(args)) => practice::run(args),
        Some(Command::New(args)) => new::run(args),
        Some(Command::Check(args)) => check::run(args),
        Some(Command::Ik(args)) => ik::run(args),
        Some(Command::Fk(args)) => fk::run(args),
        Some(Command::Fit(args)) => fit::run(args),
        Some(Command::Export(args)) => export::run(args),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Line::command().debug_assert();
    }

    #[test]
    fn no_command_means_the_console_with_the_same_options() {
        let bare = Line::try_parse_from(["hornset", "--practice", "--seed", "9"]).expect("bare");
        assert!(bare.command.is_none());
        let named = Line::try_parse_from(["hornset", "console", "--practice", "--seed", "9"])
            .expect("named");
        assert!(matches!(named.command, Some(Command::Console(_))));
    }
}
