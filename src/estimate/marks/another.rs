//! What another mark would give: where, from which side, and by how much the ± falls.
//!
//! A linear fit knows its covariance before the reading is taken, so nothing here guesses an angle.

use nalgebra::DVector;

use super::solve::{JOINT, coefficients};
use super::{Estimate, Fit, MarksError};
use crate::calibration::logbook::{MarkKind, Side};

/// Pulses tried between both bounds.
const PLACES: u32 = 12;
/// A ± that falls by less than this share is not worth the walk to the bench.
const WORTHWHILE: f64 = 0.1;

/// A ± now and after one more mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// Half the width of the 95 % interval now.
    pub now: f64,
    /// And then.
    pub then: f64,
}

impl Fall {
    /// By which share it falls, 0 to 1.
    pub fn share(&self) -> f64 {
        if self.now > 0.0 {
            1.0 - self.then / self.now
        } else {
            0.0
        }
    }
}

/// One more mark, at the best place for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Another {
    /// Where, µs.
    pub pulse_us: f64,
    /// Come from there.
    pub from: Side,
    /// With the gauge left where it is (its placing's number), or placed anew.
    pub placing: Option<u64>,
    /// The angle over the whole travel, in the mean of squares, degrees.
    pub travel_deg: Fall,
    /// The angle at mid-travel, degrees.
    pub middle_deg: Fall,
    /// µs/degree.
    pub us_per_deg: Fall,
}

impl Another {
    /// Whether it is worth the trouble: any of the three falls by a tenth or more.
    pub fn helps(&self) -> bool {
        let falls = [self.travel_deg, self.middle_deg, self.us_per_deg];
        falls.iter().any(|fall| fall.share() >= WORTHWHILE)
    }
}

impl Fit {
    /// The best next mark of this kind between two pulses: for each placing of that kind, and with
    /// the gauge placed anew; the one that helps the whole travel most comes first.
    ///
    /// # Errors
    /// Bounds that are no numbers, or not the smaller first.
    pub fn another(
        &self,
        reach_us: (f64, f64),
        kind: MarkKind,
    ) -> Result<Vec<Another>, MarksError> {
        let (low, high) = reach_us;
        let in_order = low.is_finite() && high.is_finite() && low < high;
        if !in_order {
            return Err(MarksError::Setting {
                name: "upper bound for another mark",
                value: high,
                expected: "a number above the lower bound",
            });
        }
        let places: Vec<f64> = (0..=PLACES)
            .map(|i| low + (high - low) * f64::from(i) / f64::from(PLACES))
            .collect();
        // The same pulses serve as the travel over which the angle is to be good.
        let travel: Vec<DVector<f64>> = places.iter().map(|p| self.direction(*p, 0.0)).collect();
        let reading = self.settings.readings.of(kind);
        let kept = self
            .groups
            .iter()
            .filter(|g| g.id.is_some() && g.kind == kind);
        let mut found = Vec::new();
        for group in kept.map(Some).chain([None]) {
            let (column, common) = match group {
                Some(group) => (group.column, 0.0),
                None => (None, reading.placing_deg),
            };
            let noise = (reading.noise_deg * self.noise_factor)
                .hypot(common)
                .powi(2);
            let best = places
                .iter()
                .flat_map(|pulse| [Side::Below, Side::Above].map(|from| (*pulse, from)))
                .map(|(pulse_us, from)| {
                    let mut row = self.direction(pulse_us, from.sign());
                    if let Some(column) = column {
                        row[column] = 1.0;
                    }
                    (
                        self.mean_variance(&travel, &row, noise),
                        pulse_us,
                        from,
                        row,
                    )
                })
                .min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((_, pulse_us, from, row)) = best {
                found.push(Another {
                    pulse_us,
                    from,
                    placing: group.and_then(|g| g.id),
                    travel_deg: self.fall_over(&travel, &row, noise),
                    middle_deg: self.fall(&self.middle_deg, &self.along_middle(), &row, noise),
                    us_per_deg: self.fall(&self.us_per_deg, &self.along_scale(), &row, noise),
                });
            }
        }
        found.sort_by(|a, b| b.travel_deg.share().total_cmp(&a.travel_deg.share()));
        Ok(found)
    }

    fn direction(&self, pulse_us: f64, side: f64) -> DVector<f64> {
        let mut direction = DVector::zeros(self.solved.estimate.len());
        let own = coefficients(&self.settings, pulse_us, side);
        direction.rows_mut(0, JOINT).copy_from_slice(&own);
        direction
    }

    fn along_middle(&self) -> DVector<f64> {
        let mut direction = DVector::zeros(self.solved.estimate.len());
        direction[0] = 1.0;
        direction
    }

    fn along_scale(&self) -> DVector<f64> {
        let mut direction = DVector::zeros(self.solved.estimate.len());
        direction[1] = -self.us_per_deg.value / (1.0 + self.solved.estimate[1]);
        direction
    }

    /// The variance along `of` once a mark with this row and noise is there (a rank-one update).
    fn variance_then(&self, of: &DVector<f64>, row: &DVector<f64>, noise: f64) -> f64 {
        let c = &self.solved.covariance;
        let learnt = of.dot(&(c * row)).powi(2) / (noise + row.dot(&(c * row)));
        (of.dot(&(c * of)) - learnt).max(0.0)
    }

    fn mean_variance(&self, travel: &[DVector<f64>], row: &DVector<f64>, noise: f64) -> f64 {
        let all = travel.iter().map(|of| self.variance_then(of, row, noise));
        all.sum::<f64>() / travel.len() as f64
    }

    fn fall(&self, now: &Estimate, of: &DVector<f64>, row: &DVector<f64>, noise: f64) -> Fall {
        let then = Estimate {
            sd: self.variance_then(of, row, noise).sqrt(),
            ..*now
        };
        Fall {
            now: now.half_width(),
            then: then.half_width(),
        }
    }

    fn fall_over(&self, travel: &[DVector<f64>], row: &DVector<f64>, noise: f64) -> Fall {
        let now = self.mean_variance(travel, row, f64::INFINITY);
        let then = self.mean_variance(travel, row, noise);
        let factor = self.middle_deg.half_width() / self.middle_deg.sd;
        Fall {
            now: factor * now.sqrt(),
            then: factor * then.sqrt(),
        }
    }
}
