//! What all machines have in common: undo, leaving, trouble, and that nothing is asked while something moves.
//!
//! A [`Mind`] is the part that differs: plain state, cloned before each answer so that undo is going back to the clone.
//! Where joints stand is not undone by going back: that is the [`Hand`]'s, and `enter` moves them to where the step needs them.

use super::Procedure;
use super::hand::{Hand, Trouble};
use super::words::{Answer, Do, Heard, Step, Wants};
use crate::calibration::logbook::What;

/// How many answers can be undone; what lies before can be undone from the logbook.
const REMEMBERED: usize = 400;

/// What became of an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Turn {
    /// It says nothing here.
    Ignored,
    /// The same step once more, from its motion on: nothing to undo.
    Same,
    /// A setting for later: nothing to undo, nothing moves.
    Kept,
    /// A new step, and what is to be recorded.
    On(Vec<What>),
    /// The work is done.
    Leave,
}

/// So many characters a line of the screen has at 80 columns, behind its sign.
const LINE: usize = 77;

/// A reason as a sentence of its own.
fn sentence(why: &str) -> String {
    let mut letters = why.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    let text = first.unwrap_or_default() + letters.as_str();
    match text.ends_with(['.', '?', '!']) {
        true => text,
        false => text + ".",
    }
}

/// The part of a machine that differs.
pub trait Mind: Clone + std::fmt::Debug + Send {
    /// What stands on the screen.
    fn step(&self, hand: &Hand) -> Step;
    /// An answer, given while nothing moves.
    fn answer(&mut self, answer: &Answer, hand: &Hand) -> Turn;
    /// Queues the motion that the present step needs, from wherever the joints are now.
    fn enter(&mut self, hand: &mut Hand);
    /// Time went by and nothing moves; true when `enter` is to be called.
    fn poll(&mut self, _now_ms: u64) -> bool {
        false
    }
    /// Answers are taken while something moves.
    fn takes_while_moving(&self) -> bool {
        false
    }
    /// All went limp.
    fn interrupted(&mut self) {}
    /// What it woke stays awake when it is left now.
    fn leaves_awake(&self, _hand: &Hand) -> bool {
        false
    }
    /// The board's trip acted; as an answer.
    fn tripped(&mut self, _hand: &Hand) -> Turn {
        Turn::Ignored
    }
}

/// A mind with a hand.
#[derive(Debug, Clone)]
pub struct Machine<M> {
    pub(super) mind: M,
    hand: Hand,
    past: Vec<(M, usize)>,
    again: bool,
    undone: bool,
    over: bool,
}

impl<M: Mind> Machine<M> {
    pub(super) fn of(mind: M, hand: Hand) -> Machine<M> {
        Machine {
            mind,
            hand,
            past: Vec::new(),
            again: false,
            undone: false,
            over: false,
        }
    }

    fn turn(&mut self, before: M, turn: Turn) -> Vec<Do> {
        match turn {
            Turn::Ignored | Turn::Kept => Vec::new(),
            Turn::Leave => self.leave(),
            Turn::Same => self.enter(),
            Turn::On(records) => {
                if self.past.len() == REMEMBERED {
                    self.past.remove(0);
                }
                self.past.push((before, records.len()));
                let mut out: Vec<Do> = records.into_iter().map(Do::Record).collect();
                out.extend(self.enter());
                out
            }
        }
    }

    fn enter(&mut self) -> Vec<Do> {
        if self.hand.is_waiting() {
            self.again = true;
            return Vec::new();
        }
        self.again = false;
        if std::mem::take(&mut self.undone) {
            // Hands may be where the step that was taken back sent them: nothing wakes before the next Enter.
            let mut tried = self.hand.clone();
            self.mind.clone().enter(&mut tried);
            if tried.will_wake() {
                self.hand.fail(Trouble::TakenBack);
                return Vec::new();
            }
        }
        self.mind.enter(&mut self.hand);
        self.hand.pump()
    }

    fn undo(&mut self) -> Vec<Do> {
        let Some((former, records)) = self.past.pop() else {
            return Vec::new();
        };
        self.mind = former;
        self.hand.drop_queue();
        self.hand.clear_trouble();
        self.undone = true;
        let mut out = vec![Do::Undo; records];
        out.extend(self.enter());
        out
    }

    fn leave(&mut self) -> Vec<Do> {
        self.over = true;
        let mut out = match self.mind.leaves_awake(&self.hand) {
            true => Vec::new(),
            false => self.hand.let_go(),
        };
        out.push(Do::Left);
        out
    }

    fn trouble_step(&self, trouble: &Trouble) -> Step {
        let mut step = self.mind.step(&self.hand);
        let mut second =
            "A joint that this step needs will wake after a countdown. Space stops.".to_string();
        // A long reason keeps its line for itself.
        let mut reason = |why: &str, then: &str| {
            let why = sentence(why);
            if why.chars().count() + then.chars().count() < LINE {
                return format!("{why} {then}");
            }
            second = format!("{then} What it needs wakes after a countdown. Space stops.");
            why
        };
        let (big, next) = match trouble {
            Trouble::Refused(why) => ("REFUSED", reason(why, "Enter tries again.")),
            Trouble::NotRecorded(why) => ("NOT RECORDED", reason(why, "Enter asks again.")),
            Trouble::Limp => (
                "ALL LIMP",
                "All went limp. Enter takes this step up again.".to_string(),
            ),
            Trouble::Frozen => (
                "FROZEN",
                "Frozen. Thaw first, then Enter takes this step up again.".to_string(),
            ),
            Trouble::Thawed => (
                "THAWED",
                "Thawed. Enter takes this step up again.".to_string(),
            ),
            Trouble::TakenBack => (
                "TAKEN BACK",
                "Taken back. Enter takes the step before up again. Hands away.".to_string(),
            ),
            Trouble::CalledOff => (
                "NOT NOW",
                "Not now. Enter takes this step up again.".to_string(),
            ),
        };
        step.big = big;
        step.next = next;
        step.second = second;
        step.wrong = *trouble != Trouble::TakenBack;
        step.wants = Wants::Enter;
        step
    }
}

impl<M: Mind> Procedure for Machine<M> {
    fn step(&self) -> Step {
        match self.hand.trouble() {
            Some(trouble) => self.trouble_step(trouble),
            None => {
                let mut step = self.mind.step(&self.hand);
                if self.hand.is_busy() && !self.mind.takes_while_moving() {
                    step.wants = Wants::Wait;
                }
                if self.hand.is_parking() {
                    step.big = "HANDS AWAY";
                    step.next =
                        "Wait: it goes back to its mid-travel, and goes limp there.".to_string();
                    step.second = "Inside what is known to be free. Space stops.".to_string();
                }
                step
            }
        }
    }

    fn answer(&mut self, answer: &Answer, _now_ms: u64) -> Vec<Do> {
        match answer {
            _ if self.over => Vec::new(),
            Answer::Leave => self.leave(),
            Answer::Undo => self.undo(),
            _ if self.hand.is_busy() && !self.mind.takes_while_moving() => Vec::new(),
            Answer::Enter if self.hand.trouble().is_some() => {
                self.hand.clear_trouble();
                self.enter()
            }
            _ if self.hand.trouble().is_some() => Vec::new(),
            _ => {
                let before = self.mind.clone();
                let turn = self.mind.answer(answer, &self.hand);
                self.turn(before, turn)
            }
        }
    }

    fn heard(&mut self, heard: &Heard, _now_ms: u64) -> Vec<Do> {
        if self.over {
            return Vec::new();
        }
        if let Heard::NotRecorded(why) = heard {
            if let Some((former, _)) = self.past.pop() {
                self.mind = former;
            }
            let out = self.hand.let_go();
            self.hand.fail(Trouble::NotRecorded(why.clone()));
            return out;
        }
        let was_pecking = self.hand.is_pecking();
        let mut out = self.hand.heard(heard);
        if *heard == Heard::WentLimp {
            self.mind.interrupted();
        }
        if *heard == Heard::Tripped && was_pecking {
            let before = self.mind.clone();
            let turn = self.mind.tripped(&self.hand);
            if turn != Turn::Ignored {
                self.hand.clear_trouble();
                out.extend(self.turn(before, turn));
            }
        }
        if self.again && !self.hand.is_waiting() && self.hand.trouble().is_none() {
            out.extend(self.enter());
        }
        out.extend(self.hand.pump());
        out
    }

    fn poll(&mut self, now_ms: u64) -> Vec<Do> {
        if self.over || self.hand.is_busy() || self.hand.trouble().is_some() {
            return Vec::new();
        }
        if self.mind.poll(now_ms) {
            return self.enter();
        }
        Vec::new()
    }

    fn begin(&mut self, _now_ms: u64) -> Vec<Do> {
        self.enter()
    }

    fn is_over(&self) -> bool {
        self.over
    }
}
