//! What a person at the bench sees of the robot: angles held against a gauge, motion, a hum, heat,
//! the supply's display. Turns the truth into a [`Sight`], and is the only way out for it.
//!
//! Looking and reading draw from streams of their own: they change nothing about the robot.

use rand_chacha::ChaCha8Rng;

use super::body::{Body, Loose};
use super::joint::Joint;
use super::robot::{self, EYES_STREAM, PLACINGS_STREAM, about_normal};
use super::servo::{Servo, Shaft};
use super::sheet::Touches;
use crate::board::hands::Tool;
use crate::board::sight::{SeenJoint, SeenMotion, SeenServo, Sight};

/// How often the person looks, in milliseconds.
pub(super) const LOOK_MS: u32 = 20;
/// A joint slower than this looks still, in degrees a second.
const STILL_DEG_S: f64 = 2.0;
/// How long it must be still until one says that it stopped, in milliseconds.
const STILL_MS: u32 = 150;
/// How coarse an eye is without a gauge, in degrees.
const BY_EYE_DEG: f64 = 5.0;

/// How well a tool is placed and read.
struct Quality {
    /// The error that all readings of one placing share, as a standard deviation.
    placing_deg: f64,
    /// The error of each reading, as a standard deviation.
    reading_deg: f64,
    /// What it is read to.
    read_to_deg: f64,
}

/// The bars of the issues are for 1° and 1°; the others from ESTIMATION's paragraph on marks.
fn quality(tool: Tool) -> Quality {
    let (placing_deg, reading_deg, read_to_deg) = match tool {
        Tool::Edge => (0.4, 0.3, 0.1),
        Tool::Card => (0.5, 0.5, 0.5),
        Tool::Gauge => (1.0, 1.0, 0.5),
        Tool::Inclinometer => (15.0, 0.25, 0.1),
    };
    Quality {
        placing_deg,
        reading_deg,
        read_to_deg,
    }
}

/// A gauge on a joint.
#[derive(Debug, Clone, Copy)]
struct Placed {
    joint: usize,
    tool: Tool,
    error_deg: f64,
}

/// The person who looks.
#[derive(Debug)]
pub(super) struct Eyes {
    rng: ChaCha8Rng,
    /// What placings err by.
    placings: ChaCha8Rng,
    looks: Vec<Look>,
    test: Look,
    placed: Option<Placed>,
    touches: Touches,
    /// Whether this person errs at all.
    errs: bool,
    seconds: f64,
}

/// What is remembered of one servo.
#[derive(Debug, Clone, Copy, Default)]
struct Look {
    last_deg: f64,
    from_deg: f64,
    still_ms: u32,
    seen: SeenMotion,
    /// Errors of the gauge that is held to it now, and of its present reading.
    placing_deg: f64,
    reading_deg: f64,
}

impl Eyes {
    /// Someone who has just come to the bench, and what there is to see.
    pub(super) fn new(
        label: String,
        seed: u64,
        errs: bool,
        speed: u32,
        body: &Body,
    ) -> (Eyes, Sight) {
        let mut eyes = Eyes {
            rng: robot::stream(seed, EYES_STREAM),
            placings: robot::stream(seed, PLACINGS_STREAM),
            looks: Vec::new(),
            test: Look::default(),
            placed: None,
            touches: Touches::new(seed, errs),
            errs,
            seconds: 0.0,
        };
        for joint in &body.joints {
            let mut look = Look::at(joint.deg());
            look.hold(&mut eyes.rng);
            eyes.looks.push(look);
        }
        let mut sight = Sight {
            gauges_err: errs,
            label,
            speed,
            limit_a: body.supply.limit_a,
            joints: body
                .joints
                .iter()
                .map(|joint| SeenJoint {
                    leg: joint.leg.into(),
                    joint: joint.joint.into(),
                    ..SeenJoint::default()
                })
                .collect(),
            ..Sight::default()
        };
        eyes.look(body, &mut sight, 0);
        (eyes, sight)
    }

    /// Looks again, [`LOOK_MS`] after the last look.
    pub(super) fn look(&mut self, body: &Body, sight: &mut Sight, ms: u64) {
        self.seconds = ms as f64 / 1000.0;
        for (index, (joint, seen)) in body.joints.iter().zip(&mut sight.joints).enumerate() {
            let look = &mut self.looks[index];
            let came_to_rest = look.follow(joint.deg(), &joint.shaft, &joint.servo, self.seconds);
            if came_to_rest {
                // Whoever measures now reads anew, and places anew what was only held to it.
                look.hold(&mut self.rng);
            }
            seen.servo = look.seen;
            seen.against = joint.against();
            if let Some(it) = &seen.against {
                seen.leaned = Some((it.clone(), self.seconds));
            }
        }
        self.glance(body, sight);
        sight.seconds = self.seconds;
        sight.supply_v = round_to(body.rail.shown_v, 0.01);
        sight.supply_a = round_to(body.rail.shown_a, 0.01);
    }

    /// What changes without time: where gauges sit and what they show, where feet touch the sheet, and what is on the
    /// test pin.
    pub(super) fn glance(&mut self, body: &Body, sight: &mut Sight) {
        for (index, (joint, seen)) in body.joints.iter().zip(&mut sight.joints).enumerate() {
            let placed = self.placed.filter(|placed| placed.joint == index);
            seen.gauge = placed.is_some();
            seen.bare = joint.bare;
            seen.gauge_deg = if self.errs {
                shown(joint.deg(), &self.looks[index], placed)
            } else {
                round_to(joint.deg(), 0.1)
            };
        }
        self.touches.look(body, sight);
        match &body.loose {
            Some(loose) => self.look_at_test_pin(loose, sight),
            None => sight.on_test_pin = None,
        }
    }

    fn look_at_test_pin(&mut self, loose: &Loose, sight: &mut Sight) {
        let look = &mut self.test;
        let number = name(&loose.servo);
        if sight
            .on_test_pin
            .as_ref()
            .is_none_or(|seen| seen.number != number)
        {
            *look = Look::at(loose.shaft.deg);
        }
        look.follow(loose.shaft.deg, &loose.shaft, &loose.servo, self.seconds);
        sight.on_test_pin = Some(SeenServo {
            number,
            pin: loose.pin,
            horn_deg: round_to(loose.shaft.deg, BY_EYE_DEG),
            servo: look.seen,
        });
    }

    /// A gauge is placed on a joint, in place of any other.
    pub(super) fn place(&mut self, joint: usize, tool: Tool) {
        let error_deg = about_normal(&mut self.placings, quality(tool).placing_deg);
        self.placed = Some(Placed {
            joint,
            tool,
            error_deg,
        });
        self.looks[joint].reading_deg = about_normal(&mut self.rng, 1.0);
    }

    /// The gauge is taken away.
    pub(super) fn take_away(&mut self) {
        self.placed = None;
    }

    /// The gauge is read, with a new error; none is placed: none.
    pub(super) fn read(&mut self, joints: &[Joint]) -> Option<f64> {
        let placed = self.placed?;
        let truth = joints[placed.joint].deg();
        if !self.errs {
            return Some(round_to(truth, 0.1));
        }
        let look = &mut self.looks[placed.joint];
        look.reading_deg = about_normal(&mut self.rng, 1.0);
        Some(shown(truth, look, Some(placed)))
    }
}

/// What the gauge on a joint shows, or one that is held to it.
fn shown(truth_deg: f64, look: &Look, placed: Option<Placed>) -> f64 {
    let (quality, error) = match placed {
        Some(placed) => (quality(placed.tool), placed.error_deg),
        None => {
            let quality = quality(Tool::Gauge);
            let error = look.placing_deg * quality.placing_deg;
            (quality, error)
        }
    };
    let read = truth_deg + error + look.reading_deg * quality.reading_deg;
    round_to(read, quality.read_to_deg)
}

impl Look {
    fn at(deg: f64) -> Look {
        Look {
            last_deg: deg,
            from_deg: deg,
            still_ms: STILL_MS,
            ..Look::default()
        }
    }

    /// Errors anew, in standard deviations.
    fn hold(&mut self, rng: &mut ChaCha8Rng) {
        self.placing_deg = about_normal(rng, 1.0);
        self.reading_deg = about_normal(rng, 1.0);
    }

    /// Sees what the servo does now. True: it has just come to rest.
    fn follow(&mut self, deg: f64, shaft: &Shaft, servo: &Servo, seconds: f64) -> bool {
        let speed = (deg - self.last_deg).abs() * 1000.0 / f64::from(LOOK_MS);
        self.last_deg = deg;
        let seen = &mut self.seen;
        let mut came_to_rest = false;
        if speed > STILL_DEG_S && !shaft.rattles(servo) {
            self.still_ms = 0;
            if !seen.moving {
                seen.moving = true;
                seen.swung_deg = 0.0;
                seen.swung_at = Some(seconds);
            }
        } else {
            self.still_ms = self.still_ms.saturating_add(LOOK_MS);
            if seen.moving && self.still_ms >= STILL_MS {
                seen.moving = false;
                self.from_deg = deg;
                came_to_rest = true;
            }
        }
        seen.moved_deg = if seen.moving {
            round_to(deg - self.from_deg, 0.1)
        } else {
            0.0
        };
        if seen.moved_deg.abs() > seen.swung_deg.abs() {
            seen.swung_deg = seen.moved_deg;
        }
        seen.hums = shaft.presses;
        if shaft.presses {
            seen.hummed_at = Some(seconds);
        }
        seen.slack = !shaft.is_driven(servo);
        seen.rattles = shaft.rattles(servo);
        seen.hot = shaft.is_hot();
        came_to_rest
    }
}

/// The number on a sticker.
pub(super) fn name(servo: &Servo) -> String {
    format!("{:02}", servo.number)
}

pub(super) fn round_to(value: f64, step: f64) -> f64 {
    // Not `value / step * step`: a tenth is no binary number, its inverse is.
    let by = 1.0 / step;
    let rounded = (value * by).round() / by;
    // No -0.0 on a display.
    rounded + 0.0
}
