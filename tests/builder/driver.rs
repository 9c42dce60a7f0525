//! Does what a step machine wants done, as the console does, and lets the builder answer.

use std::cell::RefCell;
use std::rc::Rc;

use hornset::board::{Against, Done, Hands, Input, Reflex, Request, Sight};
use hornset::calibration::logbook::{Logbook, Part, Plan, What};
use hornset::calibration::model::JointRef;
use hornset::calibration::{MARRAM, read};
use hornset::estimate::{Knowledge, knowledge};
use hornset::practice::{Settings, Truth};
use hornset::procedure::{Answer, Ask, Do, Heard, Procedure, Step, Wants};
use hornset::units::Pulse;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::bench::Bench;
use crate::person::{Act, Person, index, place};

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

/// When the host dies.
#[derive(Debug, Clone, Copy)]
pub struct Death {
    /// In a peck to larger pulses, or to smaller ones.
    pub larger: bool,
    /// So long after that peck has begun to press, ms.
    pub after_ms: u32,
}

/// What he does in the middle of the work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Strays {
    No,
    /// He leaves, and begins the same work anew.
    Leaves,
    /// He takes his last answer back.
    Undoes,
}

/// He strays at one answer in so many.
const ONE_IN: u32 = 40;

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
    /// Where the host dies; nothing is done after that.
    pub dies: Option<Death>,
    /// The inputs on which a trip was put.
    armed: Vec<Input>,
    /// He strays from the work that can be taken up again.
    pub strays: Strays,
    luck: ChaCha8Rng,
    /// How often he left, took back, and how often the board's trip acted.
    pub left: usize,
    pub undone: usize,
    pub trips: usize,
    /// The entries that a machine made and may take back.
    standing: Vec<u64>,
    /// The error of the placing of each mark that stands, by place; and of the present placing.
    pub mark_errors: [Vec<f64>; 18],
    placing: f64,
    /// His last answer can be taken back and given again.
    mild: bool,
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
            dies: None,
            armed: Vec::new(),
            strays: Strays::No,
            luck: ChaCha8Rng::seed_from_u64(seed ^ 0x5712_A135),
            left: 0,
            undone: 0,
            trips: 0,
            standing: Vec::new(),
            mark_errors: Default::default(),
            placing: 0.0,
            mild: false,
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
    pub fn work(&mut self, machine: impl Procedure) {
        self.person.forgets();
        self.through(machine, Strays::No);
    }

    /// The same, but he may stray: a machine that was left is made anew from what is known by then.
    pub fn lead<P: Procedure>(&mut self, make: impl Fn(&Knowledge) -> P) {
        self.person.forgets();
        while self.through(make(&self.known()), self.strays) {}
    }

    /// Leads the builder through one machine; true if he left in the middle.
    fn through(&mut self, mut machine: impl Procedure, strays: Strays) -> bool {
        self.person.begin();
        self.seen = Seen {
            began: self.bench.look().seconds,
            ..Seen::default()
        };
        self.standing.clear();
        self.mild = false;
        let first = machine.begin(self.bench.world.ms());
        self.perform(&mut machine, first);
        for _ in 0..5000 {
            if machine.is_over() || self.dead {
                return false;
            }
            let step = machine.step();
            self.bench.watch.doing = format!("{}, {}", step.title, step.big);
            if let Some(answer) = self.strays_now(strays, &step) {
                self.answers += 1;
                self.fresh = true;
                let todo = machine.answer(&answer, self.bench.world.ms());
                self.perform(&mut machine, todo);
                if machine.is_over() {
                    return true;
                }
                continue;
            }
            let act = self.person.answers(&step, &self.seen, &self.bench.look());
            // What hands did they do once; and rounds of marks he counts.
            self.mild = !matches!(act, Act::ByHand(_)) && step.wants != Wants::YesNo;
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
                    if let (true, Some(at)) = (step.title.starts_with("Marks"), step.picture.joint)
                    {
                        self.placing = placing_error(&mut self.bench, at);
                    }
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

    /// What he does instead of an answer, if it comes over him now.
    fn strays_now(&mut self, strays: Strays, step: &Step) -> Option<Answer> {
        if strays == Strays::No || matches!(step.wants, Wants::Wait | Wants::Over) {
            return None;
        }
        let now = self.luck.random_ratio(1, ONE_IN);
        match strays {
            Strays::Leaves if now => {
                self.left += 1;
                Some(Answer::Leave)
            }
            // Once: then he gives the same answer again.
            Strays::Undoes if now && std::mem::take(&mut self.mild) => {
                self.undone += 1;
                Some(Answer::Undo)
            }
            _ => None,
        }
    }

    fn perform(&mut self, machine: &mut impl Procedure, todo: Vec<Do>) {
        let mut queue: std::collections::VecDeque<Do> = todo.into();
        while let (Some(it), false) = (queue.pop_front(), self.dead) {
            match it {
                Do::Bell | Do::Left => {}
                Do::Count(seconds) => self.bench.run(u32::from(seconds) * 1000),
                Do::Record(what) => {
                    self.confirm(&what);
                    if let What::Mark { joint, .. } = &what {
                        self.mark_errors[place(&joint.leg, joint.kind)].push(self.placing);
                    }
                    let n = self.book.append(&[what], AT).expect("a sound entry");
                    self.standing.push(n);
                    queue.extend(machine.heard(&Heard::Recorded(n), self.bench.world.ms()));
                }
                Do::Undo => self.take_back(),
                Do::Ask(ask) => {
                    for heard in self.ask(&ask) {
                        queue.extend(machine.heard(&heard, self.bench.world.ms()));
                    }
                }
            }
        }
    }

    /// The last entry that stands no longer counts.
    fn take_back(&mut self) {
        let entry = self.standing.pop().expect("it made one");
        self.book
            .append(&[What::Undo { entry }], AT)
            .expect("a sound entry");
        let of = |n: u64| self.book.entries().iter().find(|it| it.n == n);
        let what = of(entry).expect("it is there").what.clone();
        let Some(name) = what.joint() else { return };
        let at = place(&name.leg, name.kind);
        if matches!(what, What::Mark { .. }) {
            self.mark_errors[at].pop();
        }
        let confirms = matches!(
            what,
            What::Free { .. } | What::Bounds { .. } | What::StartOver { .. }
        );
        if !confirms {
            return;
        }
        // What is confirmed is what the entries that stand say, in their order.
        let undone = |n: u64| {
            let mut entries = self.book.entries().iter();
            entries.any(|it| it.what == What::Undo { entry: n })
        };
        let stand: Vec<What> = self
            .book
            .entries()
            .iter()
            .filter(|it| it.what.joint() == Some(name) && !undone(it.n))
            .map(|it| it.what.clone())
            .collect();
        self.bench.watch.confirm(at, (1500.0, 1500.0));
        for what in &stand {
            self.confirm(what);
        }
    }

    /// Asks the board and waits until the motion has settled.
    fn ask(&mut self, ask: &Ask) -> Vec<Heard> {
        let moves = matches!(ask, Ask::Wake { .. } | Ask::Go { .. } | Ask::Peck { .. });
        if moves && std::mem::take(&mut self.fresh) {
            self.seen.began = self.bench.look().seconds;
        }
        if let Ask::Trip { input, mv: 1.., .. } = ask {
            self.armed = vec![Input::new(*input).expect("an input")];
        }
        let larger = match ask {
            Ask::Peck { pin, pulse, .. } => self.bench.pulse_us(*pin) < Some(pulse.us()),
            _ => false,
        };
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
                if self.bench.take_tripped() {
                    heard.push(Heard::Tripped);
                    return heard;
                }
                // A nudge comes back to the centre: what is to be seen is the way out.
                if moves.iter().any(|(_, pulse)| *pulse != Pulse::CENTRE) {
                    self.seen.outward = Some(self.bench.look());
                }
                heard.push(Heard::Settled);
            }
            (Ask::Peck { hold_ms, .. }, _) => {
                self.watch_peck(hold_ms + PECK_FRAMES_MS + REST_MS, larger);
                self.seen.outward = Some(self.bench.look());
                heard.push(if self.bench.take_tripped() {
                    self.trips += 1;
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
    fn watch_peck(&mut self, ms: u32, larger: bool) {
        let began = self.bench.look().seconds;
        self.seen.against = vec![None; 18];
        self.seen.hummed = vec![false; 18];
        self.seen.swings = vec![None; 18];
        for _ in 0..ms / 40 {
            self.bench.run(40);
            let presses = |truth: &Truth| truth.joints.iter().any(|it| it.presses);
            if let Some(death) = self.dies.filter(|it| it.larger == larger)
                && presses(&self.bench.world.truth())
            {
                self.bench.run(death.after_ms);
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

    /// A trip stands until the page is left: then the console takes it off.
    pub fn no_trip(&mut self) {
        for ask in std::mem::take(&mut self.armed) {
            let off = self.bench.ask(Request::NoTrip(ask));
            off.expect("it is taken off");
        }
    }

    /// The host has died.
    pub fn is_dead(&self) -> bool {
        self.dead
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

/// How often the judge reads the gauge to learn the error of its placing, which nobody else can know.
const READS: u32 = 400;

/// What the gauge reads too much in this placing: the mean of very many readings of an angle that is known.
fn placing_error(bench: &mut Bench, at: JointRef) -> f64 {
    let world = &mut bench.world;
    let truth = world.truth().joints[index(at)].deg;
    let sum: f64 = (0..READS)
        .map(|_| world.read_gauge().expect("it is there"))
        .sum();
    sum / f64::from(READS) - truth
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
        Ask::Silence { freeze_ms, limp_ms } => Request::Silence { freeze_ms, limp_ms },
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
