//! The cells a travel scale is put together in: where a pulse lies, and where a label has room.

use crate::console::theme::Role;
use crate::units::Pulse;

/// Rows of a scale, always.
pub const ROWS: usize = 8;

/// The two rows for labels.
const LABELS: [usize; 2] = [4, 5];

/// One row: a sign and its role in each cell.
pub type Row = Vec<(char, Role)>;

/// The cells being filled.
pub struct Sheet {
    /// Columns of the whole drawing.
    pub width: i32,
    /// Cells from 500 to 2500 µs.
    pub cells: i32,
    /// Where 500 µs is.
    pub zero: i32,
    /// From the top.
    pub rows: [Row; ROWS],
}

impl Sheet {
    pub fn new(width: usize) -> Sheet {
        let width = i32::try_from(width).unwrap_or(i32::MAX).min(1000);
        let cells = 8 * ((width - 4).max(0) / 8);
        let blank = vec![(' ', Role::Plain); width.max(0) as usize];
        Sheet {
            width,
            cells,
            zero: (width - cells) / 2 - 1,
            rows: std::array::from_fn(|_| blank.clone()),
        }
    }

    /// Whether a pulse lies on the scale.
    pub fn holds(&self, us: f64) -> bool {
        (Pulse::MIN.us()..=Pulse::MAX.us()).contains(&us)
    }

    /// The cell of a pulse; may lie outside.
    pub fn at(&self, us: f64) -> i32 {
        let cells = ((us - 500.0) * f64::from(self.cells) / 2000.0).round();
        self.zero + cells.clamp(-10_000.0, 10_000.0) as i32
    }

    /// The nearest cell on the scale.
    pub fn clamped(&self, us: f64) -> i32 {
        self.at(us).clamp(self.zero, self.zero + self.cells)
    }

    pub fn sign(&mut self, row: usize, x: i32, sign: char, role: Role) {
        if let Some(cell) = usize::try_from(x)
            .ok()
            .and_then(|x| self.rows[row].get_mut(x))
        {
            *cell = (sign, role);
        }
    }

    pub fn text(&mut self, row: usize, x: i32, text: &str, role: Role) {
        for (i, sign) in text.chars().enumerate() {
            self.sign(row, x + i as i32, sign, role);
        }
    }

    fn is_free(&self, row: usize, from: i32, length: i32) -> bool {
        // Two blanks on both sides; the edge of the sheet counts as blank.
        from >= 0
            && from + length <= self.width
            && (from - 2..from + length + 2).all(|x| {
                usize::try_from(x)
                    .ok()
                    .and_then(|x| self.rows[row].get(x))
                    .is_none_or(|(sign, _)| *sign == ' ')
            })
    }

    /// A label under its caret: centred in the first row that has room, else moved up to six cells, else left out.
    pub fn label(&mut self, us: f64, words: &str, role: Role) {
        let outside = if us < Pulse::MIN.us() {
            Some((format!("◄ {words}"), true))
        } else if us > Pulse::MAX.us() {
            Some((format!("{words} ►"), false))
        } else {
            None
        };
        if let Some((words, left)) = outside {
            let length = words.chars().count() as i32;
            let start = if left {
                self.zero
            } else {
                self.zero + self.cells + 1 - length
            };
            if let Some(row) = LABELS
                .into_iter()
                .find(|row| self.is_free(*row, start, length))
            {
                self.text(row, start, &words, role);
            }
            return;
        }
        let length = words.chars().count() as i32;
        let caret = self.at(us);
        let centred = caret - length / 2;
        // 0, then one to the right, one to the left, two to the right, …
        let shifts = (0..=6).flat_map(|n| [n, -n]);
        for row in LABELS {
            for start in shifts.clone().map(|shift| centred + shift) {
                let over = (start..start + length).contains(&caret);
                if over && self.is_free(row, start, length) {
                    self.text(row, start, words, role);
                    return;
                }
            }
        }
    }
}
