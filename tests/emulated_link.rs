//! The host's link on the real firmware: emulated chip, pseudo-terminal, serial transport, worker.
//! Real time; what is waited for comes from the chip, so nothing here depends on how fast.
#![cfg(all(feature = "emulated", unix))]

#[path = "support/chip_tty.rs"]
mod chip_tty;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/told.rs"]
mod told;

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use chip_tty::Chip;
use hornset::board::ports::PortInfo;
use hornset::board::{By, Event, LinkSettings, Reason, ResetCause, Stop, serial};
use hornset::units::{Pin, Pulse};
use told::Told;

fn link(chip: &Chip, settings: LinkSettings) -> Told {
    let port = PortInfo {
        path: chip.tty.clone(),
        usb: None,
    };
    Told::start(serial::opener(port, 250_000), settings)
}

fn pin(n: u8) -> Pin {
    Pin::new(n).expect("a pin")
}

/// The firmware at 115200, built apart so that it is in nobody's way.
fn at_115200(folder: &Path) -> PathBuf {
    let copied = Command::new("cp")
        .arg("-r")
        .arg(emulator::root().join("protocol/firmware"))
        .arg(folder)
        .status()
        .expect("cp starts");
    assert!(copied.success());
    let firmware = folder.join("firmware");
    let made = Command::new("make")
        .args(["-s", "BAUD=115200", "-C"])
        .arg(&firmware)
        .stdout(Stdio::null())
        .status()
        .expect("make starts: install the Debian package make");
    assert!(
        made.success(),
        "the firmware at 115200 does not build: install gcc-avr and avr-libc"
    );
    firmware.join("build/hornset-mega2560.elf")
}

#[test]
fn a_board_that_resets_when_opened_is_found_at_250000() {
    let folder = tempfile::tempdir().expect("a folder");
    let chip = Chip::start(
        folder.path(),
        &emulator::firmware(),
        &["--reset-on-open", "--loader-ms", "1000"],
    );
    let mut told = link(&chip, LinkSettings::default());
    told.wait("found", |e| matches!(e, Event::Found { rate: 250_000, .. }));
    told.done("guard 22 1000 2000");
    assert!(
        !told
            .close()
            .iter()
            .any(|e| matches!(e, Event::Reset { .. } | Event::Lost { .. }))
    );
}

#[test]
fn firmware_for_115200_is_found_without_opening_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let elf = at_115200(folder.path());
    let chip = Chip::start(
        folder.path(),
        &elf,
        &["--reset-on-open", "--loader-ms", "700"],
    );
    let mut told = link(&chip, LinkSettings::default());
    told.wait("found", |e| matches!(e, Event::Found { rate: 115_200, .. }));
    told.done("guard 22 1000 2000");
    let opened = told
        .close()
        .iter()
        .filter(|e| matches!(e, Event::Opened { .. }))
        .count();
    assert_eq!(opened, 1);
}

#[test]
fn refusal_noise_and_brown_out_are_told_with_a_remedy_and_guards_stand_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let chip = Chip::start(folder.path(), &emulator::firmware(), &[]);
    let mut told = link(&chip, LinkSettings::default());
    told.wait("found", |e| matches!(e, Event::Found { .. }));
    told.done("guard 22 1000 2000");
    told.done("slew 22 5000");
    let refused = told.ask("wake 22 2100");
    told.wait("the refusal", |e| {
        matches!(e, Event::Answer { ticket, result: Err(r) }
            if *ticket == refused && r.reason == Reason::Guard && r.pin() == Some(pin(22)))
    });
    told.done("wake 22 1500");
    told.wait("awake", |e| matches!(e, Event::Awake(_)));
    told.link
        .jog(pin(22), Pulse::from_us(1600.5).expect("a pulse"));
    told.wait("jogged", |e| {
        matches!(e, Event::Jogged { result: Ok(_), .. })
    });

    for _ in 0..8 {
        chip.command("error 55");
        chip.command("send 0A");
    }
    told.wait("noise", |e| {
        matches!(e, Event::Frozen { by: By::Noisy, .. })
    });
    assert!(
        told.past
            .last()
            .and_then(Event::remedy)
            .is_some_and(|r| r.contains("cable"))
    );

    chip.command("reset brownout");
    told.wait("reset", |e| {
        matches!(
            e,
            Event::Reset {
                cause: ResetCause::Brownout,
                ..
            }
        )
    });
    assert!(
        told.past
            .last()
            .and_then(Event::remedy)
            .is_some_and(|r| r.contains("supply"))
    );
    told.wait(
        "restored",
        |e| matches!(e, Event::Restored { guards } if *guards == [pin(22)]),
    );
    told.done("wake 22 2000");
    told.link.stop(Stop::Limp);
    told.wait("stopped", |e| {
        matches!(
            e,
            Event::Stopped {
                stop: Stop::Limp,
                ..
            }
        )
    });
}

#[test]
fn a_caller_that_hangs_lets_the_board_freeze_for_silence() {
    let folder = tempfile::tempdir().expect("a folder");
    let chip = Chip::start(folder.path(), &emulator::firmware(), &[]);
    let settings = LinkSettings {
        alive_within: Some(Duration::from_millis(600)),
        ..LinkSettings::default()
    };
    let mut told = link(&chip, settings);
    told.wait("found", |e| matches!(e, Event::Found { .. }));
    told.done("silence 300 1500");
    told.done("wake 22 1500");
    told.wait("frozen", |e| {
        matches!(
            e,
            Event::Frozen {
                by: By::Silence,
                ..
            }
        )
    });
    told.wait("limp", |e| matches!(e, Event::WentLimp { by: By::Silence }));
}
