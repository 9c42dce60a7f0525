//! The value field: `[ +47    ] °`.

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
