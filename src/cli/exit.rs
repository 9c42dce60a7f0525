//! What the program answers to the shell: one enum, and a failure that carries its code.
//!
//! Every subcommand returns a [`Outcome`]; nothing else in the program decides an exit code.

use std::process::ExitCode;

/// The program's exit codes, the same for every subcommand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// 0: done, and the answer is yes.
    Fine = 0,
    /// 1: the work was done, and the answer is no: a file that does not check, a refused request.
    No = 1,
    /// 2: the command line was not understood (the code that the argument parser uses itself).
    Usage = 2,
    /// 3: a file could not be read or written.
    File = 3,
    /// 4: the terminal or the system did not do what was asked of it.
    System = 4,
}

impl Exit {
    /// This exit code, because of `error`: `.map_err(|e| Exit::File.because(e))?`
    pub fn because(self, error: impl Into<anyhow::Error>) -> Failure {
        Failure {
            exit: self,
            error: error.into(),
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// What a subcommand returns: an exit code after its data was printed, or a failure to print.
pub type Outcome = Result<Exit, Failure>;

/// An error whose chain is printed once, by [`crate::cli::main`], and the code that goes with it.
#[derive(Debug)]
pub struct Failure {
    /// The code the program ends with.
    pub exit: Exit,
    /// What went wrong, outermost first.
    pub error: anyhow::Error,
}
