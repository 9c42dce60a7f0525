//! How one joint turns: its zero, µs/degree and play, from the ground that a person laid and the marks since.

use super::joint::{tidy, zero_can_be};
use super::knowledge::{MarkKnown, Source};
use crate::calibration::logbook::{MarkKind, Way};
use crate::calibration::model::{Method, Recorded};

/// Marks closer than this together are at one angle: they tell a zero and no µs/degree.
const SAME_ANGLE_DEG: f64 = 1.0;

/// What was taken over or typed.
#[derive(Debug, Clone, Default)]
pub(super) struct Ground {
    pub(super) zero: Option<Recorded>,
    pub(super) scale: Option<Recorded>,
    pub(super) play: Option<Recorded>,
    pub(super) source: Source,
}

/// What follows from ground and marks.
#[derive(Debug, Clone, Default)]
pub(super) struct Turning {
    pub(super) zero: Option<Recorded>,
    pub(super) scale: Option<Recorded>,
    pub(super) play: Option<Recorded>,
    pub(super) source: Source,
    pub(super) doubts: Vec<String>,
}

impl Turning {
    /// The marks replace the ground as far as they tell: a straight line through two angles, or a zero from one.
    pub(super) fn of(
        ground: &Ground,
        marks: &[MarkKnown],
        at: &str,
        _needed_deg: Option<(f64, f64)>,
        _way: Option<Way>,
    ) -> Turning {
        let mut turning = Turning {
            zero: ground.zero.clone(),
            scale: ground.scale.clone(),
            play: ground.play.clone(),
            source: ground.source,
            doubts: Vec::new(),
        };
        let recorded = |value: f64, by| {
            Some(Recorded {
                value: tidy(value),
                spread: None,
                at: at.to_owned(),
                by,
            })
        };
        // A difference tells no zero by itself; the straight line leaves it out.
        let mut points: Vec<(f64, f64)> = marks
            .iter()
            .filter(|it| it.by != MarkKind::Difference)
            .map(|it| (it.angle_deg, it.pulse_us))
            .collect();
        if points.is_empty() {
            turning.settle();
            return turning;
        }
        let count = points.len();
        points.extend(ground_as_mark(ground));
        if let Some((zero_us, us_per_deg)) = line(&points) {
            turning.zero = recorded(zero_us, Method::Marks);
            turning.scale = recorded(us_per_deg, Method::Marks);
            turning.source = Source::Line;
        } else {
            let points = &points[..count];
            let mean =
                |it: fn(&(f64, f64)) -> f64| points.iter().map(it).sum::<f64>() / count as f64;
            let (angle, pulse) = (mean(|it| it.0), mean(|it| it.1));
            let zero = match &turning.scale {
                Some(scale) => Some(pulse - scale.value * angle),
                None => (angle == 0.0).then_some(pulse),
            };
            if let Some(zero) = zero {
                turning.zero = recorded(zero, Method::Jog);
                turning.source = Source::Line;
            }
        }
        turning.settle();
        turning
    }

    /// What no file would take is left out, and said.
    fn settle(&mut self) {
        if let Some(zero) = self.zero.take_if(|it| !zero_can_be(it.value)) {
            self.doubts.push(format!(
                "its zero would be at {} µs, expected −2000 to 5000: read its marks again",
                zero.value
            ));
        }
        let can_be = |it: &Recorded| (1.0..=100.0).contains(&it.value.abs());
        if let Some(scale) = self.scale.take_if(|it| !can_be(it)) {
            self.doubts.push(format!(
                "its marks give {} µs/°, expected 1 to 100 in size: read them again",
                scale.value
            ));
            self.zero = None;
        }
        if self.zero.is_none() || self.scale.is_none() {
            self.source = Source::Nothing;
        }
    }
}

/// A zero that was recorded by jogging or from a mark is an observation too, as long as nothing better is known of µs/degree.
fn ground_as_mark(ground: &Ground) -> Option<(f64, f64)> {
    let zero = ground.zero.as_ref()?;
    let measured = |it: &Recorded| matches!(it.by, Method::Marks | Method::Touches);
    let observed = matches!(zero.by, Method::Jog | Method::Marks);
    (observed && !ground.scale.as_ref().is_some_and(measured)).then_some((0.0, zero.value))
}

/// A straight line through (angle, pulse) at two angles or more: (zero, µs/degree), by least squares.
///
/// `None` with fewer angles, or when the marks say that the joint does not turn at all.
fn line(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = points.len() as f64;
    let mean_angle = points.iter().map(|it| it.0).sum::<f64>() / n;
    let mean_pulse = points.iter().map(|it| it.1).sum::<f64>() / n;
    let spread: f64 = points.iter().map(|it| (it.0 - mean_angle).powi(2)).sum();
    let low = points.iter().map(|it| it.0).fold(f64::INFINITY, f64::min);
    let high = points
        .iter()
        .map(|it| it.0)
        .fold(f64::NEG_INFINITY, f64::max);
    if high - low < SAME_ANGLE_DEG {
        return None;
    }
    let both: f64 = points
        .iter()
        .map(|it| (it.0 - mean_angle) * (it.1 - mean_pulse))
        .sum();
    let slope = both / spread;
    let round = |x: f64| (x * 1000.0).round() / 1000.0;
    Some((round(mean_pulse - slope * mean_angle), round(slope)))
}
