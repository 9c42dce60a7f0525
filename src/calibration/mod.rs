//! The calibration of one robot: the model, the TOML file, what is wrong with a file, and edits that keep the builder's layout.
//!
//! The model and the checks are pure; only `file` touches the disk, and only when asked to load or save.
//! Nothing here knows the board, the console or the kinematics.

pub mod blank;
mod check;
mod disk;
pub mod edit;
pub mod file;
pub mod finding;
mod lock;
pub mod logbook;
pub mod model;
pub mod read;
mod read_joint;
mod reader;
mod toml10;
pub mod whole;

pub use edit::Change;
pub use file::{FileError, Loaded};
pub use finding::{Fault, Finding, Severity};
pub use model::{
    Body, Joint, JointKind, JointRef, Leg, Links, Method, Mount, Recorded, Robot, Span,
};
pub use read::{FORMAT, Reading, read, read_bytes};

/// The shipped example robot, six legs, fully calibrated by a made-up run.
pub const MARRAM: &str = include_str!("../../calibrations/marram.toml");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_robot_reads_without_a_word() {
        let reading = read(MARRAM);
        assert_eq!(reading.findings, []);
        let robot = reading.robot.expect("a good file");
        assert_eq!((robot.legs.len(), robot.template), (6, true));
        let lf = &robot.legs[0];
        let zero = lf.joint(JointKind::Femur).zero.as_ref().expect("known");
        assert_eq!((zero.value, zero.spread), (1487.5, Some(4.0)));
        assert!(
            robot
                .joints()
                .all(|(_, joint)| joint.short_deg() == Some((0.0, 0.0)))
        );
    }
}
