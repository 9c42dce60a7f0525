//! `hornset fit`: the calibration from the logbook alone, what each joint's values rest on, and whether the file agrees.

mod json;
mod text;

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::anyhow;

use super::{Exit, Outcome};
use crate::calibration::file::{self, FileError};
use crate::calibration::logbook::{
    Contents, Entry, LogbookError, Plan, What, path_beside, read_bytes,
};
use crate::calibration::{Joint, Robot, edit, whole};
use crate::estimate::knowledge::JointKnown;
use crate::estimate::{Knowledge, knowledge, taken_over};

/// Which logbook, and how to print.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The calibration file, or its logbook
    file: PathBuf,
    /// Print JSON: an object with the keys `file` (null when there is none), `logbook`, `name`,
    /// `entries` (how many), `counting` (how many of them were not taken back), `torn_bytes` (of a last line that a
    /// crash left; 0 usually), `missing_entries` (numbers whose lines were taken out), `strays` (entries about joints
    /// that the plan does not have), `agrees` (true, false, or null when there is no file), `differences` (an array of
    /// `joint` (null: the geometry), `key`, `file`, `logbook`, the last two as TOML text or null) and `joints`, an
    /// array of objects with `joint`, `pin`, `servo`, `zero_us`, `us_per_degree`, `play_deg`, `near_end_us`,
    /// `far_end_us` (each null or `value`, `spread`, `at`, `by`), `limits_us`, `guard_us`, `needed_deg` (each null or
    /// two numbers), `from` (fit, line, typed, taken-over or nothing), `bend_deg` (null unless the marks call for
    /// it), `marks` (an array of `entry`, `pulse_us`, `angle_deg`, `residual_deg` (null without a fit), `doubted`),
    /// `near_finds`, `far_finds` (how many), `stale` (parts known of a former servo only) and `doubts` (sentences)
    #[arg(long)]
    json: bool,
    /// Write the calibration, made from the logbook alone, to this file; an existing file is not overwritten
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Prints what the logbook gives; exit code 1 when the file says something else.
pub fn run(args: Args) -> Outcome {
    let fit = Fit::of(&args.file).map_err(|error| Exit::File.because(error))?;
    if let Some(path) = &args.output {
        let text = whole::text(&fit.known.robot).map_err(|e| Exit::File.because(e))?;
        file::create(path, text.as_bytes()).map_err(|e| Exit::File.because(e))?;
    }
    let text = if args.json {
        format!("{:#}\n", fit.as_json())
    } else {
        fit.as_text()
    };
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())
        .map_err(|e| Exit::System.because(e))?;
    Ok(match fit.differences() {
        Some(differences) if !differences.is_empty() => Exit::No,
        _ => Exit::Fine,
    })
}

/// A logbook and what it gives.
struct Fit {
    logbook: PathBuf,
    contents: Contents,
    known: Knowledge,
    /// The calibration file beside it.
    file: Option<(PathBuf, Robot)>,
    /// There is no logbook: the file's values stand as they would be taken over.
    without: bool,
}

/// One thing that the file says otherwise.
struct Difference {
    joint: Option<String>,
    key: &'static str,
    file: Option<String>,
    logbook: Option<String>,
}

impl Fit {
    fn of(path: &Path) -> anyhow::Result<Fit> {
        let is_logbook = path.extension().is_some_and(|end| end == "logbook");
        let (calibration, logbook) = if is_logbook {
            (path.with_extension("toml"), path.to_owned())
        } else {
            (path.to_owned(), path_beside(path))
        };
        let file = match std::fs::read(&calibration) {
            Ok(bytes) => Some((calibration, bytes)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
            Err(why) => {
                let path = calibration;
                return Err(FileError::Read { path, why }.into());
            }
        };
        let mut contents = match std::fs::read(&logbook) {
            Ok(bytes) => read_bytes(&bytes, &logbook)?,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound && !is_logbook => {
                Contents::default()
            }
            Err(why) => {
                let path = logbook;
                return Err(LogbookError::Read { path, why }.into());
            }
        };
        let without = contents.entries.is_empty();
        let mut robot_of_file = None;
        if let Some((path, bytes)) = file {
            let reading = crate::calibration::read_bytes(&bytes);
            let Some(mut robot) = reading.robot else {
                let findings = reading.findings;
                return Err(FileError::Refused { path, findings }.into());
            };
            robot.template = false;
            if without {
                contents.entries = as_entries(taken_over(&robot, "", &[]));
            }
            robot_of_file = Some((path, robot));
        } else if without {
            let name = file::shown(path);
            return Err(anyhow!(
                "there is neither a calibration file nor a logbook with entries at {name}. Check the name"
            ));
        }
        let known = knowledge(&contents.entries);
        if known.robot.legs.is_empty() {
            return Err(anyhow!(
                "{} has no plan among its entries, and nothing can be made of it. Put back a good copy of the file",
                file::shown(&logbook)
            ));
        }
        Ok(Fit {
            logbook,
            contents,
            known,
            file: robot_of_file,
            without,
        })
    }

    /// What the file says otherwise; `None` when there is no file.
    fn differences(&self) -> Option<Vec<Difference>> {
        let (_, file) = self.file.as_ref()?;
        let mut differences = Vec::new();
        let geometry = |robot: &Robot| {
            let mut plan = Plan::of(robot);
            for (at, _) in robot.joints() {
                *plan.joint_mut(at) = Default::default();
            }
            plan
        };
        if geometry(file) != geometry(&self.known.robot) {
            differences.push(Difference {
                joint: None,
                key: "geometry",
                file: None,
                logbook: None,
            });
        }
        for known in &self.known.joints {
            let Some((_, leg)) = file.leg_named(&known.name.leg) else {
                continue;
            };
            let (there, here) = (leg.joint(known.name.kind), self.joint(known));
            let both = edit::changes(&here, there)
                .into_iter()
                .zip(edit::changes(there, &here));
            differences.extend(both.map(|(file, logbook)| Difference {
                joint: Some(known.name.to_string()),
                key: file.key(),
                file: file.written(),
                logbook: logbook.written(),
            }));
        }
        Some(differences)
    }

    fn joint(&self, known: &JointKnown) -> Joint {
        let joint = self.known.robot.joint(known.at);
        joint.cloned().unwrap_or_default()
    }
}

/// What would be the logbook's first entries.
fn as_entries(whats: Vec<What>) -> Vec<Entry> {
    let entry = |(what, n)| Entry {
        n,
        at: "1970-01-01T00:00:00Z".into(),
        what,
    };
    whats.into_iter().zip(1..).map(entry).collect()
}
