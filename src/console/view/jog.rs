//! Jog: one joint, its leg from the side, its numbers, its scale.

use super::pen::{Pen, columns};
use super::{big, scale};
use super::{field::ValueField, leg::LegView, robot::RobotPicture, scale::Scale, sight::SightBox};
use crate::console::theme::Role;

/// The jog page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Jog {
    /// The robot from above, drawn from 120 columns on.
    pub robot: RobotPicture,
    /// The leg from the side.
    pub leg: LegView,
    /// The numbers beside it.
    pub numbers: JogNumbers,
    /// The joint's scale.
    pub scale: Scale,
    /// The field in which a value is being typed.
    pub field: Option<ValueField>,
    /// What a person would see: practice robot only, from 120 columns on.
    pub sight: Option<SightBox>,
}

/// The numbers of the joint being jogged, each ready as text; an empty text draws nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JogNumbers {
    /// `LF femur`.
    pub joint: String,
    /// `pin 23   servo 07`.
    pub plug: String,
    /// The big number: `1612.5`, or the angle `+11.8` when Tab chose degrees.
    pub big: String,
    /// Its unit: `µs, commanded` or `degrees, commanded`.
    pub big_unit: String,
    /// Beside the unit, the other of the two: label and text, `angle`, `+11.8 ± 0.9°`.
    pub other: (String, String),
    /// `1487.5 ± 4 µs`, or `not known yet`.
    pub zero: String,
    /// `10.62 ± 0.15 µs/°`, with `nominal` when it is.
    pub scale: String,
    /// Which way positive is: `+ lifts`.
    pub sense: String,
    /// `0.6 ± 0.2°`.
    pub play: String,
    /// `came from below`.
    pub came: String,
    /// `41 s`, or `limp`.
    pub awake: String,
    /// `slew 1000 µs/s`.
    pub slew: String,
    /// `8 µs  (0.75°)`.
    pub step: String,
}

impl Jog {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        if !full {
            let rows = pen.height() - scale::ROWS as i32;
            let width = pen.width();
            self.leg.draw(&mut pen.window(0, 0, 40, rows), false);
            self.numbers.draw(
                &mut pen.window(41, 0, width - 41, rows),
                self.field.as_ref(),
            );
            self.scale
                .draw(&mut pen.window(2, rows, 76, scale::ROWS as i32));
            return;
        }
        let rows = pen.height() - scale::ROWS as i32 - 2;
        self.robot
            .draw(&mut pen.window(0, 1, 40, (rows - 1).min(24)));
        self.leg.draw(&mut pen.window(40, 1, 40, rows - 4), true);
        pen.text(
            40,
            rows - 3,
            "║ end  ) limit  ∙ commanded  \\ measured",
            Role::Plain,
        );
        self.numbers
            .draw(&mut pen.window(81, 1, 39, 10), self.field.as_ref());
        if let Some(sight) = &self.sight {
            sight.draw(&mut pen.window(81, 11, 38, 6));
        }
        titled_scale(&self.scale, &self.numbers.joint, pen);
    }
}

impl JogNumbers {
    fn draw(&self, pen: &mut Pen<'_>, field: Option<&ValueField>) {
        let end = pen.width();
        pen.text(0, 0, &self.joint, Role::Strong);
        pen.text_until(
            (columns(&self.joint) + 2).max(18),
            0,
            end,
            &self.plug,
            Role::Plain,
        );
        big::letters(pen, 0, 1, &self.big);
        pen.text(0, 4, &self.big_unit, Role::Plain);
        if !self.other.1.is_empty() {
            let after = pen.text(
                (columns(&self.big_unit) + 2).max(19),
                4,
                &self.other.0,
                Role::Plain,
            );
            pen.text_until(after + 2, 4, end, &self.other.1, Role::Plain);
        }
        let rows = [
            ("zero", &self.zero, "", 0),
            ("scale", &self.scale, self.sense.as_str(), 0),
            ("play", &self.play, self.came.as_str(), 0),
            ("awake", &self.awake, self.slew.as_str(), 21),
            ("step", &self.step, "", 0),
        ];
        for (y, (label, value, right, column)) in (5..).zip(rows) {
            if value.is_empty() && right.is_empty() {
                continue;
            }
            let mut after = 4;
            if !value.is_empty() {
                pen.text(0, y, label, Role::Plain);
                after = pen.text_until(7, y, end, value, Role::Plain);
            }
            pen.text_until((after + 3).max(column), y, end, right, Role::Plain);
        }
        if let Some(field) = field {
            // The field stands in the step's place: while a value is typed there is no step.
            let blank = " ".repeat(end.max(0) as usize);
            pen.text(0, 9, &blank, Role::Plain);
            field.draw(pen, 0, 9);
        }
    }
}

/// The scale at the foot of a full body, under a rule with the joint's name; one row stays free below it.
pub fn titled_scale(scale: &Scale, title: &str, pen: &mut Pen<'_>) {
    let (width, top) = (pen.width(), pen.height() - scale::ROWS as i32 - 2);
    let line = "─".repeat((width - 2).max(0) as usize);
    pen.text(1, top, &line, Role::Plain);
    pen.text_until(2, top, width - 2, &format!(" {title} "), Role::Plain);
    let margin = if width >= 110 { 5 } else { 2 };
    scale.draw(&mut pen.window(margin, top + 1, width - 2 * margin, scale::ROWS as i32));
}
