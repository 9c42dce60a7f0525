//! Where the legs of the built robot are: forward kinematics of the practice robot's own, so that
//! a mistake in the tool's shows, and the distance between neighbour legs.
//!
//! Body frame: x forward, y left, z up. It shares no code with the tool's kinematics.

use super::marram::{BALL_RADIUS_MM, LEGS, LINKS_MM};

/// A point in the body's frame, mm.
pub(super) type Point = [f64; 3];

/// How thick coxa and femur are to either side of their middle, with the servos in them.
const THICK_MM: f64 = 15.0;

/// Coxa axis, femur axis, knee, centre of the foot's ball. `deg`: coxa, femur, tibia.
pub(super) fn points(leg: usize, deg: [f64; 3]) -> [Point; 4] {
    let design = &LEGS[leg];
    let [coxa, femur, tibia] = deg.map(f64::to_radians);
    let yaw = design.yaw_deg.to_radians() + coxa;
    let at = |out: f64, up: f64| {
        [
            design.mount_mm.0 + out * yaw.cos(),
            design.mount_mm.1 + out * yaw.sin(),
            up,
        ]
    };
    let [c, f, t] = LINKS_MM;
    let knee = (c + f * femur.cos(), f * femur.sin());
    let shin = femur + tibia;
    [
        at(0.0, 0.0),
        at(c, 0.0),
        at(knee.0, knee.1),
        at(knee.0 + t * shin.cos(), knee.1 + t * shin.sin()),
    ]
}

/// Free room between two legs, mm; negative: they would be inside each other. Infinite where boxes around them are far apart.
pub(super) fn room(one: &[Point; 4], other: &[Point; 4]) -> f64 {
    if are_far_apart(one, other) {
        return f64::INFINITY;
    }
    let mut least = f64::INFINITY;
    for (i, a) in one.windows(2).enumerate() {
        for (j, b) in other.windows(2).enumerate() {
            let apart = apart(a[0], a[1], b[0], b[1]) - thick(i) - thick(j);
            least = least.min(apart);
        }
    }
    least
}

/// In one of the three directions the boxes around two legs keep more than both legs' thickness apart.
fn are_far_apart(one: &[Point; 4], other: &[Point; 4]) -> bool {
    let mut axis = 0;
    while axis < 3 {
        let (a, b) = (span(one, axis), span(other, axis));
        if a.0 - b.1 > 2.0 * THICK_MM || b.0 - a.1 > 2.0 * THICK_MM {
            return true;
        }
        axis += 1;
    }
    false
}

fn span(leg: &[Point; 4], axis: usize) -> (f64, f64) {
    let [a, b, c, d] = *leg;
    let (low, high) = (a[axis].min(b[axis]), a[axis].max(b[axis]));
    let (lower, higher) = (c[axis].min(d[axis]), c[axis].max(d[axis]));
    (low.min(lower), high.max(higher))
}

fn thick(link: usize) -> f64 {
    // The tibia is as thick as the ball at its end.
    if link == 2 { BALL_RADIUS_MM } else { THICK_MM }
}

pub(super) fn less(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(super) fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Least distance of two segments: the nearest points of two lines, clamped to the segments one
/// after the other (textbook geometry).
fn apart(a0: Point, a1: Point, b0: Point, b1: Point) -> f64 {
    let (u, v, w) = (less(a1, a0), less(b1, b0), less(a0, b0));
    let (uu, uv, vv, uw, vw) = (dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w));
    let cross = uu * vv - uv * uv;
    let mut s = if cross > 1e-9 {
        ((uv * vw - vv * uw) / cross).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let mut t = (uv * s + vw) / vv;
    if !(0.0..=1.0).contains(&t) {
        t = t.clamp(0.0, 1.0);
        s = ((uv * t - uw) / uu).clamp(0.0, 1.0);
    }
    let gap: Point = std::array::from_fn(|i| w[i] + u[i] * s - v[i] * t);
    dot(gap, gap).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_leg_reaches_as_far_as_its_links_are_long() {
        for leg in 0..6 {
            let [hip, .., foot] = points(leg, [0.0, 0.0, 0.0]);
            let reach = dot(less(foot, hip), less(foot, hip)).sqrt();
            assert!((reach - 202.0).abs() < 1e-9);
        }
        // LM points to the left, and a knee bent by 90 degrees puts the foot below it.
        let [.., knee, foot] = points(1, [0.0, 0.0, -90.0]);
        assert!((knee[1] - 173.0).abs() < 1e-9 && knee[0].abs() < 1e-9);
        assert!((foot[1] - 173.0).abs() < 1e-9 && (foot[2] + 104.0).abs() < 1e-9);
        // A positive coxa turns counter-clockwise seen from above: LF at 45 then points left.
        let [.., foot] = points(0, [45.0, 0.0, 0.0]);
        assert!((foot[0] - 85.0).abs() < 1e-9 && (foot[1] - 257.0).abs() < 1e-9);
    }

    #[test]
    fn legs_that_are_called_far_apart_have_room_between_all_their_links() {
        let mut far = 0;
        for case in 0..2000_i32 {
            let deg = |n: i32| f64::from((case * 37 + n * 101) % 181) - 90.0;
            let one = points(0, [deg(0), deg(1), deg(2)]);
            let other = points(1, [deg(3), deg(4), deg(5)]);
            if !are_far_apart(&one, &other) {
                continue;
            }
            far += 1;
            for (i, a) in one.windows(2).enumerate() {
                for (j, b) in other.windows(2).enumerate() {
                    assert!(
                        apart(a[0], a[1], b[0], b[1]) > thick(i) + thick(j),
                        "{case}"
                    );
                }
            }
        }
        assert!((100..1900).contains(&far), "{far}");
    }

    #[test]
    fn distances_of_segments_meet_those_of_many_points_on_them() {
        let mix = |a: Point, b: Point, t: f64| -> Point {
            std::array::from_fn(|i| a[i] + (b[i] - a[i]) * t)
        };
        for case in 0..60 {
            let value = |n: i32| f64::from((case * 37 + n * 101) % 97) - 48.0;
            let point = |n: i32| [value(n), value(n + 1), value(n + 2)];
            let (a0, a1, b0, b1) = (point(0), point(3), point(6), point(9));
            let mut least = f64::INFINITY;
            for i in 0..=200 {
                for j in 0..=200 {
                    let gap = less(
                        mix(a0, a1, f64::from(i) / 200.0),
                        mix(b0, b1, f64::from(j) / 200.0),
                    );
                    least = least.min(dot(gap, gap).sqrt());
                }
            }
            let found = apart(a0, a1, b0, b1);
            assert!(found <= least + 1e-9 && found > least - 1.0, "case {case}");
        }
    }
}
