//! Morning check: one reading a joint, and whether the file still holds, in degrees and in mm at the foot.
//!
//! What looks off is read once more with the gauge placed anew, before anything is called off.

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, LeftOut, Seat, direction, say_left_out, seats};
use super::words::{Answer, Picture, Scope, Step, Wants, joints_have, wrapped};
use crate::calibration::logbook::{Side, What};
use crate::calibration::model::{JointKind, Links, Robot};
use crate::estimate::Knowledge;
use crate::estimate::check::{doubtful_deg, latest, off_deg, tells_deg};
use crate::units::Pulse;

/// See the marks: more than any play that leaves a joint usable, µs.
const TAKE_UP_US: f64 = 30.0;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Limp; Enter wakes the joint where it is to be read.
    Ready,
    /// What does the gauge say?
    Asking,
    /// It looked off: what does it say, placed anew?
    Doubting,
    /// Something is off: does it begin anew?
    Anew,
    Over,
}

/// What was read of a joint against the file.
#[derive(Debug, Clone, PartialEq)]
struct Reading {
    joint: String,
    /// Each time, the gauge placed anew.
    offs_deg: Vec<f64>,
    arm_mm: f64,
    /// What begins anew if its screw or horn had slipped.
    anew: Vec<What>,
}

impl Reading {
    /// In the mean.
    fn off_deg(&self) -> f64 {
        self.offs_deg.iter().sum::<f64>() / self.offs_deg.len().max(1) as f64
    }

    fn is_off(&self) -> bool {
        self.off_deg().abs() > tells_deg(self.offs_deg.len())
    }

    fn line(&self) -> String {
        let off = self.off_deg();
        let mm = off.to_radians().abs() * self.arm_mm;
        format!("{:<10} {off:+5.1}° {mm:5.1} mm", self.joint)
    }
}

/// The check of some joints.
#[derive(Debug, Clone)]
pub struct CheckMind {
    seats: Vec<(Seat, f64)>,
    at: usize,
    state: State,
    readings: Vec<Reading>,
    /// How many of them were read before this machine began.
    read_before: usize,
    without_line: usize,
    left_out: LeftOut,
}

/// The machine that checks.
pub type Check = Machine<CheckMind>;

impl Check {
    /// The joints of this scope whose zero and µs/degree are known. A check that was left is gone on with:
    /// what was read today is told and not asked again, until all of it was read.
    pub fn new(knowledge: &Knowledge, scope: Scope, bench: Bench) -> Check {
        let arm = |seat: &Seat| arm_mm(&knowledge.robot, seat);
        let today = bench.today.clone();
        let read = |(seat, arm): &(Seat, f64)| {
            let line = seat.line?;
            let checks = latest(&knowledge.joint(seat.at)?.checks);
            let of_today = !today.is_empty() && checks.last()?.at.starts_with(&today);
            let offs = checks.iter().map(|it| {
                let reading = (it.pulse_us, it.from, it.angle_deg);
                off_deg(line, seat.play_deg, reading)
            });
            let reading = Reading {
                joint: seat.name.to_string(),
                offs_deg: offs.collect(),
                arm_mm: *arm,
                anew: seat.slipped(),
            };
            // Left between its two readings: it is read again.
            let whole = reading.offs_deg.len() > 1 || reading.off_deg().abs() <= doubtful_deg(1);
            Some(reading).filter(|_| of_today && whole)
        };
        let seats = seats(knowledge, scope).into_iter().map(|it| {
            let arm = arm(&it);
            (it, arm)
        });
        let mut check = Check::from_seats(seats.collect(), bench);
        let mind = &mut check.mind;
        let (known, left): (Vec<_>, Vec<_>) = std::mem::take(&mut mind.seats)
            .into_iter()
            .partition(|it| read(it).is_some());
        if left.is_empty() {
            mind.seats = known;
        } else {
            mind.readings = known.iter().filter_map(read).collect();
            mind.read_before = mind.readings.len();
            mind.seats = left;
        }
        check
    }

    pub(super) fn from_seats(mut seats: Vec<(Seat, f64)>, bench: Bench) -> Check {
        let left_out = LeftOut {
            plugs: seats.extract_if(.., |(it, _)| it.pin.is_none()).count(),
            legs: seats.extract_if(.., |(it, _)| it.leg_off).count(),
        };
        let all = seats.len();
        seats.retain(|(it, _)| it.line.is_some());
        let mind = CheckMind {
            left_out,
            without_line: all - seats.len(),
            state: if seats.is_empty() {
                State::Over
            } else {
                State::Ready
            },
            seats,
            at: 0,
            readings: Vec::new(),
            read_before: 0,
        };
        Machine::of(mind, Hand::new(&bench.awake))
    }
}

/// How far from the joint's axis the foot is, mm, with the knee at a right angle.
fn arm_mm(robot: &Robot, seat: &Seat) -> f64 {
    let links = robot.legs.get(seat.at.leg).map(|leg| leg.links);
    links.map_or(0.0, |it: Links| match seat.name.kind {
        JointKind::Coxa => it.coxa_mm + it.femur_mm,
        JointKind::Femur => it.femur_mm.hypot(it.tibia_mm),
        JointKind::Tibia => it.tibia_mm,
    })
}

/// Where a joint is read: at its zero if that has room, else in the middle of its ground.
fn target(seat: &Seat) -> Pulse {
    let (low, high) = (
        seat.ground.0.us() + TAKE_UP_US,
        seat.ground.1.us() - TAKE_UP_US,
    );
    let middle = (low + high) / 2.0;
    let us = match seat.line {
        Some((zero, _)) if (low..=high).contains(&zero) => zero,
        _ => middle,
    };
    Pulse::from_us(us.round()).unwrap_or(Pulse::CENTRE)
}

impl CheckMind {
    fn read(&mut self, angle_deg: f64) -> Turn {
        let Some((seat, arm)) = self.seats.get(self.at) else {
            return Turn::Ignored;
        };
        let pulse = target(seat);
        let Some(line) = seat.line else {
            return Turn::Ignored;
        };
        let reading = (pulse.us(), Some(Side::Below), angle_deg);
        let off = off_deg(line, seat.play_deg, reading);
        match self.readings.last_mut() {
            Some(last) if self.state == State::Doubting => last.offs_deg.push(off),
            _ => self.readings.push(Reading {
                joint: seat.name.to_string(),
                offs_deg: vec![off],
                arm_mm: *arm,
                anew: seat.slipped(),
            }),
        }
        let record = What::Checked {
            joint: seat.name.clone(),
            pulse_us: pulse.us(),
            from: Some(Side::Below),
            angle_deg,
        };
        if self.state == State::Asking && off.abs() > doubtful_deg(1) {
            self.state = State::Doubting;
            return Turn::On(vec![record]);
        }
        self.next_joint();
        Turn::On(vec![record])
    }

    fn next_joint(&mut self) {
        self.at += 1;
        self.state = State::Ready;
        if self.at == self.seats.len() {
            let slipped = matches!(self.off().len(), n if n > 0 && !self.are_most(n));
            self.state = if slipped { State::Anew } else { State::Over };
        }
    }

    /// So many are off that it is rather the supply or the gauge.
    fn are_most(&self, off: usize) -> bool {
        off > 1 && 2 * off > self.readings.len()
    }

    fn off(&self) -> Vec<&Reading> {
        // The joint that is asked about again is not judged yet.
        let judged = self.readings.len() - usize::from(self.state == State::Doubting);
        let readings = self.readings[..judged].iter();
        readings.filter(|it| it.is_off()).collect()
    }

    /// What the readings say in all.
    fn verdict(&self) -> String {
        let off = self.off();
        match (off.len(), self.readings.len()) {
            (_, 0) => "nothing was read".to_string(),
            (0, _) => "the file still holds, as far as a gauge can tell".to_string(),
            (1, _) => format!("{} is off: a screw or its horn?", off[0].joint),
            (n, _) if self.are_most(n) => {
                "most are off: perhaps another supply, or another gauge".to_string()
            }
            (2, _) => format!(
                "{} and {} are off: look at their screws",
                off[0].joint, off[1].joint
            ),
            (n, _) => format!("{n} joints are off, named at the right: look at their screws"),
        }
    }

    /// A horn that slipped takes with it all that was found behind it.
    fn asks_anew(&self) -> Step {
        let off = self.off();
        let (who, them, keeps) = match &off[..] {
            [one] => (format!("{} is off", one.joint), "it", "keeps it"),
            [one, two] => (
                format!("{} and {} are off", one.joint, two.joint),
                "them",
                "keeps them",
            ),
            all => (
                format!("{} joints are off", all.len()),
                "them",
                "keeps them",
            ),
        };
        Step {
            big: "BEGIN ANEW?",
            next: format!("{who}: screw or horn? Enter begins {them} anew, n {keeps}."),
            second: "Anew from the horn on. Nothing moves. Look at the screw first. Space stops."
                .to_string(),
            wrong: true,
            wants: Wants::YesNo,
            lines: self.lines(),
            ..Step::over("Check", "", "")
        }
    }

    fn lines(&self) -> Vec<String> {
        // Those that are off, all of them; then the newest, as many as there is room for.
        let off = self.off();
        let mut lines: Vec<String> = off.iter().map(|it| it.line() + " !").collect();
        let held = self.readings.iter().rev().filter(|it| !off.contains(it));
        lines.extend(
            held.map(Reading::line)
                .take(9_usize.saturating_sub(off.len())),
        );
        lines.extend(wrapped(&format!(
            "less than {:.1}° is within the gauge",
            doubtful_deg(1)
        )));
        if self.without_line > 0 {
            lines.extend(wrapped(&format!(
                "{} no marks yet, left out here",
                joints_have(self.without_line)
            )));
        }
        lines
    }
}

impl Mind for CheckMind {
    fn step(&self, hand: &Hand) -> Step {
        if self.state == State::Anew {
            return self.asks_anew();
        }
        let Some((seat, _)) = self.seats.get(self.at) else {
            let mut step = Step::over("Check", "CHECK IS DONE", &self.verdict());
            step.lines = self.lines();
            step.wrong = !self.off().is_empty();
            say_left_out(&mut step, self.left_out);
            return step;
        };
        let (name, pulse) = (&seat.name, target(seat));
        let (big, next, second, wants) = match self.state {
            State::Ready => (
                "HANDS AWAY",
                format!("Enter: wake {name} at {pulse} µs, where it is read. Hands away first."),
                format!(
                    "It wakes at {} µs at full speed; the joint before goes limp. Space stops.",
                    seat.wakes()
                ),
                Wants::Enter,
            ),
            _ if hand.is_busy() => (
                "HANDS AWAY",
                format!("Wait: {name} goes to {pulse} µs, reached from below."),
                "Inside its limits, with a take-up move at the end. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Doubting => (
                "READ IT AGAIN",
                "Place the gauge anew, type what it says now, then Enter.".to_string(),
                format!(
                    "{name} looks {:+.1}° off. It came anew and stays. Space stops.",
                    self.readings.last().map_or(0.0, Reading::off_deg)
                ),
                Wants::Value {
                    unit: "°",
                    start: None,
                    low: -180.0,
                    high: 180.0,
                },
            ),
            _ => (
                "TYPE THE ANGLE",
                format!("Hold the gauge to {name}, type its angle, then Enter."),
                format!(
                    "Larger is {}. Enter: it goes to mid-travel, hands away. Space stops.",
                    direction(name.kind, seat.yaw_deg, true)
                ),
                Wants::Value {
                    unit: "°",
                    start: None,
                    low: -180.0,
                    high: 180.0,
                },
            ),
        };
        Step {
            title: format!(
                "Check ── {}, {} of {}",
                seat.title(),
                self.read_before + self.at + 1,
                self.read_before + self.seats.len()
            ),
            big,
            next,
            second,
            wrong: false,
            wants,
            picture: Picture {
                joint: Some(seat.at),
                pin: seat.pin,
                pulse: seat.pin.and_then(|pin| hand.pulse(pin)),
                ghost: Some(pulse),
                confirmed: Some(seat.ground),
                guard: seat.pin.and_then(|pin| hand.guard(pin)),
                ..Picture::default()
            },
            lines: self.lines(),
        }
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        match (self.state, answer) {
            (State::Ready, Answer::Enter) => {
                self.state = State::Asking;
                Turn::On(Vec::new())
            }
            // Passed over: not read today.
            (State::Ready, Answer::None) => {
                self.next_joint();
                Turn::On(Vec::new())
            }
            (State::Anew, Answer::Enter) => {
                let anew = self.off().into_iter().flat_map(|it| it.anew.clone());
                let anew = anew.collect();
                self.state = State::Over;
                Turn::On(anew)
            }
            (State::Anew, Answer::None) => {
                self.state = State::Over;
                Turn::On(Vec::new())
            }
            (State::Asking | State::Doubting, Answer::Again) => Turn::Same,
            (State::Asking | State::Doubting, Answer::Value(deg))
                if (-180.0..=180.0).contains(deg) =>
            {
                self.read(*deg)
            }
            (State::Over, Answer::Enter) => Turn::Leave,
            _ => Turn::Ignored,
        }
    }

    fn enter(&mut self, hand: &mut Hand) {
        match (self.state, self.seats.get(self.at)) {
            (State::Asking | State::Doubting, Some((seat, _))) => {
                let Some(pin) = seat.pin else { return };
                let to = target(seat);
                let start = Pulse::from_us(to.us() - TAKE_UP_US).unwrap_or(to);
                hand.park_others(pin);
                hand.confirm(pin, seat.ground);
                hand.stand(pin, start, seat.room());
                hand.travel(pin, start, to);
                hand.bell();
            }
            _ => hand.park_mine(),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calibration::logbook::Part;
    use crate::procedure::rig::{Rig, pin, random_walk, us};
    use crate::procedure::seat::samples::seat;

    fn known(kind: JointKind) -> (Seat, f64) {
        let it = Seat {
            ground: (us(904.0), us(2231.0)),
            line: Some((1487.5, 10.62)),
            ..seat(kind)
        };
        (it, 104.0)
    }

    fn rig(kinds: &[JointKind]) -> Rig<Check> {
        let seats: Vec<_> = kinds.iter().map(|kind| known(*kind)).collect();
        let grounds: Vec<_> = seats
            .iter()
            .filter_map(|(s, _)| Some((s.pin?, s.ground)))
            .collect();
        Rig::new(Check::from_seats(seats, Bench::default()), &grounds)
    }

    #[test]
    fn one_reading_a_joint_and_the_file_holds() {
        let mut rig = rig(&JointKind::ALL);
        for _ in 0..3 {
            rig.say(Answer::Enter);
            assert_eq!(rig.awake().len(), 1, "one at a time");
            let said = rig.step().second;
            assert!(said.contains("Enter: it goes to mid-travel"), "{said}");
            rig.asked.clear();
            rig.say(Answer::Value(0.8));
            let goes = rig.asked.iter().find_map(|ask| match ask {
                crate::procedure::words::Ask::Go { moves, .. } => Some(moves[0].1),
                _ => None,
            });
            assert_eq!(goes, Some(Pulse::CENTRE));
        }
        let step = rig.step();
        assert!(
            !step.wrong && step.next.contains("still holds"),
            "{}",
            step.next
        );
        assert_eq!(rig.book.len(), 3);
        assert!(matches!(
            rig.book[0],
            What::Checked { pulse_us, from: Some(Side::Below), .. } if pulse_us == 1488.0
        ));
        assert_eq!(rig.awake(), []);
    }

    #[test]
    fn a_joint_without_a_plug_is_told_and_never_woken() {
        let mut unplugged = known(JointKind::Femur);
        unplugged.0.pin = None;
        let coxa = known(JointKind::Coxa);
        let grounds = [(pin(22), coxa.0.ground)];
        let seats = vec![unplugged.clone(), coxa];
        let mut rig = Rig::new(Check::from_seats(seats, Bench::default()), &grounds);
        assert!(rig.step().title.contains("LF coxa"), "{}", rig.step().title);
        rig.say(Answer::Enter).say(Answer::Value(0.8));
        let told = |step: &Step| {
            assert!(step.wrong && step.next.contains("find the plugs first"));
            let text = step.lines.join(" ");
            assert!(text.contains("! 1 of the joints here has no known plug and was left out"));
        };
        told(&rig.step());
        assert_eq!(rig.step().wants, Wants::Over);
        assert_eq!(rig.book.len(), 1);
        let woken = rig.asked.iter().filter_map(|it| match it {
            crate::procedure::words::Ask::Wake { pin, .. } => Some(*pin),
            _ => None,
        });
        assert_eq!(woken.collect::<Vec<_>>(), [pin(22)]);
        // None of them has one: nothing is called checked.
        let rig = Rig::new(Check::from_seats(vec![unplugged], Bench::default()), &[]);
        told(&rig.step());
        assert!(rig.asked.is_empty());
    }

    #[test]
    fn a_loosened_screw_is_told_in_degrees_and_mm() {
        let mut rig = rig(&JointKind::ALL);
        rig.say(Answer::Enter).say(Answer::Value(0.2));
        rig.say(Answer::Enter).say(Answer::Value(5.8));
        // It looks off: once more, the gauge placed anew, before anything is said.
        let step = rig.step();
        assert_eq!(step.big, "READ IT AGAIN");
        assert!(step.second.contains("looks +5.8° off"), "{}", step.second);
        assert!(step.lines.iter().all(|it| !it.ends_with('!')));
        rig.say(Answer::Value(6.3));
        rig.say(Answer::Enter).say(Answer::Value(-0.3));
        let step = rig.step();
        assert!(
            step.wrong && step.next.contains("LF femur is off"),
            "{}",
            step.next
        );
        assert_eq!(step.wants, Wants::YesNo);
        // Kept: it stays told. Anew: that joint's horn, bounds, marks and ends, and no other's.
        let before = rig.book.len();
        rig.say(Answer::None);
        assert_eq!((rig.step().wants, rig.book.len()), (Wants::Over, before));
        rig.say(Answer::Undo).say(Answer::Enter);
        assert_eq!(rig.step().wants, Wants::Over);
        let horn = |what: &What| {
            matches!(
                what,
                What::StartOver {
                    part: Part::Horn,
                    ..
                }
            )
        };
        assert!(rig.book[before..].iter().any(horn));
        assert!(rig.book.len() > before + 1);
        for what in &rig.book[before..] {
            let What::StartOver { joint, .. } = what else {
                panic!("{what:?}");
            };
            assert_eq!(joint.to_string(), "LF femur");
        }
        let step = rig.step();
        // At 1488 µs the file says +0.05°: 6.0° off, at 104 mm that is 10.9 mm (by hand).
        assert!(
            step.lines
                .iter()
                .any(|l| l.contains("+6.0°") && l.contains("10.9 mm !")),
            "{:?}",
            step.lines
        );
    }

    #[test]
    fn a_reading_that_was_the_gauge_s_is_not_called_off() {
        let mut rig = rig(&[JointKind::Femur]);
        rig.say(Answer::Enter).say(Answer::Value(4.2));
        assert_eq!(rig.step().big, "READ IT AGAIN");
        rig.say(Answer::Value(2.9));
        let step = rig.step();
        assert!(
            !step.wrong && step.next.contains("still holds"),
            "{}",
            step.next
        );
        assert_eq!(rig.book.len(), 2);
        rig.say(Answer::Undo).say(Answer::Undo);
        assert!(rig.book.is_empty());
    }

    #[test]
    fn every_joint_that_is_off_is_named_however_many_were_read() {
        let seats: Vec<_> = (0..18)
            .map(|place| {
                let (mut it, arm) = known(JointKind::ALL[place % 3]);
                it.name.leg = ["LF", "LM", "LR", "RF", "RM", "RR"][place / 3].to_string();
                it.pin = Some(pin(22 + place as u8));
                (it, arm)
            })
            .collect();
        let grounds: Vec<_> = seats
            .iter()
            .map(|(s, _)| (s.pin.expect("plugged"), s.ground))
            .collect();
        let mut rig = Rig::new(Check::from_seats(seats, Bench::default()), &grounds);
        for place in 0..18 {
            let off = if [0, 4, 5].contains(&place) { 8.0 } else { 0.5 };
            rig.say(Answer::Enter).say(Answer::Value(off));
            if off > 1.0 {
                rig.say(Answer::Value(off));
            }
        }
        let step = rig.step();
        assert!(step.next.contains("3 joints are off"), "{}", step.next);
        for name in ["LF coxa", "LM femur", "LM tibia"] {
            let named = |it: &&String| it.starts_with(name) && it.ends_with('!');
            assert_eq!(
                step.lines.iter().filter(named).count(),
                1,
                "{:?}",
                step.lines
            );
        }
        assert!(step.lines.len() <= 11, "{:?}", step.lines);
    }

    #[test]
    fn undo_and_passing_over() {
        let mut rig = rig(&[JointKind::Coxa, JointKind::Femur]);
        rig.say(Answer::None).say(Answer::Enter);
        assert_eq!(rig.awake(), [pin(23)]);
        rig.say(Answer::Value(0.0)).say(Answer::Undo);
        assert!(rig.book.is_empty());
        // Nothing wakes by that alone.
        assert_eq!((rig.step().big, rig.awake()), ("TAKEN BACK", vec![]));
        rig.say(Answer::Enter);
        assert_eq!(rig.step().big, "TYPE THE ANGLE");
    }

    proptest! {
        #[test]
        fn whatever_is_answered_it_stays_inside_what_is_known(
            answers in proptest::collection::vec(any::<u8>(), 0..80),
            mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..5),
        ) {
            let seats: Vec<_> = JointKind::ALL.iter().map(|kind| known(*kind)).collect();
            let grounds: Vec<_> = seats.iter().filter_map(|(s, _)| Some((s.pin?, s.ground))).collect();
            random_walk(Check::from_seats(seats, Bench::default()), &grounds, &answers, &mishaps);
        }
    }
}
