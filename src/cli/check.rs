//! `hornset check`: reads calibration files and says everything that is wrong with them; writes none.

use std::io::Write;
use std::path::PathBuf;

use serde_json::{Value, json};

use super::say;
use super::{Exit, Outcome};
use crate::calibration::blank::is_still_blank;
use crate::calibration::file::{self, FileError};
use crate::calibration::{Finding, Joint, Reading, Robot};

/// Which files, and how to print.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Calibration files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Print JSON: an array of objects, one a file, with the keys `file`, `good` (true or false),
    /// `format`, `name`, `legs` (their names), `lengths_are_examples` (true while they are those of a new file), `calibrated` and `nominal` (the joints whose zero and
    /// µs/degree are known, measured or with a nominal µs/degree, which was typed; these six null
    /// when it does not come so far) and `findings`, an array of objects with `severity` (error or warning), `fault`, `line`,
    /// `column`, `place`, `found`, `expected`, `remedy`; a file that cannot be read has `good`
    /// false and `unreadable` with the reason instead of `findings`
    #[arg(long)]
    json: bool,
}

/// Prints the findings; exit code 1 when a file is refused, 3 when one cannot be read.
pub fn run(args: Args) -> Outcome {
    let mut exit = Exit::Fine;
    let mut all = Vec::new();
    let mut out = std::io::stdout().lock();
    for path in &args.files {
        let name = file::shown(path);
        let reading = file::inspect(path);
        let robot = reading.as_ref().ok().and_then(|it| it.robot.as_ref());
        let still = robot.is_some_and(|robot| match file::bytes(path) {
            Ok(bytes) => is_still_blank(&String::from_utf8_lossy(&bytes), robot),
            Err(_) => false,
        });
        match &reading {
            Ok(reading) if reading.is_refused() && exit == Exit::Fine => exit = Exit::No,
            Ok(_) => {}
            Err(_) => exit = Exit::File,
        }
        let written = if args.json {
            all.push(as_json(&path.display().to_string(), &reading, still));
            Ok(())
        } else {
            match &reading {
                Ok(reading) => write!(out, "{}", as_text(&name, reading, still)),
                Err(error) => {
                    say!("hornset: {error}");
                    Ok(())
                }
            }
        };
        written.map_err(|e| Exit::System.because(e))?;
    }
    if args.json {
        writeln!(out, "{:#}", Value::Array(all)).map_err(|e| Exit::System.because(e))?;
    }
    Ok(exit)
}

fn as_text(name: &str, reading: &Reading, still: bool) -> String {
    let mut text = String::new();
    for finding in &reading.findings {
        text.push_str(&format!("{name}:{finding}\n"));
    }
    text.push_str(&match &reading.robot {
        Some(robot) => format!(
            "{name}: good: {}, {} {}, {} of {} joints calibrated{}{}\n",
            robot.name,
            robot.legs.len(),
            if robot.legs.len() == 1 { "leg" } else { "legs" },
            titles(robot, Joint::is_calibrated).len(),
            robot.legs.len() * 3,
            match titles(robot, Joint::is_nominal).as_slice() {
                [] => String::new(),
                nominal => format!(
                    "; µs/degree nominal, typed and not measured: {}",
                    nominal.join(", ")
                ),
            },
            match still {
                true =>
                    "; lengths and mounts are still the examples of a new file: measure yours, then take out the remark that says so",
                false => "",
            },
        ),
        None => format!(
            "{name}: refused: {} to mend\n",
            reading.findings.iter().filter(|it| it.is_error()).count()
        ),
    });
    text
}

/// `LF tibia`, and so on: the joints of that kind.
fn titles(robot: &Robot, are: impl Fn(&Joint) -> bool) -> Vec<String> {
    robot
        .joints()
        .filter(|(_, joint)| are(joint))
        .map(|(at, _)| robot.title(at))
        .collect()
}

fn as_json(name: &str, reading: &Result<Reading, FileError>, still: bool) -> Value {
    match reading {
        Ok(reading) => {
            let robot = reading.robot.as_ref();
            json!({
                "file": name,
                "good": robot.is_some(),
                "format": reading.format,
                "name": robot.map(|it| &it.name),
                "legs": robot.map(|it| it.legs.iter().map(|leg| &leg.name).collect::<Vec<_>>()),
                "lengths_are_examples": still,
                "calibrated": robot.map(|it| titles(it, Joint::is_calibrated)),
                "nominal": robot.map(|it| titles(it, Joint::is_nominal)),
                "findings": reading.findings.iter().map(finding_json).collect::<Vec<_>>(),
            })
        }
        Err(error) => json!({
            "file": name,
            "good": false,
            "format": null,
            "name": null,
            "legs": null,
            "lengths_are_examples": null,
            "calibrated": null,
            "nominal": null,
            "unreadable": error.to_string(),
        }),
    }
}

fn finding_json(it: &Finding) -> Value {
    json!({
        "severity": it.fault.severity().word(),
        "fault": it.fault.word(),
        "line": it.line,
        "column": it.column,
        "place": it.place,
        "found": it.found,
        "expected": it.expected,
        "remedy": it.remedy,
    })
}
