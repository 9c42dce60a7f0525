//! The whole calibration as JSON, for programs that would rather not read TOML.
//!
//! Its shape is `calibrations/export.schema.json`: what is not known is null, nothing is left out.

use serde_json::{Value, json};

use super::{Source, VERSION};
use crate::calibration::{Joint, JointKind, Leg, Recorded, Span};

/// The export's own version, the number in its schema.
const EXPORT: u32 = 1;

/// The text of the export.
pub fn write(source: &Source<'_>) -> String {
    let robot = source.robot.robot();
    let value = json!({
        "hornset_export": EXPORT,
        "hornset_version": VERSION,
        "exported_at": source.at,
        "file_sha256": source.digest,
        "name": robot.name,
        "body": robot.body.map(|body| json!({
            "length_mm": body.length_mm,
            "width_mm": body.width_mm,
            "centre_of_mass_mm": body.centre_of_mass_mm,
        })),
        "legs": robot.legs.iter().map(leg).collect::<Vec<_>>(),
    });
    format!("{value:#}\n")
}

fn leg(it: &Leg) -> Value {
    let joints: serde_json::Map<String, Value> = JointKind::ALL
        .into_iter()
        .map(|kind| (kind.word().to_owned(), joint(it.joint(kind))))
        .collect();
    json!({
        "name": it.name,
        "mount": {
            "x_mm": it.mount.x_mm,
            "y_mm": it.mount.y_mm,
            "z_mm": it.mount.z_mm,
            "yaw_deg": it.mount.yaw_deg,
        },
        "links": {
            "coxa_mm": it.links.coxa_mm,
            "femur_mm": it.links.femur_mm,
            "tibia_mm": it.links.tibia_mm,
            "coxa_height_mm": it.links.coxa_height_mm,
            "tibia_bend_deg": it.links.tibia_bend_deg,
            "ball_radius_mm": it.links.ball_radius_mm,
        },
        "joints": joints,
    })
}

fn joint(it: &Joint) -> Value {
    json!({
        "pin": it.pin.map(|pin| pin.to_string()),
        "pin_number": it.pin.map(|pin| pin.number()),
        "servo": it.servo,
        "zero_us": recorded(&it.zero),
        "us_per_degree": recorded(&it.scale),
        "nominal": it.is_nominal(),
        "near_end_us": recorded(&it.near_end),
        "far_end_us": recorded(&it.far_end),
        "limits_us": span(it.limits),
        "guard_us": span(it.guard),
        "needed_deg": it.needed_deg.map(|(low, high)| [low, high]),
        "play_deg": recorded(&it.play_deg),
        "allowed_us": <[f64; 2]>::from(it.allowed_us()),
        "allowed_deg": it.allowed_deg().map(<[f64; 2]>::from),
    })
}

fn recorded(it: &Option<Recorded>) -> Value {
    match it {
        None => Value::Null,
        Some(it) => json!({
            "value": it.value,
            "spread": it.spread,
            "at": it.at,
            "by": it.by.word(),
        }),
    }
}

fn span(it: Option<Span>) -> Option<[f64; 2]> {
    it.map(|(low, high)| [low.us(), high.us()])
}
