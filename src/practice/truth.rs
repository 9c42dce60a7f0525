//! The truth about a practice robot, for those who judge: tests, and nobody else.
//!
//! No part of the console or of a procedure may use it; `tests/architecture.rs` holds that nobody
//! but the practice robot's openers can name this module's parent at all.

use std::fmt::Write;

use sha2::{Digest, Sha256};

use super::body::Body;
use super::joint::Joint;
use super::looks;
use super::servo::Health;
use super::sheet::TrueSheet;
use crate::units::Pin;

/// One joint as it really is.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueJoint {
    /// Leg.
    pub leg: &'static str,
    /// Joint.
    pub joint: &'static str,
    /// Where its plug sits.
    pub pin: Pin,
    /// The number on its servo's sticker.
    pub servo: String,
    /// Its angle now, with play and droop.
    pub deg: f64,
    /// Whether a larger pulse is a larger angle.
    pub positive: bool,
    /// At 1500 us, always positive.
    pub us_per_deg: f64,
    /// Half of its play.
    pub half_play_deg: f64,
    /// How far its link gives at gravity's greatest pull.
    pub droop_deg: f64,
    /// Where its linkage ends, or what it meets there, in degrees.
    pub ends_deg: (f64, f64),
    /// How far the servo itself can put the joint, lower and upper, in degrees.
    pub reach_deg: (f64, f64),
    /// Teeth of the spline.
    pub teeth: u32,
    /// Arms of the horn.
    pub arms: u32,
    /// The servo moves at all.
    pub alive: bool,
    /// The servo neither rattles nor gets hot by itself, and moves.
    pub sound: bool,
    /// It drives against something now.
    pub presses: bool,
    /// Its leg is unscrewed from the horn: no linkage ends its motion.
    pub bare: bool,
    it: Joint,
}

impl TrueJoint {
    fn of(joint: &Joint) -> TrueJoint {
        let servo = &joint.servo;
        let (a, b) = (
            joint.horn_deg - servo.reach_deg,
            joint.horn_deg + servo.reach_deg,
        );
        TrueJoint {
            leg: joint.leg,
            joint: joint.joint,
            pin: joint.pin,
            servo: looks::name(servo),
            deg: joint.deg(),
            positive: joint.sign * servo.turns > 0.0,
            us_per_deg: servo.us_per_deg,
            half_play_deg: servo.half_play_deg,
            droop_deg: joint.droop_deg,
            ends_deg: joint.ends_deg,
            reach_deg: (a, b),
            teeth: servo.teeth,
            arms: servo.arms,
            alive: servo.health != Health::Dead,
            sound: servo.health == Health::Good,
            presses: joint.shaft.presses,
            bare: joint.bare,
            it: joint.clone(),
        }
    }

    /// Where this pulse puts the joint if nothing is in its way: on the middle of play and dead
    /// band, without a load.
    pub fn deg_at(&self, pulse_us: f64) -> f64 {
        self.it.sent_deg(pulse_us)
    }

    /// The pulse that puts the joint there, by halving; outside 500-2500 us: none.
    pub fn us_at(&self, deg: f64) -> Option<f64> {
        let (mut low, mut high) = (500.0, 2500.0);
        let above = |us: f64| (self.deg_at(us) > deg) == self.positive;
        if above(low) || !above(high) {
            return None;
        }
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if above(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some((low + high) / 2.0)
    }

    /// Microseconds a degree, signed, by the best straight line through `deg_at` over this many
    /// degrees to either side of a middle.
    pub fn line(&self, middle_deg: f64, half_deg: f64) -> Option<f64> {
        let points: Vec<(f64, f64)> = (-10..=10)
            .map(|i| middle_deg + half_deg * f64::from(i) / 10.0)
            .map(|deg| Some((deg, self.us_at(deg)?)))
            .collect::<Option<_>>()?;
        let count = points.len() as f64;
        let (x, y) = points
            .iter()
            .fold((0.0, 0.0), |(x, y), p| (x + p.0 / count, y + p.1 / count));
        let up: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
        let across: f64 = points.iter().map(|p| (p.0 - x) * (p.0 - x)).sum();
        Some(up / across)
    }
}

/// The robot as it really is.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Every joint, in the robot's own order.
    pub joints: Vec<TrueJoint>,
    /// The spares: number, and whether it is sound.
    pub spares: Vec<(String, bool)>,
    /// How the printed sheet lies, if there is one.
    pub sheet: Option<TrueSheet>,
}

impl Truth {
    pub(super) fn of(body: &Body) -> Truth {
        Truth {
            joints: body.joints.iter().map(TrueJoint::of).collect(),
            spares: body
                .spares
                .iter()
                .map(|servo| (looks::name(servo), servo.health == Health::Good))
                .collect(),
            sheet: body.sheet.as_ref().map(|sheet| sheet.lies),
        }
    }

    /// A joint by its name.
    pub fn joint(&self, leg: &str, joint: &str) -> Option<&TrueJoint> {
        self.joints
            .iter()
            .find(|j| j.leg == leg && j.joint == joint)
    }

    /// Everything that a seed decided, as text: six decimals, so that it is the same everywhere.
    pub fn text(&self) -> String {
        let mut text = String::new();
        for joint in &self.joints {
            let it = &joint.it;
            let _ = writeln!(
                text,
                "{} {} pin {} servo {} {:?} sign {} turns {} horn {:.6} us/deg {:.6} bend {:.9} centre {:.6} dead {:.6} reach {:.6} speed {:.6} play {:.6} ends {:.6} {:?} {:.6} {:?} friction {:.6} droop {:.6} hangs {:.6}",
                joint.leg,
                joint.joint,
                joint.pin,
                joint.servo,
                it.servo.health,
                it.sign,
                it.servo.turns,
                it.horn_deg,
                it.servo.us_per_deg,
                it.servo.bend_per_deg,
                it.servo.centre_deg,
                it.servo.dead_band_us,
                it.servo.reach_deg,
                it.servo.speed_deg_s,
                it.servo.half_play_deg,
                it.ends_deg.0,
                it.ends.0,
                it.ends_deg.1,
                it.ends.1,
                it.friction,
                it.droop_deg,
                it.place().1,
            );
        }
        for (number, sound) in &self.spares {
            let _ = writeln!(text, "spare {number} {sound}");
        }
        text
    }

    /// A digest of [`Truth::text`], in hexadecimal.
    pub fn digest(&self) -> String {
        let digest = Sha256::digest(self.text().as_bytes());
        digest.iter().fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
    }
}
