//! hornset: the bench tool for builders of walking robots made of hobby servos.
//!
//! The library's modules, and which way their uses of each other run:
//! `cli, console -> procedure -> estimate -> kinematics -> calibration`; `cli, console -> output -> kinematics`;
//! `cli, console -> board`; `practice -> board`.
//! `units` holds the two words that all of them share, [`units::Pin`] and [`units::Pulse`].

pub mod board;
pub mod calibration;
pub mod cli;
pub mod console;
pub mod estimate;
pub mod kinematics;
pub mod output;
#[cfg(feature = "practice")]
pub mod practice;
pub mod procedure;
pub mod units;

pub use kinematics::CalibratedRobot;
