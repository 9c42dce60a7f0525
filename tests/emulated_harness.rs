//! The emulator harness measured against tiny programs whose timing is known by counting instructions,
//! and against programs that are known to be wrong: what it cannot catch here it would not catch in the
//! firmware either.
#![cfg(feature = "emulated")]

#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pulses.rs"]
mod pulses;

use emulator::{Cause, Emulator, Mode, Report, program};
use pulses::Pulses;
use std::collections::BTreeMap;

fn start(name: &str, options: &[&str]) -> Emulator {
    Emulator::start(&program(name), options)
}

fn sent(reports: &[Report]) -> Vec<u8> {
    reports
        .iter()
        .filter_map(|report| match report {
            Report::Tx { byte, .. } => Some(*byte),
            _ => None,
        })
        .collect()
}

fn stamps(reports: &[Report], to_host: bool) -> Vec<u64> {
    reports
        .iter()
        .filter_map(|report| match report {
            Report::Tx { cycle, .. } if to_host => Some(*cycle),
            Report::Rx { cycle, .. } if !to_host => Some(*cycle),
            _ => None,
        })
        .collect()
}

/// A loop of 24 cycles; an empty interrupt adds its entry (5: data sheet 2549, 7.7, three-byte program
/// counter), the vector's jmp (3) and reti (5): 13 and nothing else.
#[test]
fn an_interrupt_is_entered_in_five_cycles() {
    let mut chip = start("latency", &[]);
    let rises: Vec<u64> = chip
        .run(20_000)
        .iter()
        .filter_map(|report| match report {
            Report::Edge {
                cycle, high: true, ..
            } => Some(*cycle),
            _ => None,
        })
        .collect();
    let mut periods: BTreeMap<u64, usize> = BTreeMap::new();
    for pair in rises.windows(2) {
        *periods.entry(pair[1] - pair[0]).or_default() += 1;
    }
    assert_eq!(
        periods.keys().copied().collect::<Vec<_>>(),
        [24, 24 + 5 + 3 + 5]
    );
    assert!(
        periods[&37] > 200,
        "20 ms hold 258 interrupts of 1237 cycles, seen {}",
        periods[&37]
    );
}

/// Out of sleep the entry takes five cycles more, so the edge stands 13 cycles (5 + 5 + 3) after the wake.
#[test]
fn waking_from_sleep_costs_five_cycles_more() {
    let mut chip = start("sleeper", &[]);
    let rises: Vec<u64> = chip
        .run(10_000)
        .iter()
        .filter_map(|report| match report {
            Report::Edge {
                cycle, high: true, ..
            } => Some(*cycle),
            _ => None,
        })
        .collect();
    assert!(
        rises.len() > 150,
        "{} wakes in 160 timer periods",
        rises.len()
    );
    assert!(
        rises.windows(2).all(|pair| pair[1] - pair[0] == 1000),
        "every 1000 cycles, to the cycle: {rises:?}"
    );
    let (_, interrupts) = chip.stats(false);
    // Timer 1 compare A is vector 17: entry and wake 10, jmp 3, sbi 2, reti 5.
    assert_eq!(interrupts, [(17, 20)]);
}

/// 8N1 is ten bit times: 640 cycles at 250000, and at other rates to the cycle without drift.
#[test]
fn a_frame_lasts_ten_bit_times_both_ways() {
    for (baud, thousand) in [
        (250_000u64, 640_000u64),
        (249_300, 641_797),
        (252_000, 634_920),
    ] {
        let mut chip = start("echo", &["--baud", &baud.to_string()]);
        chip.run(1000);
        chip.send(&(0..=255u8).cycle().take(1001).collect::<Vec<u8>>());
        let reports = chip.run(60_000);
        let arrived = stamps(&reports, false);
        assert_eq!(arrived.len(), 1001);
        let span = arrived[1000] - arrived[0];
        assert!(
            span.abs_diff(thousand) <= 1,
            "{baud}: a thousand bytes in {span} cycles, {thousand} is right"
        );
        let left = stamps(&reports, true);
        let shortest = left
            .windows(2)
            .map(|pair| pair[1] - pair[0])
            .min()
            .expect("bytes came back");
        if baud >= 250_000 {
            assert_eq!(
                shortest, 640,
                "{baud}: bytes wait, so the chip sends at its own rate of 250000"
            );
        } else {
            assert!(
                shortest > 640,
                "{baud}: the chip cannot send faster than it is given bytes"
            );
        }
    }
}

/// A sound serial driver loses nothing, and the harness does not invent a loss.
#[test]
fn a_sound_driver_loses_no_byte() {
    let mut chip = start("echo", &[]);
    chip.run(1000);
    let bytes: Vec<u8> = (0..5000u32).map(|i| (i * 7 + i / 256) as u8).collect();
    chip.send(&bytes);
    let reports = chip.run(250_000);
    assert_eq!(sent(&reports), bytes);
    assert!(
        !reports
            .iter()
            .any(|report| matches!(report, Report::Overrun { .. }))
    );
    assert!(chip.stats(false).0.worst_wait < 200);
}

/// Known wrong: an interrupt of 2500 cycles. The receiver holds two bytes and the shift register, so
/// bytes are lost, the loss is seen, and what comes back is exactly that much less.
#[test]
fn an_interrupt_that_takes_too_long_is_caught() {
    let mut chip = start("deaf", &[]);
    chip.run(1000);
    chip.send(&[0x55; 2000]);
    let reports = chip.run(100_000);
    let overruns = reports
        .iter()
        .filter(|report| matches!(report, Report::Overrun { .. }))
        .count();
    let (counts, interrupts) = chip.stats(false);
    assert!(
        overruns >= 40,
        "80 ms hold 80 long interrupts, {overruns} overruns"
    );
    assert_eq!(counts.overruns, overruns as u64);
    assert_eq!(sent(&reports).len(), 2000 - overruns);
    assert!(counts.worst_wait > 2000, "{}", counts.worst_wait);
    let longest = interrupts
        .iter()
        .find(|(vector, _)| *vector == 17)
        .expect("timer 1 compare A ran")
        .1;
    assert!(
        (2500..2600).contains(&longest),
        "{longest} cycles in the long interrupt"
    );
}

/// Data sheet 2549, 22.7.4: two bytes wait, the third is overwritten in the shift register, and the flag
/// stands beside the next byte read after the loss.
#[test]
fn the_receiver_is_two_bytes_and_a_shift_register_deep() {
    let mut chip = start("late_reader", &[]);
    chip.send(b"0123456789");
    let reports = chip.run(10_000);
    let dor = 0x08;
    assert_eq!(sent(&reports), [0, b'0', 0, b'1', dor, b'9']);
    assert_eq!(
        reports
            .iter()
            .filter(|report| matches!(report, Report::Overrun { .. }))
            .count(),
        7
    );
    // Three bytes fit: no loss, no flag.
    chip.send(b"abc");
    let reports = chip.run(10_000);
    assert_eq!(sent(&reports), [0, b'a', 0, b'b', 0, b'c']);
    assert!(
        !reports
            .iter()
            .any(|report| matches!(report, Report::Overrun { .. }))
    );
}

#[test]
fn a_framing_error_stands_beside_its_own_byte() {
    let mut chip = start("late_reader", &[]);
    chip.send(b"a");
    chip.command("error 62");
    chip.send(b"c");
    let reports = chip.run(10_000);
    let fe = 0x10;
    assert_eq!(sent(&reports), [0, b'a', fe, b'b', 0, b'c']);
}

/// Rates apart by more than data sheet tables 22-2 and 22-3 allow are not understood, either way.
#[test]
fn rates_too_far_apart_are_not_understood() {
    for (baud, understood) in [
        (239_000, true),
        (238_000, false),
        (261_000, true),
        (262_000, false),
        (115_200, false),
    ] {
        let mut chip = start("echo", &["--baud", &baud.to_string()]);
        chip.run(1000);
        chip.send(b"UUUU");
        let reports = chip.run(5000);
        let garbled = reports
            .iter()
            .filter(|report| matches!(report, Report::Garbled { .. }))
            .count();
        if understood {
            assert_eq!(
                (sent(&reports).as_slice(), garbled),
                (b"UUUU".as_slice(), 0),
                "{baud}"
            );
        } else {
            assert!(sent(&reports).is_empty(), "{baud}: {reports:?}");
            assert_eq!(garbled, 8, "{baud}: four each way");
        }
    }
}

/// Known wrong: a stop that drops the pin at once. The pulse that it cuts is seen; the sound stop beside
/// it leaves only whole pulses.
#[test]
fn a_pulse_that_is_cut_is_caught() {
    for (how, whole) in [(b"g", true), (b"b", false)] {
        let mut chip = start("pulser", &[]);
        let mut reports = chip.run(60_700); // 0.7 ms into the fourth pulse
        chip.send(how);
        reports.extend(chip.run(40_000));
        let pulses = Pulses::of(&reports);
        assert!(pulses.high().is_empty());
        let widths: Vec<u64> = pulses.finished.iter().map(|pulse| pulse.width).collect();
        let (last, earlier) = widths.split_last().expect("there are pulses");
        assert!(
            earlier.len() >= 2 && earlier.iter().all(|width| width.abs_diff(24_000) <= 8),
            "{widths:?}"
        );
        assert_eq!(last.abs_diff(24_000) <= 8, whole, "{widths:?}");
    }
}

/// What a reset keeps and what it loses: cause flags, RAM that no one initialises, EEPROM.
#[test]
fn resets_tell_their_cause_and_keep_what_the_chip_keeps() {
    let (porf, extrf, borf, wdrf) = (1, 2, 4, 8); // MCUSR, data sheet 2549, 12.4.1
    let mut chip = start("resets", &[]);
    assert_eq!(sent(&chip.run(10_000)), [porf, 1, 0]); // erased EEPROM is 255, and one more is 0
    chip.send(b"c");
    chip.run(1000);
    for (cause, flag, kept) in [
        (Cause::External, extrf, 2),
        (Cause::Brownout, borf, 3),
        (Cause::Watchdog, wdrf, 4),
    ] {
        chip.reset(cause, false);
        let reports = chip.run(10_000);
        assert_eq!(sent(&reports), [flag, kept, kept - 1]);
        assert!(reports.iter().any(
            |report| matches!(report, Report::Reset { cause: seen, .. } if seen == cause.word())
        ));
        // The pin that the program drove is released by the reset, and the edge is reported.
        assert!(matches!(
            reports[0],
            Report::Mode {
                pin: 22,
                mode: Mode::Input,
                ..
            }
        ));
        assert!(matches!(
            reports[1],
            Report::Edge {
                pin: 22,
                high: false,
                ..
            }
        ));
        chip.send(b"c");
        chip.run(1000);
    }
    // Flags add up until written, unless power was lost, which loses RAM too.
    chip.reset(Cause::External, false);
    chip.run(10_000);
    chip.reset(Cause::Brownout, false);
    assert_eq!(sent(&chip.run(10_000)), [extrf | borf, 6, 5]);
    chip.reset(Cause::Power, false);
    assert_eq!(sent(&chip.run(10_000)), [porf, 1, 6]);
    // A boot loader may wipe the cause.
    chip.reset(Cause::Brownout, true);
    assert_eq!(sent(&chip.run(10_000)), [0, 2, 7]);
}

/// The watchdog's own reset, not one that was asked for.
#[test]
fn a_hung_program_is_reset_by_its_watchdog() {
    let mut chip = start("resets", &[]);
    chip.run(10_000);
    chip.send(b"c");
    chip.run(1000);
    chip.send(b"w");
    let reports = chip.run(100_000);
    assert_eq!(sent(&reports), [8, 2, 1]);
    let resets: Vec<u64> = reports
        .iter()
        .filter_map(|report| match report {
            Report::Reset { cycle, cause } if cause == "watchdog" => Some(*cycle),
            _ => None,
        })
        .collect();
    assert_eq!(resets.len(), 1);
    let ms = (resets[0] - 11_000 * 16) / 16_000;
    assert!(
        (15..=18).contains(&ms),
        "a watchdog of 15 ms struck after {ms} ms"
    );
}

#[test]
fn eeprom_is_kept_in_a_file() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("eeprom.bin");
    let path = file.to_str().expect("the path is text");
    for boots in 0..3u8 {
        let mut chip = start("resets", &["--eeprom", path]);
        assert_eq!(sent(&chip.run(10_000)), [1, 1, boots]);
        assert_eq!(chip.quit(), 0);
        let image = std::fs::read(&file).expect("the image was written");
        assert_eq!((image.len(), image[7]), (4096, boots));
    }
}

/// Inputs and the 1.1 V reference against the supply: value = mv / supply × 1024 (data sheet 2549, 26.7).
#[test]
fn analog_inputs_follow_the_bench() {
    let mut chip = start("meter", &[]);
    chip.command("input a0 1000");
    chip.command("input a3 2500");
    chip.command("input a7 4999");
    chip.run(1000);
    let read = |chip: &mut Emulator, what: u8| {
        chip.send(&[what]);
        let bytes = sent(&chip.run(2000));
        u16::from(bytes[0]) * 256 + u16::from(bytes[1])
    };
    for (what, millivolts) in [
        (b'0', 1000u32),
        (b'3', 2500),
        (b'7', 4999),
        (b'1', 0),
        (b'b', 1100),
    ] {
        let expected = (millivolts * 1024 / 5000) as u16;
        let seen = read(&mut chip, what);
        assert!(
            seen.abs_diff(expected) <= 1,
            "{}: {seen}, {expected} is right",
            char::from(what)
        );
    }
    chip.command("vcc 4400");
    assert!(read(&mut chip, b'b').abs_diff(256) <= 1);
}

/// Every printed pin is where tests/data/mega_pins.csv says (from the Debian package arduino-core-avr).
#[test]
fn every_printed_pin_is_stamped_under_its_own_number() {
    let table = std::fs::read_to_string(emulator::root().join("tests/data/mega_pins.csv"))
        .expect("the pin table");
    let printed: BTreeMap<String, u8> = table
        .lines()
        .skip(1)
        .map(|row| row.split(',').collect::<Vec<_>>())
        .map(|row| (row[1].to_string(), row[0].parse().expect("a pin number")))
        .collect();
    assert_eq!(printed.len(), 70);
    let mut expected = Vec::new();
    for port in "ABCDEFGHJKL".chars() {
        for bit in 0..8 {
            expected.extend(
                printed
                    .get(&format!("P{port}{bit}"))
                    .filter(|pin| **pin >= 2),
            );
        }
    }
    let mut chip = start("walk", &[]);
    let reports = chip.run(1000);
    let pulses = Pulses::of(&reports);
    assert_eq!(
        pulses
            .finished
            .iter()
            .map(|pulse| pulse.pin)
            .collect::<Vec<_>>(),
        expected
    );
    assert_eq!(pulses.finished.len(), 68);
    let modes: Vec<Mode> = reports
        .iter()
        .filter_map(|report| match report {
            Report::Mode { pin: 22, mode, .. } => Some(*mode),
            _ => None,
        })
        .collect();
    assert_eq!(modes, [Mode::Output, Mode::Input, Mode::PullUp]);
}

#[test]
fn a_command_that_is_not_understood_ends_the_emulator() {
    for bad in [
        "jump",
        "input a8 100",
        "reset sometimes",
        "send 4",
        "run -1",
        "run",
    ] {
        let mut chip = start("echo", &[]);
        chip.command(bad);
        assert_eq!(chip.quit(), 2, "{bad}");
    }
}
