//! Widening a guard by hand: at most 50 µs beyond the present pulse, with the warning that belongs to it.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::calibration::{JointRef, Span};
use crate::console::command::{Command, ESC, Foot, HELP_F1, SPACE, always};
use crate::console::effect::Now;
use crate::console::intent::{Intent, Side};
use crate::console::keys::Code;
use crate::console::recording;
use crate::console::state::State;
use crate::console::view;

/// Asks before a guard is widened.
#[derive(Debug)]
pub struct Widen {
    at: JointRef,
    side: Side,
    guard: Span,
}

const DO: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "widen it; nothing moves",
    foot: &[Foot::new("Enter", "widen")],
    works: always,
};
const LEAVE: Command = Command {
    foot: &[Foot::new("Esc", "leave it")],
    ..ESC
};
const TABLE: Table = &[&DO, &LEAVE, &SPACE, &HELP_F1];

impl Widen {
    /// The chosen joint's guard would become this one.
    pub fn new(state: &State, side: Side, guard: Span) -> Widen {
        Widen {
            at: state.chosen,
            side,
            guard,
        }
    }

    fn change(&self) -> String {
        let (low, high) = self.guard;
        match self.side {
            Side::Near => format!("down to {low} µs"),
            Side::Far => format!("up to {high} µs"),
        }
    }
}

impl Layer for Widen {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        (
            format!(
                "Enter widens the guard of {} {}.",
                state.work.robot().title(self.at),
                self.change()
            ),
            "Nothing may rest against an end: stop at the first hum, and go back.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::Back => Flow::Close(Vec::new()),
            Intent::GoOn => Flow::Close(recording::set_guard(state, self.at, self.guard, now)),
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, state: &State, _now: Duration) -> Option<view::Overlay> {
        let (low, high) = state.guard_of(self.at);
        Some(view::Overlay::Dialog(question(
            &format!("Guard of {}", state.work.robot().title(self.at)),
            vec![
                format!("Now {low} to {high} µs; it becomes {} to {} µs.", self.guard.0, self.guard.1),
                "Nothing may rest against an end: a servo held there draws its stall current until something strips, melts or resets the board.".into(),
                "At most 50 µs beyond the present pulse at a time.".into(),
            ],
            &[("Enter", "widen"), ("Esc", "leave it")],
        )))
    }
}
