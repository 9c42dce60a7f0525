//! The fits and advice held against truth that the tests draw themselves, thousands of times, seeded.

mod horns;
mod marks;
mod plugs;

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// A draw from the normal distribution (Box and Muller 1958).
fn normal(rng: &mut ChaCha8Rng, mean: f64, sd: f64) -> f64 {
    let radius = (-2.0 * (1.0 - rng.random::<f64>()).ln()).sqrt();
    mean + sd * radius * (std::f64::consts::TAU * rng.random::<f64>()).cos()
}
