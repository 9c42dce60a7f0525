//! The shipped example describes the practice robot of seed 7 without faults: whoever opens one on
//! the other is not misled. The file's numbers are measurements with a ±, and none is off by more.
#![cfg(feature = "practice")]

use hornset::calibration::{Recorded, read};
use hornset::practice::{Fault, Faults, Settings, World};

const MARRAM: &str = include_str!("../calibrations/marram.toml");

fn near(what: &str, value: &Option<Recorded>, truth: f64) {
    let recorded = value.as_ref().unwrap_or_else(|| panic!("{what} is there"));
    let spread = recorded.spread.expect("it has a ±");
    let off = recorded.value - truth;
    assert!(
        off.abs() <= spread,
        "{what}: {} ± {spread}, and it is {truth:.2}",
        recorded.value
    );
}

/// The other example is the same robot's left front leg, finished but for the tibia's scale and ends.
#[test]
fn the_example_of_one_leg_is_a_leg_of_the_clean_practice_robot() {
    let whole = read(MARRAM).robot.expect("it is a good file");
    let one = read(include_str!("../calibrations/one-leg.toml"))
        .robot
        .expect("it is a good file");
    let ([real, ..], [leg]) = (&whole.legs[..], &one.legs[..]) else {
        panic!("six legs, and one");
    };
    assert_eq!((&leg.name, &leg.links), (&real.name, &real.links));
    let [coxa, femur, tibia] = &leg.joints;
    assert_eq!([coxa, femur], [&real.joints[0], &real.joints[1]]);
    let whole_tibia = &real.joints[2];
    assert_eq!(
        (tibia.pin, &tibia.servo),
        (whole_tibia.pin, &whole_tibia.servo)
    );
    assert!(tibia.is_nominal() && !tibia.is_calibrated());
    // Where it was jogged to, −83°, the nominal scale and the zero that came of it are right.
    let pulse = |joint: &hornset::calibration::Joint| joint.pulse_us(-83.0).expect("known");
    assert!((pulse(tibia) - pulse(whole_tibia)).abs() < 1.0);
}

#[test]
fn the_shipped_example_fits_the_clean_practice_robot_of_seed_7() {
    let robot = read(MARRAM).robot.expect("it is a good file");
    let truth = World::new(Settings::clean(7)).truth();
    // A clean robot has no play; how much seed 7 has is seen when that fault alone is on.
    let playing = World::new(Settings {
        faults: Faults::NONE.with(Fault::Play),
        ..Settings::clean(7)
    })
    .truth();
    let joints = robot
        .legs
        .iter()
        .flat_map(|leg| leg.joints.iter().map(move |joint| (leg, joint)));
    let mut count = 0;
    for ((leg, joint), (real, loose)) in joints.zip(truth.joints.iter().zip(&playing.joints)) {
        let what = |name: &str| format!("{} {} {name}", real.leg, real.joint);
        assert_eq!(leg.name, real.leg);
        assert_eq!(joint.pin, Some(real.pin), "{}", what("pin"));
        assert_eq!(
            joint.servo.as_deref(),
            Some(&*real.servo),
            "{}",
            what("servo")
        );
        // A clean robot's response is straight, so that two pulses tell the whole line.
        let (a, b) = (real.deg_at(1400.0), real.deg_at(1600.0));
        let us_per_deg = 200.0 / (b - a);
        let us = |deg: f64| 1400.0 + (deg - a) * us_per_deg;
        near(&what("zero"), &joint.zero, us(0.0));
        near(&what("scale"), &joint.scale, us_per_deg);
        let ends = (us(real.ends_deg.0), us(real.ends_deg.1));
        near(&what("near end"), &joint.near_end, ends.0.min(ends.1));
        near(&what("far end"), &joint.far_end, ends.0.max(ends.1));
        near(&what("play"), &joint.play_deg, 2.0 * loose.half_play_deg);
        count += 1;
    }
    assert_eq!(count, 18);
}
