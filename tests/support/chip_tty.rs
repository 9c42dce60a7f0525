//! The emulated board behind a pseudo-terminal, in real time, for tests that open it as a program would.
//!
//! Never judges what the chip does: it hands over the log of every edge and byte.

#![allow(dead_code)] // every test file uses its own part of this

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};

use crate::emulator::{CYCLES_PER_US, Report, harness, parse};

/// A running board; it ends with this value.
pub struct Chip {
    child: Child,
    /// Kept open: its end would end the emulator.
    commands: ChildStdin,
    /// The terminal to open.
    pub tty: String,
    log: PathBuf,
}

impl Chip {
    /// Powers a chip with this program; its log goes into the folder.
    pub fn start(folder: &Path, elf: &Path, options: &[&str]) -> Chip {
        let log = folder.join("board.log");
        let mut child = Command::new(harness())
            .arg(elf)
            .args(["--pty", "--log"])
            .arg(&log)
            .args(options)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the emulator was built and starts");
        let commands = child.stdin.take().expect("stdin is piped");
        let mut first = String::new();
        BufReader::new(child.stdout.take().expect("stdout is piped"))
            .read_line(&mut first)
            .expect("it prints where it is");
        let tty = first
            .trim_end()
            .strip_prefix("tty ")
            .unwrap_or_else(|| panic!("not a terminal: {first:?}"))
            .to_owned();
        Chip {
            child,
            commands,
            tty,
            log,
        }
    }

    /// Sends one command line to the emulator.
    pub fn command(&mut self, line: &str) {
        writeln!(self.commands, "{line}").expect("the emulator takes commands");
        self.commands.flush().expect("the emulator takes commands");
    }

    /// The log so far; a line that is half written yet is left out.
    fn log(&self) -> String {
        let mut text = std::fs::read_to_string(&self.log).unwrap_or_default();
        text.truncate(text.rfind('\n').map_or(0, |end| end + 1));
        text
    }

    /// Everything reported so far. `lag` is none of it: it tells of the machine, the chip's own time has no gap.
    pub fn reports(&self) -> Vec<Report> {
        let log = self.log();
        let lines = log.lines().filter(|line| !line.starts_with("lag "));
        lines.map(parse).collect()
    }

    /// The edges so far.
    pub fn edges(&self) -> Vec<Report> {
        let log = self.log();
        let lines = log.lines().filter(|line| line.starts_with("edge "));
        lines.map(parse).collect()
    }

    /// The share of time that the chip stood because the machine was too busy, from a cycle on to the last report.
    pub fn stood_still(&self, since: u64) -> f64 {
        let log = self.log();
        let words = |line: &str| -> Vec<u64> {
            line.split(' ')
                .filter_map(|word| word.parse().ok())
                .collect()
        };
        let lost_us: u64 = log
            .lines()
            .filter(|line| line.starts_with("lag "))
            .map(|line| match words(line)[..] {
                [cycle, us] if cycle >= since => us,
                [_, _] => 0,
                _ => panic!("not a report: {line}"),
            })
            .sum();
        let last = log.lines().last().map_or(0, |line| words(line)[0]);
        let passed_us = last.saturating_sub(since) / CYCLES_PER_US;
        lost_us as f64 / (lost_us + passed_us).max(1) as f64
    }
}

impl Drop for Chip {
    fn drop(&mut self) {
        // Our own child, by its handle; it may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
