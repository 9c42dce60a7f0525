//! `hornset` and `hornset console`: opens the console.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::ValueEnum;

use super::{Exit, Outcome, open};
use crate::board::Input;
use crate::console::bench::Place;
use crate::console::runner::{self, End, Options};
use crate::console::theme::{Look, Strokes, Theme};
use crate::console::work::WorkError;
use crate::procedure::Sensor;

/// What the console is opened on, and how it is drawn.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Serial port of the board; without it the console asks
    #[arg(long, value_name = "PORT", conflicts_with_all = ["practice", "seed", "clean"])]
    #[cfg_attr(feature = "practice", arg(conflicts_with_all = ["fault", "sensor", "speed", "sheet"]))]
    pub port: Option<String>,
    /// Open the practice robot, whatever is plugged in
    #[arg(long)]
    pub practice: bool,
    #[command(flatten)]
    pub robot: open::RobotArgs,
    /// Calibration file to work on
    #[arg(long, value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// A current sensor for the board's own trip while ends are looked for: a0:600:30 acts at 600 mV for 30 ms, which
    /// is 0.4 A on the practice robot's --sensor, a little less than its servos draw that press lightly
    #[arg(long, value_name = "INPUT:MV:MS", value_parser = sensor)]
    pub trip: Option<Sensor>,
    /// Draw without any colour (so does NO_COLOR)
    #[arg(long)]
    pub no_color: bool,
    /// Which colours
    #[arg(long, value_enum, default_value_t = Palette::Terminal)]
    pub palette: Palette,
    /// Draw with ASCII alone, for fonts and terminals without more
    #[arg(long)]
    pub ascii: bool,
    /// Write every line of the link, with its time, to this new file; one that is there is not overwritten
    #[arg(long, value_name = "FILE")]
    pub trace: Option<PathBuf>,
    /// Panic when F12 is pressed: for the test of what a panic leaves behind
    #[arg(long, hide = true)]
    pub panic_on_f12: bool,
}

/// The named palettes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Palette {
    /// The terminal's own sixteen
    Terminal,
    /// Okabe and Ito's, told apart by all kinds of colour sight
    OkabeIto,
    /// None
    Mono,
}

/// Reads `a0:800:40`.
fn sensor(text: &str) -> Result<Sensor, String> {
    let wanted = "as a0:800:40: an input a0 to a7, 1 to 5500 mV, 1 to 1000 ms";
    let mut parts = text.split(':');
    let mut part = || parts.next().ok_or_else(|| wanted.to_owned());
    let input: Input = part()?.parse().map_err(|_| wanted.to_owned())?;
    let mut number = |high: u32| match part()?.parse() {
        Ok(it) if (1..=high).contains(&it) => Ok(it),
        _ => Err(wanted.to_owned()),
    };
    let (mv, ms) = (number(5500)?, number(1000)?);
    match parts.next() {
        None => Ok(Sensor {
            input: input.number(),
            mv,
            ms,
        }),
        Some(_) => Err(wanted.to_owned()),
    }
}

/// Opens the console.
pub fn run(args: Args) -> Outcome {
    let practice = args.practice || args.robot.is_chosen();
    let place = match (args.port, practice) {
        (Some(port), _) => Some(Place::Port(port)),
        (None, true) => Some(Place::Practice {
            seed: args.robot.seed,
            clean: args.robot.clean,
        }),
        (None, false) => None,
    };
    let options = Options {
        seed: args.robot.seed,
        open: open::opener(args.trace.as_deref(), args.robot).map_err(|e| Exit::File.because(e))?,
        place,
        file: args.file,
        sensor: args.trip,
        look: look(args.palette, args.ascii, args.no_color),
        panic_on_f12: args.panic_on_f12,
    };
    match runner::run(options) {
        Ok(End::Left) => Ok(Exit::Fine),
        Ok(End::Signal(signal)) => ended_by(signal),
        Err(error) if error.is::<WorkError>() => Err(Exit::File.because(error)),
        Err(error) => Err(Exit::System.because(error)),
    }
}

/// The shell is told that a signal ended the program, as if it had not been caught.
#[cfg(unix)]
fn ended_by(signal: i32) -> Outcome {
    signal_hook::low_level::emulate_default_handler(signal).map_err(|e| Exit::System.because(e))?;
    Ok(Exit::System)
}

#[cfg(not(unix))]
fn ended_by(_signal: i32) -> Outcome {
    Ok(Exit::System)
}

fn look(palette: Palette, ascii: bool, no_color: bool) -> Look {
    let asked = match palette {
        Palette::Terminal => Theme::Sixteen,
        Palette::OkabeIto => Theme::OkabeIto,
        Palette::Mono => Theme::Mono,
    };
    let variable = |name: &str| std::env::var(name).ok();
    let theme = Theme::choose(
        asked,
        variable("NO_COLOR").as_deref(),
        variable("TERM").as_deref(),
        std::io::stdout().is_terminal(),
        no_color,
    );
    let ascii = ascii || !speaks_utf8(&variable);
    Look {
        theme,
        ascii,
        strokes: if ascii {
            Strokes::Plain
        } else {
            Strokes::default()
        },
    }
}

/// Whether the locale's encoding is UTF-8: the first of these three that is set decides (POSIX).
fn speaks_utf8(variable: &impl Fn(&str) -> Option<String>) -> bool {
    if cfg!(not(unix)) {
        return true;
    }
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .find_map(|name| variable(name).filter(|value| !value.is_empty()))
        .unwrap_or_default()
        .to_ascii_lowercase();
    locale.contains("utf-8") || locale.contains("utf8")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_locale_decides_in_the_order_of_posix() {
        let with = |pairs: &'static [(&str, &str)]| {
            move |name: &str| {
                let found = pairs.iter().find(|(n, _)| *n == name);
                found.map(|(_, value)| (*value).to_owned())
            }
        };
        assert!(speaks_utf8(&with(&[("LANG", "C.UTF-8")])));
        assert!(!speaks_utf8(&with(&[
            ("LC_ALL", "C"),
            ("LANG", "de_DE.UTF-8")
        ])));
        assert!(speaks_utf8(&with(&[
            ("LC_ALL", ""),
            ("LANG", "en_US.utf8")
        ])));
        assert!(!speaks_utf8(&with(&[])));
    }
}
