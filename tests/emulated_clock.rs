//! A host that lives by the emulated chip's clock: the real console, whose every time runs as fast as the chip's.
#![cfg(all(feature = "emulated", target_os = "linux"))]

#[path = "support/chip_tty.rs"]
mod chip_tty;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pty.rs"]
mod pty;

use std::path::Path;
use std::time::{Duration, Instant};

use chip_tty::Chip;
use emulator::CYCLES_PER_US;
use pty::Console;
use rustix::process::Signal;

/// How many times as fast as the clock on the wall the chip's time runs, if the machine can.
const PACE: u32 = 10;
/// How long the chip may take to show what is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// The console beside the board, LF femur awake.
fn awake(folder: &Path) -> (Chip, Console) {
    let plan = pty::plan_in(folder);
    let chip = Chip::start_with_clock(folder, &emulator::firmware(), PACE, &[]);
    let args = ["--port", &chip.tty, "--file", &plan];
    let console = Console::start_in(&chip.clock_variables(), &args, folder, 80, 24);
    console.see("── Home");
    console.press("i", "Enter:");
    console.press("w", "It will jump to this pulse at full speed");
    console.press("<Enter>", "1 awake");
    (chip, console)
}

/// The cycles at which lines with this in them had arrived, on the chip's side or from it.
fn lines(chip: &Chip, from_chip: bool, what: &str) -> Vec<u64> {
    let all = chip.lines(from_chip);
    let wanted = all.iter().filter(|(_, line)| line.contains(what));
    wanted.map(|(cycle, _)| *cycle).collect()
}

#[test]
fn the_consoles_times_are_the_chips() {
    let folder = pty::folder();
    let (chip, console) = awake(folder.path());
    console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    // Three seconds of the chip's are a third of one on the wall; three on the wall would be thirty of the chip's.
    let before = chip.now_us();
    console.press_and_pass("W", "Hands away. LF wakes in");
    let after = chip.now_us();
    console.see("3 awake");
    let woken = lines(&chip, false, " wake 22")[0] / CYCLES_PER_US;
    let (most_ms, least_ms) = (
        woken.saturating_sub(before) / 1000,
        woken.saturating_sub(after) / 1000,
    );
    println!("counted for {least_ms} to {most_ms} ms");
    assert!(most_ms >= 3000, "{most_ms} ms");
    assert!(least_ms < 15_000, "{least_ms} ms");
    // The silence clock was fed all the time.
    assert_eq!(lines(&chip, true, "by=silence"), []);
}

#[test]
fn the_chip_waits_for_a_host_that_is_held_up_for_a_moment_and_for_no_other() {
    let folder = pty::folder();
    let (chip, console) = awake(folder.path());
    let stop = |wall: Duration| {
        console.signal(Signal::STOP);
        std::thread::sleep(wall);
        console.signal(Signal::CONT);
    };
    // Two seconds of a chip that would not wait, four times its silence time.
    let before = chip.now_us();
    stop(Duration::from_millis(200));
    let passed_ms = (chip.now_us() - before) / 1000;
    println!("{passed_ms} ms passed for the chip");
    let later = chip.now_us() + 1_000_000;
    until("a second", || chip.now_us() > later);
    assert_eq!(lines(&chip, true, "by=silence"), []);
    stop(Duration::from_secs(5));
    until("silence", || {
        !lines(&chip, true, "event frozen n=1 by=silence").is_empty()
    });
}

#[track_caller]
fn until(what: &str, done: impl Fn() -> bool) {
    let deadline = Instant::now() + PATIENCE;
    while !done() {
        assert!(Instant::now() < deadline, "{what} did not happen");
        std::thread::sleep(Duration::from_millis(20));
    }
}
