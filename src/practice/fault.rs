//! What can be wrong with a practice robot, each by its name.
//!
//! Names only: what each does to the robot stands where the robot is built.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// One thing that is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fault {
    /// Gears and horns have play.
    Play,
    /// The links give under their own weight.
    Droop,
    /// The servos' response is not straight.
    Curve,
    /// Gauges are placed and read with errors.
    Reading,
    /// Two plugs sit on each other's pins.
    PlugsSwapped,
    /// One servo turns the other way.
    ServoReversed,
    /// One horn sits a tooth off.
    HornTooth,
    /// One servo has too little travel.
    ShortTravel,
    /// One of the spares is dead.
    DeadSpare,
    /// The printed sheet is smaller than it says, tilted, and not where it was meant.
    Sheet,
    /// One middle leg swings so far that it meets its neighbour before its linkage ends.
    WideSwing,
    /// One servo that is built in is dead.
    DeadServo,
    /// One servo jitters and rattles at rest, and one of the spares too.
    NoisyServo,
    /// One servo gets hot without a load, and one of the spares too.
    HotServo,
    /// The cable of one tibia comes taut before its linkage ends.
    TightCable,
    /// The supply gives too little current, over thin leads.
    WeakSupply,
    /// The board is fed over USB: no fault, but a dip of the servos' supply resets nothing and nobody is told of it.
    BoardOnUsb,
}

impl Fault {
    /// Every fault, those of a real bench first.
    pub const ALL: [Fault; 17] = [
        Fault::Play,
        Fault::Droop,
        Fault::Curve,
        Fault::Reading,
        Fault::PlugsSwapped,
        Fault::ServoReversed,
        Fault::HornTooth,
        Fault::ShortTravel,
        Fault::DeadSpare,
        Fault::Sheet,
        Fault::WideSwing,
        Fault::DeadServo,
        Fault::NoisyServo,
        Fault::HotServo,
        Fault::TightCable,
        Fault::WeakSupply,
        Fault::BoardOnUsb,
    ];

    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Fault::Play => "play",
            Fault::Droop => "droop",
            Fault::Curve => "curve",
            Fault::Reading => "reading",
            Fault::PlugsSwapped => "plugs-swapped",
            Fault::ServoReversed => "servo-reversed",
            Fault::HornTooth => "horn-tooth",
            Fault::ShortTravel => "short-travel",
            Fault::DeadSpare => "dead-spare",
            Fault::Sheet => "sheet",
            Fault::WideSwing => "wide-swing",
            Fault::DeadServo => "dead-servo",
            Fault::NoisyServo => "noisy-servo",
            Fault::HotServo => "hot-servo",
            Fault::TightCable => "tight-cable",
            Fault::WeakSupply => "weak-supply",
            Fault::BoardOnUsb => "board-on-usb",
        }
    }

    /// What it is, in a few words.
    pub fn meaning(self) -> &'static str {
        match self {
            Fault::Play => "gears and horns have play",
            Fault::Droop => "links give under their own weight",
            Fault::Curve => "the servos' response is bent",
            Fault::Reading => "gauges are placed and read with errors",
            Fault::PlugsSwapped => "two plugs sit on each other's pins",
            Fault::ServoReversed => "one servo turns the other way",
            Fault::HornTooth => "one horn sits a tooth off",
            Fault::ShortTravel => "one servo has too little travel",
            Fault::DeadSpare => "one of the spares is dead",
            Fault::Sheet => "the printed sheet is smaller than it says and not where it was meant",
            Fault::WideSwing => "one middle leg can swing into its neighbour",
            Fault::DeadServo => "one servo that is built in is dead",
            Fault::NoisyServo => "one servo and one spare rattle at rest",
            Fault::HotServo => "one servo and one spare get hot without a load",
            Fault::TightCable => "one tibia's cable comes taut before the linkage ends",
            Fault::WeakSupply => "the supply gives 3 A over thin leads",
            Fault::BoardOnUsb => "the board is fed over USB: when the servos' supply dips it stays",
        }
    }

    fn bit(self) -> u32 {
        1 << (self as u32)
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// A name that no fault has.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("\"{}\" is no fault of the practice robot: the faults are {}", .0.escape_default(), all_names())]
pub struct NoSuchFault(String);

fn all_names() -> String {
    Fault::ALL.map(Fault::name).join(", ")
}

impl FromStr for Fault {
    type Err = NoSuchFault;

    fn from_str(text: &str) -> Result<Fault, NoSuchFault> {
        Fault::ALL
            .into_iter()
            .find(|fault| fault.name() == text)
            .ok_or_else(|| NoSuchFault(text.to_owned()))
    }
}

/// Which faults a robot has.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Faults(u32);

impl Faults {
    /// None at all: a clean robot.
    pub const NONE: Faults = Faults(0);

    /// What a real bench has: all up to [`Fault::WideSwing`].
    pub fn of_a_bench() -> Faults {
        Fault::ALL
            .into_iter()
            .filter(|fault| *fault <= Fault::WideSwing)
            .collect()
    }

    /// Whether this one is among them.
    pub fn has(self, fault: Fault) -> bool {
        self.0 & fault.bit() != 0
    }

    /// These and one more.
    pub fn with(self, fault: Fault) -> Faults {
        Faults(self.0 | fault.bit())
    }

    /// Those there are, in the order of [`Fault::ALL`].
    pub fn each(self) -> impl Iterator<Item = Fault> {
        Fault::ALL.into_iter().filter(move |fault| self.has(*fault))
    }
}

impl FromIterator<Fault> for Faults {
    fn from_iter<I: IntoIterator<Item = Fault>>(faults: I) -> Faults {
        faults.into_iter().fold(Faults::NONE, Faults::with)
    }
}

impl fmt::Debug for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_set().entries(self.each()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_read_back_and_each_fault_is_a_bit_of_its_own() {
        for fault in Fault::ALL {
            assert_eq!(fault.name().parse(), Ok(fault));
            assert_eq!(Faults::NONE.with(fault).each().collect::<Vec<_>>(), [fault]);
        }
        let error = "dead".parse::<Fault>().expect_err("no fault");
        assert!(error.to_string().contains("dead-servo"), "{error}");
    }

    #[test]
    fn a_bench_has_what_usually_goes_wrong_and_nothing_that_cannot_be_worked_with() {
        let bench = Faults::of_a_bench();
        assert!(bench.has(Fault::PlugsSwapped) && bench.has(Fault::DeadSpare));
        assert!(bench.has(Fault::Sheet));
        assert!(!bench.has(Fault::DeadServo) && !bench.has(Fault::WeakSupply));
    }
}
