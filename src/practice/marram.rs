//! Marram as it was meant: a dune surveyor with six legs that walks beaches at low tide.
//!
//! The practice robot's own copy of the design, so that a mistake in a calibration file shows.
//! Nothing here is drawn from a seed.

use crate::units::Pin;

/// The three joints of a leg, from the body outward.
pub(super) const JOINTS: [&str; 3] = ["coxa", "femur", "tibia"];

/// One leg of the design.
pub(super) struct LegDesign {
    /// Name from the robot's own view.
    pub name: &'static str,
    /// Number of the coxa's pin; femur and tibia follow.
    pub first_pin: u8,
    /// On the right side servos are mirrored.
    pub is_right: bool,
}

/// The legs, in the order of the robot's own list.
pub(super) const LEGS: [LegDesign; 6] = [
    leg("LF", 22, false),
    leg("LM", 25, false),
    leg("LR", 28, false),
    leg("RF", 31, true),
    leg("RM", 34, true),
    leg("RR", 37, true),
];

const fn leg(name: &'static str, first_pin: u8, is_right: bool) -> LegDesign {
    LegDesign {
        name,
        first_pin,
        is_right,
    }
}

/// One joint of the design.
pub(super) struct JointDesign {
    /// Where the linkage ends, in degrees of the joint.
    pub ends_deg: (f64, f64),
    /// The joint's angle at the middle of the servo's travel.
    pub middle_deg: f64,
    /// How it hangs while nothing drives it.
    pub rest_deg: f64,
    /// Whether a right leg's servo turns the other way for the same motion of the joint.
    pub is_mirrored: bool,
}

/// Coxa, femur, tibia. The ends lie about ten degrees outside the travel that walking needs
/// (coxa -40 to 40, femur -50 to 60, tibia -125 to -40).
pub(super) const JOINT_DESIGNS: [JointDesign; 3] = [
    JointDesign {
        ends_deg: (-50.0, 50.0),
        middle_deg: 0.0,
        rest_deg: 4.0,
        is_mirrored: false,
    },
    JointDesign {
        ends_deg: (-60.0, 72.0),
        middle_deg: 0.0,
        rest_deg: -12.0,
        is_mirrored: true,
    },
    JointDesign {
        ends_deg: (-135.0, -30.0),
        middle_deg: -80.0,
        rest_deg: -70.0,
        is_mirrored: true,
    },
];

impl LegDesign {
    /// The pin of joint 0, 1 or 2.
    pub(super) fn pin(&self, joint: usize) -> Pin {
        let number = self.first_pin + joint as u8;
        Pin::new(number).expect("the design's pins are pins: a test looks at each")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_joint_has_a_pin_of_its_own() {
        let mut pins: Vec<u8> = LEGS
            .iter()
            .flat_map(|leg| (0..3).map(|joint| leg.pin(joint).number()))
            .collect();
        pins.dedup();
        assert_eq!(pins, (22..40).collect::<Vec<u8>>());
    }
}
