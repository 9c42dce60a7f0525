//! What other programs read: a C header for the gait sketch, a URDF for simulators, JSON for everything else.
//!
//! Each format is one function from a calibrated robot to text.
//! Nothing here writes a file or reads a clock: who calls says when it is and which file it was.

pub mod c_header;
pub mod json;
pub mod urdf;

use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::calibration::Robot;
use crate::kinematics::CalibratedRobot;

/// What is exported, and where it came from.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// The robot.
    pub robot: &'a CalibratedRobot,
    /// The SHA-256 of the calibration file, as [`digest`] gives it.
    pub digest: &'a str,
    /// When it was exported, RFC 3339.
    pub at: &'a str,
}

/// hornset's own version.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Why a robot cannot be exported in some format.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("not all joints are calibrated: expected zero_us and us_per_degree of each. Record these first:\n  {}", .lacking.join("\n  "))]
pub struct Incomplete {
    /// A line for each leg that lacks some: `LF: coxa, femur us_per_degree`.
    pub lacking: Vec<String>,
}

/// What a reader of the numbers must know before he trusts them: the joints whose scale is nominal.
pub(crate) fn nominal_note(robot: &Robot) -> Option<String> {
    let joints = robot.nominal();
    let titles: Vec<String> = joints.iter().map(|at| robot.title(*at)).collect();
    (!titles.is_empty()).then(|| {
        format!(
            "Nominal, typed and not measured: the microseconds per degree of {}.",
            titles.join(", ")
        )
    })
}

/// The SHA-256 of a file's bytes, as 64 hexadecimal digits (FIPS 180-4).
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// A robot's name as a word that C, XML and file names take: lower case, digits and `_`, a letter first.
pub fn plain_name(name: &str) -> String {
    let mut word = String::new();
    for c in name.to_lowercase().chars() {
        if c.is_ascii_alphanumeric() {
            word.push(c);
        } else if !word.ends_with('_') {
            word.push('_');
        }
    }
    let word = word.trim_matches('_');
    if word.starts_with(|c: char| c.is_ascii_alphabetic()) {
        word.to_owned()
    } else {
        format!("robot_{word}").trim_end_matches('_').to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_plain_words() {
        for (name, plain) in [
            ("Marram", "marram"),
            ("Düne 7!", "d_ne_7"),
            ("7 of 9", "robot_7_of_9"),
            ("沙丘", "robot"),
        ] {
            assert_eq!(plain_name(name), plain);
        }
    }

    #[test]
    fn the_digest_is_the_published_one() {
        // FIPS 180-4's example of "abc".
        assert_eq!(
            digest(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
