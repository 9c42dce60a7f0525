//! A reading against the file: how far off a joint is, and from how much on that tells anything.
//!
//! Half the play is taken out, since the side that the joint came from is known.

use crate::calibration::logbook::Side;
use crate::calibration::model::Joint;

use super::knowledge::{CheckKnown, JointKnown};

/// A gauge is read to 1°, and placed to 1°: standard deviations, common practice for a protractor of one's own making.
const READING_DEG: f64 = 1.0;
const PLACING_DEG: f64 = 1.0;
/// What the marks leave open beside their own placing: our own simulations of six readings.
const FIT_DEG: f64 = 0.5;

/// The standard deviation of what so many readings, each newly placed, say of a joint that holds: the marks had a placing too.
fn sd_deg(readings: usize) -> f64 {
    let each = READING_DEG * READING_DEG + PLACING_DEG * PLACING_DEG;
    (each / readings.max(1) as f64 + PLACING_DEG * PLACING_DEG + FIT_DEG * FIT_DEG).sqrt()
}

/// More than this, by so many readings, is no error of the gauge: three standard deviations, 0.3 % of the joints that hold.
pub fn tells_deg(readings: usize) -> f64 {
    3.0 * sd_deg(readings)
}

/// More than this is read once more, the gauge placed anew, before anything is said: two standard deviations.
pub fn doubtful_deg(readings: usize) -> f64 {
    2.0 * sd_deg(readings)
}

/// A reading less what the file says of that pulse, degrees; `line` is zero, µs, and µs/degree.
pub fn off_deg(
    line: (f64, f64),
    play_deg: Option<f64>,
    (pulse_us, from, angle_deg): (f64, Option<Side>, f64),
) -> f64 {
    let (zero, scale) = line;
    let lags = play_deg.unwrap_or(0.0) / 2.0 * scale.signum();
    let expected = (pulse_us - zero) / scale
        - match from {
            Some(Side::Below) => lags,
            Some(Side::Above) => -lags,
            None => 0.0,
        };
    angle_deg - expected
}

/// The readings of the last day on which this joint was checked, two at most.
pub fn latest(checks: &[CheckKnown]) -> &[CheckKnown] {
    let day = |it: &CheckKnown| it.at.get(..10).map(str::to_owned);
    let last = checks.last().and_then(day);
    let same = checks.iter().rev().take_while(|it| day(it) == last).count();
    &checks[checks.len() - same.min(2)..]
}

/// How far off the last check found a joint, if that is more than the gauge's error; nothing once it is marked anew.
pub fn found_off(known: &JointKnown, joint: &Joint) -> Option<f64> {
    let (zero, scale) = joint.zero.as_ref().zip(joint.scale.as_ref())?;
    let play = joint.play_deg.as_ref().map(|it| it.value);
    let offs: Vec<f64> = latest(&known.checks)
        .iter()
        .map(|it| {
            let reading = (it.pulse_us, it.from, it.angle_deg);
            off_deg((zero.value, scale.value), play, reading)
        })
        .collect();
    let mean = offs.iter().sum::<f64>() / offs.len().max(1) as f64;
    (!offs.is_empty() && mean.abs() > tells_deg(offs.len())).then_some(mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_the_play_is_taken_out_on_the_side_that_it_came_from() {
        let line = (1487.5, 10.0);
        let below = off_deg(line, Some(1.2), (1587.5, Some(Side::Below), 9.4));
        let above = off_deg(line, Some(1.2), (1587.5, Some(Side::Above), 10.6));
        let mirrored = off_deg(
            (1487.5, -10.0),
            Some(1.2),
            (1587.5, Some(Side::Below), -9.4),
        );
        for off in [below, above, mirrored] {
            assert!(off.abs() < 1e-9, "{off}");
        }
        assert_eq!(off_deg(line, None, (1587.5, None, 12.5)), 2.5);
    }

    #[test]
    fn a_second_reading_tells_more_and_a_tooth_is_always_told() {
        assert!(tells_deg(2) < tells_deg(1));
        assert!(doubtful_deg(1) < tells_deg(2));
        // 25 teeth: 14.4°.
        assert!(tells_deg(1) < 14.4 / 2.0);
    }
}
