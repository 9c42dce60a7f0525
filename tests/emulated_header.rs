//! The exported C header, compiled by avr-gcc and run on the emulated chip, against the library.
#![cfg(feature = "emulated")]

#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/header.rs"]
mod header;

use emulator::{Emulator, Report};
use hornset::calibration::MARRAM;

#[test]
fn the_header_on_the_chip_agrees_with_the_library() {
    for calibration in [MARRAM.to_owned(), header::bent()] {
        let robot = header::robot(&calibration);
        let folder = tempfile::tempdir().expect("a folder");
        let points = 1100;
        let mut arguments = header::write(&robot, folder.path(), points);
        arguments.extend(["-mmcu=atmega2560", "-Os"].map(str::to_owned));
        let elf = folder.path().join("driver.elf");
        header::compile(
            "avr-gcc",
            "the Debian packages gcc-avr and avr-libc",
            &arguments,
            &elf,
        );
        let mut chip = Emulator::start(&elf, &["--baud", "1000000"]);
        let expected = header::expected_bytes(&robot, points);
        let mut bytes = Vec::with_capacity(expected);
        // At most 20 ms a point; it ends long before.
        for _ in 0..robot.legs().count() * points {
            chip.run_us(20_000, |report| match report {
                Report::Tx { byte, .. } => bytes.push(byte),
                Report::Reset { cycle: 0, .. } => {}
                Report::Crash { .. } | Report::Reset { .. } | Report::Garbled { .. } => {
                    panic!("{report:?}")
                }
                _ => {}
            });
            if bytes.len() >= expected {
                break;
            }
        }
        chip.run_us(5_000, |report| {
            if let Report::Tx { byte, .. } = report {
                bytes.push(byte);
            }
        });
        header::judge(&robot, points, &bytes);
        println!(
            "{} bytes in {} ms of the chip's time",
            bytes.len(),
            chip.cycle / 16_000
        );
    }
}
