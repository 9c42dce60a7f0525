//! Before something is taken back that is not this page's own: what it is, and what hands must put back first.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::console::command::{Command, ESC, Foot, HELP, SPACE, always};
use crate::console::effect::Now;
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::recording;
use crate::console::state::State;
use crate::console::view;

/// Asks before guided work is taken back outside its page.
#[derive(Debug)]
pub struct TakeBack {
    words: String,
    /// What hands must put back, if they did anything.
    hands: Option<String>,
}

const DO: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "take it back; nothing moves",
    foot: &[Foot::new("Enter", "take it back")],
    works: always,
};
const LEAVE: Command = Command {
    foot: &[Foot::new("Esc", "leave it")],
    ..ESC
};
const TABLE: Table = &[&DO, &LEAVE, &SPACE, &HELP];

impl TakeBack {
    /// What was recorded last would be taken back.
    pub fn new(words: String, hands: Option<String>) -> TakeBack {
        TakeBack { words, hands }
    }
}

impl Layer for TakeBack {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        (
            format!("Take back? {}.", self.words),
            match &self.hands {
                Some(hands) => format!("First {hands}: Enter, or Esc."),
                None => "Another page recorded it. Enter takes it back, Esc leaves it.".into(),
            },
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::GoOn => Flow::Close(recording::take_back(state, now)),
            Intent::Back => Flow::Close(Vec::new()),
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn overlay(&self, _state: &State, _now: Duration) -> Option<view::Overlay> {
        let mut lines = vec![format!("{}.", self.words)];
        lines.push(match &self.hands {
            Some(hands) => format!("First {hands}."),
            None => "Nothing moves, and nothing is to be put back by hand.".into(),
        });
        Some(view::Overlay::Dialog(question(
            "Take back",
            lines,
            &[("Enter", "take it back"), ("Esc", "leave it")],
        )))
    }

    fn big_words(&self) -> &'static str {
        "TAKE BACK?"
    }
}
