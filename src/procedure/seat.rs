//! One joint as a machine starts from it: what is known, and the words for which way it will move.

use super::words::{Scope, Step, wrapped};
use crate::calibration::logbook::{End, JointName, MarkKind, Part, Side, Way, What, Why};
use crate::calibration::model::{Joint, JointKind, JointRef, Span};
use crate::estimate::Knowledge;
use crate::estimate::horns::Seat as HornSeat;
use crate::estimate::knowledge::JointKnown;
use crate::estimate::marks::Settings;
use crate::units::{Pin, Pulse};

/// What the driver knows beside the logbook.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Bench {
    /// The pins that are awake, and their commanded pulses.
    pub awake: Vec<(Pin, Pulse)>,
    /// A current sensor on an analog input, for the board's own trip.
    pub sensor: Option<Sensor>,
    /// The day, `2026-03-14`: a check that was left is gone on with on the same day only.
    pub today: String,
}

/// A current sensor, and when the board's trip is to act.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    /// Its input, 0-7.
    pub input: u8,
    /// The threshold.
    pub mv: u32,
    /// How long the input is to be at least that high.
    pub ms: u32,
}

/// One recorded mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    pub(super) pulse_us: f64,
    pub(super) from: Option<Side>,
    pub(super) angle_deg: f64,
    pub(super) placing: Option<u64>,
    pub(super) by: MarkKind,
}

/// One joint and what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seat {
    pub(super) at: JointRef,
    pub(super) name: JointName,
    /// Which way its leg points, degrees.
    pub(super) yaw_deg: f64,
    /// The pin that drives it: as found, or as planned until then.
    pub(super) pin: Option<Pin>,
    pub(super) way: Option<Way>,
    pub(super) servo: Option<String>,
    pub(super) needed_deg: Option<(f64, f64)>,
    /// Where it is known to move freely: bounds, free pecks, limits.
    pub(super) ground: Span,
    /// Rough bounds were found.
    pub(super) bounded: bool,
    pub(super) marks: Vec<Seen>,
    /// What is expected of it before its marks are looked at.
    pub(super) expected: Settings,
    /// Zero, µs, and µs/degree.
    pub(super) line: Option<(f64, f64)>,
    /// The full play, degrees.
    pub(super) play_deg: Option<f64>,
    /// The ends found so far, µs, near and far.
    pub(super) ends: [Vec<f64>; 2],
    /// What the last find of an end said that it was.
    pub(super) whys: [Option<Why>; 2],
    pub(super) limits: Option<Span>,
    pub(super) guard: Option<Span>,
    /// The seat that was chosen for it last.
    pub(super) horn: Option<HornSeat>,
    /// Its leg is off the horn.
    pub(super) leg_off: bool,
    /// At which angles its horn was read to come out so far.
    pub(super) horn_angles: Vec<f64>,
    /// And where its bare arm stood at the near and the far end of the servo's own travel.
    pub(super) horn_ends: [Option<f64>; 2],
}

/// What limits keep from an end if the builder does not say otherwise, µs: about 3.5°.
pub(super) const MARGIN_US: f64 = 36.0;

/// The joints of a scope as they are known.
pub(super) fn seats(knowledge: &Knowledge, scope: Scope) -> Vec<Seat> {
    let seat = |at: JointRef| {
        let (known, joint) = (knowledge.joint(at)?, knowledge.robot.joint(at)?);
        Some(Seat::of(
            known,
            joint,
            knowledge.robot.legs[at.leg].mount.yaw_deg,
        ))
    };
    let joints = scope.joints(&knowledge.robot);
    joints.into_iter().filter_map(seat).collect()
}

impl Seat {
    fn of(known: &JointKnown, joint: &Joint, yaw_deg: f64) -> Seat {
        let line = joint.zero.as_ref().zip(joint.scale.as_ref());
        let finds = |end: End| known.end(end).finds.iter().map(|it| it.pulse_us).collect();
        let why = |end: End| known.end(end).finds.iter().rev().find_map(|it| it.why);
        Seat {
            at: known.at,
            name: known.name.clone(),
            yaw_deg,
            pin: known.found_pin.or(joint.pin).or(known.planned_pin),
            way: known.way,
            servo: known.servo.clone(),
            needed_deg: joint.needed_deg,
            ground: ground(known, joint),
            bounded: known.bounds.is_some(),
            marks: known
                .marks
                .iter()
                .map(|it| Seen {
                    pulse_us: it.pulse_us,
                    from: it.from,
                    angle_deg: it.angle_deg,
                    placing: it.placing,
                    by: it.by,
                })
                .collect(),
            expected: known.expected,
            line: line.map(|(zero, scale)| (zero.value, scale.value)),
            play_deg: joint.play_deg.as_ref().map(|it| it.value),
            ends: [finds(End::Near), finds(End::Far)],
            whys: [why(End::Near), why(End::Far)],
            limits: joint.limits,
            guard: joint.guard,
            horn: known.horn.map(|it| it.seat()),
            leg_off: known.leg_off,
            horn_angles: known.horn_angles.clone(),
            horn_ends: known.horn_ends,
        }
    }

    /// `LF femur, pin 23`.
    pub(super) fn title(&self) -> String {
        match (self.pin, &self.servo) {
            (Some(pin), Some(servo)) => format!("{}, pin {pin}, servo {servo}", self.name),
            (Some(pin), None) => format!("{}, pin {pin}", self.name),
            (None, _) => self.name.to_string(),
        }
    }

    /// How far the guard of the file stands outside the ground, µs; nothing where it does not.
    pub(super) fn room(&self) -> (f64, f64) {
        self.guard.map_or((0.0, 0.0), |(low, high)| {
            let (near, far) = (
                self.ground.0.us() - low.us(),
                high.us() - self.ground.1.us(),
            );
            (near.max(0.0), far.max(0.0))
        })
    }

    /// What was found of it from its horn outward begins anew: bounds, marks and ends.
    pub(super) fn anew(&self) -> Vec<What> {
        let parts = [
            (Part::Bounds, self.bounded),
            (Part::Marks, !self.marks.is_empty() || self.line.is_some()),
            (
                Part::Ends,
                // Pecks that were called free count as well, where bounds were left halfway.
                self.limits.is_some()
                    || self.ends.iter().any(|it| !it.is_empty())
                    || (!self.bounded && self.ground != (Pulse::CENTRE, Pulse::CENTRE)),
            ),
        ];
        let over = |part| What::StartOver {
            joint: self.name.clone(),
            part,
        };
        let known = parts.into_iter().filter(|(_, known)| *known);
        known.map(|(part, _)| over(part)).collect()
    }

    /// Its horn slipped: that is looked at anew, and all that was found from it outward.
    pub(super) fn slipped(&self) -> Vec<What> {
        let horn = What::StartOver {
            joint: self.name.clone(),
            part: Part::Horn,
        };
        let rest = self.anew();
        std::iter::once(horn).chain(rest).collect()
    }

    /// Which way the joint moves when the pulse grows or shrinks.
    pub(super) fn moves(&self, larger: bool) -> &'static str {
        match self.way {
            None if larger => "to larger pulses",
            None => "to smaller pulses",
            Some(way) => direction(
                self.name.kind,
                self.yaw_deg,
                (way == Way::Positive) == larger,
            ),
        }
    }

    /// The same of a peck, which comes back: `rearward`, since "pecks back" would be the way home.
    pub(super) fn pecks(&self, larger: bool) -> &'static str {
        match self.moves(larger) {
            "back" => "rearward",
            way => way,
        }
    }

    /// Where it jumps when it wakes; from there it is led.
    pub(super) fn wakes(&self) -> Pulse {
        Pulse::CENTRE.clamp(self.ground.0, self.ground.1)
    }

    /// The angle that the present line gives a pulse, ` (+11.8°)`; nothing before there is a line.
    pub(super) fn degrees(&self, pulse: Pulse) -> String {
        match self.line {
            Some((zero, scale)) => format!(" ({:+.1}°)", (pulse.us() - zero) / scale),
            None => String::new(),
        }
    }
}

/// Where the joint is known to move freely; the centre alone when nothing is known.
fn ground(known: &JointKnown, joint: &Joint) -> Span {
    if let Some(limits) = joint.limits {
        return limits;
    }
    let us = |us: f64| Pulse::from_us(us.clamp(Pulse::MIN.us(), Pulse::MAX.us()));
    // Ends that were taken over by hand, without bounds: well inside of them.
    let taken = |end: End| {
        let inside = known.end(end).taken_us? - end.sign() * 2.0 * MARGIN_US;
        us(inside)
    };
    let between = taken(End::Near).zip(taken(End::Far)).filter(|(a, b)| a < b);
    let (mut low, mut high) = known
        .bounds
        .or(between)
        .unwrap_or((Pulse::CENTRE, Pulse::CENTRE));
    if let Some(free) = known.end(End::Near).free_to.and_then(us) {
        low = low.min(free);
    }
    if let Some(free) = known.end(End::Far).free_to.and_then(us) {
        high = high.max(free);
    }
    // A peck that was called free a step before an end may have touched it already.
    if let Some(end) = known.end(End::Near).at_us.and_then(|it| us(it + MARGIN_US)) {
        low = low.max(end);
    }
    if let Some(end) = known.end(End::Far).at_us.and_then(|it| us(it - MARGIN_US)) {
        high = high.min(end);
    }
    (low.min(high), high)
}

/// How many joints were left out of the work, and why.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct LeftOut {
    /// No plug is known.
    pub(super) plugs: usize,
    /// Their leg is off its horn.
    pub(super) legs: usize,
}

/// Leaves out the joints for which no plug is known, and those whose leg is off its horn.
pub(super) fn leave_out(seats: &mut Vec<Seat>) -> LeftOut {
    let plugs = seats.extract_if(.., |it| it.pin.is_none()).count();
    let legs = seats.extract_if(.., |it| it.leg_off).count();
    LeftOut { plugs, legs }
}

/// The joint that the work is about, where it is about one alone.
pub(super) fn only_one(seats: &[Seat]) -> Option<JointName> {
    match seats {
        [one] => Some(one.name.clone()),
        _ => None,
    }
}

/// What the last step says of them: `LF femur has its marks`, or of several `every joint here has its marks`.
pub(super) fn all_have(only: Option<&JointName>, what: &str) -> String {
    match only {
        Some(name) => format!("{name} has its {what}"),
        None => format!("every joint here has its {what}"),
    }
}

/// The last step of work in which joints were left out: it says so.
pub(super) fn say_left_out(step: &mut Step, left_out: LeftOut) {
    let mut say = |count: usize, next: &str, why: &str| {
        if count == 0 {
            return;
        }
        let (have, were) = match count {
            1 => ("has", "was"),
            _ => ("have", "were"),
        };
        step.wrong = true;
        step.next = next.to_string();
        step.lines.extend(wrapped(&format!(
            "! {count} of the joints here {have} {why} and {were} left out"
        )));
    };
    let LeftOut { plugs, legs } = left_out;
    say(
        legs,
        "Enter leaves: a leg here is off its horn. Go on with it in Horns first.",
        "a leg that is off its horn",
    );
    say(
        plugs,
        "Enter leaves: find the plugs first, a joint here has none.",
        "no known plug",
    );
}

/// The way that an angle's growth (or its fall) moves the foot, as a person sees it on the robot.
pub fn direction(kind: JointKind, yaw_deg: f64, positive: bool) -> &'static str {
    match (kind, positive) {
        (JointKind::Femur | JointKind::Tibia, true) => "up",
        (JointKind::Femur | JointKind::Tibia, false) => "down",
        (JointKind::Coxa, _) => {
            // The foot's velocity when the coxa turns counter-clockwise seen from above.
            let (y, x) = yaw_deg.to_radians().sin_cos();
            let (forward, left) = if positive { (-y, x) } else { (y, -x) };
            if forward.abs() > 0.3 {
                if forward > 0.0 { "forward" } else { "back" }
            } else if left > 0.0 {
                "left"
            } else {
                "right"
            }
        }
    }
}

#[cfg(test)]
pub(super) mod samples {
    use super::*;

    /// A left front joint on pin 23, at which nothing is known but its plug.
    pub(in super::super) fn seat(kind: JointKind) -> Seat {
        Seat {
            at: JointRef { leg: 0, kind },
            name: JointName::new("LF", kind),
            yaw_deg: 45.0,
            pin: Some(Pin::new(22 + kind.index() as u8).expect("a pin")),
            way: Some(Way::Positive),
            servo: None,
            needed_deg: Some((-50.0, 60.0)),
            ground: (Pulse::CENTRE, Pulse::CENTRE),
            bounded: false,
            marks: Vec::new(),
            expected: Settings::new(1500.0, 0.0, 10.6),
            line: None,
            play_deg: None,
            ends: [Vec::new(), Vec::new()],
            whys: [None, None],
            limits: None,
            guard: None,
            horn: None,
            leg_off: false,
            horn_angles: Vec::new(),
            horn_ends: [None; 2],
        }
    }

    #[test]
    fn a_coxa_s_way_is_said_as_it_is_seen() {
        // Counter-clockwise from above: a left leg's foot goes back, a right one's forward.
        assert_eq!(direction(JointKind::Coxa, 90.0, true), "back");
        assert_eq!(direction(JointKind::Coxa, -90.0, true), "forward");
        assert_eq!(direction(JointKind::Coxa, 0.0, true), "left");
        assert_eq!(direction(JointKind::Coxa, 0.0, false), "right");
        assert_eq!(direction(JointKind::Femur, 90.0, true), "up");
        let mut it = seat(JointKind::Tibia);
        it.way = Some(Way::Negative);
        assert_eq!(it.moves(true), "down");
        it.way = None;
        assert_eq!(it.moves(true), "to larger pulses");
    }
}
