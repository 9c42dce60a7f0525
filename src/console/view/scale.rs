//! The travel scale: one joint's pulses from 500 to 2500 µs, what is commanded above, what bounds it below.
//!
//! Eight rows, always in the same order. A line with signs on it: never filled, never dragged.

use crate::units::Pulse;

/// What stands on one travel scale. All numbers are µs unless their name says otherwise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scale {
    /// The pulse the board says it sends; `None` while limp and never woken.
    pub commanded: Option<Pulse>,
    /// The pulse a held arrow or a field is heading for, when it differs: a ghost `○`.
    pub target: Option<Pulse>,
    /// The guard the board enforces now.
    pub guard: Option<(f64, f64)>,
    /// The working limits.
    pub limits: Option<(f64, f64)>,
    /// Where the mechanism ends at the smaller pulse.
    pub near_end: Option<f64>,
    /// Where the mechanism ends at the larger pulse.
    pub far_end: Option<f64>,
    /// The pulse at 0°, and its ±.
    pub zero: Option<Zero>,
    /// The marks' pulses.
    pub marks: Vec<f64>,
    /// The travel the robot needs of this joint, degrees.
    pub needed_deg: Option<(f64, f64)>,
    /// Pulse to degrees and back, once there is one.
    pub fit: Option<Fit>,
    /// Which way the joint goes with smaller and larger pulses, once the plug is known.
    pub way: Option<Way>,
    /// The row of degrees while there is no fit: `not known yet, first the plug, then two marks`.
    pub no_degrees: String,
}

/// The pulse at 0°; it may lie outside 500-2500.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero {
    /// µs.
    pub us: f64,
    /// Its ±, µs, once estimated.
    pub spread: Option<f64>,
}

/// `pulse = zero + scale·deg + curve·deg²`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// The pulse at 0°, µs.
    pub zero_us: f64,
    /// µs per degree, negative for a joint that turns the other way.
    pub us_per_deg: f64,
    /// µs per degree squared; 0 for a straight fit.
    pub curve: f64,
    /// The scale is the servo type's word, not this servo's: the screen says `nominal`.
    pub nominal: bool,
}

/// Words for the two directions: `down ◄─ this joint ─► up`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// Where smaller pulses move it.
    pub smaller: String,
    /// Where larger pulses move it.
    pub larger: String,
}
