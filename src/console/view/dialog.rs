//! A question, drawn inside the body only, so that stop and state stay in sight.

use super::field::ValueField;

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
