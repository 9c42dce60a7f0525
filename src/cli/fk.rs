//! `hornset fk`: where the foot is at three joint angles.

use std::path::PathBuf;

use serde_json::json;

use super::foot::{self, FrameName};
use super::{Exit, Outcome};

/// The leg and its angles.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The calibration file
    file: PathBuf,
    /// The leg, as LF
    leg: String,
    /// Angle of the coxa, degrees
    #[arg(allow_hyphen_values = true, value_parser = foot::number)]
    coxa: f64,
    /// Angle of the femur, degrees
    #[arg(allow_hyphen_values = true, value_parser = foot::number)]
    femur: f64,
    /// Angle of the tibia, degrees
    #[arg(allow_hyphen_values = true, value_parser = foot::number)]
    tibia: f64,
    /// In which frame the foot is printed
    #[arg(long, value_enum, default_value_t = FrameName::Leg)]
    frame: FrameName,
    /// Print JSON: an object with the keys `leg`, `frame`, `angles_deg`, `foot_mm`, `pulses_us`
    /// (null for a leg that is not calibrated, and then `missing` says what lacks),
    /// `within_limits` and `nominal` (the joints whose µs/degree was typed and not measured: their
    /// pulses may be far off)
    #[arg(long)]
    json: bool,
}

/// Prints the foot and the pulses, and says whether limits and ends allow them.
pub fn run(args: Args) -> Outcome {
    let (robot, leg) = foot::open(&args.file, &args.leg)?;
    let angles = [args.coxa, args.femur, args.tibia];
    let foot = robot.foot(leg, angles, args.frame.frame());
    let pulses = foot::pulses(&robot, leg, angles);
    foot::warn_of_typed(&robot, leg);
    let nominal = foot::nominal(&robot, leg);
    let within = matches!(pulses, Ok((_, true)));
    let json = args.json.then(|| {
        let mut it = json!({
            "leg": args.leg,
            "frame": args.frame.word(),
            "angles_deg": angles,
            "foot_mm": foot,
            "pulses_us": pulses.as_ref().ok().map(|it| it.0),
            "within_limits": within,
            "nominal": nominal,
        });
        if let Err(why) = &pulses {
            it["missing"] = why.to_string().into();
        }
        it
    });
    let text = format!(
        "{} foot at {:.2} {:.2} {:.2} mm in the {} frame\n{}",
        args.leg,
        foot[0],
        foot[1],
        foot[2],
        args.frame.word(),
        foot::pulses_text(&pulses, &nominal)
    );
    foot::print_and(Exit::Fine, json, &text)
}
