//! Where the mechanism ends: pecks, one fine step out and back by the board's own clock, then the question.
//!
//! While the question stands the joint rests one step inside the last free pulse, so that a wrong "free" presses nothing.
//! It never walks on by Enter, and never rests outward of what was said to be free.

mod margin;
mod words;

use margin::{guard, limits};
use words::summary;

use super::hand::{Hand, STEP_MOST_US};
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, MARGIN_US, Seat, seats};
use super::words::{Answer, Ask, Detail, Picture, Scope, Step};
use crate::calibration::logbook::{End, EndKind, Neighbour, What, Why};
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

/// The search for the ends of some joints.
#[derive(Debug, Clone)]
pub struct EndsMind {
    seats: Vec<Seat>,
    bench: Bench,
    at: usize,
    state: State,
    side: End,
    /// Where the joint rests between pecks.
    base: Pulse,
    to: Pulse,
    step_us: f64,
    number: usize,
    free: Vec<Pulse>,
    why: Option<Why>,
    /// Sides at which the board's own 500 or 2500 µs came before any end.
    open: [bool; 2],
}

/// The machine that finds ends.
pub type Ends = Machine<EndsMind>;

impl Ends {
    /// The ends that are missing in this scope, the first joint first.
    pub fn new(knowledge: &Knowledge, scope: Scope, bench: Bench) -> Ends {
        Ends::from_seats(seats(knowledge, scope), bench)
    }

    pub(super) fn from_seats(mut seats: Vec<Seat>, bench: Bench) -> Ends {
        seats.retain(|seat| seat.pin.is_some());
        let hand = Hand::new(&bench.awake);
        let mut mind = EndsMind {
            seats,
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
            open: [false; 2],
        };
        mind.next_work();
        Machine::of(mind, hand)
    }
}

impl EndsMind {
    fn seat(&self) -> Option<&Seat> {
        self.seats.get(self.at)
    }

    /// Goes to the first joint and side at which something is missing.
    fn next_work(&mut self) {
        while let Some(seat) = self.seats.get(self.at) {
            let missing = [End::Far, End::Near]
                .into_iter()
                .find(|side| seat.ends[side.index()].len() < TIMES && !self.open[side.index()]);
            match missing {
                Some(side) => {
                    self.begin_side(side);
                    self.state = State::Ready;
                    return;
                }
                None if seat.limits.is_none() => {
                    self.state = State::Margin;
                    return;
                }
                None => {
                    self.at += 1;
                    self.open = [false; 2];
                }
            }
        }
        self.state = State::Over;
    }

    fn begin_side(&mut self, side: End) {
        self.side = side;
        self.number = 0;
        self.free.clear();
        let index = side.index();
        let seat = self.seats.get(self.at);
        self.why = seat.and_then(|seat| seat.whys[index]);
        let again = seat.is_some_and(|seat| !seat.ends[index].is_empty());
        self.step_us = if again { AGAIN_US } else { STEP_US };
        self.aim();
    }

    fn edge(&self) -> Pulse {
        match (self.seat(), self.side) {
            (None, _) => Pulse::CENTRE,
            (Some(seat), End::Near) => seat.ground.0,
            (Some(seat), End::Far) => seat.ground.1,
        }
    }

    fn outward(&self, from: Pulse, us: f64) -> Pulse {
        let us = from.us() + self.side.sign() * us;
        Pulse::from_us(us.clamp(Pulse::MIN.us(), Pulse::MAX.us())).unwrap_or(from)
    }

    /// The next peck: a step beyond the last free pulse, from a rest that lies inside it.
    fn aim(&mut self) {
        self.number += 1;
        let edge = self.edge();
        let lag = self.step_us.min(STEP_MOST_US - self.step_us);
        self.base = self.outward(edge, -lag);
        self.to = self.outward(edge, self.step_us);
    }

    fn freed(&mut self) -> Turn {
        let (to, side) = (self.to, self.side);
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Turn::Ignored;
        };
        match side {
            End::Near => seat.ground.0 = seat.ground.0.min(to),
            End::Far => seat.ground.1 = seat.ground.1.max(to),
        }
        let record = What::Free {
            joint: seat.name.clone(),
            toward: side,
            pulse_us: to.us(),
        };
        self.free.push(to);
        if to == Pulse::MIN || to == Pulse::MAX {
            self.open[side.index()] = true;
            self.next_work();
        } else {
            self.aim();
        }
        Turn::On(vec![record])
    }

    /// An end between the last free pulse and the peck's farthest.
    fn found(&mut self, by: EndKind, hand: &Hand) -> Vec<What> {
        let end_us = (self.edge().us() + self.to.us()) / 2.0;
        let (side, why) = (self.side, self.why);
        let others = self.others(hand);
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        let mut records = vec![What::End {
            joint: seat.name.clone(),
            toward: side,
            pulse_us: end_us,
            by,
            why,
            others,
        }];
        seat.ends[side.index()].push(end_us);
        // Back from it, and nearer steps for the spread.
        let back = |p: Pulse, us: f64| Pulse::from_us(p.us() - side.sign() * us).unwrap_or(p);
        let ground = &mut seat.ground;
        match side {
            End::Near => ground.0 = back(ground.0, 2.0 * STEP_US).min(ground.1),
            End::Far => ground.1 = back(ground.1, 2.0 * STEP_US).max(ground.0),
        }
        self.step_us = AGAIN_US;
        if seat.ends[side.index()].len() < TIMES {
            self.aim();
            self.state = State::Asking;
        } else {
            let bounds = guard(seat, MARGIN_US, self.open);
            // From now on the ground ends where the guard does.
            seat.ground = (seat.ground.0.max(bounds.0), seat.ground.1.min(bounds.1));
            records.push(What::Guard {
                joint: seat.name.clone(),
                low_us: bounds.0.us(),
                high_us: bounds.1.us(),
            });
            self.next_work();
        }
        records
    }

    fn bounded(&mut self, margin: f64) -> Vec<What> {
        let open = self.open;
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        let limits = limits(seat, margin, open);
        let fence = guard(seat, margin, open);
        seat.limits = Some(limits);
        let records = vec![
            What::Limits {
                joint: seat.name.clone(),
                margin_us: margin,
                low_us: limits.0.us(),
                high_us: limits.1.us(),
            },
            What::Guard {
                joint: seat.name.clone(),
                low_us: fence.0.us(),
                high_us: fence.1.us(),
            },
        ];
        self.next_work();
        records
    }

    fn pin(&self) -> Pin {
        self.seat().and_then(|seat| seat.pin).unwrap_or(Pin::FIRST)
    }

    fn others(&self, hand: &Hand) -> Vec<Neighbour> {
        let name = |pin| self.seats.iter().find(|s| s.pin == Some(pin));
        hand.others(self.pin())
            .into_iter()
            .filter_map(|(pin, pulse)| {
                Some(Neighbour {
                    joint: name(pin)?.name.clone(),
                    pulse_us: pulse.us(),
                })
            })
            .collect()
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
        Step {
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
        }
    }

    fn answer(&mut self, answer: &Answer, hand: &Hand) -> Turn {
        match (self.state, answer) {
            (State::Ready, Answer::Enter) => {
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
        let Some(pin) = self.seat().and_then(|seat| seat.pin) else {
            hand.limp_mine();
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
                if let Some(it) = self.bench.sensor {
                    hand.once(Ask::Trip {
                        input: it.input,
                        mv: it.mv,
                        ms: it.ms,
                        pins: vec![pin],
                    });
                }
                hand.stand(pin, self.base, room);
                hand.peck(pin, self.base, self.to);
                hand.bell();
            }
            // It hangs back while the builder thinks; a joint that tripped stays limp.
            State::Cause(_) if hand.pulse(pin).is_some() => {
                hand.confirm(pin, ground);
                hand.stand(pin, self.outward(self.base, -2.0 * STEP_US), (0.0, 0.0));
            }
            State::Cause(_) => {}
            // Before the other side it waits where it is; another joint goes limp first.
            State::Ready if hand.pulse(pin).is_some() => {
                hand.confirm(pin, ground);
                hand.limp_others(pin);
                hand.stand(pin, self.outward(self.base, -2.0 * STEP_US), (0.0, 0.0));
            }
            State::Ready | State::Margin | State::Over => hand.limp_mine(),
        }
    }

    fn tripped(&mut self, hand: &Hand) -> Turn {
        if self.state != State::Asking {
            return Turn::Ignored;
        }
        if self.why.is_none() {
            self.state = State::Cause(EndKind::Trip);
            return Turn::On(Vec::new());
        }
        let records = self.found(EndKind::Trip, hand);
        if self.state == State::Asking {
            self.state = State::Ready;
        }
        Turn::On(records)
    }
}

#[cfg(test)]
mod tests;
