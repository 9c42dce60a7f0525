//! The calibration of one robot: the model, the TOML file, what is wrong with a file, and edits that keep the builder's layout.
//!
//! The model and the checks are pure; only [`file`] touches the disk, and only when asked to load or save.
//! Nothing here knows the board, the console or the kinematics.

pub mod model;

pub use model::{
    Body, Joint, JointKind, JointRef, Leg, Links, Method, Mount, Recorded, Robot, Span,
};
