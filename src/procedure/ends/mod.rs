//! Where the mechanism ends: pecks, one fine step out and back by the board's own clock, then the question.
//!
//! While the question stands the joint waits well inside the last free pulse, so that a wrong "free" or two press nothing,
//! however long the builder thinks.
//! It never walks on by Enter, and never rests outward of what was said to be free.

mod margin;
mod search;
mod words;

use words::summary;

use super::hand::{Hand, STEP_MOST_US, WAITS_INSIDE_US};
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, LeftOut, Seat, leave_out, only_one, say_left_out, seats};
use super::words::{Answer, Ask, Detail, Picture, Scope, Step};
use crate::calibration::logbook::{End, EndKind, JointName, Why};
use crate::estimate::Knowledge;
use crate::units::{Pin, Pulse};

/// A fine step, µs: about 0.8°.
const STEP_US: f64 = 8.0;

/// The step when an end is looked for again, µs.
const AGAIN_US: f64 = 4.0;

/// How often each end is found, for its spread.
const TIMES: usize = 3;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Limp; Enter begins at this side.
    Ready,
    /// A peck was made; was it free?
    Asking,
    /// An end was found; what was it?
    Cause(EndKind),
    /// Both sides are known; what margin?
    Margin,
    Over,
}

/// A joint that the board's trip made limp at its end: there it is in the way of its leg's others and of neighbour legs.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Hangs {
    at: usize,
    /// It tripped a moment ago, and the builder has said nothing since.
    fresh: bool,
}

/// The search for the ends of some joints.
#[derive(Debug, Clone)]
pub struct EndsMind {
    seats: Vec<Seat>,
    /// The joint that it is about, where it is about one alone.
    only: Option<JointName>,
    /// Which joint each pin drives, on the whole robot.
    names: Vec<(Pin, JointName)>,
    left_out: LeftOut,
    bench: Bench,
    at: usize,
    state: State,
    side: End,
    /// Where the peck begins; it waits farther inside.
    base: Pulse,
    to: Pulse,
    step_us: f64,
    number: usize,
    free: Vec<Pulse>,
    why: Option<Why>,
    /// Where the board's trip acted last, until the search goes on.
    tripped: Option<Pulse>,
    hangs: Option<Hangs>,
    /// Sides at which the board's own 500 or 2500 µs came before any end.
    open: [bool; 2],
}

/// So near that a peck and a drawing back lead from one to the other, and no hands were asked for anew.
fn is_near(a: Pulse, b: Pulse) -> bool {
    (a.us() - b.us()).abs() <= WAITS_INSIDE_US + STEP_MOST_US
}

/// The machine that finds ends.
pub type Ends = Machine<EndsMind>;

impl Ends {
    /// The ends that are missing in this scope, the first joint first; a joint that was named is searched
    /// even when limits were taken over for it.
    pub fn new(knowledge: &Knowledge, scope: Scope, bench: Bench) -> Ends {
        let named = matches!(scope, Scope::Joint(_));
        let mut ends = Ends::from_seats(seats(knowledge, scope), named, bench);
        // Any joint that is awake may be in the way, not only those whose ends are looked for.
        let all = seats(knowledge, Scope::Robot);
        let names = all.into_iter().filter_map(|it| Some((it.pin?, it.name)));
        ends.mind.names = names.collect();
        ends
    }

    pub(super) fn from_seats(mut seats: Vec<Seat>, named: bool, bench: Bench) -> Ends {
        let names = seats
            .iter()
            .filter_map(|it| Some((it.pin?, it.name.clone())));
        let names = names.collect();
        let only = only_one(&seats);
        let left_out = leave_out(&mut seats);
        seats.retain(|seat| named || seat.limits.is_none());
        for seat in &mut seats {
            if seat.ends.iter().any(|found| found.len() < TIMES) {
                seat.limits = None;
            }
        }
        let hand = Hand::new(&bench.awake);
        let mut mind = EndsMind {
            seats,
            only,
            names,
            left_out,
            bench,
            at: 0,
            state: State::Over,
            side: End::Near,
            base: Pulse::CENTRE,
            to: Pulse::CENTRE,
            step_us: STEP_US,
            number: 0,
            free: Vec::new(),
            why: None,
            tripped: None,
            hangs: None,
            open: [false; 2],
        };
        mind.next_work();
        Machine::of(mind, hand)
    }
}

impl Mind for EndsMind {
    fn step(&self, hand: &Hand) -> Step {
        let (big, next, second, wants) = self.words(hand);
        let seat = self.seat();
        let title = match seat {
            Some(seat) if self.state == State::Margin => format!("Ends ── {}", seat.title()),
            Some(seat) => format!("Ends ── {}, {} end", seat.title(), self.side.word()),
            None => "Ends".to_string(),
        };
        let mut lines = seat.map(summary).unwrap_or_default();
        let pin = seat.and_then(|seat| seat.pin);
        let pulse = pin.and_then(|pin| hand.pulse(pin));
        let asking = self.state == State::Asking;
        if let (true, Some(seat)) = (asking, seat) {
            lines.push(format!("out to {} µs{}", self.to, seat.degrees(self.to)));
        }
        let mut step = Step {
            title,
            big,
            next,
            second,
            wrong: false,
            wants,
            picture: Picture {
                joint: seat.map(|seat| seat.at),
                pin,
                pulse,
                ghost: asking.then_some(self.to),
                confirmed: seat.map(|seat| seat.ground),
                guard: pin.and_then(|pin| hand.guard(pin)),
                detail: if asking {
                    Detail::Peck(self.news(hand))
                } else {
                    Detail::None
                },
            },
            lines,
        };
        if self.state == State::Over {
            say_left_out(&mut step, self.left_out);
        }
        step
    }

    fn answer(&mut self, answer: &Answer, hand: &Hand) -> Turn {
        match (self.state, answer) {
            (State::Ready, Answer::Enter) => {
                self.tripped = None;
                self.state = State::Asking;
                Turn::On(Vec::new())
            }
            (State::Asking, Answer::Free) => self.freed(),
            (State::Asking, Answer::Again) => Turn::Same,
            (State::Asking, Answer::Finer) => {
                self.step_us = (self.step_us / 2.0).max(0.5);
                Turn::Kept
            }
            (State::Asking, Answer::Coarser) => {
                self.step_us = (self.step_us * 2.0).min(16.0);
                Turn::Kept
            }
            (State::Asking, Answer::End) if self.why.is_none() => {
                self.state = State::Cause(EndKind::Peck);
                Turn::On(Vec::new())
            }
            (State::Asking, Answer::End) => Turn::On(self.found(EndKind::Peck, hand)),
            (State::Cause(by), Answer::Pick(k)) => match Why::ALL.get(*k) {
                Some(why) => {
                    self.why = Some(*why);
                    Turn::On(self.found(by, hand))
                }
                None => Turn::Ignored,
            },
            (State::Margin, Answer::Value(margin)) if (10.0..=200.0).contains(margin) => {
                Turn::On(self.bounded(*margin))
            }
            (State::Over, Answer::Enter) => Turn::Leave,
            _ => Turn::Ignored,
        }
    }

    fn enter(&mut self, hand: &mut Hand) {
        self.lead_home(hand);
        let Some(pin) = self.seat().and_then(|seat| seat.pin) else {
            hand.park_mine();
            return;
        };
        let ground = self.seats[self.at].ground;
        match self.state {
            State::Asking => {
                hand.confirm(pin, ground);
                let room = (self.to.us() - self.edge().us()).abs();
                let room = match self.side {
                    End::Near => (room, 0.0),
                    End::Far => (0.0, room),
                };
                if let (Some(it), None) = (self.bench.sensor, hand.pulse(pin)) {
                    // What stands from before a stop, or from another joint, would take the jump for an end.
                    hand.no_trip(it.input);
                }
                match hand.pulse(pin) {
                    Some(here) if !is_near(here, self.base) => {
                        hand.stand_counted(pin, self.base, room);
                    }
                    _ => hand.stand(pin, self.base, room),
                }
                // Not before it stands: a servo that jumps to its first pulse draws as much as one that is pressed.
                if let Some(it) = self.bench.sensor {
                    hand.once(Ask::Trip {
                        input: it.input,
                        mv: it.mv,
                        ms: it.ms,
                        pins: vec![pin],
                    });
                }
                hand.peck(pin, self.base, self.to);
                hand.travel(pin, self.base, self.waits());
                hand.bell();
            }
            // It hangs back while the builder thinks; a joint that tripped stays limp.
            State::Cause(_) if hand.pulse(pin).is_some() => {
                hand.confirm(pin, ground);
                hand.stand(pin, self.waits(), (0.0, 0.0));
            }
            State::Cause(_) => {}
            // Before the other side it waits where it is; another joint goes limp first.
            State::Ready if hand.pulse(pin).is_some() => {
                hand.confirm(pin, ground);
                hand.park_others(pin);
                let back = self.waits();
                let here = hand.pulse(pin).unwrap_or(back);
                // Drawn back from an end just found, but not led through its travel before Enter says so.
                let rests = if is_near(here, back) { back } else { here };
                hand.stand(pin, rests, (0.0, 0.0));
            }
            State::Ready | State::Margin | State::Over => hand.park_mine(),
        }
    }

    fn tripped(&mut self, hand: &Hand) -> Turn {
        if self.state != State::Asking {
            return Turn::Ignored;
        }
        self.hangs = Some(Hangs {
            at: self.at,
            fresh: true,
        });
        if self.why.is_none() {
            self.state = State::Cause(EndKind::Trip);
            return Turn::On(Vec::new());
        }
        self.tripped = Some(self.to);
        let records = self.found(EndKind::Trip, hand);
        if self.state == State::Asking {
            self.state = State::Ready;
        }
        Turn::On(records)
    }
}

#[cfg(test)]
mod tests;
