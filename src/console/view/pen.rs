//! Where and how a part draws: a window on the buffer that clips, so that no size can make it panic.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::console::theme::{Look, Role};

/// A window on the buffer. Positions are cells from its own upper left corner and may lie outside.
pub struct Pen<'a> {
    buf: &'a mut Buffer,
    area: Rect,
    /// Colours and strokes.
    pub look: Look,
}

impl<'a> Pen<'a> {
    /// A pen for this part of the buffer.
    pub fn new(buf: &'a mut Buffer, area: Rect, look: Look) -> Pen<'a> {
        let area = area.intersection(buf.area);
        Pen { buf, area, look }
    }

    /// Columns.
    pub fn width(&self) -> i32 {
        i32::from(self.area.width)
    }

    /// Rows.
    pub fn height(&self) -> i32 {
        i32::from(self.area.height)
    }

    /// A pen for a part of this window; what sticks out is cut.
    pub fn window(&mut self, x: i32, y: i32, width: i32, height: i32) -> Pen<'_> {
        let left = x.clamp(0, self.width());
        let top = y.clamp(0, self.height());
        let right = (x.saturating_add(width)).clamp(left, self.width());
        let bottom = (y.saturating_add(height)).clamp(top, self.height());
        let area = Rect {
            x: self.area.x + left as u16,
            y: self.area.y + top as u16,
            width: (right - left) as u16,
            height: (bottom - top) as u16,
        };
        Pen {
            buf: &mut *self.buf,
            area,
            look: self.look,
        }
    }

    /// Writes one line of text and says in which column it ended.
    pub fn text(&mut self, x: i32, y: i32, text: &str, role: Role) -> i32 {
        let end = x.saturating_add(columns(text));
        if y < 0 || y >= self.height() || x >= self.width() || end <= 0 {
            return end;
        }
        let (text, x) = if x < 0 {
            (skip_columns(text, -x), 0)
        } else {
            (text, x)
        };
        self.buf.set_stringn(
            self.area.x + x as u16,
            self.area.y + y as u16,
            text,
            (self.width() - x) as usize,
            self.look.theme.style(role),
        );
        end
    }

    /// Writes text that must end before column `end`; what does not fit ends in `…`.
    pub fn text_until(&mut self, x: i32, y: i32, end: i32, text: &str, role: Role) -> i32 {
        self.text(x, y, &fitted(text, (end - x).max(0) as usize), role)
    }

    /// One sign in one cell.
    pub fn sign(&mut self, x: i32, y: i32, sign: char, role: Role) {
        let style = self.look.theme.style(role);
        if let Some(cell) = self.cell(x, y) {
            cell.set_char(sign).set_style(style);
        }
    }

    /// Adds a role's look to cells already written, such as reverse video for what is chosen.
    pub fn mark(&mut self, x: i32, y: i32, width: i32, role: Role) {
        let style = self.look.theme.style(role);
        for column in x..x.saturating_add(width) {
            if let Some(cell) = self.cell(column, y) {
                cell.set_style(style);
            }
        }
    }

    /// The first character of a cell, a blank outside.
    pub fn at(&mut self, x: i32, y: i32) -> char {
        self.cell(x, y)
            .and_then(|cell| cell.symbol().chars().next())
            .unwrap_or(' ')
    }

    /// Whether these cells lie inside and are blank.
    pub fn is_blank(&mut self, x: i32, y: i32, width: i32) -> bool {
        x >= 0
            && x.saturating_add(width) <= self.width()
            && (0..self.height()).contains(&y)
            && (x..x + width).all(|column| self.at(column, y) == ' ')
    }

    /// Makes every cell a blank of the default style.
    pub fn clear(&mut self) {
        ratatui::widgets::Widget::render(ratatui::widgets::Clear, self.area, self.buf);
    }

    /// A horizontal rule over the whole width.
    pub fn rule(&mut self, y: i32) {
        for x in 0..self.width() {
            self.sign(x, y, '─', Role::Plain);
        }
    }

    /// A frame around the whole window, its title in the upper edge; what was inside is cleared.
    pub fn boxed(&mut self, title: &str, role: Role) {
        self.clear();
        let (width, height) = (self.width(), self.height());
        if width < 2 || height < 2 {
            return;
        }
        let inner = "─".repeat((width - 2) as usize);
        self.text(0, 0, &format!("┌{inner}┐"), Role::Plain);
        for y in 1..height - 1 {
            self.sign(0, y, '│', Role::Plain);
            self.sign(width - 1, y, '│', Role::Plain);
        }
        self.text(0, height - 1, &format!("└{inner}┘"), Role::Plain);
        if !title.is_empty() && width > 8 {
            let title = format!(" {} ", fitted(title, (width - 5) as usize));
            self.text(2, 0, &title, role);
        }
    }

    /// Writes text at the first of these places where its cells and one beside them are blank, else as near to the first
    /// place as can be; nothing where there is no room at all.
    pub fn place(&mut self, places: &[(i32, i32)], text: &str, role: Role) -> Option<(i32, i32)> {
        let width = columns(text);
        if width == 0 {
            return None;
        }
        let found = places
            .iter()
            .copied()
            .find(|&(x, y)| self.is_free(x, y, width))
            .or_else(|| self.nearest_free(*places.first()?, width));
        if let Some((x, y)) = found {
            self.text(x, y, text, role);
        }
        found
    }

    fn nearest_free(&mut self, (x, y): (i32, i32), width: i32) -> Option<(i32, i32)> {
        let mut offsets: Vec<(i32, i32)> = (-4..=4)
            .flat_map(|dy| (-14..=14).map(move |dx| (dx, dy)))
            .collect();
        offsets.sort_by_key(|&(dx, dy)| (dx * dx + 6 * dy * dy, dy, dx));
        offsets
            .into_iter()
            .map(|(dx, dy)| (x + dx, y + dy))
            .find(|&(x, y)| self.is_free(x, y, width))
    }

    fn is_free(&mut self, x: i32, y: i32, width: i32) -> bool {
        self.is_blank(x, y, width)
            && self.at(x - 1, y) == ' '
            && self.at(x.saturating_add(width), y) == ' '
    }

    fn cell(&mut self, x: i32, y: i32) -> Option<&mut ratatui::buffer::Cell> {
        if x < 0 || y < 0 || x >= self.width() || y >= self.height() {
            return None;
        }
        self.buf
            .cell_mut((self.area.x + x as u16, self.area.y + y as u16))
    }
}

/// How many columns a text takes.
pub fn columns(text: &str) -> i32 {
    if text.is_ascii() {
        return i32::try_from(text.len()).unwrap_or(i32::MAX);
    }
    i32::try_from(Span::raw(text).width()).unwrap_or(i32::MAX)
}

/// The text, cut to this many columns; a cut one ends in `…`.
pub fn fitted(text: &str, width: usize) -> String {
    if columns(text) as usize <= width {
        return text.to_owned();
    }
    if width == 0 {
        return String::new();
    }
    let mut short = String::new();
    for sign in text.chars() {
        short.push(sign);
        if columns(&short) as usize > width - 1 {
            short.pop();
            break;
        }
    }
    short.push('…');
    short
}

fn skip_columns(text: &str, skip: i32) -> &str {
    let mut taken = String::new();
    for (at, sign) in text.char_indices() {
        if columns(&taken) >= skip {
            return &text[at..];
        }
        taken.push(sign);
    }
    ""
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_text_ends_in_an_ellipsis_and_fits() {
        assert_eq!(fitted("Marram", 8), "Marram");
        assert_eq!(fitted("ttyUSB0 250000 bits", 16), "ttyUSB0 250000 …");
        assert_eq!(fitted("abc", 1), "…");
        assert_eq!(fitted("abc", 0), "");
        assert_eq!(fitted("漢字漢字", 5), "漢字…");
    }

    #[test]
    fn what_lies_outside_is_cut_without_a_panic() {
        let mut buf = Buffer::empty(Rect::new(0, 0, 5, 1));
        let mut pen = Pen::new(&mut buf, Rect::new(0, 0, 9, 9), Look::default());
        pen.text(-2, 0, "abcdefghij", Role::Plain);
        pen.text(3, -1, "x", Role::Plain);
        pen.text(i32::MAX, 0, "x", Role::Plain);
        pen.window(-5, -5, 3, 3).boxed("no", Role::Plain);
        assert_eq!(buf, Buffer::with_lines(["cdefg"]));
    }
}
