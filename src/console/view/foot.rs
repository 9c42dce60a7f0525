//! Foot jog: one leg from the side and from above, the foot's path and what stops it.

use super::leg::{self, FootPath, LegView};
use super::pen::{Pen, columns};
use super::robot::{JointGlyph, RobotPicture};
use super::stroke::{self, Spot};
use super::{field::ValueField, jog, scale, scale::Scale};
use crate::console::theme::Role;

/// The foot jog page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FootJog {
    /// The robot from above, drawn from 120 columns on.
    pub robot: RobotPicture,
    /// The leg from the side, with the path in it.
    pub side: LegView,
    /// The leg from above, with the path in it.
    pub top: TopView,
    /// Whether the arrows act in the top view (in the side view otherwise).
    pub top_has_arrows: bool,
    /// The numbers, label and value: `out`, `149.5 mm`; `fore`, `up`; then `step`, `time`, `speed`.
    pub point: [(String, String); 3],
    /// See `point`.
    pub motion: [(String, String); 3],
    /// `± 1.2 mm unloaded`; empty when unknown.
    pub spread: String,
    /// The other knee: `knee up, chosen   (knee down: tibia` / `+71°, 109° past its limit −38°)`; at most two lines.
    pub knee: Vec<String>,
    /// How far each arrow's way is free, and what comes then: two lines, or none.
    pub ways: Vec<String>,
    /// Margins of coxa, femur, tibia to their limits.
    pub margins: Vec<Margin>,
    /// The scale of the joint that reaches a limit first, drawn from 36 rows on.
    pub scale: Scale,
    /// `LF tibia, the first to reach a limit on this path`.
    pub scale_title: String,
    /// The field in which a point is being typed.
    pub field: Option<ValueField>,
}

/// The leg from above, in the leg frame: outward to the right, forward up.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TopView {
    /// Coxa axis, femur axis, knee, foot: outward and forward of the coxa axis, mm.
    pub points_mm: [[f64; 2]; 4],
    /// The joints' states: coxa, femur, tibia.
    pub joints: [JointGlyph; 3],
    /// Whether each joint is calibrated: its link is solid, dotted otherwise.
    pub measured: [bool; 3],
    /// The coxa's limits as directions, degrees from outward toward the front.
    pub limits_deg: Option<(f64, f64)>,
    /// The foot's way: outward and forward, mm, and what ends it.
    pub path: Option<FootPath>,
    /// Where the other arrows' ways would end: their end signs alone.
    pub ends: Vec<FootPath>,
    /// The neighbour ahead: `LM swings here`; empty for none.
    pub ahead: String,
    /// The neighbour behind: `RF: clear`; empty for none.
    pub behind: String,
}

/// How far one joint is from its limits.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Margin {
    /// `coxa`.
    pub joint: String,
    /// `41°`.
    pub text: String,
    /// The smallest of the three: `►`.
    pub least: bool,
}

impl FootJog {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        if full {
            let rows = pen.height() - scale::ROWS as i32 - 2;
            self.robot
                .draw(&mut pen.window(0, 1, 40, (rows - 1).min(24)));
            self.titles(pen, 40, 81);
            self.side.draw(&mut pen.window(40, 1, 40, rows - 4), false);
            self.knees(pen, 41, rows - 3);
            self.top
                .draw(&mut pen.window(81, 1, 39, 8), self.side.reach_mm());
            self.numbers(&mut pen.window(81, 10, 39, rows - 10));
            jog::titled_scale(&self.scale, &self.scale_title, pen);
            return;
        }
        // There is no room for the scale: the row of margins takes its place.
        let (width, rows) = (pen.width(), pen.height() - 1);
        self.side.draw(&mut pen.window(0, 1, 40, rows - 4), false);
        for y in 0..rows {
            pen.sign(40, y, '│', Role::Plain);
        }
        self.titles(pen, 0, 41);
        self.knees(pen, 1, rows - 3);
        self.top
            .draw(&mut pen.window(41, 1, width - 41, 8), self.side.reach_mm());
        self.numbers(&mut pen.window(41, 10, width - 41, rows - 10));
        self.margins(pen, rows);
    }

    /// Which view has the arrows; its title is lit.
    fn titles(&self, pen: &mut Pen<'_>, side: i32, top: i32) {
        let titles = if self.top_has_arrows {
            ["side view (Tab)", "[TOP VIEW, arrows act here]"]
        } else {
            ["[SIDE VIEW, arrows act here]", "top view (Tab)"]
        };
        let side = side + i32::from(side == 0);
        for (title, x) in titles.into_iter().zip([side, top + i32::from(top == 41)]) {
            pen.text(x, 0, title, Role::Plain);
            if title.starts_with('[') {
                pen.mark(x, 0, columns(title), Role::Chosen);
            }
        }
    }

    fn knees(&self, pen: &mut Pen<'_>, x: i32, y: i32) {
        for (dy, line) in (0..).zip(self.knee.iter().take(2)) {
            pen.text_until(x, y + dy, x + 39, line, Role::Plain);
        }
    }

    fn numbers(&self, pen: &mut Pen<'_>) {
        let end = pen.width();
        pen.text(0, 0, "foot, commanded", Role::Plain);
        pen.text_until(19, 0, end, &self.spread, Role::Plain);
        for (y, ((label, value), (right, motion))) in (1..).zip(self.point.iter().zip(&self.motion))
        {
            pen.text_until(0, y, 6, label, Role::Plain);
            // Decimal points stand under each other.
            pen.text((14 - columns(value)).max(5), y, value, Role::Plain);
            pen.text_until(19, y, 26, right, Role::Plain);
            pen.text_until(26, y, end, motion, Role::Plain);
        }
        // The two lines of the ways push the last one down by one.
        for (y, line) in (4..).zip(self.ways.iter().take(2)) {
            pen.text_until(0, y, end, line, Role::Plain);
        }
        let y = if self.ways.is_empty() { 5 } else { 6 };
        match &self.field {
            Some(field) => {
                field.draw(pen, 0, y);
            }
            None => {
                pen.text_until(0, y, end, "at most 250 mm/s while jogging", Role::Plain);
            }
        }
    }

    fn margins(&self, pen: &mut Pen<'_>, y: i32) {
        if self.margins.is_empty() {
            return;
        }
        let mut x = pen.text(1, y, "margin to the limits", Role::Plain);
        for margin in &self.margins {
            x += 3;
            let sign = if margin.least { "► " } else { "" };
            let words = format!("{sign}{} {}", margin.joint, margin.text);
            let role = if margin.least {
                Role::Strong
            } else {
                Role::Plain
            };
            x = pen.text(x, y, &words, role);
        }
    }
}

impl TopView {
    /// Draws the leg from above, outward to the right and forward up, to the scale of the whole leg's length, so that
    /// nothing jumps while it bends.
    pub fn draw(&self, pen: &mut Pen<'_>, reach_mm: f64) {
        let (width, height) = (pen.width(), pen.height());
        if width < 16 || height < 4 {
            return;
        }
        pen.text(0, 0, "body    front ▲", Role::Plain);
        for y in 1..height {
            pen.sign(0, y, '│', Role::Plain);
        }
        let mm_per_column = (reach_mm / f64::from((width - 13).max(4))).max(0.1);
        let origin = (1.5, f64::from(height) / 2.0 + 0.5);
        let spot = |[out, fore]: [f64; 2]| -> Spot {
            (
                origin.0 + out / mm_per_column,
                origin.1 - fore / (2.0 * mm_per_column),
            )
        };
        if let Some((low, high)) = self.limits_deg {
            let radius = 6.0;
            stroke::arc(pen, origin, radius, low, high, Role::Plain);
            for deg in [low, high] {
                let (sin, cos) = deg.to_radians().sin_cos();
                let end = (origin.0 + radius * cos, origin.1 - radius * sin / 2.0);
                let (x, y) = stroke::cell(end);
                pen.sign(x, y, ')', Role::Plain);
            }
        }
        let spots = self.points_mm.map(spot);
        for link in 0..3 {
            stroke::line(
                pen,
                spots[link],
                spots[link + 1],
                self.measured[link],
                Role::Plain,
            );
        }
        let (x, y) = stroke::cell(spots[3]);
        pen.sign(x, y, '○', Role::Plain);
        for joint in (0..3).rev() {
            let (x, y) = stroke::cell(spots[joint]);
            pen.sign(x, y, self.joints[joint].sign(), self.joints[joint].role());
        }
        for end in &self.ends {
            leg::draw_end(pen, spots[3], spot(end.to_mm));
        }
        if let Some(path) = &self.path {
            leg::draw_path(pen, spots[3], spot(path.to_mm), path.stop.as_deref());
        }
        for (words, y) in [(&self.ahead, 1), (&self.behind, height - 1)] {
            pen.place(&[(14, y), (width - columns(words), y)], words, Role::Plain);
        }
    }
}
