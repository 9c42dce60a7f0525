//! Waking more than a few servos: the sum is shown first; after a brown-out, and on a supply whose limit lets only
//! one or two start at once, they wake one by one, in an eased order.
//!
//! Unlike other machines it leaves what it woke awake.

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::seat::{Bench, Seat, seats};
use super::supply::{may_start, sums};
use super::words::{Answer, Picture, Scope, Step, Wants, counted, wrapped};
use crate::calibration::model::JointKind;
use crate::estimate::Knowledge;
use crate::units::{Pin, Pulse};

/// So many may wake without a plan.
pub const FEW: usize = 3;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// The sum is shown; Enter begins.
    Ready,
    /// These many are awake or waking.
    Waking(usize),
    Over,
}

/// Why they wake one by one.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Eased {
    BrownOut,
    /// The supply's stated limit lets only so many start at once.
    MayStart(u32),
}

impl Eased {
    fn words(self) -> String {
        let order = "coxas first, they lift nothing, femurs last";
        match self {
            Eased::BrownOut => {
                format!("after a brown-out: {order}, until the supply is written down anew")
            }
            Eased::MayStart(0) => format!("the limit is below one start: {order}"),
            Eased::MayStart(may) => format!("the limit lets {may} start at once: {order}"),
        }
    }
}

/// The waking of some joints.
#[derive(Debug, Clone)]
pub struct WakingMind {
    seats: Vec<(Seat, Pulse)>,
    state: State,
    /// One by one, each with an Enter; and why.
    eased: Option<Eased>,
    limit_amps: Option<f64>,
    stall_amps: Option<f64>,
    /// Servos that were awake before.
    before: usize,
}

/// The machine that wakes many.
pub type Waking = Machine<WakingMind>;

impl Waking {
    /// The joints of this scope at the last pulses that were known; `eased` after a brown-out, and by itself where the
    /// supply's limit lets fewer than [`FEW`] start at once.
    pub fn new(
        knowledge: &Knowledge,
        scope: Scope,
        last: &[(Pin, Pulse)],
        eased: bool,
        bench: Bench,
    ) -> Waking {
        let at = |pin: Pin| last.iter().find(|it| it.0 == pin).map(|it| it.1);
        let seats = seats(knowledge, scope).into_iter();
        let seats = seats.filter_map(|it| {
            let pulse = at(it.pin?).unwrap_or(Pulse::CENTRE);
            Some((it, pulse))
        });
        Waking::on_supply(knowledge, seats.collect(), eased, bench)
    }

    /// These pins at these pulses, and no others; `eased` as in [`Waking::new`].
    pub fn these(
        knowledge: &Knowledge,
        wakes: &[(Pin, Pulse)],
        eased: bool,
        bench: Bench,
    ) -> Waking {
        let at = |pin: Pin| wakes.iter().find(|it| it.0 == pin).map(|it| it.1);
        let seats = seats(knowledge, Scope::Robot).into_iter();
        let seats = seats.filter_map(|it| {
            let pulse = at(it.pin?)?;
            Some((it, pulse))
        });
        Waking::on_supply(knowledge, seats.collect(), eased, bench)
    }

    fn on_supply(
        knowledge: &Knowledge,
        seats: Vec<(Seat, Pulse)>,
        eased: bool,
        bench: Bench,
    ) -> Waking {
        let supply = knowledge.supply;
        Waking::from_seats(
            seats,
            eased,
            supply.map(|it| it.limit_amps),
            supply.and_then(|it| it.stall_amps),
            bench,
        )
    }

    pub(super) fn from_seats(
        mut seats: Vec<(Seat, Pulse)>,
        eased: bool,
        limit_amps: Option<f64>,
        stall_amps: Option<f64>,
        bench: Bench,
    ) -> Waking {
        seats.retain(|(it, _)| !bench.awake.iter().any(|(pin, _)| Some(*pin) == it.pin));
        // Where it is not known to move freely it is not sent: what is said is what is done.
        for (seat, pulse) in &mut seats {
            *pulse = (*pulse).clamp(seat.ground.0, seat.ground.1);
        }
        let before = bench.awake.len();
        let eased = if eased {
            Some(Eased::BrownOut)
        } else {
            // The board starts one each 60 ms, and a long jump lasts longer: a few start while others still turn.
            let count = (seats.len() + before) as u32;
            may_start(count, limit_amps, stall_amps)
                .filter(|may| *may < count.min(FEW as u32))
                .map(Eased::MayStart)
        };
        if eased.is_some() {
            seats.sort_by_key(|(it, _)| weight(it.name.kind));
        }
        let mind = WakingMind {
            state: if seats.is_empty() {
                State::Over
            } else {
                State::Ready
            },
            seats,
            eased,
            limit_amps,
            stall_amps,
            before,
        };
        Machine::of(mind, Hand::new(&bench.awake))
    }

    /// Whether they wake one by one, each with an Enter.
    pub fn is_eased(&self) -> bool {
        self.mind.eased.is_some()
    }
}

/// What a joint has to lift when it wakes: coxas turn the leg level, tibias lift themselves, femurs lift the leg.
fn weight(kind: JointKind) -> u8 {
    match kind {
        JointKind::Coxa => 0,
        JointKind::Tibia => 1,
        JointKind::Femur => 2,
    }
}

/// What these many servos may draw together, against the limit of the supply and one servo's stall current.
fn sum_of(count: usize, supply: Option<(f64, Option<f64>)>) -> Vec<String> {
    match supply {
        Some((limit, stall)) => sums(count as u32, stall, limit),
        None => wrapped("! the supply was not written down: its limit is not known"),
    }
}

/// The sum that is shown before so many servos are awake; nothing while they are [`FEW`].
pub fn sum_when_awake(knowledge: &Knowledge, count: usize) -> Vec<String> {
    if count <= FEW {
        return Vec::new();
    }
    let supply = knowledge.supply;
    sum_of(count, supply.map(|it| (it.limit_amps, it.stall_amps)))
}

impl WakingMind {
    fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if self.before > 0 {
            lines.push(format!("{} are awake already", self.before));
        }
        let count = self.seats.len() + self.before;
        lines.extend(sum_of(
            count,
            self.limit_amps.map(|limit| (limit, self.stall_amps)),
        ));
        lines
    }
}

impl WakingMind {
    fn all_awake(&self, hand: &Hand) -> bool {
        let awake = |seat: &Seat| seat.pin.is_some_and(|pin| hand.pulse(pin).is_some());
        !hand.is_busy() && self.seats.iter().all(|(seat, _)| awake(seat))
    }
}

impl Mind for WakingMind {
    fn step(&self, hand: &Hand) -> Step {
        let count = self.seats.len();
        let servos = counted(count, "servo");
        let mut lines = self.lines();
        let wrong = lines.iter().any(|line| line.starts_with('!'));
        let (awake, big, next, second, wants) = match self.state {
            State::Ready => (
                0,
                "HANDS AWAY",
                match self.eased {
                    None => {
                        format!("Enter: wake {servos}, one after the other. Hands away first.")
                    }
                    Some(_) => {
                        format!("Enter: wake {servos}, one for each Enter. Hands away first.")
                    }
                },
                "Each jumps to its last pulse at full speed. Hold the body. Space stops."
                    .to_string(),
                Wants::Enter,
            ),
            State::Waking(k) if hand.is_busy() => (
                k,
                "HANDS AWAY",
                format!("Wait: servos are waking, at least 60 ms apart; {k} of {count} asked for."),
                "If the supply dips the board resets and all go limp. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Waking(k) if k < count => (
                k,
                "ONE MORE?",
                format!(
                    "Enter: wake {} at {} µs; {k} of {count} are awake.",
                    self.seats[k].0.name, self.seats[k].1
                ),
                "It jumps there at full speed. Look at the supply's display. Space stops."
                    .to_string(),
                Wants::Enter,
            ),
            State::Waking(_) | State::Over => {
                let mut step = Step::over(
                    "Waking",
                    "ALL ARE AWAKE",
                    "all of them are awake and stay so",
                );
                step.second =
                    "They hold their pulses and get warm in time. Space stops.".to_string();
                step.lines = lines;
                return step;
            }
        };
        if let Some(why) = self.eased {
            lines.extend(wrapped(&why.words()));
        }
        let seat = self.seats.get(awake).map(|it| &it.0);
        Step {
            title: format!("Waking ── {servos}"),
            big,
            next,
            second,
            wrong,
            wants,
            picture: Picture {
                joint: seat.map(|it| it.at),
                pin: seat.and_then(|it| it.pin),
                ghost: self.seats.get(awake).map(|it| it.1),
                ..Picture::default()
            },
            lines,
        }
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        self.state = match (self.state, answer) {
            (State::Ready, Answer::Enter) if self.eased.is_some() => State::Waking(1),
            (State::Ready, Answer::Enter) => State::Waking(self.seats.len()),
            (State::Waking(k), Answer::Enter) if k < self.seats.len() => State::Waking(k + 1),
            (State::Over | State::Waking(_), Answer::Enter) => return Turn::Leave,
            _ => return Turn::Ignored,
        };
        Turn::On(Vec::new())
    }

    fn enter(&mut self, hand: &mut Hand) {
        let State::Waking(upto) = self.state else {
            if self.state == State::Ready {
                hand.limp_mine();
            }
            return;
        };
        let mut counted = false;
        for (seat, pulse) in self.seats.iter().take(upto) {
            let Some(pin) = seat.pin else { continue };
            hand.confirm(pin, seat.ground);
            if hand.pulse(pin).is_none() {
                // One countdown for a whole row of wakes.
                hand.wake(pin, *pulse, seat.room(), !counted);
                counted = true;
            }
        }
        // After an undo fewer are to be awake.
        for (seat, _) in self.seats.iter().skip(upto) {
            if let Some(pin) = seat.pin
                && hand.pulse(pin).is_some()
            {
                hand.limp(pin);
            }
        }
        hand.bell();
    }

    /// It went limp while many were awake: from now on one by one.
    fn interrupted(&mut self) {
        if matches!(self.state, State::Waking(_)) {
            self.eased.get_or_insert(Eased::BrownOut);
            self.seats.sort_by_key(|(it, _)| weight(it.name.kind));
            self.state = State::Ready;
        }
    }

    fn leaves_awake(&self, hand: &Hand) -> bool {
        hand.trouble().is_none() && self.all_awake(hand)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calibration::logbook::{Entry, Plan, What};
    use crate::estimate::knowledge;
    use crate::procedure::Procedure;
    use crate::procedure::rig::{Mishap, Rig, any_answer, pin, us};
    use crate::procedure::seat::samples::seat;
    use crate::procedure::words::Ask;

    #[test]
    fn only_the_servos_that_are_asked_for_count_where_a_few_wake_again() {
        let robot = crate::calibration::read(crate::calibration::MARRAM).robot;
        let plan = What::Plan(Plan::of(&robot.expect("a good file")));
        let supply = What::Supply {
            volts: 6.0,
            limit_amps: 3.65,
            stall_amps: Some(1.2),
            display_volts: None,
            display_amps: None,
            common_ground: true,
            plugs_checked: true,
        };
        let entry = |(n, what)| Entry {
            n,
            at: "2026-03-14T10:22:05Z".into(),
            what,
        };
        let book: Vec<Entry> = (1..).zip([plan, supply]).map(entry).collect();
        let leg: Vec<(Pin, Pulse)> = (22..=24).map(|n| (pin(n), us(1500.0))).collect();
        let it = Waking::these(&knowledge(&book), &leg, false, Bench::default());
        // 3 · 1.2 A, by hand: 15 more at rest would leave room for two starts only, and they do not wake.
        assert_eq!((it.mind.seats.len(), it.mind.eased), (3, None));
    }

    fn leg() -> Vec<(Seat, Pulse)> {
        let known = |kind| Seat {
            ground: (us(904.0), us(2231.0)),
            ..seat(kind)
        };
        JointKind::ALL
            .iter()
            .map(|kind| (known(*kind), us(1516.0)))
            .collect()
    }

    fn grounds() -> Vec<(Pin, (Pulse, Pulse))> {
        (22..=24)
            .map(|n| (pin(n), (us(904.0), us(2231.0))))
            .collect()
    }

    fn woken(asked: &[Ask]) -> Vec<u8> {
        let wake = |ask: &Ask| match ask {
            Ask::Wake { pin, .. } => Some(pin.number()),
            _ => None,
        };
        asked.iter().filter_map(wake).collect()
    }

    #[test]
    fn servos_that_are_awake_already_count_in_the_sum() {
        let bench = Bench {
            awake: (30..=35).map(|n| (pin(n), us(1500.0))).collect(),
            ..Bench::default()
        };
        let it = Waking::from_seats(leg(), false, Some(10.0), Some(1.2), bench);
        let step = Rig::new(it, &grounds()).step();
        // 9 · 1.2 A, by hand.
        assert_eq!(
            step.lines[..2],
            ["6 are awake already", "all 9 stalled 10.8 A"]
        );
        assert!(step.wrong, "{:?}", step.lines);
    }

    #[test]
    fn the_sum_is_shown_before_anything_wakes() {
        let it = Waking::from_seats(leg(), false, Some(4.0), Some(1.2), Bench::default());
        let mut rig = Rig::new(it, &grounds());
        let step = rig.step();
        // 3 · 1.2 A, by hand; one more is warned of above.
        assert!(
            step.lines.iter().any(|l| l.contains("all 3 stalled 3.6 A")),
            "{:?}",
            step.lines
        );
        assert!(!step.wrong && rig.asked.is_empty());
        rig.say(Answer::Enter);
        assert_eq!(woken(&rig.asked), [22, 23, 24]);
        assert_eq!(rig.step().wants, Wants::Over);
        rig.say(Answer::Enter);
        assert!(rig.it.is_over());
        assert_eq!(rig.awake().len(), 3, "they stay awake");
    }

    #[test]
    fn after_a_brown_out_one_for_each_enter_femurs_last() {
        let it = Waking::from_seats(leg(), true, Some(2.0), Some(1.2), Bench::default());
        let mut rig = Rig::new(it, &grounds());
        rig.say(Answer::Enter);
        assert_eq!(woken(&rig.asked), [22]);
        rig.say(Answer::Enter);
        assert_eq!(woken(&rig.asked), [22, 24]);
        rig.say(Answer::Undo);
        assert_eq!(rig.awake(), [pin(22)]);
        rig.say(Answer::Enter).say(Answer::Enter);
        assert_eq!(rig.awake().len(), 3);
        assert_eq!(rig.step().wants, Wants::Over);
    }

    #[test]
    fn a_limit_that_lets_fewer_than_a_few_start_eases_the_order_before_any_brown_out() {
        let begun = |limit| {
            let it = Waking::from_seats(leg(), false, Some(limit), Some(1.2), Bench::default());
            let mut rig = Rig::new(it, &grounds());
            let lines = rig.step().lines.join(" ");
            rig.say(Answer::Enter);
            (woken(&rig.asked), lines)
        };
        // 2 · 1.2 A and one at rest with 0.01 A, by hand.
        let (pins, lines) = begun(2.41);
        assert_eq!(pins, [22]);
        assert!(lines.contains("the limit lets 2 start at once"), "{lines}");
        // 1.2 A and two at rest: not even one may.
        let (pins, lines) = begun(1.21);
        assert_eq!(pins, [22]);
        assert!(lines.contains("the limit is below one start"), "{lines}");
        // 3 · 1.2 A: they all may.
        assert_eq!(begun(3.61).0, [22, 23, 24]);
    }

    #[test]
    fn a_reset_while_waking_eases_the_order() {
        let it = Waking::from_seats(leg(), false, Some(10.0), Some(1.2), Bench::default());
        let mut rig = Rig::new(it, &grounds());
        rig.say(Answer::Enter);
        rig.space();
        rig.say(Answer::Enter);
        assert!(
            rig.step().next.contains("one for each Enter"),
            "{}",
            rig.step().next
        );
        rig.asked.clear();
        rig.say(Answer::Enter);
        assert_eq!(woken(&rig.asked), [22]);
    }

    #[test]
    fn leaving_in_the_middle_makes_limp() {
        let it = Waking::from_seats(leg(), true, None, None, Bench::default());
        let mut rig = Rig::new(it, &grounds());
        rig.say(Answer::Enter).say(Answer::Leave);
        assert_eq!(rig.awake(), []);
    }

    proptest! {
        #[test]
        fn whatever_is_answered_joints_wake_inside_what_is_known(
            answers in proptest::collection::vec(any::<u8>(), 0..40),
            mishap in any::<(u8, u8)>(),
            eased in any::<bool>(),
        ) {
            let it = Waking::from_seats(leg(), eased, None, None, Bench::default());
            let mut rig = Rig::new(it, &grounds());
            let kinds = [Mishap::Refused, Mishap::Limp, Mishap::Frozen, Mishap::CalledOff];
            rig.mishap = Some((usize::from(mishap.0 % 12), kinds[usize::from(mishap.1 % 4)]));
            for k in answers {
                let answer = any_answer(k, &rig.step());
                rig.say(answer);
            }
            let all = rig.step().wants == Wants::Over;
            rig.say(Answer::Leave);
            prop_assert!(rig.it.is_over());
            // All awake and staying so, or none: never some.
            prop_assert_eq!(rig.awake().len(), if all { 3 } else { 0 });
        }
    }
}
