//! Supply: volts, current limit, common ground, plug orientation, and the sums of stall currents. It warns and never forbids.

use super::hand::Hand;
use super::machine::{Machine, Mind, Turn};
use super::words::{Answer, Detail, Picture, Step, Wants, counted, wrapped};
use crate::calibration::logbook::What;
use crate::estimate::Knowledge;
use crate::estimate::supply::{Doing, Draw};

/// A servo at rest and one that turns without a load, A (common practice for small servos).
pub(super) const IDLE_A: f64 = 0.01;
/// See [`IDLE_A`].
pub(super) const MOVING_A: f64 = 0.5;

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    Source,
    Ground,
    Plugs,
    Volts,
    Limit,
    Stall,
    DisplayVolts,
    DisplayAmps,
    Sums,
    Over,
}

/// The questions about the supply.
#[derive(Debug, Clone)]
pub struct SupplyMind {
    state: State,
    servos: u32,
    from_board: bool,
    ground: bool,
    plugs: bool,
    volts: f64,
    limit_amps: f64,
    stall_amps: Option<f64>,
    display_volts: Option<f64>,
    display_amps: Option<f64>,
}

/// The machine that asks about the supply.
pub type Supply = Machine<SupplyMind>;

impl Supply {
    /// Begins with what was written down last.
    pub fn new(knowledge: &Knowledge) -> Supply {
        let known = knowledge.supply;
        let mind = SupplyMind {
            state: State::Source,
            // A servo a joint, whether its plug is known yet or not.
            servos: knowledge.joints.len() as u32,
            from_board: false,
            ground: false,
            plugs: false,
            volts: known.map_or(5.0, |it| it.volts),
            limit_amps: known.map_or(10.0, |it| it.limit_amps),
            stall_amps: known.and_then(|it| it.stall_amps),
            display_volts: None,
            display_amps: None,
        };
        Machine::of(mind, Hand::new(&[]))
    }
}

/// What may be asked of a supply, in words; a warning begins with `!`.
pub(super) fn sums(servos: u32, stall_amps: Option<f64>, limit_amps: f64) -> Vec<String> {
    let Some(stall_a) = stall_amps else {
        return wrapped(
            "! stall current not known: look it up, or take 1 A for a small servo and 2.5 A for a standard one",
        );
    };
    let draw = Draw {
        idle_a: IDLE_A,
        moving_a: MOVING_A,
        stall_a,
    };
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
        let may = draw.may_start(servos, limit_amps);
        lines.extend(wrapped(&format!(
            "! more than the limit: at most {may} may start at once. They are woken one by one; never let all press at once"
        )));
    }
    lines
}

impl SupplyMind {
    fn warnings(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let after = |state: State| self.state as u8 > state as u8;
        if after(State::Source) && self.from_board {
            lines.extend(wrapped("! the board's 5 V cannot feed servos: give them a supply of their own before more than one wakes"));
        }
        if after(State::Ground) && !self.ground {
            lines.extend(wrapped("! without a common ground servos run to their ends and burn: join the grounds first"));
        }
        if after(State::Plugs) && !self.plugs {
            lines.extend(wrapped(
                "! a plug turned round drives nothing and may harm the board's pin",
            ));
        }
        if after(State::Volts) && !(4.8..=8.4).contains(&self.volts) {
            lines.extend(wrapped(
                "! common servos want 4.8 to 6 V, high-voltage ones up to 8.4 V: look at yours",
            ));
        }
        if let (true, Some(shown)) = (after(State::DisplayVolts), self.display_volts)
            && (shown - self.volts).abs() > 0.3
        {
            lines.extend(wrapped(&format!(
                "! the display says {shown:.2} V, set are {:.2} V: thin leads, a limit too low, or a wrong number", self.volts
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
        match self.state {
            State::Source => (
                "WHERE FROM?",
                "Choose where the servos get their power, then Enter.",
                Wants::Pick {
                    options: [
                        "a supply or regulator of their own, with a switch",
                        "the board's 5 V pin or USB",
                    ]
                    .map(str::to_string)
                    .to_vec(),
                    start: 0,
                },
            ),
            State::Ground => (
                "COMMON GROUND?",
                "Is the supply's minus joined to the board's ground? Enter yes, n no.",
                Wants::YesNo,
            ),
            State::Plugs => (
                "LOOK AT EACH PLUG",
                "Does each plug sit as drawn: ground, plus, signal? Enter yes, n no.",
                Wants::YesNo,
            ),
            State::Volts => (
                "TYPE THE VOLTS",
                "Type what the servo supply is set to, then Enter.",
                volts(Some(self.volts)),
            ),
            State::Limit => (
                "TYPE THE LIMIT",
                "Type its current limit, then Enter.",
                amps(Some(self.limit_amps)),
            ),
            State::Stall => (
                "TYPE STALL CURRENT",
                "Type one servo's stall current, then Enter. n not known.",
                amps(self.stall_amps),
            ),
            State::DisplayVolts => (
                "READ THE DISPLAY",
                "Type the volts on the supply's own display, then Enter. n it has none.",
                volts(None),
            ),
            State::DisplayAmps => (
                "READ THE DISPLAY",
                "Type the amps on the supply's own display, then Enter. n it has none.",
                amps(None),
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
            volts: self.volts,
            limit_amps: self.limit_amps,
            stall_amps: self.stall_amps,
            display_volts: self.display_volts,
            display_amps: self.display_amps,
            common_ground: self.ground,
            plugs_checked: self.plugs,
        }];
        if self.from_board {
            records.push(What::Note {
                text: "the servos are fed from the board's 5 V or USB".to_string(),
            });
        }
        records
    }
}

impl Mind for SupplyMind {
    fn step(&self, _hand: &Hand) -> Step {
        let (big, next, wants) = self.words();
        let mut lines = self.warnings();
        let wrong = !lines.is_empty();
        if matches!(self.state, State::Sums | State::Over) {
            lines.extend(sums(self.servos, self.stall_amps, self.limit_amps));
        }
        Step {
            title: format!("Supply ── {}", counted(self.servos as usize, "servo")),
            big,
            next: next.to_string(),
            second: "Nothing moves here. A switch in the servo supply is the stop. Space stops."
                .to_string(),
            wrong,
            wants,
            picture: Picture {
                detail: if self.state == State::Plugs {
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
        let amps = |a: f64| (0.0..=200.0).contains(&a);
        let volts = |v: f64| (0.0..=30.0).contains(&v);
        self.state = match (self.state, answer) {
            (State::Source, Answer::Pick(k)) if *k < 2 => {
                self.from_board = *k == 1;
                State::Ground
            }
            (State::Ground, Answer::Enter | Answer::None) => {
                self.ground = *answer == Answer::Enter;
                State::Plugs
            }
            (State::Plugs, Answer::Enter | Answer::None) => {
                self.plugs = *answer == Answer::Enter;
                State::Volts
            }
            (State::Volts, Answer::Value(v)) if volts(*v) => {
                self.volts = *v;
                State::Limit
            }
            (State::Limit, Answer::Value(a)) if amps(*a) => {
                self.limit_amps = *a;
                State::Stall
            }
            (State::Stall, Answer::Value(a)) if amps(*a) => {
                self.stall_amps = (*a > 0.0).then_some(*a);
                State::DisplayVolts
            }
            (State::Stall, Answer::None) => {
                self.stall_amps = None;
                State::DisplayVolts
            }
            (State::DisplayVolts, Answer::Value(v)) if volts(*v) => {
                self.display_volts = Some(*v);
                State::DisplayAmps
            }
            (State::DisplayVolts, Answer::None) => State::DisplayAmps,
            (State::DisplayAmps, Answer::Value(a)) if amps(*a) => {
                self.display_amps = Some(*a);
                State::Sums
            }
            (State::DisplayAmps, Answer::None) => State::Sums,
            (State::Sums, Answer::Enter) => {
                self.state = State::Over;
                return Turn::On(self.record());
            }
            (State::Over, Answer::Enter) => return Turn::Leave,
            _ => return Turn::Ignored,
        };
        Turn::On(Vec::new())
    }

    fn enter(&mut self, _hand: &mut Hand) {}
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::procedure::rig::{Rig, random_walk};

    fn supply() -> Supply {
        let mut it = Supply::new(&Knowledge::default());
        it.mind.servos = 18;
        it
    }

    #[test]
    fn answers_become_one_entry_and_sums_warn_without_forbidding() {
        let mut rig = Rig::new(supply(), &[]);
        rig.say(Answer::Pick(1)).say(Answer::None);
        assert!(rig.step().wrong, "no common ground is said at once");
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
        rig.say(Answer::Enter);
        assert_eq!(
            rig.book[0],
            What::Supply {
                volts: 5.0,
                limit_amps: 8.0,
                stall_amps: Some(1.2),
                display_volts: Some(5.02),
                display_amps: Some(0.4),
                common_ground: false,
                plugs_checked: true,
            }
        );
        assert!(matches!(rig.book[1], What::Note { .. }));
        rig.say(Answer::Undo);
        assert!(rig.book.is_empty(), "undo takes both back");
        assert!(rig.asked.is_empty(), "nothing ever moved");
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
