//! One servo alone on a test pin, before it is built in: centre, out and back, a minute of running, and what it was found to be.
//!
//! A bare servo moves inside the 1400-1600 µs that the board takes from the start.

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::Bench;
use super::words::{Answer, Detail, Picture, Step, Wants, wrapped};
use crate::calibration::logbook::{Verdict, What};
use crate::estimate::Knowledge;
use crate::units::{Pin, Pulse};

/// Where a bare servo may be sent: what the board takes without a guard of its own.
const OPEN: (Pulse, Pulse) = (Pulse::from_halves(2800), Pulse::from_halves(3200));
/// How long it runs, ms.
const RUN_MS: u64 = 60_000;
/// The verdicts, in the order in which they are offered.
const VERDICTS: [Verdict; 4] = [Verdict::Good, Verdict::Noisy, Verdict::Hot, Verdict::Dead];

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// The robot is built already: skip?
    Built,
    Number,
    /// Limp; Enter wakes it.
    Ready,
    /// At its centre: still and quiet?
    Centre,
    /// Out and back for a minute.
    Running {
        last_ms: Option<u64>,
        out: bool,
    },
    /// Back at the centre: what is it?
    Verdict,
    /// Limp: another one?
    Another,
    Over,
}

/// The test of single servos.
#[derive(Debug, Clone)]
pub struct ServoMind {
    pin: Pin,
    state: State,
    number: String,
    tested: usize,
    ran_ms: u64,
    /// The verdict that is lit at first.
    guess: usize,
    /// The numbers that are taken.
    taken: Vec<String>,
}

/// The machine that tests servos.
pub type Servo = Machine<ServoMind>;

impl Servo {
    /// Servos on this pin, one after the other.
    pub fn new(knowledge: &Knowledge, pin: Pin, bench: Bench) -> Servo {
        let built = !knowledge.plugs.is_empty()
            || knowledge
                .joints
                .iter()
                .any(|it| it.servo.is_some() || it.found_pin.is_some());
        let taken = knowledge.servos.keys().cloned().collect();
        Servo::begin_with(pin, built, taken, bench)
    }

    pub(super) fn begin_with(pin: Pin, built: bool, taken: Vec<String>, bench: Bench) -> Servo {
        let mind = ServoMind {
            pin,
            state: if built { State::Built } else { State::Number },
            number: String::new(),
            tested: 0,
            ran_ms: 0,
            guess: 0,
            taken,
        };
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

impl ServoMind {
    /// The smallest two-digit number that no sticker has.
    fn free_number(&self) -> String {
        (1..=99)
            .map(|n| format!("{n:02}"))
            .find(|n| !self.taken.contains(n))
            .unwrap_or_default()
    }

    fn judged(&mut self, verdict: Verdict) -> Vec<What> {
        self.state = State::Another;
        self.tested += 1;
        self.taken.push(self.number.clone());
        let ran_s = (self.ran_ms / 1000) as f64;
        vec![What::ServoTested {
            servo: self.number.clone(),
            verdict,
            ran_s: (ran_s > 0.0).then_some(ran_s),
            note: None,
        }]
    }

    fn words(&self, hand: &Hand) -> (&'static str, String, String, Wants) {
        let (pin, number) = (self.pin, &self.number);
        let still = "Nothing moves yet. Space stops.".to_string();
        match self.state {
            State::Built => (
                "ALREADY BUILT?",
                "Choose: servos are known to sit in the robot already. Then Enter.".to_string(),
                "Skipping is fine, but a weak servo then shows only in the leg. Space stops."
                    .to_string(),
                Wants::Pick {
                    options: vec![
                        "skip: they are built in, untested".to_string(),
                        "test single servos".to_string(),
                    ],
                    start: 0,
                },
            ),
            State::Number => (
                "WRITE A STICKER",
                "Write a number on a sticker, put it on the servo, type it, Enter.".to_string(),
                still,
                Wants::Text {
                    start: self.free_number(),
                },
            ),
            State::Ready => (
                "HANDS AWAY",
                format!("Plug servo {number} into pin {pin}, no horn on it. Hands away, Enter."),
                "It jumps to its centre, 1500 µs, at full speed. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Centre if hand.is_busy() => (
                "HANDS AWAY",
                format!("Look and listen: servo {number} goes to its centre."),
                "It jumps to 1500 µs at full speed. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Centre => (
                "STILL AND QUIET?",
                "Did it turn, and does it stand still and quiet? Enter yes, n no.".to_string(),
                "Enter: it then runs out and back by 9° for a minute. Space stops.".to_string(),
                Wants::YesNo,
            ),
            State::Running { .. } => (
                "IT RUNS FOR A MINUTE",
                format!(
                    "Listen, and feel its case: {} of 60 s. Enter ends it now.",
                    self.ran_ms / 1000
                ),
                "It runs 1400 ↔ 1600 µs. Keep off its spline. Space stops.".to_string(),
                Wants::Enter,
            ),
            State::Verdict if hand.is_busy() => (
                "LISTEN",
                format!("Wait: servo {number} goes back to its centre."),
                "It moves to 1500 µs and stands there. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Verdict => (
                "WHAT IS IT?",
                format!("Choose what servo {number} is, then Enter."),
                "It stands at its centre and goes limp after your answer. Space stops.".to_string(),
                Wants::Pick {
                    options: VERDICTS.map(verdict_words).map(str::to_string).to_vec(),
                    start: self.guess,
                },
            ),
            State::Another => (
                "ANOTHER SERVO?",
                format!("Unplug servo {number}. Enter: the next servo. n: that was the last."),
                "The pin is limp. Nothing moves. Space stops.".to_string(),
                Wants::YesNo,
            ),
            State::Over => (
                "SERVOS ARE DONE",
                "Enter leaves: the servos are written down under their numbers.".to_string(),
                "Nothing will move. Space stops.".to_string(),
                Wants::Over,
            ),
        }
    }
}

fn verdict_words(it: Verdict) -> &'static str {
    match it {
        Verdict::Good => "good",
        Verdict::Noisy => "noisy: hunts, jitters or grinds",
        Verdict::Hot => "hot: too warm for a finger",
        Verdict::Dead => "dead: it does not move",
        Verdict::Untested => "untested",
    }
}

impl Mind for ServoMind {
    fn step(&self, hand: &Hand) -> Step {
        let (big, next, second, wants) = self.words(hand);
        let mut lines = vec![format!("{} tested now", self.tested)];
        if self.state == State::Built {
            lines = wrapped(
                "! a servo in the leg cannot show its centre; take it out to test it alone",
            );
        }
        let is_taken = self.state == State::Ready && self.taken.contains(&self.number);
        if is_taken {
            lines = wrapped(&format!(
                "! servo {} is written down already: if this is another one, Backspace, and a new number on its sticker",
                self.number
            ));
        }
        let title = if self.number.is_empty() {
            format!("One servo ── pin {}", self.pin)
        } else {
            format!("One servo ── pin {}, servo {}", self.pin, self.number)
        };
        Step {
            title,
            big,
            next,
            second,
            wrong: self.state == State::Built || is_taken,
            wants,
            picture: Picture {
                pin: Some(self.pin),
                pulse: hand.pulse(self.pin),
                ghost: hand.target(),
                confirmed: Some(OPEN),
                guard: hand.guard(self.pin),
                detail: if self.state == State::Ready {
                    Detail::PlugSides
                } else {
                    Detail::None
                },
                joint: None,
            },
            lines,
        }
    }

    fn takes_while_moving(&self) -> bool {
        matches!(self.state, State::Running { .. })
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        self.state = match (self.state, answer) {
            (State::Built, Answer::Pick(0)) => {
                self.state = State::Over;
                return Turn::On(vec![What::Note {
                    text: "the servos were built in before they were tested alone".to_string(),
                }]);
            }
            (State::Built, Answer::Pick(1)) => State::Number,
            (State::Number, Answer::Text(text)) => {
                let text = text.trim();
                if text.is_empty() || text.len() > 12 || text.contains(char::is_whitespace) {
                    return Turn::Ignored;
                }
                self.number = text.to_string();
                State::Ready
            }
            (State::Ready, Answer::Enter) => {
                self.ran_ms = 0;
                self.guess = 0;
                State::Centre
            }
            (State::Centre, Answer::Again) => return Turn::Same,
            (State::Centre, Answer::Enter) => State::Running {
                last_ms: None,
                out: false,
            },
            (State::Centre, Answer::None) => {
                self.guess = 3;
                State::Verdict
            }
            (State::Running { .. }, Answer::Enter) => State::Verdict,
            (State::Verdict, Answer::Pick(k)) if *k < VERDICTS.len() => {
                return Turn::On(self.judged(VERDICTS[*k]));
            }
            (State::Another, Answer::Enter) => {
                self.number.clear();
                State::Number
            }
            (State::Another, Answer::None) => State::Over,
            (State::Over, Answer::Enter) => return Turn::Leave,
            _ => return Turn::Ignored,
        };
        Turn::On(Vec::new())
    }

    fn enter(&mut self, hand: &mut Hand) {
        let pin = self.pin;
        match self.state {
            State::Centre | State::Verdict => {
                hand.confirm(pin, OPEN);
                hand.stand(pin, Pulse::CENTRE, (0.0, 0.0));
                hand.bell();
            }
            State::Running { out, .. } => {
                hand.confirm(pin, OPEN);
                hand.stand(pin, if out { OPEN.1 } else { OPEN.0 }, (0.0, 0.0));
            }
            _ => hand.limp_mine(),
        }
    }

    fn poll(&mut self, now_ms: u64) -> bool {
        let State::Running { last_ms, out } = self.state else {
            return false;
        };
        // Only time in which it ran counts: not what passed while it was limp or the host was away.
        self.ran_ms += last_ms.map_or(0, |last| now_ms.saturating_sub(last).min(1500));
        self.state = if self.ran_ms >= RUN_MS {
            State::Verdict
        } else {
            State::Running {
                last_ms: Some(now_ms),
                out: !out,
            }
        };
        true
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::procedure::rig::{Rig, pin, random_walk};
    use crate::procedure::words::Ask;

    fn rig(built: bool) -> Rig<Servo> {
        let it = Servo::begin_with(pin(2), built, vec!["01".into()], Bench::default());
        Rig::new(it, &[(pin(2), OPEN)])
    }

    #[test]
    fn a_good_servo_runs_a_minute_and_gets_its_number() {
        let mut rig = rig(false);
        assert_eq!(rig.step().wants, Wants::Text { start: "02".into() });
        rig.say(Answer::Text("07".into()))
            .say(Answer::Enter)
            .say(Answer::Enter);
        let mut polls = 0;
        while rig.step().big == "IT RUNS FOR A MINUTE" {
            rig.wait(250);
            polls += 1;
            assert!(polls < 1000);
        }
        let moves = rig
            .asked
            .iter()
            .filter(|ask| matches!(ask, Ask::Go { .. }))
            .count();
        assert!(moves > 50, "{moves}");
        assert_eq!(rig.pins[&pin(2)].pulse, Some(Pulse::CENTRE));
        rig.say(Answer::Pick(0));
        assert_eq!(
            rig.book,
            [What::ServoTested {
                servo: "07".into(),
                verdict: Verdict::Good,
                ran_s: Some(60.0),
                note: None,
            }]
        );
        assert_eq!(rig.awake(), []);
        rig.say(Answer::None);
        assert_eq!(rig.step().wants, Wants::Over);
    }

    #[test]
    fn a_dead_servo_is_said_so_at_once_and_enter_ends_the_minute_early() {
        let mut rig = rig(false);
        rig.say(Answer::Text("08".into()))
            .say(Answer::Enter)
            .say(Answer::None);
        let Wants::Pick { start, .. } = rig.step().wants else {
            panic!("a verdict");
        };
        rig.say(Answer::Pick(start));
        assert!(matches!(
            &rig.book[0],
            What::ServoTested {
                verdict: Verdict::Dead,
                ran_s: None,
                ..
            }
        ));
        rig.say(Answer::Enter)
            .say(Answer::Text("09".into()))
            .say(Answer::Enter)
            .say(Answer::Enter);
        for _ in 0..20 {
            rig.wait(250);
        }
        rig.say(Answer::Enter);
        assert_eq!(rig.step().big, "WHAT IS IT?");
    }

    #[test]
    fn a_built_robot_skips_with_a_warning() {
        let mut rig = rig(true);
        assert!(rig.step().wrong);
        rig.say(Answer::Pick(0));
        assert!(matches!(&rig.book[0], What::Note { .. }));
        assert_eq!(rig.step().wants, Wants::Over);
        assert!(rig.asked.is_empty());
    }

    #[test]
    fn a_number_that_a_sticker_has_already_is_said_before_its_verdict_is_written_over() {
        let mut rig = rig(false);
        rig.say(Answer::Text("01".into()));
        let step = rig.step();
        assert!(step.wrong, "{step:?}");
        assert!(step.lines.join(" ").contains("! servo 01 is written down"));
        rig.say(Answer::Undo).say(Answer::Text("02".into()));
        assert!(!rig.step().wrong);
    }

    #[test]
    fn time_while_limp_does_not_count_as_running() {
        let mut rig = rig(false);
        rig.say(Answer::Text("07".into()))
            .say(Answer::Enter)
            .say(Answer::Enter);
        rig.wait(300);
        rig.space();
        rig.wait(100_000);
        rig.say(Answer::Enter);
        rig.wait(300);
        assert_eq!(rig.step().big, "IT RUNS FOR A MINUTE");
    }

    proptest! {
        #[test]
        fn whatever_is_answered_it_stays_inside_the_open_guard(
            answers in proptest::collection::vec(any::<u8>(), 0..80),
            mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..5),
        ) {
            let it = Servo::begin_with(pin(2), false, Vec::new(), Bench::default());
            random_walk(it, &[(pin(2), OPEN)], &answers, &mishaps);
        }
    }
}
