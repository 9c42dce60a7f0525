//! Plugs: one pin was nudged; which joint moved, and which way? The robot as the builder sits, what was found beside it.

use super::pen::Pen;
use super::{big, jog, scale};
use super::{robot::RobotPicture, scale::Scale, sight::SightBox};
use crate::console::theme::Role;

/// The page while a pin is asked about.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plugs {
    /// The robot from above, turned to how the builder sits.
    pub robot: RobotPicture,
    /// `34`.
    pub pin: String,
    /// What was said of it so far: `RM coxa`, or nothing.
    pub drives: String,
    /// Which way, in words and as an arrow on the picture: `forward  ↓`.
    pub way: String,
    /// All candidates, the present one first.
    pub rows: Vec<PlugLine>,
    /// What the machine has to say besides; at most six lines.
    pub notes: Vec<String>,
    /// Label and value, from 120 columns on: `as planned so far`, `12 of 12`.
    pub counts: Vec<(String, String)>,
    /// What a person would see: practice robot only, from 120 columns on.
    pub sight: Option<SightBox>,
    /// The pin's scale, from 36 rows on.
    pub scale: Scale,
    /// `pin 34`.
    pub scale_title: String,
}

/// One candidate pin.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PlugLine {
    /// `34`.
    pub pin: String,
    /// `RM coxa ?`, `RF tibia up`, `nothing`.
    pub found: String,
    /// `RM coxa`.
    pub planned: String,
    /// What was found is not what was planned.
    pub wrong: bool,
}

/// Candidates that have room.
const SHOWN: usize = 5;

impl Plugs {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let mut rows = pen.height();
        if full {
            rows -= scale::ROWS as i32 + 2;
            jog::titled_scale(&self.scale, &self.scale_title, pen);
        }
        self.robot
            .draw(&mut pen.window(0, 0, 40, (rows - 1).min(18)));
        let width = if full { 40 } else { pen.width() - 41 };
        self.found(&mut pen.window(41, 0, width, rows));
        pen.text(
            1,
            (rows - 1).min(16),
            "u coxa (body)  i femur  o tibia (foot)",
            Role::Plain,
        );
        if full {
            let mut right = pen.window(82, 0, 37, rows);
            self.beside(&mut right);
        }
    }

    fn found(&self, pen: &mut Pen<'_>) {
        let end = pen.width();
        pen.text(0, 1, &format!("pin {} drives", self.pin), Role::Plain);
        pen.text_until(21, 1, end, &self.drives, Role::Strong);
        pen.text(0, 2, "moving to larger µs", Role::Plain);
        pen.text_until(21, 2, end, &self.way, Role::Strong);
        big::letters(pen, 0, 4, &format!("PIN {}", self.pin));
        pen.text(0, 8, "found so far", Role::Plain);
        // A new robot's file has no plan yet.
        if self.rows.iter().any(|row| !row.planned.is_empty()) {
            pen.text(22, 8, "planned", Role::Plain);
        }
        for (y, row) in (9..).zip(self.rows.iter().take(SHOWN)) {
            pen.text(0, y, &row.pin, Role::Plain);
            let role = if row.wrong { Role::Wrong } else { Role::Plain };
            pen.text_until(4, y, 21, &row.found, role);
            pen.text_until(22, y, end, &row.planned, Role::Plain);
        }
        let last = "left and right: always the robot's own";
        pen.text_until(0, 15, end, last, Role::Plain);
        for (y, note) in (16..18).zip(&self.notes) {
            let role = match note.starts_with('!') {
                true => Role::Wrong,
                false => Role::Plain,
            };
            pen.text_until(0, y, end, note, role);
        }
    }

    fn beside(&self, pen: &mut Pen<'_>) {
        let end = pen.width();
        if let Some(sight) = &self.sight {
            sight.draw(&mut pen.window(0, 0, end, 7));
        }
        for (y, (label, value)) in (8..11).zip(&self.counts) {
            pen.text(0, y, label, Role::Plain);
            pen.text_until(20, y, end, value, Role::Plain);
        }
        pen.text(0, 12, "a dead pin: n, then why is asked", Role::Plain);
        pen.text(0, 13, "two moved: first joint, +, second", Role::Plain);
    }
}
