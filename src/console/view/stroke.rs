//! Lines of pictures: Braille dots, or slashes where the font has none.
//!
//! A solid line was measured, a dotted one is only commanded; both keep clear of letters already drawn.

use super::pen::Pen;
use crate::console::theme::{Role, Strokes};

/// A place in a picture, in cells from the pen's upper left; fractions count.
pub type Spot = (f64, f64);

/// Draws a line from here to there.
pub fn line(pen: &mut Pen<'_>, from: Spot, to: Spot, solid: bool, role: Role) {
    let far = |spot: Spot| !(spot.0.abs() < 1e4 && spot.1.abs() < 1e4);
    if far(from) || far(to) {
        return;
    }
    if pen.look.ascii || pen.look.strokes == Strokes::Plain {
        slashes(pen, from, to, solid, role);
    } else {
        braille(pen, from, to, solid, role);
    }
}

/// Draws part of a circle around a place, as dots; radius in columns, angles counter-clockwise from the right.
///
/// Only Braille is fine enough for it: with plain signs the glyphs at its ends must do.
pub fn arc(pen: &mut Pen<'_>, centre: Spot, radius: f64, from_deg: f64, to_deg: f64, role: Role) {
    let usable = radius.abs() < 1e3 && (to_deg - from_deg).abs() <= 720.0;
    if pen.look.ascii || pen.look.strokes == Strokes::Plain || !usable {
        return;
    }
    // A dot in every second dot's width of the circle.
    let steps = ((to_deg - from_deg).abs().to_radians() * radius)
        .ceil()
        .max(1.0) as i32;
    for step in 0..=steps {
        let deg = from_deg + (to_deg - from_deg) * f64::from(step) / f64::from(steps);
        let (sin, cos) = deg.to_radians().sin_cos();
        let spot = (centre.0 + radius * cos, centre.1 - radius * sin / 2.0);
        dot(
            pen,
            (spot.0 * 2.0).floor() as i32,
            (spot.1 * 4.0).floor() as i32,
            role,
        );
    }
}

/// The cell a place lies in.
pub fn cell(spot: Spot) -> (i32, i32) {
    let whole = |value: f64| value.floor().clamp(-1e4, 1e4) as i32;
    (whole(spot.0), whole(spot.1))
}

fn braille(pen: &mut Pen<'_>, from: Spot, to: Spot, solid: bool, role: Role) {
    let (x0, y0) = (from.0 * 2.0, from.1 * 4.0);
    let (dx, dy) = (to.0 * 2.0 - x0, to.1 * 4.0 - y0);
    let steps = dx.abs().max(dy.abs()).ceil().max(1.0) as i32;
    let stride = if solid { 1 } else { 3 };
    for step in (0..=steps).step_by(stride) {
        let part = f64::from(step) / f64::from(steps);
        dot(
            pen,
            (x0 + dx * part).floor() as i32,
            (y0 + dy * part).floor() as i32,
            role,
        );
    }
}

/// Sets one dot, two by four a cell (Unicode, Braille Patterns: bit per dot).
fn dot(pen: &mut Pen<'_>, x: i32, y: i32, role: Role) {
    const BITS: [[u32; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];
    let (column, row) = (x.div_euclid(2), y.div_euclid(4));
    let bit = BITS[y.rem_euclid(4) as usize][x.rem_euclid(2) as usize];
    let before = match u32::from(pen.at(column, row)) {
        pattern @ 0x2800..=0x28FF => pattern,
        0x20 => 0x2800,
        _ => return,
    };
    if let Some(sign) = char::from_u32(before | bit) {
        pen.sign(column, row, sign, role);
    }
}

fn slashes(pen: &mut Pen<'_>, from: Spot, to: Spot, solid: bool, role: Role) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    // A flat line is a row of strokes; anything steeper has a slash in each cell it meets.
    let flat = dx.abs() >= 2.5 * dy.abs();
    let steps = dx.abs().max(dy.abs()).round().max(1.0) as i32;
    let sign = match (solid, flat) {
        (false, _) => '∙',
        (true, true) => '─',
        (true, false) if dx.abs() < 0.25 * dy.abs() => '│',
        (true, false) if (dx > 0.0) == (dy > 0.0) => '\\',
        (true, false) => '/',
    };
    let stride = if solid || !flat { 1 } else { 2 };
    for step in (0..=steps).step_by(stride) {
        let part = f64::from(step) / f64::from(steps);
        let (x, y) = cell((from.0 + dx * part, from.1 + dy * part));
        if pen.is_blank(x, y, 1) {
            pen.sign(x, y, sign, role);
        }
    }
}
