//! What machines, builder and board say to each other: plain values.

use crate::calibration::logbook::{Side, Way, What};
use crate::calibration::model::{JointRef, Robot};
use crate::estimate::horns::Seat as HornSeat;
use crate::units::{Pin, Pulse};

/// A request to a board, as a value: `procedure` knows no board.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// First pulse of a limp pin: it jumps there at full speed.
    Wake {
        /// The pin.
        pin: Pin,
        /// Its first pulse.
        pulse: Pulse,
    },
    /// Moves awake pins so that they arrive together.
    Go {
        /// When, or later if a slew needs it.
        ms: u32,
        /// Pins and where to.
        moves: Vec<(Pin, Pulse)>,
    },
    /// Out at most 20 µs, a short stay, back; timed by the board.
    Peck {
        /// The pin.
        pin: Pin,
        /// The outer pulse.
        pulse: Pulse,
        /// The stay, at most 250 ms.
        hold_ms: u32,
    },
    /// No more pulses on these pins; none named means all.
    Limp {
        /// Which.
        pins: Vec<Pin>,
    },
    /// The pulses that the board accepts for a pin.
    Guard {
        /// The pin.
        pin: Pin,
        /// The shortest.
        low: Pulse,
        /// The longest.
        high: Pulse,
    },
    /// How long the board waits for its host before it freezes, and before all goes limp.
    Silence {
        /// The first, ms.
        freeze_ms: u32,
        /// The second, ms.
        limp_ms: u32,
    },
    /// A pin's top speed from its next move on.
    Slew {
        /// The pin.
        pin: Pin,
        /// µs of pulse a second.
        us_per_s: u32,
    },
    /// The millivolts of analog inputs `a0`-`a7`.
    Sense {
        /// Their numbers.
        inputs: Vec<u8>,
    },
    /// The board's own reflex: limp when an input is at least `mv` for `ms`; `mv` 0 removes it.
    Trip {
        /// The input's number, 0-7.
        input: u8,
        /// Threshold.
        mv: u32,
        /// How long.
        ms: u32,
        /// What goes limp; none named means all.
        pins: Vec<Pin>,
    },
}

/// What a machine wants done.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a handful at a time, and plain values are what drivers match on"
)]
pub enum Do {
    /// Send this to the board.
    Ask(Ask),
    /// Write this into the logbook; say "recorded" only when it is on the disk.
    Record(What),
    /// The last entry that this machine recorded and that still counts no longer counts.
    Undo,
    /// Ring once: a move has settled and an answer is awaited.
    Bell,
    /// Count these seconds down, hands away, before the rest of the batch.
    Count(u8),
    /// The machine is left or done.
    Left,
}

/// What a machine is told.
#[derive(Debug, Clone, PartialEq)]
pub enum Heard {
    /// The board did it, or began it if it is a motion.
    Done(Ask),
    /// The board refused: nothing changed.
    Refused {
        /// What was asked.
        ask: Ask,
        /// Why, as the screen says it.
        reason: String,
    },
    /// The last motion has ended; a peck is back.
    Settled,
    /// Millivolts by input.
    Sense(Vec<(u8, u16)>),
    /// The entry with this number is safe on the disk.
    Recorded(u64),
    /// The entry could not be written; why, as the screen says it.
    NotRecorded(String),
    /// All pins are limp: Space, the board's silence, a reset, a lost link.
    WentLimp,
    /// The board's trip made the pins limp: the current rose.
    Tripped,
    /// The board is frozen; every ramp stopped where it was.
    Frozen,
    /// The board was thawed: it takes requests again, and nothing moved.
    Thawed,
    /// The countdown was ended by Esc: the rest of the batch was dropped.
    CalledOff,
}

/// What the builder answers.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Enter: go on, exactly what the step's next line says. It never means that a peck was free.
    Enter,
    /// `n` where a peck is asked about: it moved freely.
    Free,
    /// `E`: it touched, hummed or did not come all the way; an end is here.
    End,
    /// `a`: once more.
    Again,
    /// `n` elsewhere: none, no.
    None,
    /// `+`: and another one too.
    Also,
    /// A leg key and a joint key.
    Joint(JointRef),
    /// An arrow: which way it moved; where a joint is nudged, positive is the larger pulse.
    Way(Way),
    /// A typed value.
    Value(f64),
    /// Typed text: a sticker's number.
    Text(String),
    /// One of the step's options, counted from 0.
    Pick(usize),
    /// `,` or `.`: the step of a peck, halved or doubled.
    Finer,
    /// See [`Answer::Finer`].
    Coarser,
    /// Backspace: the former step; what it recorded no longer counts.
    Undo,
    /// Esc: leave. Everything recorded stays, and the work can be taken up again.
    Leave,
}

/// What answer a step waits for, beside `Undo` and `Leave`, which it always takes.
#[derive(Debug, Clone, PartialEq)]
pub enum Wants {
    /// None: something moves or is awaited.
    Wait,
    /// Enter alone.
    Enter,
    /// A number, then Enter: [`Answer::Value`].
    Value {
        /// Its unit, for the label.
        unit: &'static str,
        /// What stands in the field at first.
        start: Option<f64>,
        /// The smallest that is taken.
        low: f64,
        /// The largest that is taken.
        high: f64,
    },
    /// A few characters without blanks, then Enter: [`Answer::Text`].
    Text {
        /// What stands in the field at first.
        start: String,
    },
    /// One of these, walked with the arrows, then Enter: [`Answer::Pick`].
    Pick {
        /// The options' words.
        options: Vec<String>,
        /// Which one is lit at first.
        start: usize,
    },
    /// Enter for yes, `n` for no: [`Answer::Enter`], [`Answer::None`].
    YesNo,
    /// The arrows move the joint by a small step ([`Answer::Way`], positive is the larger pulse), Enter when it is there.
    Nudge,
    /// `n` free, `E` an end, `a` again; Enter does nothing.
    FreeOrEnd {
        /// Enter says "far enough here" (rough bounds only); it stops there, it never walks on.
        enough: bool,
    },
    /// Leg key, joint key, arrow, `+`, `n`, `a`; Enter when it is so.
    JointAndWay,
    /// The work is done; Enter leaves.
    Over,
}

/// One step, as a page shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What work, on what: `Ends ── LF femur, pin 23, far end`.
    pub title: String,
    /// The big words: at most five, at most 24 letters, the verb first.
    pub big: &'static str,
    /// The next line, without its `►`: one sentence, the verb first, the key named.
    pub next: String,
    /// The second sentence: what will move, which way, and that Space stops.
    pub second: String,
    /// Something is wrong: the next line starts with `!`.
    pub wrong: bool,
    /// What answer it waits for.
    pub wants: Wants,
    /// What the picture shows.
    pub picture: Picture,
    /// Numbers at the right of the picture.
    pub lines: Vec<String>,
}

impl Step {
    /// The last step: what is done, and Enter leaves.
    pub(super) fn over(title: &str, big: &'static str, done: &str) -> Step {
        Step {
            title: title.to_string(),
            big,
            next: format!("Enter leaves: {done}."),
            second: "Nothing will move; all of it is in the logbook. Space stops.".to_string(),
            wrong: false,
            wants: Wants::Over,
            picture: Picture::default(),
            lines: Vec::new(),
        }
    }
}

/// What the picture shows of a step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picture {
    /// The joint that is lit.
    pub joint: Option<JointRef>,
    /// The pin that is driven.
    pub pin: Option<Pin>,
    /// The commanded pulse, if the pin is awake.
    pub pulse: Option<Pulse>,
    /// Where the next move goes.
    pub ghost: Option<Pulse>,
    /// The ground that was confirmed: inside it a joint may rest.
    pub confirmed: Option<(Pulse, Pulse)>,
    /// The guard that stands on the board, as far as this machine set it.
    pub guard: Option<(Pulse, Pulse)>,
    /// What only this kind of work has to show.
    pub detail: Detail,
}

/// What only one kind of work has to show.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Detail {
    /// Nothing more.
    #[default]
    None,
    /// The plugs found so far.
    Plugs {
        /// Which candidate this is, from 1.
        at: usize,
        /// Of how many.
        of: usize,
        /// What the builder has said of this pin so far.
        chosen: Option<JointRef>,
        /// Which way.
        way: Option<Way>,
        /// What else moved with it.
        also: Vec<JointRef>,
        /// All candidates, the present one first.
        rows: Vec<PlugRow>,
    },
    /// The marks of one joint, and the one that is awaited.
    Marks(Vec<MarkRow>),
    /// The present peck.
    Peck(PeckNews),
    /// How the servo plug sits: signal, plus, ground.
    PlugSides,
    /// The horn alone: its leg is unscrewed, or is to be.
    LegOff {
        /// The hands have yet to do it.
        to_do: bool,
    },
    /// The horn from the side: the angle it came out at, and the angle it should have.
    Horn {
        /// Measured, degrees.
        came_out_deg: Option<f64>,
        /// Middle of the needed travel, degrees.
        wanted_deg: f64,
        /// The seats that are offered, in the order of the options; the chosen one while it is turned.
        seats: Vec<HornSeat>,
    },
}

/// One candidate pin.
#[derive(Debug, Clone, PartialEq)]
pub struct PlugRow {
    /// The pin.
    pub pin: Pin,
    /// What was found.
    pub found: Reaction,
    /// What the plan says.
    pub planned: Option<JointRef>,
}

/// What moved when a pin was nudged.
#[derive(Debug, Clone, PartialEq)]
pub enum Reaction {
    /// Not asked yet.
    Unknown,
    /// Nothing moved.
    Nothing,
    /// This joint, that way when the pulse grew.
    Moved {
        /// Which.
        joint: JointRef,
        /// Which way.
        way: Way,
        /// What else moved with it.
        also: Vec<JointRef>,
    },
}

/// One line of the table of marks.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkRow {
    /// The commanded pulse.
    pub pulse: Pulse,
    /// From which side it is reached.
    pub from: Option<Side>,
    /// What was read, degrees; `None`: awaited.
    pub angle_deg: Option<f64>,
    /// Reading minus line, degrees, once there is a line.
    pub off_deg: Option<f64>,
}

/// What the box of a peck says.
#[derive(Debug, Clone, PartialEq)]
pub struct PeckNews {
    /// Which peck this is, from 1.
    pub number: usize,
    /// About how many there may be, if that can be told.
    pub about: Option<usize>,
    /// Where it starts and comes back to.
    pub from: Pulse,
    /// The last pulse that was free: the fine step is counted from here.
    pub edge: Pulse,
    /// The farthest pulse.
    pub to: Pulse,
    /// Whether it is back already.
    pub back: bool,
    /// The last ones that were free, oldest first.
    pub free: Vec<Pulse>,
    /// Where the next one goes if this was free.
    pub then: Option<Pulse>,
    /// Where the ends that were found lie, µs, this side.
    pub found: Vec<f64>,
    /// The end is expected here, or the current rose: ask in bigger words.
    pub close: bool,
    /// The board's own trip stands on a current sensor.
    pub trip: bool,
}

/// What a procedure is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// All legs, one after the other.
    Robot,
    /// One leg: its place among the robot's legs.
    Leg(usize),
    /// One joint.
    Joint(JointRef),
}

impl Scope {
    /// Its joints, leg by leg, from body to foot; what the robot does not have is left out.
    pub fn joints(self, robot: &Robot) -> Vec<JointRef> {
        robot
            .joints()
            .map(|(at, _)| at)
            .filter(|at| match self {
                Scope::Robot => true,
                Scope::Leg(leg) => at.leg == leg,
                Scope::Joint(joint) => *at == joint,
            })
            .collect()
    }
}

/// `1 servo`, `18 servos`.
pub fn counted(n: usize, one: &str) -> String {
    match n {
        1 => format!("1 {one}"),
        n => format!("{n} {one}s"),
    }
}

/// `1 joint has`, `3 joints have`.
pub(super) fn joints_have(n: usize) -> String {
    let verb = if n == 1 { "has" } else { "have" };
    format!("{} {verb}", counted(n, "joint"))
}

/// Breaks a sentence into lines that fit beside a picture.
pub(super) fn wrapped(text: &str) -> Vec<String> {
    const WIDTH: usize = 38;
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= WIDTH => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}
