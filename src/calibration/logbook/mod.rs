//! The logbook: the append-only record of every observation and decision about one robot.
//!
//! An [`Entry`] is one line of it; the words of the entries are kept in files for years.
//! Nothing here fits anything, moves anything or reads a clock; only `book` touches the disk.

mod book;
mod entry;
pub mod line;
mod plan;
mod say;
mod sound;
mod words;

pub use book::{Contents, Copy, Logbook, LogbookError, Torn, path_beside, read_bytes};
pub use entry::{Entry, FORMAT, What};
pub use plan::{Plan, PlannedBody, PlannedJoint, PlannedLeg};
pub use words::{
    Copper, Dead, End, EndKind, JointName, MarkKind, Neighbour, Part, Side, SupplyQuestion, Taken,
    Tool, Verdict, Way, Why, Wire,
};
