//! Home: the robot from above, what is known of it, and, where there is room, the chosen joint's scale.

use super::{matrix::Matrix, robot::RobotPicture, scale::Scale, sight::SightBox};

/// The home page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Home {
    /// The robot from above.
    pub robot: RobotPicture,
    /// What is known.
    pub matrix: Matrix,
    /// Under the matrix: `9 of 18 joints marked, 6 have both ends`, `! plugs 38 and 39 are exchanged`, …; at most three.
    pub notes: Vec<String>,
    /// What a person would see: practice robot only.
    pub sight: Option<SightBox>,
    /// The logbook's last lines, newest last, in the sight's place on a real board; at most five.
    pub log: Vec<String>,
    /// The chosen joint in numbers, from 120 columns on.
    pub joint: Option<JointCard>,
    /// The chosen joint's scale, from 36 rows on.
    pub scale: Option<Scale>,
    /// The scale's title: `LF tibia`.
    pub scale_title: String,
}

/// The chosen joint in a few numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JointCard {
    /// `LF tibia   pin 24   servo 08`.
    pub title: String,
    /// Label and value: `pulse`, `1516 µs commanded`; at most five.
    pub rows: Vec<(String, String)>,
}
