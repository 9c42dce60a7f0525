//! Foot jog: one leg from the side and from above, the foot's path and what stops it.

use super::{field::ValueField, leg::LegView, robot::RobotPicture, scale::Scale};

/// The foot jog page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FootJog {
    /// The robot from above, drawn from 120 columns on.
    pub robot: RobotPicture,
    /// The leg from the side, with the path in it.
    pub side: LegView,
    /// The leg from above, with the path in it.
    pub top: TopView,
    /// Whether the arrows act in the top view (in the side view otherwise).
    pub top_has_arrows: bool,
    /// The numbers, label and value: `out`, `149.5 mm`; `fore`, `up`; then `step`, `time`, `speed`.
    pub point: [(String, String); 3],
    /// See `point`.
    pub motion: [(String, String); 3],
    /// `± 1.2 mm unloaded`; empty when unknown.
    pub spread: String,
    /// The other knee: `knee up, chosen   (knee down: tibia` / `+71°, 109° past its limit −38°)`; at most two lines.
    pub knee: Vec<String>,
    /// Margins of coxa, femur, tibia to their limits.
    pub margins: Vec<Margin>,
    /// The scale of the joint that reaches a limit first, drawn from 36 rows on.
    pub scale: Scale,
    /// `LF tibia, the first to reach a limit on this path`.
    pub scale_title: String,
    /// The field in which a point is being typed.
    pub field: Option<ValueField>,
}

/// The leg from above, in the leg frame: outward to the right, forward up.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TopView {
    /// Coxa axis, femur axis, knee, foot: outward and forward of the coxa axis, mm.
    pub points_mm: [[f64; 2]; 4],
    /// The coxa's limits as directions, degrees from outward toward the front.
    pub limits_deg: Option<(f64, f64)>,
    /// The foot's way: outward and forward, mm, and what ends it.
    pub path: Option<super::leg::FootPath>,
    /// The neighbour ahead: `LM swings here`; empty for none.
    pub ahead: String,
    /// The neighbour behind: `RF: clear`; empty for none.
    pub behind: String,
}

/// How far one joint is from its limits.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Margin {
    /// `coxa`.
    pub joint: String,
    /// `41°`.
    pub text: String,
    /// The smallest of the three: `►`.
    pub least: bool,
}
