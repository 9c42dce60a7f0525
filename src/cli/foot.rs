//! What `hornset ik` and `hornset fk` share: the robot, the leg, the frame, and how numbers are shown.

use std::io::Write;
use std::path::Path;

use serde_json::Value;

use super::{Exit, Failure, Outcome};
use crate::calibration::Recorded;
use crate::kinematics::{CalibratedRobot, Frame, LegIndex, NoPose};

/// In which frame points are typed and printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum FrameName {
    /// The leg's own: x outward along its mount, z up, the coxa axis at the origin
    Leg,
    /// The body's: x forward, y left, z up
    Body,
}

impl FrameName {
    pub fn frame(self) -> Frame {
        match self {
            FrameName::Leg => Frame::Leg,
            FrameName::Body => Frame::Body,
        }
    }

    pub fn word(self) -> &'static str {
        match self {
            FrameName::Leg => "leg",
            FrameName::Body => "body",
        }
    }
}

/// Reads the file and finds the leg.
pub fn open(file: &Path, leg: &str) -> Result<(CalibratedRobot, LegIndex), Failure> {
    let robot = CalibratedRobot::load(file).map_err(|e| Exit::File.because(e))?;
    let leg = robot.leg(leg).map_err(|e| Exit::Usage.because(e))?;
    Ok((robot, leg))
}

/// A number typed on the command line: finite, negative without tricks.
pub fn number(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err("expected a finite number, as 120 or -80.5".into()),
    }
}

/// The pulses and whether limits and ends allow them; no pulses for a leg that is not calibrated.
pub fn pulses(
    robot: &CalibratedRobot,
    leg: LegIndex,
    angles_deg: [f64; 3],
) -> Result<([f64; 3], bool), NoPose> {
    let pulses = robot.raw_pulses(leg, angles_deg)?;
    Ok((pulses, robot.beyond(leg, pulses).is_none()))
}

/// `1612.5 1516.0 1500.0 µs`, and a word when limits do not allow it.
pub fn pulses_text(pulses: &Result<([f64; 3], bool), NoPose>) -> String {
    match pulses {
        Ok(([c, f, t], within)) => {
            let word = if *within { "" } else { "  outside the limits" };
            format!("{c:.1} {f:.1} {t:.1} µs{word}")
        }
        Err(why) => format!("no pulses: {why}"),
    }
}

/// Whether a value is only typed, so that the pulses may be far off; said once, on standard error.
pub fn warn_of_typed(robot: &CalibratedRobot, leg: LegIndex) {
    let data = robot.leg_data(leg);
    let typed = |it: &Option<Recorded>| {
        it.as_ref()
            .is_some_and(|it| it.by == crate::calibration::Method::Typed)
    };
    if data
        .joints
        .iter()
        .any(|joint| typed(&joint.zero) || typed(&joint.scale))
    {
        eprintln!(
            "hornset: some values of {} were typed and not measured",
            data.name
        );
    }
}

/// Prints JSON or text to standard output.
pub fn print(json: Option<Value>, text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match json {
        Some(value) => writeln!(out, "{value:#}"),
        None => writeln!(out, "{text}"),
    }
    .map_err(|e| Exit::System.because(e))
}

/// Prints, then ends with this code.
pub fn print_and(exit: Exit, json: Option<Value>, text: &str) -> Outcome {
    print(json, text)?;
    Ok(exit)
}
