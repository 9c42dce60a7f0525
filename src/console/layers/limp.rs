//! Before a joint or a leg goes limp on the ground: what stands on it may fall.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::console::actions;
use crate::console::command::{Command, ESC, Foot, HELP, SPACE, always};
use crate::console::effect::Now;
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::state::State;
use crate::console::view;
use crate::units::Pin;

/// Asks before pins that carry go limp.
#[derive(Debug)]
pub struct LetGo {
    /// The joint or the leg, as it is called.
    whose: String,
    pins: Vec<Pin>,
}

const DO: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "let go",
    foot: &[Foot::new("Enter", "let go")],
    works: always,
};
const STAY: Command = Command {
    foot: &[Foot::new("Esc", "keep it").keep()],
    help: "keep it awake",
    ..ESC
};
const TABLE: Table = &[&DO, &STAY, &SPACE, &HELP];

impl LetGo {
    /// These pins would go limp.
    pub fn new(whose: String, pins: Vec<Pin>) -> LetGo {
        LetGo { whose, pins }
    }
}

impl Layer for LetGo {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        (
            format!(
                "Enter lets {} go limp, on the ground. Esc keeps it.",
                self.whose
            ),
            "The robot may tip or fall on it: hold the body first, hands from under.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::GoOn => Flow::Close(actions::limp(state, self.pins.clone(), now)),
            Intent::Back => Flow::Close(Vec::new()),
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, _state: &State, _now: Duration) -> Option<view::Overlay> {
        let pins: Vec<String> = self.pins.iter().map(Pin::to_string).collect();
        let mut dialog = question(
            "Limp on the ground",
            vec![format!(
                "{} goes limp: {} {}. The others must carry the robot alone.",
                self.whose,
                if pins.len() == 1 { "pin" } else { "pins" },
                pins.join(", ")
            )],
            &[("Enter", "let go"), ("Esc", "keep it")],
        );
        dialog.alarm = true;
        Some(view::Overlay::Dialog(dialog))
    }
}
