//! The logbook: the append-only record of every observation and decision about one robot.
//!
//! An [`Entry`] is one line of it; the words of the entries are kept in files for years.
//! The words are plain data: nothing here fits anything, moves anything or reads a clock.

mod entry;
mod plan;
mod words;

pub use entry::{Entry, FORMAT, What};
pub use plan::{Plan, PlannedBody, PlannedJoint, PlannedLeg};
pub use words::{
    Copper, End, EndKind, JointName, MarkKind, Neighbour, Part, Side, Taken, Tool, Verdict, Way,
    Why, Wire,
};
