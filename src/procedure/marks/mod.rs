//! Marks: this pulse puts this joint at this angle, read from both sides, with the take-up move that makes the side known.
//!
//! It moves inside the confirmed ground only; each target is reached from the recorded side over more than the play.

mod advice;
mod words;

#[cfg(test)]
mod tests;

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, LeftOut, Seat, Seen, leave_out, only_one, seats};
use super::words::{Answer, Scope, Step};
use crate::calibration::logbook::{JointName, MarkKind, Side, Tool, What};
use crate::estimate::Knowledge;
use crate::estimate::marks::{Fit, Unknown};
use crate::units::{Pin, Pulse};
use advice::{Advice, advice, fitted, not_told};

/// The take-up move, µs: about 3°, more than any play that leaves a joint usable.
const TAKE_UP_US: f64 = 30.0;

/// Where marks stand about the mid-travel pulse, degrees.
const ANGLES_DEG: [f64; 3] = [-45.0, 0.0, 45.0];

/// So many marks that disagree are no slips of a key.
const MANY: usize = 5;

/// µs/degree of a common servo, until this one's is known (common practice).
const COMMON_US_PER_DEG: f64 = 10.6;

/// The tools, in the order in which they are offered.
const TOOLS: [Tool; 4] = [Tool::Card, Tool::Gauge, Tool::Inclinometer, Tool::Edge];

#[derive(Debug, Clone, PartialEq)]
enum State {
    /// Limp; Enter wakes it at mid-travel.
    Ready,
    /// At mid-travel: which tool?
    Choose,
    /// The hands put the gauge in its place.
    Place,
    /// At a target: what does the gauge say?
    Asking,
    /// All targets were read: another one?
    More(Advice),
    Over,
}

/// The marks of some joints.
#[derive(Debug, Clone)]
pub struct MarksMind {
    seats: Vec<Seat>,
    /// The joint that it is about, where it is about one alone.
    only: Option<JointName>,
    at: usize,
    state: State,
    tool: Option<Tool>,
    placing: u64,
    next_placing: u64,
    targets: Vec<(Pulse, Side)>,
    /// Where the arrows brought the edge, when the tool is an edge.
    nudged: Option<Pulse>,
    step_us: f64,
    /// The hands were in the robot: count down before it moves.
    hands_in: bool,
    without_bounds: usize,
    left_out: LeftOut,
    /// What the marks of the present joint say.
    fit: Option<Fit>,
}

/// The machine that takes marks.
pub type Marks = Machine<MarksMind>;

impl Marks {
    /// The joints of this scope that lack marks; a joint that was named gets more.
    pub fn new(knowledge: &Knowledge, scope: Scope, bench: Bench) -> Marks {
        let named = matches!(scope, Scope::Joint(_));
        let next = knowledge.next_placing();
        Marks::from_seats(seats(knowledge, scope), next, named, bench)
    }

    pub(super) fn from_seats(
        mut seats: Vec<Seat>,
        next_placing: u64,
        named: bool,
        bench: Bench,
    ) -> Marks {
        let only = only_one(&seats);
        let left_out = leave_out(&mut seats);
        let all = seats.len();
        seats.retain(|it| it.ground.1.us() - it.ground.0.us() >= 4.0 * TAKE_UP_US);
        let without_bounds = all - seats.len();
        // A line that was typed or taken over stands until somebody asks for this joint.
        let stands = |it: &Seat| it.marks.is_empty() && it.line.is_some();
        seats.retain(|it| named || !(stands(it) || targets_left(it).is_empty()));
        let mut mind = MarksMind {
            seats,
            only,
            at: 0,
            state: State::Over,
            tool: None,
            placing: 0,
            next_placing,
            targets: Vec::new(),
            nudged: None,
            step_us: 8.0,
            hands_in: false,
            without_bounds,
            left_out,
            fit: None,
        };
        mind.begin();
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

/// All targets of a joint: three angles about mid-travel, each from both sides, with room for the take-up.
fn targets(seat: &Seat) -> Vec<(Pulse, Side)> {
    let scale = seat
        .line
        .map_or(COMMON_US_PER_DEG, |(_, scale)| scale.abs());
    let (low, high) = (
        seat.ground.0.us() + TAKE_UP_US,
        seat.ground.1.us() - TAKE_UP_US,
    );
    let mut pulses: Vec<Pulse> = ANGLES_DEG
        .iter()
        .filter_map(|deg| {
            let us = (Pulse::CENTRE.us() + deg * scale).round();
            Pulse::from_us(us.clamp(low, high))
        })
        .collect();
    pulses.dedup();
    let both = |p: Pulse| [(p, Side::Below), (p, Side::Above)];
    pulses.into_iter().flat_map(both).collect()
}

/// A target with the room that its take-up needs.
fn with_room(seat: &Seat, (pulse, side): (Pulse, Side)) -> (Pulse, Side) {
    let (low, high) = (
        seat.ground.0.us() + TAKE_UP_US,
        seat.ground.1.us() - TAKE_UP_US,
    );
    let inside = Pulse::from_us(pulse.us().clamp(low, high));
    (inside.unwrap_or(pulse), side)
}

/// The targets that no mark of this joint stands near.
fn targets_left(seat: &Seat) -> Vec<(Pulse, Side)> {
    let near = |p: Pulse, side: Side| {
        let close = |m: &Seen| (m.pulse_us - p.us()).abs() <= 40.0 && m.from == Some(side);
        seat.marks.iter().any(close)
    };
    let mut all = targets(seat);
    all.retain(|(p, side)| !near(*p, *side));
    all
}

/// What readings of a tool are good for.
fn kind(tool: Tool) -> MarkKind {
    match tool {
        Tool::Edge => MarkKind::Null,
        Tool::Card | Tool::Gauge => MarkKind::Absolute,
        Tool::Inclinometer => MarkKind::Difference,
    }
}

impl MarksMind {
    fn begin(&mut self) {
        self.nudged = None;
        self.hands_in = false;
        let Some(seat) = self.seats.get(self.at) else {
            self.state = State::Over;
            return;
        };
        self.targets = targets_left(seat);
        self.fit = fitted(seat).ok();
        self.state = State::Ready;
    }

    fn choose(&mut self, tool: Tool) {
        self.tool = Some(tool);
        if tool == Tool::Edge {
            // One angle, both sides: where the edge lies on both screw heads.
            let at = self.seats.get(self.at).and_then(|it| it.line);
            let zero = at.and_then(|(zero, _)| Pulse::from_us(zero));
            let zero = zero.unwrap_or(Pulse::CENTRE);
            self.targets = vec![(zero, Side::Below), (zero, Side::Above)];
        } else if self.targets.is_empty() {
            self.targets = self.seats.get(self.at).map(targets).unwrap_or_default();
        }
        self.state = State::Place;
        self.hands_in = true;
    }

    fn place(&mut self) -> Vec<What> {
        let (Some(seat), Some(tool)) = (self.seats.get(self.at), self.tool) else {
            return Vec::new();
        };
        self.placing = self.next_placing;
        self.next_placing += 1;
        self.state = State::Asking;
        vec![What::Placing {
            id: self.placing,
            joints: vec![seat.name.clone()],
            tool,
        }]
    }

    /// The present target, with the room that the take-up needs.
    fn target(&self) -> Option<(Pulse, Side)> {
        let (pulse, side) = *self.targets.first()?;
        let seat = self.seats.get(self.at)?;
        Some(with_room(seat, (self.nudged.unwrap_or(pulse), side)))
    }

    fn read(&mut self, angle_deg: f64) -> Vec<What> {
        let (Some((pulse, side)), Some(tool)) = (self.target(), self.tool) else {
            return Vec::new();
        };
        let placing = self.placing;
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        let seen = Seen {
            pulse_us: pulse.us(),
            from: Some(side),
            angle_deg,
            placing: Some(placing),
            by: kind(tool),
        };
        seat.marks.push(seen);
        let record = What::Mark {
            joint: seat.name.clone(),
            pulse_us: seen.pulse_us,
            from: seen.from,
            angle_deg,
            placing: seen.placing,
            by: seen.by,
        };
        self.fit = fitted(seat).ok();
        self.targets.remove(0);
        // From the other side the edge will lie a little off: begin where it lay.
        self.nudged = self.nudged.filter(|_| !self.targets.is_empty());
        if self.targets.is_empty() {
            self.state = State::More(advice(self.fit.as_ref(), seat.ground, kind(tool)));
        }
        vec![record]
    }

    fn another(&mut self) {
        let State::More(Advice {
            best: Some(best), ..
        }) = &self.state
        else {
            return;
        };
        if let Some(pulse) = Pulse::from_us(best.pulse_us.round()) {
            self.targets = vec![(pulse, best.from)];
        }
        if best.placing == Some(self.placing) {
            self.state = State::Asking;
        } else {
            self.state = State::Place;
            self.hands_in = true;
        }
    }

    /// What this gauge cannot tell at all, however often it is read: an inclinometer no zero, an edge no scale.
    fn other_gauge(&self) -> Option<Unknown> {
        let what = match kind(self.tool?) {
            MarkKind::Difference => Unknown::Middle,
            MarkKind::Null => Unknown::Scale,
            MarkKind::Absolute => return None,
        };
        not_told(self.fit.as_ref()?).find(|it| *it == what)
    }

    /// The mark that agrees least with the others, and by how much, if some few do not; many are no slips of a key.
    fn slip(&self) -> Option<(usize, f64)> {
        let fit = self.fit.as_ref()?;
        let off = |index: usize| Some((index, fit.residuals.get(index)?.off_by_deg));
        let doubted: Vec<(usize, f64)> = fit.doubted().filter_map(off).collect();
        let few = doubted.len() < MANY;
        let worst = doubted
            .into_iter()
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        worst.filter(|_| few)
    }

    fn next_joint(&mut self) {
        self.at += 1;
        self.begin();
    }

    fn nudge(&mut self, sign: f64) {
        if let Some((pulse, _)) = self.target() {
            self.nudged = Pulse::from_us(pulse.us() + sign * self.step_us);
        }
    }

    fn pin(&self) -> Option<Pin> {
        self.seats.get(self.at).and_then(|it| it.pin)
    }
}

impl Mind for MarksMind {
    fn step(&self, hand: &Hand) -> Step {
        self.say(hand)
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        use crate::calibration::logbook::Way;
        let helps = matches!(&self.state, State::More(it) if it.helps());
        let edge = self.tool == Some(Tool::Edge);
        match (&self.state, answer) {
            (State::Ready, Answer::Enter) => self.state = State::Choose,
            (State::Choose, Answer::Pick(k)) if *k < TOOLS.len() => self.choose(TOOLS[*k]),
            (State::Place, Answer::Enter) => return Turn::On(self.place()),
            (State::Asking, Answer::Value(deg)) if !edge && (-180.0..=180.0).contains(deg) => {
                return Turn::On(self.read(*deg));
            }
            (State::Asking, Answer::Enter) if edge => return Turn::On(self.read(0.0)),
            (State::Asking, Answer::Way(way)) if edge => {
                self.nudge(if *way == Way::Positive { 1.0 } else { -1.0 });
                return Turn::Same;
            }
            (State::Asking, Answer::Again) => return Turn::Same,
            (State::Asking, Answer::Finer) => {
                self.step_us = (self.step_us / 2.0).max(0.5);
                return Turn::Kept;
            }
            (State::Asking, Answer::Coarser) => {
                self.step_us = (self.step_us * 2.0).min(64.0);
                return Turn::Kept;
            }
            (State::More(_), Answer::Enter) if self.other_gauge().is_some() => {
                self.targets.clear();
                self.state = State::Choose;
            }
            (State::More(_), Answer::Enter) if self.slip().is_some() => {
                let (index, _) = self.slip().unwrap_or_default();
                let mark = self.seats.get(self.at).and_then(|it| it.marks.get(index));
                let target = mark.and_then(|it| {
                    Some((Pulse::from_us(it.pulse_us)?, it.from.unwrap_or(Side::Below)))
                });
                self.targets = target.into_iter().collect();
                self.state = State::Asking;
            }
            (State::More(_), Answer::Enter) if helps => self.another(),
            (State::More(_), Answer::Enter | Answer::None) => self.next_joint(),
            // The whole round once more, with the gauge left where it is.
            (State::More(_), Answer::Again) => {
                self.targets = self.seats.get(self.at).map(targets).unwrap_or_default();
                self.state = if edge { State::Choose } else { State::Asking };
            }
            (State::Over, Answer::Enter) => return Turn::Leave,
            _ => return Turn::Ignored,
        }
        Turn::On(Vec::new())
    }

    fn enter(&mut self, hand: &mut Hand) {
        let Some(pin) = self.pin() else {
            hand.park_mine();
            return;
        };
        let seat = &self.seats[self.at];
        let room = seat.room();
        hand.confirm(pin, seat.ground);
        match self.state {
            State::Ready | State::Over => hand.park_mine(),
            State::Choose => {
                hand.stand(pin, Pulse::CENTRE, room);
                hand.bell();
            }
            State::Place => hand.stand(pin, hand.pulse(pin).unwrap_or(Pulse::CENTRE), room),
            State::Asking => {
                let Some((pulse, side)) = self.target() else {
                    return;
                };
                let us = pulse.us() - side.sign() * TAKE_UP_US;
                let start = Pulse::from_us(us).unwrap_or(pulse);
                if std::mem::take(&mut self.hands_in) {
                    hand.count(pin);
                }
                hand.stand(pin, start, room);
                hand.travel(pin, start, pulse);
                hand.bell();
            }
            State::More(_) => {}
        }
    }
}
