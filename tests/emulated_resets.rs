//! Resets as the host sees them: cause, boot count, id, `event ready`, and everything limp and untouched.
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
use emulator::{Cause, Mode};
use std::collections::BTreeSet;

const ALL: [Cause; 4] = [
    Cause::Power,
    Cause::Brownout,
    Cause::Watchdog,
    Cause::External,
];

/// Resets, and gives the new `event ready`.
fn reset(bench: &mut Bench, cause: Cause, cleared: bool) -> String {
    let from = bench.lines.len();
    bench.chip.reset(cause, cleared);
    bench.restart_tags();
    let ready = |bench: &Bench| bench.lines[from..].first().map(|line| line.body.clone());
    bench.until(1_000_000, |bench| ready(bench).is_some());
    let ready = ready(bench).expect("it has come");
    assert!(
        ready.starts_with("event ready "),
        "the first line after a reset: {ready}"
    );
    ready
}

/// Long enough for the start to be counted.
fn settle(bench: &mut Bench) {
    bench.run_us(2_300_000);
}

fn boot(ready: &str) -> u64 {
    field(ready, "boot").parse().expect("a number")
}

#[test]
fn every_cause_is_told_and_every_start_is_counted() {
    let mut bench = Bench::ready(&[]);
    let first = bench.lines[0].body.clone();
    assert_eq!((boot(&first), field(&first, "cause")), (1, "power"));
    let id = field(&first, "id").to_string();
    for round in 0..3u64 {
        for (place, cause) in ALL.into_iter().enumerate() {
            settle(&mut bench);
            let before: u64 = field(&bench.ask("hello"), "up_ms")
                .parse()
                .expect("a number");
            assert!(before > 2_000, "{before} ms up");
            let ready = reset(&mut bench, cause, false);
            assert_eq!(field(&ready, "cause"), cause.word());
            assert_eq!(boot(&ready), 2 + round * 4 + place as u64);
            assert_eq!(field(&ready, "id"), id);
            assert!(
                field(&ready, "up_ms").parse::<u64>().expect("a number") < 100,
                "{ready}"
            );
            assert_eq!((field(&ready, "last"), field(&ready, "frozen")), ("0", "0"));
        }
    }
}

#[test]
fn a_start_is_counted_after_two_seconds_and_only_at_a_sound_supply() {
    let mut bench = Bench::ready(&[]);
    settle(&mut bench);
    // Down again before two seconds: the same number comes once more.
    for _ in 0..5 {
        assert_eq!(boot(&reset(&mut bench, Cause::Brownout, false)), 2);
        bench.run_us(1_900_000);
    }
    // Long enough, but the supply is down.
    bench.chip.command("vcc 4000");
    assert_eq!(boot(&reset(&mut bench, Cause::Brownout, false)), 2);
    bench.run_us(5_000_000);
    assert_eq!(boot(&reset(&mut bench, Cause::Brownout, false)), 2);
    // It comes up, and the start is counted.
    bench.run_us(3_000_000);
    bench.chip.command("vcc 5000");
    bench.run_us(1_000_000);
    assert_eq!(boot(&reset(&mut bench, Cause::External, false)), 3);
}

#[test]
fn the_ring_goes_round_and_the_count_goes_on() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("eeprom.bin");
    let path = file.to_str().expect("the path is text");
    let mut images = BTreeSet::new();
    for start in 1..=70u64 {
        let mut bench = Bench::ready(&["--eeprom", path]);
        assert_eq!(boot(&bench.lines[0].body), start);
        settle(&mut bench);
        assert_eq!(bench.chip.quit(), 0);
        images.insert(std::fs::read(&file).expect("the image was written"));
    }
    assert_eq!(images.len(), 70);
    // No cell is written at every start: that would wear it out (100,000 writes, data sheet 2549).
    let images: Vec<Vec<u8>> = images.into_iter().collect();
    let used = (0..4096)
        .filter(|at| images.iter().any(|image| image[*at] != images[0][*at]))
        .count();
    assert!(used >= 64, "the count lives in {used} cells only");
}

/// A reset in the middle of storing leaves the former count or the new one, never another.
#[test]
fn a_reset_while_the_count_is_stored_loses_at_most_that_start() {
    let mut bench = Bench::ready(&[]);
    settle(&mut bench);
    let mut counted = 1;
    for step in 0..40u64 {
        let number = boot(&reset(&mut bench, Cause::Brownout, false));
        assert!(
            number == counted + 1 || number == counted + 2,
            "{number} after {counted} were counted"
        );
        counted = number - 1;
        bench.run_us(1_950_000 + step * 5_000);
    }
    assert!(counted > 5, "some were counted, {counted}");
}

/// A boot loader may wipe the cause; then only a note in RAM can tell, else it is unknown.
#[test]
fn a_cause_that_a_boot_loader_wiped_is_known_by_a_note_or_is_unknown() {
    let mut bench = Bench::ready(&[]);
    settle(&mut bench);
    assert_eq!(
        field(&reset(&mut bench, Cause::External, true), "cause"),
        "unknown"
    );
    settle(&mut bench);
    // The supply went down before the reset: the board had noted it.
    bench.chip.command("vcc 4000");
    bench.run_us(200_000);
    assert_eq!(
        field(&reset(&mut bench, Cause::Brownout, true), "cause"),
        "brownout"
    );
    bench.chip.command("vcc 5000");
    settle(&mut bench);
    // The note counts once, and RAM that was lost has none.
    assert_eq!(
        field(&reset(&mut bench, Cause::External, true), "cause"),
        "unknown"
    );
    bench.chip.command("vcc 4000");
    bench.run_us(200_000);
    assert_eq!(
        field(&reset(&mut bench, Cause::Power, true), "cause"),
        "unknown"
    );
}

/// A reset in the middle of everything: limp, guards and all settings gone, pins floating until woken.
#[test]
fn after_a_reset_everything_is_limp_and_untouched() {
    for cause in ALL {
        let mut bench = Bench::ready(&[]);
        bench.wake(22, "2000");
        bench.wake(69, "700");
        bench.change("roster 22 69");
        bench.change("watch 50");
        bench.change("silence 2000 60000");
        bench.change("slew all 5000");
        bench.change("trip a0 3000 20 freeze");
        bench.ask("freeze");
        bench.run_us(100_000);
        reset(&mut bench, cause, false);
        let (edges, lines) = (bench.pulses.finished.len(), bench.lines.len());
        bench.run_us(3_000_000);
        assert_eq!(
            bench.pulses.finished.len(),
            edges,
            "{cause:?}: pulses after a reset"
        );
        assert_eq!(
            bench.lines.len(),
            lines,
            "{cause:?}: lines that nobody asked for"
        );
        for pin in [22, 69] {
            let mode = bench
                .modes
                .iter()
                .rev()
                .find(|(_, of, _)| *of == pin)
                .map(|(_, _, mode)| *mode);
            assert_eq!(mode, Some(Mode::Input), "{cause:?}: pin {pin}");
        }
        for (asked, answer) in [
            ("where", "done frozen=0"),
            ("guard 22", "done pin=22 low=1400 high=1600 set=no"),
            ("slew 22", "done pin=22 us_per_s=1000"),
            ("silence", "done freeze_ms=500 limp_ms=10000"),
            ("1 pose 0 1500 1500", "1 refused roster pins=0"),
            ("2 wake 54 1500", "2 done in_ms=20"),
        ] {
            assert_eq!(bench.ask(asked), answer, "{cause:?}: {asked}");
        }
    }
}

/// Pins are inputs without pull-up until they are woken, from the first instruction on.
#[test]
fn a_pin_that_was_never_woken_stays_an_input() {
    let mut bench = Bench::ready(&[]);
    bench.run_us(500_000);
    assert_eq!(bench.modes, []);
    bench.change("watch 50 a0 a1 a2 a3 a4 a5 a6 a7");
    bench.run_us(200_000);
    assert_eq!(bench.modes, []);
    for pin in 2..=69u8 {
        let before = bench.modes.len();
        if (54..=61).contains(&pin) {
            bench.change("watch 0");
        }
        bench.change(&format!("wake {pin} 1500"));
        bench.run_us(80_000);
        bench.ask(&format!("limp {pin}"));
        bench.run_us(40_000);
        let modes: Vec<(u8, Mode)> = bench.modes[before..]
            .iter()
            .map(|(_, pin, mode)| (*pin, *mode))
            .collect();
        assert_eq!(
            modes,
            [(pin, Mode::Output)],
            "an output, and a low one after limp"
        );
        assert_eq!(
            bench
                .pulses
                .finished
                .last()
                .map(|pulse| (pulse.pin, pulse.width)),
            Some((pin, 24_000))
        );
        assert!(bench.pulses.high().is_empty());
    }
}

/// Fresh RAM holds anything; the start does not care. Two boards draw two ids.
#[test]
fn a_start_does_not_lean_on_what_ram_holds() {
    let mut ids = BTreeSet::new();
    for seed in 1..=20 {
        let bench = Bench::ready(&["--seed", &seed.to_string()]);
        let ready = &bench.lines[0].body;
        assert_eq!(
            (boot(ready), field(ready, "cause")),
            (1, "power"),
            "seed {seed}"
        );
        ids.insert(field(ready, "id").to_string());
    }
    assert!(ids.len() >= 19, "{ids:?}");
}
