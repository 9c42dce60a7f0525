//! Marks: each reading less the fitted line, the table of them, and what the fit says; the scale below.

use super::pen::{Pen, columns};
use super::{field::ValueField, jog, scale, scale::Scale};
use crate::console::theme::Role;

/// The page of marks.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Marks {
    /// `LF femur`.
    pub joint: String,
    /// What is drawn over the line, one for each mark that has a residual.
    pub dots: Vec<Dot>,
    /// One standard deviation of a reading, degrees; not known before there is a line.
    pub sd_deg: Option<f64>,
    /// The table.
    pub rows: Vec<MarkLine>,
    /// The field of the awaited reading.
    pub field: Option<ValueField>,
    /// `zero`, `1487.5 ± 9 µs`; `scale`, `10.60 ± 0.21 µs/°    + lifts`; `play`, …
    pub fit: Vec<(String, String)>,
    /// `mark 6 is 1.9° off the line: typing?`, shorter and longer.
    pub doubt: Option<(String, String)>,
    /// `like joints (femur)   LF 10.60 …   none is odd`.
    pub family: Option<String>,
    /// What stands instead of the line while there is none.
    pub waiting: Vec<String>,
    /// What a person would see, in a phrase: practice robot only, from 120 columns on.
    pub sight: Option<String>,
    /// The joint's scale.
    pub scale: Scale,
}

/// One reading over the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dot {
    /// The line's angle at its pulse, degrees.
    pub at_deg: f64,
    /// Reading less line, degrees.
    pub off_deg: f64,
    /// From which side: `None` when it is not known.
    pub from_below: Option<bool>,
    /// Named as an outlier.
    pub doubted: bool,
}

/// One line of the table.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MarkLine {
    /// `6`.
    pub number: String,
    /// `1968`.
    pub pulse: String,
    /// `above`.
    pub from: String,
    /// `+45.0`; nothing while it is awaited.
    pub gauge: String,
    /// `+0.4`; `?` while it is awaited.
    pub off: String,
    /// It is awaited: marked, and the field stands in it.
    pub awaited: bool,
}

/// Rows from the top of the chart to its middle, and degrees of a row at the least.
const HALF: i32 = 4;
const ROW_DEG: f64 = 0.5;
/// Marks that the table has room for.
const SHOWN: usize = 6;

impl Marks {
    /// Draws the page; `full` where everything has room.
    pub fn draw(&self, pen: &mut Pen<'_>, full: bool) {
        let rows = pen.height();
        if full {
            jog::titled_scale(&self.scale, &self.joint, pen);
            self.chart(&mut pen.window(1, 1, 60, 12), 3, full);
            self.table(&mut pen.window(66, 1, 54, 8));
            self.said(&mut pen.window(66, 9, 54, 5), full);
            let legend = "► reached from below   ◄ reached from above   · one standard deviation";
            pen.text_until(1, 13, 80, legend, Role::Plain);
            if let Some(phrase) = &self.sight {
                let words = format!("what you would see (simulated): {phrase}");
                pen.text_until(66, 14, 120, &words, Role::Simulated);
            }
            if let Some(family) = &self.family {
                pen.text_until(1, 15, 120, family, Role::Plain);
            }
            return;
        }
        let top = rows - scale::ROWS as i32;
        // The chart's labels take the row of the commanded pulse, which stands in the table.
        let below = Scale {
            commanded: None,
            target: None,
            ..self.scale.clone()
        };
        below.draw(&mut pen.window(2, top, 76, scale::ROWS as i32));
        self.chart(&mut pen.window(0, 0, 39, 11), 3, full);
        self.table(&mut pen.window(40, 0, pen.width() - 40, 7));
        let doubt = self.doubt.is_some() || self.rows.len() <= SHOWN;
        self.said(&mut pen.window(40, 7, 40, if doubt { 3 } else { 2 }), full);
        pen.text(41, 10, "► from below   ◄ from above", Role::Plain);
    }

    /// The chart: labels in the first columns, the axis after `labels` columns and a blank.
    fn chart(&self, pen: &mut Pen<'_>, labels: i32, full: bool) {
        let width = pen.width();
        pen.text_until(
            0,
            0,
            width,
            &format!("reading minus line, {}", self.joint),
            Role::Plain,
        );
        if self.dots.is_empty() {
            for (y, line) in (2..).zip(&self.waiting) {
                pen.text_until(0, y, width, line, Role::Plain);
            }
            return;
        }
        let farthest = self
            .dots
            .iter()
            .map(|d| d.off_deg.abs())
            .fold(0.0, f64::max);
        let row_deg = ROW_DEG * (farthest / 2.25).ceil().max(1.0);
        let middle = 1 + HALF;
        let axis = labels + 1;
        for y in 1..=2 * HALF + 1 {
            pen.sign(axis, y, '│', Role::Plain);
            let deg = f64::from(middle - y) * row_deg;
            if (y - middle) % 2 == 0 {
                let sign = match deg {
                    d if d > 0.0 => "+",
                    d if d < 0.0 => "−",
                    _ => " ",
                };
                let decimals = usize::from(deg.fract() != 0.0);
                pen.text(
                    0,
                    y,
                    &format!("{sign}{:.decimals$}°", deg.abs()),
                    Role::Plain,
                );
            }
        }
        let last = if full { axis + 48 } else { axis + 24 };
        let zero = "─".repeat((last - axis).max(0) as usize);
        pen.text(axis + 1, middle, &zero, Role::Plain);
        if let Some(sd) = self.sd_deg {
            let rows = (sd / row_deg).round() as i32;
            if (1..HALF).contains(&rows) {
                for side in [-1, 1] {
                    let mut x = axis + 1;
                    while x < last + 1 {
                        pen.sign(x, middle + side * rows, '·', Role::Plain);
                        x += 2;
                    }
                }
                pen.text(last + 1, middle - rows, "±1 sd", Role::Plain);
            }
        }
        self.dots(pen, axis, last, middle, row_deg);
    }

    fn dots(&self, pen: &mut Pen<'_>, axis: i32, last: i32, middle: i32, row_deg: f64) {
        let ends =
            |f: fn(f64, f64) -> f64, start| self.dots.iter().map(|d| d.at_deg).fold(start, f);
        let (low, high) = (
            ends(f64::min, f64::INFINITY),
            ends(f64::max, f64::NEG_INFINITY),
        );
        // A little air at both ends of the line.
        let (left, right) = (axis + 4 + (last - axis) / 24, last - 3);
        let x = |deg: f64| match high - low {
            span if span < 1.0 => (left + right) / 2,
            span => left + ((deg - low) / span * f64::from(right - left)).round() as i32,
        };
        for dot in &self.dots {
            let y = middle - (dot.off_deg / row_deg).round() as i32;
            let y = y.clamp(middle - HALF, middle + HALF);
            let sign = match dot.from_below {
                Some(true) => '►',
                Some(false) => '◄',
                None => '•',
            };
            let at = x(dot.at_deg) + i32::from(dot.from_below == Some(false));
            let role = if dot.doubted {
                Role::Wrong
            } else {
                Role::Strong
            };
            pen.sign(at, y, sign, role);
            if dot.doubted {
                pen.text(at - 9, y, "far off", Role::Wrong);
            }
        }
        let mut after = axis;
        let mut texts = [low, (low + high) / 2.0, high]
            .map(|deg| (deg, super::text::whole_degrees(deg.round())))
            .to_vec();
        // Angles of one or two degrees would all have the same number.
        texts.dedup_by(|b, a| a.1 == b.1);
        for (deg, text) in texts {
            let at = x(deg) - columns(&text) / 2;
            if at > after {
                after = pen.text(at, 2 * HALF + 2, &text, Role::Plain);
            }
        }
    }

    fn table(&self, pen: &mut Pen<'_>) {
        let end = pen.width();
        pen.text_until(2, 0, end, "#  pulse  from   gauge    off", Role::Plain);
        let first = self.rows.len().saturating_sub(SHOWN);
        for (y, row) in (1..).zip(self.rows.iter().skip(first)) {
            pen.text_until(3 - columns(&row.number), y, end, &row.number, Role::Plain);
            pen.text(10 - columns(&row.pulse), y, &row.pulse, Role::Plain);
            pen.text(12, y, &row.from, Role::Plain);
            let off = 31 - columns(&row.off);
            if row.awaited {
                pen.sign(0, y, '►', Role::Strong);
                match &self.field {
                    Some(field) => {
                        let field = ValueField {
                            label: String::new(),
                            unit: String::new(),
                            ..field.clone()
                        };
                        field.draw(pen, 18, y);
                        if field.error.is_none() {
                            pen.text(30, y, &row.off, Role::Plain);
                        }
                    }
                    None => {
                        pen.text(30, y, &row.off, Role::Plain);
                    }
                }
            } else {
                pen.text(24 - columns(&row.gauge), y, &row.gauge, Role::Plain);
                pen.text(off, y, &row.off, Role::Plain);
            }
        }
    }

    fn said(&self, pen: &mut Pen<'_>, full: bool) {
        let end = pen.width();
        let mut y = 0;
        if full {
            for (label, value) in self.fit.iter().take(3) {
                pen.text(0, y, label, Role::Plain);
                pen.text_until(6, y, end, value, Role::Plain);
                y += 1;
            }
        } else if let [(_, zero), (_, scale), ..] = self.fit.as_slice() {
            let scale = scale.split("   ").next().unwrap_or_default();
            pen.text_until(0, y, end, &format!("zero {zero}   {scale}"), Role::Plain);
            y += 1;
        }
        if let Some((short, long)) = &self.doubt {
            let text = if full { long } else { short };
            pen.text_until(0, y, end, text, Role::Wrong);
        } else if let (false, Some((label, play))) = (full, self.fit.get(2)) {
            pen.text_until(0, y, end, &format!("{label} {play}"), Role::Plain);
        }
    }
}
