//! Waking one joint: says at which pulse, and that it jumps there at full speed.

use std::time::Duration;

use super::count::sum;
use super::{Flow, Layer, Table, question};
use crate::calibration::JointRef;
use crate::console::actions;
use crate::console::command::{Command, DIGITS, ESC, Foot, HELP_F1, SPACE_SHOWN, always};
use crate::console::effect::Now;
use crate::console::field::{Field, Takes};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::state::{Stands, State};
use crate::console::view;
use crate::units::{Pin, Pulse};

/// Asks for the first pulse of a joint.
#[derive(Debug)]
pub struct Wake {
    at: JointRef,
    pin: Pin,
    field: Field,
}

const WAKE: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "wake it at this pulse",
    foot: &[Foot::new("Enter", "wake")],
    works: always,
};
const NOT_NOW: Command = Command {
    foot: &[Foot::new("Esc", "not now")],
    ..ESC
};
const TABLE: Table = &[&WAKE, &DIGITS, &SPACE_SHOWN, &NOT_NOW, &HELP_F1];

impl Wake {
    /// Offers the last pulse known, else what lies in the middle of the needed travel.
    pub fn new(state: &State, pin: Pin) -> Wake {
        let offered = state.offered_pulse(state.chosen);
        Wake {
            at: state.chosen,
            pin,
            field: Field::offering(Takes::Number, offered.to_string()),
        }
    }

    fn pulse(&self, state: &State) -> Result<Pulse, String> {
        let us = self.field.number()?;
        let pulse = Pulse::from_us(us)
            .filter(|p| p.is_sendable())
            .ok_or("the board sends 500 to 2500 µs")?;
        let (low, high) = state.guard_of(self.at);
        if pulse < low || pulse > high {
            return Err(format!("the guard is {low} to {high} µs"));
        }
        Ok(pulse)
    }
}

impl Layer for Wake {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let title = state.work.robot().title(self.at);
        (
            match self.pulse(state) {
                Ok(pulse) => format!(
                    "Enter wakes {title} at {pulse} µs. It will jump to this pulse at full speed."
                ),
                Err(why) => format!("{title} does not wake so: {why}."),
            },
            match state.stands {
                Stands::Ground => "On the ground it may tip: hold the body. Or Esc. Space stops.",
                _ => "Leg off the ground, hands away. Type another pulse, or Esc. Space stops.",
            }
            .into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::GoOn => match self.pulse(state) {
                Ok(pulse) => return Flow::Close(vec![actions::wake(state, self.pin, pulse, now)]),
                Err(why) => self.field.error = Some(why),
            },
            intent => self.field.edit(intent),
        }
        Flow::Stay(Vec::new())
    }

    fn takes(&self, c: char) -> bool {
        self.field.takes(c)
    }

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn overlay(&self, state: &State, _now: Duration) -> Option<view::Overlay> {
        let mut lines: Vec<String> = vec![
            "It will jump to this pulse at full speed.".into(),
            match state.stands {
                Stands::Ground => "It stands on the ground and may tip: hold the body.",
                _ => "Leg off the ground, hands away.",
            }
            .into(),
        ];
        lines.extend(sum(state, 1));
        let mut dialog = question(
            &format!(
                "Wake {}, pin {}",
                state.work.robot().title(self.at),
                self.pin
            ),
            lines,
            &[("Enter", "wake"), ("Esc", "not now")],
        );
        dialog.field = Some(self.field.shown("pulse", "µs", 7));
        Some(view::Overlay::Dialog(dialog))
    }

    fn big_words(&self) -> &'static str {
        "HANDS AWAY"
    }
}
