//! Which plug drives which joint: one pin at a time, a small nudge, and the builder says what moved and which way.
//!
//! The nudge is 1500 → 1540 → 1500, then limp. It ends in the shortest list of swaps, or in the wiring accepted as it is.

mod order;
mod words;

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::Bench;
use super::words::{Answer, Detail, Picture, PlugRow, Reaction, Scope, Step};
use crate::calibration::logbook::{Copper, Dead, JointName, Part, Way, What, Wire};
use crate::calibration::model::{JointRef, Robot};
use crate::estimate::Knowledge;
use crate::estimate::plugs::{Planned, Swap, Tried, Wiring, wiring};
use crate::units::{Pin, Pulse};
use words::Choice;

/// How far the nudge goes, µs.
const NUDGE: Pulse = Pulse::from_halves(3080);
/// See [`PlugsMind::offered`].
const FIRST_OFFERED: u8 = 22;

/// How long each half of it takes, ms: slow enough for an eye at 1.5 m.
const NUDGE_MS: u32 = 500;

#[derive(Debug, Clone, PartialEq)]
enum State {
    /// No plan says which pins: from which one on?
    From,
    /// And up to which one?
    To(Pin),
    /// Limp; Enter begins with the first pin that is not known.
    Ready,
    /// A pin was nudged; what moved?
    Asking(Said),
    /// It moved nothing though a joint is planned there: why?
    Why,
    /// The joint moved at another pin already: which of both is right? Nothing of it is recorded yet.
    Twice {
        said: Told,
        other: Pin,
    },
    /// All were asked.
    Found(Wiring),
    /// These plugs are to be exchanged by hand, one pair after the other.
    Exchange(Vec<Swap>),
    Over,
}

/// What the builder has said of the present pin so far.
#[derive(Debug, Clone, PartialEq, Default)]
struct Said {
    chosen: Option<JointRef>,
    way: Option<Way>,
    also: Vec<JointRef>,
    /// `+` was pressed: the next joint is another one.
    more: bool,
}

/// What was said of a pin, whole.
#[derive(Debug, Clone, PartialEq)]
struct Told {
    joint: JointRef,
    way: Way,
    also: Vec<JointRef>,
}

impl Told {
    fn reaction(self) -> Reaction {
        let Told { joint, way, also } = self;
        Reaction::Moved { joint, way, also }
    }
}

/// The search for the plugs.
#[derive(Debug, Clone)]
pub struct PlugsMind {
    robot: Robot,
    /// The joints that are to be found.
    scope: Vec<JointRef>,
    rows: Vec<PlugRow>,
    at: usize,
    state: State,
    /// The swaps were made: the pins are tried once more.
    exchanged: bool,
}

/// The machine that finds plugs.
pub type Plugs = Machine<PlugsMind>;

impl Plugs {
    /// The pins that are planned in this scope and these others, as far as they are not known; where a joint
    /// has no planned pin and was not found, the builder is asked which pins to try.
    pub fn new(knowledge: &Knowledge, scope: Scope, others: &[Pin], bench: Bench) -> Plugs {
        let robot = knowledge.robot.clone();
        let planned = |pin: Pin| {
            knowledge
                .joints
                .iter()
                .find(|it| it.planned_pin == Some(pin))
        };
        let in_scope = scope.joints(&robot);
        let mut pins: Vec<Pin> = in_scope
            .iter()
            .filter_map(|at| knowledge.joint(*at)?.planned_pin)
            .collect();
        // What was tried beside the plan, for these joints.
        let whole = scope == Scope::Robot;
        let tried = knowledge.plugs.iter().filter(|(_, plug)| {
            let joint = plug.joint.as_ref().and_then(|name| knowledge.named(name));
            joint.map_or(whole, |it| in_scope.contains(&it.at))
        });
        for pin in others.iter().chain(tried.map(|(pin, _)| pin)) {
            if !pins.contains(pin) {
                pins.push(*pin);
            }
        }
        let place = |name: &JointName| knowledge.named(name).map(|it| it.at);
        let found = |pin: Pin| match knowledge.plugs.get(&pin) {
            None => Reaction::Unknown,
            Some(plug) => match (plug.joint.as_ref().and_then(place), plug.way) {
                (Some(joint), Some(way)) => Reaction::Moved {
                    joint,
                    way,
                    also: plug.also.iter().filter_map(place).collect(),
                },
                _ => Reaction::Nothing,
            },
        };
        let row = |pin: Pin| PlugRow {
            pin,
            found: found(pin),
            planned: planned(pin).map(|it| it.at),
        };
        let rows = pins.into_iter().map(row).collect();
        Plugs::from_rows(robot, in_scope, rows, bench)
    }

    pub(super) fn from_rows(
        robot: Robot,
        scope: Vec<JointRef>,
        rows: Vec<PlugRow>,
        bench: Bench,
    ) -> Plugs {
        let mut mind = PlugsMind {
            robot,
            scope,
            rows,
            at: 0,
            state: State::Ready,
            exchanged: false,
        };
        match mind.unknown() {
            Some(at) => mind.at = at,
            None if !mind.lost().is_empty() => mind.state = State::From,
            None => mind.state = mind.found(),
        }
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

impl PlugsMind {
    fn unknown(&self) -> Option<usize> {
        self.rows
            .iter()
            .position(|row| row.found == Reaction::Unknown)
    }

    fn planned(&self, joint: JointRef) -> Option<Pin> {
        let row = self.rows.iter().find(|row| row.planned == Some(joint))?;
        Some(row.pin)
    }

    /// The rows at which this joint moved.
    fn moved(&self, joint: JointRef) -> impl Iterator<Item = &PlugRow> {
        self.rows.iter().filter(move |row| {
            matches!(&row.found, Reaction::Moved { joint: it, also, .. } if *it == joint || also.contains(&joint))
        })
    }

    /// Another pin than the present one at which this joint was the first that moved.
    fn other_pin(&self, joint: JointRef) -> Option<Pin> {
        let here = self.rows.get(self.at).map(|row| row.pin);
        let first = |row: &&PlugRow| {
            matches!(&row.found, Reaction::Moved { joint: it, .. } if *it == joint)
                && Some(row.pin) != here
        };
        self.rows.iter().find(first).map(|row| row.pin)
    }

    /// The pin that is nudged as soon as the present one is answered.
    pub(super) fn next_pin(&self) -> Option<Pin> {
        let open = |(at, row): &(usize, &PlugRow)| *at != self.at && row.found == Reaction::Unknown;
        self.rows
            .iter()
            .enumerate()
            .find(open)
            .map(|(_, row)| row.pin)
    }

    fn seen(&self, joint: JointRef) -> bool {
        self.moved(joint).next().is_some()
    }

    /// Where a joint without a plan was found, if no other joint is planned there: that is as good as a plan.
    fn free_home(&self, joint: JointRef) -> Option<Pin> {
        let row = self.moved(joint).find(|row| row.planned.is_none())?;
        Some(row.pin)
    }

    /// The joints that no plan gives a pin and no pin moved.
    fn lost(&self) -> Vec<JointRef> {
        let without = |at: &JointRef| self.robot.joint(*at).is_some_and(|it| it.pin.is_none());
        let mut lost = self.scope.clone();
        lost.retain(|at| without(at) && self.planned(*at).is_none() && !self.seen(*at));
        lost
    }

    /// Something was found that no plan had.
    fn is_new(&self) -> bool {
        let moved = |row: &PlugRow| matches!(row.found, Reaction::Moved { .. });
        self.rows
            .iter()
            .any(|row| row.planned.is_none() && moved(row))
    }

    /// All is as the plan has it, and there is a plan for all of it.
    fn as_planned(&self, it: &Wiring) -> bool {
        it.is_planned() && self.lost().is_empty() && !self.is_new()
    }

    /// The first pin that is offered: behind the last one that was tried, else where the double row of
    /// plain digital pins begins on common boards (common practice).
    fn offered(&self) -> Pin {
        let last = self.rows.iter().map(|row| row.pin.number()).max();
        let next = last.map_or(FIRST_OFFERED, |it| it.saturating_add(1));
        Pin::new(next).unwrap_or(Pin::FIRST)
    }

    /// Adds these pins to those that are tried.
    fn try_pins(&mut self, from: Pin, to: Pin) {
        for number in from.number()..=to.number() {
            let Ok(pin) = Pin::new(number) else { continue };
            if !self.rows.iter().any(|row| row.pin == pin) {
                self.rows.push(PlugRow {
                    pin,
                    found: Reaction::Unknown,
                    planned: self.robot.joint_of_pin(pin),
                });
            }
        }
        self.state = match self.unknown() {
            Some(at) => {
                self.at = at;
                State::Ready
            }
            None => self.found(),
        };
    }

    fn found(&self) -> State {
        if self.rows.is_empty() {
            return State::Over;
        }
        let tried = |row: &PlugRow| {
            let moved = match &row.found {
                Reaction::Unknown => return None,
                Reaction::Nothing => Vec::new(),
                Reaction::Moved { joint, also, .. } => {
                    let mut all = vec![*joint];
                    all.extend(also.iter().copied());
                    all
                }
            };
            Some(Tried {
                pin: row.pin,
                moved,
            })
        };
        let tried: Vec<Tried> = self.rows.iter().filter_map(tried).collect();
        let plan: Vec<Planned> = self
            .robot
            .joints()
            .filter(|(at, _)| self.seen(*at) || self.planned(*at).is_some())
            .filter_map(|(joint, it)| {
                let pin = self.planned(joint).or(it.pin);
                let pin = pin.or_else(|| self.free_home(joint))?;
                Some(Planned { joint, pin })
            })
            .collect();
        State::Found(wiring(&tried, &plan))
    }

    fn name(&self, at: JointRef) -> Option<JointName> {
        let leg = self.robot.legs.get(at.leg)?;
        Some(JointName::new(leg.name.clone(), at.kind))
    }

    /// Notes what this pin did, and goes on to the next one.
    fn note(&mut self, reaction: Reaction, why: Option<Dead>) -> Vec<What> {
        let Some(row) = self.rows.get_mut(self.at) else {
            return Vec::new();
        };
        row.found = reaction.clone();
        let pin = Copper(row.pin);
        let record = match reaction {
            Reaction::Moved { joint, way, also } => What::Plug {
                pin,
                joint: self.name(joint),
                way: Some(way),
                also: also.iter().filter_map(|at| self.name(*at)).collect(),
                why: None,
            },
            _ => What::Plug {
                pin,
                joint: None,
                way: None,
                also: Vec::new(),
                why,
            },
        };
        match self.unknown() {
            Some(at) => {
                self.at = at;
                self.state = State::Asking(Said::default());
            }
            None => self.state = self.found(),
        }
        vec![record]
    }

    /// Which of two pins drives the joint: this one, the other one, or both.
    fn settle(&mut self, k: usize) -> Turn {
        let State::Twice { said, other } = self.state.clone() else {
            return Turn::Ignored;
        };
        match k {
            // What the other pin was said to drive no longer counts, and it is asked about once more.
            0 => {
                let forget = self.name(said.joint).map(|joint| What::StartOver {
                    joint,
                    part: Part::Plug,
                });
                for row in self.rows.iter_mut().filter(|row| row.pin == other) {
                    row.found = Reaction::Unknown;
                }
                let told = self.note(said.reaction(), None);
                Turn::On(forget.into_iter().chain(told).collect())
            }
            1 => {
                self.state = State::Asking(Said::default());
                Turn::On(Vec::new())
            }
            2 => Turn::On(self.note(said.reaction(), None)),
            _ => Turn::Ignored,
        }
    }

    /// Asks for these pins once more.
    fn try_again(&mut self, pins: &[Pin]) {
        for row in &mut self.rows {
            if pins.contains(&row.pin) {
                row.found = Reaction::Unknown;
            }
        }
        self.state = match self.unknown() {
            Some(at) => {
                self.at = at;
                State::Ready
            }
            None => self.found(),
        };
    }

    fn decide(&mut self, choice: Choice, wiring: &Wiring) -> Turn {
        match choice {
            Choice::Exchange => {
                self.state = State::Exchange(wiring.swaps.clone());
                Turn::On(Vec::new())
            }
            Choice::Accept => {
                let wire = |(joint, pin): &(JointRef, Pin)| {
                    Some(Wire {
                        pin: Copper(*pin),
                        joint: self.name(*joint)?,
                    })
                };
                let wires = wiring.map.iter().filter_map(wire).collect();
                self.state = State::Over;
                Turn::On(vec![What::MapAccepted { wires }])
            }
            Choice::Again => {
                let silent = self.rows.iter().filter(|row| match &row.found {
                    Reaction::Moved { joint, also, .. } => {
                        !also.is_empty() || !wiring.map.iter().any(|(j, _)| j == joint)
                    }
                    _ => true,
                });
                let pins: Vec<Pin> = silent.map(|row| row.pin).collect();
                self.try_again(&pins);
                Turn::On(Vec::new())
            }
            Choice::Others => {
                self.state = State::From;
                Turn::On(Vec::new())
            }
        }
    }

    fn exchange(&mut self) -> Vec<What> {
        let State::Exchange(swaps) = &mut self.state else {
            return Vec::new();
        };
        let swap = swaps.remove(0);
        if swaps.is_empty() {
            // Every pin whose plug is not where it was tried.
            let moved: Vec<Pin> = self
                .rows
                .iter()
                .filter(|row| match &row.found {
                    Reaction::Moved { joint, .. } => row.planned != Some(*joint),
                    _ => true,
                })
                .map(|row| row.pin)
                .collect();
            self.exchanged = true;
            self.try_again(&moved);
        }
        vec![What::PlugsExchanged {
            pins: (Copper(swap.from), Copper(swap.to)),
        }]
    }
}

/// A typed number, if it is a pin's.
fn as_pin(number: f64) -> Option<Pin> {
    let whole = number.fract() == 0.0 && (0.0..=f64::from(u8::MAX)).contains(&number);
    Pin::new(whole.then_some(number as u8)?).ok()
}

impl Mind for PlugsMind {
    fn step(&self, hand: &Hand) -> Step {
        let (big, next, second, wants) = self.words(hand);
        let row = self.rows.get(self.at);
        let asking = matches!(
            self.state,
            State::Asking(_) | State::Why | State::Twice { .. }
        );
        let said = match &self.state {
            State::Asking(said) => said.clone(),
            _ => Said::default(),
        };
        let title = match row.filter(|_| asking) {
            Some(row) => format!(
                "Plugs ── pin {}, {} of {}",
                row.pin,
                self.at + 1,
                self.rows.len()
            ),
            None => "Plugs".to_string(),
        };
        let mut rows = self.rows.clone();
        rows.rotate_left(self.at.min(self.rows.len()));
        Step {
            title,
            big,
            next,
            second,
            wrong: match &self.state {
                State::Found(it) => !it.doubts.is_empty() || !self.lost().is_empty(),
                State::Twice { .. } => true,
                _ => false,
            },
            wants,
            picture: Picture {
                joint: said.chosen,
                pin: row.filter(|_| asking).map(|row| row.pin),
                pulse: row.and_then(|row| hand.pulse(row.pin)),
                ghost: None,
                confirmed: None,
                guard: row.and_then(|row| hand.guard(row.pin)),
                detail: Detail::Plugs {
                    at: self.at + 1,
                    of: self.rows.len(),
                    chosen: said.chosen,
                    way: said.way,
                    also: said.also,
                    rows,
                },
            },
            lines: self.lines(),
        }
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        match (&mut self.state, answer) {
            (State::From, Answer::Value(number)) => match as_pin(*number) {
                Some(from) => {
                    self.state = State::To(from);
                    Turn::On(Vec::new())
                }
                None => Turn::Ignored,
            },
            (State::To(from), Answer::Value(number)) => {
                let from = *from;
                match as_pin(*number).filter(|to| *to >= from) {
                    Some(to) => {
                        self.try_pins(from, to);
                        Turn::On(Vec::new())
                    }
                    None => Turn::Ignored,
                }
            }
            // No more pins: what was found is what there is.
            (State::From, Answer::None) if !self.rows.is_empty() => {
                self.state = self.found();
                Turn::On(Vec::new())
            }
            (State::Ready, Answer::Enter) => {
                self.state = State::Asking(Said::default());
                Turn::On(Vec::new())
            }
            // On a pin without a plan nothing was to be expected.
            (State::Asking(_), Answer::None)
                if self
                    .rows
                    .get(self.at)
                    .is_some_and(|row| row.planned.is_some()) =>
            {
                self.state = State::Why;
                Turn::On(Vec::new())
            }
            (State::Asking(_), Answer::None) => Turn::On(self.note(Reaction::Nothing, None)),
            (State::Why, Answer::Pick(k)) if *k <= Dead::ALL.len() => {
                let why = Dead::ALL.get(*k).copied();
                Turn::On(self.note(Reaction::Nothing, why))
            }
            (State::Asking(_), Answer::Again) => Turn::Same,
            (State::Asking(said), Answer::Also) => {
                said.more = said.chosen.is_some();
                Turn::Kept
            }
            (State::Asking(said), Answer::Joint(joint)) => {
                if self.robot.joint(*joint).is_none() {
                    return Turn::Ignored;
                }
                if !std::mem::take(&mut said.more) {
                    said.chosen = Some(*joint);
                    said.also.retain(|it| it != joint);
                } else if said.chosen != Some(*joint) && !said.also.contains(joint) {
                    said.also.push(*joint);
                }
                Turn::Kept
            }
            (State::Asking(said), Answer::Way(way)) if said.chosen.is_some() => {
                said.way = Some(*way);
                Turn::Kept
            }
            (State::Asking(said), Answer::Enter) => match (said.chosen, said.way) {
                (Some(joint), Some(way)) => {
                    let also = std::mem::take(&mut said.also);
                    let said = Told { joint, way, also };
                    match self.other_pin(joint) {
                        Some(other) => {
                            self.state = State::Twice { said, other };
                            Turn::On(Vec::new())
                        }
                        None => Turn::On(self.note(said.reaction(), None)),
                    }
                }
                _ => Turn::Ignored,
            },
            (State::Twice { .. }, Answer::Pick(k)) => self.settle(*k),
            (State::Found(it), answer) => {
                let it = it.clone();
                match answer {
                    Answer::Enter if self.as_planned(&it) => Turn::Leave,
                    Answer::Pick(k) if !self.as_planned(&it) => match self.choices(&it).get(*k) {
                        Some(choice) => self.decide(*choice, &it),
                        None => Turn::Ignored,
                    },
                    _ => Turn::Ignored,
                }
            }
            (State::Exchange(_), Answer::Enter) => Turn::On(self.exchange()),
            (State::Over, Answer::Enter) => Turn::Leave,
            _ => Turn::Ignored,
        }
    }

    fn enter(&mut self, hand: &mut Hand) {
        match (&self.state, self.rows.get(self.at)) {
            (State::Asking(_), Some(row)) => {
                let pin = row.pin;
                hand.limp_others(pin);
                hand.confirm(pin, (Pulse::CENTRE, NUDGE));
                hand.stand(pin, Pulse::CENTRE, (0.0, 0.0));
                hand.travel_in(pin, NUDGE, NUDGE_MS);
                hand.travel_in(pin, Pulse::CENTRE, NUDGE_MS);
                hand.limp(pin);
                hand.bell();
            }
            (State::Exchange(_), _) => hand.limp_all(),
            _ => hand.limp_mine(),
        }
    }
}

#[cfg(test)]
mod tests;
