//! What is wrong with a calibration file: one finding each, with its place, what was found, what was expected, what to do.
//!
//! Pure text; nothing here decides what is wrong.

use std::fmt;

/// One thing that is wrong, or doubtful, in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Which kind of fault.
    pub fault: Fault,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What it is about, in words: `LF femur zero_us`.
    pub place: String,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// What the builder does about it.
    pub remedy: String,
}

/// How bad a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    /// The file is refused.
    Error,
    /// The file is read; the builder should know.
    Warning,
}

/// Every kind of fault, a closed list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fault {
    /// Bytes that are no UTF-8 text.
    NotUtf8,
    /// No TOML.
    Syntax,
    /// TOML that readers of version 1.0 do not read.
    TomlVersion,
    /// A format that this hornset does not know.
    Format,
    /// A key that the format does not have.
    UnknownKey,
    /// A key that has to be there.
    MissingKey,
    /// A value of another type.
    WrongType,
    /// `nan`, `inf`, or a number too large for any computer.
    NotFinite,
    /// A number outside what is possible here.
    OutOfRange,
    /// A pulse that is not a whole number of half-microseconds.
    HalfStep,
    /// A name that cannot be one.
    BadName,
    /// Not a pin.
    BadPin,
    /// Not a time stamp.
    BadTime,
    /// Not a method of recording.
    BadMethod,
    /// No leg, or too many.
    LegCount,
    /// Two legs of one name.
    DuplicateLeg,
    /// One pin for two joints.
    DuplicatePin,
    /// One servo's number at two joints.
    DuplicateServo,
    /// µs/degree of 0.
    ZeroScale,
    /// The near end at the larger pulse.
    EndsSwapped,
    /// A pair whose first number is not the smaller.
    PairSwapped,
    /// Limits that reach beyond an end.
    LimitsOutsideEnds,
    /// Warning: the guard reaches beyond an end.
    GuardOutsideEnds,
    /// Warning: the limits reach beyond the guard.
    LimitsOutsideGuard,
    /// Warning: the needed travel does not fit.
    NeededShort,
    /// Warning: the boot loader's light is on this pin.
    LightPin,
}

impl Fault {
    /// The word for it in messages and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Fault::NotUtf8 => "not-utf8",
            Fault::Syntax => "syntax",
            Fault::TomlVersion => "toml-version",
            Fault::Format => "format",
            Fault::UnknownKey => "unknown-key",
            Fault::MissingKey => "missing-key",
            Fault::WrongType => "wrong-type",
            Fault::NotFinite => "not-finite",
            Fault::OutOfRange => "out-of-range",
            Fault::HalfStep => "half-step",
            Fault::BadName => "bad-name",
            Fault::BadPin => "bad-pin",
            Fault::BadTime => "bad-time",
            Fault::BadMethod => "bad-method",
            Fault::LegCount => "leg-count",
            Fault::DuplicateLeg => "duplicate-leg",
            Fault::DuplicatePin => "duplicate-pin",
            Fault::DuplicateServo => "duplicate-servo",
            Fault::ZeroScale => "zero-scale",
            Fault::EndsSwapped => "ends-swapped",
            Fault::PairSwapped => "pair-swapped",
            Fault::LimitsOutsideEnds => "limits-outside-ends",
            Fault::GuardOutsideEnds => "guard-outside-ends",
            Fault::LimitsOutsideGuard => "limits-outside-guard",
            Fault::NeededShort => "needed-short",
            Fault::LightPin => "light-pin",
        }
    }

    /// Whether it refuses the file.
    pub fn severity(self) -> Severity {
        match self {
            Fault::GuardOutsideEnds
            | Fault::LimitsOutsideGuard
            | Fault::NeededShort
            | Fault::LightPin => Severity::Warning,
            _ => Severity::Error,
        }
    }
}

impl Finding {
    /// Whether it refuses the file.
    pub fn is_error(&self) -> bool {
        self.fault.severity() == Severity::Error
    }
}

impl Severity {
    /// `error` or `warning`.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
        }
    }
}

impl fmt::Display for Finding {
    /// `12:7: error: duplicate-pin: LF tibia pin: found …; expected …. …`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}:{}: {}: {}: {}: found {}; expected {}. {}",
            self.line,
            self.column,
            self.fault.severity().word(),
            self.fault.word(),
            self.place,
            self.found,
            self.expected,
            self.remedy
        )
    }
}

/// Line and column, both from 1, of a byte offset; the column counts characters.
pub(super) fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    let before = &text[..offset];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let column = text[start..offset]
        .chars()
        .filter(|&c| c != '\u{feff}')
        .count()
        + 1;
    (line, column)
}

#[cfg(test)]
mod tests {
    use super::line_and_column;

    #[test]
    fn columns_count_characters_not_bytes() {
        let text = "\u{feff}a = 1\nµ = °5\n";
        assert_eq!(line_and_column(text, 3), (1, 1));
        let degree = text.find('5').expect("it is there");
        assert_eq!(line_and_column(text, degree), (2, 6));
        assert_eq!(line_and_column(text, 999), (3, 1));
    }
}
