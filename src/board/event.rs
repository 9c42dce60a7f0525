//! What the worker tells its caller, each with what to do about it.
//!
//! Events are plain data; no caller has to answer one.

use super::answer::{By, Done, Hello, Refusal, ResetCause, Sense, Where};
use super::sight::SightHandle;
use super::transport::TransportError;
use super::worker::Stop;
use crate::units::{Pin, Pulse};

/// Which [`super::Link::ask`] an event belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ticket(pub u64);

/// Why a request was never done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dropped {
    /// A stop cleared the queue.
    Stopped,
    /// The board was reset meanwhile: what was asked of the board before makes no sense now.
    Reset,
    /// The link is lost.
    Lost,
    /// The board speaks another protocol: only reads and stops are sent.
    OtherProto,
    /// The line would be longer than the protocol allows.
    TooLong,
    /// The link was closed.
    Closed,
}

/// Why the link is lost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LostWhy {
    /// The port failed: nearly always the plug. What the system said, fit to be shown.
    Unplugged(String),
    /// The port is there, but the board does not answer.
    Quiet,
}

/// What went wrong that is no answer and no event of the board.
#[derive(Debug)]
pub enum Trouble {
    /// The link could not be opened.
    Open(TransportError),
    /// Nobody answered `hello`; the link is closed.
    NoBoard {
        /// The rates that were tried.
        rates: Vec<u32>,
    },
    /// The board speaks another protocol: only reads and stops are sent to it.
    OtherProto {
        /// Its protocol.
        proto: u32,
        /// Its firmware, fit to be shown.
        fw: String,
    },
    /// A line from the board came damaged, or made no sense.
    Damaged {
        /// The line, fit to be shown.
        line: String,
        /// How many so far.
        count: u64,
    },
    /// A stop has had no answer yet; it is sent again and again.
    StopUnanswered(Stop),
    /// After a reset a guard could not be set again: the board's own 1400-1600 µs stand there.
    NotRestored {
        /// The words of the request.
        request: String,
        /// Why not, fit to be shown.
        why: String,
    },
}

/// One thing that happened on the link, in order.
#[derive(Debug)]
pub enum Event {
    /// The link is open; nobody has answered yet.
    Opened {
        /// What to call it.
        name: String,
        /// What a person would see; the practice robot alone has it.
        sight: Option<SightHandle>,
    },
    /// The board answered for the first time.
    Found {
        /// Who it is.
        hello: Hello,
        /// At which rate.
        rate: u32,
    },
    /// The board answered a request.
    Answer {
        /// Which.
        ticket: Ticket,
        /// What it said.
        result: Result<Done, Refusal>,
    },
    /// A request had no answer, however often it was sent: it may have been done or not.
    NoAnswer {
        /// Which.
        ticket: Ticket,
    },
    /// A request was not done.
    Dropped {
        /// Which.
        ticket: Ticket,
        /// Why.
        why: Dropped,
    },
    /// The jogged set-points that were sent, and what the board said.
    Jogged {
        /// Pins and where to.
        moves: Vec<(Pin, Pulse)>,
        /// What it said.
        result: Result<Done, Refusal>,
    },
    /// The board has done the stop.
    Stopped {
        /// Which.
        stop: Stop,
        /// The number to thaw it by, for a freeze.
        n: Option<u32>,
    },
    /// Pulses as of one frame; up to 12 pins a line.
    Where(Where),
    /// Counters and inputs.
    Sense(Sense),
    /// The board froze.
    Frozen {
        /// The number to thaw it by.
        n: u32,
        /// On whose account.
        by: By,
    },
    /// Every pin, or those of a trip, went limp by itself.
    WentLimp {
        /// On whose account.
        by: By,
    },
    /// A waking pin has its first pulse.
    Awake(Pin),
    /// The board was reset: every pin is limp, every guard is gone.
    Reset {
        /// Why, as far as the board knows.
        cause: ResetCause,
        /// Who it is now.
        hello: Hello,
    },
    /// After a reset: guards, slews, silence, roster and trips stand again. Nothing was woken.
    Restored {
        /// The pins whose guards were set again.
        guards: Vec<Pin>,
    },
    /// The link is lost.
    Lost {
        /// Why.
        why: LostWhy,
    },
    /// The link is there again. If the board was reset meanwhile, [`Event::Reset`] follows.
    Back {
        /// Who it is.
        hello: Hello,
        /// At which rate.
        rate: u32,
    },
    /// Something else went wrong.
    Trouble(Trouble),
    /// The worker has ended; nothing follows.
    Closed,
}
