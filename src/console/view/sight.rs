//! What you would see: a box with `(simulated)` in its title. It never stands on a real board.

/// What a person at the bench would see and hear of the practice robot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SightBox {
    /// At most five lines: `LF stands, five legs hang`, `no hum`, `supply display  5.02 V   0.4 A`.
    pub lines: Vec<String>,
}
