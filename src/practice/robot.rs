//! The robot as it was built: which servo sits in which joint, how the horns went on, where the
//! linkages end, and what went wrong. This is the truth that nobody is told; a seed decides it.
//!
//! Everything is drawn from streams of its own, so that no fault changes anything beside itself.
//! Only sums and products are used, so that a seed means the same robot on every machine.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::fault::{Fault, Faults};
use super::joint::Joint;
use super::marram::{JOINT_DESIGNS, JOINTS, LEGS, SPARES};
use super::servo::{Health, Servo};
use super::supply::Supply;
use crate::board::sight::Against;

/// Joints of the robot.
pub(super) const COUNT: usize = 18;

/// Mixed into every seed. Chosen among millions so that seed 7 is the robot that is drawn on the
/// screens: zero, scale, ends and play of its LF femur and LF tibia come out as `marram.toml` has
/// them. Every seed draws from the same populations.
const SALT: u64 = 1_416_557_325;

/// The streams of a seed: joints' servos from 0, spares' from 50, places from 100, then these. That of
/// the faults was chosen so that seed 7 has its plugs swapped, and its dead servo, as on the screens.
const SPARE_STREAM: u64 = 50;
const PLACE_STREAM: u64 = 100;
const FAULT_STREAM: u64 = 89_104;
/// What happens on the bench later draws from here.
pub(super) const HANDS_STREAM: u64 = 201;
/// Errors of looking and reading.
pub(super) const EYES_STREAM: u64 = 202;
/// Errors of placing gauges: the k-th placing of a seed errs the same, whatever was read before.
pub(super) const PLACINGS_STREAM: u64 = 204;
/// Noise of the analog inputs.
pub(super) const SENSOR_STREAM: u64 = 203;
/// How printed sheets come to lie: the k-th of a seed lies the same.
pub(super) const SHEET_STREAM: u64 = 205;
/// Errors of reading where feet touch one.
pub(super) const TOUCHES_STREAM: u64 = 206;

/// A bend of this much at sixty degrees is the most: ESTIMATION's population, square in the angle.
const MOST_BEND_DEG: f64 = 2.0;
const BEND_AT_DEG: f64 = 60.0;
/// Standard deviations of a joint's zero and of the servos' scale.
const ZERO_DEG: f64 = 8.0;
const SCALE: f64 = 0.05;
/// Draws farther out than this many standard deviations are drawn again.
const MOST_SD: f64 = 2.5;
/// Microseconds a degree, 0.15 s for 60 degrees, 1.4 A stalled, 25 teeth: common practice for
/// small servos.
const US_PER_DEG: f64 = 10.6;
const SPEED_DEG_S: f64 = 400.0;
const STALL_A: f64 = 1.4;
const TEETH: u32 = 25;
const ARMS: u32 = 4;
/// A servo of short travel goes so far to either side.
const SHORT_REACH_DEG: f64 = 38.0;
/// Where the linkage of a wide swing ends.
const WIDE_END_DEG: f64 = 88.0;
/// And so far the leg before it hangs back.
const HANGS_BACK_DEG: f64 = 22.0;
/// Where a tight cable comes taut, before the linkage's end.
const TAUT_BEFORE_DEG: f64 = 12.0;

/// Everything that was built.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Built {
    pub joints: Vec<Joint>,
    pub spares: Vec<Servo>,
    pub supply: Supply,
}

/// One of a seed's streams.
pub(super) fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ SALT);
    rng.set_stream(number);
    rng
}

/// About normal with this standard deviation: a sum of twelve uniform draws.
pub(super) fn about_normal(rng: &mut impl rand::Rng, sd: f64) -> f64 {
    let sum: f64 = (0..12).map(|_| rng.random::<f64>()).sum();
    (sum - 6.0) * sd
}

/// The same, never farther out than [`MOST_SD`].
pub(super) fn within(rng: &mut impl rand::Rng, sd: f64) -> f64 {
    loop {
        let value = about_normal(rng, sd);
        if value.abs() <= MOST_SD * sd {
            return value;
        }
    }
}

/// Builds the robot of this seed with these faults.
pub(super) fn build(seed: u64, faults: Faults) -> Built {
    let wrong = Wrong::draw(seed, faults);
    let joints = (0..COUNT)
        .map(|place| joint(seed, faults, &wrong, place))
        .collect::<Vec<_>>();
    let mut built = Built {
        joints,
        spares: (0..SPARES.len())
            .map(|i| spare(seed, faults, &wrong, i))
            .collect(),
        supply: {
            let (ohms, limit_a) = match faults.has(Fault::WeakSupply) {
                true => (0.12, 3.0),
                false => (0.04, 8.0),
            };
            Supply {
                set_v: 5.2,
                ohms,
                limit_a,
                feeds_board: !faults.has(Fault::BoardOnUsb),
            }
        },
    };
    if let Some((one, other)) = wrong.swapped {
        let pin = built.joints[one].pin;
        built.joints[one].pin = built.joints[other].pin;
        built.joints[other].pin = pin;
    }
    built
}

/// Which of the joints, by place, has what.
#[derive(Default)]
struct Wrong {
    swapped: Option<(usize, usize)>,
    reversed: Option<usize>,
    tooth_off: Option<usize>,
    short: Option<usize>,
    dead: Option<usize>,
    noisy: Option<usize>,
    hot: Option<usize>,
    taut: Option<usize>,
    wide: Option<usize>,
}

impl Wrong {
    /// The same joint never has two of the faults that befall one joint; and which joint has one
    /// does not depend on the others.
    fn draw(seed: u64, faults: Faults) -> Wrong {
        let mut rng = stream(seed, FAULT_STREAM);
        let mut order: Vec<usize> = (0..COUNT).collect();
        for i in (1..COUNT).rev() {
            order.swap(i, rng.random_range(0..=i as u32) as usize);
        }
        let taut_leg = rng.random_range(0..LEGS.len() as u32) as usize;
        let wide_leg = if rng.random::<bool>() { 1 } else { 4 };
        let of = |fault: Fault, place: usize| faults.has(fault).then_some(place);
        Wrong {
            swapped: faults
                .has(Fault::PlugsSwapped)
                .then_some((order[0], order[1])),
            reversed: of(Fault::ServoReversed, order[2]),
            tooth_off: of(Fault::HornTooth, order[3]),
            short: of(Fault::ShortTravel, order[4]),
            dead: of(Fault::DeadServo, order[5]),
            noisy: of(Fault::NoisyServo, order[6]),
            hot: of(Fault::HotServo, order[7]),
            taut: of(Fault::TightCable, taut_leg * 3 + 2),
            wide: of(Fault::WideSwing, wide_leg * 3),
        }
    }
}

fn joint(seed: u64, faults: Faults, wrong: &Wrong, place: usize) -> Joint {
    let is = |fault: Option<usize>| fault == Some(place);
    let (leg, index) = (&LEGS[place / 3], place % 3);
    let design = &JOINT_DESIGNS[index];
    let mut servo = servo(&mut stream(seed, place as u64), leg.servos[index], faults);
    if is(wrong.reversed) {
        servo.turns = -1.0;
    }
    if is(wrong.short) {
        servo.reach_deg = SHORT_REACH_DEG;
    }
    servo.health = if is(wrong.dead) {
        Health::Dead
    } else if is(wrong.noisy) {
        Health::Noisy
    } else if is(wrong.hot) {
        Health::Hot
    } else {
        Health::Good
    };
    let mut rng = stream(seed, PLACE_STREAM + place as u64);
    let sign = if leg.is_right && design.is_mirrored {
        -1.0
    } else {
        1.0
    };
    let mut zero = within(&mut rng, ZERO_DEG);
    let low = design.ends_deg.0 + about(&mut rng, design.ends_differ_deg.0);
    let high = design.ends_deg.1 + about(&mut rng, design.ends_differ_deg.1);
    let mut rest = design.rest_deg + within(&mut rng, 4.0);
    if let Some(wide) = wrong.wide
        && place + 3 == wide
    {
        // The leg before it hangs back toward it.
        rest = if leg.is_right {
            -HANGS_BACK_DEG
        } else {
            HANGS_BACK_DEG
        };
    }
    let friction = rng.random_range(0.45..1.45);
    let droop = rng.random_range(0.1..0.3);
    if is(wrong.tooth_off) {
        // The way that makes it worse: the other way it might even be the better tooth.
        zero += zero.signum() * 360.0 / f64::from(servo.teeth);
    }
    let (mut low, mut high) = ((low, Against::Linkage), (high, Against::Linkage));
    if design.meets_body {
        high.1 = Against::Body;
    }
    if is(wrong.taut) {
        low = (low.0 + TAUT_BEFORE_DEG, Against::Cable);
    }
    if is(wrong.wide) {
        // A left leg swings forward the negative way, a right one the positive way.
        if leg.is_right {
            high.0 = WIDE_END_DEG;
        } else {
            low.0 = -WIDE_END_DEG;
        }
    }
    let horn = design.middle_deg + zero - sign * servo.centre_deg;
    let gives = faults.has(Fault::Droop) && design.is_level;
    Joint::new(
        leg.name,
        JOINTS[index],
        leg.pin(index),
        servo,
        horn,
        sign,
        (low, high),
        (friction, if gives { droop } else { 0.0 }),
    )
    .hanging(rest)
}

fn about(rng: &mut ChaCha8Rng, most: f64) -> f64 {
    rng.random_range(-most..most)
}

fn spare(seed: u64, faults: Faults, wrong: &Wrong, index: usize) -> Servo {
    let mut rng = stream(seed, SPARE_STREAM + index as u64);
    let mut servo = servo(&mut rng, SPARES[index], faults);
    // The first spare is the one that lay about for a reason.
    servo.health = match index {
        0 if faults.has(Fault::DeadSpare) => Health::Dead,
        1 if wrong.noisy.is_some() => Health::Noisy,
        2 if wrong.hot.is_some() => Health::Hot,
        _ => Health::Good,
    };
    servo
}

fn servo(rng: &mut ChaCha8Rng, number: u8, faults: Faults) -> Servo {
    let scale = within(rng, SCALE);
    let half_play = rng.random_range(0.3..0.7);
    let bend = about(rng, MOST_BEND_DEG);
    let centre = within(rng, 1.2);
    let dead_band = rng.random_range(1.0..3.0);
    let reach = about(rng, 4.0);
    let speed = within(rng, 0.08);
    let only = |fault: Fault, value: f64| if faults.has(fault) { value } else { 0.0 };
    Servo {
        number,
        us_per_deg: US_PER_DEG * (1.0 + scale),
        turns: 1.0,
        centre_deg: centre,
        bend_per_deg: only(Fault::Curve, bend / (BEND_AT_DEG * BEND_AT_DEG)),
        dead_band_us: dead_band,
        reach_deg: 92.0 + reach,
        speed_deg_s: SPEED_DEG_S * (1.0 + speed),
        stall_a: STALL_A,
        half_play_deg: only(Fault::Play, half_play),
        teeth: TEETH,
        arms: ARMS,
        health: Health::Good,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn built(seed: u64, faults: &[Fault]) -> Vec<Joint> {
        build(seed, faults.iter().copied().collect()).joints
    }

    #[test]
    fn the_same_seed_gives_the_same_robot_and_another_seed_another() {
        let bench = Faults::of_a_bench();
        assert_eq!(build(7, bench), build(7, bench));
        assert_ne!(build(7, bench), build(8, bench));
        assert_ne!(build(7, Faults::NONE), build(8, Faults::NONE));
    }

    #[test]
    fn a_fault_changes_nothing_beside_itself() {
        for seed in 0..20 {
            let clean = built(seed, &[]);
            let differ = |faults: &[Fault]| -> Vec<usize> {
                let other = built(seed, faults);
                (0..COUNT).filter(|i| clean[*i] != other[*i]).collect()
            };
            assert_eq!(differ(&[Fault::PlugsSwapped]).len(), 2);
            let mut hit = Vec::new();
            for fault in [
                Fault::ServoReversed,
                Fault::HornTooth,
                Fault::ShortTravel,
                Fault::DeadServo,
                Fault::NoisyServo,
                Fault::HotServo,
            ] {
                let places = differ(&[fault]);
                assert_eq!(places.len(), 1, "{fault}");
                hit.extend(places);
            }
            hit.sort_unstable();
            hit.dedup();
            assert_eq!(hit.len(), 6, "six faults befall six joints");
            assert_eq!(differ(&[Fault::Reading]), [0usize; 0]);
            assert_eq!(differ(&[Fault::WeakSupply]), [0usize; 0]);
            assert_eq!(differ(&[Fault::Sheet]), [0usize; 0]);
            assert_eq!(differ(&[Fault::BoardOnUsb]), [0usize; 0]);
            assert_eq!(differ(&[Fault::Play]).len(), COUNT);
        }
    }

    #[test]
    fn a_clean_robot_is_clean() {
        for seed in 0..20 {
            let built = build(seed, Faults::NONE);
            for joint in &built.joints {
                let servo = &joint.servo;
                assert_eq!(servo.health, Health::Good);
                assert_eq!((servo.turns, servo.bend_per_deg), (1.0, 0.0));
                assert_eq!((servo.half_play_deg, joint.droop_deg), (0.0, 0.0));
                let place = JOINTS.iter().position(|name| *name == joint.joint);
                let design = &JOINT_DESIGNS[place.expect("a joint")];
                let zero = joint.sent_deg(1500.0) - design.middle_deg;
                assert!(zero.abs() <= MOST_SD * ZERO_DEG + 1e-9);
            }
            assert!(built.spares.iter().all(|it| it.health == Health::Good));
        }
    }

    #[test]
    fn the_populations_are_those_that_estimates_are_judged_by() {
        let faults = [Fault::Play, Fault::Curve];
        let joints: Vec<Joint> = (0..200).flat_map(|seed| built(seed, &faults)).collect();
        let count = joints.len() as f64;
        let sd = |of: &dyn Fn(&Joint) -> f64| {
            let mean = joints.iter().map(of).sum::<f64>() / count;
            (joints.iter().map(|j| (of(j) - mean).powi(2)).sum::<f64>() / count).sqrt()
        };
        let middle = |joint: &Joint| if joint.joint == "tibia" { -80.0 } else { 0.0 };
        // Cut off at 2.5 standard deviations, a normal's own is 0.95 of what it was (textbook).
        let zero = sd(&|j| j.sent_deg(1500.0) - middle(j));
        assert!((zero - 8.0 * 0.95).abs() < 0.3, "{zero}");
        let scale = sd(&|j| j.servo.us_per_deg / US_PER_DEG);
        assert!((scale - 0.05 * 0.95).abs() < 0.002, "{scale}");
        for joint in &joints {
            assert!((0.3..0.7).contains(&joint.servo.half_play_deg));
            assert!((joint.servo.bend_per_deg * 3600.0).abs() <= 2.0);
        }
        let loose = joints
            .iter()
            .filter(|j| j.joint == "femur" && j.friction < 0.67)
            .count() as f64;
        // About so many femurs fall through their play when they lie level, tibia at -80 degrees.
        assert!((0.1..0.4).contains(&(loose * 3.0 / count)), "{loose}");
    }

    #[test]
    fn right_femurs_and_tibias_turn_against_their_servos() {
        for joint in built(7, &[]) {
            let against = joint.leg.starts_with('R') && joint.joint != "coxa";
            let falls = joint.sent_deg(1600.0) < joint.sent_deg(1400.0);
            assert_eq!(falls, against, "{} {}", joint.leg, joint.joint);
        }
    }

    #[test]
    fn every_joint_hangs_between_its_ends_and_its_linkage_lets_walking_have_what_it_needs() {
        for seed in 0..50 {
            for joint in &build(seed, Faults::of_a_bench()).joints {
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
