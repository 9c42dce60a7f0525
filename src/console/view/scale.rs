//! The travel scale: one joint's pulses from 500 to 2500 µs, what is commanded above, what bounds it below.
//!
//! Eight rows, always in the same order. A line with signs on it: never filled, never dragged.

use super::pen::Pen;
use super::sheet::{Row, Sheet};
use super::text;
use crate::console::theme::Role;
use crate::units::Pulse;

/// What stands on one travel scale. All numbers are µs unless their name says otherwise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scale {
    /// The pulse the board says it sends; `None` while limp and never woken.
    pub commanded: Option<Pulse>,
    /// The pulse a held arrow or a field is heading for, when it differs: a ghost `○`.
    pub target: Option<Pulse>,
    /// The guard the board enforces now.
    pub guard: Option<(f64, f64)>,
    /// The working limits.
    pub limits: Option<(f64, f64)>,
    /// Where the mechanism ends at the smaller pulse.
    pub near_end: Option<f64>,
    /// Where the mechanism ends at the larger pulse.
    pub far_end: Option<f64>,
    /// The pulse at 0°, and its ±.
    pub zero: Option<Zero>,
    /// The marks' pulses.
    pub marks: Vec<f64>,
    /// The travel the robot needs of this joint, degrees.
    pub needed_deg: Option<(f64, f64)>,
    /// Pulse to degrees and back, once there is one.
    pub fit: Option<Fit>,
    /// Which way the joint goes with smaller and larger pulses, once the plug is known.
    pub way: Option<Way>,
    /// The row of degrees while there is no fit: `not known yet, first the plug, then two marks`.
    pub no_degrees: String,
}

/// The pulse at 0°; it may lie outside 500-2500.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero {
    /// µs.
    pub us: f64,
    /// Its ±, µs, once estimated.
    pub spread: Option<f64>,
}

/// `pulse = zero + scale·deg + curve·deg²`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// The pulse at 0°, µs.
    pub zero_us: f64,
    /// µs per degree, negative for a joint that turns the other way.
    pub us_per_deg: f64,
    /// µs per degree squared; 0 for a straight fit.
    pub curve: f64,
    /// The scale is the servo type's word, not this servo's: the screen says `nominal`.
    pub nominal: bool,
}

/// Words for the two directions: `down ◄─ this joint ─► up`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// Where smaller pulses move it.
    pub smaller: String,
    /// Where larger pulses move it.
    pub larger: String,
}

pub use super::sheet::ROWS;

const COMMANDED: usize = 0;
const LINE: usize = 1;
const NUMBERS: usize = 2;
const CARETS: usize = 3;
const NEEDED: usize = 6;
const DEGREES: usize = 7;

impl Fit {
    /// The pulse at this angle.
    pub fn us_at(&self, deg: f64) -> f64 {
        self.zero_us + (self.us_per_deg + self.curve * deg) * deg
    }

    /// The angle at this pulse, on the branch that holds 0°; `None` where a curved fit has no angle.
    pub fn deg_at(&self, us: f64) -> Option<f64> {
        let offset = us - self.zero_us;
        // The stable form of the quadratic's root near the straight line's, which it becomes at curve = 0.
        let root = self.us_per_deg * self.us_per_deg + 4.0 * self.curve * offset;
        let divisor = self.us_per_deg + self.us_per_deg.signum() * root.sqrt();
        let deg = 2.0 * offset / divisor;
        deg.is_finite().then_some(deg)
    }
}

impl Scale {
    /// Draws the scale at the pen's upper left, as wide as the pen.
    pub fn draw(&self, pen: &mut Pen<'_>) {
        for (y, row) in self.rows(pen.width().max(0) as usize).iter().enumerate() {
            for (x, (sign, role)) in row.iter().enumerate() {
                if *sign != ' ' {
                    pen.sign(x as i32, y as i32, *sign, *role);
                }
            }
        }
    }

    /// The eight rows as text, for the report, the help and the tests.
    pub fn lines(&self, width: usize) -> [String; ROWS] {
        self.rows(width).map(|row| {
            let line: String = row.iter().map(|(sign, _)| sign).collect();
            line.trim_end().to_owned()
        })
    }

    fn rows(&self, width: usize) -> [Row; ROWS] {
        let mut sheet = Sheet::new(width);
        if sheet.cells == 0 {
            return sheet.rows;
        }
        self.line(&mut sheet);
        self.commanded(&mut sheet);
        self.carets(&mut sheet);
        self.labels(&mut sheet);
        match &self.fit {
            Some(fit) => {
                self.needed(&mut sheet, fit);
                degrees_row(&mut sheet, fit);
            }
            None => self.directions(&mut sheet),
        }
        sheet.rows
    }

    /// The line and its numbers: the stroke says what may be.
    fn line(&self, sheet: &mut Sheet) {
        let within = |bounds: Option<(f64, f64)>, sheet: &Sheet, x: i32| {
            bounds.is_some_and(|(low, high)| (sheet.at(low)..=sheet.at(high)).contains(&x))
        };
        for tick in 0..=8 {
            let us = 500.0 + 250.0 * f64::from(tick);
            let number = text::us(us);
            sheet.text(
                NUMBERS,
                sheet.at(us) - number.len() as i32 / 2,
                &number,
                Role::Plain,
            );
        }
        for x in sheet.zero..=sheet.zero + sheet.cells {
            let tick = (x - sheet.zero) % (sheet.cells / 8) == 0;
            let allowed = within(self.guard, sheet, x);
            let wanted = allowed && within(self.limits, sheet, x);
            let sign = match (wanted, allowed, tick) {
                (true, _, true) => '╪',
                (true, _, false) => '═',
                (_, true, true) => '┼',
                (_, true, false) => '─',
                (_, _, true) => '│',
                (_, _, false) => '·',
            };
            sheet.sign(LINE, x, sign, Role::Plain);
        }
    }

    /// The commanded pulse above the line, and the dots to where it is heading.
    fn commanded(&self, sheet: &mut Sheet) {
        let Some(pulse) = self.commanded else {
            return;
        };
        let x = sheet.at(pulse.us());
        let mut words = format!("{pulse} commanded");
        if let Some((fit, deg)) = self
            .fit
            .and_then(|fit| Some((fit, fit.deg_at(pulse.us())?)))
        {
            let nominal = if fit.nominal { " nominal" } else { "" };
            words += &format!("  ({}{nominal})", text::degrees(deg));
        }
        let length = words.chars().count() as i32;
        let fits_right = x + 2 + length <= sheet.width;
        let target = self.target.map(|target| sheet.at(target.us()));
        // The words leave the side on which the dots run, where they can.
        let dots_right = target.is_some_and(|target| target > x) && x - 1 - length >= 0;
        if let Some(target) = target.filter(|target| *target != x) {
            for dot in (x + 1).min(target + 1)..x.max(target) {
                sheet.sign(COMMANDED, dot, '∙', Role::Plain);
            }
            sheet.sign(COMMANDED, target, '○', Role::Plain);
        }
        let start = if fits_right && !dots_right {
            x + 2
        } else {
            x - 1 - length
        };
        sheet.text(COMMANDED, start, &words, Role::Plain);
        sheet.sign(COMMANDED, x, '▼', Role::Strong);
    }

    /// One sign for each thing that bounds the pulse; in one cell the stronger.
    fn carets(&self, sheet: &mut Sheet) {
        let mut counts: Vec<(i32, usize)> = Vec::new();
        for mark in self.marks.iter().filter(|us| sheet.holds(**us)) {
            let x = sheet.at(*mark);
            match counts.iter_mut().find(|(cell, _)| *cell == x) {
                Some((_, count)) => *count += 1,
                None => counts.push((x, 1)),
            }
        }
        for (x, count) in counts {
            let sign = match count {
                1 => '•',
                2..=9 => char::from(b'0' + count as u8),
                _ => '9',
            };
            sheet.sign(CARETS, x, sign, Role::Plain);
        }
        // From the weakest to the strongest, each over the one before.
        let pair = |bounds: Option<(f64, f64)>, low: char, high: char| {
            bounds.map_or([None, None], |(a, b)| [Some((a, low)), Some((b, high))])
        };
        let zero = self.zero.map(|zero| (zero.us, '▲'));
        let guard = pair(self.guard, '[', ']');
        let limits = pair(self.limits, '(', ')');
        for (us, sign) in guard.into_iter().chain(limits).chain([zero]).flatten() {
            if sheet.holds(us) {
                sheet.sign(CARETS, sheet.at(us), sign, Role::Plain);
            }
        }
        for us in [self.near_end, self.far_end].into_iter().flatten() {
            if sheet.holds(us) {
                sheet.sign(CARETS, sheet.at(us), '║', Role::End);
            }
        }
    }

    /// Words under the carets, strongest first.
    fn labels(&self, sheet: &mut Sheet) {
        for (us, name) in [(self.near_end, "near end"), (self.far_end, "far end")] {
            if let Some(us) = us {
                sheet.label(us, &format!("{name} {}", text::us(us)), Role::End);
            }
        }
        if let Some(zero) = self.zero {
            let spread = zero.spread.map(|spread| format!(" ± {}", text::us(spread)));
            let words = format!("zero {}{}", text::us(zero.us), spread.unwrap_or_default());
            sheet.label(zero.us, &words, Role::Plain);
        }
        let same_cell = |a: f64, b: f64, sheet: &Sheet| sheet.at(a) == sheet.at(b);
        let sides = |bounds: Option<(f64, f64)>| match bounds {
            Some((low, high)) => [Some(low), Some(high)],
            None => [None, None],
        };
        let pairs: Vec<_> = sides(self.limits)
            .into_iter()
            .zip(sides(self.guard))
            .collect();
        for (limit, guard) in &pairs {
            let Some(limit) = limit else { continue };
            let mut words = format!("limit {}", text::us(*limit));
            if let Some(guard) = guard.filter(|guard| same_cell(*limit, *guard, sheet)) {
                words += &format!(", guard {}", text::us(guard));
            }
            sheet.label(*limit, &words, Role::Plain);
        }
        for (limit, guard) in &pairs {
            let Some(guard) = guard else { continue };
            if !limit.is_some_and(|limit| same_cell(limit, *guard, sheet)) {
                sheet.label(*guard, &format!("guard {}", text::us(*guard)), Role::Plain);
            }
        }
    }

    /// The travel the robot needs, the part it cannot have drawn as `××`.
    fn needed(&self, sheet: &mut Sheet, fit: &Fit) {
        let Some((low_deg, high_deg)) = self.needed_deg else {
            return;
        };
        let (from_deg, to_deg) = if fit.us_per_deg < 0.0 {
            (high_deg, low_deg)
        } else {
            (low_deg, high_deg)
        };
        let (from_us, to_us) = (fit.us_at(from_deg), fit.us_at(to_deg));
        let (least, most) = self.travel();
        // What is left beyond the needed travel, degrees; less than nothing where some of it is missing.
        let left = |edge: f64, needed_deg: f64, way: f64| {
            let beyond = |deg: f64| (deg - needed_deg) * way * fit.us_per_deg.signum();
            fit.deg_at(edge).map_or(0.0, beyond)
        };
        let (left_low, left_high) = (left(least, from_deg, -1.0), left(most, to_deg, 1.0));
        let (short_low, short_high) = ((-left_low).max(0.0), (-left_high).max(0.0));
        let mut words = format!(
            " needed {} … {} ",
            text::whole_degrees(from_deg),
            text::whole_degrees(to_deg)
        );
        // Less than half a degree is below what any of this is known to.
        let short = short_low + short_high;
        if short >= 0.5 {
            words = format!("{}, short {:.0}° ", words.trim_end(), short.max(1.0));
        }
        let (from, to) = (sheet.clamped(from_us), sheet.clamped(to_us));
        // At least two signs: one alone is easily overlooked.
        let mut good = (from, to);
        if short_low >= 0.5 {
            good.0 = sheet.clamped(least).max(from + 2);
        }
        if short_high >= 0.5 {
            good.1 = sheet.clamped(most).min(to - 2);
        }
        let (good_from, good_to) = good;
        for x in from..=to {
            let (sign, role) = match x {
                x if x < good_from || x > good_to => ('×', Role::Wrong),
                x if x == from && from == good_from => ('└', Role::Plain),
                x if x == to && to == good_to => ('┘', Role::Plain),
                _ => ('─', Role::Plain),
            };
            sheet.sign(NEEDED, x, sign, role);
        }
        let length = words.chars().count() as i32;
        let room = good_to - good_from - 1;
        if room >= length {
            // An odd blank goes to the left of the words.
            let start = good_from + 1 + (room - length + 1) / 2;
            sheet.text(NEEDED, start, &words, Role::Plain);
            self.spare(sheet, (from, to), (left_low, left_high));
        } else if to + 1 + length <= sheet.width {
            sheet.text(NEEDED, to + 1, &words, Role::Plain);
        } else {
            sheet.text(NEEDED, (from - length).max(0), &words, Role::Plain);
        }
    }

    /// What is left on either side of the needed travel, where a limit or an end tells it.
    fn spare(&self, sheet: &mut Sheet, (from, to): (i32, i32), (low_deg, high_deg): (f64, f64)) {
        let told = |end: Option<f64>| self.limits.is_some() || end.is_some();
        // Rounded down: what is not there is not promised.
        let words = |deg: f64| {
            let whole = deg as i32;
            [format!("{whole}° spare"), format!("{whole}°")]
        };
        if told(self.near_end) && low_deg >= 0.0 {
            let mut all = words(low_deg).into_iter();
            let start = |words: &String| from - 1 - words.chars().count() as i32;
            if let Some(words) = all.find(|words| start(words) >= 0) {
                sheet.text(NEEDED, start(&words), &words, Role::Plain);
            }
        }
        if told(self.far_end) && high_deg >= 0.0 {
            let end = |words: &String| to + 2 + words.chars().count() as i32;
            let mut all = words(high_deg).into_iter();
            if let Some(words) = all.find(|words| end(words) <= sheet.width) {
                sheet.text(NEEDED, to + 2, &words, Role::Plain);
            }
        }
    }

    /// The pulses between which the joint may work: limits, else ends, else what any board sends.
    fn travel(&self) -> (f64, f64) {
        let (low, high) = self.limits.unwrap_or((
            self.near_end.unwrap_or(Pulse::MIN.us()),
            self.far_end.unwrap_or(Pulse::MAX.us()),
        ));
        (low.max(Pulse::MIN.us()), high.min(Pulse::MAX.us()))
    }

    /// The row of degrees while there is no fit.
    fn directions(&self, sheet: &mut Sheet) {
        let mut words = String::new();
        if let Some(way) = &self.way {
            words = format!("{} ◄─ this joint ─► {}      ", way.smaller, way.larger);
        }
        if !self.no_degrees.is_empty() {
            words += &format!("degrees: {}", self.no_degrees);
        }
        sheet.text(DEGREES, sheet.zero, &words, Role::Plain);
    }
}

/// Degrees under the scale, through the fit: uneven where it is curved.
fn degrees_row(sheet: &mut Sheet, fit: &Fit) {
    let finest = if sheet.cells >= 104 { 15 } else { 30 };
    let steps = [finest, 30, 45, 60, 90, 180].into_iter();
    let labels = steps
        .filter(|step| *step >= finest)
        .map(|step| degree_labels(sheet, fit, step))
        .find(|labels| {
            labels.windows(2).all(|pair| {
                let end = pair[0].0 + pair[0].1.chars().count() as i32;
                pair[1].0 > end
            })
        })
        .unwrap_or_default();
    for (x, label) in &labels {
        sheet.text(DEGREES, *x, label, Role::Plain);
    }
    if fit.nominal {
        // The word belongs to every number of the row; it stands in the wider free end.
        let word = "nominal";
        let end = sheet.zero + sheet.cells + 2 - word.len() as i32;
        let last = labels
            .last()
            .map_or(0, |(x, label)| x + label.chars().count() as i32);
        let first = labels.first().map_or(sheet.width, |(x, _)| *x);
        if last + 2 > end && first >= word.len() as i32 + 2 {
            sheet.text(DEGREES, 0, word, Role::Plain);
        } else {
            let from = end - 2;
            sheet.text(
                DEGREES,
                from.max(0),
                &" ".repeat(word.len() + 4),
                Role::Plain,
            );
            for (x, label) in labels
                .iter()
                .filter(|(x, label)| *x < from && x + label.chars().count() as i32 > from)
            {
                sheet.text(DEGREES, *x, &" ".repeat(label.chars().count()), Role::Plain);
            }
            sheet.text(DEGREES, end, word, Role::Plain);
        }
    }
}

/// The labels of every so many degrees, from left to right, each with its first column.
fn degree_labels(sheet: &Sheet, fit: &Fit, step: i32) -> Vec<(i32, String)> {
    let mut labels: Vec<(i32, String)> = (-720 / step..=720 / step)
        .map(|n| f64::from(n * step))
        .filter(|deg| {
            // A bent fit turns back far outside its data: only the branch that holds 0° counts.
            let us = fit.us_at(*deg);
            sheet.holds(us) && fit.deg_at(us).is_some_and(|back| (back - deg).abs() < 1.0)
        })
        .map(|deg| (sheet.at(fit.us_at(deg)) - 1, text::whole_degrees(deg)))
        .collect();
    labels.sort_by_key(|(x, _)| *x);
    labels
}

#[cfg(test)]
#[path = "scale_tests.rs"]
mod tests;
