//! Guided work that has no drawing of its own: picture left, its numbers right, the scale of the one joint below.

use super::pen::Pen;
use super::{big, jog, scale};
use super::{field::ValueField, leg::LegView, robot::RobotPicture, scale::Scale, sight::SightBox};
use crate::console::theme::Role;

/// One step of guided work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Guided {
    /// The robot from above: at the left, or at the right where something else is.
    pub robot: RobotPicture,
    /// What stands at the left.
    pub picture: Left,
    /// The big number or words at the right; may be empty.
    pub big: String,
    /// Under it.
    pub big_unit: String,
    /// The machine's lines.
    pub lines: Vec<String>,
    /// What can be chosen, and which is lit.
    pub options: Option<(Vec<String>, usize)>,
    /// A field to type in.
    pub field: Option<ValueField>,
    /// What a person would see: practice robot only, from 120 columns on.
    pub sight: Option<SightBox>,
    /// The joint's scale, if the step is about a joint.
    pub scale: Option<Scale>,
    /// Its title: `LF tibia`.
    pub scale_title: String,
}

/// What stands at the left.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Left {
    /// The robot from above.
    #[default]
    Robot,
    /// The leg from the side.
    Leg(Box<LegView>),
    /// How a servo plug sits: drawn in lines of text.
    Drawing(Vec<String>),
}

impl Guided {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let mut rows = pen.height();
        let listed = self.options.as_ref().map_or(0, |it| it.0.len() as i32 + 2);
        // What is said is never cut for a scale, nor for big letters.
        let has_room = full || listed + self.said_rows() <= rows - scale::ROWS as i32;
        if let Some(it) = self.scale.as_ref().filter(|_| has_room) {
            if full {
                jog::titled_scale(it, &self.scale_title, pen);
                rows -= scale::ROWS as i32 + 2;
            } else {
                rows -= scale::ROWS as i32;
                it.draw(&mut pen.window(2, rows, 76, scale::ROWS as i32));
            }
        }
        let width = pen.width();
        let used = match &self.options {
            Some((options, lit)) => {
                // Beside the list one line of numbers keeps its place.
                let shown = listed.min(rows - 2);
                super::list(options, *lit, &mut pen.window(0, 0, 80, shown));
                shown
            }
            None => 0,
        };
        let left_rows = rows - used;
        if left_rows >= 6 {
            self.left(&mut pen.window(0, used, 40, left_rows), full);
        }
        let right_width = if full { 40 } else { width - 41 };
        self.numbers(&mut pen.window(41, used, right_width, left_rows));
        if full {
            let mut right = pen.window(82, 0, 38, rows);
            if let Some(sight) = &self.sight {
                sight.draw(&mut right.window(0, 0, 37, 7));
            }
            if self.picture != Left::Robot {
                self.robot
                    .draw(&mut right.window(0, 7, 38, (rows - 7).min(18)));
            }
        }
    }

    /// The rows that field and lines take, with the blank one above them.
    fn said_rows(&self) -> i32 {
        1 + if self.field.is_some() { 2 } else { 0 } + self.lines.len() as i32
    }

    fn left(&self, pen: &mut Pen<'_>, full: bool) {
        match &self.picture {
            Left::Robot => {
                let rows = pen.height().min(18);
                self.robot.draw(&mut pen.window(0, 0, 40, rows));
            }
            Left::Leg(leg) => leg.draw(pen, full),
            Left::Drawing(lines) => {
                for (y, line) in (1..).zip(lines) {
                    pen.text_until(2, y, 40, line, Role::Plain);
                }
            }
        }
    }

    fn numbers(&self, pen: &mut Pen<'_>) {
        let end = pen.width();
        let mut y = 1;
        let crowded = self.said_rows() + big::ROWS + 1 > pen.height();
        if !self.big.is_empty() && !crowded && big::width(&self.big) <= end {
            big::letters(pen, 0, y - 1, &self.big);
            pen.text_until(0, y + 2, end, &self.big_unit, Role::Plain);
            y += 4;
        }
        if let Some(field) = &self.field {
            let beside = ValueField {
                error: None,
                ..field.clone()
            };
            beside.draw(pen, 0, y);
            if let Some(error) = &field.error {
                pen.text_until(0, y + 1, end, &format!("! {error}"), Role::Wrong);
            }
            y += 2;
        }
        let room = (pen.height() - y).max(0) as usize;
        let shown = match self.lines.len() > room {
            true => room.saturating_sub(1),
            false => self.lines.len(),
        };
        for line in &self.lines[..shown] {
            let role = if line.starts_with('!') {
                Role::Wrong
            } else {
                Role::Plain
            };
            pen.text_until(0, y, end, line, role);
            y += 1;
        }
        if shown < self.lines.len() {
            let more = format!("… {} lines more", self.lines.len() - shown);
            pen.text_until(0, y, end, &more, Role::Plain);
        }
    }
}
