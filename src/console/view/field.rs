//! The value field: `[ +47    ] °`.

use super::pen::{Pen, columns};
use crate::console::theme::Role;

/// A field being typed in. No field takes a space: Space stops.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ValueField {
    /// What is asked: `angle`, `pulse`, `name`.
    pub label: String,
    /// What was typed so far.
    pub text: String,
    /// `µs`, `°`, or nothing.
    pub unit: String,
    /// Cells between the brackets; 7 for a number.
    pub width: u16,
    /// What is wrong with it, said beside it.
    pub error: Option<String>,
}

impl ValueField {
    /// Draws label, brackets and unit from this place on; the typed text is lit.
    pub fn draw(&self, pen: &mut Pen<'_>, x: i32, y: i32) -> i32 {
        let mut x = pen.text(x, y, &self.label, Role::Plain);
        if !self.label.is_empty() {
            x += 2;
        }
        x = pen.text(x, y, "[ ", Role::Plain);
        let width = i32::from(self.width.max(1));
        // The end is what is being typed: of a long text the beginning is hidden.
        let mut shown = self.text.as_str();
        while columns(shown) > width {
            shown = shown
                .char_indices()
                .nth(1)
                .map_or("", |(at, _)| &shown[at..]);
        }
        pen.text(x, y, shown, Role::Strong);
        pen.mark(x, y, width, Role::Chosen);
        x = pen.text(x + width, y, " ]", Role::Plain);
        if !self.unit.is_empty() {
            x = pen.text(x + 1, y, &self.unit, Role::Plain);
        }
        if let Some(error) = &self.error {
            let end = pen.width();
            let error = format!("! {error}");
            let fits = x + 2 + columns(&error) <= end;
            // What has no room beside the field stands in the second line.
            let shown = if fits { &error } else { "! see below" };
            x = pen.text_until(x + 2, y, end, shown, Role::Wrong);
        }
        x
    }
}
