//! The main loop is lost: the pulses end whole, the watchdog restarts the chip, and the board says why.
#![cfg(feature = "emulated")]

#[path = "support/bench.rs"]
mod bench;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pulses.rs"]
mod pulses;
#[path = "support/vector_file.rs"]
mod vector_file;

use bench::{Bench, field};
use emulator::CYCLES_PER_US;

/// Hangs with a pin awake, and gives the `event ready` that follows. `how` is the harness's command.
fn hang(how: &str) -> String {
    let mut bench = Bench::ready(&[]);
    bench.wake(22, "1234.5");
    bench.run_us(200_000);
    let ready = bench.lines.len();
    let hung = bench.chip.cycle;
    bench.chip.command(how);
    bench.until(5_000_000, |bench| {
        bench.lines[ready..]
            .iter()
            .any(|line| line.body.starts_with("event ready "))
    });
    let (reset, cause) = bench.resets.last().expect("it was reset").clone();
    assert_eq!(cause, "watchdog");
    let after = (reset - hung) / CYCLES_PER_US;
    assert!(
        (2_000_000..2_200_000).contains(&after),
        "reset {after} us after the main loop was lost"
    );
    let pulses: Vec<_> = bench
        .pulses
        .finished
        .iter()
        .filter(|pulse| pulse.rise > hung)
        .collect();
    let last = pulses
        .last()
        .expect("pulses go on until the watchdog notices");
    let silent = (reset - last.fall()) / CYCLES_PER_US;
    assert!(
        (40_000..100_000).contains(&silent),
        "the last pulse ended {silent} us before the reset; it must not be the reset that ends it"
    );
    assert!(
        pulses.iter().all(|pulse| pulse.ticks() == Some(2469)),
        "a pulse of another width: {pulses:?}"
    );
    let line = bench.lines.last().expect("it has come");
    line.body.clone()
}

#[test]
fn a_lost_main_loop_ends_every_pulse_whole_and_starts_anew() {
    assert_eq!(field(&hang("hang"), "cause"), "watchdog");
}

#[test]
fn the_note_tells_of_the_watchdog_when_a_boot_loader_wiped_the_cause() {
    assert_eq!(field(&hang("hang cleared"), "cause"), "watchdog");
}
