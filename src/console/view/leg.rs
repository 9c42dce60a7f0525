//! The chosen leg from the side, to scale: numbers at the joints, limits, ends, the positive way, the foot's path.
//!
//! Positions and angles come in computed; here they are only projected and drawn.

use super::pen::{Pen, columns};
use super::robot::JointGlyph;
use super::stroke::{self, Spot};
use crate::console::theme::Role;

/// One leg seen from its side, in its own plane.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LegView {
    /// Coxa axis, femur axis, knee, foot: outward from the coxa axis, and up; mm.
    pub points_mm: [[f64; 2]; 4],
    /// The joints' states: coxa, femur, tibia.
    pub joints: [JointGlyph; 3],
    /// Whether each joint is calibrated: its link is solid, dotted otherwise.
    pub measured: [bool; 3],
    /// What is written at the joints: `coxa −4.0°`, `femur +11.8°`, `knee −71.0°`; or `femur ?`.
    pub numbers: [String; 3],
    /// The joint being worked on.
    pub chosen: Option<usize>,
    /// Limits and ends of the chosen joint (or of all of them), drawn around their joint.
    pub bounds: Vec<Bound>,
    /// The chosen joint's positive way, once known.
    pub positive: Option<Positive>,
    /// The path a foot jog would take.
    pub path: Option<FootPath>,
    /// Where the other arrows' paths would end: their end signs alone.
    pub ends: Vec<FootPath>,
    /// Written beside the foot where there is room: `foot, from commanded:`, `149.5 out   75.6 down   ± 1.2 mm`.
    pub foot: Vec<String>,
}

/// A limit or an end of a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// 0 coxa, 1 femur, 2 tibia.
    pub joint: usize,
    /// What it is.
    pub kind: BoundKind,
    /// The direction of the joint's link at this bound, degrees above the outward direction, in the picture's plane.
    pub direction_deg: f64,
    /// `+70°`; empty for none.
    pub text: String,
}

/// What bounds a joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoundKind {
    /// An arc, `)`.
    Limit,
    /// A bar, `║`.
    End,
    /// A limit with the end close behind it, `)║`.
    Both,
}

/// The positive way of the chosen joint: `▲ +` over `│up`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Positive {
    /// Femur and tibia: positive lifts.
    Up,
    /// Coxa: positive is counter-clockwise from above; toward the front or the rear by the side of the body.
    Fore,
    /// See [`Positive::Fore`].
    Rear,
}

/// Where the foot would go.
#[derive(Debug, Clone, PartialEq)]
pub struct FootPath {
    /// The end of the path: outward and up, mm.
    pub to_mm: [f64; 2],
    /// What ends it, written at its end: `tibia −38°`, `24 mm to limit`; `None` when the path is free.
    pub stop: Option<String>,
}

/// Radius of the limits' arcs around their joint, in columns.
const ARC: f64 = 5.0;

impl LegView {
    /// The length of the straight leg.
    pub fn reach_mm(&self) -> f64 {
        let links = self.points_mm.windows(2);
        links
            .map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
            .sum()
    }

    /// Draws the leg to fill the pen, to scale, the body at the left; the words at the foot only where they have room.
    pub fn draw(&self, pen: &mut Pen<'_>, with_foot: bool) {
        if pen.width() < 16 || pen.height() < 5 {
            return;
        }
        let side = Side::new(self, pen, with_foot);
        let spots = self.points_mm.map(|point| side.spot(point));
        for link in 0..3 {
            stroke::line(
                pen,
                spots[link],
                spots[link + 1],
                self.measured[link],
                Role::Plain,
            );
        }
        self.positive_way(pen);
        let (x, y) = stroke::cell(spots[3]);
        pen.sign(x, y, '○', Role::Plain);
        for joint in (0..3).rev() {
            let (x, y) = stroke::cell(spots[joint]);
            pen.sign(x, y, self.joints[joint].sign(), self.joints[joint].role());
            if self.chosen == Some(joint) {
                pen.mark(x, y, 1, Role::Chosen);
            }
        }
        self.draw_path(&side, &spots, pen);
        self.draw_bounds(&spots, pen);
        self.draw_numbers(&spots, pen);
        // Last, because an arc gives way to a letter.
        self.draw_arcs(&spots, pen);
        if !with_foot {
            return;
        }
        let (x, y) = stroke::cell(spots[3]);
        for (dy, line) in (0..).zip(&self.foot) {
            let left = (x - 2 - columns(line)).clamp(0, 4);
            pen.place(&[(left, y + dy), (x + 2, y + dy)], line, Role::Plain);
        }
    }

    fn positive_way(&self, pen: &mut Pen<'_>) {
        let x = pen.width() - 4;
        match self.positive {
            None => {}
            Some(Positive::Up) => {
                pen.text(x, 0, "▲ +", Role::Plain);
                pen.text(x, 1, "│up", Role::Plain);
            }
            // A coxa turns out of this picture's plane: words only.
            Some(Positive::Fore) => {
                pen.text(x - 3, 0, "+ fore", Role::Plain);
            }
            Some(Positive::Rear) => {
                pen.text(x - 3, 0, "+ rear", Role::Plain);
            }
        }
    }

    fn draw_path(&self, side: &Side, spots: &[Spot; 4], pen: &mut Pen<'_>) {
        for end in &self.ends {
            draw_end(pen, spots[3], side.spot(end.to_mm));
        }
        if let Some(path) = &self.path {
            let to = side.spot(path.to_mm);
            draw_path(pen, spots[3], to, path.stop.as_deref());
        }
    }

    /// An arc between the outermost bounds of a joint.
    fn draw_arcs(&self, spots: &[Spot; 4], pen: &mut Pen<'_>) {
        for (joint, spot) in spots.iter().enumerate().take(3).skip(1) {
            let bounds = self.bounds.iter().filter(|bound| bound.joint == joint);
            let directions: Vec<f64> = bounds.map(|bound| bound.direction_deg).collect();
            let low = directions.iter().copied().fold(f64::INFINITY, f64::min);
            let high = directions.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            if directions.len() > 1 {
                stroke::arc(pen, *spot, ARC, low, high, Role::Plain);
            }
        }
    }

    /// Ends and limits around their joints, each with its number.
    fn draw_bounds(&self, spots: &[Spot; 4], pen: &mut Pen<'_>) {
        // The coxa's lie in the plane seen from above, not in this one.
        for bound in self
            .bounds
            .iter()
            .filter(|bound| (1..3).contains(&bound.joint))
        {
            let (sin, cos) = bound.direction_deg.to_radians().sin_cos();
            let centre = spots[bound.joint];
            let (x, y) = stroke::cell((centre.0 + ARC * cos, centre.1 - ARC * sin / 2.0));
            let sign = match bound.kind {
                BoundKind::Limit => ")",
                BoundKind::End => "║",
                BoundKind::Both => ")║",
            };
            let role = match bound.kind {
                BoundKind::Limit => Role::Plain,
                BoundKind::End | BoundKind::Both => Role::End,
            };
            let end = pen.text(x, y, sign, role);
            pen.place(
                &[(end + 1, y), (x - 1 - columns(&bound.text), y)],
                &bound.text,
                Role::Plain,
            );
        }
    }

    fn draw_numbers(&self, spots: &[Spot; 4], pen: &mut Pen<'_>) {
        let [coxa, femur, knee, _] = spots.map(stroke::cell);
        let length = |joint: usize| columns(&self.numbers[joint]);
        let over_femur = (femur.0 - length(1)).max(0);
        let under_coxa = (coxa.0 - 3).max(0);
        let places: [Vec<(i32, i32)>; 3] = [
            vec![(under_coxa, coxa.1 + 1), (under_coxa, coxa.1 + 2)],
            vec![
                (over_femur, femur.1 - 1),
                (over_femur, femur.1 - 2),
                (over_femur, femur.1 + 1),
            ],
            vec![
                (knee.0 + 2, knee.1),
                (knee.0 + 3, knee.1),
                (knee.0 + 2, knee.1 - 1),
            ],
        ];
        for joint in [2, 1, 0] {
            let words = &self.numbers[joint];
            if let Some((x, y)) = pen.place(&places[joint], words, Role::Plain)
                && self.chosen == Some(joint)
            {
                pen.mark(x, y, columns(words), Role::Chosen);
            }
        }
    }
}

/// The sign alone at the end of a path that is not being drawn.
pub fn draw_end(pen: &mut Pen<'_>, from: Spot, to: Spot) {
    let (dx, dy) = (to.0 - from.0, (to.1 - from.1) * 2.0);
    let sign = match (dx.abs() >= dy.abs(), dx > 0.0, dy > 0.0) {
        (true, true, _) => '┤',
        (true, false, _) => '├',
        (false, _, true) => '┴',
        (false, _, false) => '┬',
    };
    let (x, y) = stroke::cell(to);
    if (x, y) != stroke::cell(from) {
        pen.sign(x, y, sign, Role::End);
    }
}

/// Dots from the foot to where it would go, an arrow, and what stops it there.
pub fn draw_path(pen: &mut Pen<'_>, from: Spot, to: Spot, stop: Option<&str>) {
    let (dx, dy) = (to.0 - from.0, (to.1 - from.1) * 2.0);
    if dx.abs() + dy.abs() <= 0.5 {
        return;
    }
    let flat = dx.abs() >= dy.abs();
    let (start, end) = (stroke::cell(from), stroke::cell(to));
    // Dots are signs here in every font: the path must not be taken for a link.
    let steps = (end.0 - start.0).abs().max((end.1 - start.1).abs());
    for step in 1..steps {
        let part = f64::from(step) / f64::from(steps);
        let spot = stroke::cell((
            from.0 + (to.0 - from.0) * part,
            from.1 + (to.1 - from.1) * part,
        ));
        pen.sign(spot.0, spot.1, '∙', Role::Plain);
    }
    let arrow = match (flat, dx > 0.0, dy > 0.0) {
        (true, true, _) => '►',
        (true, false, _) => '◄',
        (false, _, true) => '▼',
        (false, _, false) => '▲',
    };
    if end != start {
        pen.sign(end.0, end.1, arrow, Role::Plain);
    }
    let Some(stop) = stop else { return };
    let (bar, (bar_x, bar_y)) = match arrow {
        '►' => ('┤', (end.0 + 1, end.1)),
        '◄' => ('├', (end.0 - 1, end.1)),
        '▼' => ('┴', (end.0, end.1 + 1)),
        _ => ('┬', (end.0, end.1 - 1)),
    };
    pen.sign(bar_x, bar_y, bar, Role::End);
    let length = columns(stop);
    let places = [
        (bar_x + 2, bar_y),
        ((pen.width() - length).min(start.0 - 4), bar_y + 1),
        (bar_x - 2 - length, bar_y),
    ];
    pen.place(&places, stop, Role::Plain);
}

/// From the leg's plane to cells; a cell is twice as high as it is wide.
struct Side {
    origin: Spot,
    mm_per_column: f64,
}

impl Side {
    /// The scale holds the straight leg, and grows in steps only when a pose is too high for the rows there are.
    fn new(leg: &LegView, pen: &Pen<'_>, with_foot: bool) -> Side {
        let reach_mm = leg.reach_mm();
        let path_mm = leg.path.iter().map(|path| path.to_mm[1]);
        let heights = leg.points_mm.iter().map(|point| point[1]).chain(path_mm);
        let top_mm = heights.clone().fold(0.0, f64::max);
        let bottom_mm = heights.fold(0.0, f64::min);
        // Under the foot there is room for the words beside it.
        let words = if with_foot { leg.foot.len() } else { 0 };
        let height = f64::from(pen.height()) - (words as f64 - 1.0).max(0.0);
        // What stops a path stands one row beyond its end.
        let bar = if leg.path.is_some() { 1.0 } else { 0.0 };
        let rows = height - 1.0 - 2.0 * bar;
        let mut mm_per_column = (reach_mm / f64::from(pen.width() - 10).max(1.0)).max(0.1);
        for _ in 0..20 {
            if (top_mm - bottom_mm) / (2.0 * mm_per_column) <= rows {
                break;
            }
            mm_per_column *= 1.15;
        }
        let row = |mm: f64| mm / (2.0 * mm_per_column);
        // The body sits a third down, and gives way to a pose that needs the room.
        let usual = (height * 0.3).floor() + 0.5;
        let lowest = height - 0.5 - bar + row(bottom_mm);
        let origin = (6.5, usual.min(lowest).max(row(top_mm) + 0.5 + bar));
        Side {
            origin,
            mm_per_column,
        }
    }

    fn spot(&self, [out, up]: [f64; 2]) -> Spot {
        (
            self.origin.0 + out / self.mm_per_column,
            self.origin.1 - up / (2.0 * self.mm_per_column),
        )
    }
}
