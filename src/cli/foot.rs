//! What `hornset ik` and `hornset fk` share: the robot, the leg, the frame, and how numbers are shown.

use std::io::Write;
use std::path::Path;

use serde_json::Value;

use super::say;
use super::{Exit, Failure, Outcome};
use crate::calibration::{JointKind, Recorded};
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

/// No leg of a file is as long, in mm, and no joint turns so far, in degrees: a larger number is a slip.
const MOST: f64 = 10_000.0;

/// A number typed on the command line: of a leg's size, negative without tricks.
pub fn number(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number.abs() <= MOST => Ok(number),
        _ => Err(format!(
            "expected a number from -{MOST} to {MOST}, as 120 or -80.5"
        )),
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

/// `1612.5 1516.0 1500.0 µs`, and words when limits do not allow it and when a scale is nominal.
pub fn pulses_text(pulses: &Result<([f64; 3], bool), NoPose>, nominal: &[&str]) -> String {
    match pulses {
        Ok(([c, f, t], within)) => {
            let word = if *within { "" } else { "  outside the limits" };
            let mark = match nominal {
                [] => String::new(),
                joints => format!("  nominal: {}", joints.join(", ")),
            };
            format!("{c:.1} {f:.1} {t:.1} µs{word}{mark}")
        }
        Err(why) => format!("no pulses: {why}"),
    }
}

/// The joints whose µs/degree is nominal, so that their pulses may be far off.
pub fn nominal(robot: &CalibratedRobot, leg: LegIndex) -> Vec<&'static str> {
    let joints = robot.leg_data(leg).nominal();
    joints.into_iter().map(JointKind::word).collect()
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
        say!(
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
