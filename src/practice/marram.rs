//! Marram as it was meant: a dune surveyor with six legs that walks beaches at low tide.
//!
//! The practice robot's own copy of the design, so that a mistake in a calibration file shows.
//! Nothing here is drawn from a seed.

use crate::units::Pin;

/// The three joints of a leg, from the body outward.
pub(super) const JOINTS: [&str; 3] = ["coxa", "femur", "tibia"];

/// Lengths of coxa, femur and tibia, the last to the centre of the foot's ball.
pub(super) const LINKS_MM: [f64; 3] = [31.0, 67.0, 104.0];
/// The foot is a ball and no point.
pub(super) const BALL_RADIUS_MM: f64 = 4.0;

/// One leg of the design.
pub(super) struct LegDesign {
    /// Name from the robot's own view.
    pub name: &'static str,
    /// Number of the coxa's pin; femur and tibia follow.
    pub first_pin: u8,
    /// On the right side servos are mirrored.
    pub is_right: bool,
    /// Where the coxa's axis stands in the body's frame: x forward, y left.
    pub mount_mm: (f64, f64),
    /// Where the leg points at coxa 0.
    pub yaw_deg: f64,
    /// The numbers on its servos' stickers.
    pub servos: [u8; 3],
}

/// The legs, in the order of the robot's own list.
pub(super) const LEGS: [LegDesign; 6] = [
    leg("LF", 22, (85.0, 55.0), 45.0, [6, 7, 8]),
    leg("LM", 25, (0.0, 75.0), 90.0, [1, 2, 3]),
    leg("LR", 28, (-85.0, 55.0), 135.0, [4, 5, 9]),
    leg("RF", 31, (85.0, -55.0), -45.0, [10, 11, 12]),
    leg("RM", 34, (0.0, -75.0), -90.0, [13, 19, 15]),
    leg("RR", 37, (-85.0, -55.0), -135.0, [16, 17, 18]),
];

/// The servos in the box.
pub(super) const SPARES: [u8; 3] = [14, 20, 21];

/// Legs that can meet: neighbours on one side, by their places in [`LEGS`].
pub(super) const NEIGHBOURS: [(usize, usize); 4] = [(0, 1), (1, 2), (3, 4), (4, 5)];

const fn leg(
    name: &'static str,
    first_pin: u8,
    mount_mm: (f64, f64),
    yaw_deg: f64,
    servos: [u8; 3],
) -> LegDesign {
    LegDesign {
        name,
        first_pin,
        is_right: mount_mm.1 < 0.0,
        mount_mm,
        yaw_deg,
        servos,
    }
}

/// One joint of the design.
pub(super) struct JointDesign {
    /// Where the linkage ends, in degrees of the joint.
    pub ends_deg: (f64, f64),
    /// How much an end may differ from the drawing on a built robot.
    pub ends_differ_deg: (f64, f64),
    /// The joint's angle at the middle of the servo's travel.
    pub middle_deg: f64,
    /// How it hangs while nothing drives it.
    pub rest_deg: f64,
    /// Whether a right leg's servo turns the other way for the same motion of the joint.
    pub is_mirrored: bool,
    /// Whether its axis lies level, so that gravity can turn it.
    pub is_level: bool,
    /// Whether its upper end is where the link meets the body.
    pub meets_body: bool,
}

/// Coxa, femur, tibia. The ends lie about ten degrees outside the travel that walking needs
/// (coxa -40 to 40, femur -50 to 60, tibia -125 to -40), those of a bent knee a little more.
pub(super) const JOINT_DESIGNS: [JointDesign; 3] = [
    JointDesign {
        ends_deg: (-50.0, 50.0),
        ends_differ_deg: (3.0, 3.0),
        middle_deg: 0.0,
        rest_deg: 4.0,
        is_mirrored: false,
        is_level: false,
        meets_body: false,
    },
    JointDesign {
        ends_deg: (-60.0, 72.0),
        ends_differ_deg: (3.0, 3.0),
        middle_deg: 0.0,
        rest_deg: -12.0,
        is_mirrored: true,
        is_level: true,
        meets_body: true,
    },
    JointDesign {
        ends_deg: (-141.0, -33.0),
        ends_differ_deg: (5.0, 3.0),
        middle_deg: -80.0,
        rest_deg: -70.0,
        is_mirrored: true,
        is_level: true,
        meets_body: false,
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
    fn every_joint_has_a_pin_of_its_own_and_every_servo_a_number() {
        let mut pins: Vec<u8> = LEGS
            .iter()
            .flat_map(|leg| (0..3).map(|joint| leg.pin(joint).number()))
            .collect();
        pins.dedup();
        assert_eq!(pins, (22..40).collect::<Vec<u8>>());
        let mut numbers: Vec<u8> = LEGS.iter().flat_map(|leg| leg.servos).collect();
        numbers.extend(SPARES);
        numbers.sort_unstable();
        assert_eq!(numbers, (1..22).collect::<Vec<u8>>());
    }
}
