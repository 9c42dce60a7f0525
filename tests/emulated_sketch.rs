//! The firmware built as a sketch, alone against the Debian core package: it must behave as the plain build does.
#![cfg(feature = "emulated")]

#[path = "support/bench.rs"]
mod bench;
#[path = "support/chip_vectors.rs"]
mod chip_vectors;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pulses.rs"]
mod pulses;
#[path = "support/vector_file.rs"]
mod vector_file;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The sketch's ELF, built once.
fn sketch() -> PathBuf {
    static ONCE: OnceLock<PathBuf> = OnceLock::new();
    let build = || {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sketch");
        let output = Command::new("sh")
            .arg(emulator::root().join("tests/sketch.sh"))
            .arg(&folder)
            .output()
            .expect("a shell starts");
        assert!(
            output.status.success(),
            "tests/sketch.sh failed:\n{}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr),
        );
        folder.join("firmware.elf")
    };
    ONCE.get_or_init(build).clone()
}

#[test]
fn the_sketch_answers_every_exchange_as_written() {
    chip_vectors::run_all(&sketch());
}

/// Link-time optimisation must not touch the edges: to the cycle, on ports below and above the reach of `out`.
#[test]
fn the_sketch_makes_exact_pulses() {
    let mut bench = bench::Bench::ready_with(&sketch(), &[]);
    let asked = [(22, "1612.5", 3225), (42, "500", 1000), (6, "2500", 5000)];
    for (pin, us, _) in asked {
        bench.wake(pin, us);
    }
    let from = bench.chip.cycle;
    bench.run_us(1_000_000);
    for (pin, _, ticks) in asked {
        let widths: Vec<u64> = bench
            .pulses
            .finished
            .iter()
            .filter(|pulse| pulse.pin == pin && pulse.rise > from)
            .map(|pulse| pulse.width)
            .collect();
        assert!(
            (49..=50).contains(&widths.len()),
            "pin {pin}: {} pulses in a second",
            widths.len()
        );
        assert!(
            widths.iter().all(|width| *width == 8 * ticks),
            "pin {pin}: {widths:?} cycles instead of {}",
            8 * ticks
        );
    }
    assert_eq!(bench.sense("late"), 0);
}
