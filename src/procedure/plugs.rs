//! Which plug drives which joint: one pin at a time, a small nudge, and the builder says what moved and which way.
//!
//! The nudge is 1500 → 1540 → 1500, then limp. It ends in the shortest list of swaps, or in the wiring accepted as it is.

mod words;

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::Bench;
use super::words::{Answer, Detail, Picture, PlugRow, Reaction, Scope, Step};
use crate::calibration::logbook::{Copper, JointName, Way, What, Wire};
use crate::calibration::model::{JointRef, Robot};
use crate::estimate::Knowledge;
use crate::estimate::plugs::{Planned, Swap, Tried, Wiring, wiring};
use crate::units::{Pin, Pulse};
use words::{Choice, choices};

/// How far the nudge goes, µs.
const NUDGE: Pulse = Pulse::from_halves(3080);
/// How long each half of it takes, ms: slow enough for an eye at 1.5 m.
const NUDGE_MS: u32 = 500;

#[derive(Debug, Clone, PartialEq)]
enum State {
    /// Limp; Enter begins with the first pin that is not known.
    Ready,
    /// A pin was nudged; what moved?
    Asking(Said),
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

/// The search for the plugs.
#[derive(Debug, Clone)]
pub struct PlugsMind {
    robot: Robot,
    rows: Vec<PlugRow>,
    at: usize,
    state: State,
    /// The swaps were made: the pins are tried once more.
    exchanged: bool,
}

/// The machine that finds plugs.
pub type Plugs = Machine<PlugsMind>;

impl Plugs {
    /// The pins that are planned in this scope and these others, as far as they are not known.
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
        let new: Vec<Pin> = others
            .iter()
            .copied()
            .filter(|p| !pins.contains(p))
            .collect();
        pins.extend(new);
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
        Plugs::from_rows(robot, pins.into_iter().map(row).collect(), bench)
    }

    pub(super) fn from_rows(robot: Robot, rows: Vec<PlugRow>, bench: Bench) -> Plugs {
        let mut mind = PlugsMind {
            robot,
            rows,
            at: 0,
            state: State::Ready,
            exchanged: false,
        };
        match mind.unknown() {
            Some(at) => mind.at = at,
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
        let seen = |joint: JointRef| tried.iter().any(|it| it.moved.contains(&joint));
        let in_rows = |joint: JointRef| self.rows.iter().any(|row| row.planned == Some(joint));
        let plan: Vec<Planned> = self
            .robot
            .joints()
            .filter(|(at, _)| seen(*at) || in_rows(*at))
            .filter_map(|(joint, it)| {
                let row = self.rows.iter().find(|row| row.planned == Some(joint));
                Some(Planned {
                    joint,
                    pin: row.map(|row| row.pin).or(it.pin)?,
                })
            })
            .collect();
        State::Found(wiring(&tried, &plan))
    }

    fn name(&self, at: JointRef) -> Option<JointName> {
        let leg = self.robot.legs.get(at.leg)?;
        Some(JointName::new(leg.name.clone(), at.kind))
    }

    /// Notes what this pin did, and goes on to the next one.
    fn note(&mut self, reaction: Reaction) -> Vec<What> {
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
            },
            _ => What::Plug {
                pin,
                joint: None,
                way: None,
                also: Vec::new(),
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

impl Mind for PlugsMind {
    fn step(&self, hand: &Hand) -> Step {
        let (big, next, second, wants) = self.words(hand);
        let row = self.rows.get(self.at);
        let asking = matches!(self.state, State::Asking(_));
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
            wrong: matches!(&self.state, State::Found(it) if !it.doubts.is_empty()),
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
            (State::Ready, Answer::Enter) => {
                self.state = State::Asking(Said::default());
                Turn::On(Vec::new())
            }
            (State::Asking(_), Answer::None) => Turn::On(self.note(Reaction::Nothing)),
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
                    Turn::On(self.note(Reaction::Moved { joint, way, also }))
                }
                _ => Turn::Ignored,
            },
            (State::Found(it), Answer::Enter) if it.is_planned() => Turn::Leave,
            (State::Found(it), Answer::Pick(k)) if !it.is_planned() => {
                let it = it.clone();
                match choices(&it).get(*k) {
                    Some(choice) => self.decide(*choice, &it),
                    None => Turn::Ignored,
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
