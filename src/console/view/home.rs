//! Home: the robot from above, what is known of it, and, where there is room, the chosen joint's scale.

use super::pen::Pen;
use super::{jog, scale};
use super::{matrix::Matrix, robot::RobotPicture, scale::Scale, sight::SightBox};
use crate::console::theme::Role;

/// The home page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Home {
    /// The robot from above.
    pub robot: RobotPicture,
    /// What is known.
    pub matrix: Matrix,
    /// Under the matrix: `9 of 18 joints marked, 6 have both ends`, `! plugs 38 and 39 are exchanged`, …; at most three.
    pub notes: Vec<String>,
    /// What a person would see: practice robot only.
    pub sight: Option<SightBox>,
    /// The logbook's last lines, newest last, in the sight's place on a real board; at most five.
    pub log: Vec<String>,
    /// The chosen joint in numbers, from 120 columns on.
    pub joint: Option<JointCard>,
    /// The chosen joint's scale, from 36 rows on.
    pub scale: Option<Scale>,
    /// The scale's title: `LF tibia`.
    pub scale_title: String,
}

/// The chosen joint in a few numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JointCard {
    /// `LF tibia   pin 24   servo 08`.
    pub title: String,
    /// Label and value: `pulse`, `1516 µs commanded`; at most five.
    pub rows: Vec<(String, String)>,
}

impl Home {
    /// Draws the page; `full` where everything has room, `tall` where the scale has.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool, tall: bool) {
        let mut rows = pen.height();
        let shown = if tall { self.scale.as_ref() } else { None };
        if let Some(scale) = shown {
            rows -= scale::ROWS as i32 + 2;
            jog::titled_scale(scale, &self.scale_title, pen);
        }
        let (picture, left) = if full { (41, 42) } else { (39, 40) };
        self.robot
            .draw(&mut pen.window(0, 0, picture, rows.min(24)));
        let width = if full { 41 } else { pen.width() - left };
        let mut middle = pen.window(left, 1, width, rows - 1);
        let end = middle.width();
        let spread = i32::from(!full);
        let notes = self.matrix.draw(&mut middle) + 1 + spread;
        for (y, note) in (notes..).zip(self.notes.iter().take(3)) {
            let role = match note.chars().next() {
                Some('!') => Role::Wrong,
                Some('×') => Role::End,
                _ => Role::Plain,
            };
            middle.text_until(0, y, end, note, role);
        }
        legend(&mut middle, notes + 3 + spread, full);
        if full {
            self.right(&mut pen.window(84, 0, 35, rows));
        }
    }

    /// What would be seen, or the logbook, and the chosen joint's card.
    fn right(&self, pen: &mut Pen<'_>) {
        let mut window = pen.window(0, 0, 35, 9);
        match &self.sight {
            Some(sight) => sight.draw(&mut window),
            None => {
                window.boxed("Logbook, last lines", Role::Plain);
                let end = window.width() - 1;
                for (y, line) in (1..).zip(self.log.iter().take(7)) {
                    window.text_until(2, y, end, line, Role::Plain);
                }
            }
        }
        if let Some(card) = &self.joint {
            let end = pen.width();
            pen.text_until(1, 10, end, &card.title, Role::Strong);
            for (y, (label, value)) in (11..).zip(card.rows.iter().take(5)) {
                pen.text_until(1, y, 11, label, Role::Plain);
                pen.text_until(12, y, end, value, Role::Plain);
            }
        }
    }
}

/// The glyphs' meaning, in two rows.
fn legend(pen: &mut Pen<'_>, y: i32, full: bool) {
    if full {
        pen.text(0, y, "── measured   ∙∙ commanded only", Role::Plain);
    } else {
        pen.text(0, y, "──  measured      ∙∙  commanded only", Role::Plain);
    }
    let states = [
        (0, "○ limp", Role::Plain),
        (8, "◊ waking", Role::Waking),
        (18, "● awake", Role::Moving),
        (27, "■ frozen", Role::Stopped),
    ];
    for (x, words, role) in states {
        pen.text(x, y + 1, words, role);
    }
}
