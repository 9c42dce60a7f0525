//! The marks of one joint, fitted: angle at mid-travel, µs/degree, play, and a bend if there is one.
//!
//! A mark says: after a take-up move from this side, this pulse put the joint at this angle.
//! The model is linear in its unknowns, so one weighted least-squares solve by QR gives all of it:
//!
//! `angle = middle + u·(1 + stretch) + bend·(u/60)² − half play·side·way + offset of the placing`
//!
//! where `u` is the distance from the mid-travel pulse in expected degrees, `side` is +1 from
//! below and −1 from above, and `way` is the sign of µs/degree: play lets a joint lag behind.
//! All marks of one placing of a gauge share one offset. What is stated beforehand (the priors) enters as
//! rows of its own, and what the marks say without it is reported beside.
//!
//! The ± is that of an unloaded joint on the mid-line of its play. Nothing here drops a mark.

mod another;
mod fit;
mod solve;
mod untold;

use thiserror::Error;

use crate::calibration::logbook::{MarkKind, Side};
use crate::estimate::line::student_t;

pub use another::{Another, Fall};
pub use fit::{Fit, fit};
pub use untold::Untold;

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// The commanded pulse, µs.
    pub pulse_us: f64,
    /// The side of the take-up move; `None` when the last motion is not known.
    pub from: Option<Side>,
    /// The angle that was read, degrees.
    pub angle_deg: f64,
    /// Marks with the same number were read without moving the gauge; `None` stands alone.
    pub placing: Option<u64>,
    /// What the reading is good for.
    pub kind: MarkKind,
}

/// What is expected of the joint, and how good the readings are said to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// The pulse at the middle of the joint's travel, µs.
    pub mid_pulse_us: f64,
    /// The angle that is planned there, degrees.
    pub mid_deg: f64,
    /// Expected µs/degree with its sign; the marks may say the other sign.
    pub us_per_deg: f64,
    /// What is stated beforehand.
    pub priors: Priors,
    /// How good readings of each kind are.
    pub readings: Readings,
}

/// A stated expectation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// The expected value.
    pub value: f64,
    /// Its standard deviation; infinite for "nothing is stated".
    pub sd: f64,
}

/// What is stated beforehand of any joint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Priors {
    /// The angle error at mid-travel, degrees.
    pub middle_deg: Stated,
    /// Degrees/µs against the expected, relative: 0.06 for 6 %.
    pub stretch: Stated,
    /// By how many degrees the response leaves the straight line at ±60°.
    pub bend_deg: Stated,
    /// Half the play, degrees.
    pub half_play_deg: Stated,
}

impl Priors {
    /// Nothing is stated beforehand.
    pub const NONE: Priors = {
        let nothing = Stated {
            value: 0.0,
            sd: f64::INFINITY,
        };
        Priors {
            middle_deg: nothing,
            stretch: nothing,
            bend_deg: nothing,
            half_play_deg: nothing,
        }
    };
}

impl Priors {
    /// All four, in the order of [`Unknown::ALL`].
    pub fn all(&self) -> [Stated; 4] {
        [
            self.middle_deg,
            self.stretch,
            self.bend_deg,
            self.half_play_deg,
        ]
    }

    fn get_mut(&mut self, what: Unknown) -> &mut Stated {
        match what {
            Unknown::Middle => &mut self.middle_deg,
            Unknown::Scale => &mut self.stretch,
            Unknown::Bend => &mut self.bend_deg,
            Unknown::Play => &mut self.half_play_deg,
        }
    }
}

impl Default for Priors {
    /// Middle 0 ± 10°, scale ± 6 %, bend 0 ± 1°, half the play 0.5 ± 0.25° (our own simulations of hobby servos).
    fn default() -> Priors {
        let stated = |value, sd| Stated { value, sd };
        Priors {
            middle_deg: stated(0.0, 10.0),
            stretch: stated(0.0, 0.06),
            bend_deg: stated(0.0, 1.0),
            // A zero-mean prior would bias readings from one side only.
            half_play_deg: stated(0.5, 0.25),
        }
    }
}

/// How good one kind of reading is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Standard deviation of a single reading, degrees.
    pub noise_deg: f64,
    /// Standard deviation of what all readings of one placing have in common, degrees; infinite when they share an unknown offset and tell no zero.
    pub placing_deg: f64,
}

/// How good readings are, by kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Readings {
    /// An edge brought onto two screw heads.
    pub null: Reading,
    /// Read from a gauge and typed.
    pub absolute: Reading,
    /// An inclinometer left in place.
    pub difference: Reading,
    /// How many readings the stated noise is worth against what the residuals show.
    pub worth: f64,
}

impl Readings {
    /// The reading of that kind.
    pub fn of(&self, kind: MarkKind) -> Reading {
        match kind {
            MarkKind::Null => self.null,
            MarkKind::Absolute => self.absolute,
            MarkKind::Difference => self.difference,
        }
    }
}

impl Default for Readings {
    /// A 1° gauge placed to 1°; screw heads to 0.4° each way; an inclinometer that repeats to 0.3°.
    fn default() -> Readings {
        let reading = |noise_deg, placing_deg| Reading {
            noise_deg,
            placing_deg,
        };
        Readings {
            null: reading(0.4, 0.4),
            absolute: reading(1.0, 1.0),
            difference: reading(0.3, f64::INFINITY),
            worth: 10.0,
        }
    }
}

impl Settings {
    /// For a joint of which this is planned, with the usual priors and readings.
    pub fn new(mid_pulse_us: f64, mid_deg: f64, us_per_deg: f64) -> Settings {
        Settings {
            mid_pulse_us,
            mid_deg,
            us_per_deg,
            priors: Priors::default(),
            readings: Readings::default(),
        }
    }
}

/// Something estimated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The best value.
    pub value: f64,
    /// Its standard uncertainty.
    pub sd: f64,
    /// Effective degrees of freedom of that uncertainty (GUM G.4); infinite when all of it was stated.
    pub dof: f64,
}

impl Estimate {
    /// The ± of the screens: half the width of the 95 % interval.
    pub fn half_width(&self) -> f64 {
        student_t(0.95, self.dof) * self.sd
    }

    /// Whether its 95 % interval holds this value.
    pub fn covers(&self, value: f64) -> bool {
        (value - self.value).abs() <= self.half_width()
    }
}

/// One placing of a gauge, as the fit sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placing {
    /// Its number; `None` for a mark that stands alone.
    pub id: Option<u64>,
    /// What its readings have in common; `None` when nothing was allowed for.
    pub offset_deg: Option<Estimate>,
    /// How many marks it has.
    pub marks: usize,
}

/// What a mark left over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Read less fitted, its placing's offset taken out, degrees.
    pub deg: f64,
    /// Read less what all other marks say of it, in units of what was to be expected.
    pub t: f64,
    /// By how much it lies off what all other marks say, degrees.
    pub off_by_deg: f64,
    /// It does not fit the others.
    pub doubted: bool,
    /// What the angle at mid-travel would change by without it, degrees.
    pub moves_middle_deg: f64,
    /// What µs/degree would change by without it.
    pub moves_us_per_deg: f64,
}

/// One of the joint's unknowns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unknown {
    /// The angle at mid-travel.
    Middle,
    /// µs/degree.
    Scale,
    /// The bend of the response.
    Bend,
    /// The play.
    Play,
}

impl Unknown {
    /// All four, in the order of covariances.
    pub const ALL: [Unknown; 4] = [
        Unknown::Middle,
        Unknown::Scale,
        Unknown::Bend,
        Unknown::Play,
    ];

    /// Its place in [`Unknown::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }

    /// What a builder calls it.
    pub fn words(self) -> &'static str {
        match self {
            Unknown::Middle => "the angle at mid-travel",
            Unknown::Scale => "µs/degree",
            Unknown::Bend => "the bend",
            Unknown::Play => "the play",
        }
    }
}

/// How the fit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// The size of the noise settled after this many rounds.
    Settled {
        /// Solves until it did.
        rounds: u32,
    },
    /// The marks say nothing of the noise; it stands as stated.
    NoiseAsStated,
    /// The size of the noise had not settled when the rounds were spent.
    RoundsSpent,
}

/// A stated expectation that the marks refute; it was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Refuted {
    /// Of which unknown.
    pub what: Unknown,
    /// By how many standard deviations of both together.
    pub by: f64,
}

/// Why there is no fit.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum MarksError {
    /// There is no mark.
    #[error("no marks yet: record one at mid-travel first")]
    NoMarks,
    /// A number of a mark is no number.
    #[error(
        "mark {}: pulse {pulse_us} µs, angle {angle_deg}°: both must be finite numbers; undo it and read again",
        .index + 1
    )]
    NotANumber {
        /// Which, from 0.
        index: usize,
        /// Its pulse.
        pulse_us: f64,
        /// Its angle.
        angle_deg: f64,
    },
    /// A setting is out of its range.
    #[error("{name} is {value}, expected {expected}")]
    Setting {
        /// Which.
        name: &'static str,
        /// What it is.
        value: f64,
        /// What it may be.
        expected: &'static str,
    },
    /// Marks and priors together leave an unknown open.
    #[error("these marks do not tell {} from the rest, and nothing is stated of it beforehand: more marks, or a prior, are needed", .0.words())]
    Open(Unknown),
}
