//! The first screen: where do we work today? No port has been opened yet.

use super::robot::RobotPicture;

/// The first screen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct First {
    /// `Two serial ports.`, `No serial port is there.`
    pub heading: String,
    /// What can be chosen.
    pub choices: Vec<Choice>,
    /// Which line is chosen.
    pub chosen: usize,
    /// The file's name and what it holds: `calibrations/marram.toml`, `9 of 18 joints marked`.
    pub file: Option<(String, String)>,
    /// The robot of the chosen line, drawn from 120 columns on.
    pub robot: Option<RobotPicture>,
}

/// One line to choose; names from outside are already escaped.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Choice {
    /// `ttyUSB0  board 3F2A90C1`, `practice robot`, `look again`.
    pub name: String,
    /// `Marram, last worked on 18 November`; may be empty.
    pub detail: String,
    /// At the right: `how to load it`; may be empty.
    pub note: String,
}
