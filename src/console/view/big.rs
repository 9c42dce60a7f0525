//! Letters three rows high, for a reader 1.5 m away, and the page made of them.

/// The body as big words and numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BigPage {
    /// From top to bottom, at most three.
    pub blocks: Vec<BigBlock>,
}

/// One big text with plain words beside it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BigBlock {
    /// `HANDS AWAY`, `3`, `1968`.
    pub text: String,
    /// At most two lines: `µs will be commanded   LF femur   +45°`, `farther up by 45°`.
    pub beside: Vec<String>,
}
