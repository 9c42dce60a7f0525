//! The field behind `m`: at this pulse the joint stands at this angle. It holds 0, so that `m Enter` is the zero.

use std::time::Duration;

use super::{Flow, Layer, Table};
use crate::calibration::JointRef;
use crate::console::command::{Command, DIGITS, Foot, HELP_F1, LEAVE_FIELD, SPACE, always};
use crate::console::effect::Now;
use crate::console::field::{Field, Takes};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::measure::number;
use crate::console::recording;
use crate::console::state::State;
use crate::console::view;
use crate::units::Pulse;

/// Asks for the angle at which the joint stands.
#[derive(Debug)]
pub struct Mark {
    at: JointRef,
    pulse: Pulse,
    field: Field,
}

const RECORD: Command = Command {
    binds: &[(Code::Enter, Intent::GoOn)],
    keys: "Enter",
    help: "record: this pulse is this angle",
    foot: &[Foot::new("Enter", "record")],
    works: always,
};
const TABLE: Table = &[&DIGITS, &RECORD, &LEAVE_FIELD, &SPACE, &HELP_F1];

impl Mark {
    /// For the chosen joint, commanded to `pulse`.
    pub fn new(state: &State, pulse: Pulse) -> Mark {
        Mark {
            at: state.chosen,
            pulse,
            field: Field::offering(Takes::Number, "0"),
        }
    }
}

impl Layer for Mark {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        (
            format!(
                "Type the angle, then Enter: {} µs is that angle.",
                self.pulse
            ),
            if let Some(zero_us) = state.work.zero_without_marks(self.at) {
                format!(
                    "It replaces the zero so far, {} µs. Esc keeps that. Space stops.",
                    number(zero_us)
                )
            } else if state.gauges_err() && state.work.last().is_none() {
                // Said once, before the first mark.
                "The simulated gauge errs by about 1°, as a real one: mark several angles.".into()
            } else {
                format!(
                    "Enter alone records 0° for {}. Nothing moves. Space stops.",
                    state.work.robot().title(self.at)
                )
            },
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, now: &Now) -> Flow {
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::GoOn => match self.field.number() {
                Ok(angle) if angle.abs() <= 180.0 => {
                    return Flow::Close(recording::mark(state, self.at, self.pulse, angle, now));
                }
                Ok(_) => self.field.error = Some("an angle is −180° to 180°".into()),
                Err(why) => self.field.error = Some(why),
            },
            intent => self.field.edit(intent),
        }
        Flow::Stay(Vec::new())
    }

    fn wrong(&self) -> Option<&str> {
        self.field.error.as_deref()
    }

    fn takes(&self, c: char) -> bool {
        self.field.takes(c)
    }

    fn page_field(&self, _state: &State) -> Option<view::ValueField> {
        Some(self.field.shown("is at", "°", 7))
    }

    fn big_words(&self) -> &'static str {
        "TYPE THE ANGLE"
    }
}
