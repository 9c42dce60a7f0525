//! A wrapper that writes every line that passes, with its time, to a trace.
//!
//! It changes nothing of what passes, and a trace that cannot be written never stops the link.

use std::io::Write;
use std::time::{Duration, Instant};

use super::codec::LINE_MAX;
use super::escape::shown;
use super::sight::SightHandle;
use super::transport::{Transport, TransportError};

/// A transport whose lines are written down: `   12.345678 > 7 beat;…`, `>` to the board.
pub struct Traced<T, W> {
    inner: T,
    trace: W,
    start: Instant,
    incoming: Vec<u8>,
}

impl<T: Transport, W: Write + Send> Traced<T, W> {
    /// Traces `inner`; times count from now.
    pub fn new(inner: T, trace: W) -> Traced<T, W> {
        Traced {
            inner,
            trace,
            start: Instant::now(),
            incoming: Vec::new(),
        }
    }

    fn note(&mut self, sign: char, bytes: &[u8]) {
        let seconds = self.start.elapsed().as_secs_f64();
        let bytes = bytes.strip_suffix(b"\n").unwrap_or(bytes);
        // A full disk must not stop a robot from being stopped.
        let _ = writeln!(self.trace, "{seconds:12.6} {sign} {}", shown(bytes));
    }
}

impl<T: Transport, W: Write + Send> Transport for Traced<T, W> {
    fn read(&mut self, buf: &mut [u8], timeout: Duration) -> Result<usize, TransportError> {
        let result = self.inner.read(buf, timeout);
        match &result {
            Ok(count) => {
                for &byte in &buf[..*count] {
                    if byte != b'\n' {
                        self.incoming.push(byte);
                    }
                    if byte == b'\n' || self.incoming.len() >= LINE_MAX {
                        let line = std::mem::take(&mut self.incoming);
                        self.note('<', &line);
                    }
                }
            }
            Err(error) => self.note('!', error.to_string().as_bytes()),
        }
        result
    }

    fn write(&mut self, line: &[u8]) -> Result<(), TransportError> {
        self.note('>', line);
        self.inner.write(line)
    }

    fn set_rate(&mut self, baud: u32) -> Result<(), TransportError> {
        self.note('=', format!("{baud} baud").as_bytes());
        self.inner.set_rate(baud)
    }

    fn name(&self) -> &str {
        self.inner.name()
    }

    fn clock(&mut self) -> Option<Duration> {
        self.inner.clock()
    }

    fn sight(&self) -> Option<SightHandle> {
        self.inner.sight()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Canned(Vec<&'static [u8]>);

    impl Transport for Canned {
        fn read(&mut self, buf: &mut [u8], _: Duration) -> Result<usize, TransportError> {
            let bytes = if self.0.is_empty() {
                &b""[..]
            } else {
                self.0.remove(0)
            };
            buf[..bytes.len()].copy_from_slice(bytes);
            Ok(bytes.len())
        }
        fn write(&mut self, _: &[u8]) -> Result<(), TransportError> {
            Ok(())
        }
        fn set_rate(&mut self, _: u32) -> Result<(), TransportError> {
            Ok(())
        }
        fn name(&self) -> &str {
            "canned"
        }
    }

    #[test]
    fn each_line_stands_once_escaped_whole_and_with_its_direction() {
        let mut trace = Vec::new();
        let mut link = Traced::new(Canned(vec![b"1 do", b"ne\n\x1b[2J\npart"]), &mut trace);
        link.set_rate(115_200).expect("rate");
        link.write(b"1 beat;F533\n").expect("write");
        let mut buf = [0; 64];
        for want in [4, 12, 0] {
            assert_eq!(link.read(&mut buf, Duration::ZERO).expect("read"), want);
        }
        let text = String::from_utf8(trace).expect("ASCII");
        let lines: Vec<&str> = text.lines().map(|l| &l[13..]).collect();
        assert_eq!(
            lines,
            ["= 115200 baud", "> 1 beat;F533", "< 1 done", "< \\x1b[2J"]
        );
    }

    #[test]
    fn a_flood_without_an_end_is_written_in_pieces() {
        let mut trace = Vec::new();
        let mut link = Traced::new(Canned(vec![&[b'x'; 600]]), &mut trace);
        link.read(&mut [0; 1000], Duration::ZERO).expect("read");
        assert_eq!(String::from_utf8(trace).expect("ASCII").lines().count(), 2);
    }
}
