//! Supply: volts, current limit, common ground, plug orientation, and the sums of stall currents.
//!
//! Numbers are warned of and never forbidden; plugs that sit wrong and a missing common ground are mended before it goes on.

use std::collections::BTreeMap;

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::words::{Answer, Detail, Picture, Step, Wants, counted, wrapped};
use crate::calibration::logbook::{SupplyQuestion as Q, What};
use crate::estimate::Knowledge;
use crate::estimate::knowledge::{SupplyKnown, SupplySaid};
use crate::estimate::supply::{Doing, Draw, Lead, Regulator};

/// A servo at rest and one that turns without a load, A (common practice for small servos).
pub(super) const IDLE_A: f64 = 0.01;
/// See [`IDLE_A`].
pub(super) const MOVING_A: f64 = 0.5;

/// A lithium pack of three cells, V (common practice).
const PACK_V: f64 = 11.1;
/// What a converter gives of what it takes (common practice).
const EFFICIENCY: f64 = 0.85;
/// Wire gauge of leads as they are often used (common practice).
const LEAD_GAUGE: u32 = 18;
/// Their length, m (common practice).
const LEAD_M: f64 = 0.5;

/// What is offered where the supply was never written down, V and A.
const COMMON_VOLTS: f64 = 5.0;
/// See [`COMMON_VOLTS`].
const COMMON_LIMIT_A: f64 = 10.0;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// All was written down before: is it still so?
    Known(SupplyKnown),
    Ask(Q),
    /// The answer was no: that is put right first, with the supply off.
    Mend(Q),
    Sums,
    Over,
}

/// The questions about the supply.
#[derive(Debug, Clone)]
pub struct SupplyMind {
    servos: u32,
    /// What was written down last: its numbers are offered.
    known: Option<SupplyKnown>,
    /// The answers so far; each was recorded when it was given.
    said: BTreeMap<Q, SupplySaid>,
    written: bool,
    /// What was written down before no longer holds.
    anew: bool,
}

/// The machine that asks about the supply.
pub type Supply = Machine<SupplyMind>;

impl Supply {
    /// Goes on at the first question without an answer, and offers what was written down last.
    pub fn new(knowledge: &Knowledge) -> Supply {
        let mind = SupplyMind {
            // A servo a joint, whether its plug is known yet or not.
            servos: knowledge.joints.len() as u32,
            known: knowledge.supply,
            said: knowledge.supply_said.clone(),
            written: false,
            anew: false,
        };
        Machine::of(mind, Hand::new(&[]))
    }
}

/// What one servo draws that stalls or starts with so much.
fn draw(stall_a: f64) -> Draw {
    Draw {
        idle_a: IDLE_A,
        moving_a: MOVING_A,
        stall_a,
    }
}

/// How many of these servos may start at once; nothing where limit or stall current is not known.
pub(super) fn may_start(servos: u32, limit_a: Option<f64>, stall_a: Option<f64>) -> Option<u32> {
    Some(draw(stall_a?).may_start(servos, limit_a?))
}

/// What may be asked of a supply, in words; a warning begins with `!`.
pub(super) fn sums(servos: u32, stall_amps: Option<f64>, limit_amps: f64) -> Vec<String> {
    let Some(stall_a) = stall_amps else {
        return wrapped(
            "! stall current not known: look it up, or take 1 A for a small servo and 2.5 A for a standard one",
        );
    };
    let draw = draw(stall_a);
    let all = Doing {
        idle: 0,
        moving: 0,
        stalled: servos,
    };
    let stalled = draw.sum_a(all);
    let mut lines = vec![
        format!("all {servos} stalled {stalled:.1} A"),
        format!("the limit is    {limit_amps:.1} A"),
    ];
    if stalled > limit_amps {
        lines.extend(wrapped(&match draw.may_start(servos, limit_amps) {
            0 => "! one starting servo alone may draw more than the limit: look at both numbers again, or set a higher limit before any servo wakes".to_string(),
            may => format!(
                "! more than the limit: at most {may} may start at once. They are woken one by one; never let all press at once"
            ),
        }));
    }
    lines
}

/// What such a current asks of what comes before and after the regulator, in words.
fn on_the_way(out_v: f64, limit_a: f64) -> Vec<String> {
    let converter = Regulator {
        out_v,
        limit_a,
        efficiency: EFFICIENCY,
    };
    let lead = Lead::of_gauge(LEAD_GAUGE, LEAD_M);
    wrapped(&format!(
        "giving {limit_a:.1} A a converter takes {:.1} A from {PACK_V} V (85 % assumed), and {LEAD_M} m of {LEAD_GAUGE} gauge leads drop {:.2} V",
        converter.input_a(limit_a, PACK_V),
        lead.drop_v(limit_a)
    ))
}

/// What was written down, in words; a warning begins with `!`.
fn written_down(known: &SupplyKnown) -> Vec<String> {
    let stall = known
        .stall_amps
        .map(|it| format!("one servo stalls at {it:.1} A"));
    let amps = known.display_amps.map(|it| format!(", {it:.1} A"));
    let display = known
        .display_volts
        .map(|it| format!("its display said {it:.2} V{}", amps.unwrap_or_default()));
    let source = known.own_source.map(|own| match own {
        true => "a source of their own".to_string(),
        false => "! fed from the board's 5 V pin or USB".to_string(),
    });
    [
        source,
        Some(format!(
            "set to {:.2} V, limit {:.1} A",
            known.volts, known.limit_amps
        )),
        stall,
        display,
    ]
    .into_iter()
    .flatten()
    .collect()
}

impl SupplyMind {
    fn state(&self) -> State {
        if let Some(known) = self.known
            && self.said.is_empty()
            && !self.anew
        {
            return State::Known(known);
        }
        let is_open = |it: &Q| !self.said.contains_key(it) || self.must_mend(*it);
        match Q::ALL.into_iter().find(is_open) {
            Some(question) if self.must_mend(question) => State::Mend(question),
            Some(question) => State::Ask(question),
            None if self.written => State::Over,
            None => State::Sums,
        }
    }

    fn must_mend(&self, question: Q) -> bool {
        matches!(question, Q::CommonGround | Q::PlugsChecked) && self.yes(question) == Some(false)
    }

    fn yes(&self, question: Q) -> Option<bool> {
        self.said.get(&question)?.yes
    }

    fn value(&self, question: Q) -> Option<f64> {
        self.said.get(&question)?.value
    }

    fn volts(&self) -> f64 {
        let known = self.known.map(|it| it.volts);
        self.value(Q::Volts).or(known).unwrap_or(COMMON_VOLTS)
    }

    fn limit_amps(&self) -> f64 {
        let known = self.known.map(|it| it.limit_amps);
        let said = self.value(Q::LimitAmps);
        said.or(known).unwrap_or(COMMON_LIMIT_A)
    }

    fn warnings(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if self.yes(Q::OwnSource) == Some(false) {
            lines.extend(wrapped("! the board's 5 V cannot feed servos: give them a supply of their own before more than one wakes"));
        }
        if self.yes(Q::CommonGround) == Some(false) {
            lines.extend(wrapped("! without a common ground servos run to their ends and burn: join the grounds first"));
        }
        if self.yes(Q::PlugsChecked) == Some(false) {
            lines.extend(wrapped(
                "! a plug turned round drives nothing and may harm the board's pin",
            ));
        }
        let Some(volts) = self.value(Q::Volts) else {
            return lines;
        };
        if !(4.8..=8.4).contains(&volts) {
            lines.extend(wrapped(
                "! common servos want 4.8 to 6 V, high-voltage ones up to 8.4 V: look at yours",
            ));
        }
        if let Some(shown) = self.value(Q::DisplayVolts)
            && (shown - volts).abs() > 0.3
        {
            let likely = match shown > volts {
                true => "switch it off before more volts burn servos, unless a number is wrong",
                false => "a limit too low, a weak battery, or a wrong number",
            };
            lines.extend(wrapped(&format!(
                "! the display says {shown:.2} V, set are {volts:.2} V: {likely}"
            )));
        }
        lines
    }

    fn words(&self) -> (&'static str, &'static str, Wants) {
        let amps = |start| Wants::Value {
            unit: "A",
            start,
            low: 0.0,
            high: 200.0,
        };
        let volts = |start| Wants::Value {
            unit: "V",
            start,
            low: 0.0,
            high: 30.0,
        };
        match self.state() {
            State::Known(_) => (
                "IS IT STILL SO?",
                "Is the supply still so? Enter yes, and leave. n no: it asks all anew.",
                Wants::YesNo,
            ),
            State::Ask(Q::OwnSource) => (
                "WHERE FROM?",
                "Choose where the servos get their power, then Enter.",
                Wants::Pick {
                    options: [
                        "a supply or regulator of their own, with a switch",
                        "the board's 5 V pin or USB",
                    ]
                    .map(str::to_string)
                    .to_vec(),
                    start: usize::from(self.known.and_then(|it| it.own_source) == Some(false)),
                },
            ),
            State::Ask(Q::CommonGround) => (
                "COMMON GROUND?",
                "Is the supply's minus joined to the board's ground? Enter yes, n no.",
                Wants::YesNo,
            ),
            State::Ask(Q::PlugsChecked) => (
                "LOOK AT EACH PLUG",
                "Does each plug sit as drawn: ground, plus, signal? Enter yes, n no.",
                Wants::YesNo,
            ),
            State::Ask(Q::Volts) => (
                "TYPE THE VOLTS",
                "Type what the servo supply is set to, then Enter.",
                volts(Some(self.volts())),
            ),
            State::Ask(Q::LimitAmps) => (
                "TYPE THE LIMIT",
                "Type its current limit, then Enter.",
                amps(Some(self.limit_amps())),
            ),
            State::Ask(Q::StallAmps) => (
                "TYPE STALL CURRENT",
                "Type one servo's stall current, then Enter. n not known.",
                amps(self.known.and_then(|it| it.stall_amps)),
            ),
            State::Ask(Q::DisplayVolts) => (
                "READ THE DISPLAY",
                "Type the volts on the supply's own display, then Enter. n it has none.",
                volts(None),
            ),
            State::Ask(Q::DisplayAmps) => (
                "READ THE DISPLAY",
                "Type the amps on the supply's own display, then Enter. n it has none.",
                amps(None),
            ),
            State::Mend(Q::CommonGround) => (
                "JOIN THE GROUNDS",
                "Supply off. Join its minus to the board's ground. Enter when it is joined.",
                Wants::Enter,
            ),
            State::Mend(_) => (
                "PUT PLUGS RIGHT",
                "Supply off. Put every plug as drawn, look twice. Enter when all sit so.",
                Wants::Enter,
            ),
            State::Sums => (
                "SUMS OF CURRENTS",
                "Enter writes it down. Backspace goes back to a wrong number.",
                Wants::Enter,
            ),
            State::Over => (
                "SUPPLY IS DONE",
                "Enter leaves: the supply is written down.",
                Wants::Over,
            ),
        }
    }

    fn record(&self) -> Vec<What> {
        let mut records = vec![What::Supply {
            volts: self.volts(),
            limit_amps: self.limit_amps(),
            stall_amps: self.value(Q::StallAmps),
            display_volts: self.value(Q::DisplayVolts),
            display_amps: self.value(Q::DisplayAmps),
            common_ground: self.yes(Q::CommonGround) == Some(true),
            plugs_checked: self.yes(Q::PlugsChecked) == Some(true),
        }];
        if self.yes(Q::OwnSource) == Some(false) {
            records.push(What::Note {
                text: "the servos are fed from the board's 5 V or USB".to_string(),
            });
        }
        records
    }
}

/// What an answer says to a question; nothing if it is none to it.
fn said(question: Q, answer: &Answer) -> Option<SupplySaid> {
    let yes = |it| SupplySaid {
        yes: Some(it),
        value: None,
    };
    let value = |it| SupplySaid {
        yes: None,
        value: it,
    };
    match (question, answer) {
        (Q::OwnSource, Answer::Pick(k)) if *k < 2 => Some(yes(*k == 0)),
        (Q::CommonGround | Q::PlugsChecked, Answer::Enter) => Some(yes(true)),
        (Q::CommonGround | Q::PlugsChecked, Answer::None) => Some(yes(false)),
        (Q::Volts | Q::DisplayVolts, Answer::Value(v)) if (0.0..=30.0).contains(v) => {
            Some(value(Some(*v)))
        }
        // A stall current of nothing is one that is not known.
        (Q::StallAmps, Answer::Value(a)) if *a == 0.0 => Some(value(None)),
        (Q::LimitAmps | Q::StallAmps | Q::DisplayAmps, Answer::Value(a))
            if (0.0..=200.0).contains(a) =>
        {
            Some(value(Some(*a)))
        }
        (_, Answer::None) if question.may_be_unknown() => Some(value(None)),
        _ => None,
    }
}

impl Mind for SupplyMind {
    fn step(&self, _hand: &Hand) -> Step {
        let (big, next, wants) = self.words();
        let mut lines = self.warnings();
        let wrong = !lines.is_empty();
        if let State::Known(known) = self.state() {
            lines.extend(written_down(&known));
            lines.extend(sums(self.servos, known.stall_amps, known.limit_amps));
        }
        if matches!(self.state(), State::Sums | State::Over) {
            let stall_amps = self.value(Q::StallAmps);
            lines.extend(sums(self.servos, stall_amps, self.limit_amps()));
            if self.yes(Q::OwnSource) == Some(true) && self.volts() < PACK_V {
                lines.extend(on_the_way(self.volts(), self.limit_amps()));
            }
        }
        Step {
            title: format!("Supply ── {}", counted(self.servos as usize, "servo")),
            big,
            next: next.to_string(),
            second: match self.state() {
                State::Mend(_) => {
                    "Nothing moves here. Esc leaves: this is asked again first. Space stops."
                }
                _ => "Nothing moves here. A switch in the servo supply is the stop. Space stops.",
            }
            .to_string(),
            wrong,
            wants,
            picture: Picture {
                detail: if matches!(
                    self.state(),
                    State::Ask(Q::PlugsChecked) | State::Mend(Q::PlugsChecked)
                ) {
                    Detail::PlugSides
                } else {
                    Detail::None
                },
                ..Picture::default()
            },
            lines,
        }
    }

    fn answer(&mut self, answer: &Answer, _hand: &Hand) -> Turn {
        match (self.state(), answer) {
            (State::Known(_), Answer::Enter) => Turn::Leave,
            (State::Known(_), Answer::None) => {
                self.anew = true;
                Turn::On(Vec::new())
            }
            (State::Ask(question), answer) => match said(question, answer) {
                Some(it) => {
                    self.said.insert(question, it);
                    Turn::On(vec![What::SupplyAnswer {
                        to: question,
                        yes: it.yes,
                        value: it.value,
                    }])
                }
                None => Turn::Ignored,
            },
            (State::Mend(question), Answer::Enter) => {
                let it = SupplySaid {
                    yes: Some(true),
                    value: None,
                };
                self.said.insert(question, it);
                Turn::On(vec![What::SupplyAnswer {
                    to: question,
                    yes: it.yes,
                    value: it.value,
                }])
            }
            (State::Sums, Answer::Enter) => {
                self.written = true;
                Turn::On(self.record())
            }
            (State::Over, Answer::Enter) => Turn::Leave,
            _ => Turn::Ignored,
        }
    }

    fn enter(&mut self, _hand: &mut Hand) {}
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calibration::logbook::Entry;
    use crate::estimate::knowledge;
    use crate::procedure::Procedure;
    use crate::procedure::rig::{Rig, random_walk};

    fn supply() -> Supply {
        let mut it = Supply::new(&Knowledge::default());
        it.mind.servos = 18;
        it
    }

    #[test]
    fn battery_current_and_the_drop_on_the_leads_stand_beside_the_sums() {
        let mut rig = Rig::new(supply(), &[]);
        rig.say(Answer::Pick(0)).say(Answer::Enter);
        rig.say(Answer::Enter);
        for value in [6.0, 10.0, 0.5, 6.0, 0.2] {
            rig.say(Answer::Value(value));
        }
        // 10 A · 6 V / (0.85 · 11.1 V); 1.024 mm across, 0.8231 mm² (ASTM B258), 2 · 0.5 m / (58 m/Ωmm² · 0.8231 mm²) · 10 A.
        let text = rig.step().lines.join(" ");
        let wanted = "giving 10.0 A a converter takes 6.4 A from 11.1 V (85 % assumed), and 0.5 m of 18 gauge leads drop 0.21 V";
        assert!(text.contains(wanted), "{text}");
    }

    #[test]
    fn a_display_above_what_was_set_is_a_danger_and_below_it_a_weakness() {
        let says = |shown: f64| {
            let mut rig = Rig::new(supply(), &[]);
            rig.say(Answer::Pick(0)).say(Answer::Enter);
            rig.say(Answer::Enter);
            for value in [5.0, 10.0, 0.5, shown] {
                rig.say(Answer::Value(value));
            }
            rig.step().lines.join(" ")
        };
        assert!(says(12.0).contains("12.00 V, set are 5.00 V: switch it off"));
        assert!(says(4.2).contains("4.20 V, set are 5.00 V: a limit too low"));
        assert!(!says(5.2).contains("display"));
    }

    #[test]
    fn answers_become_one_entry_and_sums_warn_without_forbidding() {
        let mut rig = Rig::new(supply(), &[]);
        rig.say(Answer::Pick(1)).say(Answer::Enter);
        assert_eq!(rig.step().picture.detail, Detail::PlugSides);
        rig.say(Answer::Enter)
            .say(Answer::Value(5.0))
            .say(Answer::Value(8.0));
        rig.say(Answer::Value(1.2))
            .say(Answer::Value(5.02))
            .say(Answer::Value(0.4));
        let text = rig.step().lines.join(" ");
        // 18 · 1.2 A = 21.6 A, by hand.
        assert!(
            text.contains("all 18 stalled 21.6 A") && text.contains("! more than the limit"),
            "{text}"
        );
        assert_eq!(
            rig.book.len(),
            8,
            "each answer was recorded when it was given"
        );
        rig.say(Answer::Enter);
        assert_eq!(
            rig.book[8],
            What::Supply {
                volts: 5.0,
                limit_amps: 8.0,
                stall_amps: Some(1.2),
                display_volts: Some(5.02),
                display_amps: Some(0.4),
                common_ground: true,
                plugs_checked: true,
            }
        );
        assert!(matches!(rig.book[9], What::Note { .. }));
        rig.say(Answer::Undo);
        assert_eq!(rig.book.len(), 8, "undo takes both back");
        for left in (0..8).rev() {
            rig.say(Answer::Undo);
            assert_eq!(rig.book.len(), left, "then one answer at a time");
        }
        assert_eq!(rig.step().big, "WHERE FROM?");
        assert!(rig.asked.is_empty(), "nothing ever moved");
    }

    /// What a logbook with these entries tells.
    fn after(book: &[What]) -> Knowledge {
        let entry = |(what, n): (&What, u64)| Entry {
            n,
            at: "2026-03-14T10:22:05Z".into(),
            what: what.clone(),
        };
        knowledge(&book.iter().zip(1..).map(entry).collect::<Vec<_>>())
    }

    #[test]
    fn no_to_ground_or_plugs_stops_there_until_it_is_mended() {
        let mut rig = Rig::new(supply(), &[]);
        rig.say(Answer::Pick(0)).say(Answer::None);
        let step = rig.step();
        assert!(step.wrong && step.big == "JOIN THE GROUNDS", "{step:?}");
        rig.say(Answer::None).say(Answer::Value(5.0));
        assert_eq!(rig.step(), step, "nothing but Enter goes on");
        rig.say(Answer::Enter);
        assert!(!rig.step().wrong);
        rig.say(Answer::None);
        let step = rig.step();
        assert_eq!(
            (step.big, step.picture.detail),
            ("PUT PLUGS RIGHT", Detail::PlugSides)
        );
        assert!(step.next.starts_with("Supply off."), "{}", step.next);
        // Left there, it goes on there.
        let mut again = Rig::new(Supply::new(&after(&rig.book)), &[]);
        assert_eq!(again.step().big, "PUT PLUGS RIGHT");
        again.say(Answer::Enter);
        assert_eq!(again.step().big, "TYPE THE VOLTS");
    }

    #[test]
    fn a_limit_below_one_servo_s_start_does_not_speak_of_starting_some() {
        let text = sums(18, Some(2.5), 0.3).join(" ");
        assert!(
            text.contains("! one starting servo alone") && !text.contains("at most"),
            "{text}"
        );
    }

    #[test]
    fn left_after_any_answer_it_goes_on_at_the_next_question() {
        let answers = [
            Answer::Pick(1),
            Answer::Enter,
            Answer::None,
            Answer::Enter,
            Answer::Value(6.0),
            Answer::Value(8.0),
            Answer::None,
            Answer::Value(5.98),
            Answer::None,
            Answer::Enter,
        ];
        let whole = {
            let mut rig = Rig::new(supply(), &[]);
            for answer in &answers {
                rig.say(answer.clone());
            }
            rig.book
        };
        assert_eq!(whole.len(), 11);
        for left_after in 0..answers.len() {
            let mut rig = Rig::new(supply(), &[]);
            for answer in &answers[..left_after] {
                rig.say(answer.clone());
            }
            let (step, book) = (rig.step(), rig.book.clone());
            rig.say(Answer::Leave);
            let mut again = Rig::new(Supply::new(&after(&book)), &[]);
            assert_eq!(
                (again.step().big, again.step().wants),
                (step.big, step.wants)
            );
            for answer in &answers[left_after..] {
                again.say(answer.clone());
            }
            let all: Vec<What> = book.into_iter().chain(again.book).collect();
            assert_eq!(all, whole, "left after {left_after} answers");
        }
    }

    #[test]
    fn what_was_written_down_is_shown_and_one_enter_keeps_it() {
        let answers = [
            Answer::Pick(1),
            Answer::Enter,
            Answer::Enter,
            Answer::Value(6.0),
            Answer::Value(8.0),
            Answer::Value(1.5),
            Answer::Value(5.98),
            Answer::None,
            Answer::Enter,
        ];
        let mut first = Rig::new(supply(), &[]);
        for answer in answers {
            first.say(answer);
        }
        let mut again = Rig::new(Supply::new(&after(&first.book)), &[]);
        let step = again.step();
        assert_eq!((step.big, &step.wants), ("IS IT STILL SO?", &Wants::YesNo));
        assert_eq!(
            step.lines[..4],
            [
                "! fed from the board's 5 V pin or USB",
                "set to 6.00 V, limit 8.0 A",
                "one servo stalls at 1.5 A",
                "its display said 5.98 V"
            ]
        );
        again.say(Answer::None);
        // Asked anew, each question offers what was said; a display is read anew.
        let Wants::Pick { start: 1, .. } = again.step().wants else {
            panic!("{:?}", again.step());
        };
        again.say(Answer::Undo).say(Answer::Enter);
        assert!(again.it.is_over(), "{:?}", again.step());
        assert_eq!(
            again.book,
            [],
            "it keeps what is written, and writes nothing"
        );
    }

    #[test]
    fn an_answer_that_was_taken_back_in_the_logbook_alone_is_asked_again() {
        let mut rig = Rig::new(supply(), &[]);
        rig.say(Answer::Pick(0))
            .say(Answer::Enter)
            .say(Answer::Enter);
        rig.book.push(What::Undo { entry: 2 });
        let mut again = Rig::new(Supply::new(&after(&rig.book)), &[]);
        assert_eq!(again.step().big, "COMMON GROUND?");
        again.say(Answer::Enter);
        assert_eq!(again.step().big, "TYPE THE VOLTS");
    }

    #[test]
    fn enough_current_is_no_warning() {
        assert!(
            !sums(18, Some(0.8), 20.0)
                .iter()
                .any(|line| line.starts_with('!'))
        );
        assert!(sums(18, None, 20.0)[0].starts_with('!'));
    }

    proptest! {
        #[test]
        fn any_answers_can_be_left(answers in proptest::collection::vec(any::<u8>(), 0..60)) {
            random_walk(supply(), &[], &answers, &[]);
        }
    }
}
