//! What stays on every page: head line, title rule, next and second line, foot line.
//!
//! Dialogs and overlays never cover it, so stop and state are always in sight.

/// The head line.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// The robot's name, or `───` while none is chosen.
    pub robot: String,
    /// The link.
    pub link: Link,
    /// Where the robot is, which decides what Space does.
    pub place: Place,
    /// The state of the whole.
    pub state: Whole,
    /// The board's own reading of its supply.
    pub supply: Supply,
    /// The file, shown from 120 columns on: `saved 10:41`, `unsaved`, `no file`.
    pub file: String,
}

/// The link field of the head line.
#[derive(Debug, Clone, PartialEq)]
pub enum Link {
    /// `no link yet`
    None,
    /// `practice, seed 7`
    Practice {
        /// The seed.
        seed: u64,
    },
    /// `ttyUSB0 250000`
    Port {
        /// The port's name without its folder, already escaped.
        name: String,
        /// Bits per second.
        baud: u32,
    },
    /// `LINK LOST 3 s`, reversed.
    Lost {
        /// Whole seconds since the last word from the board.
        seconds: u64,
    },
    /// `looking again`
    Looking,
}

/// The place field: never shortened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Before it was said: Space limps.
    Unsaid,
    /// On the stand: Space limps.
    Stand,
    /// On the ground: Space freezes.
    Ground,
    /// On the ground after a first Space: a second one lets go.
    GroundAgain,
}

/// The state field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whole {
    /// Nothing gets pulses.
    Limp,
    /// So many are waiting for their first pulse.
    Waking(usize),
    /// So many get pulses.
    Awake(usize),
    /// Frozen, reversed.
    Frozen,
    /// The board reset, reversed until answered.
    Reset,
}

/// The supply field: the board's own reading, good for change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Supply {
    /// `no value`
    None,
    /// `5.02 V`; from 120 columns on a real board `board 5.02`.
    Volts {
        /// Volts.
        volts: f64,
        /// Whether a real board measured it (the practice robot otherwise).
        real: bool,
    },
    /// `LOW 4.31`, reversed.
    Low {
        /// Volts.
        volts: f64,
    },
}

/// The title rule: `── Jog ── LF femur, pin 23, servo 07 ── simulated: no hum ─`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Title {
    /// The page's name: `Jog`, or `hornset 0.1` on the first screen.
    pub page: String,
    /// Joint, pin, servo, what is special: `LF femur, pin 23, servo 07`. May be empty.
    pub subject: String,
    /// One phrase of what a person would see, practice robot only; drawn below 120 columns, where the box has no room.
    pub simulated: Option<String>,
}

/// The next line and the second line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Notice {
    /// Something went wrong: the line starts with `!` instead of `►`.
    pub alarm: bool,
    /// One sentence, the verb first, the key named.
    pub next: String,
    /// What will move, which way, how to stop; for an alarm the remedy.
    pub second: String,
    /// The second line where there are 120 columns, when it says more there.
    pub second_long: Option<String>,
    /// How many other events wait behind this one: ` (+1)`.
    pub more: usize,
}

/// One entry of the foot line, from the command table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FootEntry {
    /// The keys: `←→`, `Enter`, `, .`.
    pub keys: String,
    /// What they do, in short: `pulse`.
    pub text: String,
    /// What they do where there are 120 columns, when it says more there.
    pub long: Option<String>,
    /// Never cut; `? help` is one.
    pub keep: bool,
}
