//! Guided work as pure step machines, the same for the console, for scripts and for tests.
//!
//! A machine says what its present [`Step`] is, takes what the builder [`Answer`]s and what the board let be [`Heard`],
//! and says what to [`Do`]. It does no I/O and reads no clock: whoever drives it performs the `Do`s in order,
//! feeds back what was heard, and passes the time in.
//! It never sends a joint to rest outward of ground that was confirmed: outward there is [`Ask::Peck`] alone.

mod bounds;
#[cfg(test)]
mod chain;
mod check;
mod ends;
mod hand;
mod horns;
mod machine;
mod marks;
mod next;
mod plugs;
mod replace;
#[cfg(test)]
mod rig;
mod seat;
mod servo;
mod supply;
mod wakeplan;
mod words;

pub use bounds::Bounds;
pub use check::Check;
pub use ends::Ends;
pub use horns::Horns;
pub use machine::Machine;
pub use marks::Marks;
pub use next::{Work, lacks, next, plugs_left};
pub use plugs::Plugs;
pub use replace::Replace;
pub use seat::{Bench, Sensor, direction};
pub use servo::Servo;
pub use supply::Supply;
pub use wakeplan::{FEW, Waking, sum_when_awake};
pub use words::{
    Answer, Ask, Detail, Do, Heard, MarkRow, PeckNews, Picture, PlugRow, Reaction, Scope, Step,
    Wants, counted,
};

/// Guided work on a robot, a leg or a joint.
///
/// How a driver performs what a machine wants:
/// - `Do`s are performed in order. After [`Do::Count`] the rest of the batch waits for the countdown to end;
///   a countdown that was ended by Esc is [`Heard::CalledOff`]; the rest of the batch is dropped, as it is when Space stops.
/// - Each [`Do::Ask`] is answered by [`Heard::Done`] or [`Heard::Refused`]; after the `Done` of a wake, a move or a peck
///   follows [`Heard::Settled`] when the motion has ended (a peck: when it is back).
/// - Each [`Do::Record`] is answered by [`Heard::Recorded`] when the entry is safe on the disk, or by [`Heard::NotRecorded`].
/// - Space is the driver's own and never waits for a machine; the machine is told by [`Heard::WentLimp`] or [`Heard::Frozen`].
pub trait Procedure: std::fmt::Debug + Send {
    /// What stands on the screen now.
    fn step(&self) -> Step;
    /// The builder answered.
    fn answer(&mut self, answer: &Answer, now_ms: u64) -> Vec<Do>;
    /// The board, the logbook or the countdown let something be heard.
    fn heard(&mut self, heard: &Heard, now_ms: u64) -> Vec<Do>;
    /// Time went by; call it a few times a second.
    fn poll(&mut self, now_ms: u64) -> Vec<Do>;
    /// First steps after it was made: what wakes before the first question. Call it once.
    fn begin(&mut self, now_ms: u64) -> Vec<Do> {
        self.poll(now_ms)
    }
    /// The work is done, or was left: nothing more will be asked.
    fn is_over(&self) -> bool;
}
