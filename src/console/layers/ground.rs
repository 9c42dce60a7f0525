//! Where does the robot stand? The answer decides what Space does.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::console::command::{ARROWS, Command, ENTER_SHOWN, ESC, Foot, HELP_F1, SPACE, always};
use crate::console::effect::Now;
use crate::console::intent::{Intent, Way};
use crate::console::keys::Code;
use crate::console::state::{Stands, State};
use crate::console::view;

/// Asks where the robot stands.
#[derive(Debug)]
pub struct Ground {
    offered: Stands,
}

const SWITCH: Command = Command {
    binds: ARROWS,
    keys: "arrows",
    help: "the other answer",
    foot: &[Foot::new("←→", "the other answer")],
    works: always,
};
const SWITCH_TAB: Command = Command {
    binds: &[(Code::Tab, Intent::Next), (Code::Char('G'), Intent::Next)],
    keys: "Tab G",
    help: "the other answer",
    foot: &[],
    works: always,
};
const TABLE: Table = &[&ENTER_SHOWN, &SWITCH, &SWITCH_TAB, &SPACE, &ESC, &HELP_F1];

impl Ground {
    /// Offers what was not said last.
    pub fn new(state: &State) -> Ground {
        Ground {
            offered: match state.stands {
                Stands::Unsaid | Stands::Ground => Stands::Stand,
                Stands::Stand => Stands::Ground,
            },
        }
    }
}

impl Layer for Ground {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        match self.offered {
            Stands::Ground => (
                "Enter: it stands on the ground. Space will freeze, a second Space limp.".into(),
                "←→ changes the answer. A robot that goes limp there falls on its belly.".into(),
            ),
            _ => (
                "Enter: it is on the stand, legs in the air. Space will limp.".into(),
                "←→ changes the answer. Limp legs drop: keep hands out from under them.".into(),
            ),
        }
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::GoOn => {
                state.stands = self.offered;
                state.space_again = false;
                Flow::Close(Vec::new())
            }
            Intent::Back => Flow::Close(Vec::new()),
            Intent::Next | Intent::Arrow(Way::Left | Way::Right | Way::Up | Way::Down) => {
                self.offered = match self.offered {
                    Stands::Ground => Stands::Stand,
                    _ => Stands::Ground,
                };
                Flow::Stay(Vec::new())
            }
            _ => Flow::Stay(Vec::new()),
        }
    }

    fn overlay(&self, state: &State, _now: Duration) -> Option<view::Overlay> {
        let mark = |it| if self.offered == it { "►" } else { "·" };
        Some(view::Overlay::Dialog(question(
            "Where is the robot?",
            vec![
                format!("{} on the stand: Space limps", mark(Stands::Stand)),
                format!(
                    "{} on the ground: Space freezes, a second limps",
                    mark(Stands::Ground)
                ),
            ],
            &[
                ("Enter", "it is so"),
                ("←→", "the other answer"),
                match state.stands {
                    Stands::Unsaid => ("Esc", "leave it unsaid"),
                    _ => ("Esc", "leave it as it is"),
                },
            ],
        )))
    }
}
