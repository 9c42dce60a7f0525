//! The question before guided work that can be done on one joint, one leg or the whole robot.

use std::time::Duration;

use super::{Flow, Layer, Table};
use crate::console::command::{CHOOSE, ENTER_SHOWN, ESC, HELP, QUIT_QUIET, SPACE};
use crate::console::effect::Now;
use crate::console::guided::{
    self,
    task::{Task, Width},
};
use crate::console::intent::{Intent, Way};
use crate::console::state::State;

/// Asks on what.
#[derive(Debug)]
pub struct Scope {
    task: Task,
    at: usize,
}

const TABLE: Table = &[&ENTER_SHOWN, &CHOOSE, &SPACE, &ESC, &HELP, &QUIT_QUIET];

impl Scope {
    /// For this work.
    pub fn new(task: Task) -> Scope {
        Scope { task, at: 0 }
    }

    fn words(&self, state: &State) -> Vec<String> {
        let leg = state.work.robot().legs.get(state.chosen.leg);
        let leg = leg.map_or_else(String::new, |leg| leg.name.clone());
        let word = |width: &Width| match width {
            Width::Joint => format!("{}, this joint", state.title()),
            Width::Leg => format!("{leg}, the leg"),
            Width::Robot => "the whole robot, leg by leg".to_owned(),
        };
        self.task.widths().iter().map(word).collect()
    }
}

impl Layer for Scope {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let words = self.words(state);
        let word = words.get(self.at).cloned().unwrap_or_default();
        (
            format!("Enter opens {} for {word}.", self.task.name()),
            "Opening a page moves nothing. Another joint: Esc, and its keys. Space stops.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        let widths = self.task.widths();
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::Arrow(Way::Down | Way::Right) => self.at = (self.at + 1).min(widths.len() - 1),
            Intent::Arrow(Way::Up | Way::Left) => self.at = self.at.saturating_sub(1),
            Intent::GoOn => {
                let scope = widths[self.at].scope(state.chosen);
                return Flow::Close(guided::open(state, self.task, scope, now));
            }
            _ => {}
        }
        Flow::Stay(Vec::new())
    }

    fn list(&self, state: &State) -> Option<(String, Vec<String>, usize)> {
        Some((self.task.name().into(), self.words(state), self.at))
    }
}
