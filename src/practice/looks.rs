//! What a person at the bench sees of the robot: angles held against a gauge, motion, a hum, the
//! supply's display. Turns the truth into a [`Sight`], and is the only way out for it.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::robot::{Joint, about_normal};
use super::supply::{Rail, Supply};
use crate::board::sight::{SeenJoint, Sight};

/// A joint slower than this looks still, in degrees a second.
const STILL_DEG_S: f64 = 2.0;
/// How long it must be still until one says that it stopped, in milliseconds.
const STILL_MS: u32 = 150;
/// The error that all readings of one placing of the gauge share, as a standard deviation.
const PLACING_DEG: f64 = 0.5;
/// What a gauge is read to.
const READ_TO_DEG: f64 = 0.5;

/// The person who looks.
pub(super) struct Eyes {
    label: String,
    rng: ChaCha8Rng,
    joints: Vec<Look>,
    notes: Vec<String>,
    clean: bool,
}

/// What is remembered of one joint.
struct Look {
    from_deg: f64,
    last_deg: f64,
    still_ms: u32,
    moving: bool,
    placing_deg: f64,
}

impl Eyes {
    /// Someone who has just come to the bench.
    pub(super) fn new(label: String, seed: u64, clean: bool, joints: &[Joint]) -> Eyes {
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x6579_6573);
        let joints = joints
            .iter()
            .map(|joint| Look {
                from_deg: joint.deg(),
                last_deg: joint.deg(),
                still_ms: STILL_MS,
                moving: false,
                placing_deg: if clean {
                    0.0
                } else {
                    about_normal(&mut rng, PLACING_DEG)
                },
            })
            .collect();
        Eyes {
            label,
            rng,
            joints,
            notes: Vec::new(),
            clean,
        }
    }

    /// Remembers something worth a sentence.
    pub(super) fn note(&mut self, text: &str) {
        self.notes.push(text.to_owned());
        if self.notes.len() > 5 {
            self.notes.remove(0);
        }
    }

    /// Looks again after some milliseconds.
    pub(super) fn look(
        &mut self,
        joints: &[Joint],
        awake: impl Fn(&Joint) -> bool,
        (supply, rail): (&Supply, &Rail),
        ms: u64,
        since_ms: u32,
    ) -> Sight {
        let seen = joints
            .iter()
            .zip(&mut self.joints)
            .map(|(joint, look)| {
                let deg = joint.deg();
                let speed = (deg - look.last_deg).abs() * 1000.0 / f64::from(since_ms.max(1));
                look.last_deg = deg;
                if speed > STILL_DEG_S {
                    look.still_ms = 0;
                    look.moving = true;
                } else {
                    look.still_ms = look.still_ms.saturating_add(since_ms);
                    if look.moving && look.still_ms >= STILL_MS {
                        // At rest again: whoever measures now places the gauge anew.
                        look.moving = false;
                        look.from_deg = deg;
                        if !self.clean {
                            look.placing_deg = about_normal(&mut self.rng, PLACING_DEG);
                        }
                    }
                }
                let wobble = if self.clean {
                    0.0
                } else {
                    self.rng.random_range(-0.1..0.1)
                };
                SeenJoint {
                    leg: joint.leg.into(),
                    joint: joint.joint.into(),
                    gauge_deg: ((deg + look.placing_deg + wobble) / READ_TO_DEG).round()
                        * READ_TO_DEG,
                    moved_deg: if look.moving {
                        deg - look.from_deg
                    } else {
                        0.0
                    },
                    moving: look.moving,
                    hums: joint.shaft.presses,
                    slack: !awake(joint),
                }
            })
            .collect();
        Sight {
            label: self.label.clone(),
            seconds: ms as f64 / 1000.0,
            joints: seen,
            supply_v: (rail.shown_v * 100.0).round() / 100.0,
            supply_a: (rail.shown_a * 100.0).round() / 100.0,
            limit_a: supply.limit_a,
            notes: self.notes.clone(),
        }
    }
}
