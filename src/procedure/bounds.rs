//! Rough bounds: how far a joint may go, by eye, so that marks have room; the board guards them from here on.
//!
//! By eye, but by the same rule as the ends: outward it pecks, rests only where it was seen to be free,
//! and while the question stands well inside of that, so that a wrong "free" or two press nothing.

use super::hand::{Hand, WAITS_INSIDE_US};
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, LeftOut, Seat, all_have, leave_out, only_one, say_left_out, seats};
use super::words::{Answer, Detail, PeckNews, Picture, Scope, Step, Wants};
use crate::calibration::logbook::{End, JointName, What};
use crate::estimate::Knowledge;
use crate::units::Pulse;

/// How far from the centre is far enough, µs: ±45° of a servo with few µs/degree or many, and the take-up beside.
const REACH_US: f64 = 540.0;

/// A step outward, µs: about 1.2°.
const STEP_US: f64 = 12.0;

/// So far inside the last free pulse a peck begins, µs; with the step, what the board lets a peck do.
const LAG_US: f64 = 8.0;

/// Less than this on one side leaves no room for marks, µs: taken only when it is said twice.
const LITTLE_US: f64 = 150.0;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Enter begins with this side.
    Ready,
    /// A peck was made; was it free?
    Asking,
    /// Far enough was said where there is next to no room.
    Sure,
    /// It was free on neither side: that is no bounds.
    Nothing,
    Over,
}

/// The search for rough bounds of some joints.
#[derive(Debug, Clone)]
pub struct BoundsMind {
    seats: Vec<Seat>,
    /// The joint that it is about, where it is about one alone.
    only: Option<JointName>,
    at: usize,
    state: State,
    side: End,
    number: usize,
    free: Vec<Pulse>,
    left_out: LeftOut,
}

/// The machine that finds rough bounds.
pub type Bounds = Machine<BoundsMind>;

impl Bounds {
    /// The joints of this scope that have no bounds yet.
    pub fn new(knowledge: &Knowledge, scope: Scope, bench: Bench) -> Bounds {
        Bounds::from_seats(seats(knowledge, scope), bench)
    }

    pub(super) fn from_seats(mut seats: Vec<Seat>, bench: Bench) -> Bounds {
        let only = only_one(&seats);
        let left_out = leave_out(&mut seats);
        seats.retain(|it| !it.bounded && it.limits.is_none());
        let mut mind = BoundsMind {
            seats,
            only,
            at: 0,
            state: State::Ready,
            side: End::Far,
            number: 1,
            free: Vec::new(),
            left_out,
        };
        mind.begin();
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

impl BoundsMind {
    fn begin(&mut self) {
        self.side = End::Far;
        self.number = 1;
        self.free.clear();
        self.state = if self.at < self.seats.len() {
            State::Ready
        } else {
            State::Over
        };
    }

    fn edge(&self) -> Pulse {
        match (self.seats.get(self.at), self.side) {
            (None, _) => Pulse::CENTRE,
            (Some(seat), End::Near) => seat.ground.0,
            (Some(seat), End::Far) => seat.ground.1,
        }
    }

    fn set_edge(&mut self, edge: Pulse) {
        if let Some(seat) = self.seats.get_mut(self.at) {
            match self.side {
                End::Near => seat.ground.0 = edge.min(seat.ground.1),
                End::Far => seat.ground.1 = edge.max(seat.ground.0),
            }
        }
    }

    /// This far beyond the edge, at most to the reach.
    fn beyond(&self, us: f64) -> Pulse {
        let us = self.edge().us() + self.side.sign() * us;
        let centre = Pulse::CENTRE.us();
        Pulse::from_us(us.clamp(centre - REACH_US, centre + REACH_US)).unwrap_or(self.edge())
    }

    /// Where a peck begins.
    fn base(&self) -> Pulse {
        self.inward(LAG_US)
    }

    /// Where it waits between pecks.
    fn waits(&self) -> Pulse {
        self.inward(WAITS_INSIDE_US)
    }

    /// How much is free on this side, µs.
    fn room_us(&self) -> f64 {
        (self.edge().us() - Pulse::CENTRE.us()) * self.side.sign()
    }

    fn inward(&self, us: f64) -> Pulse {
        let at = self.beyond(-us);
        match self.seats.get(self.at) {
            Some(seat) => at.clamp(seat.ground.0, seat.ground.1),
            None => at,
        }
    }

    fn is_far_enough(&self) -> bool {
        self.room_us() >= REACH_US
    }

    /// The side is done: the other one, or what both say.
    fn end_side(&mut self) -> Vec<What> {
        self.number = 1;
        self.free.clear();
        if self.side == End::Far {
            self.side = End::Near;
            self.state = State::Ready;
            return if self.is_far_enough() {
                self.end_side()
            } else {
                Vec::new()
            };
        }
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        if seat.ground.0 == seat.ground.1 {
            self.state = State::Nothing;
            return Vec::new();
        }
        seat.bounded = true;
        let record = What::Bounds {
            joint: seat.name.clone(),
            low_us: seat.ground.0.us(),
            high_us: seat.ground.1.us(),
        };
        self.at += 1;
        self.begin();
        vec![record]
    }

    fn freed(&mut self) -> Vec<What> {
        let to = self.beyond(STEP_US);
        let Some(seat) = self.seats.get(self.at) else {
            return Vec::new();
        };
        let mut records = vec![What::Free {
            joint: seat.name.clone(),
            toward: self.side,
            pulse_us: to.us(),
        }];
        self.set_edge(to);
        self.free.push(to);
        self.number += 1;
        if self.is_far_enough() {
            records.extend(self.end_side());
        }
        records
    }

    /// It touched already, and the step before may have touched unseen.
    fn touched(&mut self) -> Vec<What> {
        let centre = Pulse::CENTRE;
        let back = self.beyond(-2.0 * STEP_US);
        self.set_edge(match self.side {
            End::Near => back.min(centre),
            End::Far => back.max(centre),
        });
        self.end_side()
    }

    fn words(&self, seat: &Seat, hand: &Hand) -> (&'static str, String, String, Wants) {
        let way = seat.pecks(self.side == End::Far);
        let (from, to) = (self.base(), self.beyond(STEP_US));
        let awake = seat.pin.is_some_and(|pin| hand.pulse(pin).is_some());
        match self.state {
            State::Ready => (
                "HANDS AWAY",
                format!(
                    "Enter: see how far {} may go, {way}. Hands away first.",
                    seat.name
                ),
                if awake {
                    format!("It moves to {from} µs, then pecks {way}. Space stops.")
                } else {
                    format!(
                        "It wakes at {} µs at full speed, then pecks {way}. Space stops.",
                        seat.wakes()
                    )
                },
                Wants::Enter,
            ),
            State::Asking if hand.is_busy() => (
                "HANDS AWAY",
                format!("Look: it pecks {from} → {to} µs, {way}, and comes back by itself."),
                "One step of about 1°. Is there room for one more? Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Sure => (
                "SO LITTLE ROOM?",
                format!(
                    "Only {:.0} µs are free {way}. Enter takes that. a pecks on.",
                    // No -0 on the screen.
                    self.room_us() + 0.0
                ),
                format!(
                    "Marks will have no room there. It waits at {} µs. Space stops.",
                    self.waits()
                ),
                Wants::Enter,
            ),
            State::Nothing => (
                "NOTHING IS FREE",
                format!(
                    "{} was free on neither side. Look at its horn. Enter: once more.",
                    seat.name
                ),
                "One free step on one side at least is needed for bounds. Space stops.".to_string(),
                Wants::Enter,
            ),
            _ => (
                "DID IT TOUCH?",
                "Did anything stop it? n no, go on. E it touched. Enter far enough.".to_string(),
                format!(
                    "It waits at {} µs. n: it pecks to {} µs, {way}. Space stops.",
                    self.waits(),
                    self.beyond(2.0 * STEP_US)
                ),
                Wants::FreeOrEnd { enough: true },
            ),
        }
    }
}

impl Mind for BoundsMind {
    fn step(&self, hand: &Hand) -> Step {
        let Some(seat) = self.seats.get(self.at) else {
            let mut step = Step::over(
                "Rough bounds",
                "BOUNDS ARE DONE",
                &all_have(self.only.as_ref(), "rough bounds"),
            );
            say_left_out(&mut step, self.left_out);
            return step;
        };
        let (big, next, second, wants) = self.words(seat, hand);
        let (edge, to) = (self.edge(), self.beyond(STEP_US));
        let pulse = seat.pin.and_then(|pin| hand.pulse(pin));
        let asking = self.state == State::Asking;
        let left = REACH_US - (edge.us() - Pulse::CENTRE.us()).abs();
        let about = self.number + (left / STEP_US).ceil() as usize - 1;
        Step {
            title: format!(
                "Rough bounds ── {}, {}",
                seat.title(),
                seat.pecks(self.side == End::Far)
            ),
            big,
            next,
            second,
            wrong: self.state == State::Nothing,
            wants,
            picture: Picture {
                joint: Some(seat.at),
                pin: seat.pin,
                pulse,
                ghost: asking.then_some(to),
                confirmed: Some(seat.ground),
                guard: seat.pin.and_then(|pin| hand.guard(pin)),
                detail: if asking {
                    Detail::Peck(PeckNews {
                        number: self.number,
                        about: Some(about),
                        from: self.base(),
                        edge,
                        to,
                        back: !hand.is_busy(),
                        free: self.free.iter().rev().take(3).rev().copied().collect(),
                        then: (self.beyond(2.0 * STEP_US) != to)
                            .then(|| self.beyond(2.0 * STEP_US)),
                        found: Vec::new(),
                        close: false,
                        trip: false,
                    })
                } else {
                    Detail::None
                },
            },
            lines: vec![
                format!("free {} to {} µs", seat.ground.0, seat.ground.1),
                format!("wanted {} to {} µs", 1500.0 - REACH_US, 1500.0 + REACH_US),
            ],
        }
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        match (self.state, answer) {
            (State::Ready, Answer::Enter) => {
                self.state = State::Asking;
                Turn::On(Vec::new())
            }
            (State::Asking, Answer::Free) => Turn::On(self.freed()),
            (State::Asking, Answer::End) => Turn::On(self.touched()),
            (State::Asking, Answer::Enter) if self.room_us() < LITTLE_US => {
                self.state = State::Sure;
                Turn::On(Vec::new())
            }
            (State::Asking | State::Sure, Answer::Enter) => Turn::On(self.end_side()),
            (State::Asking, Answer::Again) => Turn::Same,
            (State::Sure, Answer::Again) => {
                self.state = State::Asking;
                Turn::On(Vec::new())
            }
            (State::Nothing, Answer::Enter) => {
                self.begin();
                Turn::On(Vec::new())
            }
            (State::Over, Answer::Enter) => Turn::Leave,
            _ => Turn::Ignored,
        }
    }

    fn enter(&mut self, hand: &mut Hand) {
        let Some((seat, pin)) = self.seats.get(self.at).and_then(|it| Some((it, it.pin?))) else {
            hand.park_mine();
            return;
        };
        hand.park_others(pin);
        let (from, to) = (self.base(), self.beyond(STEP_US));
        match self.state {
            State::Asking => {
                hand.confirm(pin, seat.ground);
                let room = (to.us() - self.edge().us()).abs();
                hand.stand(
                    pin,
                    from,
                    match self.side {
                        End::Near => (room, 0.0),
                        End::Far => (0.0, room),
                    },
                );
                hand.peck(pin, from, to);
                hand.travel(pin, from, self.waits());
                hand.bell();
            }
            // Waiting for the other side, or after undo: inside what is free.
            State::Ready | State::Sure | State::Nothing => {
                hand.confirm(pin, seat.ground);
                if let Some(now) = hand.pulse(pin) {
                    hand.stand(pin, now, (0.0, 0.0));
                }
            }
            State::Over => hand.park_mine(),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calibration::model::{JointKind, Span};
    use crate::procedure::rig::{Rig, pin, random_walk, us};
    use crate::procedure::seat::samples::seat;
    use crate::procedure::words::Ask;
    use crate::units::Pin;

    const CENTRE: Span = (Pulse::CENTRE, Pulse::CENTRE);

    fn rig(kinds: &[JointKind]) -> Rig<Bounds> {
        let seats: Vec<Seat> = kinds.iter().map(|kind| seat(*kind)).collect();
        let grounds: Vec<(Pin, Span)> = seats
            .iter()
            .filter_map(|s| Some((s.pin?, CENTRE)))
            .collect();
        Rig::new(Bounds::from_seats(seats, Bench::default()), &grounds)
    }

    #[test]
    fn free_all_the_way_both_sides_end_by_themselves() {
        let mut rig = rig(&[JointKind::Femur]);
        let mut keys = 0;
        while rig.step().wants != Wants::Over {
            match rig.step().wants {
                Wants::FreeOrEnd { enough: true } => rig.say(Answer::Free),
                _ => rig.say(Answer::Enter),
            };
            keys += 1;
            assert!(keys < 200);
        }
        assert_eq!(keys, 2 * 45 + 2);
        let done = "Enter leaves: LF femur has its rough bounds.";
        assert_eq!(rig.step().next, done);
        let Some(What::Bounds {
            low_us, high_us, ..
        }) = rig.book.last()
        else {
            panic!("bounds were recorded: {:?}", rig.book.last());
        };
        assert_eq!((*low_us, *high_us), (960.0, 2040.0));
        assert_eq!(rig.pins[&pin(23)].reached, (us(960.0), us(2040.0)));
        assert_eq!(rig.awake(), []);
        // Back at its mid-travel before it went limp: it stands in no other joint's way.
        let last: Vec<&Ask> = rig.asked.iter().rev().take(2).collect();
        assert!(
            matches!(
                last[..],
                [Ask::Limp { .. }, Ask::Go { moves, .. }] if *moves == [(pin(23), Pulse::CENTRE)]
            ),
            "{last:?}"
        );
    }

    #[test]
    fn nothing_free_on_either_side_is_no_bounds_and_begins_again() {
        let mut rig = rig(&[JointKind::Femur]);
        // Far enough at the first peck, said twice, and a touch at the first peck of the other side.
        rig.say(Answer::Enter).say(Answer::Enter);
        assert!(rig.step().next.starts_with("Only 0 µs are free"));
        rig.say(Answer::Enter).say(Answer::Enter).say(Answer::End);
        let step = rig.step();
        assert_eq!(step.big, "NOTHING IS FREE");
        assert!(step.wrong && rig.book.is_empty(), "{:?}", rig.book);
        rig.say(Answer::Enter);
        assert_eq!(rig.step().big, "HANDS AWAY");
        rig.say(Answer::Enter).say(Answer::Free).say(Answer::End);
        rig.say(Answer::Enter).say(Answer::Free);
        assert_eq!(rig.step().big, "DID IT TOUCH?");
    }

    #[test]
    fn a_touch_takes_the_bound_two_steps_inside_what_was_free() {
        let mut rig = rig(&[JointKind::Femur]);
        rig.say(Answer::Enter);
        for _ in 0..10 {
            rig.say(Answer::Free);
        }
        // It rests inside of what was free: were it wrong, nothing would press.
        assert_eq!(rig.pins[&pin(23)].pulse, Some(us(1580.0)));
        // Free to 1620, touched at 1632: the bound is 1596.
        rig.say(Answer::End);
        assert_eq!(rig.pins[&pin(23)].pulse, Some(us(1580.0)));
        assert_eq!(rig.pins[&pin(23)].guard, (us(1500.0), us(1596.0)));
        assert_eq!(
            rig.step().wants,
            Wants::Enter,
            "the other side waits for a hand"
        );
        rig.say(Answer::Enter).say(Answer::Free).say(Answer::Enter);
        // So little is taken only when it is said twice.
        let step = rig.step();
        assert_eq!((step.big, &step.wants), ("SO LITTLE ROOM?", &Wants::Enter));
        assert!(
            step.next.starts_with("Only 12 µs are free"),
            "{}",
            step.next
        );
        rig.say(Answer::Again);
        assert_eq!(rig.step().wants, Wants::FreeOrEnd { enough: true });
        rig.say(Answer::Enter).say(Answer::Enter);
        let Some(What::Bounds {
            low_us, high_us, ..
        }) = rig.book.last()
        else {
            panic!("bounds were recorded");
        };
        assert_eq!((*low_us, *high_us), (1488.0, 1596.0));
    }

    #[test]
    fn undo_takes_a_free_step_back() {
        let mut rig = rig(&[JointKind::Femur]);
        rig.say(Answer::Enter).say(Answer::Free);
        let before = rig.step();
        rig.say(Answer::Free).say(Answer::Undo);
        assert_eq!(rig.step(), before);
        assert_eq!(rig.book.len(), 1);
        assert_eq!(rig.pins[&pin(23)].pulse, Some(us(1500.0)));
    }

    #[test]
    fn a_joint_without_a_plug_is_not_called_done() {
        let mut it = seat(JointKind::Femur);
        it.pin = None;
        let step = Rig::new(Bounds::from_seats(vec![it], Bench::default()), &[]).step();
        assert!(
            step.wrong && step.next.contains("find the plugs first"),
            "{step:?}"
        );
    }

    proptest! {
        #[test]
        fn whatever_is_answered_nothing_rests_beyond_what_was_confirmed(
            answers in proptest::collection::vec(any::<u8>(), 0..120),
            mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..6),
        ) {
            let seats = vec![seat(JointKind::Femur), seat(JointKind::Tibia)];
            let grounds: Vec<_> = seats.iter().filter_map(|s| Some((s.pin?, CENTRE))).collect();
            random_walk(Bounds::from_seats(seats, Bench::default()), &grounds, &answers, &mishaps);
        }
    }
}
