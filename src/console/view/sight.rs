//! What you would see: a box with `(simulated)` in its title. It never stands on a real board.

use super::pen::Pen;
use crate::console::theme::Role;

/// What a person at the bench would see and hear of the practice robot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SightBox {
    /// At most five lines: `LF stands, five legs hang`, `no hum`, `supply display  5.02 V   0.4 A`.
    pub lines: Vec<String>,
}

impl SightBox {
    /// Draws the box over the whole pen.
    pub fn draw(&self, pen: &mut Pen<'_>) {
        pen.boxed("What you would see (simulated)", Role::Simulated);
        let (end, rows) = (pen.width() - 1, (pen.height() - 2).max(0));
        for (y, line) in (1..).zip(self.lines.iter().take(rows as usize)) {
            pen.text_until(2, y, end, line, Role::Plain);
        }
    }
}
