//! Why the board refuses a request, and what to do about it.
//!
//! It decides nothing: whoever asked does.

use std::fmt;

use super::fields::Fields;
use crate::units::{Pin, Pulse};

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident $word:literal $remedy:literal,)*) => {
        /// Why the board refuses: the protocol's closed list, in the order of its checks.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Reason { $($(#[$doc])* $name,)* }

        impl Reason {
            /// All of them, in the order in which the board checks.
            pub const ALL: &'static [Reason] = &[$(Reason::$name,)*];

            /// The protocol's word.
            pub fn word(self) -> &'static str {
                match self { $(Reason::$name => $word,)* }
            }

            /// What to do about it, one sentence or two.
            pub fn remedy(self) -> &'static str {
                match self { $(Reason::$name => $remedy,)* }
            }
        }
    };
}

reasons! {
    /// Over 255 bytes.
    Long "long" "Send fewer pins in one line; a line holds 255 bytes.",
    /// Not printable ASCII.
    Bytes "bytes" "It came damaged: shorten or shield the cable, keep it off the servo wires.",
    /// The check is wrong, or missing where due.
    Check "check" "It came damaged: shorten or shield the cable, keep it off the servo wires.",
    /// The verb is unknown.
    Verb "verb" "Its firmware is older than this program: load the one that comes with it.",
    /// The tag is not newer than the last one.
    Stale "stale" "Another program talks to the board too: close it, and connect again.",
    /// Too few or too many arguments.
    Count "count" "Its firmware differs from this program: load the one that comes with it.",
    /// A number malformed or out of its range.
    Number "number" "The value is outside what the board takes: choose another.",
    /// Not a pin.
    Pin "pin" "Pins are 2 to 69 (A0 to A15 are 54 to 69): read what the board has printed.",
    /// A pin or input named twice.
    Twice "twice" "Name each pin once: two joints of the file may stand on one pin.",
    /// No such input, or its copper is in use.
    Input "input" "Inputs are a0 to a7; one in use, or whose pin is awake, cannot be taken.",
    /// There is no roster, or it has another length.
    Roster "roster" "The board was set up by somebody else or was reset: connect again.",
    /// Within a second of damage.
    Noisy "noisy" "Wait a second; shorten or shield the cable, keep it off the servo wires.",
    /// The board is frozen.
    Frozen "frozen" "Thaw first: nothing moves while the board is frozen.",
    /// No more pins can be awake.
    Full "full" "Let another pin go limp first.",
    /// The pin is limp.
    Limp "limp" "Wake the pin first.",
    /// The pin is waking.
    Waking "waking" "Wait until its first pulse has come.",
    /// The pin is awake.
    Awake "awake" "The pin gets pulses already: move it, or make it limp first.",
    /// A pulse outside 500-2500 µs.
    Outside "outside" "The board sends pulses of 500 to 2500 µs only.",
    /// A guard that would exclude its pin's pulse, or a peck that goes too far.
    Bounds "bounds" "Move the pin inside the new guard first; a peck goes at most 20 µs.",
    /// A pulse outside the pin's guard.
    Guard "guard" "Nothing moved. Choose a pulse inside the guard, or widen the guard first.",
}

impl Reason {
    /// The reason with this word.
    pub fn from_word(word: &str) -> Option<Reason> {
        Self::ALL.iter().copied().find(|r| r.word() == word)
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// A request was refused; nothing changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Why.
    pub reason: Reason,
    /// What the board said besides.
    pub fields: Fields,
}

impl Refusal {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        self.reason.remedy()
    }

    /// The pin it is about.
    pub fn pin(&self) -> Option<Pin> {
        self.fields.pin("pin").ok()
    }

    /// The guard that was in the way.
    pub fn guard(&self) -> Option<(Pulse, Pulse)> {
        Some((
            self.fields.pulse("low").ok()?,
            self.fields.pulse("high").ok()?,
        ))
    }

    /// The freeze that was in the way.
    pub fn freeze(&self) -> Option<u32> {
        self.fields.number("n").ok()
    }
}

impl fmt::Display for Refusal {
    /// `guard: pin 23 takes 1400 to 1600 µs`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.reason)?;
        match (self.pin(), self.guard()) {
            (Some(pin), Some((low, high))) => write!(f, ": pin {pin} takes {low} to {high} µs"),
            (Some(pin), None) => write!(f, ": pin {pin}"),
            _ if self.fields == Fields::default() => Ok(()),
            _ => write!(f, ": {}", self.fields.text()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Fields {
        Fields::new(text.split(' '))
    }

    fn pulse(us: f64) -> Pulse {
        Pulse::from_us(us).expect("a pulse")
    }

    /// The list of PROTOCOL.md, in its order.
    #[test]
    fn the_reasons_are_those_of_the_specification_each_with_a_remedy() {
        let words: Vec<_> = Reason::ALL.iter().map(|r| r.word()).collect();
        assert_eq!(
            words.join(" "),
            "long bytes check verb stale count number pin twice input roster noisy frozen full limp \
             waking awake outside bounds guard"
        );
        for reason in Reason::ALL {
            assert_eq!(Reason::from_word(reason.word()), Some(*reason));
            assert!(
                reason.remedy().ends_with('.') && reason.remedy().len() > 15,
                "{reason}"
            );
        }
    }

    #[test]
    fn a_refusal_says_where_and_what_would_do() {
        let refusal = Refusal {
            reason: Reason::Guard,
            fields: fields("pin=57 low=1400 high=1600"),
        };
        assert_eq!(refusal.to_string(), "guard: pin A3 takes 1400 to 1600 µs");
        assert_eq!(refusal.guard(), Some((pulse(1400.0), pulse(1600.0))));
        let refusal = Refusal {
            reason: Reason::Frozen,
            fields: fields("n=4"),
        };
        assert_eq!(
            (refusal.freeze(), refusal.to_string()),
            (Some(4), "frozen: n=4".into())
        );
    }
}
