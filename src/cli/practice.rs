//! `hornset practice`: serves the practice robot on a pseudo-terminal.

use super::say;
use super::{Exit, Outcome};

/// Which robot to serve, and how.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Serve on a pseudo-terminal; its path is the first line printed, as `tty PATH`. There is no
    /// other way yet, so it may be left out
    #[arg(long)]
    #[allow(dead_code, reason = "it is what happens anyway")]
    tty: bool,
    #[command(flatten)]
    robot: super::open::RobotArgs,
}

/// Serves until it is interrupted; exit code 0 then.
#[cfg(unix)]
pub fn run(args: Args) -> Outcome {
    use std::io::Write;
    use std::sync::Arc;
    use std::sync::atomic::AtomicBool;

    use anyhow::Context;

    use crate::practice::tty::Tty;

    let system = |error: anyhow::Error| Exit::System.because(error);
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))
            .context("could not watch for signals")
            .map_err(system)?;
    }
    let settings = args.robot.settings();
    let mut tty = Tty::open()
        .context("could not open a pseudo-terminal")
        .map_err(system)?;
    let mut out = std::io::stdout().lock();
    writeln!(out, "tty {}", tty.path().display())
        .and_then(|()| out.flush())
        .context("could not print the terminal's path")
        .map_err(system)?;
    say!(
        "{}: any serial program can talk to it; Ctrl-C ends it",
        settings.name()
    );
    tty.serve(settings, &stop)
        .context("the pseudo-terminal failed")
        .map_err(system)?;
    Ok(Exit::Fine)
}

/// There are no pseudo-terminals here.
#[cfg(not(unix))]
pub fn run(_args: Args) -> Outcome {
    Err(Exit::System.because(anyhow::anyhow!(
        "this system has no pseudo-terminals: use `hornset console --practice` instead"
    )))
}
