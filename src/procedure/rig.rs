//! A board, a joint with ends and a builder, small enough for the tests of all machines.
//!
//! It plays the driver as `Procedure` describes it, keeps the board's rules, and holds every machine to its own:
//! no wake or move outward of what the answers confirmed, no step larger than a fine one, no guard farther out.

use std::collections::BTreeMap;

use super::Procedure;
use super::words::{Answer, Ask, Do, Heard, Step, Wants};
use crate::calibration::logbook::What;
use crate::calibration::model::Span;
use crate::units::{Pin, Pulse};

/// The rig.
pub(super) struct Rig<P> {
    pub(super) it: P,
    pub(super) pins: BTreeMap<Pin, Wire>,
    /// What was recorded and still counts.
    pub(super) book: Vec<What>,
    /// Every request, in order.
    pub(super) asked: Vec<Ask>,
    pub(super) now_ms: u64,
    pub(super) bells: usize,
    /// What the next request hears instead of being done; counted down at each.
    pub(super) mishap: Option<(usize, Mishap)>,
    n: u64,
    /// How long the board waits for its host until it freezes, and until all goes limp.
    pub(super) silence_ms: (u32, u32),
}

/// What can happen to a request.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Mishap {
    Refused,
    Limp,
    Frozen,
    CalledOff,
}

/// One pin of the board, and the ground that its builder confirmed.
#[derive(Debug, Clone)]
pub(super) struct Wire {
    pub(super) pulse: Option<Pulse>,
    pub(super) guard: Span,
    pub(super) ground: Span,
    /// The farthest that a peck or a move went.
    pub(super) reached: Span,
    /// The last peck's farthest pulse.
    pub(super) pecked: Option<Pulse>,
    /// Nothing hangs on its horn.
    bare: bool,
}

impl Wire {
    fn new(ground: Span) -> Wire {
        Wire {
            pulse: None,
            guard: (us(1400.0), us(1600.0)),
            ground,
            reached: (Pulse::CENTRE, Pulse::CENTRE),
            pecked: None,
            bare: false,
        }
    }

    fn rest(&mut self, pulse: Pulse, why: &Ask) {
        let (low, high) = self.ground;
        assert!(
            (low..=high).contains(&pulse),
            "{why:?} rests outward of {low} to {high}"
        );
        self.pulse = Some(pulse);
        self.reach(pulse);
    }

    fn reach(&mut self, pulse: Pulse) {
        self.reached = (self.reached.0.min(pulse), self.reached.1.max(pulse));
    }
}

pub(super) fn us(us: f64) -> Pulse {
    Pulse::from_us(us).expect("a pulse")
}

pub(super) fn pin(number: u8) -> Pin {
    Pin::new(number).expect("a pin")
}

impl<P: Procedure> Rig<P> {
    /// A driver of this machine; pins start with this confirmed ground.
    pub(super) fn new(it: P, grounds: &[(Pin, Span)]) -> Rig<P> {
        let pins = grounds.iter().map(|(p, g)| (*p, Wire::new(*g))).collect();
        let mut rig = Rig {
            it,
            pins,
            book: Vec::new(),
            asked: Vec::new(),
            now_ms: 0,
            bells: 0,
            mishap: None,
            n: 0,
            silence_ms: (500, 10_000),
        };
        let first = rig.it.begin(0);
        rig.perform(first);
        rig
    }

    /// The step, checked for its form.
    pub(super) fn step(&self) -> Step {
        let step = self.it.step();
        check_words(&step);
        step
    }

    /// Answers; a "free" confirms what was pecked last.
    pub(super) fn say(&mut self, answer: Answer) -> &mut Self {
        if answer == Answer::Free
            && let Wants::FreeOrEnd { .. } = self.step().wants
            && let Some(pin) = self.step().picture.pin
            && let Some(wire) = self.pins.get_mut(&pin)
            && let Some(to) = wire.pecked
        {
            wire.ground = (wire.ground.0.min(to), wire.ground.1.max(to));
        }
        self.screws(&answer);
        let todo = self.it.answer(&answer, self.now_ms);
        self.perform(todo);
        let _ = self.step();
        self
    }

    /// What hands do with the leg of a horn: while it is off all pulses are free, and none but the middle one before it is on.
    fn screws(&mut self, answer: &Answer) {
        let step = self.step();
        let Some(wire) = step.picture.pin.and_then(|it| self.pins.get_mut(&it)) else {
            return;
        };
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        match (step.big, answer) {
            ("UNSCREW THE LEG", Answer::Pick(1)) => {
                (wire.bare, wire.ground) = (true, (Pulse::MIN, Pulse::MAX));
            }
            ("SCREW THE LEG ON" | "TURN THE HORN", Answer::Enter) if wire.bare => {
                assert_eq!((wire.pulse, wire.guard), (None, centre), "{step:?}");
                (wire.bare, wire.ground) = (false, centre);
            }
            _ => {}
        }
    }

    /// Lets time go by.
    pub(super) fn wait(&mut self, ms: u64) {
        self.now_ms += ms;
        let todo = self.it.poll(self.now_ms);
        self.perform(todo);
    }

    /// Space on the stand.
    pub(super) fn space(&mut self) {
        self.all_limp();
        let todo = self.it.heard(&Heard::WentLimp, self.now_ms);
        self.perform(todo);
    }

    pub(super) fn awake(&self) -> Vec<Pin> {
        let awake = self.pins.iter().filter(|(_, w)| w.pulse.is_some());
        awake.map(|(p, _)| *p).collect()
    }

    fn all_limp(&mut self) {
        self.pins.values_mut().for_each(|wire| wire.pulse = None);
    }

    pub(super) fn hear(&mut self, heard: Heard) {
        let todo = self.it.heard(&heard, self.now_ms);
        self.perform(todo);
    }

    fn perform(&mut self, todo: Vec<Do>) {
        let mut counting = false;
        for it in todo {
            match it {
                Do::Record(what) => {
                    self.book.push(what);
                    self.n += 1;
                    self.hear(Heard::Recorded(self.n));
                }
                Do::Undo => {
                    self.book.pop().expect("something to undo");
                }
                Do::Bell => self.bells += 1,
                Do::Count(s) => {
                    assert_eq!(s, 3, "hands need their time");
                    counting = true;
                }
                Do::Left => assert!(self.it.is_over()),
                Do::Ask(ask) => {
                    if self.ask(ask, counting) {
                        return;
                    }
                }
            }
        }
    }

    /// Performs a request; true when the rest of the batch is to be dropped.
    fn ask(&mut self, ask: Ask, counting: bool) -> bool {
        self.asked.push(ask.clone());
        self.now_ms += 20;
        if let Some((left, mishap)) = self.mishap {
            // A stop is never refused, and waking cannot be called off without a countdown.
            let meant =
                !matches!(ask, Ask::Limp { .. }) && (mishap != Mishap::CalledOff || counting);
            if left == 0 && meant {
                self.mishap = None;
                return self.go_wrong(ask, mishap);
            }
            self.mishap = Some((left.saturating_sub(1), mishap));
        }
        match self.board(&ask) {
            Err(reason) => {
                self.hear(Heard::Refused { ask, reason });
            }
            Ok(()) => {
                let moves = matches!(ask, Ask::Wake { .. } | Ask::Go { .. } | Ask::Peck { .. });
                self.hear(Heard::Done(ask));
                if moves {
                    self.now_ms += 300;
                    self.hear(Heard::Settled);
                }
            }
        }
        false
    }

    fn go_wrong(&mut self, ask: Ask, mishap: Mishap) -> bool {
        match mishap {
            Mishap::Refused => {
                let reason = "Refused: noisy.".to_string();
                self.hear(Heard::Refused { ask, reason });
                return false;
            }
            Mishap::Limp => {
                self.all_limp();
                self.hear(Heard::WentLimp);
            }
            Mishap::Frozen => {
                // A freeze in the middle of a peck makes that pin limp.
                if let Ask::Peck { pin, .. } = ask
                    && let Some(wire) = self.pins.get_mut(&pin)
                {
                    wire.pulse = None;
                }
                self.hear(Heard::Frozen);
            }
            Mishap::CalledOff => self.hear(Heard::CalledOff),
        }
        true
    }

    /// The board's own rules, and those of the machines.
    fn board(&mut self, ask: &Ask) -> Result<(), String> {
        let refuse = |word: &str| Err(format!("Refused: {word}."));
        match ask {
            Ask::Limp { pins } if pins.is_empty() => self.all_limp(),
            Ask::Limp { pins } => {
                for pin in pins {
                    if let Some(wire) = self.pins.get_mut(pin) {
                        wire.pulse = None;
                    }
                }
            }
            Ask::Guard { pin, low, high } => {
                let wire = self.wire(*pin);
                assert!(low <= high, "{ask:?}");
                assert!(low.is_sendable() && high.is_sendable(), "{ask:?}");
                assert!(
                    low.us() >= wire.ground.0.us() - 20.0 && high.us() <= wire.ground.1.us() + 20.0,
                    "{ask:?} lies more than a fine step outside {:?}",
                    wire.ground
                );
                if wire.pulse.is_some_and(|p| !(*low..=*high).contains(&p)) {
                    return refuse("bounds");
                }
                wire.guard = (*low, *high);
            }
            Ask::Wake { pin, pulse } => {
                let wire = self.wire(*pin);
                if wire.pulse.is_some() {
                    return refuse("awake");
                }
                if !(wire.guard.0..=wire.guard.1).contains(pulse) {
                    return refuse("guard");
                }
                wire.rest(*pulse, ask);
            }
            Ask::Go { moves, ms } => {
                for (pin, pulse) in moves {
                    let wire = self.wire(*pin);
                    let Some(at) = wire.pulse else {
                        return refuse("limp");
                    };
                    if !(wire.guard.0..=wire.guard.1).contains(pulse) {
                        return refuse("guard");
                    }
                    let fast = (pulse.us() - at.us()).abs() / f64::from(*ms) * 1000.0;
                    assert!(fast <= 400.5, "{ask:?} is {fast} µs/s");
                    wire.rest(*pulse, ask);
                }
            }
            Ask::Peck {
                pin,
                pulse,
                hold_ms,
            } => {
                let wire = self.wire(*pin);
                let Some(at) = wire.pulse else {
                    return refuse("limp");
                };
                if *hold_ms > 250 || (pulse.us() - at.us()).abs() > 20.0 {
                    return refuse("number");
                }
                if !(wire.guard.0..=wire.guard.1).contains(pulse) {
                    return refuse("guard");
                }
                let out = (wire.ground.0.us() - pulse.us()).max(pulse.us() - wire.ground.1.us());
                assert!(out <= 20.0, "{ask:?} goes {out} µs beyond confirmed ground");
                wire.pecked = Some(*pulse);
                wire.reach(*pulse);
            }
            Ask::Slew { us_per_s, .. } => assert!(*us_per_s <= 400),
            Ask::Sense { .. } | Ask::Trip { .. } => {}
            Ask::Silence { freeze_ms, limp_ms } => self.silence_ms = (*freeze_ms, *limp_ms),
        }
        Ok(())
    }

    fn wire(&mut self, pin: Pin) -> &mut Wire {
        self.pins.get_mut(&pin).expect("a pin of the test")
    }
}

/// Every step fits the screen and says what the hands must know.
fn check_words(step: &Step) {
    let width = |text: &str| text.chars().count();
    assert!(
        width(&step.next) <= 77,
        "{} long: {}",
        width(&step.next),
        step.next
    );
    assert!(
        width(&step.second) <= 77,
        "{} long: {}",
        width(&step.second),
        step.second
    );
    assert!(
        width(step.big) <= 24 && step.big.split(' ').count() <= 5,
        "{}",
        step.big
    );
    assert!(!step.big.is_empty() && !step.next.is_empty(), "{step:?}");
    assert!(step.second.contains("Space stops"), "{}", step.second);
    if let Wants::Pick { options, start } = &step.wants {
        assert!(*start < options.len(), "{options:?}");
        assert!(options.iter().all(|it| width(it) <= 60), "{options:?}");
    }
    for line in &step.lines {
        assert!(width(line) <= 38, "{} long: {line}", width(line));
    }
    assert!(width(&step.title) <= 70, "{}", step.title);
}

/// Answers of all kinds for random walks; a number picks one.
pub(super) fn any_answer(k: u8, step: &Step) -> Answer {
    use crate::calibration::logbook::Way;
    use crate::calibration::model::{JointKind, JointRef};
    let joint = |k: u8| JointRef {
        leg: 0,
        kind: JointKind::ALL[usize::from(k % 3)],
    };
    let value = match &step.wants {
        Wants::Value { low, high, .. } => low + (high - low) * f64::from(k % 16) / 15.0,
        _ => f64::from(k),
    };
    match k % 16 {
        0 | 1 => Answer::Free,
        2 => Answer::End,
        3 => Answer::Undo,
        4 => Answer::Again,
        5 => Answer::None,
        6 => Answer::Also,
        7 => Answer::Joint(joint(k / 16)),
        8 => Answer::Way(if k > 128 {
            Way::Positive
        } else {
            Way::Negative
        }),
        9 => Answer::Value(value),
        10 => Answer::Text(format!("{k:02}")),
        11 => Answer::Pick(usize::from(k / 16) % 4),
        12 => Answer::Finer,
        13 => Answer::Coarser,
        _ => Answer::Enter,
    }
}

/// A random walk: any answers, any mishaps; in the end it can be left, and nothing stays awake.
pub(super) fn random_walk<P: Procedure>(
    it: P,
    grounds: &[(Pin, Span)],
    answers: &[u8],
    mishaps: &[(u8, u8)],
) {
    let mut rig = Rig::new(it, grounds);
    let mut mishaps = mishaps.iter();
    for k in answers {
        if rig.mishap.is_none()
            && let Some((after, what)) = mishaps.next()
        {
            let what = [
                Mishap::Refused,
                Mishap::Limp,
                Mishap::Frozen,
                Mishap::CalledOff,
            ][usize::from(what % 4)];
            rig.mishap = Some((usize::from(after % 12), what));
        }
        let step = rig.step();
        // Half of the answers are ones that the step asks for, so that the walk gets somewhere.
        let answer = match (&step.wants, k % 2) {
            (_, 1) => any_answer(k / 2 + 1, &step),
            (Wants::FreeOrEnd { .. }, _) if *k < 200 => Answer::Free,
            (Wants::FreeOrEnd { .. }, _) => Answer::End,
            (Wants::Pick { options, .. }, _) => {
                Answer::Pick(usize::from(*k) % options.len().max(1))
            }
            (Wants::Value { low, high, .. }, _) => {
                Answer::Value(low + (high - low) * f64::from(*k) / 255.0)
            }
            (Wants::Text { .. }, _) => Answer::Text(format!("{k}")),
            _ => Answer::Enter,
        };
        rig.say(answer);
        rig.wait(500);
    }
    rig.mishap = None;
    rig.say(Answer::Leave);
    assert!(rig.it.is_over());
    assert_eq!(rig.awake(), []);
    let centre = (Pulse::CENTRE, Pulse::CENTRE);
    let narrow =
        |wire: &Wire| !wire.bare || wire.guard == centre || wire.guard == (us(1400.0), us(1600.0));
    assert!(rig.pins.values().all(narrow), "{:?}", rig.pins);
    assert!(rig.it.answer(&Answer::Enter, 0).is_empty());
}
