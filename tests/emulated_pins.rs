//! Every printed pin of the emulated chip, each by itself: woken, it and no other copper carries its pulses.
//!
//! The harness knows which port bit is which printed pin from `tests/data/mega_pins.csv`, facts from the Debian
//! package arduino-core-avr; the firmware has a table of its own.
#![cfg(feature = "emulated")]

#[path = "support/bench.rs"]
mod bench;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pulses.rs"]
mod pulses;
#[path = "support/vector_file.rs"]
mod vector_file;

use bench::Bench;
use emulator::Mode;
use std::collections::BTreeSet;

/// A width of the pin's own, in ticks of half a microsecond.
fn ticks(pin: u8) -> u64 {
    2000 + 30 * u64::from(pin) + 1
}

#[test]
fn every_printed_pin_carries_its_own_pulse() {
    let mut bench = Bench::ready(&[]);
    bench.change("silence 2000 60000"); // 24 wakes take 1.4 s
    let all: Vec<u8> = (2..=69).collect();
    let mut done = BTreeSet::new();
    for group in all.chunks(24) {
        for &pin in group {
            bench.change(&format!("guard {pin} 500 2500"));
            bench.change(&format!("wake {pin} {}.5", ticks(pin) / 2));
        }
        let last = format!("event awake pin={}", group[group.len() - 1]);
        bench.until(3_000_000, |bench| {
            bench.lines.iter().any(|line| line.body == last)
        });
        bench.change("beat");
        bench.run_us(40_000);
        let from = bench.pulses.finished.len();
        bench.run_us(100_000);
        let seen = &bench.pulses.finished[from..];
        for pulse in seen {
            assert!(
                group.contains(&pulse.pin),
                "a pulse on pin {}, which is limp",
                pulse.pin
            );
            assert_eq!(pulse.ticks(), Some(ticks(pulse.pin)), "pin {}", pulse.pin);
        }
        for &pin in group {
            let count = seen.iter().filter(|pulse| pulse.pin == pin).count();
            assert!(
                (4..=6).contains(&count),
                "pin {pin}: {count} pulses in 5 frames"
            );
            let mode = bench.modes.iter().rev().find(|mode| mode.1 == pin);
            assert_eq!(mode.map(|mode| mode.2), Some(Mode::Output), "pin {pin}");
            done.insert(pin);
        }
        assert_eq!(bench.ask("limp"), "done");
        bench.run_us(40_000);
        let from = bench.pulses.finished.len();
        bench.run_us(60_000);
        assert_eq!(bench.pulses.finished.len(), from, "pulses after limp");
    }
    assert_eq!(done.len(), 68);
    let strangers: Vec<_> = bench
        .modes
        .iter()
        .filter(|(_, pin, mode)| *mode != Mode::Output && (2..=69).contains(pin))
        .collect();
    assert!(
        strangers.is_empty(),
        "limp leaves a low output, and these became something else: {strangers:?}"
    );
}
