//! Everything that a logbook tells of a robot, in one place for procedures, pages and the report.
//!
//! Plain data; `fold` fills it.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::turning::Turned;
use super::{horns, marks};
use crate::calibration::logbook::{
    Dead, End, EndKind, JointName, MarkKind, Neighbour, Part, Side, SupplyQuestion, Tool, Verdict,
    Way, Why,
};
use crate::calibration::model::{Joint, JointRef, Robot, Span};
use crate::units::{Pin, Pulse};

/// What is known of one robot.
#[derive(Debug, Clone, Default)]
pub struct Knowledge {
    /// The calibration: what the logbook makes of plan and observations. No leg without a plan.
    pub robot: Robot,
    /// One for each joint, leg by leg, from body to foot.
    pub joints: Vec<JointKnown>,
    /// The servo supply, as it was last written down.
    pub supply: Option<SupplyKnown>,
    /// What was answered about the supply since it was last written down: the questions were left before their end.
    pub supply_said: BTreeMap<SupplyQuestion, SupplySaid>,
    /// Every servo with a number.
    pub servos: BTreeMap<String, ServoKnown>,
    /// What its servos and horns have alike, as far as it was said.
    pub servo_kind: ServoKindKnown,
    /// Whether the horns are on already and stay as they are; `None` before it was asked.
    pub horns_stay: Option<bool>,
    /// What each pin was found to drive, after all exchanges.
    pub plugs: BTreeMap<Pin, PlugFound>,
    /// The wiring as found was made the plan.
    pub map_accepted: bool,
    /// Every placing of a gauge.
    pub placings: BTreeMap<u64, PlacingKnown>,
    /// The last saved state of the calibration file: the number of the entry, and SHA-256 of the file.
    pub saved: Option<(u64, String)>,
    /// Entries about a joint that the plan does not have.
    pub strays: Vec<u64>,
}

/// What is known of one joint.
#[derive(Debug, Clone)]
pub struct JointKnown {
    /// Its name.
    pub name: JointName,
    /// Its place in the robot.
    pub at: JointRef,
    /// The plug that is meant to drive it.
    pub planned_pin: Option<Pin>,
    /// The plug that was seen to drive it.
    pub found_pin: Option<Pin>,
    /// Which way it turns when the pulse grows: as seen, else as µs/degree says.
    pub way: Option<Way>,
    /// The number of its servo.
    pub servo: Option<String>,
    /// The entry by which its servo was last replaced.
    pub replaced: Option<u64>,
    /// What was known of the former servo and is not known of this one.
    pub stale: Vec<Part>,
    /// Its servo is new, or a check found its horn slipped: that horn is to be looked at, whatever was said of the others.
    pub horn_anew: bool,
    /// How its horn was put on.
    pub horn: Option<HornKnown>,
    /// At which angles it was read to come out, since its horn was last put on.
    pub horn_angles: Vec<f64>,
    /// At which angles its bare arm stood at the near and the far end of its servo's own travel, since then.
    pub horn_ends: [Option<f64>; 2],
    /// Its leg is unscrewed from the horn.
    pub leg_off: bool,
    /// Rough bounds, µs.
    pub bounds: Option<Span>,
    /// The marks that count.
    pub marks: Vec<MarkKnown>,
    /// What is expected of it before its marks are looked at.
    pub expected: marks::Settings,
    /// The fit of its marks, when there are enough of them; its residuals are in the order of `marks`.
    pub fit: Option<marks::Fit>,
    /// What zero, µs/degree and play were made of, and what came out.
    pub(super) turned: Option<Arc<Turned>>,
    /// Where its zero and µs/degree come from.
    pub source: Source,
    /// Near and far: see [`End::index`].
    pub ends: [EndKnown; 2],
    /// The margin with which its limits were set, µs.
    pub margin_us: Option<f64>,
    /// Checks since its zero and µs/degree were last determined.
    pub checks: Vec<CheckKnown>,
    /// What contradicts itself in its entries, in words; what was then left out.
    pub doubts: Vec<String>,
}

/// Where a joint's zero and µs/degree come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Source {
    /// They are not both known.
    #[default]
    Nothing,
    /// Taken over from a file without a logbook.
    TakenOver,
    /// A person typed them, at least one of them.
    Typed,
    /// A straight line through marks, or a zero from one mark and a µs/degree known before.
    Line,
    /// A fit with stated priors, play and curvature.
    Fit,
}

/// A mark that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkKnown {
    /// Its entry.
    pub n: u64,
    /// The commanded pulse, µs.
    pub pulse_us: f64,
    /// The side that it came from.
    pub from: Option<Side>,
    /// The angle, degrees.
    pub angle_deg: f64,
    /// Which placing of the gauge.
    pub placing: Option<u64>,
    /// What the reading is good for.
    pub by: MarkKind,
}

/// What is known of one end.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EndKnown {
    /// Every find that counts, the oldest first.
    pub finds: Vec<EndFind>,
    /// The outermost pulse to which a peck moved freely, µs.
    pub free_to: Option<f64>,
    /// Where it was taken to be by hand, when no find replaced that, µs.
    pub taken_us: Option<f64>,
    /// The end, µs: the mean of the finds.
    pub at_us: Option<f64>,
    /// The ± of it, µs; two finds at least.
    pub spread_us: Option<f64>,
}

/// One find of an end.
#[derive(Debug, Clone, PartialEq)]
pub struct EndFind {
    /// Its entry.
    pub n: u64,
    /// The pulse, µs.
    pub pulse_us: f64,
    /// How it was found.
    pub by: EndKind,
    /// What it was.
    pub why: Option<Why>,
    /// Where the other joints stood.
    pub others: Vec<Neighbour>,
}

/// A check.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckKnown {
    /// Its entry.
    pub n: u64,
    /// When, RFC 3339.
    pub at: String,
    /// The commanded pulse, µs.
    pub pulse_us: f64,
    /// The side that it came from.
    pub from: Option<Side>,
    /// The angle that was read, degrees.
    pub angle_deg: f64,
}

/// What servos and horns have alike.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ServoKindKnown {
    /// The last entry that says something of it.
    pub n: u64,
    /// Teeth of the spline.
    pub teeth: Option<u32>,
    /// Arms of the horn.
    pub arms: Option<u32>,
    /// How far it turns to each side of its centre, degrees.
    pub travel_deg: Option<f64>,
    /// There is no number for all: how far each servo turns is measured.
    pub measured: bool,
}

/// How a horn was put on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HornKnown {
    /// Its entry.
    pub n: u64,
    /// Teeth of the spline.
    pub teeth: u32,
    /// Arms of the horn.
    pub arms: u32,
    /// The angle at which it came out, degrees.
    pub came_out_deg: f64,
    /// By how many teeth it was turned.
    pub turn_teeth: i32,
    /// Which arm was taken.
    pub arm: u32,
    /// What remains at the worst side, degrees.
    pub margin_deg: f64,
    /// What remains at smaller and at larger angles, degrees, where it was written down.
    pub margins_deg: Option<(f64, f64)>,
}

impl HornKnown {
    /// The seat that was chosen.
    pub fn seat(&self) -> horns::Seat {
        let share = |n: f64, of: u32| 360.0 * n / f64::from(of);
        let turned =
            share(f64::from(self.turn_teeth), self.teeth) + share(f64::from(self.arm), self.arms);
        horns::Seat {
            turn_teeth: self.turn_teeth,
            arm: self.arm,
            // A full turn changes nothing.
            middle_deg: (self.came_out_deg + turned + 180.0).rem_euclid(360.0) - 180.0,
            margin_deg: self
                .margins_deg
                .unwrap_or((self.margin_deg, self.margin_deg)),
        }
    }
}

/// The servo supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyKnown {
    /// The servos have a source of their own, if that was said.
    pub own_source: Option<bool>,
    /// What it is set to, V.
    pub volts: f64,
    /// Its current limit, A.
    pub limit_amps: f64,
    /// One servo's stall current, A.
    pub stall_amps: Option<f64>,
    /// The builder's own reading of the display, V.
    pub display_volts: Option<f64>,
    /// The same, A.
    pub display_amps: Option<f64>,
    /// Board and supply share their ground.
    pub common_ground: bool,
    /// Every plug's ground side was looked at.
    pub plugs_checked: bool,
}

/// One answer about the servo supply: yes or no, a number, or neither when it is not known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SupplySaid {
    /// Yes or no.
    pub yes: Option<bool>,
    /// The number, V or A.
    pub value: Option<f64>,
}

/// A servo with a number.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ServoKnown {
    /// What its last test said.
    pub verdict: Option<Verdict>,
    /// Where it sits.
    pub joint: Option<JointName>,
    /// What else was seen.
    pub note: Option<String>,
}

/// What a pin was found to drive.
#[derive(Debug, Clone, PartialEq)]
pub struct PlugFound {
    /// The entry that says so.
    pub n: u64,
    /// The joint; nothing moved if there is none.
    pub joint: Option<JointName>,
    /// Which way it turns when the pulse grows.
    pub way: Option<Way>,
    /// What else moved.
    pub also: Vec<JointName>,
    /// Why nothing moved, as far as the builder knows.
    pub why: Option<Dead>,
}

/// A placing of a gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacingKnown {
    /// The joints that it is read for.
    pub joints: Vec<JointName>,
    /// What was placed.
    pub tool: Tool,
}

impl Knowledge {
    /// What is known of the joint at that place.
    pub fn joint(&self, at: JointRef) -> Option<&JointKnown> {
        self.joints.get(at.leg * 3 + at.kind.index())
    }

    /// What is known of the joint of that name.
    pub fn named(&self, name: &JointName) -> Option<&JointKnown> {
        self.joints.iter().find(|it| it.name == *name)
    }

    /// A number for the next placing.
    pub fn next_placing(&self) -> u64 {
        self.placings.keys().last().map_or(1, |last| last + 1)
    }

    /// The joint's line in the calibration.
    pub fn calibrated(&self, at: JointRef) -> Option<&Joint> {
        self.robot.joint(at)
    }
}

impl JointKnown {
    /// One of its ends.
    pub fn end(&self, end: End) -> &EndKnown {
        &self.ends[end.index()]
    }

    /// Nothing but the plan is known of it.
    pub(super) fn new(name: JointName, at: JointRef, planned_pin: Option<Pin>) -> JointKnown {
        JointKnown {
            name,
            at,
            planned_pin,
            found_pin: None,
            way: None,
            servo: None,
            replaced: None,
            horn_anew: false,
            stale: Vec::new(),
            horn: None,
            horn_angles: Vec::new(),
            horn_ends: [None; 2],
            leg_off: false,
            bounds: None,
            marks: Vec::new(),
            expected: marks::Settings::new(Pulse::CENTRE.us(), 0.0, 1.0),
            fit: None,
            turned: None,
            source: Source::Nothing,
            ends: Default::default(),
            margin_us: None,
            checks: Vec::new(),
            doubts: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seat_by_an_arm_on_the_other_side_stands_where_it_is_seen_and_not_a_turn_on() {
        let horn = HornKnown {
            n: 3,
            teeth: 25,
            arms: 4,
            came_out_deg: 10.0,
            turn_teeth: 5,
            arm: 3,
            margin_deg: 20.0,
            margins_deg: None,
        };
        // 10 + 5 · 14.4 + 3 · 90 = 352°.
        assert!((horn.seat().middle_deg + 8.0).abs() < 1e-9);
    }
}
