//! A servo replaced: its new number, what remains valid, and what must be redone for that joint and only that.

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, Seat, seats};
use super::words::{Answer, Picture, Scope, Step, Wants, wrapped};
use crate::calibration::logbook::{JointName, Verdict, What};
use crate::calibration::model::JointRef;
use crate::estimate::Knowledge;

#[derive(Debug, Clone, PartialEq)]
enum State {
    Number,
    /// All limp, hands in; Enter writes it down.
    Swap(String),
    Over,
}

/// The replacement of one servo.
#[derive(Debug, Clone)]
pub struct ReplaceMind {
    seat: Option<Seat>,
    /// Every numbered servo, what it was found to be, and where it sits.
    servos: Vec<(String, Option<Verdict>, Option<JointName>)>,
    state: State,
}

/// The machine for a replaced servo.
pub type Replace = Machine<ReplaceMind>;

impl Replace {
    /// For this joint.
    pub fn new(knowledge: &Knowledge, joint: JointRef, bench: Bench) -> Replace {
        let servos = knowledge.servos.iter();
        let servos = servos
            .map(|(n, it)| (n.clone(), it.verdict, it.joint.clone()))
            .collect();
        let seat = seats(knowledge, Scope::Joint(joint)).into_iter().next();
        Replace::from_seat(seat, servos, bench)
    }

    pub(super) fn from_seat(
        seat: Option<Seat>,
        servos: Vec<(String, Option<Verdict>, Option<JointName>)>,
        bench: Bench,
    ) -> Replace {
        let mind = ReplaceMind {
            state: if seat.is_some() {
                State::Number
            } else {
                State::Over
            },
            seat,
            servos,
        };
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

impl ReplaceMind {
    /// What is amiss with the servo that is to go in.
    fn warning(&self, number: &str) -> Option<String> {
        let here = self.seat.as_ref().map(|it| &it.name);
        let Some((_, verdict, place)) = self.servos.iter().find(|(n, _, _)| n == number) else {
            return Some(format!(
                "! servo {number} was not tested alone: do that first if you can"
            ));
        };
        match (place, verdict) {
            (Some(joint), _) if Some(joint) != here => Some(format!(
                "! servo {number} is written down as sitting in {joint}"
            )),
            (Some(_), _) => Some(format!("! servo {number} is the one that sits there now")),
            (_, Some(Verdict::Good)) => None,
            (_, Some(it)) => Some(format!("! servo {number} was found {}", it.word())),
            (_, None) => Some(format!(
                "! servo {number} was not tested alone: do that first if you can"
            )),
        }
    }

    /// What stays, and what is to be done again.
    fn lines(&self, number: Option<&str>) -> Vec<String> {
        let mut lines = Vec::new();
        if let Some(warning) = number.and_then(|n| self.warning(n)) {
            lines.extend(wrapped(&warning));
        }
        lines.extend(wrapped(
            "stays: every other joint; this one's plug, needed travel and links",
        ));
        let Some(seat) = &self.seat else {
            return lines;
        };
        let mut again = vec!["horn"];
        if seat.bounded || seat.limits.is_some() {
            again.push("rough bounds");
        }
        if seat.line.is_some() || !seat.marks.is_empty() {
            again.push("marks");
        }
        if seat.limits.is_some() || seat.ends.iter().any(|it| !it.is_empty()) {
            again.push("ends");
        }
        lines.extend(wrapped(&format!(
            "again, of {} only: {}",
            seat.name,
            again.join(", ")
        )));
        lines.extend(wrapped(
            "its direction is looked at again when it is jogged or marked",
        ));
        lines
    }
}

impl Mind for ReplaceMind {
    fn step(&self, _hand: &Hand) -> Step {
        let Some(seat) = &self.seat else {
            return Step::over("Replace", "NO SUCH JOINT", "the plan has no such joint");
        };
        let name = &seat.name;
        let mut step = match &self.state {
            State::Over => {
                let mut step = Step::over(
                    "",
                    "SERVO IS REPLACED",
                    &format!("next is the horn of {name}, where Home goes"),
                );
                step.lines = self.lines(None);
                step
            }
            State::Number => Step {
                title: String::new(),
                big: "WHICH SERVO?",
                next: format!("Type the number on the new servo's sticker for {name}, then Enter."),
                second: "Nothing moves; every pin is made limp before hands go in. Space stops."
                    .to_string(),
                wrong: false,
                wants: Wants::Text {
                    start: String::new(),
                },
                picture: Picture::default(),
                lines: self.lines(None),
            },
            State::Swap(number) => Step {
                title: String::new(),
                big: "CHANGE THE SERVO",
                next: format!(
                    "Supply off, put servo {number} into {name}, same plug. Enter when done."
                ),
                second: "All is limp. Enter writes it down; nothing moves. Space stops."
                    .to_string(),
                wrong: self.warning(number).is_some(),
                wants: Wants::Enter,
                picture: Picture::default(),
                lines: self.lines(Some(number)),
            },
        };
        step.title = format!("Replace ── {}", seat.title());
        step.picture.joint = Some(seat.at);
        step.picture.pin = seat.pin;
        step
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        match (&self.state, answer) {
            (State::Number, Answer::Text(text)) => {
                let text = text.trim();
                if text.is_empty() || text.len() > 12 || text.contains(char::is_whitespace) {
                    return Turn::Ignored;
                }
                self.state = State::Swap(text.to_string());
                Turn::On(Vec::new())
            }
            (State::Swap(number), Answer::Enter) => match &self.seat {
                Some(seat) => {
                    let record = What::ServoReplaced {
                        joint: seat.name.clone(),
                        servo: number.clone(),
                    };
                    self.state = State::Over;
                    Turn::On(vec![record])
                }
                None => Turn::Ignored,
            },
            (State::Over, Answer::Enter) => Turn::Leave,
            _ => Turn::Ignored,
        }
    }

    fn enter(&mut self, hand: &mut Hand) {
        if matches!(self.state, State::Swap(_)) {
            hand.limp_all();
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calibration::model::JointKind;
    use crate::procedure::rig::{Rig, pin, random_walk, us};
    use crate::procedure::seat::samples::seat;
    use crate::procedure::words::Ask;

    fn replace() -> Replace {
        let it = Seat {
            ground: (us(904.0), us(2231.0)),
            line: Some((1487.5, 10.62)),
            bounded: true,
            ..seat(JointKind::Femur)
        };
        let servos = vec![
            ("07".to_string(), Some(Verdict::Good), Some(it.name.clone())),
            ("21".to_string(), Some(Verdict::Good), None),
            ("22".to_string(), Some(Verdict::Hot), None),
        ];
        Replace::from_seat(Some(it), servos, Bench::default())
    }

    #[test]
    fn one_entry_for_that_joint_and_the_list_of_what_comes_again() {
        let mut rig = Rig::new(replace(), &[(pin(23), (us(904.0), us(2231.0)))]);
        rig.say(Answer::Text("21".into()));
        assert!(!rig.step().wrong);
        assert_eq!(
            rig.asked,
            [Ask::Limp { pins: Vec::new() }],
            "limp before hands go in"
        );
        let text = rig.step().lines.join(" ");
        assert!(
            text.contains("again, of LF femur only: horn, rough bounds, marks"),
            "{text}"
        );
        assert!(!text.contains("ends"), "none were known: {text}");
        rig.say(Answer::Enter);
        assert_eq!(
            rig.book,
            [What::ServoReplaced {
                joint: JointName::new("LF", JointKind::Femur),
                servo: "21".into(),
            }]
        );
        rig.say(Answer::Undo);
        assert!(rig.book.is_empty());
    }

    #[test]
    fn a_servo_that_is_hot_untested_or_elsewhere_is_warned_of() {
        for (number, word) in [
            ("22", "found hot"),
            ("99", "not tested"),
            ("07", "sits there now"),
        ] {
            let mut rig = Rig::new(replace(), &[]);
            rig.say(Answer::Text(number.into()));
            let step = rig.step();
            assert!(
                step.wrong && step.lines.join(" ").contains(word),
                "{number}: {:?}",
                step.lines
            );
        }
    }

    proptest! {
        #[test]
        fn nothing_ever_moves(
            answers in proptest::collection::vec(any::<u8>(), 0..40),
            mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..3),
        ) {
            random_walk(replace(), &[(pin(23), (us(904.0), us(2231.0)))], &answers, &mishaps);
        }
    }
}
