//! Horns: at which angle the horn came out at mid-travel, and which tooth and arm leave the joint the widest margin.

mod own;
mod words;

use std::collections::BTreeMap;

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, LeftOut, Seat, say_left_out, seats};
use super::words::{Answer, Detail, Picture, Scope, Step, wrapped};
use crate::calibration::logbook::{End, Verdict, What};
use crate::calibration::model::JointKind;
use crate::estimate::Knowledge;
use crate::estimate::horns::{ARMS, Advice, HornError, Mounted, Seat as HornSeat, TEETH, advise};
use crate::estimate::knowledge::ServoKnown;
use crate::units::Pulse;
use own::Lead;
use words::options;

/// So often the angle is read, the gauge placed anew each time: one placing alone errs by more than the next tooth and arm.
const READINGS: usize = 2;

/// Readings that differ by more than this need another one, degrees.
const DIFFER_DEG: f64 = 4.0;

/// The travel of a common servo to each side of its mid-travel pulse, degrees (common practice: 500-2500 µs about 180°).
const COMMON_TRAVEL_DEG: f64 = 90.0;

/// What is still to be read before a seat can be chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Lacks {
    /// The angle at mid-travel.
    Readings,
    /// Where the servo's own travel ends.
    End(End),
    Nothing,
}

#[derive(Debug, Clone, PartialEq)]
enum State {
    /// Are the horns on already, and stay as they are? Asked once for a robot.
    On,
    /// They stay.
    Stay,
    /// The smallest angle that the joint needs.
    NeededFrom,
    /// And the largest.
    NeededTo(f64),
    /// Which servo sits there?
    Servo,
    /// Teeth of its spline.
    Teeth,
    /// Arms of its horn.
    Arms,
    /// One number for all servos, or is each measured?
    OneOrEach,
    /// How far it turns to each side.
    Travel,
    /// Limp; Enter wakes it at mid-travel.
    Ready,
    /// At mid-travel: at which angle?
    Angle,
    /// Limp: the leg comes off the horn's arm.
    Unscrew,
    /// The bare arm turns slowly to where its servo ends.
    Lead(Lead),
    /// Limp after a stretch: did it turn on to the last?
    Turned(Lead),
    /// Limp there: at which angle? It came there just now, or nobody knows any more where it stands.
    AtEnd {
        toward: End,
        just_now: bool,
    },
    /// The bare arm goes back to mid-travel.
    Back,
    /// Limp: which of these seats?
    Choose {
        came_out_deg: f64,
        advice: Advice,
    },
    /// The hands turn the horn, and screw the leg on.
    Turn(HornSeat),
    Over,
}

/// The horns of some joints.
#[derive(Debug, Clone)]
pub struct HornsMind {
    seats: Vec<Seat>,
    at: usize,
    state: State,
    teeth: u32,
    arms: u32,
    travel_deg: f64,
    /// Each servo's own travel is measured, with the leg off.
    measured: bool,
    /// What joints of each kind need, as it was said first: it is offered for the others.
    needs: [Option<(f64, f64)>; 3],
    /// Teeth, arms and travel were said for this kind of servo.
    told: bool,
    /// Its teeth were said, its arms were: where it was left between them it goes on.
    told_teeth: bool,
    told_arms: bool,
    left_out: LeftOut,
    /// How many were looked at.
    looked: usize,
    /// Servos that their test alone did not find good, by their numbers.
    unfit: BTreeMap<String, Verdict>,
}

/// The machine that advises on horns.
pub type Horns = Machine<HornsMind>;

impl Horns {
    /// The joints of this scope whose horn was not looked at; a joint that was named is looked at again.
    pub fn new(knowledge: &Knowledge, scope: Scope, bench: Bench) -> Horns {
        let named = matches!(scope, Scope::Joint(_));
        let mut horns = Horns::from_seats(seats(knowledge, scope), named, bench);
        let mind = &mut horns.mind;
        mind.needs = JointKind::ALL.map(|kind| {
            let joints = knowledge.robot.joints();
            let mut same = joints.filter(|(at, _)| at.kind == kind);
            same.find_map(|(_, joint)| joint.needed_deg)
        });
        if let Some(horn) = knowledge.joints.iter().rev().find_map(|it| it.horn) {
            (mind.teeth, mind.arms) = (horn.teeth, horn.arms);
        }
        let unfit = |(number, it): (&String, &ServoKnown)| {
            let verdict = it.verdict?;
            let is_good = matches!(verdict, Verdict::Good | Verdict::Untested);
            (!is_good).then(|| (number.clone(), verdict))
        };
        mind.unfit = knowledge.servos.iter().filter_map(unfit).collect();
        let kind = knowledge.servo_kind;
        mind.teeth = kind.teeth.unwrap_or(mind.teeth);
        mind.arms = kind.arms.unwrap_or(mind.arms);
        mind.travel_deg = kind.travel_deg.unwrap_or(mind.travel_deg);
        mind.measured = kind.measured;
        // A horn that is looked at again, and a new servo, may be of another kind than what was said before.
        let since = |at| {
            let known = knowledge.joint(at)?;
            known.horn.map(|it| it.n).max(known.replaced)
        };
        let other = match scope {
            Scope::Joint(at) => since(at).is_some_and(|n| n > kind.n),
            _ => false,
        };
        if !other {
            mind.told_teeth = kind.teeth.is_some();
            mind.told_arms = kind.arms.is_some();
            let travel = kind.travel_deg.is_some() || kind.measured;
            mind.told = mind.told_teeth && mind.told_arms && travel;
            mind.begin();
        }
        // A new servo, or a horn that slipped, needs its horn whatever was said of the others.
        let none_on = knowledge.joints.iter().all(|it| it.horn.is_none());
        let is_new = |at| knowledge.joint(at).is_some_and(|it| it.horn_anew);
        let new = matches!(scope, Scope::Joint(at) if is_new(at));
        if knowledge.horns_stay.is_none() && none_on && !new && !mind.seats.is_empty() {
            mind.state = State::On;
        }
        horns
    }

    pub(super) fn from_seats(mut seats: Vec<Seat>, named: bool, bench: Bench) -> Horns {
        let plugs = seats.extract_if(.., |it| it.pin.is_none()).count();
        let left_out = LeftOut { plugs, legs: 0 };
        seats.retain(|it| named || it.horn.is_none() || it.leg_off);
        let mut mind = HornsMind {
            left_out,
            looked: 0,
            unfit: BTreeMap::new(),
            needs: [None; 3],
            seats,
            at: 0,
            state: State::Over,
            teeth: 25,
            arms: 1,
            travel_deg: COMMON_TRAVEL_DEG,
            measured: false,
            told: false,
            told_teeth: false,
            told_arms: false,
        };
        mind.begin();
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

impl HornsMind {
    fn begin(&mut self) {
        self.state = match self.seats.get(self.at) {
            None => State::Over,
            // Left while its leg was off and its seat was chosen: that is done first.
            Some(Seat {
                leg_off: true,
                horn: Some(it),
                horn_angles,
                ..
            }) if horn_angles.is_empty() => State::Turn(*it),
            Some(seat) if seat.needed_deg.is_none() => State::NeededFrom,
            Some(seat) if seat.servo.is_none() => State::Servo,
            Some(_) => self.after_servo(),
        };
    }

    fn after_servo(&self) -> State {
        match (self.told, self.told_teeth, self.told_arms) {
            // Left after its readings it goes on with what follows from them.
            (true, _, _) => match (self.lacks(), self.choice()) {
                // Where its bare arm stands nobody knows: Enter leads it back first.
                (Lacks::Nothing, _) if self.measured => State::Unscrew,
                (Lacks::Nothing, Ok(Some(choice))) => choice,
                (Lacks::End(_), _) => State::Unscrew,
                _ => State::Ready,
            },
            (_, true, true) => State::OneOrEach,
            (_, true, false) => State::Arms,
            (_, false, _) => State::Teeth,
        }
    }

    /// What was just said of this kind of servo; each answer is recorded when it is given.
    fn just_told(&self, answer: &Answer) -> Vec<What> {
        let (mut teeth, mut arms, mut travel_deg, mut measured) = (None, None, None, false);
        match (&self.state, answer) {
            (State::Arms, _) => teeth = Some(self.teeth),
            (State::OneOrEach, _) => arms = Some(self.arms),
            (State::Ready | State::Choose { .. }, Answer::Value(_)) => {
                travel_deg = Some(self.travel_deg)
            }
            (State::Ready | State::Unscrew, Answer::Pick(1)) => measured = true,
            _ => return Vec::new(),
        }
        vec![What::ServoKind {
            teeth,
            arms,
            travel_deg,
            measured,
        }]
    }

    /// Both ends of the needed travel were typed.
    fn needed(&mut self, low_deg: f64, high_deg: f64) -> Turn {
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Turn::Ignored;
        };
        seat.needed_deg = Some((low_deg, high_deg));
        self.needs[seat.at.kind.index()].get_or_insert((low_deg, high_deg));
        let joint = seat.name.clone();
        self.begin();
        Turn::On(vec![What::Needed {
            joint,
            low_deg,
            high_deg,
        }])
    }

    fn placed(&mut self, number: &str) -> Turn {
        let number = number.trim();
        let fits =
            !number.is_empty() && number.len() <= 12 && !number.contains(char::is_whitespace);
        match self.seats.get_mut(self.at) {
            Some(seat) if fits => {
                seat.servo = Some(number.to_string());
                let record = What::ServoPlaced {
                    joint: seat.name.clone(),
                    servo: number.to_string(),
                };
                self.state = self.after_servo();
                Turn::On(vec![record])
            }
            _ => Turn::Ignored,
        }
    }

    /// One reading more, which is recorded at once.
    fn read(&mut self, deg: f64) -> Turn {
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Turn::Ignored;
        };
        seat.horn_angles.push(deg);
        let joint = seat.name.clone();
        self.state = match (self.lacks(), self.choice()) {
            (Lacks::Readings, _) => State::Angle,
            (Lacks::End(_), _) => State::Unscrew,
            (Lacks::Nothing, Ok(Some(choice))) => choice,
            (Lacks::Nothing, _) => return Turn::Ignored,
        };
        Turn::On(vec![What::HornRead {
            joint,
            angle_deg: deg,
        }])
    }

    /// What is still to be read of the present joint.
    fn lacks(&self) -> Lacks {
        let Some(seat) = self.seats.get(self.at) else {
            return Lacks::Nothing;
        };
        let angles = &seat.horn_angles;
        if self.measured {
            let missing = End::BOTH.into_iter();
            let mut missing = missing.filter(|it| seat.horn_ends[it.index()].is_none());
            return match (angles.is_empty(), missing.next()) {
                (true, _) => Lacks::Readings,
                (_, Some(end)) => Lacks::End(end),
                _ => Lacks::Nothing,
            };
        }
        let low = angles.iter().copied().fold(f64::INFINITY, f64::min);
        let high = angles.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let differ = angles.len() == READINGS && high - low > DIFFER_DEG;
        match angles.len() < READINGS || differ {
            true => Lacks::Readings,
            false => Lacks::Nothing,
        }
    }

    /// The choice that follows from the readings; `None` as long as something lacks.
    fn choice(&self) -> Result<Option<State>, HornError> {
        let seat = self
            .seats
            .get(self.at)
            .filter(|_| self.lacks() == Lacks::Nothing);
        let Some((seat, needed_deg)) = seat.and_then(|it| Some((it, it.needed_deg?))) else {
            return Ok(None);
        };
        let angles = &seat.horn_angles;
        let came_out_deg = angles.iter().sum::<f64>() / angles.len() as f64;
        let told = (self.travel_deg, self.travel_deg);
        let advice = advise(&Mounted {
            teeth: self.teeth,
            arms: self.arms,
            came_out_deg,
            needed_deg,
            servo_deg: own::travel(seat, came_out_deg).unwrap_or(told),
        })?;
        Ok(Some(State::Choose {
            came_out_deg,
            advice,
        }))
    }

    fn chosen(&mut self, k: usize) -> Turn {
        let State::Choose {
            came_out_deg,
            advice,
        } = &self.state
        else {
            return Turn::Ignored;
        };
        let Some(choice) = options(advice).get(k).copied() else {
            return Turn::Ignored;
        };
        let came_out_deg = *came_out_deg;
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Turn::Ignored;
        };
        seat.horn_angles.clear();
        seat.horn_ends = [None; 2];
        let mut records = vec![What::Horn {
            joint: seat.name.clone(),
            teeth: self.teeth,
            arms: self.arms,
            came_out_deg,
            turn_teeth: choice.turn_teeth,
            arm: choice.arm,
            margin_deg: choice.worst_deg(),
            margins_deg: Some(choice.margin_deg),
        }];
        let stays = choice.turn_teeth == 0 && choice.arm == 0;
        if !stays {
            // A horn that is turned takes with it what was found of the joint before.
            records.extend(seat.anew());
        }
        if stays && !seat.leg_off {
            self.next_joint();
            return Turn::On(records);
        }
        self.state = State::Turn(choice);
        Turn::On(records)
    }

    fn next_joint(&mut self) {
        self.looked += 1;
        self.at += 1;
        self.begin();
    }
}

impl Mind for HornsMind {
    fn step(&self, hand: &Hand) -> Step {
        if self.state == State::Stay {
            let mut step = Step::over(
                "Horns",
                "THE HORNS STAY",
                "the horns stay, rough bounds and marks go on",
            );
            step.lines = wrapped(
                "a horn can still be looked at: open Horns for its joint. What travel is left shows when its ends are found",
            );
            return step;
        }
        let Some(seat) = self.seats.get(self.at) else {
            let done = match (self.looked, &self.seats[..]) {
                (0, _) => "each horn here was looked at before".to_string(),
                (_, [one]) => format!("the horn of {} was looked at", one.name),
                _ => "every horn here was looked at".to_string(),
            };
            let mut step = Step::over("Horns", "HORNS ARE DONE", &done);
            say_left_out(&mut step, self.left_out);
            return step;
        };
        let (big, next, second, wants) = self.words(seat, hand);
        let (came_out_deg, shown) = match &self.state {
            State::Choose {
                came_out_deg,
                advice,
            } => (Some(*came_out_deg), options(advice)),
            State::Turn(it) => (None, vec![*it]),
            _ => (None, Vec::new()),
        };
        let (low, high) = seat.needed_deg.unwrap_or_default();
        let mut lines = match (&self.state, seat.needed_deg) {
            (State::On, _) => wrapped(
                "a horn one tooth off takes 14° or more of the travel from one side: to be seen before its screw is in for good",
            ),
            (_, None) => self.needed_lines(seat),
            (_, Some(_)) => vec![format!("needed {low:.0}° to {high:.0}°")],
        };
        let servo = seat.servo.as_ref();
        let unfit = servo.and_then(|it| Some((it, self.unfit.get(it)?)));
        if let Some((number, verdict)) = unfit {
            lines.extend(wrapped(&format!(
                "! servo {number} was found {} when it was tested alone: build in another one",
                verdict.word()
            )));
        }
        if self.told && seat.needed_deg.is_some() {
            let arms = if self.arms == 1 { "arm" } else { "arms" };
            lines.push(format!("{} teeth, {} {arms}", self.teeth, self.arms));
            lines.extend(self.travel_lines(seat));
        }
        Step {
            title: match self.state {
                State::On => "Horns".to_string(),
                _ => format!("Horns ── {}", seat.title()),
            },
            big,
            next,
            second,
            wrong: unfit.is_some()
                || matches!(&self.state, State::Choose { advice, .. } if !advice.fits()),
            wants,
            picture: Picture {
                joint: Some(seat.at),
                pin: seat.pin,
                pulse: seat.pin.and_then(|pin| hand.pulse(pin)),
                guard: seat.pin.and_then(|pin| hand.guard(pin)),
                detail: match seat.needed_deg {
                    None => Detail::None,
                    Some(_) if self.state == State::On => Detail::None,
                    Some(_) if self.is_bare() => Detail::LegOff {
                        to_do: self.state == State::Unscrew,
                    },
                    Some(_) => Detail::Horn {
                        came_out_deg,
                        wanted_deg: (low + high) / 2.0,
                        seats: shown,
                    },
                },
                ..Picture::default()
            },
            lines,
        }
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        match (&self.state, answer) {
            (State::On, Answer::Pick(k)) if *k < 2 => {
                let stay = *k == 1;
                match stay {
                    true => self.state = State::Stay,
                    false => self.begin(),
                }
                return Turn::On(vec![What::HornsOn { stay }]);
            }
            (State::NeededFrom, Answer::Value(deg)) if (-180.0..180.0).contains(deg) => {
                self.state = State::NeededTo(*deg);
            }
            (State::NeededTo(low), Answer::Value(deg)) if *deg > *low && *deg <= 180.0 => {
                let low = *low;
                return self.needed(low, *deg);
            }
            (State::Servo, Answer::Text(number)) => return self.placed(number),
            (State::Teeth, Answer::Pick(k)) if *k < TEETH.len() => {
                self.teeth = TEETH[*k];
                self.state = State::Arms;
            }
            (State::Arms, Answer::Pick(k)) if *k < ARMS.len() => {
                self.arms = ARMS[*k];
                self.state = State::OneOrEach;
            }
            (State::OneOrEach, Answer::Pick(0)) => self.state = State::Travel,
            (State::OneOrEach, Answer::Pick(1)) => {
                (self.measured, self.told) = (true, true);
                self.state = self.after_servo();
            }
            (State::Travel, Answer::Value(deg)) if (20.0..=180.0).contains(deg) => {
                self.travel_deg = *deg;
                (self.measured, self.told) = (false, true);
                self.state = self.after_servo();
            }
            (State::Ready, Answer::Enter) => self.state = State::Angle,
            (State::Angle, Answer::Again) => return Turn::Same,
            (State::Angle, Answer::Value(deg)) if (-180.0..=180.0).contains(deg) => {
                return self.read(*deg);
            }
            (State::Unscrew, Answer::Pick(0)) => return Turn::Kept,
            (State::Unscrew, Answer::Pick(1)) => {
                self.state = self.leads();
                return Turn::On(self.screws(false));
            }
            (State::Lead(lead) | State::Turned(lead), Answer::None) => {
                self.state = State::AtEnd {
                    toward: lead.toward,
                    just_now: true,
                };
            }
            (State::Turned(lead), Answer::Enter) => self.state = State::Lead(lead.on()),
            (State::AtEnd { .. }, Answer::Again) => self.state = State::Unscrew,
            (State::AtEnd { toward, .. }, Answer::Value(deg)) => {
                let toward = *toward;
                return self.ended(toward, *deg);
            }
            (State::Choose { .. }, Answer::Pick(k)) => return self.chosen(*k),
            (State::Turn(_), Answer::Enter) => {
                let on = self.screws(true);
                self.next_joint();
                return Turn::On(on);
            }
            (State::Over | State::Stay, Answer::Enter) => return Turn::Leave,
            _ => return Turn::Ignored,
        }
        Turn::On(self.just_told(answer))
    }

    fn takes_while_moving(&self) -> bool {
        matches!(self.state, State::Lead(lead) if lead.is_under_way())
    }

    fn poll(&mut self, now_ms: u64) -> bool {
        match &mut self.state {
            State::Lead(lead) => {
                if !lead.goes_on(now_ms) {
                    self.state = match lead.is_at_the_last() {
                        true => State::AtEnd {
                            toward: lead.toward,
                            just_now: true,
                        },
                        false => State::Turned(*lead),
                    };
                }
                true
            }
            State::Back => match self.choice() {
                Ok(Some(choice)) => {
                    self.state = choice;
                    true
                }
                _ => false,
            },
            _ => false,
        }
    }

    fn interrupted(&mut self) {
        if let State::Lead(_) | State::Turned(_) | State::AtEnd { .. } = self.state {
            self.state = State::Unscrew;
        }
    }

    fn enter(&mut self, hand: &mut Hand) {
        let Some(pin) = self.seats.get(self.at).and_then(|it| it.pin) else {
            hand.limp_mine();
            return;
        };
        if let State::Lead(lead) = &mut self.state {
            if lead.enter(pin, hand) {
                return;
            }
            // Hands may have been in since.
            self.state = State::Unscrew;
        }
        hand.limp_others(pin);
        if self.state == State::Angle {
            // The one pulse that every servo can stand at.
            hand.confirm(pin, (Pulse::CENTRE, Pulse::CENTRE));
            hand.stand(pin, Pulse::CENTRE, (0.0, 0.0));
            hand.bell();
            return;
        }
        if let State::AtEnd { just_now, .. } = &mut self.state
            && !std::mem::take(just_now)
        {
            // The answer was taken back, or all went limp: nobody knows where the arm stands.
            self.state = State::Unscrew;
        }
        hand.cover(pin);
        if self.state == State::Back {
            hand.bring_home(pin);
        }
    }
}

#[cfg(test)]
mod tests;
