//! The chosen leg from the side, to scale: numbers at the joints, limits, ends, the positive way, the foot's path.
//!
//! Positions and angles come in computed; here they are only projected and drawn.

use super::robot::JointGlyph;

/// One leg seen from its side, in its own plane.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LegView {
    /// Coxa axis, femur axis, knee, foot: outward from the coxa axis, and up; mm.
    pub points_mm: [[f64; 2]; 4],
    /// The joints' states: coxa, femur, tibia.
    pub joints: [JointGlyph; 3],
    /// Whether each joint is calibrated: its link is solid, dotted otherwise.
    pub measured: [bool; 3],
    /// What is written at the joints: `coxa −4.0°`, `femur +11.8°`, `knee −71.0°`; or `femur ?`.
    pub numbers: [String; 3],
    /// The joint being worked on.
    pub chosen: Option<usize>,
    /// Limits and ends of the chosen joint (or of all of them), drawn around their joint.
    pub bounds: Vec<Bound>,
    /// The chosen joint's positive way, once known.
    pub positive: Option<Positive>,
    /// The path a foot jog would take.
    pub path: Option<FootPath>,
    /// Written beside the foot where there is room: `foot, from commanded:`, `149.5 out   75.6 down   ± 1.2 mm`.
    pub foot: Vec<String>,
}

/// A limit or an end of a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// 0 coxa, 1 femur, 2 tibia.
    pub joint: usize,
    /// What it is.
    pub kind: BoundKind,
    /// The direction of the joint's link at this bound, degrees above the outward direction, in the picture's plane.
    pub direction_deg: f64,
    /// `+70°`; empty for none.
    pub text: String,
}

/// What bounds a joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoundKind {
    /// An arc, `)`.
    Limit,
    /// A bar, `║`.
    End,
    /// A limit with the end close behind it, `)║`.
    Both,
}

/// The positive way of the chosen joint: `▲ +` over `│up`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Positive {
    /// Femur and tibia: positive lifts.
    Up,
    /// Coxa: positive is counter-clockwise from above; toward the front or the rear by the side of the body.
    Fore,
    /// See [`Positive::Fore`].
    Rear,
}

/// Where the foot would go.
#[derive(Debug, Clone, PartialEq)]
pub struct FootPath {
    /// The end of the path: outward and up, mm.
    pub to_mm: [f64; 2],
    /// What ends it, written at its end: `tibia −38°`, `24 mm to limit`; `None` when the path is free.
    pub stop: Option<String>,
}
