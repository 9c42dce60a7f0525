//! Analog inputs of the practice robot: a current sensor on a0 and a battery divider on a1, if they
//! are fitted.
//!
//! What they say is what such parts say: an offset, noise, the converter's steps.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::robot::{self, SENSOR_STREAM};

/// Input of the current sensor.
pub const CURRENT_INPUT: u8 = 0;
/// Input of the battery divider.
pub const VOLTS_INPUT: u8 = 1;
/// What the current sensor says without a current, mV.
pub const CURRENT_OFFSET_MV: f64 = 500.0;
/// And for each ampere more.
pub const CURRENT_MV_PER_A: f64 = 250.0;
/// The divider's output is the supply by this.
pub const VOLTS_DIVIDED_BY: f64 = 2.0;

/// One step of a ten-bit converter at 5 V.
const STEP_MV: f64 = 5000.0 / 1024.0;
/// Noise to either side.
const NOISE_MV: f64 = 6.0;
/// The sensor's own filter, in milliseconds.
const FILTER_MS: f64 = 2.0;

/// Both parts.
#[derive(Debug)]
pub(super) struct Sensor {
    rng: ChaCha8Rng,
    amps: f64,
}

impl Sensor {
    pub(super) fn new(seed: u64) -> Sensor {
        Sensor {
            rng: robot::stream(seed, SENSOR_STREAM),
            amps: 0.0,
        }
    }

    /// A millisecond. What both inputs measure, in mV.
    pub(super) fn step(&mut self, amps: f64, volts: f64) -> (u16, u16) {
        self.amps += (amps - self.amps) / FILTER_MS;
        let current = CURRENT_OFFSET_MV + CURRENT_MV_PER_A * self.amps;
        (
            self.converted(current),
            self.converted(volts / VOLTS_DIVIDED_BY * 1000.0),
        )
    }

    fn converted(&mut self, mv: f64) -> u16 {
        let noisy = mv + self.rng.random_range(-NOISE_MV..NOISE_MV);
        ((noisy / STEP_MV).round().clamp(0.0, 1023.0) * STEP_MV) as u16
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_ampere_more_is_a_quarter_of_a_volt_more_within_noise_and_steps() {
        let mut sensor = Sensor::new(7);
        let mean = |sensor: &mut Sensor, amps| -> f64 {
            for _ in 0..50 {
                sensor.step(amps, 5.0);
            }
            (0..200)
                .map(|_| f64::from(sensor.step(amps, 5.0).0))
                .sum::<f64>()
                / 200.0
        };
        let (none, two) = (mean(&mut sensor, 0.0), mean(&mut sensor, 2.0));
        assert!((none - 500.0).abs() < 5.0, "{none}");
        assert!((two - none - 500.0).abs() < 5.0, "{two}");
        let volts = sensor.step(0.0, 5.0).1;
        assert!((f64::from(volts) - 2500.0).abs() < 12.0, "{volts}");
    }
}
