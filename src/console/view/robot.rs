//! The robot from above, to scale, turned to how the builder sits.
//!
//! Positions come in as millimetres, computed elsewhere; here they are only projected and drawn.

use super::pen::{Pen, columns};
use super::stroke::{self, Spot};
use crate::console::theme::Role;

/// The robot from above.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RobotPicture {
    /// The legs, in the file's order.
    pub legs: Vec<LegPicture>,
    /// Quarters the picture is turned, counter-clockwise: 0 front up, 1 front left, 2 front down, 3 front right.
    pub turn: u8,
    /// The chosen leg, and its chosen joint (0 coxa, 1 femur, 2 tibia).
    pub chosen: Option<(usize, Option<usize>)>,
    /// Feet that carry the body, x and y in the body frame, mm; empty on the stand.
    pub support_mm: Vec<[f64; 2]>,
    /// The centre of mass, x and y in the body frame, mm.
    pub centre_mm: Option<[f64; 2]>,
    /// The stability margin in words: `margin 31 mm`.
    pub margin: Option<String>,
}

/// One leg from above.
#[derive(Debug, Clone, PartialEq)]
pub struct LegPicture {
    /// `LF`.
    pub name: String,
    /// The key that chooses it at the place where it is drawn now.
    pub key: Option<char>,
    /// Coxa axis, femur axis, knee, foot; body frame (x forward, y left, z up), mm, at the commanded angles.
    pub points_mm: [[f64; 3]; 4],
    /// The joints' states: coxa, femur, tibia.
    pub joints: [JointGlyph; 3],
    /// Whether each joint is calibrated: its link is drawn solid, dotted otherwise.
    pub measured: [bool; 3],
}

/// A joint's state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum JointGlyph {
    /// No plug known for it: `·`.
    #[default]
    NoPlug,
    /// `○`
    Limp,
    /// `◊`
    Waking,
    /// `●`
    Awake,
    /// `■`
    Frozen,
    /// Did not move when asked: `×`.
    Dead,
}

impl JointGlyph {
    /// Its sign.
    pub fn sign(self) -> char {
        match self {
            JointGlyph::NoPlug => '·',
            JointGlyph::Limp => '○',
            JointGlyph::Waking => '◊',
            JointGlyph::Awake => '●',
            JointGlyph::Frozen => '■',
            JointGlyph::Dead => '×',
        }
    }

    /// Its colour's reason.
    pub fn role(self) -> Role {
        match self {
            JointGlyph::NoPlug | JointGlyph::Limp => Role::Plain,
            JointGlyph::Waking => Role::Waking,
            JointGlyph::Awake => Role::Moving,
            JointGlyph::Frozen => Role::Stopped,
            JointGlyph::Dead => Role::End,
        }
    }
}

/// How much of a leg's full length the picture must hold: nobody stands with straight legs.
const USUAL_REACH: f64 = 0.85;

impl RobotPicture {
    /// Draws the picture to fill the pen, to scale.
    pub fn draw(&self, pen: &mut Pen<'_>) {
        if self.legs.is_empty() || pen.width() < 12 || pen.height() < 6 {
            return;
        }
        let view = Above::new(self, pen);
        let body = self.body(&view, pen);
        self.support(&view, pen);
        let spots: Vec<[Spot; 4]> = self
            .legs
            .iter()
            .map(|leg| leg.points_mm.map(|point| view.spot([point[0], point[1]])))
            .collect();
        for (leg, spots) in self.legs.iter().zip(&spots) {
            for link in 0..3 {
                stroke::line(
                    pen,
                    spots[link],
                    spots[link + 1],
                    leg.measured[link],
                    Role::Plain,
                );
            }
        }
        for (index, (leg, spots)) in self.legs.iter().zip(&spots).enumerate() {
            self.joints(index, leg, spots, pen);
        }
        for (index, (leg, spots)) in self.legs.iter().zip(&spots).enumerate() {
            self.name(index, leg, stroke::cell(spots[3]), pen);
        }
        self.front(body, pen);
        if let Some(margin) = &self.margin {
            let y = pen.height() - 1;
            pen.place(&[(0, y), (0, 0)], margin, Role::Plain);
        }
    }

    fn joints(&self, index: usize, leg: &LegPicture, spots: &[Spot; 4], pen: &mut Pen<'_>) {
        let (x, y) = stroke::cell(spots[3]);
        pen.sign(x, y, '∙', Role::Plain);
        for joint in (0..3).rev() {
            let (x, y) = stroke::cell(spots[joint]);
            pen.sign(x, y, leg.joints[joint].sign(), leg.joints[joint].role());
            if self.chosen == Some((index, Some(joint))) {
                pen.mark(x, y, 1, Role::Chosen);
            }
        }
    }

    /// The key and the name at the foot, the key on the outer side.
    fn name(&self, index: usize, leg: &LegPicture, (x, y): (i32, i32), pen: &mut Pen<'_>) {
        let left = x * 2 < pen.width();
        let words = match (leg.key, left) {
            (None, _) => leg.name.clone(),
            (Some(key), true) => format!("{key} {}", leg.name),
            (Some(key), false) => format!("{} {key}", leg.name),
        };
        let chosen = self.chosen.is_some_and(|(leg, _)| leg == index);
        let words = if chosen { format!("[{words}]") } else { words };
        let length = columns(&words);
        let beside = if left { x - 1 - length } else { x + 2 };
        let under = (if left { x - length + 1 } else { x }).clamp(0, (pen.width() - length).max(0));
        let places = [(beside, y), (under, y + 1), (under, y - 1)];
        if let Some((x, y)) = pen.place(&places, &words, Role::Plain)
            && chosen
        {
            pen.mark(x, y, length, Role::Chosen);
        }
    }

    /// The outline; says its left, top, right and bottom cells.
    fn body(&self, view: &Above, pen: &mut Pen<'_>) -> [i32; 4] {
        let (cx, cy) = stroke::cell(view.spot([0.0, 0.0]));
        // Around the origin at least, so that a single leg has a body to hang on.
        let mut edges = [cx - 3, cy - 1, cx + 3, cy + 1];
        for leg in &self.legs {
            let [x, y, _] = leg.points_mm[0];
            let (x, y) = stroke::cell(view.spot([x, y]));
            edges = [
                edges[0].min(x + 1),
                edges[1].min(y),
                edges[2].max(x - 1),
                edges[3].max(y),
            ];
        }
        let [left, top, right, bottom] = edges;
        let inner = "─".repeat((right - left - 1).max(0) as usize);
        pen.text(left, top, &format!("┌{inner}┐"), Role::Plain);
        pen.text(left, bottom, &format!("└{inner}┘"), Role::Plain);
        for y in top + 1..bottom {
            pen.sign(left, y, '│', Role::Plain);
            pen.sign(right, y, '│', Role::Plain);
        }
        edges
    }

    /// The word and the arrow on the side that is the front now, beside what is drawn there.
    fn front(&self, [left, top, right, bottom]: [i32; 4], pen: &mut Pen<'_>) {
        let (cx, cy) = ((left + right) / 2, (top + bottom) / 2);
        let (arrow, word) = match self.turn % 4 {
            0 => (('▲', cx, top - 2), (cx - 2, top - 3)),
            1 => (('◄', left - 3, cy), (left - 9, cy)),
            2 => (('▼', cx, bottom + 2), (cx - 2, bottom + 3)),
            _ => (('►', right + 3, cy), (right + 5, cy)),
        };
        let (sign, x, y) = arrow;
        // With little height the arrow stands against the body, and the word is left out.
        let y = y.clamp(0, pen.height() - 1);
        if pen.is_blank(x, y, 1) {
            pen.sign(x, y, sign, Role::Plain);
        } else {
            pen.place(&[(x, y)], &sign.to_string(), Role::Plain);
        }
        if word.1 != y || self.turn % 2 == 1 {
            pen.place(&[word], "front", Role::Plain);
        }
    }

    /// The support polygon and the centre of mass.
    fn support(&self, view: &Above, pen: &mut Pen<'_>) {
        let count = self.support_mm.len();
        for (i, foot) in self.support_mm.iter().enumerate() {
            let next = self.support_mm[(i + 1) % count];
            stroke::line(pen, view.spot(*foot), view.spot(next), false, Role::Plain);
        }
        if let Some(centre) = self.centre_mm {
            let (x, y) = stroke::cell(view.spot(centre));
            pen.sign(x, y, '+', Role::Strong);
        }
    }
}

/// From the body frame to cells, seen from above; a cell is twice as high as it is wide.
struct Above {
    centre: Spot,
    mm_per_column: f64,
    turn: u8,
}

impl Above {
    /// The scale depends on the robot's build, not on its pose or its turn: nothing jumps while a leg moves.
    fn new(picture: &RobotPicture, pen: &Pen<'_>) -> Above {
        let reach_mm = |leg: &LegPicture| {
            let links: f64 = leg
                .points_mm
                .windows(2)
                .map(|pair| distance(pair[0], pair[1]))
                .sum();
            let [x, y, _] = leg.points_mm[0];
            x.hypot(y) + USUAL_REACH * links
        };
        let radius_mm = picture.legs.iter().map(reach_mm).fold(1.0, f64::max);
        let (width, height) = (f64::from(pen.width()), f64::from(pen.height()));
        Above {
            centre: (width / 2.0, height / 2.0),
            mm_per_column: radius_mm / (width / 2.0 - 2.0).min(height).max(1.0),
            turn: picture.turn % 4,
        }
    }

    fn spot(&self, [forward, left]: [f64; 2]) -> Spot {
        let (right, up) = match self.turn {
            0 => (-left, forward),
            1 => (-forward, -left),
            2 => (left, -forward),
            _ => (forward, left),
        };
        (
            self.centre.0 + right / self.mm_per_column,
            self.centre.1 - up / (2.0 * self.mm_per_column),
        )
    }
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    let square = |i: usize| (a[i] - b[i]) * (a[i] - b[i]);
    (square(0) + square(1) + square(2)).sqrt()
}
