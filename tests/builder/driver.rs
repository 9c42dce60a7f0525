//! Does what a step machine wants done, as the console does, and lets the builder answer.

use std::cell::RefCell;
use std::rc::Rc;

use hornset::board::{Against, Done, Input, Reflex, Request, Sight};
use hornset::calibration::logbook::{Logbook, Part, Plan, What};
use hornset::calibration::model::JointRef;
use hornset::calibration::{MARRAM, read};
use hornset::estimate::{Knowledge, knowledge};
use hornset::practice::{Settings, Truth};
use hornset::procedure::{Ask, Do, Heard, Procedure};
use hornset::units::Pulse;

use crate::bench::Bench;
use crate::person::{Act, Person, place};

/// How long a servo is given to come to rest, ms; after a wake it may have come all the way round.
const REST_MS: u32 = 200;
const WAKE_REST_MS: u32 = 500;
/// A peck needs a frame to begin and one to go back.
const PECK_FRAMES_MS: u32 = 80;
/// The builder is half a second late with whatever he says of a peck.
const LATE_MS: u32 = 500;

/// What was seen of the last motions.
#[derive(Debug, Default)]
pub struct Seen {
    /// When the batch of motions began, in the robot's seconds.
    pub began: f64,
    /// When the last motion outward had ended.
    pub outward: Option<Sight>,
    /// What each joint leaned against during the last peck, by place.
    pub against: Vec<Option<Against>>,
    /// Which joints hummed during the last peck, by place.
    pub hummed: Vec<bool>,
    /// The first motion of each joint during the last peck, its way out: when it began, and how far it went.
    pub swings: Vec<Option<(f64, f64)>>,
}

/// The bench, the logbook and the builder.
pub struct Driver {
    pub bench: Bench,
    pub book: Logbook,
    pub person: Person,
    pub seen: Seen,
    /// What so many entries say.
    known: RefCell<Option<(usize, Rc<Knowledge>)>>,
    /// The next motion is the first since he answered.
    fresh: bool,
    /// The host dies in the first peck that presses; nothing is done after that.
    pub dies_at_end: bool,
    /// How late he is with what he says of a peck, ms.
    pub late_ms: u32,
    dead: bool,
    /// Answers that the builder gave.
    pub answers: usize,
}

impl Driver {
    pub fn new(settings: Settings, seed: u64) -> Driver {
        let mut book = Logbook::in_memory();
        let robot = read(MARRAM).robot.expect("a good file");
        let plan = What::Plan(Plan::of(&robot));
        book.append(&[plan], AT).expect("a sound plan");
        Driver {
            bench: Bench::new(settings),
            book,
            person: Person::new(seed),
            seen: Seen::default(),
            known: RefCell::new(None),
            fresh: true,
            dies_at_end: false,
            late_ms: LATE_MS,
            dead: false,
            answers: 0,
        }
    }

    /// What is known now.
    pub fn known(&self) -> Rc<Knowledge> {
        let mut known = self.known.borrow_mut();
        let entries = self.book.entries();
        if let Some((count, it)) = &*known
            && *count == entries.len()
        {
            return Rc::clone(it);
        }
        let it = Rc::new(knowledge(entries));
        *known = Some((entries.len(), Rc::clone(&it)));
        it
    }

    /// Leads the builder through one machine until it is over.
    pub fn work(&mut self, mut machine: impl Procedure) {
        self.person.begin();
        self.seen = Seen {
            began: self.bench.look().seconds,
            ..Seen::default()
        };
        let first = machine.begin(self.bench.world.ms());
        self.perform(&mut machine, first);
        for _ in 0..5000 {
            if machine.is_over() || self.dead {
                return;
            }
            let step = machine.step();
            self.bench.watch.doing = format!("{}, {}", step.title, step.big);
            let act = self.person.answers(&step, &self.seen, &self.bench.look());
            let answer = match act {
                Act::Wait => {
                    self.bench.run(250);
                    let todo = machine.poll(self.bench.world.ms());
                    self.perform(&mut machine, todo);
                    continue;
                }
                Act::ByHand(by_hand) => {
                    self.bench.run(1000);
                    let hint = by_hand(&mut self.bench.world);
                    let truth = self.bench.world.truth();
                    self.bench.watch.hands_were_in(&truth);
                    hint
                }
                Act::Say(answer) => answer,
                Act::SayLate(answer) => {
                    self.bench.run(self.late_ms);
                    answer
                }
            };
            self.answers += 1;
            self.fresh = true;
            let todo = machine.answer(&answer, self.bench.world.ms());
            self.perform(&mut machine, todo);
        }
        panic!("it never came to an end: {:?}", machine.step());
    }

    fn perform(&mut self, machine: &mut impl Procedure, todo: Vec<Do>) {
        let mut queue: std::collections::VecDeque<Do> = todo.into();
        while let (Some(it), false) = (queue.pop_front(), self.dead) {
            match it {
                Do::Bell | Do::Left => {}
                Do::Count(seconds) => self.bench.run(u32::from(seconds) * 1000),
                Do::Record(what) => {
                    self.confirm(&what);
                    let n = self.book.append(&[what], AT).expect("a sound entry");
                    queue.extend(machine.heard(&Heard::Recorded(n), self.bench.world.ms()));
                }
                Do::Undo => panic!("the builder undid nothing"),
                Do::Ask(ask) => {
                    for heard in self.ask(&ask) {
                        queue.extend(machine.heard(&heard, self.bench.world.ms()));
                    }
                }
            }
        }
    }

    /// Asks the board and waits until the motion has settled.
    fn ask(&mut self, ask: &Ask) -> Vec<Heard> {
        let moves = matches!(ask, Ask::Wake { .. } | Ask::Go { .. } | Ask::Peck { .. });
        if moves && std::mem::take(&mut self.fresh) {
            self.seen.began = self.bench.look().seconds;
        }
        let done = match self.bench.ask(request(ask)) {
            Ok(done) => done,
            Err(refusal) => {
                let reason = format!("Refused: {refusal}.");
                return vec![Heard::Refused {
                    ask: ask.clone(),
                    reason,
                }];
            }
        };
        let mut heard = vec![Heard::Done(ask.clone())];
        match (ask, &done) {
            (Ask::Wake { pin, .. }, _) => {
                self.bench.until_awake(*pin);
                self.bench.run(WAKE_REST_MS);
                // The jump tells nothing: he looks at what comes next.
                self.fresh = true;
                heard.push(Heard::Settled);
            }
            (Ask::Go { moves, .. }, Done::Move { ms }) => {
                self.bench.run(ms + REST_MS);
                // A nudge comes back to the centre: what is to be seen is the way out.
                if moves.iter().any(|(_, pulse)| *pulse != Pulse::CENTRE) {
                    self.seen.outward = Some(self.bench.look());
                }
                heard.push(Heard::Settled);
            }
            (Ask::Peck { hold_ms, .. }, _) => {
                self.watch_peck(hold_ms + PECK_FRAMES_MS + REST_MS);
                self.seen.outward = Some(self.bench.look());
                heard.push(if self.bench.take_tripped() {
                    Heard::Tripped
                } else {
                    Heard::Settled
                });
            }
            _ => {}
        }
        heard
    }

    /// Looks on while a joint pecks.
    fn watch_peck(&mut self, ms: u32) {
        let began = self.bench.look().seconds;
        self.seen.against = vec![None; 18];
        self.seen.hummed = vec![false; 18];
        self.seen.swings = vec![None; 18];
        for _ in 0..ms / 40 {
            self.bench.run(40);
            let presses = |truth: &Truth| truth.joints.iter().any(|it| it.presses);
            if self.dies_at_end && presses(&self.bench.world.truth()) {
                self.dead = true;
                return;
            }
            for (place, joint) in self.bench.look().joints.into_iter().enumerate() {
                let leans = &mut self.seen.against[place];
                *leans = joint.against.or(leans.take());
                self.seen.hummed[place] |= joint.servo.hums;
                let swing = &mut self.seen.swings[place];
                if let Some(at) = joint.servo.swung_at.filter(|at| *at >= began)
                    && swing.is_none_or(|(first, _)| first == at)
                {
                    *swing = Some((at, joint.servo.swung_deg));
                }
            }
        }
    }

    /// What an entry confirms, for the watch.
    fn confirm(&mut self, what: &What) {
        let Some(name) = what.joint() else {
            return;
        };
        let place = place(&name.leg, name.kind);
        let watch = &mut self.bench.watch;
        match what {
            What::Free { pulse_us, .. } => watch.freed(place, *pulse_us),
            // Drawn in from what was called free on the way.
            What::Bounds {
                low_us, high_us, ..
            } => watch.confirm(place, (*low_us, *high_us)),
            What::ServoReplaced { .. }
            | What::StartOver {
                part: Part::Bounds, ..
            } => watch.confirm(place, (1500.0, 1500.0)),
            _ => {}
        }
    }

    /// No pulses any more.
    pub fn all_limp(&mut self) {
        let limp = self.bench.ask(Request::Limp { pins: Vec::new() });
        limp.expect("limp is never refused");
    }

    /// Rests of this joint are judged from now on: before that, plugs nudge it about the centre.
    pub fn judged(&mut self, at: JointRef) {
        let place = at.leg * 3 + at.kind.index();
        self.bench.watch.confirm(place, (1500.0, 1500.0));
    }
}

/// When everything is written down; the fit keeps it and weighs nothing by it.
pub const AT: &str = "2026-03-14T10:22:05Z";

fn request(ask: &Ask) -> Request {
    let input = |n: u8| Input::new(n).expect("an input");
    match ask.clone() {
        Ask::Wake { pin, pulse } => Request::Wake { pin, pulse },
        Ask::Go { ms, moves } => Request::Go { ms, moves },
        Ask::Peck {
            pin,
            pulse,
            hold_ms,
        } => Request::Peck {
            pin,
            pulse,
            hold_ms,
        },
        Ask::Limp { pins } => Request::Limp { pins },
        Ask::Guard { pin, low, high } => Request::Guard { pin, low, high },
        Ask::Slew { pin, us_per_s } => Request::Slew {
            pin: Some(pin),
            us_per_s,
        },
        Ask::Sense { inputs } => Request::Sense {
            inputs: inputs.into_iter().map(input).collect(),
        },
        Ask::Trip {
            input: n, mv: 0, ..
        } => Request::NoTrip(input(n)),
        Ask::Trip {
            input: n,
            mv,
            ms,
            pins,
        } => Request::Trip {
            input: input(n),
            mv,
            ms,
            act: Reflex::Limp(pins),
        },
    }
}
