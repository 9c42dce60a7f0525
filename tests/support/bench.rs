//! The emulated board with the host's end of the line: bytes put together to lines, edges to pulses.
//!
//! Every line from the board is checked as it comes: a wrong check or a strange byte ends the test.

#![allow(dead_code)] // every test file uses its own part of this

use crate::emulator::{CYCLES_PER_US, Counts, Emulator, Mode, Report, firmware};
use crate::pulses::Pulses;
use crate::vector_file::{crc, with_check};
use std::path::Path;

/// One line from the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Without check and end.
    pub body: String,
    /// Cycle at which its first byte began on the wire.
    pub begun: u64,
    /// Cycle at which its LF had been sent.
    pub ended: u64,
}

/// What one byte from the board takes on the wire at 250000.
const BYTE_CYCLES: u64 = 640;

/// Twenty-four pins on the ports A, C, D, G, J, L, E and H: neighbours on one port and far apart, none of them
/// an analog input's copper.
pub const PINS: [u8; 24] = [
    22, 23, 24, 25, 37, 36, 35, 34, 21, 20, 41, 40, 14, 15, 49, 48, 47, 46, 2, 3, 5, 6, 7, 16,
];

/// Half a microsecond as the protocol writes it.
pub fn width_text(ticks: u64) -> String {
    if ticks.is_multiple_of(2) {
        format!("{}", ticks / 2)
    } else {
        format!("{}.5", ticks / 2)
    }
}

/// A board with firmware and the host's end of the line.
pub struct Bench {
    pub chip: Emulator,
    /// All lines so far.
    pub lines: Vec<Line>,
    /// All pulses so far.
    pub pulses: Pulses,
    /// What each pin has become, in order.
    pub modes: Vec<(u64, u8, Mode)>,
    /// Cycles at which an LF was complete at the receiver.
    pub line_ends: Vec<u64>,
    /// Cycles and causes of resets.
    pub resets: Vec<(u64, String)>,
    pub overruns: u64,
    part: Vec<u8>,
    part_begun: u64,
    tag: u16,
}

impl Bench {
    /// Powers the firmware up and does not wait for anything.
    pub fn power(options: &[&str]) -> Bench {
        Bench::power_with(&firmware(), options)
    }

    /// The same with another build of it.
    pub fn power_with(elf: &Path, options: &[&str]) -> Bench {
        Bench {
            chip: Emulator::start(elf, options),
            lines: Vec::new(),
            pulses: Pulses::default(),
            modes: Vec::new(),
            line_ends: Vec::new(),
            resets: Vec::new(),
            overruns: 0,
            part: Vec::new(),
            part_begun: 0,
            tag: 0,
        }
    }

    /// Powers up and waits for `event ready`.
    pub fn ready(options: &[&str]) -> Bench {
        Bench::ready_with(&firmware(), options)
    }

    /// The same with another build of the firmware.
    pub fn ready_with(elf: &Path, options: &[&str]) -> Bench {
        let mut bench = Bench::power_with(elf, options);
        bench.until(500_000, |bench| {
            bench
                .lines
                .iter()
                .any(|line| line.body.starts_with("event ready "))
        });
        bench
    }

    /// Lets time pass.
    pub fn run_us(&mut self, us: u64) {
        let Bench {
            chip,
            lines,
            pulses,
            modes,
            line_ends,
            resets,
            overruns,
            part,
            part_begun,
            ..
        } = self;
        chip.run_us(us, |report| {
            pulses.take(&report);
            match report {
                Report::Tx { cycle, byte } => {
                    if part.is_empty() {
                        *part_begun = cycle - BYTE_CYCLES;
                    }
                    if byte == b'\n' {
                        let line = std::mem::take(part);
                        lines.push(Line {
                            body: body_of(&line),
                            begun: *part_begun,
                            ended: cycle,
                        });
                    } else {
                        part.push(byte);
                    }
                }
                Report::Rx { cycle, byte: b'\n' } => line_ends.push(cycle),
                Report::Rx { .. } | Report::RxError { .. } | Report::Edge { .. } => {}
                Report::Mode { cycle, pin, mode } => modes.push((cycle, pin, mode)),
                Report::Overrun { .. } => *overruns += 1,
                Report::Reset { cycle, cause } => {
                    part.clear(); // a reset cuts the line that was being sent
                    resets.push((cycle, cause));
                }
                other => panic!("unexpected on a bench at 250000: {other:?}"),
            }
        });
    }

    /// Runs millisecond by millisecond until the condition holds; fails after the deadline.
    pub fn until(&mut self, deadline_us: u64, mut done: impl FnMut(&Bench) -> bool) {
        let end = self.chip.cycle + deadline_us * CYCLES_PER_US;
        while !done(self) {
            assert!(
                self.chip.cycle < end,
                "nothing within {deadline_us} us; the last lines: {:?}",
                self.last_lines()
            );
            self.run_us(1000);
        }
    }

    fn last_lines(&self) -> Vec<&str> {
        self.lines
            .iter()
            .rev()
            .take(5)
            .map(|line| line.body.as_str())
            .collect()
    }

    /// Runs until this simulated cycle.
    pub fn run_to(&mut self, cycle: u64) {
        let us = cycle.saturating_sub(self.chip.cycle) / CYCLES_PER_US;
        self.run_us(us);
    }

    /// Queues a line with its right check.
    pub fn send(&mut self, body: &str) {
        self.chip.send(&with_check(body));
    }

    /// Sends a line and gives the answer's words after its tag.
    pub fn ask(&mut self, body: &str) -> String {
        let from = self.lines.len();
        self.send(body);
        let answer = |bench: &Bench| {
            bench.lines[from..]
                .iter()
                .find(|line| !line.body.starts_with("event "))
                .map(|line| line.body.clone())
        };
        self.until(500_000, |bench| answer(bench).is_some());
        answer(self).expect("it has come")
    }

    /// Sends a change under the next tag; it must be done. Gives the fields.
    pub fn change(&mut self, words: &str) -> String {
        self.tag = self.tag % 65535 + 1;
        let tag = self.tag;
        let answer = self.ask(&format!("{tag} {words}"));
        let fields = answer.strip_prefix(&format!("{tag} done"));
        fields
            .unwrap_or_else(|| panic!("`{words}` was answered `{answer}`"))
            .trim_start()
            .to_string()
    }

    /// The next tag, for lines that the test makes itself.
    pub fn next_tag(&mut self) -> u16 {
        self.tag = self.tag % 65535 + 1;
        self.tag
    }

    /// A reset loses the board's last tag, and the host may begin anew.
    pub fn restart_tags(&mut self) {
        self.tag = 0;
    }

    /// The value of one of `sense`'s counts.
    pub fn sense(&mut self, key: &str) -> u64 {
        let answer = self.ask("sense");
        field(&answer, key).parse().expect("a number")
    }

    /// The emulator's counts.
    pub fn counts(&mut self, restart: bool) -> (Counts, Vec<(u8, u64)>) {
        self.chip.stats(restart)
    }

    /// Widens a pin's guard to all there is and wakes it; waits until its pulses come.
    pub fn wake(&mut self, pin: u8, us: &str) {
        self.change(&format!("guard {pin} 500 2500"));
        self.change(&format!("wake {pin} {us}"));
        let event = format!("event awake pin={pin}");
        self.until(2_000_000, |bench| {
            bench.lines.iter().any(|line| line.body == event)
        });
    }
}

/// `key=value` in a line.
pub fn field<'a>(body: &'a str, key: &str) -> &'a str {
    body.split(' ')
        .find_map(|word| {
            word.strip_prefix(key)
                .and_then(|rest| rest.strip_prefix('='))
        })
        .unwrap_or_else(|| panic!("no {key}= in `{body}`"))
}

fn body_of(line: &[u8]) -> String {
    let text =
        std::str::from_utf8(line).unwrap_or_else(|_| panic!("not ASCII from the board: {line:?}"));
    let (body, check) = text
        .rsplit_once(';')
        .unwrap_or_else(|| panic!("no check from the board: `{text}`"));
    assert_eq!(
        check,
        format!("{:04X}", crc(body.as_bytes())),
        "wrong check from the board: `{text}`"
    );
    assert!(
        line.len() < 255,
        "{} bytes with the end: `{text}`",
        line.len() + 1
    );
    body.to_string()
}
