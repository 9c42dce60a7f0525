//! The first screen: where do we work today? No port has been opened yet.

use super::pen::{Pen, columns};
use super::robot::RobotPicture;
use crate::console::theme::Role;

/// The first screen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct First {
    /// `Two serial ports.`, `No serial port is there.`
    pub heading: String,
    /// What can be chosen.
    pub choices: Vec<Choice>,
    /// Which line is chosen.
    pub chosen: usize,
    /// The file's name and what it holds: `calibrations/marram.toml`, `9 of 18 joints marked`.
    pub file: Option<(String, String)>,
    /// The robot of the chosen line, drawn from 120 columns on.
    pub robot: Option<RobotPicture>,
}

/// One line to choose; names from outside are already escaped.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Choice {
    /// `ttyUSB0  board 3F2A90C1`, `practice robot`, `look again`.
    pub name: String,
    /// `Marram, last worked on 18 November`; may be empty.
    pub detail: String,
    /// At the right: `how to load it`; may be empty.
    pub note: String,
}

/// Said before anything can move; the last line leaves batteries to those who know them.
const CAUTIONS: [&str; 4] = [
    "A switch in the servo supply is the emergency stop.",
    "Space on this keyboard only asks the board to stop.",
    "Fingers out of the legs before anything wakes.",
    "Lithium cells: the maker's rules and your local ones.",
];

impl First {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let left = if full { 12 } else { 4 };
        let end = if full { 81 } else { pen.width() };
        let cautions = if full { 16 } else { 11 } + (pen.height() - if full { 27 } else { 18 }) / 2;
        pen.text_until(left + 2, 1, end, &self.heading, Role::Plain);
        let under = if self.file.is_some() { 3 } else { 1 };
        let room = (cautions - 3 - under).max(1) as usize;
        let first = (self.chosen + 1).saturating_sub(room);
        // The details stand in one column, right of every name that has one.
        let names = self
            .choices
            .iter()
            .filter(|choice| !choice.detail.is_empty());
        let longest = names
            .map(|choice| columns(&choice.name) + 3)
            .max()
            .unwrap_or(0);
        let detail = left + 2 + longest.clamp(21, 40);
        let mut y = 3;
        for (index, choice) in self.choices.iter().enumerate().skip(first).take(room) {
            if index == self.chosen {
                pen.sign(left, y, '►', Role::Plain);
            }
            let name_end = if choice.detail.is_empty() {
                end
            } else {
                detail - 1
            };
            pen.text_until(left + 2, y, name_end, &choice.name, Role::Plain);
            pen.text_until(detail, y, end, &choice.detail, Role::Plain);
            pen.text_until(left + 52, y, end, &choice.note, Role::Plain);
            if index == self.chosen {
                let shown = columns(&choice.name).min(name_end - left - 2);
                pen.mark(left, y, 2 + shown, Role::Chosen);
            }
            y += 1;
        }
        if let Some((name, holds)) = &self.file {
            pen.text(left + 2, y + 1, "file", Role::Plain);
            let after = pen.text_until(left + 11, y + 1, end, name, Role::Plain);
            pen.text_until((left + 41).max(after + 3), y + 1, end, holds, Role::Plain);
        }
        for (dy, caution) in (0..).zip(CAUTIONS) {
            pen.text_until(left + 2, cautions + dy, end, caution, Role::Plain);
        }
        if let (Some(robot), true) = (&self.robot, full) {
            let width = pen.width() - 81;
            robot.draw(&mut pen.window(81, 1, width, 17));
        }
    }
}
