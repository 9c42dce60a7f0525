//! Frames: the leg's on the body, the body's over the ground, and planted feet under a moving body.
//!
//! Body frame: x forward, y left, z up (REP 103). Leg frame: x outward along the mount's yaw, z up.
//! Ground frame: the level ground, z up, wherever the caller puts its origin.
//! Lengths in mm, angles in radians but for the mount, which is in degrees as in the file.

use super::leg::Vec3;
use crate::calibration::Mount;

/// Where the body is over the ground.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BodyPose {
    /// The body frame's origin in the ground frame, mm.
    pub at: Vec3,
    /// Turned about x (positive: right side down), radians.
    pub roll: f64,
    /// Turned about y (positive: nose down), radians.
    pub pitch: f64,
    /// Turned about z (positive: to the left), radians.
    pub yaw: f64,
}

impl BodyPose {
    /// Rows of the rotation from the body frame to the ground frame: `Rz(yaw) Ry(pitch) Rx(roll)`.
    ///
    /// Fixed-axis roll, pitch, yaw as REP 103 orders them.
    pub fn rotation(&self) -> [Vec3; 3] {
        let (sr, cr) = self.roll.sin_cos();
        let (sp, cp) = self.pitch.sin_cos();
        let (sy, cy) = self.yaw.sin_cos();
        [
            [cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr],
            [sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr],
            [-sp, cp * sr, cp * cr],
        ]
    }

    /// A point of the body frame in the ground frame.
    pub fn to_ground(&self, point: Vec3) -> Vec3 {
        let turned = self.rotation().map(|row| dot(row, point));
        add(turned, self.at)
    }

    /// A point of the ground frame in the body frame: where a planted foot is when the body has moved.
    pub fn to_body(&self, point: Vec3) -> Vec3 {
        let [a, b, c] = self.rotation();
        let from = sub(point, self.at);
        // The transposed rotation: its columns are the rows.
        [0, 1, 2].map(|i| a[i] * from[0] + b[i] * from[1] + c[i] * from[2])
    }
}

/// A point of the leg's frame in the body frame.
pub fn leg_to_body(mount: &Mount, [x, y, z]: Vec3) -> Vec3 {
    let (s, c) = mount.yaw_deg.to_radians().sin_cos();
    [
        mount.x_mm + c * x - s * y,
        mount.y_mm + s * x + c * y,
        mount.z_mm + z,
    ]
}

/// A point of the body frame in the leg's frame.
pub fn body_to_leg(mount: &Mount, [x, y, z]: Vec3) -> Vec3 {
    let (s, c) = mount.yaw_deg.to_radians().sin_cos();
    let (dx, dy) = (x - mount.x_mm, y - mount.y_mm);
    [c * dx + s * dy, c * dy - s * dx, z - mount.z_mm]
}

pub(super) fn dot(a: Vec3, b: Vec3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn add(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

pub(super) fn sub(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(super) fn scale(a: Vec3, by: f64) -> Vec3 {
    a.map(|it| it * by)
}

pub(super) fn length(a: Vec3) -> f64 {
    a[0].hypot(a[1]).hypot(a[2])
}

pub(super) fn cross(a: Vec3, b: Vec3) -> Vec3 {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_there_and_back() {
        let mount = Mount {
            x_mm: 85.0,
            y_mm: -55.0,
            z_mm: 3.0,
            yaw_deg: -45.0,
        };
        let pose = BodyPose {
            at: [3.0, -7.0, 92.0],
            roll: 0.1,
            pitch: -0.2,
            yaw: 1.3,
        };
        let point = [12.0, 34.0, -56.0];
        let there = leg_to_body(&mount, point);
        assert!(length(sub(body_to_leg(&mount, there), point)) < 1e-12);
        let there = pose.to_ground(point);
        assert!(length(sub(pose.to_body(there), point)) < 1e-12);
    }

    #[test]
    fn the_signs_of_roll_pitch_and_yaw_are_those_of_rep_103() {
        let quarter = std::f64::consts::FRAC_PI_2;
        let near = |a: Vec3, b: Vec3| assert!(length(sub(a, b)) < 1e-12, "{a:?} {b:?}");
        let turned = |roll, pitch, yaw| BodyPose {
            roll,
            pitch,
            yaw,
            ..BodyPose::default()
        };
        near(
            turned(0.0, 0.0, quarter).to_ground([1.0, 0.0, 0.0]),
            [0.0, 1.0, 0.0],
        );
        near(
            turned(0.0, quarter, 0.0).to_ground([1.0, 0.0, 0.0]),
            [0.0, 0.0, -1.0],
        );
        near(
            turned(quarter, 0.0, 0.0).to_ground([0.0, 1.0, 0.0]),
            [0.0, 0.0, 1.0],
        );
    }
}
