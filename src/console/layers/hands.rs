//! The countdown before guided work moves something: hands out of the robot.
//!
//! Enter does not shorten it; Esc or Space ends it.

use std::time::Duration;

use super::count::{Countdown, NO_SHORTCUT, NOT_NOW, PICTURES};
use super::{Flow, Layer, Table, question};
use crate::console::command::{HELP_F1, SPACE_SHOWN};
use crate::console::effect::Now;
use crate::console::guided;
use crate::console::intent::Intent;
use crate::console::state::State;
use crate::console::view;
use crate::procedure::{Ask, Do};
use crate::units::{Pin, Pulse};

const TABLE: Table = &[&SPACE_SHOWN, &NOT_NOW, &NO_SHORTCUT, &PICTURES, &HELP_F1];

/// Counts down, then lets the machine's batch go on.
#[derive(Debug)]
pub struct Hands {
    count: Countdown,
    /// What moves first when it is over.
    first: Option<(Pin, Pulse, bool)>,
}

impl Hands {
    /// So many seconds, before the rest of a machine's batch.
    pub fn new<'a>(seconds: u8, rest: impl Iterator<Item = &'a Do>, now: Duration) -> Hands {
        let moves = |it: &Do| match it {
            Do::Ask(Ask::Wake { pin, pulse }) => Some((*pin, *pulse, true)),
            Do::Ask(Ask::Peck { pin, pulse, .. }) => Some((*pin, *pulse, false)),
            Do::Ask(Ask::Go { moves, .. }) => moves.first().map(|(pin, us)| (*pin, *us, false)),
            _ => None,
        };
        Hands {
            count: Countdown::new(Duration::from_secs(u64::from(seconds)), now),
            first: rest.into_iter().find_map(moves),
        }
    }

    fn whose(&self, state: &State) -> String {
        let Some((pin, ..)) = self.first else {
            return "The joint".into();
        };
        // A plug is looked for: nobody knows yet what the pin drives.
        let known = state.work.known().plugs.contains_key(&pin);
        match state.work.robot().joint_of_pin(pin).filter(|_| known) {
            Some(at) => format!("{}, pin {pin},", state.work.robot().title(at)),
            None => format!("Pin {pin}"),
        }
    }
}

impl Layer for Hands {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, now: Duration) -> (String, String) {
        let left = self.count.left(now);
        let whose = self.whose(state);
        match self.first {
            Some((_, pulse, true)) => (
                format!("Hands away. {whose} wakes at {pulse} µs in {left} s."),
                "It jumps there at full speed. Space stops. Esc stops the count.".into(),
            ),
            Some((_, pulse, false)) => (
                format!("Hands away. {whose} moves to {pulse} µs in {left} s."),
                "It moves slowly. Space stops. Esc stops the count.".into(),
            ),
            None => (
                format!("Hands away. It moves in {left} s."),
                "Space stops. Esc stops the count.".into(),
            ),
        }
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::Back => {
                guided::drop_rest(state);
                return Flow::Close(Vec::new());
            }
            Intent::Big => state.big = !state.big,
            _ => {}
        }
        Flow::Stay(Vec::new())
    }

    fn tick(&mut self, state: &mut State, now: &Now) -> Flow {
        if !self.count.is_over(now.at) {
            return Flow::Stay(Vec::new());
        }
        Flow::Close(guided::counted(state, now))
    }

    fn due(&self, now: Duration) -> Option<Duration> {
        Some(self.count.due(now))
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, state: &State, now: Duration) -> Option<view::Overlay> {
        if state.big {
            return None;
        }
        let mut lines = vec![self.count.line(now)];
        if let Some((_, pulse, wakes)) = self.first {
            let verb = if wakes { "wakes at" } else { "moves to" };
            lines.push(format!("{} {verb} {pulse} µs", self.whose(state)));
        }
        Some(view::Overlay::Dialog(question(
            "Hands away",
            lines,
            &[("Space", "stop"), ("Esc", "not now")],
        )))
    }

    fn big_words(&self) -> &'static str {
        "HANDS AWAY"
    }

    fn big_number(&self, _state: &State, now: Duration) -> Option<view::BigBlock> {
        Some(self.count.big_number(now))
    }
}
