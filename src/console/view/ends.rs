//! Ends: one fine step out and back, then the question. The peck in a box, its farthest pulse big, the scale below.

use super::pen::Pen;
use super::{big, jog, scale};
use super::{robot::RobotPicture, scale::Scale, sight::SightBox};
use crate::console::theme::Role;

/// The page while a peck is made or asked about.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ends {
    /// `peck 14 of about 20, toward the far end`.
    pub headline: String,
    /// The rows of the box: label and text, `out`, `2216 → 2224 µs   8 µs   (+0.8°)`; at most six.
    pub peck: Vec<(String, String)>,
    /// The peck's farthest pulse: `2224`.
    pub big: String,
    /// Under it: `µs, farthest pulse of this peck`, …; at most five.
    pub beside: Vec<String>,
    /// What was found so far, from 36 rows on: `far end 2268.0 ± 2.0 µs, 3 times`.
    pub found: Vec<String>,
    /// The end is near or the current rose: the question stands big over the box's foot.
    pub close: bool,
    /// The robot from above, from 120 columns on.
    pub robot: RobotPicture,
    /// What a person would see: practice robot only, from 120 columns on.
    pub sight: Option<SightBox>,
    /// The joint's scale.
    pub scale: Scale,
    /// `LF femur`.
    pub scale_title: String,
}

impl Ends {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let rows = pen.height();
        let width = pen.width();
        if full {
            jog::titled_scale(&self.scale, &self.scale_title, pen);
        } else {
            let top = rows - scale::ROWS as i32;
            self.scale
                .draw(&mut pen.window(2, top, 76, scale::ROWS as i32));
        }
        pen.text_until(2, 0, width, &self.headline, Role::Plain);
        self.peck(&mut pen.window(1, 1, 44, 8));
        let right = if full { 80 } else { width };
        big::letters(pen, 48, 1, &self.big);
        for (y, line) in (4..9).zip(&self.beside) {
            pen.text_until(48, y, right, line, Role::Plain);
        }
        if self.close {
            // Above the scale a row stays free; at 24 rows it is the only one.
            let words = "NEAR THE END: look and listen before you say free";
            pen.text_until(2, 9, right, words, Role::Strong);
        }
        if full {
            let below = rows - scale::ROWS as i32 - 2;
            self.robot
                .draw(&mut pen.window(80, 0, 40, (below - 1).min(18)));
            if let Some(sight) = &self.sight {
                sight.draw(&mut pen.window(2, 10, 60, 6));
            }
            for (y, line) in (16..below).zip(&self.found) {
                pen.text_until(2, y, 79, line, Role::Plain);
            }
        }
    }

    fn peck(&self, pen: &mut Pen<'_>) {
        pen.boxed("Peck", Role::Plain);
        let end = pen.width() - 1;
        for (y, (label, text)) in (1..7).zip(&self.peck) {
            pen.text(3, y, label, Role::Plain);
            pen.text_until(10, y, end, text, Role::Plain);
        }
    }
}
