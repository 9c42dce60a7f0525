//! Makes bytes from outside fit to be shown: a serial port and a USB name are outside.
//!
//! It never lets a control byte, an escape sequence or anything but printable ASCII through,
//! so nothing a board sends can move a cursor, set a title or hide text.

/// The most bytes of one piece that are shown; what is cut is counted.
pub const SHOWN_MOST: usize = 255;

/// `bytes` as printable ASCII: everything else as `\xNN`, a backslash doubled.
///
/// At most [`SHOWN_MOST`] bytes of the input are shown; then ` (N bytes more)` follows.
pub fn shown(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().min(SHOWN_MOST));
    for &byte in bytes.iter().take(SHOWN_MOST) {
        match byte {
            b'\\' => text.push_str("\\\\"),
            0x20..=0x7e => text.push(char::from(byte)),
            _ => text.push_str(&format!("\\x{byte:02x}")),
        }
    }
    if bytes.len() > SHOWN_MOST {
        text.push_str(&format!(" ({} bytes more)", bytes.len() - SHOWN_MOST));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_text_stays_and_a_backslash_cannot_pretend() {
        assert_eq!(shown(b"7 done n=3;41AB"), "7 done n=3;41AB");
        assert_eq!(shown(b"\\x1b"), "\\\\x1b");
    }

    #[test]
    fn escape_sequences_c1_and_utf8_come_out_as_hex() {
        assert_eq!(shown(b"\x1b]0;title\x07"), "\\x1b]0;title\\x07");
        assert_eq!(shown(b"\x9b31m"), "\\x9b31m");
        assert_eq!(shown("\u{9b}".as_bytes()), "\\xc2\\x9b");
        assert_eq!(shown("\u{202e}é".as_bytes()), "\\xe2\\x80\\xae\\xc3\\xa9");
        assert_eq!(shown(b"\r\n\t\x7f\0"), "\\x0d\\x0a\\x09\\x7f\\x00");
    }

    #[test]
    fn every_byte_comes_out_printable() {
        for byte in 0..=255u8 {
            let text = shown(&[byte]);
            assert!(
                text.bytes().all(|b| (0x20..=0x7e).contains(&b)),
                "{byte:#x} became {text:?}"
            );
        }
    }

    #[test]
    fn a_long_line_is_cut_and_says_by_how_much() {
        let text = shown(&[b'a'; 1000]);
        assert_eq!(text, format!("{} (745 bytes more)", "a".repeat(255)));
    }
}
