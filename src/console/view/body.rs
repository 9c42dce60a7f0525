//! Body jog: the body over its planted feet, with the support polygon, the centre of mass and what is left of the legs.

use super::foot::Margin;
use super::pen::{Pen, columns};
use super::robot::RobotPicture;
use super::{field::ValueField, jog, scale, scale::Scale};
use crate::console::theme::Role;

/// The body jog page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BodyJog {
    /// The robot from above, with its support polygon and centre of mass.
    pub robot: RobotPicture,
    /// Where the body is, label and value: `fore`, `12.0 mm`; `left`; `up`; `roll`, `0.0°`; `pitch`; `turn`.
    pub pose: [(String, String); 6],
    /// Which of the six the arrows move.
    pub chosen: Option<usize>,
    /// Step, time, speed: label and value.
    pub motion: [(String, String); 3],
    /// Each leg's joint nearest to a limit: `LF tibia`, `12°`; the least of all marked.
    pub margins: Vec<Margin>,
    /// The scale of the joint that reaches a limit first, drawn from 36 rows on.
    pub scale: Scale,
    /// `LF tibia, the first to reach a limit`.
    pub scale_title: String,
    /// The field in which a value is being typed.
    pub field: Option<ValueField>,
}

impl BodyJog {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let mut rows = pen.height();
        if full {
            rows -= scale::ROWS as i32 + 2;
            jog::titled_scale(&self.scale, &self.scale_title, pen);
        }
        self.robot.draw(&mut pen.window(0, 0, 41, rows.min(24)));
        let width = pen.width() - 44;
        let mut right = pen.window(44, 1, width, rows - 1);
        self.numbers(&mut right);
        let below = if full { (44, 0) } else { (0, 9) };
        let mut margins = right.window(below.0, below.1, width, rows);
        self.margins(&mut margins);
    }

    fn numbers(&self, pen: &mut Pen<'_>) {
        let end = pen.width();
        pen.text(0, 0, "body over its feet, commanded", Role::Plain);
        for (index, (label, value)) in self.pose.iter().enumerate() {
            // Lengths at the left, angles at the right; values end in one column.
            let (x, y) = (if index < 3 { 0 } else { 18 }, 1 + index as i32 % 3);
            let sign = if self.chosen == Some(index) {
                "►"
            } else {
                " "
            };
            pen.text(x, y, &format!("{sign}{label}"), Role::Plain);
            let start = (x + 16 - columns(value)).max(x + 7);
            pen.text_until(start, y, end, value, Role::Plain);
            if self.chosen == Some(index) {
                pen.mark(x, y, 16, Role::Chosen);
            }
        }
        for (index, (label, value)) in self.motion.iter().enumerate() {
            let (x, y) = (1 + 18 * (index as i32 % 2), 5 + index as i32 / 2);
            pen.text_until(x, y, end, &format!("{label} {value}"), Role::Plain);
        }
        if let Some(field) = &self.field {
            field.draw(pen, 1, 7);
        } else {
            pen.text_until(
                1,
                7,
                end,
                "feet at most 250 mm/s while jogging",
                Role::Plain,
            );
        }
    }

    fn margins(&self, pen: &mut Pen<'_>) {
        if self.margins.is_empty() {
            return;
        }
        let end = pen.width();
        pen.text(1, 0, "nearest limit of each leg", Role::Plain);
        for (index, margin) in self.margins.iter().enumerate() {
            let (x, y) = (18 * (index as i32 % 2), 1 + index as i32 / 2);
            let (sign, role) = if margin.least {
                ("►", Role::Strong)
            } else {
                (" ", Role::Plain)
            };
            let words = format!("{sign}{} {}", margin.joint, margin.text);
            pen.text_until(x, y, end.min(x + 17), &words, role);
        }
    }
}
