//! What stays on every page: head line, title rule, next and second line, foot line.
//!
//! Dialogs and overlays never cover it, so stop and state are always in sight.

use super::Screen;
use super::big;
use super::pen::{Pen, columns, fitted};
use crate::console::theme::Role;

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
    /// `practice, seed 7`; `practice, 20×` when its time runs fast
    Practice {
        /// The seed.
        seed: u64,
        /// How many times as fast as the clock its time runs.
        speed: u32,
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
    /// The phrase begins with a warning: the subject is cut before it is.
    pub urgent: bool,
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
    /// What they do, in short: `pulse`; empty for an entry that is only drawn where there are 120 columns.
    pub text: String,
    /// What they do where there are 120 columns, when it says more there.
    pub long: Option<String>,
    /// Never cut; `? help` is one.
    pub keep: bool,
}

/// So many columns the next line and the second line have at 80, after their sign.
pub const LINE: i32 = SMALLEST.0 as i32 - 3;

/// Before every phrase of what a person would see.
const SIMULATED: &str = "simulated: ";
/// Rules and blanks around the title's page, subject and phrase.
const AROUND: i32 = 13;

/// The smallest screen that is drawn.
pub const SMALLEST: (u16, u16) = (80, 24);
/// From this size on everything has room.
pub const LARGE: (u16, u16) = (120, 36);

/// Draws everything but the body, and says where the body is: first row and number of rows.
pub fn draw(screen: &Screen, pen: &mut Pen<'_>) -> (i32, i32) {
    let (width, height) = (pen.width(), pen.height());
    let wide = width >= i32::from(LARGE.0);
    let tall = height >= i32::from(LARGE.1);
    screen.head.draw(pen, wide);
    screen
        .title
        .draw(pen, 1, wide && tall && screen.page.shows_sight());
    let rule = if tall { height - 7 } else { height - 4 };
    pen.rule(rule);
    if tall {
        big::letters(
            &mut pen.window(0, rule + 1, width, 3),
            3,
            0,
            &screen.big_words,
        );
    }
    screen.notice.draw(pen, height - 3, wide);
    foot_line(&screen.foot, pen, height - 1, wide);
    (2, rule - 2)
}

/// The one line of a terminal that is too small; of the keys only q and what stops still work.
pub fn too_small(pen: &mut Pen<'_>) {
    let (width, height) = (pen.width(), pen.height());
    let (least_width, least_height) = SMALLEST;
    let text = match width {
        ..10 => return,
        10..40 => format!("{width}x{height} <{least_width}x{least_height}"),
        40.. => {
            format!("{width}x{height}, needs {least_width}x{least_height}. Space stops. q quits.")
        }
    };
    pen.text(0, 0, &text, Role::Strong);
}

impl Head {
    fn draw(&self, pen: &mut Pen<'_>, wide: bool) {
        let widths = if wide {
            [16, 24, 28, 12, 10]
        } else {
            [8, 16, 26, 8, 8]
        };
        let (state, state_alarm) = self.state.text();
        let (supply, supply_alarm) = self.supply.text(wide);
        let (link, link_alarm) = self.link.text();
        let fields = [
            (self.robot.clone(), false),
            (link, link_alarm),
            (self.place.text().to_owned(), false),
            (state, state_alarm),
            (supply, supply_alarm),
        ];
        let mut x = 1;
        for ((text, alarm), width) in fields.into_iter().zip(widths) {
            if x > 1 {
                pen.text(x - 3, 0, " │ ", Role::Strong);
            }
            let text = fitted(&text, width);
            pen.text(x, 0, &text, Role::Strong);
            if alarm {
                pen.mark(x, 0, columns(&text), Role::Chosen);
            }
            x += width as i32 + 3;
        }
        if wide {
            pen.text(x - 3, 0, " │ ", Role::Strong);
            let end = pen.width();
            pen.text_until(x, 0, end, &self.file, Role::Strong);
        }
    }
}

impl Link {
    /// The text, and whether it is an alarm.
    fn text(&self) -> (String, bool) {
        match self {
            Link::None => ("no link yet".to_owned(), false),
            // Every picture says that time runs fast: more needed then than the seed.
            Link::Practice { speed, .. } if *speed > 1 => (format!("practice, {speed}×"), false),
            Link::Practice { seed, .. } => (format!("practice, seed {seed}"), false),
            Link::Port { name, baud } => (format!("{name} {baud}"), false),
            Link::Lost { seconds } => (format!("LINK LOST {seconds} s"), true),
            Link::Looking => ("looking again".to_owned(), false),
        }
    }
}

impl Place {
    /// The exact words of the head line.
    pub fn text(self) -> &'static str {
        match self {
            Place::Unsaid => "not said yet  Space=limp",
            Place::Stand => "on the stand  Space=limp",
            Place::Ground => "on the ground Space=freeze",
            Place::GroundAgain => "on the ground Space=LIMP",
        }
    }
}

impl Whole {
    /// The text, and whether it is an alarm.
    fn text(self) -> (String, bool) {
        match self {
            Whole::Limp => ("limp".to_owned(), false),
            Whole::Waking(n) => (format!("{n} waking"), false),
            Whole::Awake(n) => (format!("{n} awake"), false),
            Whole::Frozen => ("FROZEN".to_owned(), true),
            Whole::Reset => ("RESET".to_owned(), true),
        }
    }
}

impl Supply {
    /// The text, and whether it is an alarm.
    fn text(self, wide: bool) -> (String, bool) {
        match self {
            Supply::None => ("no value".to_owned(), false),
            Supply::Volts { volts, real: true } if wide => (format!("board {volts:.2}"), false),
            Supply::Volts { volts, .. } => (format!("{volts:.2} V"), false),
            Supply::Low { volts } => (format!("LOW {volts:.2}"), true),
        }
    }
}

impl Title {
    /// So many columns the phrase has where the subject has gone for it.
    pub fn room(&self, width: i32) -> i32 {
        width - AROUND - columns(&self.page) - columns(SIMULATED)
    }

    fn draw(&self, pen: &mut Pen<'_>, y: i32, all_shown: bool) {
        pen.rule(y);
        let width = pen.width();
        let mut end = width - 2;
        let mut subject = self.subject.as_str();
        if let (Some(phrase), false) = (&self.simulated, all_shown) {
            let phrase = format!("{SIMULATED}{phrase}");
            let room = |subject: &str| width - AROUND - columns(&self.page) - columns(subject);
            // The subject may lose what comes after its first comma, or all of it where the phrase warns.
            while columns(&phrase) > room(subject) {
                match subject.rfind(", ") {
                    Some(comma) => subject = &subject[..comma],
                    None if self.urgent => {
                        subject = "";
                        break;
                    }
                    None => break,
                }
            }
            let phrase = fitted(&phrase, room(subject).max(0) as usize);
            if phrase.starts_with(SIMULATED) {
                let x = width - columns(&phrase) - 3;
                pen.text(x, y, &format!(" {phrase} "), Role::Simulated);
                end = x - 2;
            }
        }
        let x = pen.text_until(2, y, end, &format!(" {} ", self.page), Role::Plain);
        if !subject.is_empty() {
            pen.text_until(x + 2, y, end, &format!(" {subject} "), Role::Plain);
        }
    }
}

impl Notice {
    fn draw(&self, pen: &mut Pen<'_>, y: i32, wide: bool) {
        let (sign, role) = if self.alarm {
            ('!', Role::Wrong)
        } else {
            ('►', Role::Strong)
        };
        let end = pen.width();
        let mut end_of_next = end;
        if self.more > 0 {
            let more = format!(" (+{})", self.more);
            end_of_next -= columns(&more);
            let x = (3 + columns(&self.next)).min(end_of_next);
            pen.text(x, y, &more, Role::Strong);
        }
        pen.sign(1, y, sign, role);
        pen.text_until(3, y, end_of_next, &self.next, Role::Strong);
        let second = self
            .second_long
            .as_ref()
            .filter(|_| wide)
            .unwrap_or(&self.second);
        pen.text_until(3, y + 1, end, second, Role::Plain);
    }
}

/// The foot line: as many whole entries as fit, and always those that are kept.
fn foot_line(entries: &[FootEntry], pen: &mut Pen<'_>, y: i32, wide: bool) {
    let gap = if wide { 3 } else { 2 };
    let texts: Vec<(String, bool)> = entries
        .iter()
        .filter(|entry| wide || !entry.text.is_empty())
        .map(|entry| {
            let text = entry.long.as_ref().filter(|_| wide).unwrap_or(&entry.text);
            let joined = format!("{} {}", entry.keys, text);
            (joined.trim().to_owned(), entry.keep)
        })
        .collect();
    // One blank before the first entry; the last one needs no gap after it.
    let mut room = pen.width() - 1 + gap;
    for (text, _) in texts.iter().filter(|(_, keep)| *keep) {
        room -= columns(text) + gap;
    }
    let mut x = 1;
    let mut full = false;
    for (text, keep) in &texts {
        let needed = columns(text) + gap;
        full |= !keep && needed > room;
        if *keep || !full {
            pen.text(x, y, text, Role::Plain);
            x += needed;
            if !keep {
                room -= needed;
            }
        }
    }
}
