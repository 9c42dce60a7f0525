//! Horn advice against a search of the test's own over every tooth and arm.

use std::collections::BTreeSet;

use hornset::estimate::horns::{ARMS, Mounted, TEETH, advise};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A seat that loses no more of the best one's margin is as good as it (issue 4).
const AS_GOOD_DEG: f64 = 4.0;
/// Not of the issue: one that loses more than this would only lengthen the list; the angle that is read may err, and
/// so may what a servo's sides differ by, together by as much again.
const NAMED_AT_MOST_DEG: f64 = 8.0;

/// The worst-side margin with the joint standing `turned` degrees farther, whatever the number of full turns.
fn worst(joint: &Mounted, turned: f64) -> f64 {
    (-3..=3)
        .map(|turns| {
            let stands = joint.came_out_deg + turned + 360.0 * f64::from(turns);
            let below = joint.needed_deg.0 - (stands - joint.servo_deg.0);
            let above = stands + joint.servo_deg.1 - joint.needed_deg.1;
            below.min(above)
        })
        .fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn the_advice_is_the_best_of_an_exhaustive_search() {
    let mut rng = ChaCha8Rng::seed_from_u64(21);
    let (mut ties, mut stays) = (0, 0);
    for _ in 0..1000 {
        let low = rng.random_range(-140.0..0.0);
        let joint = Mounted {
            teeth: TEETH[rng.random_range(0..TEETH.len())],
            arms: ARMS[rng.random_range(0..ARMS.len())],
            came_out_deg: rng.random_range(-180.0..180.0),
            needed_deg: (low, low + rng.random_range(20.0..130.0)),
            servo_deg: (rng.random_range(55.0..100.0), rng.random_range(55.0..100.0)),
        };
        let advice = advise(&joint).expect("advice");
        let turned = |tooth: i32, arm: u32| {
            360.0 * f64::from(tooth) / f64::from(joint.teeth)
                + 360.0 * f64::from(arm) / f64::from(joint.arms)
        };
        let mut all: Vec<f64> = Vec::new();
        for tooth in 0..joint.teeth {
            for arm in 0..joint.arms {
                all.push(worst(&joint, turned(tooth as i32, arm)));
            }
        }
        let best = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!((advice.best.worst_deg() - best).abs() < 1e-9, "{joint:?}");
        // What the advice says to do has the margin that it promises.
        for seat in advice.also.iter().chain([&advice.best]) {
            let done = worst(&joint, turned(seat.turn_teeth, seat.arm));
            assert!((done - seat.worst_deg()).abs() < 1e-9, "{joint:?} {seat:?}");
        }
        // Every angle that is as good as the best is named, once, and none that is far from it.
        let micro = |angle: f64| (angle * 1e6).round() as i64 % 360_000_000;
        let named: Vec<i64> = advice
            .also
            .iter()
            .chain([&advice.best])
            .map(|seat| micro(turned(seat.turn_teeth, seat.arm).rem_euclid(360.0)))
            .collect();
        let once: BTreeSet<i64> = named.iter().copied().collect();
        assert_eq!(once.len(), named.len(), "{joint:?}");
        for tooth in 0..joint.teeth {
            for arm in 0..joint.arms {
                let angle = turned(tooth as i32, arm).rem_euclid(360.0);
                let loss = best - worst(&joint, angle);
                if loss <= AS_GOOD_DEG - 1e-9 {
                    assert!(once.contains(&micro(angle)), "{joint:?} {angle}");
                }
                if loss > NAMED_AT_MOST_DEG + 1e-9 {
                    assert!(!once.contains(&micro(angle)), "{joint:?} {angle}");
                }
            }
        }
        // It may stay as it is where that is as good.
        let loss = best - worst(&joint, 0.0);
        if (loss - AS_GOOD_DEG).abs() > 1e-9 {
            assert_eq!(advice.may_stay(), loss < AS_GOOD_DEG, "{joint:?}");
        }
        ties += usize::from(!advice.also.is_empty());
        stays += usize::from(advice.may_stay());
    }
    println!(
        "of 1000 joints {ties} had a second seat that may be as good, {stays} could stay as they were"
    );
    assert!(
        ties > 100 && stays > 20,
        "the draw covers ties and joints that may stay"
    );
}
