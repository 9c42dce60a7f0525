//! What `update` asks the world to do, and what the world tells it: the only ways in and out of the state.
//!
//! Plain values; the runner at the edge carries them out and brings the answers back.

use std::path::PathBuf;
use std::time::Duration;

use crate::board::ports::PortInfo;
use crate::board::{self, Request, Sight, Stop};
use crate::calibration::logbook::What;
use crate::units::{Pin, Pulse};

use super::bench::Place;
use super::keys::Key;

/// The time, as an argument.
#[derive(Debug, Clone, PartialEq)]
pub struct Now {
    /// Since the console was started.
    pub at: Duration,
    /// The wall clock as RFC 3339, for what is recorded.
    pub stamp: String,
    /// The wall clock as a person reads it: `10:41`.
    pub clock: String,
}

/// One of the console's own requests to the board, to know its answer again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct AskId(pub u64);

/// A name to save under.
#[derive(Debug, Clone, PartialEq)]
pub struct SaveAs {
    /// Where to.
    pub path: PathBuf,
    /// An existing file there may be replaced: the builder was asked.
    pub overwrite: bool,
}

/// What `update` asks the world to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Stop, before anything else that is queued.
    Stop(Stop),
    /// Ask the board.
    Ask(AskId, Request),
    /// Send a pin there; only the newest set-point counts.
    Jog(Pin, Pulse),
    /// Open the link to a place.
    Open(Place),
    /// Close the link.
    Close,
    /// Look for serial ports.
    LookForPorts,
    /// Write into the logbook; it is on the disk before the answer comes, if there is a file.
    Record {
        /// The entries.
        whats: Vec<What>,
        /// When it was decided, RFC 3339.
        stamp: String,
    },
    /// Save to where the work came from.
    Save,
    /// Save under another name.
    SaveAs(SaveAs),
    /// On the practice robot: what a builder does with his hands.
    ByHand(ByHand),
    /// Ring the bell so many times.
    Bell(u8),
    /// Suspend the process, once the stop is on its way.
    Suspend,
    /// Leave, once the stop is on its way.
    Quit,
}

/// What hands do to the practice robot; at a bench the builder's own do it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ByHand {
    /// A gauge on a joint.
    PlaceGauge {
        /// Leg.
        leg: String,
        /// Joint's word.
        joint: &'static str,
        /// Which.
        tool: board::Tool,
    },
    /// What is plugged on two pins, exchanged.
    SwapPlugs(Pin, Pin),
    /// A horn off and on again.
    TurnHorn {
        /// Leg.
        leg: String,
        /// Joint's word.
        joint: &'static str,
        /// By so many teeth.
        teeth: i32,
        /// On this arm, counted from the present one.
        arm: u32,
    },
    /// The leg off the horn of a joint.
    UnscrewLeg {
        /// Leg.
        leg: String,
        /// Joint's word.
        joint: &'static str,
    },
    /// The leg on the horn again.
    ScrewLegOn {
        /// Leg.
        leg: String,
        /// Joint's word.
        joint: &'static str,
    },
    /// Another servo into a joint.
    ExchangeServo {
        /// Leg.
        leg: String,
        /// Joint's word.
        joint: &'static str,
        /// The number on its sticker.
        servo: String,
    },
    /// A servo alone on the test pin.
    PutOnTestPin {
        /// The number on its sticker.
        servo: String,
        /// The pin.
        pin: Pin,
    },
    /// The test pin free again.
    ClearTestPin,
    /// A look at the horn on a joint.
    LookAtHorn {
        /// Leg.
        leg: String,
        /// Joint's word.
        joint: &'static str,
    },
    /// A look at the servos that are built in nowhere.
    LookAtSpares,
}

/// What came of saving.
#[derive(Debug, Clone, PartialEq)]
pub enum FileSaid {
    /// It is on the disk.
    Saved(PathBuf),
    /// There is a file of that name, and nobody asked whether to replace it.
    Exists(PathBuf),
    /// The file was changed by somebody else since it was loaded; it was left alone.
    ChangedOnDisk(PathBuf),
    /// A console holds it.
    Held(PathBuf),
    /// It is the shipped example itself, which stays as it is.
    Example,
    /// It did not work: what was found, what to do.
    Failed(String),
}

/// What the world tells `update`.
#[derive(Debug)]
pub enum Input {
    /// A key.
    Key(Key),
    /// The terminal's size: columns, rows.
    Size(u16, u16),
    /// Something happened on the link.
    Board(board::Event),
    /// The answer, or the fate, of one of the console's own requests.
    Asked(AskId, Fate),
    /// The serial ports there are now; or why they could not be listed.
    Ports(Result<Vec<PortInfo>, String>),
    /// The logbook has what it was to record; or why not: what was found, what to do.
    Recorded(Result<(), String>),
    /// What came of something done by hand: what was seen, if anything; or what was found, what to do.
    ByHand(Result<Option<String>, String>),
    /// What came of saving.
    File(FileSaid),
    /// What a person would see now.
    Sight(Sight),
    /// Time passed.
    Tick,
}

/// What became of a request.
#[derive(Debug)]
pub enum Fate {
    /// The board answered.
    Answered(Result<board::Done, board::Refusal>),
    /// It never answered.
    NoAnswer,
    /// It was never sent.
    Dropped,
}
