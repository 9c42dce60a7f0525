//! The emulated board as a process: builds it with `make`, speaks its commands, reads its reports.
//!
//! Never judges what it reads, and never passes in silence: without the tools every test that asks for
//! the emulator fails and says what to install.

#![allow(dead_code)] // every test file uses its own part of this

use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::OnceLock;

/// Cycles of the emulated chip in a microsecond.
pub const CYCLES_PER_US: u64 = 16;
/// Cycles of one tick of half a microsecond, the resolution of a pulse.
pub const CYCLES_PER_TICK: u64 = 8;
/// Cycles in a frame of 20 ms.
pub const CYCLES_PER_FRAME: u64 = 320_000;

const PACKAGES: &str = "gcc-avr avr-libc binutils-avr libsimavr-dev libelf-dev gcc make";

/// One line that the emulator reported.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Report {
    /// A printed pin went high or low.
    Edge { cycle: u64, pin: u8, high: bool },
    /// A printed pin became an input, an input with pull-up, or an output.
    Mode { cycle: u64, pin: u8, mode: Mode },
    /// A byte was complete at the host, its stop bit ended.
    Tx { cycle: u64, byte: u8 },
    /// A byte was complete at the chip's receiver.
    Rx { cycle: u64, byte: u8 },
    /// As `Rx`, with a framing error.
    RxError { cycle: u64, byte: u8 },
    /// A byte that one side could not understand, the rates being too far apart.
    Garbled { cycle: u64, to_host: bool },
    /// The receiver lost a byte because nobody read the earlier ones.
    Overrun { cycle: u64 },
    /// The chip was reset.
    Reset { cycle: u64, cause: String },
    /// The program on the chip ran into nothing.
    Crash { cycle: u64, pc: String },
    /// Counts, asked for by `stats`.
    Stats { cycle: u64, counts: Counts },
    /// The longest run of one interrupt routine, with its entry, in cycles.
    Interrupt { vector: u8, cycles: u64 },
}

/// What a pin is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Input, floating.
    Input,
    /// Input with pull-up.
    PullUp,
    /// Output.
    Output,
}

/// The counts of `stats`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Bytes complete at the receiver.
    pub received: u64,
    /// Bytes sent whole.
    pub sent: u64,
    /// Bytes lost at the receiver.
    pub overruns: u64,
    /// Cycles from complete to read, the worst byte since the last `stats restart`.
    pub worst_wait: u64,
    /// Cycles in which the transmitter idled since the last `stats restart`.
    pub idle: u64,
    /// Host bytes that are not complete yet.
    pub queued: u64,
    /// The longest stretch with interrupts off outside of interrupt routines, in cycles.
    pub longest_off: u64,
}

/// A reset's cause, as the chip's flags tell it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Power-on: RAM is lost.
    Power,
    /// Brown-out.
    Brownout,
    /// Watchdog.
    Watchdog,
    /// The reset pin.
    External,
}

impl Cause {
    /// The word in commands and reports.
    pub fn word(self) -> &'static str {
        match self {
            Cause::Power => "power",
            Cause::Brownout => "brownout",
            Cause::Watchdog => "watchdog",
            Cause::External => "external",
        }
    }
}

/// The project's root.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn make(folder: &str, arguments: &[&str]) {
    let output = Command::new("make")
        .arg("-C")
        .arg(root().join(folder))
        .args(arguments)
        .output()
        .unwrap_or_else(|error| {
            panic!("make does not start ({error}). Install the Debian packages: {PACKAGES}")
        });
    assert!(
        output.status.success(),
        "make -C {folder} {arguments:?} failed.\nWhen a compiler or header is missing, install the Debian packages: {PACKAGES}\n{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr),
    );
}

/// The harness, built once per test program.
pub fn harness() -> PathBuf {
    static ONCE: OnceLock<()> = OnceLock::new();
    ONCE.get_or_init(|| make("tests/emulator", &[]));
    root().join("tests/emulator/build/hornset-emulator")
}

/// What is loaded into a host that lives by the chip's clock.
pub fn chip_time() -> PathBuf {
    harness();
    root().join("tests/emulator/build/chip-time.so")
}

/// One of the little programs of `tests/emulator/programs`.
pub fn program(name: &str) -> PathBuf {
    harness();
    root().join(format!("tests/emulator/build/{name}.elf"))
}

/// The firmware, built once per test program.
pub fn firmware() -> PathBuf {
    static ONCE: OnceLock<()> = OnceLock::new();
    ONCE.get_or_init(|| make("protocol/firmware", &[]));
    root().join("protocol/firmware/build/hornset-mega2560.elf")
}

/// The firmware with a lead of 20 ticks where 48 are needed: known wrong.
pub fn firmware_with_short_lead() -> PathBuf {
    let elf = "build/lead-20/build/hornset-mega2560.elf";
    static ONCE: OnceLock<()> = OnceLock::new();
    ONCE.get_or_init(|| make("tests/emulator", &[elf]));
    root().join("tests/emulator").join(elf)
}

/// A running emulator in step mode: time passes only in `run_us`.
pub struct Emulator {
    child: Child,
    commands: BufWriter<ChildStdin>,
    reports: BufReader<ChildStdout>,
    line: Vec<u8>,
    /// The chip's cycle at the end of the last run.
    pub cycle: u64,
}

impl Emulator {
    /// Powers a chip with this program.
    pub fn start(elf: &Path, options: &[&str]) -> Emulator {
        let mut child = Command::new(harness())
            .arg(elf)
            .arg("--step")
            .args(options)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the emulator was built and starts");
        let commands =
            BufWriter::with_capacity(1 << 16, child.stdin.take().expect("stdin is piped"));
        let reports =
            BufReader::with_capacity(1 << 16, child.stdout.take().expect("stdout is piped"));
        Emulator {
            child,
            commands,
            reports,
            line: Vec::new(),
            cycle: 0,
        }
    }

    /// Sends one command line.
    pub fn command(&mut self, line: &str) {
        writeln!(self.commands, "{line}").expect("the emulator takes commands");
    }

    /// Queues bytes from the host, back to back.
    pub fn send(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(4096) {
            let hex: String = chunk.iter().map(|byte| format!("{byte:02X}")).collect();
            self.command(&format!("send {hex}"));
        }
    }

    /// Resets the chip; `cleared`: a boot loader wiped the cause.
    pub fn reset(&mut self, cause: Cause, cleared: bool) {
        self.command(&format!(
            "reset {}{}",
            cause.word(),
            if cleared { " cleared" } else { "" }
        ));
    }

    /// Lets time pass and hands over every report of it, in order.
    pub fn run_us(&mut self, us: u64, mut take: impl FnMut(Report)) {
        self.command(&format!("run {us}"));
        self.commands.flush().expect("the emulator takes commands");
        loop {
            self.line.clear();
            let n = self
                .reports
                .read_until(b'\n', &mut self.line)
                .expect("the emulator reports");
            let text = std::str::from_utf8(&self.line)
                .expect("reports are ASCII")
                .trim_end();
            assert!(
                n > 0,
                "the emulator ended in the middle of a run; its message is above"
            );
            if let Some(rest) = text.strip_prefix("now ") {
                self.cycle = rest.parse().expect("now has a cycle");
                return;
            }
            take(parse(text));
        }
    }

    /// As `run_us`, all reports in a list.
    pub fn run(&mut self, us: u64) -> Vec<Report> {
        let mut all = Vec::new();
        self.run_us(us, |report| all.push(report));
        all
    }

    /// The counts so far; with `restart`, `idle` and the worst times begin anew.
    pub fn stats(&mut self, restart: bool) -> (Counts, Vec<(u8, u64)>) {
        self.command(if restart { "stats restart" } else { "stats" });
        let (mut counts, mut interrupts) = (None, Vec::new());
        self.run_us(0, |report| match report {
            Report::Stats { counts: now, .. } => counts = Some(now),
            Report::Interrupt { vector, cycles } => interrupts.push((vector, cycles)),
            other => panic!("no time passed, yet there is {other:?}"),
        });
        (counts.expect("stats are answered"), interrupts)
    }

    /// Ends the emulator in good order (the EEPROM file is written) and gives its exit status.
    pub fn quit(mut self) -> i32 {
        self.command("quit");
        self.commands.flush().expect("the emulator takes commands");
        self.child
            .wait()
            .expect("the emulator ends")
            .code()
            .unwrap_or(-1)
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn number(word: Option<&str>, line: &str) -> u64 {
    word.and_then(|word| word.parse().ok())
        .unwrap_or_else(|| panic!("not a report: {line}"))
}

fn hex(word: Option<&str>, line: &str) -> u8 {
    word.and_then(|word| u8::from_str_radix(word, 16).ok())
        .unwrap_or_else(|| panic!("not a report: {line}"))
}

/// Reads one report line.
pub fn parse(line: &str) -> Report {
    let mut words = line.split(' ');
    let kind = words.next().unwrap_or_default();
    let cycle = number(words.next(), line);
    match kind {
        "edge" => Report::Edge {
            cycle,
            pin: number(words.next(), line) as u8,
            high: words.next() == Some("1"),
        },
        "tx" => Report::Tx {
            cycle,
            byte: hex(words.next(), line),
        },
        "rx" => Report::Rx {
            cycle,
            byte: hex(words.next(), line),
        },
        "rxerror" => Report::RxError {
            cycle,
            byte: hex(words.next(), line),
        },
        "garbled" => Report::Garbled {
            cycle,
            to_host: false,
        },
        "txgarbled" => Report::Garbled {
            cycle,
            to_host: true,
        },
        "overrun" => Report::Overrun { cycle },
        "mode" => {
            let pin = number(words.next(), line) as u8;
            let mode = match words.next() {
                Some("input") => Mode::Input,
                Some("pullup") => Mode::PullUp,
                Some("output") => Mode::Output,
                _ => panic!("not a report: {line}"),
            };
            Report::Mode { cycle, pin, mode }
        }
        "reset" => Report::Reset {
            cycle,
            cause: words.next().unwrap_or_default().to_string(),
        },
        "crash" => Report::Crash {
            cycle,
            pc: words.next().unwrap_or_default().to_string(),
        },
        "interrupt" => {
            let vector = number(words.next(), line) as u8;
            Report::Interrupt {
                vector,
                cycles: number(words.next(), line),
            }
        }
        "stats" => {
            let mut counts = Counts::default();
            for word in words {
                let (key, value) = word.split_once('=').unwrap_or((word, ""));
                let value = number(Some(value), line);
                match key {
                    "received" => counts.received = value,
                    "sent" => counts.sent = value,
                    "overruns" => counts.overruns = value,
                    "worst_wait" => counts.worst_wait = value,
                    "idle" => counts.idle = value,
                    "queued" => counts.queued = value,
                    "longest_off" => counts.longest_off = value,
                    _ => panic!("not a count: {word}"),
                }
            }
            Report::Stats { cycle, counts }
        }
        _ => panic!("not a report: {line}"),
    }
}
