//! Wave gaits: when each foot is on the ground, and where it is under the body.
//!
//! A wave gait lifts the feet of a side one after the other from rear to front, the other side half a cycle later.
//! Source: Song, S.-M., Waldron, K. J., *Machines That Walk* (MIT Press 1989), from memory.
//! It plans only; nothing here knows pulses.

use super::stability::{Ground, SupportPolygon};

/// A forward wave gait of a robot with `rows` pairs of legs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaveGait {
    rows: usize,
    duty: f64,
}

/// Which side of the robot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// Its own left.
    Left,
    /// Its own right.
    Right,
}

/// What a foot does at one moment of the cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// On the ground; the part of the stance that is over, 0 to 1.
    Stance(f64),
    /// In the air; the part of the swing that is over, 0 to 1.
    Swing(f64),
}

impl WaveGait {
    /// For 4, 6 or 8 legs (2, 3 or 4 rows) and a duty factor, the part of the cycle that each foot is on the ground.
    ///
    /// From 3/4 with four legs, else from 1/2, up to but without 1; `None` for anything else.
    pub fn new(rows: usize, duty: f64) -> Option<Self> {
        let least = match rows {
            2 => 0.75,
            3 | 4 => 0.5,
            _ => return None,
        };
        (duty >= least && duty < 1.0).then_some(WaveGait { rows, duty })
    }

    /// The tripod gait: six legs, duty factor 1/2.
    pub const TRIPOD: WaveGait = WaveGait { rows: 3, duty: 0.5 };

    /// How many rows of two legs.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The part of the cycle that a foot is on the ground.
    pub fn duty(&self) -> f64 {
        self.duty
    }

    /// When in the cycle (0 to 1) a foot is put down; row 0 is the front.
    ///
    /// `φ(row) = frac(row · β)` on the left, half a cycle later on the right.
    pub fn put_down(&self, side: Side, row: usize) -> f64 {
        let half = match side {
            Side::Left => 0.0,
            Side::Right => 0.5,
        };
        (row as f64 * self.duty + half).rem_euclid(1.0)
    }

    /// What a foot does at this time, in cycles.
    pub fn step(&self, side: Side, row: usize, cycles: f64) -> Step {
        let mut phase = (cycles - self.put_down(side, row)).rem_euclid(1.0);
        // rem_euclid may round up to 1 for a tiny negative number.
        if phase >= 1.0 {
            phase = 0.0;
        }
        if phase < self.duty {
            Step::Stance(phase / self.duty)
        } else {
            Step::Swing((phase - self.duty) / (1.0 - self.duty))
        }
    }

    /// Where a foot is along x, as a part of the stroke about its middle: +1/2 in front, −1/2 behind.
    pub fn along(&self, side: Side, row: usize, cycles: f64) -> f64 {
        match self.step(side, row, cycles) {
            Step::Stance(part) => 0.5 - part,
            Step::Swing(part) => part - 0.5,
        }
    }

    /// The feet on the ground at this time, mm, for legs a `pitch` apart along x, `width` apart along y, and a `stroke` under the body.
    pub fn feet_down(&self, pitch: f64, width: f64, stroke: f64, cycles: f64) -> Vec<Ground> {
        let mut out = Vec::with_capacity(2 * self.rows);
        for side in [Side::Left, Side::Right] {
            for row in 0..self.rows {
                if let Step::Stance(part) = self.step(side, row, cycles) {
                    let middle = ((self.rows - 1) as f64 / 2.0 - row as f64) * pitch;
                    let y = match side {
                        Side::Left => width / 2.0,
                        Side::Right => -width / 2.0,
                    };
                    out.push([middle + (0.5 - part) * stroke, y]);
                }
            }
        }
        out
    }

    /// The longitudinal stability margin of the gait by its closed form, in units of the leg pitch.
    ///
    /// `S = (n/2 − 1) P + (1 − 3/(4β)) R` for 2n legs, pitch P and stroke R ≤ P; `None` beyond that range.
    pub fn margin(&self, stroke_by_pitch: f64) -> Option<f64> {
        (0.0..=1.0).contains(&stroke_by_pitch).then(|| {
            self.rows as f64 / 2.0 - 1.0 + (1.0 - 3.0 / (4.0 * self.duty)) * stroke_by_pitch
        })
    }

    /// The least longitudinal margin over a cycle, mm, found by looking at `moments` moments; the centre of mass is in the middle.
    ///
    /// `None` when at some moment the robot does not stand at all.
    pub fn least_margin(&self, pitch: f64, width: f64, stroke: f64, moments: usize) -> Option<f64> {
        let mut least = f64::INFINITY;
        for moment in 0..moments {
            let cycles = moment as f64 / moments as f64;
            let polygon = SupportPolygon::of(&self.feet_down(pitch, width, stroke, cycles));
            let margin = polygon.longitudinal_margin([0.0, 0.0], [1.0, 0.0])?;
            least = least.min(margin.least());
        }
        Some(least)
    }
}
