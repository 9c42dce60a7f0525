//! What moves and along which way: a foot, a leg's joints, or the body over standing feet.
//!
//! A course knows nothing of time; the stream goes along it.

use super::body::BodyPose;
use super::leg::{Unreachable, Vec3};
use super::legroom::Legroom;
use super::robot::{CalibratedRobot, Frame};

/// What moves, and from where to where.
#[derive(Debug, Clone, PartialEq)]
pub enum Course {
    /// One foot in a straight line, in its leg's frame.
    Line {
        /// From here, mm.
        from: Vec3,
        /// To here, mm.
        to: Vec3,
    },
    /// One leg's joints together, from angles to angles: the other knee.
    Joints {
        /// From these, degrees.
        from: [f64; 3],
        /// To these, degrees.
        to: [f64; 3],
    },
    /// The body over feet that stay where they are on the ground.
    Body {
        /// The feet on the ground, one for each leg that stands.
        feet: Vec<Vec3>,
        /// From this pose.
        from: BodyPose,
        /// To this one.
        to: BodyPose,
    },
}

impl Course {
    /// Angles of each leg that moves, degrees, at a part of the course.
    pub(super) fn at(
        &self,
        robot: &CalibratedRobot,
        rooms: &[Legroom],
        part: f64,
    ) -> Result<Vec<[f64; 3]>, Unreachable> {
        match self {
            Course::Line { from, to } => rooms
                .iter()
                .map(|room| room.angles_at(robot, between(from, to, part)))
                .collect(),
            Course::Joints { from, to } => Ok(vec![between(from, to, part)]),
            Course::Body { feet, .. } => {
                let pose = Frame::Ground(self.pose(part).unwrap_or_default());
                rooms
                    .iter()
                    .zip(feet)
                    .map(|(room, foot)| {
                        room.angles_at(robot, robot.to_leg_frame(room.leg, *foot, pose))
                    })
                    .collect()
            }
        }
    }

    /// The body's pose at a part of the course, if it is the body that moves.
    pub fn pose(&self, part: f64) -> Option<BodyPose> {
        let Course::Body { from, to, .. } = self else {
            return None;
        };
        let mix = |a: f64, b: f64| a + (b - a) * part;
        Some(BodyPose {
            at: between(&from.at, &to.at, part),
            roll: mix(from.roll, to.roll),
            pitch: mix(from.pitch, to.pitch),
            yaw: mix(from.yaw, to.yaw),
        })
    }
}

/// Both ends are met exactly, whatever the rounding between.
pub(super) fn between(from: &Vec3, to: &Vec3, part: f64) -> Vec3 {
    if part >= 1.0 {
        return *to;
    }
    std::array::from_fn(|i| from[i] + (to[i] - from[i]) * part)
}
