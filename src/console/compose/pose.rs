//! Where a leg's joints stand at its commanded pulses, for pictures only.
//!
//! A joint without zero and scale is drawn as if it were a common servo at the middle of its needed travel;
//! the picture draws it dotted, so nobody takes it for measured.

use crate::calibration::{Joint, JointKind, Leg};
use crate::console::state::State;
use crate::kinematics::{LegGeometry, Vec3, leg_to_body};

/// The angle that a joint is drawn at, degrees.
pub fn drawn_deg(state: &State, joint: &Joint, kind: JointKind) -> f64 {
    let (low, high) = joint.needed_deg.unwrap_or(match kind {
        JointKind::Coxa => (-40.0, 40.0),
        JointKind::Femur => (-50.0, 60.0),
        JointKind::Tibia => (-125.0, -40.0),
    });
    let middle = (low + high) / 2.0;
    let Some(pulse) = joint.pin.and_then(|pin| state.bench.plug(pin).last) else {
        return middle;
    };
    match joint.angle_deg(pulse.us()) {
        Some(angle) => angle,
        // 10 µs a degree around the centre: common practice, and drawn dotted.
        None => middle + (pulse.us() - 1500.0) / 10.0,
    }
}

/// Coxa axis, femur axis, knee and foot in the leg's own frame: outward, left, up; mm.
pub fn points(leg: &Leg, coxa_deg: f64, femur_deg: f64, tibia_deg: f64) -> [Vec3; 4] {
    let geometry = LegGeometry::from(&leg.links);
    let angles = [coxa_deg, femur_deg, tibia_deg].map(f64::to_radians);
    [
        [0.0; 3],
        geometry.hip(angles),
        geometry.knee(angles),
        geometry.fk(angles),
    ]
}

/// The same in the body frame: forward, left, up.
pub fn in_body(leg: &Leg, points: [Vec3; 4]) -> [Vec3; 4] {
    points.map(|point| leg_to_body(&leg.mount, point))
}

/// A leg's three drawn angles, degrees.
pub fn angles(state: &State, leg: &Leg) -> [f64; 3] {
    JointKind::ALL.map(|kind| drawn_deg(state, leg.joint(kind), kind))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{Links, Mount};

    #[test]
    fn the_foot_of_the_screens_page() {
        // SCREENS: links 31/67/104 at −4.0°, +11.8°, −71.0° put the foot at 149.5 out, 10.4 fore (here −10.4 left), 75.6 down.
        let leg = Leg {
            name: "LF".into(),
            mount: Mount::default(),
            links: Links {
                coxa_mm: 31.0,
                femur_mm: 67.0,
                tibia_mm: 104.0,
                coxa_height_mm: 0.0,
                tibia_bend_deg: 0.0,
                ball_radius_mm: 4.0,
            },
            joints: Default::default(),
        };
        let foot = points(&leg, -4.0, 11.77, -71.0)[3];
        for (got, due) in foot.iter().zip([149.5, -10.4, -75.6]) {
            assert!((got - due).abs() < 0.1, "{foot:?}");
        }
    }
}
