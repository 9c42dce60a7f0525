//! A field being typed in: a number, or a file's name.
//!
//! No field takes a space: Space stops, in fields too.

use super::intent::Intent;
use super::view;

/// What may be typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Takes {
    /// `0`–`9`, `.`, `-`; a decimal comma is written as a point.
    Number,
    /// Letters, digits and `. - _ / ~`, as in a path.
    Path,
}

/// A field being typed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    text: String,
    takes: Takes,
    /// The offered text stands until the first key replaces it.
    offered: bool,
    /// What is wrong with the text, once Enter found out.
    pub error: Option<String>,
}

/// The longest text a field takes.
const LONGEST: usize = 200;

impl Field {
    /// A field that offers `text`; the first character typed replaces it.
    pub fn offering(takes: Takes, text: impl Into<String>) -> Field {
        Field {
            text: text.into(),
            takes,
            offered: true,
            error: None,
        }
    }

    /// A field with a text to be gone on with.
    pub fn with(takes: Takes, text: impl Into<String>) -> Field {
        Field {
            offered: false,
            ..Field::offering(takes, text)
        }
    }

    /// What stands in it.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Whether what was offered still stands.
    pub fn is_offered(&self) -> bool {
        self.offered
    }

    /// Whether it takes this character at all.
    pub fn takes(&self, c: char) -> bool {
        match self.takes {
            Takes::Number => c.is_ascii_digit() || ".,-".contains(c),
            Takes::Path => c.is_alphanumeric() || "._-/~\\:".contains(c),
        }
    }

    /// Types a character, if the field takes it.
    pub fn put(&mut self, c: char) {
        if !self.takes(c) {
            return;
        }
        if self.offered {
            self.text.clear();
        }
        self.offered = false;
        self.error = None;
        if self.text.len() < LONGEST {
            let comma = c == ',' && self.takes == Takes::Number;
            self.text.push(if comma { '.' } else { c });
        }
    }

    /// Rubs out the last character; an offered number goes as a whole.
    pub fn rub_out(&mut self) {
        if self.offered && self.takes == Takes::Number {
            self.text.clear();
        } else {
            self.text.pop();
        }
        self.offered = false;
        self.error = None;
    }

    /// Types or rubs out, if the intent is one of these.
    pub fn edit(&mut self, intent: Intent) {
        match intent {
            Intent::Put(c) => self.put(c),
            Intent::RubOut => self.rub_out(),
            _ => {}
        }
    }

    /// As it is drawn.
    pub fn shown(&self, label: &str, unit: &str, width: u16) -> view::ValueField {
        view::ValueField {
            label: label.into(),
            text: self.text.clone(),
            unit: unit.into(),
            width,
            error: self.error.clone(),
        }
    }

    /// The number in it, or what is wrong with it.
    pub fn number(&self) -> Result<f64, String> {
        let text = self.text.as_str();
        let digits = text.strip_prefix('-').unwrap_or(text);
        let plain = digits.chars().any(|c| c.is_ascii_digit())
            && digits.chars().all(|c| c.is_ascii_digit() || c == '.');
        match text.parse::<f64>() {
            Ok(value) if plain && value.abs() < 1e6 => Ok(value + 0.0),
            _ if text.is_empty() => Err("type a number".into()),
            _ => Err("not a number, as 1612.5 or -45".into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str) -> Field {
        let mut field = Field::offering(Takes::Number, "0");
        text.chars().for_each(|c| field.put(c));
        field
    }

    #[test]
    fn the_first_character_replaces_what_was_offered() {
        assert_eq!(Field::offering(Takes::Number, "0").number(), Ok(0.0));
        assert_eq!(typed("-45.5").number(), Ok(-45.5));
        assert_eq!(typed("2,5").number(), Ok(2.5), "a decimal comma");
    }

    #[test]
    fn nothing_but_a_plain_number_is_one() {
        for wrong in ["-", ".", "1-2", "1.2.3", "--1", "99999999"] {
            assert!(typed(wrong).number().is_err(), "{wrong}");
        }
        assert_eq!(
            typed("1e3 5").text(),
            "135",
            "letters and blanks are not taken"
        );
    }

    #[test]
    fn a_path_is_gone_on_with_and_takes_no_space() {
        let mut field = Field::with(Takes::Path, "calibrations/");
        "my robot?.toml".chars().for_each(|c| field.put(c));
        assert_eq!(field.text(), "calibrations/myrobot.toml");
    }
}
