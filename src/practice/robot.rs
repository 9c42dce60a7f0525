//! The robot's body: which servo sits in which joint, how the horns went on, where the linkages
//! end. This is the truth that nobody is told; a seed decides it.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::marram::{JOINT_DESIGNS, JOINTS, JointDesign, LEGS};
use super::servo::{Servo, Shaft};
use crate::units::Pin;

/// One joint as it was built.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Joint {
    pub leg: &'static str,
    pub joint: &'static str,
    /// The pin that its plug sits on.
    pub pin: Pin,
    pub servo: Servo,
    pub shaft: Shaft,
    /// The joint's angle at the servo's own middle: what the horn's tooth left.
    pub horn_deg: f64,
    /// 1, or -1 where the servo turns against the joint.
    pub sign: f64,
    /// Where the linkage ends, in degrees of the joint.
    pub ends_deg: (f64, f64),
}

impl Joint {
    /// The joint's angle.
    pub(super) fn deg(&self) -> f64 {
        self.horn_deg + self.sign * self.shaft.deg
    }

    /// The linkage's ends in degrees of the shaft, the lower first.
    fn shaft_ends(&self) -> (f64, f64) {
        let (a, b) = (
            self.sign * (self.ends_deg.0 - self.horn_deg),
            self.sign * (self.ends_deg.1 - self.horn_deg),
        );
        (a.min(b), a.max(b))
    }

    /// A moment passes.
    pub(super) fn step(&mut self, pulse_us: Option<f64>, volts: f64, seconds: f64) {
        let ends = self.shaft_ends();
        self.servo
            .step(&mut self.shaft, pulse_us, ends, volts, seconds);
    }
}

/// About normal with this standard deviation: a sum of twelve uniform draws.
pub(super) fn about_normal(rng: &mut impl rand::Rng, sd: f64) -> f64 {
    let sum: f64 = (0..12).map(|_| rng.random::<f64>()).sum();
    (sum - 6.0) * sd
}

/// Every joint, leg by leg. `clean`: as designed, each servo by its data sheet.
pub(super) fn build(seed: u64, clean: bool) -> Vec<Joint> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut joints = Vec::new();
    for leg in &LEGS {
        for (index, design) in JOINT_DESIGNS.iter().enumerate() {
            // Drawn even for a clean robot, so that its other draws do not depend on it.
            let flaws = Flaws::draw(&mut rng);
            let flaws = if clean { Flaws::default() } else { flaws };
            let sign = if leg.is_right && design.is_mirrored {
                -1.0
            } else {
                1.0
            };
            let mut joint = Joint {
                leg: leg.name,
                joint: JOINTS[index],
                pin: leg.pin(index),
                servo: flaws.servo(),
                shaft: Shaft::default(),
                horn_deg: design.middle_deg + flaws.horn_deg,
                sign,
                ends_deg: flaws.ends(design),
            };
            joint.shaft.deg = sign * (design.rest_deg + flaws.rest_deg - joint.horn_deg);
            joints.push(joint);
        }
    }
    joints
}

/// How one servo and its horn differ from the data sheet and the drawing.
#[derive(Default)]
struct Flaws {
    centre_us: f64,
    scale: f64,
    bend: f64,
    dead_band_us: f64,
    reach_deg: f64,
    speed: f64,
    horn_deg: f64,
    end_deg: (f64, f64),
    rest_deg: f64,
}

impl Flaws {
    fn draw(rng: &mut ChaCha8Rng) -> Flaws {
        // 25 teeth: the best one leaves up to half of 14.4 degrees.
        let half_tooth_deg = 7.2;
        Flaws {
            centre_us: about_normal(rng, 12.0),
            scale: about_normal(rng, 0.025),
            bend: about_normal(rng, 0.0002),
            dead_band_us: rng.random_range(0.0..5.0),
            reach_deg: rng.random_range(-4.0..4.0),
            speed: about_normal(rng, 0.08),
            horn_deg: rng.random_range(-half_tooth_deg..half_tooth_deg),
            end_deg: (rng.random_range(-3.0..3.0), rng.random_range(-3.0..3.0)),
            rest_deg: about_normal(rng, 5.0),
        }
    }

    /// 10.6 us a degree, 0.15 s for 60 degrees, 1.4 A stalled: common practice for small servos.
    fn servo(&self) -> Servo {
        Servo {
            centre_us: 1500.0 + self.centre_us,
            us_per_deg: 10.6 * (1.0 + self.scale),
            bend_per_deg: self.bend,
            dead_band_us: 2.0 + self.dead_band_us,
            reach_deg: 92.0 + self.reach_deg,
            speed_deg_s: 400.0 * (1.0 + self.speed),
            stall_a: 1.4,
        }
    }

    fn ends(&self, design: &JointDesign) -> (f64, f64) {
        (
            design.ends_deg.0 + self.end_deg.0,
            design.ends_deg.1 + self.end_deg.1,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_robot_and_another_seed_another() {
        assert_eq!(build(7, false), build(7, false));
        assert_ne!(build(7, false), build(8, false));
        assert_eq!(build(7, true), build(8, true));
    }

    #[test]
    fn a_clean_robot_stands_at_its_design_in_the_middle_of_its_travel() {
        for joint in &mut build(1, true) {
            for _ in 0..2000 {
                joint.step(Some(1500.0), 5.0, 0.001);
            }
            let wanted = if joint.joint == "tibia" { -80.0 } else { 0.0 };
            assert!((joint.deg() - wanted).abs() < 0.3, "{joint:?}");
        }
    }

    #[test]
    fn right_femurs_and_tibias_turn_against_their_servos() {
        for joint in &mut build(7, false) {
            let turn = |joint: &mut Joint, us| {
                for _ in 0..2000 {
                    joint.step(Some(us), 5.0, 0.001);
                }
                joint.deg()
            };
            let (less, more) = (turn(joint, 1400.0), turn(joint, 1600.0));
            let against = joint.leg.starts_with('R') && joint.joint != "coxa";
            assert_eq!(more < less, against, "{} {}", joint.leg, joint.joint);
        }
    }

    #[test]
    fn every_joint_hangs_between_its_ends_and_reaches_what_walking_needs() {
        for seed in 0..50 {
            for joint in &build(seed, false) {
                let (near, far) = joint.ends_deg;
                assert!(
                    joint.deg() > near && joint.deg() < far,
                    "seed {seed} {joint:?}"
                );
                let needed = match joint.joint {
                    "coxa" => (-40.0, 40.0),
                    "femur" => (-50.0, 60.0),
                    _ => (-125.0, -40.0),
                };
                assert!(near < needed.0 && far > needed.1, "seed {seed} {joint:?}");
            }
        }
    }
}
