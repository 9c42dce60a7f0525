//! The emulated board behind a pseudo-terminal, in real time, for tests that open it as a program would.
//!
//! Never judges what the chip does: it hands over the log of every edge and byte.

#![allow(dead_code)] // every test file uses its own part of this

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};

use crate::emulator::{Report, chip_time, harness, parse};

/// A running board; it ends with this value.
pub struct Chip {
    child: Child,
    /// Kept open: its end would end the emulator.
    commands: ChildStdin,
    /// The terminal to open.
    pub tty: String,
    log: PathBuf,
    /// Shared with a host that lives by the chip's clock.
    clock: PathBuf,
}

impl Chip {
    /// Powers a chip with this program; its log goes into the folder.
    pub fn start(folder: &Path, elf: &Path, options: &[&str]) -> Chip {
        let log = folder.join("board.log");
        let clock = folder.join("board.clock");
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
            clock,
        }
    }

    /// The same for a host that lives by the chip's clock, which runs at most `pace` times as fast as the one on the wall
    /// and waits for that host: see tests/emulator/README.md.
    pub fn start_with_clock(folder: &Path, elf: &Path, pace: u32, options: &[&str]) -> Chip {
        let (clock, pace) = (folder.join("board.clock"), pace.to_string());
        let clock = clock.to_str().expect("a path");
        Chip::start(
            folder,
            elf,
            &[&["--clock", clock, "--pace", &pace], options].concat(),
        )
    }

    /// What the host's surroundings must have so that it lives by the chip's clock.
    pub fn clock_variables(&self) -> [String; 2] {
        [
            format!("LD_PRELOAD={}", chip_time().display()),
            format!("HORNSET_CHIP_CLOCK={}", self.clock.display()),
        ]
    }

    /// The file of its reports.
    pub fn log_path(&self) -> &Path {
        &self.log
    }

    /// Microseconds of the chip's time since power-on, if it shares its clock.
    pub fn now_us(&self) -> u64 {
        let mut bytes = [0; 8];
        let page = std::fs::File::open(&self.clock);
        let read = page.and_then(|mut page| page.read_exact(&mut bytes));
        read.expect("it shares its clock");
        u64::from_ne_bytes(bytes)
    }

    /// Sends one command line to the emulator.
    pub fn command(&self, line: &str) {
        let mut commands = &self.commands;
        writeln!(commands, "{line}").expect("the emulator takes commands");
        commands.flush().expect("the emulator takes commands");
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

    /// The lines that went to the chip or came from it so far, with the cycle of each LF.
    pub fn lines(&self, from_chip: bool) -> Vec<(u64, String)> {
        lines(&self.reports(), from_chip)
    }

    /// The edges so far.
    pub fn edges(&self) -> Vec<Report> {
        let log = self.log();
        let lines = log.lines().filter(|line| line.starts_with("edge "));
        lines.map(parse).collect()
    }
}

impl Drop for Chip {
    fn drop(&mut self) {
        // Our own child, by its handle; it may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The lines that went to the chip or came from it, with the cycle of each LF.
pub fn lines(reports: &[Report], from_chip: bool) -> Vec<(u64, String)> {
    let (mut lines, mut part) = (Vec::new(), String::new());
    for report in reports {
        let (cycle, byte) = match *report {
            Report::Tx { cycle, byte } if from_chip => (cycle, byte),
            Report::Rx { cycle, byte } if !from_chip => (cycle, byte),
            _ => continue,
        };
        if byte == b'\n' {
            lines.push((cycle, std::mem::take(&mut part)));
        } else {
            part.push(char::from(byte));
        }
    }
    lines
}
