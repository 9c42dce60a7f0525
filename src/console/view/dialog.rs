//! A question, drawn inside the body only, so that stop and state stay in sight.

use super::field::ValueField;
use super::pen::{Pen, columns};
use crate::console::theme::Role;

/// One question.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Dialog {
    /// What it is about: `Quit`, `Save as`.
    pub title: String,
    /// Sentences, wrapped to the box.
    pub lines: Vec<String>,
    /// A field to type in.
    pub field: Option<ValueField>,
    /// Answers to choose from: keys and what they do, `Enter`, `sit down, limp, quit`.
    pub answers: Vec<(String, String)>,
    /// Something is wrong: the title starts with `!`.
    pub alarm: bool,
}

/// So few columns beside a box show nothing of use.
const SCRAPS: i32 = 12;

impl Dialog {
    /// Draws the box in the middle of the pen, which is the body.
    pub fn draw(&self, pen: &mut Pen<'_>) {
        let width = (pen.width() - 12).clamp(0, 76);
        let lines: Vec<String> = self
            .lines
            .iter()
            .flat_map(|line| wrapped(line, width - 6))
            .collect();
        let keys = self
            .answers
            .iter()
            .map(|(keys, _)| columns(keys))
            .max()
            .unwrap_or(0);
        let field_rows = if self.field.is_some() { 2 } else { 0 };
        let answers = self.answers.len() as i32;
        let gap = i32::from(answers > 0);
        let height = (lines.len() as i32 + field_rows + gap + answers + 4).min(pen.height());
        let (x, y) = ((pen.width() - width) / 2, (pen.height() - height) / 2);
        // One blank beside the box: a letter cut in half by it reads as part of it.
        // Where so little is left beside it, all of that would be scraps of words and lines.
        let beside = if x <= SCRAPS { x } else { 1 };
        pen.window(x - beside, y, width + 2 * beside, height)
            .clear();
        let mut pen = pen.window(x, y, width, height);
        let (title, role) = if self.alarm {
            (format!("! {}", self.title), Role::Wrong)
        } else {
            (self.title.clone(), Role::Strong)
        };
        pen.boxed(&title, role);
        let end = width - 2;
        let bottom = height - 1;
        let mut pen = pen.window(0, 0, width - 1, bottom);
        let mut y = 2;
        for line in &lines {
            pen.text_until(3, y, end, line, Role::Plain);
            y += 1;
        }
        if let Some(field) = &self.field {
            y += i32::from(!lines.is_empty());
            field.draw(&mut pen, 3, y);
            y += 1;
        }
        y += gap;
        for (keys_text, text) in &self.answers {
            pen.text(3, y, keys_text, Role::Strong);
            pen.text_until(3 + keys + 2, y, end, text, Role::Plain);
            y += 1;
        }
    }
}

/// The text in lines of at most this many columns, broken at blanks; blanks before it go before every line.
pub fn wrapped(text: &str, width: i32) -> Vec<String> {
    let words = text.trim_start_matches(' ');
    let indent = &text[..text.len() - words.len()];
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if columns(line) + 1 + columns(word) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("{indent}{word}")),
        }
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_at_blanks_and_keep_their_indent() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("  on the ground", 11), ["  on the", "  ground"]);
        assert_eq!(wrapped("", 7), [""]);
        assert_eq!(wrapped("longer-than-that", 7), ["longer-than-that"]);
    }
}
