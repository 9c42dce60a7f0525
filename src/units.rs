//! The two words every part shares: a printed pin and a pulse width.
//!
//! Nothing here does I/O; both types are small, `Copy`, and always in range.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// A servo's address: what is printed on the board, `2`-`69`, where 54-69 are `A0`-`A15`.
///
/// Both spellings are read, the printed one is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pin(u8);

impl Pin {
    /// The lowest pin, 2: 0 and 1 are the serial link.
    pub const FIRST: Pin = Pin(2);
    /// The highest pin, 69, printed `A15`.
    pub const LAST: Pin = Pin(69);

    /// The pin with this number, 2-69.
    pub fn new(number: u8) -> Result<Pin, UnitError> {
        if (Self::FIRST.0..=Self::LAST.0).contains(&number) {
            Ok(Pin(number))
        } else {
            Err(UnitError::Pin(number.to_string()))
        }
    }

    /// The number, 2-69, as the line protocol sends it.
    pub fn number(self) -> u8 {
        self.0
    }
}

impl fmt::Display for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match self.0 {
            n @ 54..=69 => format!("A{}", n - 54),
            n => n.to_string(),
        };
        f.pad(&text)
    }
}

impl FromStr for Pin {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Pin, UnitError> {
        let wrong = || UnitError::Pin(text.escape_default().to_string());
        let digits = text.strip_prefix('A').unwrap_or(text);
        if digits.is_empty()
            || !digits.bytes().all(|b| b.is_ascii_digit())
            || (digits.len() > 1 && digits.starts_with('0'))
        {
            return Err(wrong());
        }
        let number: u8 = digits.parse().map_err(|_| wrong())?;
        if text.starts_with('A') {
            if number > 15 {
                return Err(wrong());
            }
            return Ok(Pin(54 + number));
        }
        Pin::new(number).map_err(|_| wrong())
    }
}

/// A pulse width, kept as whole half-microseconds, 0.5-32767.5 µs.
///
/// The board's own bounds, 500-2500 µs, are [`Pulse::MIN`] and [`Pulse::MAX`];
/// a zero may lie outside them, so the type does not enforce them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pulse(u16);

impl Pulse {
    /// The shortest pulse any board sends, 500 µs.
    pub const MIN: Pulse = Pulse(1000);
    /// The longest pulse any board sends, 2500 µs.
    pub const MAX: Pulse = Pulse(5000);
    /// The centre, 1500 µs.
    pub const CENTRE: Pulse = Pulse(3000);

    /// From whole half-microseconds.
    pub const fn from_halves(halves: u16) -> Pulse {
        Pulse(halves)
    }

    /// The nearest half-microsecond; `None` for anything that is not 0-32767.5 µs (NaN included).
    pub fn from_us(us: f64) -> Option<Pulse> {
        let halves = (us * 2.0).round();
        (0.0..=65535.0)
            .contains(&halves)
            .then_some(Pulse(halves as u16))
    }

    /// Whole half-microseconds.
    pub fn halves(self) -> u16 {
        self.0
    }

    /// Microseconds.
    pub fn us(self) -> f64 {
        f64::from(self.0) / 2.0
    }

    /// Whether any board would send it at all: 500-2500 µs.
    pub fn is_sendable(self) -> bool {
        (Self::MIN..=Self::MAX).contains(&self)
    }
}

impl fmt::Display for Pulse {
    /// `1612` or `1612.5`, never `1612.0`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = if self.0 % 2 == 1 {
            format!("{}.5", self.0 / 2)
        } else {
            (self.0 / 2).to_string()
        };
        f.pad(&text)
    }
}

impl FromStr for Pulse {
    type Err = UnitError;

    /// `1612` or `1612.5`; no sign, exponent, leading zero or other fraction.
    fn from_str(text: &str) -> Result<Pulse, UnitError> {
        let wrong = || UnitError::Pulse(text.escape_default().to_string());
        let (whole, half) = match text.split_once('.') {
            None => (text, 0),
            Some((whole, "0")) => (whole, 0),
            Some((whole, "5")) => (whole, 1),
            Some(_) => return Err(wrong()),
        };
        if whole.is_empty()
            || whole.len() > 5
            || !whole.bytes().all(|b| b.is_ascii_digit())
            || (whole.len() > 1 && whole.starts_with('0'))
        {
            return Err(wrong());
        }
        let us: u32 = whole.parse().map_err(|_| wrong())?;
        u16::try_from(us * 2 + half).map(Pulse).map_err(|_| wrong())
    }
}

/// What was wrong with a pin or a pulse.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum UnitError {
    /// Not a pin.
    #[error("{0} is not a pin: pins are 2 to 69 or A0 to A15, as printed on the board")]
    Pin(String),
    /// Not a pulse.
    #[error("{0} is not a pulse: write microseconds as 1612 or 1612.5")]
    Pulse(String),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pin_reads_both_spellings_and_shows_the_printed_one() {
        assert_eq!("57".parse::<Pin>(), "A3".parse::<Pin>());
        assert_eq!(Pin::new(57).expect("57 is a pin").to_string(), "A3");
        for wrong in ["0", "1", "70", "A16", "a3", "022", "", "A", "+5", "A03"] {
            assert!(wrong.parse::<Pin>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_pulse_is_whole_halves() {
        let p: Pulse = "1612.5".parse().expect("a pulse");
        assert_eq!(
            (p.halves(), p.us(), p.to_string()),
            (3225, 1612.5, "1612.5".into())
        );
        assert_eq!(
            "1612.0".parse::<Pulse>().expect("a pulse").to_string(),
            "1612"
        );
        for wrong in ["", "-5", "1e3", "01500", "1500.25", "1500.", ".5", "99999"] {
            assert!(wrong.parse::<Pulse>().is_err(), "{wrong}");
        }
        assert_eq!(Pulse::from_us(f64::NAN), None);
    }
}
