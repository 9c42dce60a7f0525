//! How far two legs are from each other: what would stop a foot before its own joints do.
//!
//! Legs are drawn as lines from joint to joint, so the answer is between centre lines:
//! subtract half the thickness of both. Lengths in mm.

use super::body::{add, dot, length, scale, sub};
use super::leg::Vec3;
use super::robot::{CalibratedRobot, Frame, LegIndex};

/// The least distance between two line segments, mm.
///
/// Closest points of two segments, clamped one after the other; Ericson, C., *Real-Time Collision Detection* (2005), 5.1.9, from memory.
pub fn segment_distance([a0, a1]: [Vec3; 2], [b0, b1]: [Vec3; 2]) -> f64 {
    let (along_a, along_b, between) = (sub(a1, a0), sub(b1, b0), sub(a0, b0));
    let (a, e, f) = (
        dot(along_a, along_a),
        dot(along_b, along_b),
        dot(along_b, between),
    );
    let c = dot(along_a, between);
    let (s, t) = if a == 0.0 && e == 0.0 {
        (0.0, 0.0)
    } else if a == 0.0 {
        (0.0, (f / e).clamp(0.0, 1.0))
    } else if e == 0.0 {
        ((-c / a).clamp(0.0, 1.0), 0.0)
    } else {
        let b = dot(along_a, along_b);
        let denominator = a * e - b * b;
        // Parallel segments: any start will do.
        let s = if denominator > 0.0 {
            ((b * f - c * e) / denominator).clamp(0.0, 1.0)
        } else {
            0.0
        };
        match (b * s + f) / e {
            t if t < 0.0 => ((-c / a).clamp(0.0, 1.0), 0.0),
            t if t > 1.0 => (((b - c) / a).clamp(0.0, 1.0), 1.0),
            t => (s, t),
        }
    };
    length(sub(add(a0, scale(along_a, s)), add(b0, scale(along_b, t))))
}

impl CalibratedRobot {
    /// Coxa axis, femur axis, knee and foot in the body frame, at these angles: a leg's centre line.
    pub fn centre_line(&self, leg: LegIndex, angles_deg: [f64; 3]) -> [Vec3; 4] {
        let geometry = self.geometry(leg);
        let angles = angles_deg.map(f64::to_radians);
        [
            [0.0; 3],
            geometry.hip(angles),
            geometry.knee(angles),
            geometry.fk(angles),
        ]
        .map(|point| self.from_leg_frame(leg, point, Frame::Body))
    }

    /// The least distance between the centre lines of two legs at these angles, mm.
    pub fn legs_apart(&self, one: (LegIndex, [f64; 3]), other: (LegIndex, [f64; 3])) -> f64 {
        let one = self.centre_line(one.0, one.1);
        let other = self.centre_line(other.0, other.1);
        let mut least = f64::INFINITY;
        for a in one.windows(2) {
            for b in other.windows(2) {
                least = least.min(segment_distance([a[0], a[1]], [b[0], b[1]]));
            }
        }
        least
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{MARRAM, read};

    #[test]
    fn segments_of_every_kind() {
        let x = [[0.0, 0.0, 0.0], [10.0, 0.0, 0.0]];
        for (other, apart) in [
            ([[5.0, -3.0, 4.0], [5.0, 3.0, 4.0]], 4.0), // crossing above
            ([[13.0, 4.0, 0.0], [20.0, 4.0, 0.0]], 5.0), // end to end, 3-4-5
            ([[2.0, 7.0, 0.0], [8.0, 7.0, 0.0]], 7.0),  // parallel
            ([[-3.0, 0.0, 4.0], [-3.0, 0.0, 4.0]], 5.0), // a point
            ([[4.0, 0.0, 0.0], [4.0, 9.0, 0.0]], 0.0),  // touching
        ] {
            assert!(
                (segment_distance(x, other) - apart).abs() < 1e-12,
                "{other:?}"
            );
            assert!(
                (segment_distance(other, x) - apart).abs() < 1e-12,
                "{other:?}"
            );
        }
        let point = [[1.0; 3], [1.0; 3]];
        assert_eq!(segment_distance(point, point), 0.0);
    }

    #[test]
    fn a_leg_that_swings_to_its_neighbour_comes_near() {
        let robot = CalibratedRobot::new(read(MARRAM).robot.expect("a good file"));
        let leg = |name| robot.leg(name).expect("there");
        let rest = [0.0, 30.0, -90.0];
        let apart = robot.legs_apart((leg("LF"), rest), (leg("LM"), rest));
        assert!(apart > 60.0, "{apart}");
        let swung = [44.0, 30.0, -90.0];
        let near = robot.legs_apart((leg("LF"), swung), (leg("LM"), [-44.0, 30.0, -90.0]));
        assert!(near < 40.0, "{near}");
    }
}
