//! The exchanges of `protocol/vectors` on an ELF for the emulated chip, through its UART, on their grid of times.
//!
//! The rules, times included, are those of `protocol/vectors/README.md`. Which ELF is the caller's choice.

#![allow(dead_code)] // every test file uses its own part of this

use crate::bench::Bench;
use crate::emulator::{CYCLES_PER_FRAME, CYCLES_PER_US, root};
use crate::vector_file::{self, Act, Exchange, READY, fits};
use std::path::Path;

/// Cycles of one byte on the wire at 250000.
const BYTE: u64 = 640;
/// A grid point stands this long after a frame is built.
const AFTER_BUILD: u64 = 5_000 * CYCLES_PER_US;

fn is_ready(body: &str) -> bool {
    body.starts_with("event ready ")
}

/// From the end of `event ready` to the first frame built after it, modulo a frame: found as the README
/// says, by waking a pin and seeing when `event awake` begins (within a millisecond after the build).
pub fn phase(elf: &Path) -> u64 {
    let mut bench = Bench::ready_with(elf, &[]);
    let ready = bench.lines[0].ended;
    bench.change("wake 22 1500");
    bench.until(100_000, |bench| {
        bench
            .lines
            .iter()
            .any(|line| line.body == "event awake pin=22")
    });
    let awake = bench
        .lines
        .iter()
        .find(|line| line.body == "event awake pin=22")
        .expect("it has come");
    (awake.begun - ready) % CYCLES_PER_FRAME
}

struct Runner {
    bench: Bench,
    phase: u64,
    /// The next grid point.
    grid: u64,
    /// Lines before this one were compared.
    seen: usize,
}

impl Runner {
    fn start(elf: &Path, phase: u64) -> Result<Runner, String> {
        let mut runner = Runner {
            bench: Bench::ready_with(elf, &[]),
            phase,
            grid: 0,
            seen: 0,
        };
        runner.settle();
        let first = &runner.bench.lines[0].body;
        if runner.bench.lines.len() != 1 || !fits(READY, first) {
            return Err(format!(
                "the first line must be\n  {READY}\nand is\n  {first}"
            ));
        }
        runner.seen = 1;
        Ok(runner)
    }

    /// The first grid point at least one build after the last line, and with room for long bytes before it.
    fn settle(&mut self) {
        let ready = self.bench.lines.last().expect("event ready came").ended;
        self.grid = ready + self.phase + AFTER_BUILD + CYCLES_PER_FRAME;
        let before = self.grid - CYCLES_PER_FRAME;
        self.bench.run_to(before);
    }

    /// Runs to the next grid point; bytes of the next step are sent so that the first line in them ends just
    /// there (in most it is the only one, and its end the last byte).
    fn reach_grid(&mut self, next: Option<&[u8]>, damaged: bool) {
        if let Some(bytes) = next {
            let first_end = bytes
                .iter()
                .position(|byte| matches!(byte, b'\n' | b'\r'))
                .map_or(bytes.len(), |at| at + 1);
            let took = (first_end as u64 + u64::from(damaged)) * BYTE;
            // Aim half a millisecond late rather than early: a line that ends early belongs to another step.
            let begin = self.grid + 500 * CYCLES_PER_US - took;
            self.bench.run_to(begin);
            if damaged {
                self.bench.chip.command("error 00");
            }
            self.bench.chip.send(bytes);
        }
        self.bench.run_to(self.grid);
        self.grid += CYCLES_PER_FRAME;
    }

    fn take_lines(&mut self) -> Vec<String> {
        let lines = self.bench.lines[self.seen..]
            .iter()
            .map(|line| line.body.clone())
            .collect();
        self.seen = self.bench.lines.len();
        lines
    }

    fn reset(&mut self, cause: &str) {
        let from = self.bench.lines.len();
        self.bench.chip.command(&format!("reset {cause}"));
        self.bench.until(500_000, |bench| {
            bench.lines[from..].iter().any(|line| is_ready(&line.body))
        });
        self.settle();
    }
}

/// What happened after each statement, against what is written.
pub fn run(elf: &Path, exchange: &Exchange, phase: u64) -> Result<(), String> {
    let mut runner = Runner::start(elf, phase)?;
    let statements = &exchange.statements;
    // Bytes that the statements from here on send first, if that is what they do first.
    let coming = |from: usize| {
        let mut damaged = false;
        for statement in &statements[from..] {
            match &statement.act {
                Act::Send(bytes) => return (Some(bytes.as_slice()), damaged),
                Act::LineError => damaged = true,
                Act::Input(..) => {}
                Act::Wait(_) | Act::Reset(_) => return (None, false),
            }
        }
        (None, false)
    };
    let (bytes, damaged) = coming(0);
    runner.reach_grid(bytes, damaged);
    let early = runner.take_lines();
    if !early.is_empty() {
        return Err(format!("before its first statement came {early:?}"));
    }
    for (index, statement) in statements.iter().enumerate() {
        let (bytes, damaged) = coming(index + 1);
        match &statement.act {
            Act::Send(_) => runner.reach_grid(bytes, damaged),
            Act::Wait(ms) => {
                for left in (0..ms / 20).rev() {
                    if left == 0 {
                        runner.reach_grid(bytes, damaged)
                    } else {
                        runner.reach_grid(None, false)
                    }
                }
            }
            Act::LineError => continue,
            Act::Input(number, millivolts) => {
                runner
                    .bench
                    .chip
                    .command(&format!("input a{number} {millivolts}"));
                continue;
            }
            Act::Reset(cause) => {
                runner.reset(cause);
                runner.reach_grid(bytes, damaged);
            }
        }
        let lines = runner.take_lines();
        for place in 0..lines.len().max(statement.expected.len()) {
            let expected = statement.expected.get(place);
            let came = lines.get(place);
            let same = matches!((expected, came), (Some((_, expected)), Some(came)) if fits(expected, came));
            if !same {
                let line = expected.map_or(statement.line, |(line, _)| *line);
                return Err(format!(
                    "line {line}\n  expected: {}\n  came:     {}",
                    expected.map_or("no line", |(_, body)| body),
                    came.map_or("no line", String::as_str),
                ));
            }
        }
    }
    Ok(())
}

/// Runs every exchange on this ELF; all must be answered as written.
pub fn run_all(elf: &Path) {
    let exchanges = vector_file::read_all(&root().join("protocol/vectors"))
        .unwrap_or_else(|fault| panic!("{fault}"));
    assert!(
        exchanges.len() >= 150,
        "{} exchanges, at least 150 were promised",
        exchanges.len()
    );
    let phase = phase(elf);
    let mut faults = Vec::new();
    for exchange in &exchanges {
        if let Err(fault) = run(elf, exchange, phase) {
            faults.push(format!(
                "{}:{}: exchange {}: {fault}",
                exchange.file, exchange.line, exchange.name
            ));
        }
    }
    assert!(
        faults.is_empty(),
        "{} of {} exchanges failed:\n{}",
        faults.len(),
        exchanges.len(),
        faults.join("\n")
    );
}
