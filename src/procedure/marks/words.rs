//! What the taking of marks says at each of its steps.

use super::{
    ANGLES_DEG, COMMON_US_PER_DEG, MarksMind, State, TAKE_UP_US, TOOLS, kind, not_told, with_room,
};
use crate::calibration::logbook::{MarkKind, Side, Tool};
use crate::estimate::marks::{Fit, Unknown};
use crate::procedure::hand::Hand;
use crate::procedure::seat::{Seat, all_have, say_left_out};
use crate::procedure::words::{Detail, MarkRow, Picture, Step, Wants, joints_have};
use crate::units::Pulse;

/// So much less than they want is not worth a word, degrees: what is not known of µs/degree makes as much.
const SHORT_DEG: f64 = 4.0;

type Words = (&'static str, String, String, Wants);

impl MarksMind {
    pub(super) fn say(&self, hand: &Hand) -> Step {
        let Some(seat) = self.seats.get(self.at) else {
            let mut step = Step::over(
                "Marks",
                "MARKS ARE DONE",
                &all_have(self.only.as_ref(), "marks"),
            );
            if self.without_bounds > 0 {
                step.wrong = true;
                step.next = "Enter leaves: find rough bounds first, marks need room.".to_string();
                step.lines = vec![format!(
                    "{} no rough bounds",
                    joints_have(self.without_bounds)
                )];
            }
            say_left_out(&mut step, self.left_out);
            return step;
        };
        let (big, next, second, wants) = self.words(seat, hand);
        let target = self.target().filter(|_| self.state == State::Asking);
        let by = self.tool.map(kind).map(by_word);
        let title = match (by, &self.state) {
            (Some(by), State::Asking | State::More(_)) => {
                // The kind and the placing take the place of the servo's number.
                let pin = seat.pin.map_or(String::new(), |pin| format!(", pin {pin}"));
                format!(
                    "Marks ── {}{pin}, {by}, placing {}",
                    seat.name, self.placing
                )
            }
            _ => format!("Marks ── {}", seat.title()),
        };
        let (rows, mut lines) = table(seat, self.fit.as_ref(), target);
        if matches!(self.state, State::Ready | State::More(_)) {
            lines.splice(0..0, short_room(seat));
        }
        Step {
            title,
            big,
            next,
            second,
            wrong: false,
            wants,
            picture: Picture {
                joint: Some(seat.at),
                pin: seat.pin,
                pulse: seat.pin.and_then(|pin| hand.pulse(pin)),
                ghost: target.map(|(pulse, _)| pulse),
                confirmed: Some(seat.ground),
                guard: seat.pin.and_then(|pin| hand.guard(pin)),
                detail: Detail::Marks(rows),
            },
            lines,
        }
    }

    fn words(&self, seat: &Seat, hand: &Hand) -> Words {
        let name = &seat.name;
        match &self.state {
            State::Ready => (
                "HANDS AWAY",
                format!("Enter: wake {name} at mid-travel, for its marks. Hands away first."),
                "It jumps to 1500 µs at full speed, after a countdown. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Choose => (
                "CHOOSE THE GAUGE",
                "Choose what the angle is read with, then Enter.".to_string(),
                "It stays at 1500 µs. Nothing moves until the gauge is in place. Space stops."
                    .to_string(),
                Wants::Pick {
                    options: TOOLS.map(tool_words).map(str::to_string).to_vec(),
                    start: self
                        .tool
                        .and_then(|t| TOOLS.iter().position(|it| *it == t))
                        .unwrap_or(0),
                },
            ),
            State::Place => (
                "PLACE THE GAUGE",
                format!(
                    "{} Then hands away, and Enter.",
                    self.tool.map_or("", place_words)
                ),
                match self.target() {
                    Some(target) => format!(
                        "After a countdown {name} moves {}. Space stops.",
                        leads(seat, hand, target)
                    ),
                    None => "Nothing moves yet. Space stops.".to_string(),
                },
                Wants::Enter,
            ),
            State::Asking if hand.is_busy() => (
                "HANDS AWAY",
                format!("Wait: {name} moves to {}.", self.target_words()),
                "Inside its bounds, with a take-up move at the end. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Asking if self.tool == Some(Tool::Edge) => (
                "EDGE ON BOTH SCREWS",
                "Bring the edge onto both screw heads with ← →, then Enter: that is 0°."
                    .to_string(),
                format!(
                    "→ moves it {} by {} µs, with take-up. Space stops.",
                    seat.moves(true),
                    self.step_us
                ),
                Wants::Nudge,
            ),
            State::Asking => (
                "TYPE THE ANGLE",
                format!(
                    "Type the gauge's angle, then Enter. Larger is {}.",
                    larger(seat)
                ),
                match (self.target(), self.targets.get(1)) {
                    (Some((pulse, _)), Some(next)) => format!(
                        "At {pulse} µs. Enter: it moves {}. Space stops.",
                        leads(seat, hand, with_room(seat, *next))
                    ),
                    _ => format!("At {}. It stays there. Space stops.", self.target_words()),
                },
                Wants::Value {
                    unit: "°",
                    start: None,
                    low: -180.0,
                    high: 180.0,
                },
            ),
            State::More(_) if self.other_gauge() == Some(Unknown::Middle) => (
                "NO ZERO YET",
                "Enter: take another gauge, for the zero. n without. a the round again."
                    .to_string(),
                "An inclinometer tells µs/° alone. Nothing moves yet. Space stops.".to_string(),
                Wants::YesNo,
            ),
            State::More(_) if self.other_gauge().is_some() => (
                "NO SCALE YET",
                "Enter: take a gauge for µs/°, marks at several angles. n without.".to_string(),
                "An edge tells one angle alone. Nothing moves yet. Space stops.".to_string(),
                Wants::YesNo,
            ),
            State::More(_) if self.slip().is_some() => {
                let (index, off) = self.slip().unwrap_or_default();
                let mark = index + 1;
                (
                    "MISTYPED?",
                    format!(
                        "Mark {mark} looks {off:.1}° off: Backspace goes back to it. n keeps it."
                    ),
                    "Enter: another mark there, to see which is wrong. It moves then. Space stops."
                        .to_string(),
                    Wants::YesNo,
                )
            }
            State::More(advice) => match advice.best.filter(|it| it.helps()) {
                Some(best) => (
                    "ANOTHER MARK?",
                    format!(
                        "Enter: another mark at {} µs. n enough. a the whole round again.",
                        best.pulse_us.round()
                    ),
                    format!(
                        "It would give ± {:.1} → {:.1}° over the travel. It moves then. Space stops.",
                        best.travel_deg.now, best.travel_deg.then
                    ),
                    Wants::YesNo,
                ),
                None => (
                    "MARKS ARE ENOUGH",
                    "Enter goes on: another mark would hardly help. a the whole round again."
                        .to_string(),
                    "It goes back to its mid-travel and limp: hands away first. Space stops."
                        .to_string(),
                    Wants::YesNo,
                ),
            },
            State::Over => ("MARKS ARE DONE", String::new(), String::new(), Wants::Over),
        }
    }

    fn target_words(&self) -> String {
        match self.target() {
            Some((pulse, Side::Below)) => format!("{pulse} µs, reached from below"),
            Some((pulse, Side::Above)) => format!("{pulse} µs, reached from above"),
            None => String::new(),
        }
    }
}

/// Which way it sets out to a target, and how it arrives: `up, to 1500 µs from below`.
fn leads(seat: &Seat, hand: &Hand, (pulse, side): (Pulse, Side)) -> String {
    let arrives = format!("to {pulse} µs from {}", side.word());
    let here = seat.pin.and_then(|pin| hand.pulse(pin));
    match here.filter(|_| seat.way.is_some()) {
        Some(here) => {
            let start_us = pulse.us() - side.sign() * TAKE_UP_US;
            format!("{}, {arrives}", seat.moves(start_us > here.us()))
        }
        None => arrives,
    }
}

fn by_word(by: MarkKind) -> &'static str {
    match by {
        MarkKind::Null => "null",
        MarkKind::Absolute => "absolute",
        MarkKind::Difference => "difference",
    }
}

fn tool_words(tool: Tool) -> &'static str {
    match tool {
        Tool::Edge => "an edge on two screw heads: zero only",
        Tool::Card => "printed card with pivot holes",
        Tool::Gauge => "protractor or another gauge",
        Tool::Inclinometer => "inclinometer left in place: no zero",
    }
}

fn place_words(tool: Tool) -> &'static str {
    match tool {
        Tool::Edge => "Lay the edge at the two screw heads.",
        Tool::Card => "Put the card on the joint's pivot.",
        Tool::Gauge => "Put the gauge to the joint.",
        Tool::Inclinometer => "Fix the inclinometer to the link.",
    }
}

/// Says so when bounds leave less than the marks want, to either side of mid-travel.
fn short_room(seat: &Seat) -> Vec<String> {
    let scale = seat
        .line
        .map_or(COMMON_US_PER_DEG, |(_, scale)| scale.abs());
    let room = |edge: Pulse| ((edge.us() - Pulse::CENTRE.us()).abs() - TAKE_UP_US).max(0.0);
    let (low, high) = (room(seat.ground.0) / scale, room(seat.ground.1) / scale);
    let wanted = ANGLES_DEG[2] - SHORT_DEG;
    if low >= wanted && high >= wanted {
        return Vec::new();
    }
    // One line: more is cut on the smallest screen.
    vec![format!(
        "! room \u{2212}{low:.0}° to +{high:.0}°, wants ±45°"
    )]
}

/// The positive way, as it is seen.
fn larger(seat: &Seat) -> &'static str {
    crate::procedure::seat::direction(seat.name.kind, seat.yaw_deg, true)
}

/// The marks that do not agree with the others, all of them named.
fn doubts(fit: &Fit) -> Option<String> {
    let doubted: Vec<usize> = fit.doubted().collect();
    match doubted[..] {
        [] => None,
        [one] => {
            let off = fit.residuals[one].off_by_deg;
            Some(format!("! mark {} is {off:.1}° off: typing?", one + 1))
        }
        // So many are no slips.
        [_, _, _, _, _, ..] => Some(format!(
            "! {} marks are off: the round again",
            doubted.len()
        )),
        _ => {
            let numbers: Vec<String> = doubted.iter().map(|it| (it + 1).to_string()).collect();
            Some(format!("! marks {} are off: typing?", numbers.join(", ")))
        }
    }
}

/// The rows of the table, and what the fit says beside it.
fn table(
    seat: &Seat,
    fit: Option<&Fit>,
    target: Option<(Pulse, Side)>,
) -> (Vec<MarkRow>, Vec<String>) {
    let off = |index: usize| Some(fit?.residuals.get(index)?.deg);
    let mut rows: Vec<MarkRow> = seat
        .marks
        .iter()
        .enumerate()
        .filter_map(|(index, mark)| {
            Some(MarkRow {
                pulse: Pulse::from_us(mark.pulse_us)?,
                from: mark.from,
                angle_deg: Some(mark.angle_deg),
                off_deg: off(index),
            })
        })
        .collect();
    rows.extend(target.map(|(pulse, side)| MarkRow {
        pulse,
        from: Some(side),
        angle_deg: None,
        off_deg: None,
    }));
    let mut lines = Vec::new();
    if let Some(fit) = fit.filter(|_| seat.marks.len() >= 4) {
        let (zero, scale) = (fit.zero_us, fit.us_per_deg);
        let told = |what| !not_told(fit).any(|it| it == what);
        lines.push(if told(Unknown::Middle) {
            // As the travel scale below writes them.
            let [us, wide] = [zero.value, zero.half_width()].map(|it| (it * 2.0).round() / 2.0);
            format!("zero {us} ± {wide} µs")
        } else {
            "zero not told".to_string()
        });
        lines.push(if told(Unknown::Scale) {
            format!("{:.2} ± {:.2} µs/°", scale.value, scale.half_width())
        } else {
            "not told: µs/°".to_string()
        });
        lines.push(format!(
            "play {:.1} ± {:.1}°",
            fit.play_deg().value,
            fit.play_deg().half_width()
        ));
        if fit.bent {
            lines.push(format!(
                "bent by {:.1} ± {:.1}° at ±60°",
                fit.bend_deg.value,
                fit.bend_deg.half_width()
            ));
        }
        lines.extend(doubts(fit));
    }
    if let Some(what) = fit.and_then(|it| not_told(it).next()) {
        lines.push(
            match what {
                Unknown::Middle => "! zero not told: a gauge or an edge",
                Unknown::Scale => "! scale not told: angles 40° apart",
                _ => "! play not told: an angle, both sides",
            }
            .to_string(),
        );
    }
    (rows, lines)
}
