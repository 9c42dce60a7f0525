//! The question behind `E`: is this where the mechanism ends, and which end is it?
//!
//! After recording, the joint is drawn back from the end, since nothing may rest against one.

use std::time::Duration;

use super::{Flow, Layer, Table, question};
use crate::calibration::JointRef;
use crate::console::command::{ARROWS, Command, ESC, Foot, HELP_F1, SPACE, always};
use crate::console::effect::Now;
use crate::console::intent::{Intent, Side, Way};
use crate::console::keys::Code;
use crate::console::measure::{LIMIT_INSIDE_END_US, inside};
use crate::console::recording;
use crate::console::state::State;
use crate::console::view;
use crate::units::Pulse;

/// Asks which end this is.
#[derive(Debug)]
pub struct End {
    at: JointRef,
    pulse: Pulse,
    side: Side,
}

const RECORD: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "record the end, draw the joint back from it",
    foot: &[Foot::new("Enter", "record, draw back")],
    works: always,
};
const OTHER: Command = Command {
    binds: ARROWS,
    keys: "← →",
    help: "near end, far end",
    foot: &[Foot::new("←→", "near, far")],
    works: always,
};
const OTHER_TAB: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "the other end",
    foot: &[],
    works: always,
};
const NO: Command = Command {
    foot: &[Foot::new("Esc", "no end here")],
    ..ESC
};
const TABLE: Table = &[&RECORD, &OTHER, &OTHER_TAB, &NO, &SPACE, &HELP_F1];

impl End {
    /// For the chosen joint, commanded to `pulse`: offers the end that lies on this side of the middle.
    pub fn new(state: &State, pulse: Pulse) -> End {
        let middle = match state.joint() {
            Some(joint) => match (&joint.near_end, &joint.far_end) {
                (Some(near), Some(far)) => (near.value + far.value) / 2.0,
                (Some(near), None) => near.value,
                (None, Some(far)) => far.value,
                (None, None) => Pulse::CENTRE.us(),
            },
            None => Pulse::CENTRE.us(),
        };
        let known_far_only = state
            .joint()
            .is_some_and(|j| j.near_end.is_none() && j.far_end.is_some());
        let side = if pulse.us() < middle || known_far_only {
            Side::Near
        } else {
            Side::Far
        };
        End {
            at: state.chosen,
            pulse,
            side,
        }
    }

    fn back_to(&self) -> Pulse {
        inside(self.pulse, LIMIT_INSIDE_END_US, self.side)
    }

    fn word(&self) -> &'static str {
        match self.side {
            Side::Near => "near",
            Side::Far => "far",
        }
    }
}

impl Layer for End {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let title = state.work.robot().title(self.at);
        match state.work.why_not_end(self.at, self.side, self.pulse) {
            Some(why) => (
                format!("It cannot be the {} end: {why}.", self.word()),
                "←→ changes to the other end. Esc: no end here. Space stops.".into(),
            ),
            None => (
                format!(
                    "Enter: {} µs is the {} end of {title}.",
                    self.pulse,
                    self.word()
                ),
                format!(
                    "Then it moves back to {} µs: nothing may rest against an end. Space stops.",
                    self.back_to()
                ),
            ),
        }
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::Arrow(Way::Left) => self.side = Side::Near,
            Intent::Arrow(Way::Right) => self.side = Side::Far,
            Intent::Next | Intent::Arrow(_) => {
                self.side = match self.side {
                    Side::Near => Side::Far,
                    Side::Far => Side::Near,
                };
            }
            Intent::GoOn => {
                let why_not = state.work.why_not_end(self.at, self.side, self.pulse);
                if why_not.is_none() {
                    let (at, side, pulse, back) = (self.at, self.side, self.pulse, self.back_to());
                    return Flow::Close(recording::end(state, at, side, pulse, back, now));
                }
            }
            _ => {}
        }
        Flow::Stay(Vec::new())
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, state: &State, _now: Duration) -> Option<view::Overlay> {
        let mark = |side| if self.side == side { "►" } else { "·" };
        Some(view::Overlay::Dialog(question(
            &format!("An end of {}", state.work.robot().title(self.at)),
            vec![
                format!("At {} µs the mechanism ends.", self.pulse),
                format!("{} near end: at the smaller pulse", mark(Side::Near)),
                format!("{} far end: at the larger pulse", mark(Side::Far)),
            ],
            &[
                ("Enter", "record, draw back"),
                ("←→", "near, far"),
                ("Esc", "no end here"),
            ],
        )))
    }
}
