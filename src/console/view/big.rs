//! Letters three rows high, for a reader 1.5 m away, and the page made of them.

use super::guided::Guided;
use super::pen::Pen;
use crate::console::theme::Role;

/// The body as big words and numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BigPage {
    /// From top to bottom, at most three.
    pub blocks: Vec<BigBlock>,
    /// What must be seen to answer, in plain letters under the blocks: a drawing, a list, a field, sums.
    pub below: Option<Box<Guided>>,
}

/// One big text with plain words beside it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BigBlock {
    /// `HANDS AWAY`, `3`, `1968`.
    pub text: String,
    /// At most two lines: `µs will be commanded   LF femur   +45°`, `farther up by 45°`.
    pub beside: Vec<String>,
}

/// Rows of a big letter.
pub const ROWS: i32 = 3;

/// Columns between two big letters, and what a blank adds to them.
const GAP: i32 = 1;
const BLANK: i32 = 2;

/// Writes big letters from this place on; they are bold. Says in which column they ended.
///
/// Without UTF-8 there are no half blocks: spaced bold capitals in the middle row stand in for them.
pub fn letters(pen: &mut Pen<'_>, x: i32, y: i32, text: &str) -> i32 {
    if pen.look.ascii {
        let spaced: Vec<String> = text.to_uppercase().chars().map(String::from).collect();
        return pen.text(x, y + 1, &spaced.join(" "), Role::Strong);
    }
    let mut at = x;
    for sign in text.to_uppercase().chars() {
        at += match glyph(sign) {
            Some(rows) => {
                for (dy, row) in (0..).zip(rows) {
                    pen.text(at, y + dy, row, Role::Strong);
                }
                rows[0].chars().count() as i32
            }
            None if sign == ' ' => BLANK,
            // A letter of another script, in a leg's name perhaps: plain is better than nothing.
            None => pen.text(at, y + 1, &sign.to_string(), Role::Strong) - at,
        };
        at += GAP;
    }
    at - GAP
}

/// How wide these big letters are.
pub fn width(text: &str) -> i32 {
    text.to_uppercase()
        .chars()
        .map(|sign| match glyph(sign) {
            Some(rows) => rows[0].chars().count() as i32 + GAP,
            None if sign == ' ' => BLANK + GAP,
            None => 1 + GAP,
        })
        .sum::<i32>()
        - GAP
}

/// Three by five dots in half blocks; M and W five wide, N four, I and the point one.
#[rustfmt::skip]
fn glyph(sign: char) -> Option<[&'static str; 3]> {
    Some(match sign {
        'A' => ["▄▀▄", "█▀█", "▀ ▀"],
        'B' => ["█▀▄", "█▀▄", "▀▀ "],
        'C' => ["█▀▀", "█  ", "▀▀▀"],
        'D' => ["█▀▄", "█ █", "▀▀ "],
        'E' => ["█▀▀", "█▀ ", "▀▀▀"],
        'F' => ["█▀▀", "█▀ ", "▀  "],
        'G' => ["█▀▀", "█ █", "▀▀▀"],
        'H' => ["█ █", "█▀█", "▀ ▀"],
        'I' => ["█", "█", "▀"],
        'J' => ["  █", "▄ █", "▀▀▀"],
        'K' => ["█ █", "█▀▄", "▀ ▀"],
        'L' => ["█  ", "█  ", "▀▀▀"],
        'M' => ["█▄ ▄█", "█ ▀ █", "▀   ▀"],
        'N' => ["█▄ █", "█ ▀█", "▀  ▀"],
        'O' | '0' => ["█▀█", "█ █", "▀▀▀"],
        'P' => ["█▀█", "█▀▀", "▀  "],
        'Q' => ["█▀█", "█▄█", "  ▀"],
        'R' => ["█▀▄", "█▀▄", "▀ ▀"],
        'S' | '5' => ["█▀▀", "▀▀█", "▀▀▀"],
        'T' => ["▀█▀", " █ ", " ▀ "],
        'U' => ["█ █", "█ █", "▀▀▀"],
        'V' => ["█ █", "█ █", " ▀ "],
        'W' => ["█   █", "█▄▀▄█", "▀   ▀"],
        'X' => ["█ █", "▄▀▄", "▀ ▀"],
        'Y' => ["█ █", " █ ", " ▀ "],
        'Z' => ["▀▀█", "▄▀ ", "▀▀▀"],
        '1' => ["▄█ ", " █ ", "▀▀▀"],
        '2' => ["▀▀█", "█▀▀", "▀▀▀"],
        '3' => ["▀▀█", " ▀█", "▀▀▀"],
        '4' => ["█ █", "▀▀█", "  ▀"],
        '6' => ["█▀▀", "█▀█", "▀▀▀"],
        '7' => ["▀▀█", "  █", "  ▀"],
        '8' => ["█▀█", "█▀█", "▀▀▀"],
        '9' => ["█▀█", "▀▀█", "▀▀▀"],
        '.' => [" ", " ", "▀"],
        ',' => [" ", "▄", "▀"],
        ':' => ["▄", "▄", " "],
        '!' => ["█", "▀", "▀"],
        '?' => ["▀▀█", " ▀▀", " ▀ "],
        '+' => [" ▄ ", "▀█▀", "   "],
        '−' | '-' => ["   ", "▀▀▀", "   "],
        '±' => ["▄█▄", " ▀ ", "▀▀▀"],
        '/' => ["  █", "▄▀ ", "▀  "],
        '°' => ["██", "  ", "  "],
        'Μ' | 'µ' => ["█ █", "█▄█", "▀  "],
        _ => return None,
    })
}

impl BigPage {
    /// Draws the blocks one under the other, the first beside the top.
    pub fn draw(&self, pen: &mut Pen<'_>) {
        let taller = pen.height() >= 24;
        let mut y = 1;
        for (i, block) in self.blocks.iter().enumerate() {
            let end = letters(pen, 4, y, &block.text);
            // Words stand beside the middle row and the one below, under each other.
            let beside = end.max(4) + if i == self.blocks.len() - 1 { 5 } else { 3 };
            for (dy, line) in (1..).zip(block.beside.iter().take(2)) {
                let width = pen.width();
                pen.text_until(beside, y + dy, width, line, Role::Plain);
            }
            // The number that counts down stands apart from the one that will be sent.
            y += ROWS + if i == 0 { 1 } else { 2 } + i32::from(taller);
        }
        if let Some(below) = &self.below {
            let (width, rows) = (pen.width(), pen.height() - y);
            below.draw(&mut pen.window(0, y, width, rows), false);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::console::theme::Look;
    use ratatui::buffer::Buffer;
    use ratatui::layout::Rect;

    fn drawn(text: &str, ascii: bool) -> Vec<String> {
        let area = Rect::new(0, 0, 120, 3);
        let mut buf = Buffer::empty(area);
        let look = Look {
            ascii,
            ..Look::default()
        };
        let end = letters(&mut Pen::new(&mut buf, area, look), 0, 0, text);
        if !ascii {
            assert_eq!(end, width(text));
        }
        (0..3)
            .map(|y| {
                let line: String = (0..120).map(|x| buf[(x, y)].symbol()).collect();
                line.trim_end().to_owned()
            })
            .collect()
    }

    #[test]
    fn big_words_are_the_screens_own() {
        assert_eq!(
            drawn("Find far end", false),
            [
                "█▀▀ █ █▄ █ █▀▄    █▀▀ ▄▀▄ █▀▄    █▀▀ █▄ █ █▀▄",
                "█▀  █ █ ▀█ █ █    █▀  █▀█ █▀▄    █▀  █ ▀█ █ █",
                "▀   ▀ ▀  ▀ ▀▀     ▀   ▀ ▀ ▀ ▀    ▀▀▀ ▀  ▀ ▀▀",
            ]
        );
        assert_eq!(
            drawn("1612.5", false),
            [
                "▄█  █▀▀ ▄█  ▀▀█   █▀▀",
                " █  █▀█  █  █▀▀   ▀▀█",
                "▀▀▀ ▀▀▀ ▀▀▀ ▀▀▀ ▀ ▀▀▀"
            ]
        );
    }

    #[test]
    fn every_letter_and_digit_has_three_rows_of_one_width() {
        for sign in ('A'..='Z').chain('0'..='9').chain(".,?:−±+!°/".chars()) {
            let rows = glyph(sign).unwrap_or_else(|| panic!("no big {sign}"));
            let widths = rows.map(|row| row.chars().count());
            assert!(widths.iter().all(|w| *w == widths[0] && *w > 0), "{sign}");
        }
    }

    #[test]
    fn without_utf_8_they_are_spaced_capitals() {
        assert_eq!(drawn("1612.5", true), ["", "1 6 1 2 . 5", ""]);
        assert_eq!(drawn("find end", true)[1], "F I N D   E N D");
    }
}
