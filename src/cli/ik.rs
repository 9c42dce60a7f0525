//! `hornset ik`: which angles and pulses put the foot at a point.

use std::path::PathBuf;

use serde_json::{Value, json};

use super::foot::{self, FrameName};
use super::say;
use super::{Exit, Outcome};
use crate::calibration::JointKind;
use crate::kinematics::{NoPose, Unreachable};

/// The leg and the point.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The calibration file
    file: PathBuf,
    /// The leg, as LF
    leg: String,
    /// x of the foot, mm
    #[arg(allow_hyphen_values = true, value_parser = foot::number)]
    x: f64,
    /// y of the foot, mm
    #[arg(allow_hyphen_values = true, value_parser = foot::number)]
    y: f64,
    /// z of the foot, mm (the centre of its ball)
    #[arg(allow_hyphen_values = true, value_parser = foot::number)]
    z: f64,
    /// In which frame the point is
    #[arg(long, value_enum, default_value_t = FrameName::Leg)]
    frame: FrameName,
    /// Print JSON: an object with the keys `leg`, `frame` and `solutions`, an array of objects with
    /// `knee` (up or down), `angles_deg`, `pulses_us` (null for a leg that is not calibrated, and
    /// then `missing` beside `solutions` says what lacks), `within_limits` and `nominal` (the joints
    /// whose µs/degree was typed and not measured: their pulses may be far off). When no solution can
    /// be had there is `reason` as well: `too-far`, `too-near` or `on-axis` with `amount_mm`, or
    /// `limit` with `joint` and `amount_deg`; `solutions` then holds what was found, if anything
    #[arg(long)]
    json: bool,
}

/// Prints both ways to bend the knee; exit code 1 when the point cannot be had.
pub fn run(args: Args) -> Outcome {
    let (robot, leg) = foot::open(&args.file, &args.leg)?;
    let point = [args.x, args.y, args.z];
    let frame = args.frame.frame();
    let mut it = json!({ "leg": args.leg, "frame": args.frame.word(), "solutions": [] });
    let found = match robot.angles_for_foot(leg, point, frame) {
        Ok(found) => found,
        Err(why) => {
            reason(&mut it, &NoPose::Unreachable(why));
            say!("hornset: {}: {why}", args.leg);
            if args.json {
                foot::print(Some(it), "")?;
            }
            return Ok(Exit::No);
        }
    };
    let nominal = foot::nominal(&robot, leg);
    let mut text = String::new();
    let mut solutions = Vec::new();
    for (knee, angles) in found {
        let pulses = foot::pulses(&robot, leg, angles);
        let [c, f, t] = angles;
        text.push_str(&format!(
            "knee {:4}  {c:7.2}° {f:7.2}° {t:7.2}°  {}\n",
            knee.word(),
            foot::pulses_text(&pulses, &nominal)
        ));
        solutions.push(json!({
            "knee": knee.word(),
            "angles_deg": angles,
            "pulses_us": pulses.as_ref().ok().map(|it| it.0),
            "within_limits": matches!(pulses, Ok((_, true))),
            "nominal": nominal,
        }));
    }
    it["solutions"] = Value::Array(solutions);
    foot::warn_of_typed(&robot, leg);
    let exit = match robot.pose_for_foot(leg, point, frame) {
        Ok(_) => Exit::Fine,
        Err(why @ NoPose::NotCalibrated { .. }) => {
            it["missing"] = why.to_string().into();
            Exit::No
        }
        Err(why) => {
            reason(&mut it, &why);
            say!("hornset: {why}");
            Exit::No
        }
    };
    foot::print_and(exit, args.json.then_some(it), text.trim_end())
}

/// Writes down why the point cannot be had.
fn reason(it: &mut Value, why: &NoPose) {
    match why {
        NoPose::Unreachable(Unreachable::TooFar { by_mm }) => {
            it["reason"] = "too-far".into();
            it["amount_mm"] = (*by_mm).into();
        }
        NoPose::Unreachable(Unreachable::TooNear { by_mm }) => {
            it["reason"] = "too-near".into();
            it["amount_mm"] = (*by_mm).into();
        }
        NoPose::Unreachable(Unreachable::OnAxis { from_axis_mm }) => {
            it["reason"] = "on-axis".into();
            it["amount_mm"] = (*from_axis_mm).into();
        }
        NoPose::Limit { joint, by_deg, .. } => {
            it["reason"] = "limit".into();
            it["joint"] = JointKind::word(*joint).into();
            it["amount_deg"] = (*by_deg).into();
        }
        other => it["reason"] = other.to_string().into(),
    }
}
