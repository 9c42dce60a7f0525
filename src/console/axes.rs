//! Which way an arrow moves a foot, and how its point is written: in the leg's frame or in the body's.
//!
//! Pure geometry of a leg's mount. Left and right are always the robot's own.

use crate::calibration::Mount;
use crate::kinematics::{Vec3, body_to_leg, leg_to_body};

use super::intent::Way;

/// In which frame a foot's point and the arrows are meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PointFrame {
    /// Outward along the leg's mount, fore, up.
    #[default]
    Leg,
    /// Fore, left, up.
    Body,
}

impl PointFrame {
    /// Its name on the screen.
    pub fn word(self) -> &'static str {
        match self {
            PointFrame::Leg => "leg frame",
            PointFrame::Body => "body frame",
        }
    }
}

/// What the side of the leg is called that the top view draws upward: its name, and its sign along the leg's y.
///
/// For a leg at the side it is the one toward the front; for one at the front or the rear, the robot's left.
pub fn fore(mount: &Mount) -> (&'static str, f64) {
    let (sin, cos) = mount.yaw_deg.to_radians().sin_cos();
    if sin > 0.01 {
        ("fore", -1.0)
    } else if sin < -0.01 {
        ("fore", 1.0)
    } else {
        ("left", cos.signum())
    }
}

/// The way of an arrow in the lit view: a unit vector of the leg's frame, and its word.
pub fn way(mount: &Mount, frame: PointFrame, top: bool, way: Way) -> (Vec3, &'static str) {
    let (fore_name, fore_sign) = fore(mount);
    let sign = match way {
        Way::Right | Way::Up => 1.0,
        Way::Left | Way::Down => -1.0,
    };
    let across = matches!(way, Way::Left | Way::Right);
    if !across && !top {
        return ([0.0, 0.0, sign], if sign > 0.0 { "up" } else { "down" });
    }
    match frame {
        PointFrame::Leg if across => (
            [sign, 0.0, 0.0],
            if sign > 0.0 { "outward" } else { "inward" },
        ),
        PointFrame::Leg => (
            [0.0, sign * fore_sign, 0.0],
            match (fore_name, sign > 0.0) {
                ("fore", true) => "forward",
                ("fore", false) => "backward",
                (_, true) => "to the left",
                (_, false) => "to the right",
            },
        ),
        PointFrame::Body => {
            let (sin, cos) = mount.yaw_deg.to_radians().sin_cos();
            // Of the body's two axes, the arrows across take the one that leads away from the body more.
            let beside = sin.abs() >= cos.abs() - 1e-9;
            let body = match (across, beside) {
                (true, true) => [0.0, sign * sin.signum(), 0.0],
                (true, false) => [sign * cos.signum(), 0.0, 0.0],
                (false, true) => [sign, 0.0, 0.0],
                (false, false) => [0.0, sign, 0.0],
            };
            let word = match (body[0], body[1]) {
                (x, _) if x > 0.0 => "forward",
                (x, _) if x < 0.0 => "backward",
                (_, y) if y > 0.0 => "to the left",
                _ => "to the right",
            };
            let at = |point| body_to_leg(mount, point);
            let (to, from) = (
                at([mount.x_mm + body[0], mount.y_mm + body[1], mount.z_mm]),
                at([mount.x_mm, mount.y_mm, mount.z_mm]),
            );
            (std::array::from_fn(|i| to[i] - from[i]), word)
        }
    }
}

/// A point of the leg's frame as it is written: three names and values, mm.
pub fn shown(mount: &Mount, frame: PointFrame, point: Vec3) -> [(&'static str, f64); 3] {
    match frame {
        PointFrame::Leg => {
            let (name, sign) = fore(mount);
            [("out", point[0]), (name, sign * point[1]), ("up", point[2])]
        }
        PointFrame::Body => {
            let [x, y, z] = leg_to_body(mount, point);
            [("fore", x), ("left", y), ("up", z)]
        }
    }
}

/// The point of the leg's frame that was written like this.
pub fn meant(mount: &Mount, frame: PointFrame, values: [f64; 3]) -> Vec3 {
    match frame {
        PointFrame::Leg => [values[0], fore(mount).1 * values[1], values[2]],
        PointFrame::Body => body_to_leg(mount, values),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mount(yaw_deg: f64, y_mm: f64) -> Mount {
        Mount {
            x_mm: 10.0,
            y_mm,
            z_mm: 5.0,
            yaw_deg,
        }
    }

    const WAYS: [Way; 4] = [Way::Right, Way::Left, Way::Up, Way::Down];

    /// The way in the body frame.
    fn in_body(mount: &Mount, vector: Vec3) -> Vec3 {
        let (to, from) = (leg_to_body(mount, vector), leg_to_body(mount, [0.0; 3]));
        std::array::from_fn(|i| to[i] - from[i])
    }

    #[test]
    fn words_and_ways_agree_for_legs_all_around() {
        for yaw in [45.0, 90.0, 135.0, -135.0, -90.0, -45.0, 0.0, 180.0, 30.0] {
            let mount = mount(yaw, 50.0);
            for frame in [PointFrame::Leg, PointFrame::Body] {
                for (top, arrow) in [false, true].into_iter().flat_map(|t| WAYS.map(|w| (t, w))) {
                    let (vector, word) = way(&mount, frame, top, arrow);
                    let body = in_body(&mount, vector);
                    let size: f64 = vector.iter().map(|x| x * x).sum();
                    assert!((size - 1.0).abs() < 1e-9);
                    let due = match word {
                        "outward" => vector[0],
                        "inward" => -vector[0],
                        "up" => body[2],
                        "down" => -body[2],
                        "forward" => body[0],
                        "backward" => -body[0],
                        "to the left" => body[1],
                        _ => -body[1],
                    };
                    let least = if frame == PointFrame::Leg { 0.4 } else { 0.999 };
                    assert!(
                        due > least,
                        "{yaw} {frame:?} {top} {arrow:?}: {word} {body:?}"
                    );
                    // On the picture the arrow to the right leads away from the body, in either frame.
                    if arrow == Way::Right {
                        assert!(vector[0] > 0.7 - 1e-9, "{yaw} {frame:?}: {vector:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_point_is_read_as_it_was_written() {
        for yaw in [45.0, -90.0, 0.0, 180.0] {
            let mount = mount(yaw, -50.0);
            for frame in [PointFrame::Leg, PointFrame::Body] {
                let point = [149.5, -10.4, -75.6];
                let written = shown(&mount, frame, point).map(|(_, value)| value);
                for (got, due) in meant(&mount, frame, written).iter().zip(point) {
                    assert!((got - due).abs() < 1e-9);
                }
            }
        }
        // LF of the screens: 10.4 fore is −10.4 along the leg's y.
        let [_, (name, value), _] =
            shown(&mount(45.0, 55.0), PointFrame::Leg, [149.5, -10.4, -75.6]);
        assert_eq!((name, value), ("fore", 10.4));
    }
}
