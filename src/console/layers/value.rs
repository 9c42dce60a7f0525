//! The field behind `=`: a pulse or an angle to go to.

use std::time::Duration;

use super::{Flow, Layer, Table};
use crate::console::actions;
use crate::console::command::{Command, DIGITS, Foot, GO_THERE, HELP_F1, LEAVE_FIELD, SPACE};
use crate::console::effect::Now;
use crate::console::field::{Field, Takes};
use crate::console::intent::Intent;
use crate::console::keys::Code;
use crate::console::state::{State, Unit};
use crate::console::view;
use crate::units::Pulse;

/// A value being typed for the chosen joint.
#[derive(Debug)]
pub struct Value {
    field: Field,
}

const UNIT: Command = Command {
    binds: &[(Code::Tab, Intent::Next)],
    keys: "Tab",
    help: "µs or degrees",
    foot: &[Foot::new("Tab", "µs or degrees")],
    works: |state, _| degrees_known(state),
};
const TABLE: Table = &[&DIGITS, &GO_THERE, &UNIT, &LEAVE_FIELD, &SPACE, &HELP_F1];

/// `Ok` when the chosen joint has a zero and µs/degree.
pub fn degrees_known(state: &State) -> Result<(), String> {
    match state.joint().and_then(|j| j.pulse_us(0.0)) {
        Some(_) => Ok(()),
        None => Err("degrees need a zero and µs/degree: two marks".into()),
    }
}

impl Value {
    /// An empty field.
    pub fn empty() -> Value {
        Value {
            field: Field::with(Takes::Number, ""),
        }
    }

    fn pulse(&self, state: &State) -> Result<Pulse, String> {
        let value = self.field.number()?;
        let us = match state.steps.unit {
            Unit::Us => value,
            Unit::Degrees => state
                .joint()
                .and_then(|j| j.pulse_us(value))
                .ok_or("no zero and µs/degree yet")?,
        };
        Pulse::from_us(us)
            .filter(|p| p.is_sendable())
            .ok_or_else(|| format!("{} µs: the board sends 500 to 2500", us.round()))
    }
}

impl Layer for Value {
    fn table(&self) -> Table {
        TABLE
    }

    fn lines(&self, state: &State, _now: Duration) -> (String, String) {
        let what = match state.steps.unit {
            Unit::Us => "a pulse in µs",
            Unit::Degrees => "an angle in degrees",
        };
        (
            format!("Type {what}, then Enter: {} goes there.", state.title()),
            "It moves at its slew. Hands off the leg. Tab: µs or degrees. Space stops.".into(),
        )
    }

    fn act(&mut self, intent: Intent, state: &mut State, _now: &Now) -> Flow {
        match intent {
            Intent::Back => return Flow::Close(Vec::new()),
            Intent::Next => match degrees_known(state) {
                Ok(()) => {
                    state.steps.unit = match state.steps.unit {
                        Unit::Us => Unit::Degrees,
                        Unit::Degrees => Unit::Us,
                    };
                    self.field.error = None;
                }
                Err(why) => self.field.error = Some(why),
            },
            Intent::GoOn => match self.pulse(state) {
                Ok(pulse) => {
                    state.bell_for = state.pin();
                    return Flow::Close(actions::jog_to(state, pulse));
                }
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

    fn leads_to_motion(&self) -> bool {
        true
    }

    fn page_field(&self, state: &State) -> Option<view::ValueField> {
        let (label, unit) = match state.steps.unit {
            Unit::Us => ("pulse", "µs"),
            Unit::Degrees => ("angle", "°"),
        };
        Some(self.field.shown(label, unit, 7))
    }
}
