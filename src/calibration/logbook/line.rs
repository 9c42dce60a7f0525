//! One entry as one line of text, with a check that tells a damaged line from a good one.
//!
//! `{"v":1,"n":17,"at":"2026-03-14T10:22:05Z","what":{"kind":…},"check":"1f0a93c2"}`
//! The check is the first eight hex digits of SHA-256 over all bytes before `,"check"`.
//! `v`, `n` and the check are the same in every format, so that an old reader knows a newer line for one.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use thiserror::Error;

use super::entry::{Entry, FORMAT, What};

const CHECK: &str = ",\"check\":\"";
const CHECK_DIGITS: usize = 8;

/// What is wrong with a line.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LineFault {
    /// Not UTF-8.
    #[error("found bytes that are no text, expected JSON in UTF-8")]
    NotText,
    /// No check at its end: it is not whole, or not a line of a logbook.
    #[error("found no check at its end, expected \"check\":\"…\"}}")]
    NoCheck,
    /// The check is another one.
    #[error("found the check {found}, expected {expected}: the line was changed or damaged")]
    WrongCheck {
        /// What stands there.
        found: String,
        /// What the line's bytes give.
        expected: String,
    },
    /// A whole line of a format that this hornset does not know.
    #[error("found format {0}, expected at most {FORMAT}: a newer hornset wrote it")]
    Newer(u32),
    /// A whole line that is no entry.
    #[error("found no entry of format {FORMAT}: {0}")]
    NoEntry(String),
}

#[derive(Deserialize)]
struct Head {
    v: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Whole {
    #[allow(dead_code, reason = "read by Head already")]
    v: u32,
    n: u64,
    at: String,
    what: What,
    #[allow(dead_code, reason = "compared before")]
    check: String,
}

#[derive(Serialize)]
struct Body<'a> {
    v: u32,
    n: u64,
    at: &'a str,
    what: &'a What,
}

/// The line of an entry, with its end.
pub fn write(entry: &Entry) -> Result<String, LineFault> {
    let body = Body {
        v: FORMAT,
        n: entry.n,
        at: &entry.at,
        what: &entry.what,
    };
    let mut text =
        serde_json::to_string(&body).map_err(|error| LineFault::NoEntry(error.to_string()))?;
    text.pop();
    let check = check_of(text.as_bytes());
    text.push_str(&format!("{CHECK}{check}\"}}\n"));
    Ok(text)
}

/// The entry of a line, without its end.
pub fn read(line: &[u8]) -> Result<Entry, LineFault> {
    let text = std::str::from_utf8(line).map_err(|_| LineFault::NotText)?;
    let (body, rest) = text.rsplit_once(CHECK).ok_or(LineFault::NoCheck)?;
    let found = rest.strip_suffix("\"}").ok_or(LineFault::NoCheck)?;
    let is_check = |it: &str| it.len() == CHECK_DIGITS && it.bytes().all(|b| b.is_ascii_hexdigit());
    if !is_check(found) {
        return Err(LineFault::NoCheck);
    }
    let expected = check_of(body.as_bytes());
    if found != expected {
        return Err(LineFault::WrongCheck {
            found: found.to_owned(),
            expected,
        });
    }
    let no_entry = |error: serde_json::Error| LineFault::NoEntry(error.to_string());
    let head: Head = serde_json::from_str(text).map_err(no_entry)?;
    if head.v > FORMAT {
        return Err(LineFault::Newer(head.v));
    }
    if head.v == 0 {
        return Err(LineFault::NoEntry("there was never a format 0".into()));
    }
    let whole: Whole = serde_json::from_str(text).map_err(no_entry)?;
    let entry = Entry {
        n: whole.n,
        at: whole.at,
        what: whole.what,
    };
    entry
        .fault()
        .map_or(Ok(entry), |why| Err(LineFault::NoEntry(why)))
}

fn check_of(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    digest[..CHECK_DIGITS / 2]
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::JointKind;
    use crate::calibration::logbook::{JointName, MarkKind, Side};

    fn mark() -> Entry {
        Entry {
            n: 17,
            at: "2026-03-14T10:22:05Z".into(),
            what: What::Mark {
                joint: JointName::new("LF", JointKind::Femur),
                pulse_us: 1612.5,
                from: Some(Side::Below),
                angle_deg: 11.8,
                placing: None,
                by: MarkKind::Absolute,
            },
        }
    }

    /// The check of this line was computed with Python's hashlib, from the rule above.
    #[test]
    fn a_mark_is_this_very_line() {
        let line = write(&mark()).expect("it can be written");
        assert_eq!(
            line,
            "{\"v\":1,\"n\":17,\"at\":\"2026-03-14T10:22:05Z\",\"what\":{\"kind\":\"mark\",\
             \"joint\":\"LF femur\",\"pulse_us\":1612.5,\"from\":\"below\",\"angle_deg\":11.8,\
             \"by\":\"absolute\"},\"check\":\"c1ea48c6\"}\n"
        );
        assert_eq!(read(line.trim_end().as_bytes()), Ok(mark()));
    }

    #[test]
    fn no_single_changed_byte_and_no_cut_line_is_taken_for_an_entry() {
        let line = write(&mark()).expect("it can be written");
        let line = line.trim_end().as_bytes();
        for at in 0..line.len() {
            assert!(read(&line[..at]).is_err(), "cut at {at}");
            for flip in [0x01, 0x20, 0x80] {
                let mut bad = line.to_vec();
                bad[at] ^= flip;
                assert!(read(&bad).is_err(), "byte {at} with {flip:#x}");
            }
        }
    }

    fn sealed(body: &str) -> String {
        format!("{body}{CHECK}{}\"}}", check_of(body.as_bytes()))
    }

    #[test]
    fn a_newer_line_is_known_for_one_and_an_unknown_word_is_named() {
        let newer = sealed("{\"v\":2,\"n\":1,\"at\":\"soon\",\"else\":true");
        assert_eq!(read(newer.as_bytes()), Err(LineFault::Newer(2)));
        let odd = sealed(
            "{\"v\":1,\"n\":1,\"at\":\"2026-03-14T10:22:05Z\",\"what\":{\"kind\":\"guess\"}",
        );
        let Err(LineFault::NoEntry(why)) = read(odd.as_bytes()) else {
            panic!("it was taken for an entry");
        };
        assert!(why.contains("guess"), "{why}");
    }
}
