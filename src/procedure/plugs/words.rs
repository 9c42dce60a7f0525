//! What the search for plugs says at each of its steps.

use super::{PlugsMind, Said, State, order};
use crate::calibration::logbook::{Dead, Way};
use crate::calibration::model::JointRef;
use crate::estimate::plugs::{Doubt, Wiring, in_words};
use crate::procedure::hand::Hand;
use crate::procedure::seat::direction;
use crate::procedure::words::{PlugRow, Reaction, Wants, wrapped};
use crate::units::Pin;

/// The boot loader's light is on this pin on common boards: it twitches at every reset (common practice).
const LIGHT_PIN: u8 = 13;

impl PlugsMind {
    /// `LF femur up`, as the foot was seen to go when the pulse grew.
    fn went(&self, joint: JointRef, way: Way) -> String {
        let yaw = self
            .robot
            .legs
            .get(joint.leg)
            .map_or(0.0, |leg| leg.mount.yaw_deg);
        let direction = direction(joint.kind, yaw, way == Way::Positive);
        format!("{} {direction}", self.robot.title(joint))
    }

    pub(super) fn words(&self, hand: &Hand) -> (&'static str, String, String, Wants) {
        let pin = self
            .rows
            .get(self.at)
            .map(|row| row.pin.to_string())
            .unwrap_or_default();
        let number = |start: u8, low: u8| Wants::Value {
            unit: "pin",
            start: Some(f64::from(start)),
            low: f64::from(low),
            high: f64::from(Pin::LAST.number()),
        };
        match &self.state {
            State::From => (
                "FROM WHICH PIN?",
                format!(
                    "Type the first pin to try, then Enter.{}",
                    if self.rows.is_empty() {
                        ""
                    } else {
                        " n no more pins."
                    }
                ),
                "Nothing moves yet. Only pins with servo plugs: they get pulses. Space stops."
                    .to_string(),
                number(self.offered().number(), Pin::FIRST.number()),
            ),
            State::To(from) => {
                let first = from.number();
                let last = first.saturating_add(self.lost().len().clamp(1, 69) as u8 - 1);
                (
                    "UP TO WHICH PIN?",
                    format!("Type the last pin to try, from {from} on, then Enter."),
                    "Nothing moves yet. A0 is 54, A15 is 69. Space stops.".to_string(),
                    number(last.min(Pin::LAST.number()), first),
                )
            }
            State::Ready => (
                "HANDS AWAY",
                if self.exchanged {
                    format!(
                        "Enter: try the exchanged plugs once more, from pin {pin} on. Supply on first."
                    )
                } else {
                    format!("Enter: nudge pin {pin}, then say what moved. Legs off the ground.")
                },
                "Any joint may jump to 1500 µs at full speed. Hands away. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Asking(_) if hand.is_busy() => (
                "HANDS AWAY",
                format!("Look which joint moves: pin {pin} is nudged 1500 → 1540 → 1500."),
                "One joint wakes, moves about 4° and back, and goes limp. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Asking(said) => (
                "WHICH JOINT?",
                match (said.chosen, said.way, said.more) {
                    (_, _, true) => "Which other joint moved too? Leg key, joint key.".to_string(),
                    (Some(joint), Some(way), _) => format!(
                        "Enter if it is so: {}. + another one moved too.",
                        self.went(joint, way)
                    ),
                    (Some(joint), None, _) => format!(
                        "Which way did {} go first? An arrow.",
                        self.robot.title(joint)
                    ),
                    _ => "Which joint moved? Leg key, joint key, then an arrow for which way."
                        .to_string(),
                },
                self.then(said, &pin),
                Wants::JointAndWay,
            ),
            State::Twice { said, other } => {
                let joint = self.robot.title(said.joint);
                (
                    "WHICH PIN IS RIGHT?",
                    format!(
                        "{joint} is already on pin {other}: which is right? Choose, then Enter."
                    ),
                    "Not recorded yet. Enter nudges a pin next: hands away. Space stops."
                        .to_string(),
                    Wants::Pick {
                        options: vec![
                            format!("pin {pin} drives {joint}; pin {other} is asked about again"),
                            format!("pin {other} drives {joint}; pin {pin} is nudged again now"),
                            "both do: a forked lead, or two pins that touch".to_string(),
                        ],
                        start: 0,
                    },
                )
            }
            State::Why => (
                "WHY NOTHING?",
                format!("Look at the plug on pin {pin}: why did nothing move? Choose, then Enter."),
                match self.next_pin() {
                    Some(next) => format!(
                        "All is limp until Enter: that nudges pin {next} next, hands away. Space stops."
                    ),
                    None => {
                        "All is limp and nothing moves; hands may go in. Space stops.".to_string()
                    }
                },
                Wants::Pick {
                    options: Dead::ALL
                        .iter()
                        .map(|it| it.words().to_string())
                        .chain(["not known yet".to_string()])
                        .collect(),
                    start: Dead::ALL.len(),
                },
            ),
            State::Found(it) if self.as_planned(it) => (
                "PLUGS AS PLANNED",
                "Enter leaves: every plug that was tried drives its planned joint.".to_string(),
                "Nothing will move. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Found(it) => (
                match (it.is_planned(), self.lost().is_empty()) {
                    (true, true) => "ACCEPT THE WIRING?",
                    (true, false) => "MEND OR ACCEPT?",
                    _ => "EXCHANGE OR ACCEPT?",
                },
                match (it.swaps.len(), it.doubts.len() + self.lost().len()) {
                    (0, 0) if self.choices(it).len() == 1 => {
                        "Enter: every joint was found; this wiring becomes the plan.".to_string()
                    }
                    (0, 0) => {
                        "Choose: every joint was found; this wiring becomes the plan. Then Enter."
                            .to_string()
                    }
                    (0, _) => {
                        "Choose what to do about what does not add up, then Enter.".to_string()
                    }
                    (1, _) => "One exchange makes the plan. Choose, then Enter.".to_string(),
                    (n, _) => format!("{n} exchanges make the plan. Choose, then Enter."),
                },
                "Nothing moves until pins are tried again. Space stops.".to_string(),
                Wants::Pick {
                    options: self
                        .choices(it)
                        .iter()
                        .map(|it| it.words().to_string())
                        .collect(),
                    start: 0,
                },
            ),
            State::Exchange(swaps) => (
                "EXCHANGE TWO PLUGS",
                swaps.first().map_or(String::new(), |swap| {
                    let joint = self.robot.title(swap.joint);
                    format!(
                        "Exchange the plugs in {} and {}: {joint} belongs in {}. Enter.",
                        swap.from, swap.to, swap.to
                    )
                }),
                "Switch the servo supply off first. All is limp; nothing moves. Space stops."
                    .to_string(),
                Wants::Enter,
            ),
            State::Over => (
                "PLUGS ARE DONE",
                "Enter leaves: the wiring is written down.".to_string(),
                "Nothing will move. Space stops.".to_string(),
                Wants::Over,
            ),
        }
    }

    /// The second line of the question which joint moved: what the answer sets in motion.
    fn then(&self, said: &Said, pin: &str) -> String {
        let is_planned = self
            .rows
            .get(self.at)
            .is_some_and(|row| row.planned.is_some());
        let twice = said.chosen.is_some_and(|it| self.other_pin(it).is_some());
        match (said.chosen.zip(said.way), self.next_pin()) {
            (Some(_), Some(next)) if !said.more && !twice => {
                format!("Enter nudges pin {next} next, hands away. Pin {pin} is limp. Space stops.")
            }
            (Some(_), None) if !said.more => {
                format!(
                    "Enter: it was the last pin, nothing moves. Pin {pin} is limp. Space stops."
                )
            }
            // Where nothing was planned, none is an answer like another.
            (None, Some(next)) if !is_planned => {
                format!(
                    "Pin {pin} is limp. n none: nudges pin {next}, hands away. a again. Space stops."
                )
            }
            _ => format!("Pin {pin} was nudged once and is limp. n none, a again. Space stops."),
        }
    }

    pub(super) fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        match &self.state {
            State::Found(it) => {
                for swap in &it.swaps {
                    lines.extend(wrapped(&swap.words(&self.robot)));
                }
                for doubt in in_words(&it.doubts, &self.robot) {
                    lines.extend(wrapped(&format!("! {doubt}")));
                }
                for remark in order::remarks(&self.robot, &self.rows, self.as_planned(it)) {
                    lines.extend(wrapped(&remark));
                }
                let lost = self.lost();
                if !lost.is_empty() {
                    let names: Vec<String> = lost.iter().map(|it| self.robot.title(*it)).collect();
                    lines.extend(wrapped(&format!(
                        "! not found: {}. A plug on a pin that was not tried, loose or turned round, a broken lead, or a dead servo",
                        names.join(", ")
                    )));
                }
            }
            State::Why => {
                let row = self.rows.get(self.at);
                if let Some((pin, planned)) = row.and_then(|it| Some((it.pin, it.planned?))) {
                    let doubt = Doubt::Silent { pin, planned };
                    lines = wrapped(&format!("! {}", doubt.words(&self.robot)));
                }
            }
            State::From | State::To(_) => {
                let lost = self.lost().len();
                lines = wrapped(&match lost {
                    0 => "every joint has a pin; other pins are tried for plugs that sit elsewhere"
                        .to_string(),
                    n => format!("{n} joints have no pin yet"),
                });
            }
            State::Twice { said, other } => {
                lines = wrapped(&format!(
                    "! pin {other} was said to drive {}, {} too: one of both was another joint",
                    self.robot.title(said.joint),
                    self.rows
                        .get(self.at)
                        .map_or_else(String::new, |row| format!("pin {}", row.pin)),
                ));
            }
            State::Asking(_)
                if self
                    .rows
                    .get(self.at)
                    .is_some_and(|r| r.pin.number() == LIGHT_PIN) =>
            {
                lines = wrapped(
                    "! pin 13 is the board's light on common boards: it twitches at a reset",
                );
            }
            _ => {}
        }
        lines
    }
}

/// What to do about the wiring that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Choice {
    Exchange,
    Again,
    Others,
    Accept,
}

impl Choice {
    fn words(self) -> &'static str {
        match self {
            Choice::Exchange => "exchange plugs until it is as planned",
            Choice::Again => "mend it, then try these pins again",
            Choice::Others => "try other pins too",
            Choice::Accept => "accept the wiring as it is",
        }
    }
}

impl PlugsMind {
    /// What can be done about this wiring.
    pub(super) fn choices(&self, it: &Wiring) -> Vec<Choice> {
        let lost = !self.lost().is_empty();
        let missing = |doubt: &Doubt| matches!(doubt, Doubt::Missing { .. } | Doubt::Silent { .. });
        let silent = |row: &PlugRow| row.found == Reaction::Nothing;
        let mut all = vec![
            Choice::Exchange,
            Choice::Again,
            Choice::Accept,
            Choice::Others,
        ];
        all.retain(|choice| match choice {
            Choice::Exchange => !it.swaps.is_empty(),
            Choice::Again => !it.doubts.is_empty() || lost && self.rows.iter().any(silent),
            Choice::Others => lost || it.doubts.iter().any(missing),
            Choice::Accept => true,
        });
        all
    }
}
