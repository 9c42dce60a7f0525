//! Horns: at which angle the horn came out at mid-travel, and which tooth and arm leave the joint the widest margin.

mod words;

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, Seat, leave_out_unplugged, say_unplugged, seats};
use super::words::{Answer, Detail, Picture, Scope, Step, wrapped};
use crate::calibration::logbook::What;
use crate::calibration::model::JointKind;
use crate::estimate::Knowledge;
use crate::estimate::horns::{ARMS, Advice, Mounted, Seat as HornSeat, TEETH, advise};
use crate::units::Pulse;
use words::options;

/// So often the angle is read, the gauge placed anew each time: one placing alone errs by more than the next tooth and arm.
const READINGS: usize = 2;

/// Readings that differ by more than this need another one, degrees.
const DIFFER_DEG: f64 = 4.0;

/// The travel of a common servo to each side of its mid-travel pulse, degrees (common practice: 500-2500 µs about 180°).
const COMMON_TRAVEL_DEG: f64 = 90.0;

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
    /// How far it turns to each side.
    Travel,
    /// Limp; Enter wakes it at mid-travel.
    Ready,
    /// At mid-travel: at which angle? What was read so far.
    Angle(Vec<f64>),
    /// Limp: which of these seats?
    Choose {
        came_out_deg: f64,
        advice: Advice,
    },
    /// The hands turn the horn.
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
    /// What joints of each kind need, as it was said first: it is offered for the others.
    needs: [Option<(f64, f64)>; 3],
    /// Teeth, arms and travel were said for this kind of servo.
    told: bool,
    /// Its teeth were said, its arms were: where it was left between them it goes on.
    told_teeth: bool,
    told_arms: bool,
    without_plug: usize,
    /// How many were looked at.
    looked: usize,
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
        let kind = knowledge.servo_kind;
        mind.teeth = kind.teeth.unwrap_or(mind.teeth);
        mind.arms = kind.arms.unwrap_or(mind.arms);
        mind.travel_deg = kind.travel_deg.unwrap_or(mind.travel_deg);
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
            mind.told = mind.told_teeth && mind.told_arms && kind.travel_deg.is_some();
            mind.begin();
        }
        // A new servo needs its horn whatever was said of the others.
        let none_on = knowledge.joints.iter().all(|it| it.horn.is_none());
        let is_new = |at| knowledge.joint(at).is_some_and(|it| it.replaced.is_some());
        let new = matches!(scope, Scope::Joint(at) if is_new(at));
        if knowledge.horns_stay.is_none() && none_on && !new && !mind.seats.is_empty() {
            mind.state = State::On;
        }
        horns
    }

    pub(super) fn from_seats(mut seats: Vec<Seat>, named: bool, bench: Bench) -> Horns {
        let without_plug = leave_out_unplugged(&mut seats);
        seats.retain(|it| named || !it.has_horn);
        let mut mind = HornsMind {
            without_plug,
            looked: 0,
            needs: [None; 3],
            seats,
            at: 0,
            state: State::Over,
            teeth: 25,
            arms: 1,
            travel_deg: COMMON_TRAVEL_DEG,
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
            Some(seat) if seat.needed_deg.is_none() => State::NeededFrom,
            Some(seat) if seat.servo.is_none() => State::Servo,
            Some(_) => self.after_servo(),
        };
    }

    fn after_servo(&self) -> State {
        match (self.told, self.told_teeth, self.told_arms) {
            (true, _, _) => State::Ready,
            (_, true, true) => State::Travel,
            (_, true, false) => State::Arms,
            (_, false, _) => State::Teeth,
        }
    }

    /// What was just said of this kind of servo; each answer is recorded when it is given.
    fn just_told(&self, answer: &Answer) -> Vec<What> {
        let (mut teeth, mut arms, mut travel_deg) = (None, None, None);
        match (&self.state, answer) {
            (State::Arms, _) => teeth = Some(self.teeth),
            (State::Travel, _) => arms = Some(self.arms),
            (State::Ready, Answer::Value(_)) => travel_deg = Some(self.travel_deg),
            _ => return Vec::new(),
        }
        vec![What::ServoKind {
            teeth,
            arms,
            travel_deg,
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

    fn read(&mut self, mut so_far: Vec<f64>, deg: f64) -> Turn {
        so_far.push(deg);
        let (low, high) = so_far
            .iter()
            .fold((deg, deg), |(low, high), it| (low.min(*it), high.max(*it)));
        let differ = so_far.len() == READINGS && high - low > DIFFER_DEG;
        if so_far.len() < READINGS || differ {
            self.state = State::Angle(so_far);
            return Turn::On(Vec::new());
        }
        self.measured(so_far.iter().sum::<f64>() / so_far.len() as f64)
    }

    fn measured(&mut self, came_out_deg: f64) -> Turn {
        let needed = self.seats.get(self.at).and_then(|it| it.needed_deg);
        let mounted = needed.map(|needed_deg| Mounted {
            teeth: self.teeth,
            arms: self.arms,
            came_out_deg,
            needed_deg,
            servo_deg: (self.travel_deg, self.travel_deg),
        });
        match mounted.map(|it| advise(&it)) {
            Some(Ok(advice)) => {
                self.state = State::Choose {
                    came_out_deg,
                    advice,
                };
                Turn::On(Vec::new())
            }
            _ => Turn::Ignored,
        }
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
        let mut records = vec![What::Horn {
            joint: seat.name.clone(),
            teeth: self.teeth,
            arms: self.arms,
            came_out_deg,
            turn_teeth: choice.turn_teeth,
            arm: choice.arm,
            margin_deg: choice.worst_deg(),
        }];
        if choice.turn_teeth == 0 && choice.arm == 0 {
            self.next_joint();
            return Turn::On(records);
        }
        // A horn that is turned takes with it what was found of the joint before.
        records.extend(seat.anew());
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
            let done = match self.looked {
                0 => "each horn here was looked at before",
                _ => "every horn here was looked at",
            };
            let mut step = Step::over("Horns", "HORNS ARE DONE", done);
            say_unplugged(&mut step, self.without_plug);
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
        if self.told && seat.needed_deg.is_some() {
            lines.push(format!("{} teeth, {} arms", self.teeth, self.arms));
            lines.push(format!("turns {:.0}° to each side", self.travel_deg));
        }
        Step {
            title: match self.state {
                State::On => "Horns".to_string(),
                _ => format!("Horns ── {}", seat.title()),
            },
            big,
            next,
            second,
            wrong: matches!(&self.state, State::Choose { advice, .. } if !advice.fits()),
            wants,
            picture: Picture {
                joint: Some(seat.at),
                pin: seat.pin,
                pulse: seat.pin.and_then(|pin| hand.pulse(pin)),
                guard: seat.pin.and_then(|pin| hand.guard(pin)),
                detail: match seat.needed_deg {
                    None => Detail::None,
                    Some(_) if self.state == State::On => Detail::None,
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
                self.state = State::Travel;
            }
            (State::Travel, Answer::Value(deg)) if (20.0..=180.0).contains(deg) => {
                self.travel_deg = *deg;
                self.told = true;
                self.state = State::Ready;
            }
            (State::Ready, Answer::Enter) => self.state = State::Angle(Vec::new()),
            (State::Angle(_), Answer::Again) => return Turn::Same,
            (State::Angle(so_far), Answer::Value(deg)) if (-180.0..=180.0).contains(deg) => {
                let so_far = so_far.clone();
                return self.read(so_far, *deg);
            }
            (State::Choose { .. }, Answer::Pick(k)) => return self.chosen(*k),
            (State::Turn(_), Answer::Enter) => self.next_joint(),
            (State::Over | State::Stay, Answer::Enter) => return Turn::Leave,
            _ => return Turn::Ignored,
        }
        Turn::On(self.just_told(answer))
    }

    fn enter(&mut self, hand: &mut Hand) {
        match (&self.state, self.seats.get(self.at).and_then(|it| it.pin)) {
            (State::Angle(_), Some(pin)) => {
                hand.limp_others(pin);
                // The one pulse that every servo can stand at.
                hand.confirm(pin, (Pulse::CENTRE, Pulse::CENTRE));
                hand.stand(pin, Pulse::CENTRE, (0.0, 0.0));
                hand.bell();
            }
            _ => hand.limp_mine(),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calibration::logbook::Part;
    use crate::calibration::logbook::{Entry, JointName, Plan};
    use crate::calibration::model::JointRef;
    use crate::calibration::{MARRAM, read};
    use crate::estimate::knowledge;
    use crate::procedure::Procedure;
    use crate::procedure::rig::{Rig, pin, random_walk};
    use crate::procedure::seat::samples::seat;
    use crate::procedure::words::Wants;

    fn rig(seat: Seat) -> Rig<Horns> {
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        Rig::new(
            Horns::from_seats(vec![seat], false, Bench::default()),
            &[(pin(23), centre)],
        )
    }

    /// Servo 07, 25 teeth, one arm, 60° to each side, awake at mid-travel.
    fn to_the_angle(rig: &mut Rig<Horns>) {
        rig.say(Answer::Text("07".into()))
            .say(Answer::Pick(3))
            .say(Answer::Pick(0));
        rig.say(Answer::Value(60.0));
        assert!(
            rig.asked.is_empty(),
            "nothing moved before the hands were asked away"
        );
        rig.say(Answer::Enter);
        assert_eq!(rig.awake(), [pin(23)]);
    }

    #[test]
    fn the_angle_is_read_twice_and_a_third_time_if_the_readings_differ() {
        let mut rig = rig(seat(JointKind::Femur));
        to_the_angle(&mut rig);
        rig.say(Answer::Value(20.0));
        assert_eq!(rig.step().big, "READ IT AGAIN");
        assert_eq!(rig.awake(), [pin(23)], "it stays at mid-travel");
        rig.say(Answer::Value(25.0));
        assert_eq!(rig.step().big, "READ IT AGAIN");
        rig.say(Answer::Value(21.0)).say(Answer::Pick(0));
        let Some(What::Horn { came_out_deg, .. }) = rig.book.last() else {
            panic!("recorded: {:?}", rig.book);
        };
        assert_eq!(*came_out_deg, 22.0);
    }

    #[test]
    fn the_horn_a_tooth_off_is_seen_and_the_margin_said() {
        let mut rig = rig(seat(JointKind::Femur));
        to_the_angle(&mut rig);
        // Needed −50 to +60: its middle is 5°. It came out at 20°, a tooth of 14.4° too high.
        rig.say(Answer::Value(19.5)).say(Answer::Value(20.5));
        assert_eq!(rig.awake(), [], "limp while hands are in");
        let step = rig.step();
        let Wants::Pick { options, .. } = &step.wants else {
            panic!("a choice");
        };
        // The middle would be 20 − 14.4 = 5.6°: from −54.4 to +65.6°.
        assert_eq!(options[0], "1 tooth down: 4.4° left below, 5.6° left above");
        assert!(
            options.last().is_some_and(|it| it.starts_with("leave")),
            "{options:?}"
        );
        rig.say(Answer::Pick(0)).say(Answer::Enter);
        let Some(What::Horn {
            turn_teeth: -1,
            came_out_deg,
            margin_deg,
            ..
        }) = rig.book.last()
        else {
            panic!("recorded: {:?}", rig.book);
        };
        // 20 − 14.4 = 5.6°: to −54.4 and +65.6; the worse side is left 4.4°.
        assert!((came_out_deg - 20.0).abs() < 1e-9 && (margin_deg - 4.4).abs() < 1e-9);
        assert_eq!(rig.step().wants, Wants::Over);
    }

    #[test]
    fn two_teeth_that_are_nearly_as_good_are_both_named_with_their_margins() {
        let mut it = seat(JointKind::Femur);
        it.needed_deg = Some((-30.0, 40.0));
        let mut rig = rig(it);
        to_the_angle(&mut rig);
        // At 12.9° it turns from −47.1 to +72.9°; a tooth down, at −1.5°, from −61.5 to +58.5°.
        rig.say(Answer::Value(12.9)).say(Answer::Value(12.9));
        let step = rig.step();
        let Wants::Pick { options, .. } = &step.wants else {
            panic!("a choice");
        };
        assert_eq!(
            step.next,
            "Choose how the horn is to sit, then Enter. Several are as good."
        );
        assert_eq!(
            options[..],
            [
                "1 tooth down: 31.5° left below, 18.5° left above",
                "leave the tooth: 17.1° left below, 32.9° left above",
            ]
        );
    }

    #[test]
    fn joints_without_a_plug_are_named_and_not_called_done() {
        let mut it = seat(JointKind::Femur);
        it.pin = None;
        let rig = rig(it);
        let step = rig.step();
        assert!(step.wrong && step.next.contains("find the plugs first"));
        assert!(
            step.lines.join(" ").contains("! 1 of the joints here"),
            "{step:?}"
        );
    }

    #[test]
    fn a_turned_horn_takes_marks_bounds_and_ends_with_it() {
        let mut it = seat(JointKind::Femur);
        it.bounded = true;
        it.line = Some((1500.0, 10.0));
        it.ends[1] = vec![2268.0];
        let mut rig = rig(it);
        to_the_angle(&mut rig);
        rig.say(Answer::Value(20.0))
            .say(Answer::Value(20.0))
            .say(Answer::Pick(0));
        let parts: Vec<Part> = rig
            .book
            .iter()
            .filter_map(|w| match w {
                What::StartOver { part, .. } => Some(*part),
                _ => None,
            })
            .collect();
        assert_eq!(parts, [Part::Bounds, Part::Marks, Part::Ends]);
    }

    #[test]
    fn two_teeth_as_good_are_both_named_and_short_travel_is_said() {
        let mut rig = rig(seat(JointKind::Femur));
        rig.say(Answer::Text("07".into()))
            .say(Answer::Pick(3))
            .say(Answer::Pick(0));
        rig.say(Answer::Value(45.0)).say(Answer::Enter);
        // Half a tooth off the middle: one tooth more or less is the same.
        rig.say(Answer::Value(5.0 + 7.2))
            .say(Answer::Value(5.0 + 7.2));
        let step = rig.step();
        let Wants::Pick { options, .. } = &step.wants else {
            panic!("a choice");
        };
        assert!(
            options.len() >= 2 && options[1].contains("1 tooth"),
            "{options:?}"
        );
        assert!(
            step.wrong && step.next.contains("short by"),
            "{}",
            step.next
        );
    }

    /// What Marram's logbook with these entries tells.
    fn after(book: &[What]) -> Knowledge {
        let robot = read(MARRAM).robot.expect("a good file");
        let plan = [What::Plan(Plan::of(&robot))];
        let entry = |(what, n): (&What, u64)| Entry {
            n,
            at: "2026-03-14T10:22:05Z".into(),
            what: what.clone(),
        };
        let all = plan.iter().chain(book).zip(1..).map(entry);
        knowledge(&all.collect::<Vec<_>>())
    }

    #[test]
    fn left_after_any_answer_it_goes_on_at_the_first_step_not_known() {
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        let pins = [(pin(22), centre), (pin(23), centre), (pin(24), centre)];
        let open = |book: &[What], scope| {
            let horns = Horns::new(&after(book), scope, Bench::default());
            Rig::new(horns, &pins)
        };
        let answers = [
            Answer::Pick(0),
            Answer::Text("07".into()),
            Answer::Pick(1),
            Answer::Pick(2),
            Answer::Value(60.0),
        ];
        let mut book: Vec<What> = Vec::new();
        let steps = [
            "WHICH SERVO?",
            "COUNT THE TEETH",
            "COUNT THE ARMS",
            "TYPE ITS TRAVEL",
            "HANDS AWAY",
        ];
        for (answer, then) in answers.into_iter().zip(steps) {
            let mut rig = open(&book, Scope::Leg(0));
            rig.say(answer.clone()).say(Answer::Undo);
            assert!(rig.book.is_empty(), "undone with its entry");
            rig.say(answer).say(Answer::Leave);
            book.extend(rig.book);
            assert_eq!(open(&book, Scope::Leg(0)).step().big, then);
        }
        assert_eq!(book.len(), 5);
        // What was said holds for every joint.
        let rig = open(&book, Scope::Leg(1));
        assert_eq!(rig.step().big, "WHICH SERVO?");
        assert!(
            rig.step()
                .lines
                .contains(&format!("{} teeth, {} arms", TEETH[1], ARMS[2])),
            "{:?}",
            rig.step().lines
        );
        // A new servo may be of another kind: it is asked again, with what was known offered.
        let joint = JointName::new("LF", JointKind::Coxa);
        book.push(What::ServoReplaced {
            joint,
            servo: "19".into(),
        });
        let at = JointRef {
            leg: 0,
            kind: JointKind::Coxa,
        };
        let step = open(&book, Scope::Joint(at)).step();
        assert_eq!(step.big, "COUNT THE TEETH");
        assert!(matches!(step.wants, Wants::Pick { start: 1, .. }));
    }

    #[test]
    fn the_needed_travel_is_asked_for_where_the_file_has_none_and_offered_for_the_other_legs() {
        let bare = |leg: usize| {
            let mut it = seat(JointKind::Femur);
            it.at.leg = leg;
            it.needed_deg = None;
            it
        };
        let horns = Horns::from_seats(vec![bare(0), bare(1)], false, Bench::default());
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        let mut rig = Rig::new(horns, &[(pin(23), centre)]);
        assert_eq!(rig.step().big, "SMALLEST ANGLE?");
        assert!(matches!(rig.step().wants, Wants::Value { start: None, .. }));
        rig.say(Answer::Value(-50.0));
        assert_eq!(rig.step().big, "LARGEST ANGLE?");
        rig.say(Answer::Value(-60.0));
        assert!(rig.book.is_empty(), "the largest is above the smallest");
        rig.say(Answer::Value(60.0));
        assert!(
            matches!(
                &rig.book[..],
                [What::Needed {
                    low_deg: -50.0,
                    high_deg: 60.0,
                    ..
                }]
            ),
            "{:?}",
            rig.book
        );
        assert_eq!(rig.step().big, "WHICH SERVO?");
        rig.say(Answer::Undo);
        assert!(rig.book.is_empty() && rig.step().big == "LARGEST ANGLE?");
        rig.say(Answer::Value(60.0));
        // Its horn may stay: on to the other leg, where the same is offered.
        to_the_angle(&mut rig);
        rig.say(Answer::Value(5.0))
            .say(Answer::Value(5.0))
            .say(Answer::Pick(0));
        assert!(
            matches!(
                rig.step().wants,
                Wants::Value {
                    start: Some(-50.0),
                    ..
                }
            ),
            "{:?}",
            rig.step()
        );
        rig.say(Answer::Value(-50.0));
        assert!(matches!(
            rig.step().wants,
            Wants::Value {
                start: Some(60.0),
                ..
            }
        ));
    }

    #[test]
    fn what_is_needed_comes_from_the_logbook_into_the_calibration() {
        let at = JointRef {
            leg: 0,
            kind: JointKind::Femur,
        };
        let needed = What::Needed {
            joint: JointName::new("LF", JointKind::Femur),
            low_deg: -33.0,
            high_deg: 44.0,
        };
        let of = |book: &[What]| after(book).robot.joint(at).and_then(|it| it.needed_deg);
        assert_eq!(of(std::slice::from_ref(&needed)), Some((-33.0, 44.0)));
        let undone = [needed, What::Undo { entry: 2 }];
        assert_eq!(of(&undone), Some((-50.0, 60.0)), "the plan's");
    }

    #[test]
    fn a_robot_already_built_is_said_so_once_and_nothing_is_asked_of_its_horns() {
        let horns = Horns::new(&after(&[]), Scope::Leg(0), Bench::default());
        let mut rig = Rig::new(horns, &[]);
        assert_eq!(rig.step().big, "HORNS ON ALREADY?");
        rig.say(Answer::Pick(1));
        assert_eq!(rig.book, [What::HornsOn { stay: true }]);
        let step = rig.step();
        assert_eq!((step.big, step.wants), ("THE HORNS STAY", Wants::Over));
        assert!(!step.next.contains("looked at"), "{}", step.next);
        rig.say(Answer::Enter);
        assert!(rig.it.is_over() && rig.asked.is_empty());
        // Opened by name it is begun without the question.
        let again = Horns::new(&after(&rig.book), Scope::Leg(0), Bench::default());
        assert_eq!(Rig::new(again, &[]).step().big, "WHICH SERVO?");
    }

    #[test]
    fn undo_goes_back_to_the_angle_and_wakes_with_a_countdown() {
        let mut rig = rig(seat(JointKind::Femur));
        to_the_angle(&mut rig);
        rig.say(Answer::Value(20.0))
            .say(Answer::Value(20.0))
            .say(Answer::Undo);
        assert_eq!(rig.step().big, "READ IT AGAIN");
        rig.say(Answer::Undo);
        assert_eq!(rig.step().big, "TYPE THE ANGLE");
        assert_eq!(rig.awake(), [pin(23)]);
        rig.say(Answer::Leave);
        assert_eq!(rig.awake(), []);
    }

    proptest! {
        #[test]
        fn whatever_is_answered_it_stands_at_mid_travel_or_is_limp(
            answers in proptest::collection::vec(any::<u8>(), 0..80),
            mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..5),
        ) {
            let centre = (Pulse::CENTRE, Pulse::CENTRE);
            let seats = vec![seat(JointKind::Femur), seat(JointKind::Tibia)];
            let horns = Horns::from_seats(seats, false, Bench::default());
            random_walk(horns, &[(pin(23), centre), (pin(24), centre)], &answers, &mishaps);
        }
    }
}
