//! Bending the knee the other way: the foot leaves its point meanwhile, so it is asked.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::console::command::{Command, ESC, Foot, HELP_F1, SPACE_SHOWN, always};
use crate::console::effect::Now;
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::motion::{self, Moves, Plan};
use crate::console::state::State;
use crate::console::view;

/// Asks before the knee bends the other way.
#[derive(Debug)]
pub struct Bend {
    leg: usize,
    name: String,
    plan: Option<Plan>,
}

const GO: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "bend it",
    foot: &[Foot::new("Enter", "bend it")],
    works: always,
};
const NOT_NOW: Command = Command {
    foot: &[Foot::new("Esc", "not now")],
    ..ESC
};
const TABLE: Table = &[&GO, &SPACE_SHOWN, &NOT_NOW, &HELP_F1];

impl Bend {
    /// With the motion that leads there.
    pub fn new(state: &State, plan: Plan) -> Bend {
        let leg = state.work.robot().legs.get(state.chosen.leg);
        Bend {
            leg: state.chosen.leg,
            name: leg.map_or_else(String::new, |leg| leg.name.clone()),
            plan: Some(plan),
        }
    }
}

impl Layer for Bend {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, _state: &State, _now: Duration) -> (String, String) {
        (
            format!("Enter bends the knee of {} the other way.", self.name),
            "The foot leaves its point and comes back to it. Hands away. Space stops.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match (intent, self.plan.take()) {
            (Intent::GoOn, Some(plan)) => {
                let moves = Moves::Foot(self.leg);
                Flow::Close(motion::start(state, moves, plan, true, now))
            }
            (Intent::Back, _) => Flow::Close(Vec::new()),
            (_, plan) => {
                self.plan = plan;
                Flow::Stay(Vec::new())
            }
        }
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, _state: &State, _now: Duration) -> Option<view::Overlay> {
        Some(view::Overlay::Dialog(question(
            &format!("{}, the other knee", self.name),
            vec![
                "The whole leg moves, and the foot with it, at jog speed.".into(),
                "The way was looked along: limits, ends and the other legs.".into(),
                "It knows nothing of the table and of your hands.".into(),
            ],
            &[("Enter", "bend it"), ("Esc", "not now")],
        )))
    }

    fn big_words(&self) -> &'static str {
        "HANDS AWAY"
    }
}
