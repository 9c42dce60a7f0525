//! The robot from above, to scale, turned to how the builder sits.
//!
//! Positions come in as millimetres, computed elsewhere; here they are only projected and drawn.

/// The robot from above.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RobotPicture {
    /// The legs, in the file's order.
    pub legs: Vec<LegPicture>,
    /// Quarters the picture is turned, counter-clockwise: 0 front up, 1 front left, 2 front down, 3 front right.
    pub turn: u8,
    /// The chosen leg, and its chosen joint (0 coxa, 1 femur, 2 tibia).
    pub chosen: Option<(usize, Option<usize>)>,
    /// Feet that carry the body, x and y in the body frame, mm; empty on the stand.
    pub support_mm: Vec<[f64; 2]>,
    /// The centre of mass, x and y in the body frame, mm.
    pub centre_mm: Option<[f64; 2]>,
    /// The stability margin in words: `margin 31 mm`.
    pub margin: Option<String>,
}

/// One leg from above.
#[derive(Debug, Clone, PartialEq)]
pub struct LegPicture {
    /// `LF`.
    pub name: String,
    /// The key that chooses it at the place where it is drawn now.
    pub key: Option<char>,
    /// Coxa axis, femur axis, knee, foot; body frame (x forward, y left, z up), mm, at the commanded angles.
    pub points_mm: [[f64; 3]; 4],
    /// The joints' states: coxa, femur, tibia.
    pub joints: [JointGlyph; 3],
    /// Whether each joint is calibrated: its link is drawn solid, dotted otherwise.
    pub measured: [bool; 3],
}

/// A joint's state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum JointGlyph {
    /// No plug known for it: `·`.
    #[default]
    NoPlug,
    /// `○`
    Limp,
    /// `◊`
    Waking,
    /// `●`
    Awake,
    /// `■`
    Frozen,
    /// Did not move when asked: `×`.
    Dead,
}
