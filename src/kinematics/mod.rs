//! Where a foot is, which angles and pulses put it somewhere, how it gets there, and whether the robot stands.
//!
//! Frames: body x forward, y left, z up (REP 103); leg x outward along its mount's yaw, z up.
//! Pure functions of numbers; nothing here commands anything, reads a clock or a board.

pub mod body;
pub mod clearance;
pub mod course;
pub mod gait;
pub mod leg;
pub mod legroom;
pub mod path;
pub mod robot;
pub mod stability;
pub mod stream;

pub use body::{BodyPose, body_to_leg, leg_to_body};
pub use clearance::segment_distance;
pub use course::Course;
pub use gait::{Side, Step, WaveGait};
pub use leg::{Angles, Dexterity, Knee, LegGeometry, Unreachable, Vec3};
pub use legroom::{Edge, InTheWay, Legroom};
pub use path::{FootPath, Shape, Timing};
pub use robot::{Beyond, Blocked, Bound, CalibratedRobot, Frame, LegIndex, NoPose, Pose};
pub use stability::SupportPolygon;
pub use stream::{FOOT_MM_S, SetPoint, Stream};
