//! What the board says, as values: answers, refusals, and what its events carry.
//!
//! A field that is not known is ignored; one that is due and missing, or malformed, is an error.
//! Nothing here decides what to do about an answer.

use std::fmt;

use super::escape::shown;
use super::fields::{FieldError, Fields};
use super::request::{Input, Request};
use crate::units::{Pin, Pulse};

/// The protocol this host speaks.
pub const PROTO: u32 = 1;

/// Why the board was reset, as far as it knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResetCause {
    /// Power came on.
    Power,
    /// The supply dipped.
    Brownout,
    /// The firmware hung.
    Watchdog,
    /// The reset line: a button, or a port being opened.
    External,
    /// A boot loader cleared the cause.
    Unknown,
}

impl ResetCause {
    const WORDS: [(&'static str, ResetCause); 5] = [
        ("power", ResetCause::Power),
        ("brownout", ResetCause::Brownout),
        ("watchdog", ResetCause::Watchdog),
        ("external", ResetCause::External),
        ("unknown", ResetCause::Unknown),
    ];
}

impl fmt::Display for ResetCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(word_of(&Self::WORDS, self))
    }
}

/// On whose account the board froze or went limp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// A `freeze` line.
    Asked,
    /// No accepted line from the host for too long.
    Silence,
    /// A reflex on an input.
    Trip,
    /// Too many damaged lines within a second.
    Noisy,
}

impl By {
    const WORDS: [(&'static str, By); 4] = [
        ("asked", By::Asked),
        ("silence", By::Silence),
        ("trip", By::Trip),
        ("noisy", By::Noisy),
    ];
}

impl fmt::Display for By {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(word_of(&Self::WORDS, self))
    }
}

fn word_of<T: PartialEq>(words: &[(&'static str, T)], value: &T) -> &'static str {
    words
        .iter()
        .find(|(_, v)| v == value)
        .map_or("?", |(w, _)| w)
}

fn from_word<T: Copy>(words: &[(&'static str, T)], word: &str) -> Option<T> {
    words.iter().find(|(w, _)| *w == word).map(|(_, v)| *v)
}

/// Who the board is: the answer to `hello`, and what `event ready` carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hello {
    /// The protocol; for another than [`PROTO`] only this and `fw` mean anything.
    pub proto: u32,
    /// Name and version of the firmware, fit to be shown.
    pub fw: String,
    /// The chip, fit to be shown.
    pub board: String,
    /// Drawn once by the board and kept.
    pub id: u32,
    /// How many pins may be awake at once.
    pub most: u32,
    /// Count of starts, 16 bits.
    pub boot: u16,
    /// Why it started.
    pub cause: ResetCause,
    /// Milliseconds since it started; wraps.
    pub up_ms: u32,
    /// The last tag that it took; 0: none since it started.
    pub last: u16,
    /// Number of the freeze that stands; 0: not frozen.
    pub frozen: u32,
    /// On whose account it is frozen.
    pub by: Option<By>,
}

impl Hello {
    /// From the fields of an answer or an event.
    pub fn read(fields: &Fields) -> Result<Hello, FieldError> {
        let proto = fields.number("proto")?;
        let text = |key: &str| {
            fields
                .get(key)
                .map(|v| shown(v.as_bytes()))
                .unwrap_or_default()
        };
        let mut hello = Hello {
            proto,
            fw: text("fw"),
            board: text("board"),
            id: 0,
            most: 0,
            boot: 0,
            cause: ResetCause::Unknown,
            up_ms: 0,
            last: 0,
            frozen: 0,
            by: None,
        };
        if proto != PROTO {
            return Ok(hello);
        }
        hello.id = fields.read("id", "eight hexadecimal digits", |v| {
            (v.len() == 8)
                .then(|| u32::from_str_radix(v, 16).ok())
                .flatten()
        })?;
        hello.most = fields.number("most")?;
        hello.boot = fields.small("boot")?;
        hello.cause = fields.read(
            "cause",
            "power, brownout, watchdog, external or unknown",
            |v| from_word(&ResetCause::WORDS, v),
        )?;
        hello.up_ms = fields.number("up_ms")?;
        hello.last = fields.small("last")?;
        hello.frozen = fields.number("frozen")?;
        // `by=none` when it is not frozen.
        hello.by = fields.get("by").and_then(|v| from_word(&By::WORDS, v));
        Ok(hello)
    }

    /// The board's `id` as it is shown: eight upper-case digits.
    pub fn id_shown(&self) -> String {
        format!("{:08X}", self.id)
    }
}

/// What a pin does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinState {
    /// No pulses.
    Limp,
    /// Asked for, not yet its turn.
    Waking,
    /// It gets pulses.
    Awake,
}

/// One pin of a `where`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PinAt {
    /// The pin.
    pub pin: Pin,
    /// Its pulse; `None`: limp.
    pub pulse: Option<Pulse>,
    /// What it does.
    pub state: PinState,
}

/// The answer to `where`, and what `event where` carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Where {
    /// At most twelve pins.
    pub pins: Vec<PinAt>,
    /// The frame whose pulses these are.
    pub frame: Option<u32>,
    /// Ask again from this pin: some are left.
    pub more: Option<Pin>,
    /// Number of the freeze that stands; 0: not frozen.
    pub frozen: u32,
}

impl Where {
    /// From the fields of an answer or an event.
    pub fn read(fields: &Fields) -> Result<Where, FieldError> {
        let pins = fields
            .words()
            .iter()
            .filter(|w| !w.contains('='))
            .map(|w| pin_at(w))
            .collect::<Result<_, _>>()?;
        Ok(Where {
            pins,
            frame: fields.maybe("frame", Fields::number)?,
            more: fields.maybe("more", Fields::pin)?,
            frozen: fields.number("frozen")?,
        })
    }
}

fn pin_at(word: &str) -> Result<PinAt, FieldError> {
    let read = || {
        let mut parts = word.split(':');
        let pin = parts.next()?.parse().ok()?;
        let pulse: Option<Pulse> = match parts.next()? {
            "-" => None,
            us => Some(us.parse().ok()?),
        };
        let state = match (parts.next(), pulse) {
            (None, None) => PinState::Limp,
            (Some("waking"), _) => PinState::Waking,
            (_, None) => PinState::Limp,
            (_, Some(_)) => PinState::Awake,
        };
        Some(PinAt { pin, pulse, state })
    };
    read().ok_or_else(|| FieldError {
        found: shown(word.as_bytes()),
        wanted: "a pin and its pulse, as 22:1500".into(),
    })
}

/// The board's counters since its last reset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counters {
    /// The board's own supply by its band-gap: good for change, not for absolute.
    pub vcc_mv: u32,
    /// Edges that came late.
    pub late: u32,
    /// Bytes that the receiver lost.
    pub overruns: u32,
    /// Lines that were not executed for want of room for their answer.
    pub dropped: u32,
    /// Lines that came damaged.
    pub badchecks: u32,
    /// Bytes of stack never used.
    pub stack: u32,
}

/// The answer to `sense`, and what `event sense` carries: counters, inputs, or both.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sense {
    /// The counters, when they were asked for.
    pub counters: Option<Counters>,
    /// Supply, when it came without the other counters.
    pub vcc_mv: Option<u32>,
    /// Inputs and their millivolts.
    pub inputs: Vec<(Input, u32)>,
}

impl Sense {
    /// From the fields of an answer or an event.
    pub fn read(fields: &Fields) -> Result<Sense, FieldError> {
        let counters = match fields.get("late") {
            None => None,
            Some(_) => Some(Counters {
                vcc_mv: fields.number("vcc_mv")?,
                late: fields.number("late")?,
                overruns: fields.number("overruns")?,
                dropped: fields.number("dropped")?,
                badchecks: fields.number("badchecks")?,
                stack: fields.number("stack")?,
            }),
        };
        let inputs = fields
            .pairs()
            .filter_map(|(key, _)| key.parse::<Input>().ok().map(|input| (input, key)))
            .map(|(input, key)| Ok((input, fields.number(key)?)))
            .collect::<Result<_, _>>()?;
        Ok(Sense {
            counters,
            vcc_mv: fields.maybe("vcc_mv", Fields::number)?,
            inputs,
        })
    }
}

/// A request was done: what its answer carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Done {
    /// To `hello`.
    Hello(Hello),
    /// To `help`: the verbs, as the board prints them, fit to be shown.
    Help(String),
    /// To `where`.
    Where(Where),
    /// To `sense`.
    Sense(Sense),
    /// To `guard PIN`.
    Guard {
        /// The pin.
        pin: Pin,
        /// The shortest pulse allowed.
        low: Pulse,
        /// The longest pulse allowed.
        high: Pulse,
        /// Whether it was set, or is the one that stands before any.
        set: bool,
    },
    /// To `slew PIN`.
    Slew {
        /// The pin.
        pin: Pin,
        /// Its top speed.
        us_per_s: u32,
    },
    /// To `silence`.
    Silence {
        /// Until the board freezes.
        freeze_ms: u32,
        /// Until it goes limp.
        limp_ms: u32,
    },
    /// To `freeze`: the number to thaw it by.
    Freeze {
        /// The number.
        n: u32,
    },
    /// To `wake`.
    Wake {
        /// Milliseconds until the first pulse.
        in_ms: u32,
    },
    /// To `go` and `pose`: how long the move really takes.
    Move {
        /// Milliseconds.
        ms: u32,
    },
    /// To `roster`.
    Roster {
        /// How many pins it has.
        pins: u32,
    },
    /// To everything else: done, and no more to say.
    Plain,
}

impl Done {
    /// Reads the fields of the answer to `request`.
    pub fn read(request: &Request, fields: &Fields) -> Result<Done, FieldError> {
        Ok(match request {
            Request::Hello => Done::Hello(Hello::read(fields)?),
            Request::Help => Done::Help(fields.text()),
            Request::Where { .. } | Request::WhereFrom(_) => Done::Where(Where::read(fields)?),
            Request::Sense { .. } => Done::Sense(Sense::read(fields)?),
            Request::GuardOf(_) => Done::Guard {
                pin: fields.pin("pin")?,
                low: fields.pulse("low")?,
                high: fields.pulse("high")?,
                set: fields.read("set", "yes or no", |v| match v {
                    "yes" => Some(true),
                    "no" => Some(false),
                    _ => None,
                })?,
            },
            Request::SlewOf(_) => Done::Slew {
                pin: fields.pin("pin")?,
                us_per_s: fields.number("us_per_s")?,
            },
            Request::SilenceOf => Done::Silence {
                freeze_ms: fields.number("freeze_ms")?,
                limp_ms: fields.number("limp_ms")?,
            },
            Request::Freeze => Done::Freeze {
                n: fields.number("n")?,
            },
            Request::Wake { .. } => Done::Wake {
                in_ms: fields.number("in_ms")?,
            },
            Request::Go { .. } | Request::Pose { .. } => Done::Move {
                ms: fields.number("ms")?,
            },
            Request::Roster(_) => Done::Roster {
                pins: fields.number("pins")?,
            },
            _ => Done::Plain,
        })
    }
}

/// What the board says without being asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    /// It was reset.
    Ready(Hello),
    /// It froze.
    Frozen {
        /// The number to thaw it by.
        n: u32,
        /// On whose account.
        by: By,
    },
    /// Pins went limp.
    Limp {
        /// On whose account.
        by: By,
    },
    /// A pin has its first pulse.
    Awake(Pin),
    /// Pulses, by `watch`.
    Where(Where),
    /// Counters or inputs, by `watch`.
    Sense(Sense),
}

impl Told {
    /// Reads an event; `None`: one that this program does not know.
    pub fn read(word: &str, fields: &Fields) -> Result<Option<Told>, FieldError> {
        let by = || {
            fields.read("by", "asked, silence, trip or noisy", |v| {
                from_word(&By::WORDS, v)
            })
        };
        Ok(Some(match word {
            "ready" => Told::Ready(Hello::read(fields)?),
            "frozen" => Told::Frozen {
                n: fields.number("n")?,
                by: by()?,
            },
            "limp" => Told::Limp { by: by()? },
            "awake" => Told::Awake(fields.pin("pin")?),
            "where" => Told::Where(Where::read(fields)?),
            "sense" => Told::Sense(Sense::read(fields)?),
            _ => return Ok(None),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Fields {
        Fields::new(text.split(' '))
    }

    fn done(request: &str, text: &str) -> Result<Done, FieldError> {
        Done::read(&request.parse().expect("a request"), &fields(text))
    }

    fn pin(number: u8) -> Pin {
        Pin::new(number).expect("a pin")
    }

    fn pulse(us: f64) -> Pulse {
        Pulse::from_us(us).expect("a pulse")
    }

    /// The answer printed in PROTOCOL.md under `hello`.
    const HELLO: &str = "proto=1 fw=0.1.0 board=atmega2560 id=5e1f0c2a pins=2-69 most=24 \
        tick_ns=500 frame_us=20000 boot=7 cause=power up_ms=3120 last=0 frozen=0 by=none";

    #[test]
    fn hello_is_read_and_unknown_fields_are_ignored() {
        let hello = Hello::read(&fields(HELLO)).expect("a hello");
        assert_eq!(hello.fw, "0.1.0");
        assert_eq!(hello.id_shown(), "5E1F0C2A");
        assert_eq!((hello.boot, hello.up_ms, hello.most), (7, 3120, 24));
        assert_eq!(
            (hello.cause, hello.frozen, hello.by),
            (ResetCause::Power, 0, None)
        );
        let newer = format!("{HELLO} colour=green mood=12");
        assert_eq!(Hello::read(&fields(&newer)), Ok(hello));
        let frozen = HELLO.replace("frozen=0 by=none", "frozen=9 by=trip");
        let frozen = Hello::read(&fields(&frozen)).expect("a hello");
        assert_eq!((frozen.frozen, frozen.by), (9, Some(By::Trip)));
    }

    #[test]
    fn a_hello_of_another_proto_needs_nothing_but_proto_and_fw() {
        let hello = Hello::read(&fields("proto=2 fw=9.0 wings=4")).expect("a hello");
        assert_eq!((hello.proto, hello.fw.as_str()), (2, "9.0"));
    }

    #[test]
    fn a_field_that_is_due_is_missed_by_name() {
        for (gone, what) in [
            ("proto=1 ", "proto="),
            (" boot=7", "boot="),
            (" up_ms=3120", "up_ms="),
            ("id=5e1f0c2a", "id="),
        ] {
            let error = Hello::read(&fields(&HELLO.replace(gone, ""))).expect_err(gone);
            assert!(error.to_string().contains(what), "{error}");
        }
        let error =
            Hello::read(&fields(&HELLO.replace("boot=7", "boot=70000"))).expect_err("17 bits");
        assert!(error.to_string().contains("boot=70000"), "{error}");
    }

    #[test]
    fn where_tells_limp_waking_and_awake() {
        let got = done("where", "22:1550.5 23:1500:waking 24:- more=A3 frozen=2").expect("a where");
        let at = |n, us: Option<f64>, state| PinAt {
            pin: pin(n),
            pulse: us.map(pulse),
            state,
        };
        assert_eq!(
            got,
            Done::Where(Where {
                pins: vec![
                    at(22, Some(1550.5), PinState::Awake),
                    at(23, Some(1500.0), PinState::Waking),
                    at(24, None, PinState::Limp),
                ],
                frame: None,
                more: Some(pin(57)),
                frozen: 2,
            })
        );
        assert!(done("where", "22:1550").is_err(), "frozen= is due");
        assert!(done("where", "1:1550 frozen=0").is_err(), "1 is no pin");
        assert!(done("where", "22 frozen=0").is_err());
    }

    #[test]
    fn sense_carries_counters_or_inputs() {
        let all = "vcc_mv=4987 late=0 overruns=1 dropped=2 badchecks=3 stack=5312";
        let Ok(Done::Sense(sense)) = done("sense", all) else {
            panic!("a sense")
        };
        let counters = sense.counters.expect("counters");
        assert_eq!(
            (counters.vcc_mv, counters.badchecks, counters.stack),
            (4987, 3, 5312)
        );
        let Ok(Done::Sense(sense)) = done("sense a0 a3", "a0=1204 a3=0") else {
            panic!("a sense")
        };
        assert_eq!(sense.counters, None);
        let named: Vec<_> = sense
            .inputs
            .iter()
            .map(|(i, mv)| (i.number(), *mv))
            .collect();
        assert_eq!(named, [(0, 1204), (3, 0)]);
    }

    #[test]
    fn each_answer_is_read_by_its_request() {
        assert_eq!(
            done("guard 22", "pin=22 low=1400 high=1600.5 set=no"),
            Ok(Done::Guard {
                pin: pin(22),
                low: pulse(1400.0),
                high: pulse(1600.5),
                set: false
            })
        );
        assert_eq!(
            done("slew 22", "pin=22 us_per_s=1000"),
            Ok(Done::Slew {
                pin: pin(22),
                us_per_s: 1000
            })
        );
        assert_eq!(
            done("silence", "freeze_ms=500 limp_ms=10000"),
            Ok(Done::Silence {
                freeze_ms: 500,
                limp_ms: 10000
            })
        );
        assert_eq!(
            done("wake 22 1500", "in_ms=20"),
            Ok(Done::Wake { in_ms: 20 })
        );
        assert_eq!(done("pose 20 1500", "ms=20"), Ok(Done::Move { ms: 20 }));
        assert_eq!(done("roster 22", "pins=1"), Ok(Done::Roster { pins: 1 }));
        assert_eq!(
            done("freeze", "n=4294967295"),
            Ok(Done::Freeze { n: u32::MAX })
        );
        assert_eq!(done("beat", ""), Ok(Done::Plain));
        assert!(done("wake 22 1500", "").is_err());
    }

    #[test]
    fn events_are_read_and_an_unknown_one_is_passed_over() {
        assert_eq!(
            Told::read("frozen", &fields("n=3 by=silence")),
            Ok(Some(Told::Frozen {
                n: 3,
                by: By::Silence
            }))
        );
        assert_eq!(
            Told::read("awake", &fields("pin=22")),
            Ok(Some(Told::Awake(pin(22))))
        );
        assert_eq!(Told::read("sneeze", &fields("n=3")), Ok(None));
        assert!(Told::read("frozen", &fields("n=3 by=boredom")).is_err());
    }
}
