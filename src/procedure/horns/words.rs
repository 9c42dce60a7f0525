//! What the advice on horns says at each of its steps.

use super::{HornsMind, Lacks, State};
use crate::calibration::logbook::End;
use crate::calibration::model::JointKind;
use crate::estimate::horns::{ARMS, Advice, Seat as HornSeat, TEETH};
use crate::procedure::hand::Hand;
use crate::procedure::seat::{Seat, direction};
use crate::procedure::words::{Wants, wrapped};

impl HornsMind {
    pub(super) fn words(&self, seat: &Seat, hand: &Hand) -> (&'static str, String, String, Wants) {
        let name = &seat.name;
        let still = "Nothing moves yet. Space stops.".to_string();
        match &self.state {
            State::On => (
                "HORNS ON ALREADY?",
                "Choose whether the horns are still to go on, then Enter. It is asked once."
                    .to_string(),
                still,
                Wants::Pick {
                    options: [
                        "they go on now, or may still be turned",
                        "the robot is built: they stay as they are",
                    ]
                    .map(str::to_string)
                    .to_vec(),
                    start: 0,
                },
            ),
            State::NeededFrom => (
                "SMALLEST ANGLE?",
                format!("Type the smallest angle that {name} needs when it walks, then Enter."),
                format!(
                    "Smaller is {}; 0° is {}. Nothing moves. Space stops.",
                    direction(name.kind, seat.yaw_deg, false),
                    zero(name.kind)
                ),
                self.angle(seat, -180.0, |it| it.0),
            ),
            State::NeededTo(low) => (
                "LARGEST ANGLE?",
                format!("Type the largest angle that {name} needs when it walks, then Enter."),
                format!(
                    "Larger is {}; 0° is {}. Nothing moves. Space stops.",
                    direction(name.kind, seat.yaw_deg, true),
                    zero(name.kind)
                ),
                // At least something lies between.
                self.angle(seat, low + 1.0, |it| it.1),
            ),
            State::Servo => (
                "WHICH SERVO?",
                format!("Type the number on the sticker of {name}'s servo, then Enter."),
                "No sticker? Write one now: any short name will do. Space stops.".to_string(),
                Wants::Text {
                    start: String::new(),
                },
            ),
            State::Teeth => (
                "COUNT THE TEETH",
                "Choose the teeth of the spline, then Enter; a common one has 25.".to_string(),
                still,
                pick(&TEETH, self.teeth, "teeth"),
            ),
            State::Arms => (
                "COUNT THE ARMS",
                "Choose the arms of the horn that the leg can be screwed to, then Enter."
                    .to_string(),
                still,
                pick(&ARMS, self.arms, "arms"),
            ),
            State::OneOrEach => (
                "HOW FAR DOES IT TURN?",
                "Choose how far a servo turns is to be known, then Enter.".to_string(),
                "The two sides of a servo may differ by some degrees. Space stops.".to_string(),
                Wants::Pick {
                    options: [
                        "one number for all servos, the same to both sides",
                        "measure each servo, its leg unscrewed from the horn",
                    ]
                    .map(str::to_string)
                    .to_vec(),
                    start: usize::from(self.measured),
                },
            ),
            State::Travel => (
                "TYPE ITS TRAVEL",
                "Type how far the servo turns to each side of its centre, then Enter.".to_string(),
                "90° is common; tell less if its test showed less. Space stops.".to_string(),
                Wants::Value {
                    unit: "°",
                    start: Some(self.travel_deg),
                    low: 20.0,
                    high: 180.0,
                },
            ),
            State::Ready => (
                "HANDS AWAY",
                format!("Enter: wake {name} at its mid-travel. Horn on, screw out, hands away."),
                "It jumps to 1500 µs at full speed, after a countdown. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Angle if hand.is_busy() => (
                "HANDS AWAY",
                format!("Wait: {name} goes to its mid-travel, 1500 µs."),
                "If another joint jumps: Esc, and find the plugs first. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Angle => (
                match seat.horn_angles.is_empty() {
                    true => "TYPE THE ANGLE",
                    false => "READ IT AGAIN",
                },
                match seat.horn_angles.len() {
                    0 => format!("Type the angle at which {name} came out, then Enter."),
                    1 => "Place the gauge anew, type what it says now, then Enter.".to_string(),
                    _ => "They differ much. Place the gauge once more, type it, then Enter."
                        .to_string(),
                },
                format!(
                    "Larger is {}. If another joint jumped: Esc, plugs first. Space stops.",
                    direction(name.kind, seat.yaw_deg, true)
                ),
                Wants::Value {
                    unit: "°",
                    start: None,
                    low: -180.0,
                    high: 180.0,
                },
            ),
            State::Unscrew => (
                "UNSCREW THE LEG",
                format!("Take the leg of {name} off its horn; the horn stays. Choose, Enter."),
                match self.lacks() {
                    Lacks::End(end) => format!(
                        "Its bare arm then turns {}, after a countdown. Space stops.",
                        seat.moves(end == End::Far)
                    ),
                    _ => "Its bare arm then goes back to mid-travel. Space stops.".to_string(),
                },
                Wants::Pick {
                    options: ["the leg is on it", "the leg is off, and hands are away"]
                        .map(str::to_string)
                        .to_vec(),
                    start: 0,
                },
            ),
            State::Lead(lead) if !lead.is_under_way() => (
                "HANDS AWAY",
                format!("Wait: the bare arm of {name} wakes, and turns slowly outward."),
                "If the leg or another joint moves: Space stops, and the plugs first.".to_string(),
                Wants::Wait,
            ),
            State::Lead(lead) => (
                "n WHEN IT STOPS",
                "n as soon as the bare arm turns no farther, or hums: it goes limp there."
                    .to_string(),
                format!(
                    "It turns {}, slowly. Space stops.",
                    seat.moves(lead.toward == End::Far)
                ),
                Wants::YesNo,
            ),
            State::Turned(_) => (
                "DID IT TURN ON?",
                "Did the bare arm turn on to the last? Enter yes, and on. n it has stopped."
                    .to_string(),
                "It is limp. With Enter it wakes where it is, hands away. Space stops.".to_string(),
                Wants::YesNo,
            ),
            State::AtEnd { .. } if hand.is_busy() => (
                "WAIT",
                format!("Wait: the bare arm of {name} goes limp where it is."),
                "It is at the servo's own end. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::AtEnd { toward, .. } => {
                let (low, high) = self.end_range(*toward);
                (
                    "TYPE THE ANGLE",
                    "Type the angle that the bare arm shows now, then Enter. a: lead it again."
                        .to_string(),
                    match seat.horn_ends[1 - toward.index()] {
                        None => "It is limp. With Enter it turns the other way. Hands away. Space stops.",
                        Some(_) => "It is limp. With Enter it goes to mid-travel. Hands away. Space stops.",
                    }
                    .to_string(),
                    Wants::Value {
                        unit: "°",
                        start: None,
                        low,
                        high,
                    },
                )
            }
            State::Back => (
                "HANDS AWAY",
                format!("Wait: the bare arm of {name} goes back to its mid-travel, and limp."),
                "Nothing hangs on it. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Choose { advice, .. } => (
                if advice.may_stay() {
                    "HORN MAY STAY"
                } else {
                    "TURN THE HORN"
                },
                match advice.fits() {
                    true if advice.also.is_empty() => {
                        "Choose how the horn is to sit, then Enter. The best one is first."
                            .to_string()
                    }
                    true => "Choose how the horn is to sit, then Enter. Several may be as good."
                        .to_string(),
                    false => format!(
                        "No tooth fits: the best is short by {:.0}°. Choose, then Enter.",
                        -advice.best.worst_deg()
                    ),
                },
                "The joint is limp. Nothing moves while the horn is off. Space stops.".to_string(),
                Wants::Pick {
                    options: options(advice).iter().map(|it| option(it, seat)).collect(),
                    start: 0,
                },
            ),
            State::Turn(it) if (it.turn_teeth, it.arm) == (0, 0) => (
                "SCREW THE LEG ON",
                format!("Screw {name}'s leg to the same arm of its horn again, then Enter."),
                "All is limp. The horn stays on its tooth. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Turn(it) => (
                "TURN THE HORN",
                format!(
                    "Turn the horn: {}. Screw {} on, then Enter.",
                    short(it, seat),
                    if seat.leg_off { "it and the leg" } else { "it" }
                ),
                format!(
                    "All is limp. Arms are counted {} from the leg's own. Space stops.",
                    direction(name.kind, seat.yaw_deg, true)
                ),
                Wants::Enter,
            ),
            State::Over | State::Stay => {
                ("HORNS ARE DONE", String::new(), String::new(), Wants::Over)
            }
        }
    }
}

impl HornsMind {
    /// A field for an angle that is needed; what was said first of this kind of joint is offered.
    fn angle(&self, seat: &Seat, low: f64, which: fn((f64, f64)) -> f64) -> Wants {
        let said = self.needs[seat.at.kind.index()].map(which);
        Wants::Value {
            unit: "°",
            start: said.filter(|it| *it >= low),
            low: low.min(180.0),
            high: 180.0,
        }
    }

    /// What stands beside the question for the needed travel.
    pub(super) fn needed_lines(&self, seat: &Seat) -> Vec<String> {
        let mut lines = Vec::new();
        if let State::NeededTo(low) = self.state {
            lines.push(format!("from {low}°"));
        }
        lines.extend(wrapped(match seat.name.kind {
            JointKind::Coxa => "the file has no needed travel. A common walker: coxa −40 to 40",
            JointKind::Femur => "the file has no needed travel. A common walker: femur −50 to 60",
            JointKind::Tibia => "the file has no needed travel. A common walker: tibia −125 to −40",
        }));
        lines
    }
}

/// Where a joint's angle is 0°, as a person sees it.
fn zero(kind: JointKind) -> &'static str {
    match kind {
        JointKind::Coxa => "straight out",
        JointKind::Femur => "level",
        JointKind::Tibia => "in line with the femur",
    }
}

fn pick(of: &[u32], now: u32, word: &str) -> Wants {
    Wants::Pick {
        options: of
            .iter()
            .map(|n| match n {
                1 => format!("1 {}", word.trim_end_matches('s')),
                n => format!("{n} {word}"),
            })
            .collect(),
        start: of.iter().position(|n| *n == now).unwrap_or(0),
    }
}

/// The best seat and those that may be as good, and as it is now.
pub(super) fn options(advice: &Advice) -> Vec<HornSeat> {
    let mut all = vec![advice.best];
    all.extend(&advice.also);
    if !all.contains(&advice.now) {
        all.push(advice.now);
    }
    all
}

/// `1 tooth down, arm 2`: what the hands do, by the way the foot goes.
fn short(it: &HornSeat, seat: &Seat) -> String {
    let way = direction(seat.name.kind, seat.yaw_deg, it.turn_teeth > 0);
    let turn = match it.turn_teeth.abs() {
        0 => "leave the tooth".to_string(),
        1 => format!("1 tooth {way}"),
        n => format!("{n} teeth {way}"),
    };
    match it.arm {
        0 => turn,
        n => format!("{turn}, arm {n}"),
    }
}

fn option(it: &HornSeat, seat: &Seat) -> String {
    let side = |deg: f64| match deg {
        deg if deg < 0.0 => format!("{:.1}° short", -deg),
        deg if deg < 99.95 => format!("{deg:.1}° left"),
        deg => format!("{deg:.0}° left"),
    };
    let (below, above) = it.margin_deg;
    format!(
        "{}: {} below, {} above",
        short(it, seat),
        side(below),
        side(above)
    )
}
