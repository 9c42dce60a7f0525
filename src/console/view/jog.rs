//! Jog: one joint, its leg from the side, its numbers, its scale.

use super::{field::ValueField, leg::LegView, robot::RobotPicture, scale::Scale, sight::SightBox};

/// The jog page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Jog {
    /// The robot from above, drawn from 120 columns on.
    pub robot: RobotPicture,
    /// The leg from the side.
    pub leg: LegView,
    /// The numbers beside it.
    pub numbers: JogNumbers,
    /// The joint's scale.
    pub scale: Scale,
    /// The field in which a value is being typed.
    pub field: Option<ValueField>,
    /// What a person would see: practice robot only, from 120 columns on.
    pub sight: Option<SightBox>,
}

/// The numbers of the joint being jogged, each ready as text; an empty text draws nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JogNumbers {
    /// `LF femur`.
    pub joint: String,
    /// `pin 23   servo 07`.
    pub plug: String,
    /// The big number: `1612.5`, or the angle `+11.8` when Tab chose degrees.
    pub big: String,
    /// Its unit: `µs, commanded` or `degrees, commanded`.
    pub big_unit: String,
    /// Beside the unit, the other of the two: label and text, `angle`, `+11.8 ± 0.9°`.
    pub other: (String, String),
    /// `1487.5 ± 4 µs`, or `not known yet`.
    pub zero: String,
    /// `10.62 ± 0.15 µs/°`, with `nominal` when it is.
    pub scale: String,
    /// Which way positive is: `+ lifts`.
    pub sense: String,
    /// `0.6 ± 0.2°`.
    pub play: String,
    /// `came from below`.
    pub came: String,
    /// `41 s`, or `limp`.
    pub awake: String,
    /// `slew 1000 µs/s`.
    pub slew: String,
    /// `8 µs  (0.75°)`.
    pub step: String,
}
