//! `hornset` and `hornset console`: opens the console.

use std::path::PathBuf;

use super::{Exit, Outcome};

/// What the console is opened on.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Serial port of the board; without it the console asks
    #[arg(long, value_name = "PORT", conflicts_with = "practice")]
    pub port: Option<String>,
    /// Open the practice robot, whatever is plugged in
    #[arg(long)]
    pub practice: bool,
    /// Seed of the practice robot: the same seed gives the same robot
    #[arg(long, value_name = "N", conflicts_with = "port", default_value_t = 7)]
    pub seed: u64,
    /// Calibration file to work on
    #[arg(long, value_name = "FILE")]
    pub file: Option<PathBuf>,
}

/// Opens the console.
pub fn run(_args: Args) -> Outcome {
    Err(Exit::System.because(anyhow::anyhow!("the console is not part of this build yet")))
}
