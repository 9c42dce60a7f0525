//! Lines: bytes to messages and back, with the check, the tag and the length bound.
//!
//! It knows no verb's meaning, keeps no answer and reads no clock.

use thiserror::Error;

use super::crc::crc16;
use super::escape::shown;
use super::fields::{Fields, whole};
use super::refusal::Reason;

/// The longest line either way, in bytes with its end.
pub const LINE_MAX: usize = 255;

/// Why bytes are no line of the protocol.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LineError {
    /// Too long.
    #[error("a line of more than {LINE_MAX} bytes")]
    Long,
    /// A byte that is not printable ASCII.
    #[error("a byte that is not printable ASCII in {0}")]
    Bytes(String),
    /// The check is wrong or missing.
    #[error("check {found} where {wanted} was due in {line}")]
    Check {
        /// What stood behind the last `;`.
        found: String,
        /// What should have.
        wanted: String,
        /// The line, fit to be shown.
        line: String,
    },
    /// A right check, but neither `done` nor `refused` nor `event`.
    #[error("neither an answer nor an event: {0}")]
    Shape(String),
}

/// One line from the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Message {
    /// A request was done.
    Done {
        /// Whose answer; `None`: to a line without a tag.
        tag: Option<u16>,
        /// What it says.
        fields: Fields,
    },
    /// A request was refused; tag 0: damaged, whose the board cannot say.
    Refused {
        /// Whose answer.
        tag: Option<u16>,
        /// Why.
        reason: Reason,
        /// What it says besides.
        fields: Fields,
    },
    /// Nobody asked.
    Event {
        /// Which event.
        word: String,
        /// What it says.
        fields: Fields,
    },
}

/// The line of these words: tag, words, check, LF. `Err`: longer than the protocol allows.
pub fn emit(tag: Option<u16>, words: &str) -> Result<Vec<u8>, LineError> {
    let body = match tag {
        Some(tag) => format!("{tag} {words}"),
        None => words.to_owned(),
    };
    let line = format!("{body};{:04X}\n", crc16(body.as_bytes())).into_bytes();
    if line.len() > LINE_MAX {
        return Err(LineError::Long);
    }
    Ok(line)
}

/// The body of a line whose check is right; the line comes without its end.
pub fn checked(line: &[u8]) -> Result<&str, LineError> {
    if line.len() >= LINE_MAX {
        return Err(LineError::Long);
    }
    let text = std::str::from_utf8(line)
        .ok()
        .filter(|t| t.bytes().all(|b| (0x20..=0x7e).contains(&b)))
        .ok_or_else(|| LineError::Bytes(shown(line)))?;
    let (body, found) = text.rsplit_once(';').unwrap_or((text, ""));
    let wanted = format!("{:04X}", crc16(body.as_bytes()));
    if found != wanted {
        return Err(LineError::Check {
            found: if found.is_empty() {
                "none".into()
            } else {
                shown(found.as_bytes())
            },
            wanted,
            line: shown(line),
        });
    }
    Ok(body)
}

impl Message {
    /// Reads a line from the board; it comes without its end.
    pub fn parse(line: &[u8]) -> Result<Message, LineError> {
        let body = checked(line)?;
        let shape = || LineError::Shape(shown(line));
        let (first, behind) = body.split_once(' ').unwrap_or((body, ""));
        let (tag, head, rest) = match whole(first).and_then(|n| u16::try_from(n).ok()) {
            Some(tag) => {
                let (head, rest) = behind.split_once(' ').unwrap_or((behind, ""));
                (Some(tag), head, rest)
            }
            None => (None, first, behind),
        };
        let mut words = rest.split(' ').filter(|w| !w.is_empty());
        match (head, tag) {
            ("done", _) => Ok(Message::Done {
                tag,
                fields: Fields::new(words),
            }),
            ("refused", _) => {
                let reason = words.next().and_then(Reason::from_word).ok_or_else(shape)?;
                Ok(Message::Refused {
                    tag,
                    reason,
                    fields: Fields::new(words),
                })
            }
            ("event", None) => {
                let word = words.next().ok_or_else(shape)?.to_owned();
                Ok(Message::Event {
                    word,
                    fields: Fields::new(words),
                })
            }
            _ => Err(shape()),
        }
    }

    /// The line it came from, with check and LF.
    pub fn to_line(&self) -> Result<Vec<u8>, LineError> {
        let words = |head: String, fields: &Fields| match fields.words() {
            [] => head,
            words => format!("{head} {}", words.join(" ")),
        };
        match self {
            Message::Done { tag, fields } => emit(*tag, &words("done".into(), fields)),
            Message::Refused {
                tag,
                reason,
                fields,
            } => emit(*tag, &words(format!("refused {reason}"), fields)),
            Message::Event { word, fields } => emit(None, &words(format!("event {word}"), fields)),
        }
    }
}

/// Gathers bytes to lines; never holds more than one line's worth.
#[derive(Debug, Default)]
pub struct Assembler {
    line: Vec<u8>,
    long: bool,
}

impl Assembler {
    /// Takes a byte; a line comes out, without its end, when an end came. Empty lines are dropped.
    pub fn push(&mut self, byte: u8) -> Option<Result<Vec<u8>, LineError>> {
        if byte == b'\n' || byte == b'\r' {
            let line = std::mem::take(&mut self.line);
            if std::mem::take(&mut self.long) {
                return Some(Err(LineError::Long));
            }
            return (!line.is_empty()).then_some(Ok(line));
        }
        if self.line.len() + 1 < LINE_MAX {
            self.line.push(byte);
        } else {
            self.long = true;
        }
        None
    }

    /// Forgets what was gathered: the rate changed, or the link is a new one.
    pub fn clear(&mut self) {
        *self = Assembler::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exchanges printed in PROTOCOL.md.
    const LINES: [&[u8]; 7] = [
        b"done;B49F\n",
        b"done n=1;8DB7\n",
        b"1 done in_ms=20;3CDD\n",
        b"event awake pin=22;DBA5\n",
        b"event frozen n=1 by=asked;B4BF\n",
        b"done 22:1550 24:- 57:- frozen=0;D791\n",
        b"done pin=22 low=1400 high=1600 set=no;8CDF\n",
    ];

    #[test]
    fn lines_of_the_specification_read_and_write_to_the_same_bytes() {
        for line in LINES {
            let message = Message::parse(&line[..line.len() - 1])
                .unwrap_or_else(|e| panic!("{}: {e}", shown(line)));
            assert_eq!(message.to_line().as_deref(), Ok(line));
        }
    }

    #[test]
    fn a_request_gets_its_tag_and_check() {
        assert_eq!(
            emit(Some(1), "wake 22 1500").as_deref(),
            Ok(&b"1 wake 22 1500;888C\n"[..])
        );
        assert_eq!(
            emit(Some(10), "beat").as_deref(),
            Ok(&b"10 beat;F533\n"[..])
        );
    }

    #[test]
    fn a_message_is_taken_apart() {
        let Ok(Message::Done {
            tag: Some(1),
            fields,
        }) = Message::parse(b"1 done in_ms=20;3CDD")
        else {
            panic!("a done with tag 1");
        };
        assert_eq!(fields.number("in_ms"), Ok(20));
        let line = emit(Some(0), "refused check").expect("short");
        assert!(matches!(
            Message::parse(&line[..line.len() - 1]),
            Ok(Message::Refused {
                tag: Some(0),
                reason: Reason::Check,
                ..
            })
        ));
    }

    #[test]
    fn damage_is_told_apart() {
        let long = [b'a'; 255];
        for (line, what) in [
            (
                &b"1 done in_ms=20;3CDE"[..],
                "check 3CDE where 3CDD was due",
            ),
            (b"1 done in_ms=20;3cdd", "check 3cdd where"),
            (b"1 done in_ms=20", "check none where"),
            (b"1 done\x1b[2J;0000", "\\x1b[2J"),
            (b"\xff\xfe", "not printable"),
            (&long, "more than 255"),
        ] {
            let error = Message::parse(line).expect_err("damaged").to_string();
            assert!(error.contains(what), "{error}");
            assert!(
                error.bytes().all(|b| (0x20..0x7f).contains(&b)),
                "{error:?}"
            );
        }
        for words in [
            "hello",
            "refused because",
            "refused",
            "event",
            "70000 done",
            "5 event ready",
        ] {
            let line = emit(None, words).expect("short");
            assert!(
                matches!(
                    Message::parse(&line[..line.len() - 1]),
                    Err(LineError::Shape(_))
                ),
                "{words}"
            );
        }
    }

    #[test]
    fn the_longest_line_passes_and_one_byte_more_does_not() {
        let words = "x".repeat(LINE_MAX - 6);
        let line = emit(None, &words).expect("255 bytes");
        assert_eq!(line.len(), LINE_MAX);
        assert_eq!(checked(&line[..LINE_MAX - 1]), Ok(words.as_str()));
        assert_eq!(emit(None, &format!("{words}x")), Err(LineError::Long));
    }

    #[test]
    fn bytes_become_lines_at_any_end_and_a_flood_without_one_is_bounded() {
        let mut lines = Assembler::default();
        let mut got = Vec::new();
        for &byte in b"\n\r\ndone;B49F\r\nevent\r" {
            got.extend(lines.push(byte));
        }
        assert_eq!(got, [Ok(b"done;B49F".to_vec()), Ok(b"event".to_vec())]);
        for _ in 0..100_000 {
            assert_eq!(lines.push(b'x'), None);
        }
        assert!(lines.line.capacity() <= 2 * LINE_MAX);
        assert_eq!(lines.push(b'\n'), Some(Err(LineError::Long)));
        assert_eq!(lines.push(b'y'), None);
        assert_eq!(lines.push(b'\n'), Some(Ok(b"y".to_vec())));
    }
}
