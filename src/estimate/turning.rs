//! How one joint turns: its zero, µs/degree and play, from the ground that a person laid and the marks since.

use std::sync::Arc;

use super::joint::{tidy, zero_can_be};
use super::knowledge::{MarkKnown, Source};
use super::marks::{self, Estimate, Fit, Mark, Settings};
use crate::calibration::logbook::{MarkKind, Way};
use crate::calibration::model::{Method, Recorded};
use crate::units::Pulse;

/// So many marks whose side is known, over at least so many degrees, are fitted with play and curvature.
const ENOUGH_MARKS: usize = 4;
const ENOUGH_DEG: f64 = 30.0;
/// µs/degree of a common servo: 2000 µs for about 190° (common practice; a data sheet says 180°).
const COMMON_US_PER_DEG: f64 = 10.6;

/// Marks closer than this together are at one angle: they tell a zero and no µs/degree.
const SAME_ANGLE_DEG: f64 = 1.0;

/// What was taken over or typed.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Ground {
    pub(super) zero: Option<Recorded>,
    pub(super) scale: Option<Recorded>,
    pub(super) play: Option<Recorded>,
    pub(super) source: Source,
}

/// What follows from ground and marks.
#[derive(Debug, Clone, Default)]
pub(super) struct Turning {
    /// The fit with play and curvature, when there are marks enough.
    pub(super) fit: Option<Fit>,
    pub(super) zero: Option<Recorded>,
    pub(super) scale: Option<Recorded>,
    pub(super) play: Option<Recorded>,
    pub(super) source: Source,
    pub(super) doubts: Vec<String>,
}

/// A turning and all that it was made of: what did not change is not fitted again.
#[derive(Debug, Clone)]
pub(super) struct Turned {
    ground: Ground,
    marks: Vec<MarkKnown>,
    at: String,
    expected: Settings,
    pub(super) turning: Turning,
}

impl Turned {
    /// The former one if it was made of the same.
    pub(super) fn of(
        former: Option<&Arc<Turned>>,
        ground: &Ground,
        marks: &[MarkKnown],
        at: &str,
        expected: &Settings,
    ) -> Arc<Turned> {
        let same = |it: &&Arc<Turned>| {
            it.ground == *ground && it.marks == marks && it.at == at && it.expected == *expected
        };
        former.filter(same).cloned().unwrap_or_else(|| {
            Arc::new(Turned {
                ground: ground.clone(),
                marks: marks.to_vec(),
                at: at.to_owned(),
                expected: *expected,
                turning: Turning::of(ground, marks, at, expected),
            })
        })
    }
}

impl Turning {
    /// The marks replace the ground as far as they tell: a fit when there are enough of them,
    /// a straight line through two angles, or a zero from one.
    pub(super) fn of(
        ground: &Ground,
        marks: &[MarkKnown],
        at: &str,
        expected: &Settings,
    ) -> Turning {
        let mut turning = Turning {
            fit: None,
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
        if enough(marks) {
            turning.take_fit(marks, at, expected);
            if turning.fit.is_some() {
                return turning;
            }
        }
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
        // A mark at the same angle is another try at it.
        let again = points.iter().any(|it| it.0.abs() <= SAME_ANGLE_DEG);
        points.extend(ground_as_mark(ground).filter(|_| !again));
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

    fn take_fit(&mut self, marks: &[MarkKnown], at: &str, expected: &Settings) {
        let list: Vec<Mark> = marks.iter().map(Mark::from).collect();
        let fit = match marks::fit(&list, expected) {
            Ok(fit) => fit,
            Err(error) => {
                self.doubts.push(error.to_string());
                return;
            }
        };
        // A fit whose zero rests on the prior alone is none: an inclinometer tells no zero.
        let tells = |unknown: marks::Unknown| fit.alone[unknown.index()].is_some();
        let scale = tells(marks::Unknown::Scale);
        let zero = scale && tells(marks::Unknown::Middle);
        let recorded = |it: Estimate| {
            Some(Recorded {
                value: tidy(it.value),
                spread: Some(tidy(it.half_width())).filter(|it| it.is_finite()),
                at: at.to_owned(),
                by: Method::Marks,
            })
        };
        if scale {
            self.scale = recorded(fit.us_per_deg);
            self.source = Source::Fit;
        }
        if zero {
            self.zero = recorded(fit.zero_us);
        }
        if tells(marks::Unknown::Play) && fit.half_play_deg.value >= 0.0 {
            self.play = recorded(fit.play_deg());
        }
        for index in fit.doubted() {
            let (mark, residual) = (&marks[index], &fit.residuals[index]);
            self.doubts.push(format!(
                "the mark {}° at {} µs (entry {}) lies {:.1}° off the others: read it again, or undo it",
                mark.angle_deg, mark.pulse_us, mark.n, residual.off_by_deg
            ));
        }
        self.fit = scale.then_some(fit);
        self.settle();
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

/// What is expected of a joint before its marks are looked at.
pub(super) fn expected(
    ground: &Ground,
    needed_deg: Option<(f64, f64)>,
    way: Option<Way>,
) -> Settings {
    let scale = ground.scale.as_ref().map(|it| it.value);
    let us_per_deg = match way {
        Some(way) => way.sign() * scale.map_or(COMMON_US_PER_DEG, f64::abs),
        None => scale.unwrap_or(COMMON_US_PER_DEG),
    };
    let mid_pulse_us = Pulse::CENTRE.us();
    // The horn was put on so that the middle of the travel is the middle of what is needed.
    let needed = needed_deg.map(|(low, high)| (low + high) / 2.0);
    let measured = match (&ground.zero, scale) {
        (Some(zero), Some(scale)) => Some((mid_pulse_us - zero.value) / scale),
        _ => None,
    };
    let mid_deg = measured.or(needed);
    let mut settings = Settings::new(mid_pulse_us, mid_deg.unwrap_or(0.0), us_per_deg);
    if mid_deg.is_none() {
        settings.priors.middle_deg.sd = f64::INFINITY;
    }
    settings
}

fn enough(marks: &[MarkKnown]) -> bool {
    let angles = || {
        let sided = marks.iter().filter(|it| it.from.is_some());
        sided.map(|it| it.angle_deg)
    };
    let low = angles().fold(f64::INFINITY, f64::min);
    let high = angles().fold(f64::NEG_INFINITY, f64::max);
    angles().count() >= ENOUGH_MARKS && high - low >= ENOUGH_DEG
}

impl From<&MarkKnown> for Mark {
    fn from(it: &MarkKnown) -> Mark {
        Mark {
            pulse_us: it.pulse_us,
            from: it.from,
            angle_deg: it.angle_deg,
            placing: it.placing,
            kind: it.by,
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
