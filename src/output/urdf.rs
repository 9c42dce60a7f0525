//! A URDF, so that simulators and robotics libraries show this very robot with its measured limits.
//!
//! Metres and radians, x forward, y left, z up (REP 103); joints turn as in the calibration, positive lifts.
//! Shapes are plain boxes and the foot's ball: it shows the robot's size, not its looks. Masses are not known and not invented.
//! Source of the format: the URDF XML specification of the robot operating system's wiki.

use std::f64::consts::PI;
use std::fmt::Write;

use super::{Source, VERSION, nominal_note};
use crate::calibration::{Joint, JointKind, Leg};

/// Readers want an effort and a speed; these are an ordinary hobby servo's, about 10 kg·cm and 60° in 0.2 s. Common practice, not measured.
const EFFORT_NM: f64 = 1.0;
const SPEED_RAD_S: f64 = PI / 3.0 / 0.2;

/// The thickness of drawn links, m.
const THICK_M: f64 = 0.012;

/// The text of the URDF. Joints that are not calibrated get half a turn to both sides.
pub fn write(source: &Source<'_>) -> String {
    let robot = source.robot.robot();
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    // "--" must not stand inside an XML comment.
    let name = escape(&robot.name).replace("--", "- -");
    let _ = write!(
        out,
        "<!-- {name}: exported by hornset {VERSION} at {}.\n     Calibration file's SHA-256: {}.\n     \
         Limits are what ends and limits of the calibration allow; effort and velocity are an ordinary servo's, not measured.{} -->\n",
        source.at,
        source.digest,
        nominal_note(robot).map_or_else(String::new, |note| format!("\n     {note}")),
    );
    let _ = writeln!(out, "<robot name=\"{}\">", escape(&robot.name));
    out.push_str("  <link name=\"base_link\">\n");
    let (length, width) = match robot.body {
        Some(body) => (body.length_mm / 1000.0, body.width_mm / 1000.0),
        None => (0.1, 0.1),
    };
    shape(
        &mut out,
        &format!("<box size=\"{length} {width} 0.02\"/>"),
        [0.0; 3],
        0.0,
    );
    out.push_str("  </link>\n");
    for leg in &robot.legs {
        write_leg(&mut out, leg);
    }
    out.push_str("</robot>\n");
    out
}

fn write_leg(out: &mut String, leg: &Leg) {
    let name = &leg.name;
    let m = |mm: f64| mm / 1000.0;
    let (links, mount) = (&leg.links, &leg.mount);
    let bend = links.tibia_bend_deg.to_radians();
    let tip = [
        m(links.tibia_mm) * bend.cos(),
        0.0,
        m(links.tibia_mm) * bend.sin(),
    ];
    let hip = [m(links.coxa_mm), 0.0, m(links.coxa_height_mm)];
    let knee = [m(links.femur_mm), 0.0, 0.0];
    let yaw = mount.yaw_deg.to_radians();
    let place = [m(mount.x_mm), m(mount.y_mm), m(mount.z_mm)];
    let parts = [
        (
            JointKind::Coxa,
            "base_link".to_owned(),
            place,
            yaw,
            "0 0 1",
            hip,
        ),
        // Positive lifts: a right-handed turn about −y.
        (
            JointKind::Femur,
            format!("{name}_coxa"),
            hip,
            0.0,
            "0 -1 0",
            knee,
        ),
        (
            JointKind::Tibia,
            format!("{name}_femur"),
            knee,
            0.0,
            "0 -1 0",
            tip,
        ),
    ];
    for (kind, parent, at, yaw, axis, end) in parts {
        let (low, high) = limits(leg.joint(kind));
        let _ = write!(
            out,
            "  <joint name=\"{name}_{kind}_joint\" type=\"revolute\">\n    <parent link=\"{parent}\"/>\n    \
             <child link=\"{name}_{kind}\"/>\n    <origin xyz=\"{} {} {}\" rpy=\"0 0 {yaw}\"/>\n    \
             <axis xyz=\"{axis}\"/>\n    <limit lower=\"{low}\" upper=\"{high}\" effort=\"{EFFORT_NM}\" velocity=\"{SPEED_RAD_S}\"/>\n  \
             </joint>\n  <link name=\"{name}_{kind}\">\n",
            at[0], at[1], at[2]
        );
        let long = end[0].hypot(end[2]);
        if long > 0.0 {
            let middle = end.map(|it| it / 2.0);
            let pitch = -end[2].atan2(end[0]);
            shape(
                out,
                &format!("<box size=\"{long} {THICK_M} {THICK_M}\"/>"),
                middle,
                pitch,
            );
        }
        out.push_str("  </link>\n");
    }
    let _ = write!(
        out,
        "  <joint name=\"{name}_foot_joint\" type=\"fixed\">\n    <parent link=\"{name}_tibia\"/>\n    \
         <child link=\"{name}_foot\"/>\n    <origin xyz=\"{} {} {}\" rpy=\"0 0 0\"/>\n  </joint>\n  <link name=\"{name}_foot\">\n",
        tip[0], tip[1], tip[2]
    );
    if links.ball_radius_mm > 0.0 {
        let ball = format!("<sphere radius=\"{}\"/>", m(links.ball_radius_mm));
        shape(out, &ball, [0.0; 3], 0.0);
    }
    out.push_str("  </link>\n");
}

/// What may be seen and what may be bumped into are the same.
fn shape(out: &mut String, geometry: &str, at: [f64; 3], pitch: f64) {
    for word in ["visual", "collision"] {
        let _ = writeln!(
            out,
            "    <{word}><origin xyz=\"{} {} {}\" rpy=\"0 {pitch} 0\"/><geometry>{geometry}</geometry></{word}>",
            at[0], at[1], at[2]
        );
    }
}

fn limits(joint: &Joint) -> (f64, f64) {
    match joint.allowed_deg() {
        Some((low, high)) => (low.to_radians(), high.to_radians()),
        None => (-PI, PI),
    }
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
