//! `hornset export`: the calibration in a form that other programs read.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::anyhow;

use super::say;
use super::{Exit, Outcome};
use crate::calibration::file::{self, FileError};
use crate::calibration::logbook::path_beside;
use crate::calibration::read_bytes;
use crate::kinematics::CalibratedRobot;
use crate::output::{self, Source};

/// Which file, in which form, to where.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The calibration file
    file: PathBuf,
    /// The form
    #[arg(long = "as", value_enum)]
    form: Form,
    /// Write to this file instead of standard output; an existing file is not overwritten
    /// without --replace
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Overwrite the file given with -o
    #[arg(long, requires = "output")]
    replace: bool,
}

/// The forms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Form {
    /// A C99 header for the gait sketch on the robot itself
    C,
    /// A URDF for simulators and robotics libraries
    Urdf,
    /// JSON; its shape is calibrations/export.schema.json
    Json,
}

/// Writes the export; exit code 1 when the robot is not calibrated enough for the form.
pub fn run(args: Args) -> Outcome {
    let bytes = file::bytes(&args.file).map_err(|e| Exit::File.because(e))?;
    let reading = read_bytes(&bytes);
    let Some(robot) = reading.robot else {
        return Err(Exit::File.because(FileError::Refused {
            path: args.file,
            findings: reading.findings,
        }));
    };
    if let Some(path) = &args.output {
        let is_ours = [args.file.clone(), path_beside(&args.file)]
            .iter()
            .any(|ours| is_same(ours, path));
        if is_ours {
            return Err(Exit::Usage.because(anyhow!(
                "{} is what the export is made from, and would be lost. Choose another name",
                file::shown(path)
            )));
        }
    }
    let robot = CalibratedRobot::new(robot);
    let now = jiff::Timestamp::from_second(jiff::Timestamp::now().as_second())
        .map_err(|e| Exit::System.because(e))?
        .to_string();
    if let Some(note) = output::nominal_note(robot.robot()) {
        say!("hornset: {note}");
    }
    let digest = output::digest(&bytes);
    let source = Source {
        robot: &robot,
        digest: &digest,
        at: &now,
    };
    let text = match args.form {
        Form::C => output::c_header::write(&source).map_err(|e| Exit::No.because(e))?,
        Form::Urdf => output::urdf::write(&source),
        Form::Json => output::json::write(&source),
    };
    match &args.output {
        None => std::io::stdout()
            .lock()
            .write_all(text.as_bytes())
            .map_err(|e| Exit::System.because(e))?,
        Some(path) if args.replace && path.exists() => {
            file::replace(path, text.as_bytes()).map_err(|why| {
                Exit::File.because(FileError::Write {
                    path: path.clone(),
                    why,
                })
            })?;
        }
        Some(path) => {
            file::create(path, text.as_bytes()).map_err(|error| match error {
                FileError::Exists(path) => Exit::File.because(anyhow!(
                    "{} exists and was not overwritten. Choose another name, or add --replace to overwrite it",
                    file::shown(&path)
                )),
                other => Exit::File.because(other),
            })?;
        }
    }
    Ok(Exit::Fine)
}

/// Whether both names lead to one file that is there, by whatever way.
fn is_same(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}
