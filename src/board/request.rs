//! Requests to the board as values, and as the words of a line.
//!
//! A request knows its kind, how long its answer may take and how long the answer may be.
//! It checks nothing that the board checks: the board is the arbiter of its own rules.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use thiserror::Error;

use super::escape::shown;
use crate::units::{Pin, Pulse};

/// An analog input, `a0`-`a7`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Input(u8);

impl Input {
    /// The input with this number, 0-7.
    pub fn new(number: u8) -> Option<Input> {
        (number < 8).then_some(Input(number))
    }

    /// The number, 0-7.
    pub fn number(self) -> u8 {
        self.0
    }
}

impl fmt::Display for Input {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a{}", self.0)
    }
}

/// What a request does to the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Changes nothing; may be asked any time, again and again.
    Read,
    /// Stops motion; done every time it arrives.
    Stop,
    /// Changes the board's state: tagged, done once, one unanswered at a time.
    Change,
}

/// What a trip does when its input is high.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reflex {
    /// Freezes the board.
    Freeze,
    /// Makes these pins limp, or all if none is named.
    Limp(Vec<Pin>),
}

/// One request, as a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Request {
    /// Who is there, since when, frozen or not.
    Hello,
    /// The verbs, in short.
    Help,
    /// Pulses of these pins, or of all that are awake or waking.
    Where {
        /// Empty: all.
        pins: Vec<Pin>,
    },
    /// As [`Request::Where`] without pins, from this pin on.
    WhereFrom(Pin),
    /// The counters, or the millivolts of these inputs.
    Sense {
        /// Empty: the counters.
        inputs: Vec<Input>,
    },
    /// The guard that stands.
    GuardOf(Pin),
    /// The top speed that stands.
    SlewOf(Pin),
    /// The silence times that stand.
    SilenceOf,
    /// No more pulses on these pins, or on all.
    Limp {
        /// Empty: all.
        pins: Vec<Pin>,
    },
    /// Stops every ramp where it is.
    Freeze,
    /// Ends the freeze with this number.
    Thaw(u32),
    /// Feeds the silence clock.
    Beat,
    /// Sets the pulse bounds of a pin.
    Guard {
        /// The pin.
        pin: Pin,
        /// The shortest pulse allowed.
        low: Pulse,
        /// The longest pulse allowed.
        high: Pulse,
    },
    /// Sets the top speed.
    Slew {
        /// `None`: all pins.
        pin: Option<Pin>,
        /// Microseconds of pulse a second, 1-100000.
        us_per_s: u32,
    },
    /// Sets the silence times.
    Silence {
        /// Until the board freezes.
        freeze_ms: u32,
        /// Until it goes limp, from the same moment on.
        limp_ms: u32,
    },
    /// First pulse of a limp pin: it jumps there at full speed.
    Wake {
        /// The pin.
        pin: Pin,
        /// Its first pulse.
        pulse: Pulse,
    },
    /// Moves 1-16 awake pins so that they arrive together.
    Go {
        /// When, or later if a slew needs it.
        ms: u32,
        /// Pins and where to.
        moves: Vec<(Pin, Pulse)>,
    },
    /// The order of pins that [`Request::Pose`] means.
    Roster(Vec<Pin>),
    /// A move of the whole roster.
    Pose {
        /// When, or later if a slew needs it.
        ms: u32,
        /// One for each pin of the roster; `None` leaves it as it is.
        pulses: Vec<Option<Pulse>>,
    },
    /// Out at most 20 µs, a short stay, back; timed by the board.
    Peck {
        /// The pin.
        pin: Pin,
        /// The outer pulse.
        pulse: Pulse,
        /// The stay, 0-250.
        hold_ms: u32,
    },
    /// Periodic `where` and `sense` events; 0 ends them.
    Watch {
        /// The period, 0 or 50-60000.
        ms: u32,
        /// Inputs to report besides the pins.
        inputs: Vec<Input>,
    },
    /// A reflex: acts when the input is at least `mv` for `ms`.
    Trip {
        /// The input.
        input: Input,
        /// Threshold, 1-5500 mV.
        mv: u32,
        /// How long, 1-1000.
        ms: u32,
        /// What happens.
        act: Reflex,
    },
    /// Removes the input's reflex.
    NoTrip(Input),
}

impl Request {
    /// The first word of its line.
    pub fn verb(&self) -> &'static str {
        match self {
            Request::Hello => "hello",
            Request::Help => "help",
            Request::Where { .. } | Request::WhereFrom(_) => "where",
            Request::Sense { .. } => "sense",
            Request::GuardOf(_) | Request::Guard { .. } => "guard",
            Request::SlewOf(_) | Request::Slew { .. } => "slew",
            Request::SilenceOf | Request::Silence { .. } => "silence",
            Request::Limp { .. } => "limp",
            Request::Freeze => "freeze",
            Request::Thaw(_) => "thaw",
            Request::Beat => "beat",
            Request::Wake { .. } => "wake",
            Request::Go { .. } => "go",
            Request::Roster(_) => "roster",
            Request::Pose { .. } => "pose",
            Request::Peck { .. } => "peck",
            Request::Watch { .. } => "watch",
            Request::Trip { .. } | Request::NoTrip(_) => "trip",
        }
    }

    /// What it does to the board.
    pub fn kind(&self) -> Kind {
        match self {
            Request::Hello
            | Request::Help
            | Request::Where { .. }
            | Request::WhereFrom(_)
            | Request::Sense { .. }
            | Request::GuardOf(_)
            | Request::SlewOf(_)
            | Request::SilenceOf => Kind::Read,
            Request::Limp { .. } | Request::Freeze => Kind::Stop,
            _ => Kind::Change,
        }
    }

    /// Whether a pin may move because of it: held back until guards are known to stand.
    pub fn may_move(&self) -> bool {
        matches!(
            self,
            Request::Wake { .. } | Request::Go { .. } | Request::Pose { .. } | Request::Peck { .. }
        )
    }

    /// How long its answer may take, from the moment the line was written.
    ///
    /// A whole line takes 22 ms at 115200 baud, common USB bridges hold bytes back for 16 ms, and
    /// the host may be busy; the board itself answers at once. A stop is asked again sooner.
    pub fn deadline(&self) -> Duration {
        Duration::from_millis(match self.kind() {
            Kind::Read => 250,
            Kind::Stop => 80,
            Kind::Change => 100,
        })
    }

    /// The longest answer that is taken for its answer, in bytes with the line's end.
    pub fn reply_limit(&self) -> usize {
        match self {
            Request::Hello
            | Request::Help
            | Request::Where { .. }
            | Request::WhereFrom(_)
            | Request::Sense { .. } => super::codec::LINE_MAX,
            _ => 128,
        }
    }
}

impl fmt::Display for Request {
    /// The words of its line, without tag and check.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.verb())?;
        match self {
            Request::Hello
            | Request::Help
            | Request::SilenceOf
            | Request::Freeze
            | Request::Beat => Ok(()),
            Request::Where { pins } | Request::Limp { pins } | Request::Roster(pins) => {
                pins.iter().try_for_each(|p| write!(f, " {}", p.number()))
            }
            Request::WhereFrom(pin) => write!(f, " from {}", pin.number()),
            Request::Sense { inputs } => inputs.iter().try_for_each(|i| write!(f, " {i}")),
            Request::GuardOf(pin) | Request::SlewOf(pin) => write!(f, " {}", pin.number()),
            Request::Thaw(n) => write!(f, " {n}"),
            Request::Guard { pin, low, high } => write!(f, " {} {low} {high}", pin.number()),
            Request::Slew {
                pin: None,
                us_per_s,
            } => write!(f, " all {us_per_s}"),
            Request::Slew {
                pin: Some(pin),
                us_per_s,
            } => write!(f, " {} {us_per_s}", pin.number()),
            Request::Silence { freeze_ms, limp_ms } => write!(f, " {freeze_ms} {limp_ms}"),
            Request::Wake { pin, pulse } => write!(f, " {} {pulse}", pin.number()),
            Request::Go { ms, moves } => {
                write!(f, " {ms}")?;
                moves
                    .iter()
                    .try_for_each(|(pin, us)| write!(f, " {}:{us}", pin.number()))
            }
            Request::Pose { ms, pulses } => {
                write!(f, " {ms}")?;
                pulses.iter().try_for_each(|p| match p {
                    Some(us) => write!(f, " {us}"),
                    None => write!(f, " -"),
                })
            }
            Request::Peck {
                pin,
                pulse,
                hold_ms,
            } => {
                write!(f, " {} {pulse} {hold_ms}", pin.number())
            }
            Request::Watch { ms, inputs } => {
                write!(f, " {ms}")?;
                inputs.iter().try_for_each(|i| write!(f, " {i}"))
            }
            Request::Trip { input, mv, ms, act } => {
                write!(f, " {input} {mv} {ms}")?;
                match act {
                    Reflex::Freeze => write!(f, " freeze"),
                    Reflex::Limp(pins) => {
                        write!(f, " limp")?;
                        pins.iter().try_for_each(|p| write!(f, " {}", p.number()))
                    }
                }
            }
            Request::NoTrip(input) => write!(f, " {input} 0 0"),
        }
    }
}

/// Why words are no request.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum RequestError {
    /// The first word is none of the protocol's verbs.
    #[error("{0} is not a verb of the line protocol: `help` lists them")]
    Verb(String),
    /// Too few or too many words behind the verb.
    #[error("{0} does not take that many arguments: see its entry in PROTOCOL.md")]
    Count(&'static str),
    /// A word that cannot be what its place asks for.
    #[error("{found} is not {wanted}")]
    Word {
        /// The word, fit to be shown.
        found: String,
        /// What it should have been.
        wanted: &'static str,
    },
}

fn word_error(found: &str, wanted: &'static str) -> RequestError {
    RequestError::Word {
        found: shown(found.as_bytes()),
        wanted,
    }
}

fn number(word: &str) -> Result<u32, RequestError> {
    let digits = !word.is_empty() && word.bytes().all(|b| b.is_ascii_digit());
    if !digits || (word.len() > 1 && word.starts_with('0')) {
        return Err(word_error(
            word,
            "a whole number without sign or leading zero",
        ));
    }
    word.parse()
        .map_err(|_| word_error(word, "a number of at most 32 bits"))
}

fn pin(word: &str) -> Result<Pin, RequestError> {
    word.parse()
        .map_err(|_| word_error(word, "a pin: 2 to 69 or A0 to A15"))
}

fn pulse(word: &str) -> Result<Pulse, RequestError> {
    word.parse()
        .map_err(|_| word_error(word, "a pulse in microseconds, as 1612 or 1612.5"))
}

impl FromStr for Input {
    type Err = RequestError;

    fn from_str(word: &str) -> Result<Input, RequestError> {
        match word.as_bytes() {
            [b'a', n @ b'0'..=b'7'] => Ok(Input(n - b'0')),
            _ => Err(word_error(word, "an input: a0 to a7")),
        }
    }
}

fn pins(words: &[&str]) -> Result<Vec<Pin>, RequestError> {
    words.iter().map(|w| pin(w)).collect()
}

fn inputs(words: &[&str]) -> Result<Vec<Input>, RequestError> {
    words.iter().map(|w| w.parse()).collect()
}

impl FromStr for Request {
    type Err = RequestError;

    /// Reads the words of a line, without tag and check, separated by single spaces.
    fn from_str(text: &str) -> Result<Request, RequestError> {
        let words: Vec<&str> = text.split(' ').collect();
        let (verb, args) = (words[0], &words[1..]);
        Ok(match (verb, args) {
            ("hello", []) => Request::Hello,
            ("help", []) => Request::Help,
            ("where", ["from", p]) => Request::WhereFrom(pin(p)?),
            ("where", list) => Request::Where { pins: pins(list)? },
            ("sense", list) => Request::Sense {
                inputs: inputs(list)?,
            },
            ("guard", [p]) => Request::GuardOf(pin(p)?),
            ("guard", [p, low, high]) => Request::Guard {
                pin: pin(p)?,
                low: pulse(low)?,
                high: pulse(high)?,
            },
            ("slew", [p]) => Request::SlewOf(pin(p)?),
            ("slew", [p, speed]) => Request::Slew {
                pin: if *p == "all" { None } else { Some(pin(p)?) },
                us_per_s: number(speed)?,
            },
            ("silence", []) => Request::SilenceOf,
            ("silence", [freeze, limp]) => Request::Silence {
                freeze_ms: number(freeze)?,
                limp_ms: number(limp)?,
            },
            ("limp", list) => Request::Limp { pins: pins(list)? },
            ("freeze", []) => Request::Freeze,
            ("thaw", [n]) => Request::Thaw(number(n)?),
            ("beat", []) => Request::Beat,
            ("wake", [p, us]) => Request::Wake {
                pin: pin(p)?,
                pulse: pulse(us)?,
            },
            ("go", [ms, moves @ ..]) if !moves.is_empty() => Request::Go {
                ms: number(ms)?,
                moves: moves
                    .iter()
                    .map(|w| pin_and_pulse(w))
                    .collect::<Result<_, _>>()?,
            },
            ("roster", list) if !list.is_empty() => Request::Roster(pins(list)?),
            ("pose", [ms, list @ ..]) if !list.is_empty() => Request::Pose {
                ms: number(ms)?,
                pulses: list
                    .iter()
                    .map(|w| {
                        if *w == "-" {
                            Ok(None)
                        } else {
                            pulse(w).map(Some)
                        }
                    })
                    .collect::<Result<_, _>>()?,
            },
            ("peck", [p, us, hold]) => Request::Peck {
                pin: pin(p)?,
                pulse: pulse(us)?,
                hold_ms: number(hold)?,
            },
            ("watch", [ms, list @ ..]) => Request::Watch {
                ms: number(ms)?,
                inputs: inputs(list)?,
            },
            ("trip", [input, "0", "0"]) => Request::NoTrip(input.parse()?),
            ("trip", [input, mv, ms, act, list @ ..]) => Request::Trip {
                input: input.parse()?,
                mv: number(mv)?,
                ms: number(ms)?,
                act: match (*act, list) {
                    ("freeze", []) => Reflex::Freeze,
                    ("freeze", _) => return Err(RequestError::Count("trip … freeze")),
                    ("limp", list) => Reflex::Limp(pins(list)?),
                    _ => return Err(word_error(act, "freeze or limp")),
                },
            },
            _ => {
                return Err(match VERBS.iter().find(|v| **v == verb) {
                    Some(verb) => RequestError::Count(verb),
                    None => RequestError::Verb(shown(verb.as_bytes())),
                });
            }
        })
    }
}

/// Every verb of the protocol.
pub const VERBS: [&str; 18] = [
    "hello", "help", "where", "sense", "guard", "slew", "silence", "limp", "freeze", "thaw",
    "beat", "wake", "go", "roster", "pose", "peck", "watch", "trip",
];

fn pin_and_pulse(word: &str) -> Result<(Pin, Pulse), RequestError> {
    let (p, us) = word
        .split_once(':')
        .ok_or_else(|| word_error(word, "a pin and its pulse, as 22:1500"))?;
    Ok((pin(p)?, pulse(us)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each line of the protocol, word for word, and back again.
    #[test]
    fn every_request_reads_back_from_its_own_words() {
        let lines = [
            "hello",
            "help",
            "where",
            "where 22 57",
            "where from 34",
            "sense",
            "sense a0 a7",
            "guard 22",
            "guard 22 1200 1800.5",
            "slew 22",
            "slew all 500",
            "slew 22 100000",
            "silence",
            "silence 500 10000",
            "limp",
            "limp 22 23",
            "freeze",
            "thaw 12",
            "beat",
            "wake 22 1500",
            "go 200 22:1500 23:1612.5",
            "roster 22 23 24",
            "pose 200 1500 - 1612.5",
            "peck 22 1520 100",
            "watch 0",
            "watch 50 a0 a1",
            "trip a0 2500 20 freeze",
            "trip a0 2500 20 limp",
            "trip a0 2500 20 limp 22 23",
            "trip a0 0 0",
        ];
        for line in lines {
            let request: Request = line.parse().unwrap_or_else(|e| panic!("{line}: {e}"));
            assert_eq!(request.to_string(), line);
            assert_eq!(line.split(' ').next(), Some(request.verb()));
        }
        for verb in VERBS {
            assert!(
                lines.iter().any(|l| l.split(' ').next() == Some(verb)),
                "{verb}"
            );
        }
    }

    #[test]
    fn both_spellings_of_a_pin_are_read_and_the_number_is_sent() {
        let request: Request = "wake A3 1500".parse().expect("a wake");
        assert_eq!(request.to_string(), "wake 57 1500");
    }

    #[test]
    fn words_that_are_no_request_say_what_was_expected() {
        for (line, what) in [
            ("", " is not a verb"),
            ("shake", "shake is not a verb"),
            ("\x1b[2J", "\\x1b[2J is not a verb"),
            ("beat 1", "beat does not take"),
            ("go 20", "go does not take"),
            ("wake 1 1500", "1 is not a pin"),
            ("wake 22 01500", "01500 is not a pulse"),
            ("go 20 22=1500", "22=1500 is not a pin and its pulse"),
            ("go 020 22:1500", "020 is not a whole number"),
            ("sense a8", "a8 is not an input"),
            ("trip a0 2500 20 sleep", "sleep is not freeze or limp"),
            ("limp  22", " is not a pin"),
        ] {
            let error = line.parse::<Request>().expect_err(line).to_string();
            assert!(error.contains(what), "{line}: {error}");
        }
    }

    #[test]
    fn kinds_are_those_of_the_protocol() {
        let kind = |l: &str| l.parse::<Request>().expect(l).kind();
        for read in [
            "hello", "help", "where", "sense", "guard 22", "slew 22", "silence",
        ] {
            assert_eq!(kind(read), Kind::Read, "{read}");
        }
        for stop in ["limp", "limp 22", "freeze"] {
            assert_eq!(kind(stop), Kind::Stop, "{stop}");
        }
        for change in [
            "thaw 1",
            "beat",
            "guard 22 1400 1600",
            "slew all 9",
            "silence 500 10000",
            "wake 22 1500",
            "go 0 22:1500",
            "roster 22",
            "pose 0 1500",
            "peck 22 1500 0",
            "watch 0",
            "trip a0 0 0",
        ] {
            assert_eq!(kind(change), Kind::Change, "{change}");
        }
    }
}
