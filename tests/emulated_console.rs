//! From the console's key to the pin: the real program in a pseudo-terminal, driven by keys, on the emulated chip's serial line.
//! What the keys ask for is measured on the chip's own pins, to the cycle; what was recorded is read back from the file.
#![cfg(all(feature = "emulated", target_os = "linux"))]

#[path = "support/chip_tty.rs"]
mod chip_tty;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pty.rs"]
mod pty;
#[path = "support/pulses.rs"]
mod pulses;

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use chip_tty::Chip;
use emulator::CYCLES_PER_US;
use pty::Console;
use pulses::{Pulse, Pulses};

/// How many times as fast as the clock on the wall the chip's time runs, and the console's with it, if the machine can.
const PACE: u32 = 4;
/// How long the pin may take to show what was asked for.
const PATIENCE: Duration = Duration::from_secs(60);

/// The emulated board behind a terminal.
struct Board(Chip);

impl Board {
    fn start(folder: &Path) -> Board {
        let firmware = emulator::firmware();
        let options = ["--reset-on-open"];
        Board(Chip::start_with_clock(folder, &firmware, PACE, &options))
    }

    /// The console on this board, living by its clock.
    fn console(&self, file: &str, folder: &Path) -> Console {
        let args = ["--port", &self.0.tty, "--file", file];
        Console::start_in(&self.0.clock_variables(), &args, folder, 80, 24)
    }

    /// All pulses so far, in the order of their falls.
    fn pulses(&self) -> Vec<Pulse> {
        Pulses::of(&self.0.edges()).finished
    }

    /// The widths of a pin's last five pulses, in cycles.
    fn last_widths(&self, pin: u8) -> Vec<u64> {
        let of_pin: Vec<u64> = self
            .pulses()
            .iter()
            .filter(|p| p.pin == pin)
            .map(|p| p.width)
            .collect();
        of_pin[of_pin.len().saturating_sub(5)..].to_vec()
    }

    /// Waits until the pin's pulses have this width, exact to the cycle, five times in a row.
    #[track_caller]
    fn shows(&self, pin: u8, us: f64) {
        let cycles = (us * CYCLES_PER_US as f64) as u64;
        let deadline = Instant::now() + PATIENCE;
        loop {
            let last = self.last_widths(pin);
            if last == [cycles; 5] {
                return;
            }
            assert!(
                Instant::now() < deadline,
                "pin {pin} was to show {us} µs, {cycles} cycles; its last pulses: {last:?}"
            );
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Waits until no pin has had a pulse for half a second of the chip's time.
    #[track_caller]
    fn is_still(&self) {
        let deadline = Instant::now() + PATIENCE;
        let stands_us = |pulse: Option<&Pulse>| {
            let last = pulse.map_or(0, |it| it.fall() / CYCLES_PER_US);
            self.0.now_us().saturating_sub(last)
        };
        while stands_us(self.pulses().last()) < 500_000 {
            assert!(Instant::now() < deadline, "the pins do not become still");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

#[test]
fn from_the_key_to_the_pin_and_into_the_file() {
    let folder = pty::folder();
    let plan = pty::plan_in(folder.path());
    let board = Board::start(folder.path());
    let mut console = board.console(&plan, folder.path());
    console.see("── Home");
    console.see("250000");
    assert!(board.pulses().is_empty(), "opening wakes nothing");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.keys("i");
    console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    console.press("w", "It will jump to this pulse at full speed");
    console.press("<Enter>", "1 awake");
    board.shows(23, 1500.0);

    // Steps, halved down to the finest, which is one tick of the chip's timer.
    console.press("l", "1508 commanded");
    board.shows(23, 1508.0);
    console.press(",,,,l", "1508.5 commanded");
    board.shows(23, 1508.5);
    console.press("h", "1508 commanded");
    board.shows(23, 1508.0);

    // A typed value, a mark, another, and degrees from them.
    console.press("=1470.5<Enter>", "1470.5 commanded");
    board.shows(23, 1470.5);
    console.press("m<Enter>", "Noted: the zero of LF femur is at 1470.5 µs.");
    console.press("=1570.5<Enter>", "1570.5 commanded");
    board.shows(23, 1570.5);
    console.press("m10<Enter>", "Noted: zero 1470.5 µs, 10 µs/° from 2 marks.");
    console.press("<Tab>", "degrees, commanded");
    console.press("=-2.5<Enter>", "1445.5 commanded");
    board.shows(23, 1445.5);
    console.press("<Tab>", "µs, commanded");

    // The guard: refused beyond it, widened by hand, the pulse goes there; the ends, each left at once.
    console.press(
        "=1390<Enter>",
        "Refused: guard. 1390 is below 1400 on pin 23.",
    );
    board.shows(23, 1445.5);
    console.press("=1410<Enter>", "1410 commanded");
    console.press("[", "down to 1360 µs");
    console.press("<Enter>", "is 1360 to 1600 µs now");
    console.press("=1360<Enter>", "1360 commanded");
    board.shows(23, 1360.0);
    console.press("E<Enter>", "Noted: the near end of LF femur is at 1360 µs.");
    board.shows(23, 1397.0);
    console.press("=1600<Enter>", "1600 commanded");
    board.shows(23, 1600.0);
    console.press("E<Enter>", "Noted: the far end of LF femur is at 1600 µs.");
    board.shows(23, 1563.0);

    // The leg's other joints, after the countdown, one at a time.
    console.press_and_pass("W", "Hands away. LF wakes in");
    console.see("3 awake");
    board.shows(22, 1500.0);
    board.shows(24, 1500.0);
    board.shows(23, 1563.0);

    // Frozen, a key moves nothing; thawing moves nothing either.
    console.press("p", "FROZEN");
    console.keys("l");
    console.press("<Enter>", "3 awake");
    board.shows(23, 1563.0);

    console.press("s", "Enter saves as my-marram.toml.");
    console.press("<Enter>", "Saved: my-marram.toml.");
    console.press("<Space>", "│ limp ");
    board.is_still();
    console.keys("q");
    assert!(console.ended().success());

    // No pulse was ever outside the guard that stood, and no foot faster than 250 mm/s.
    let femur: Vec<u64> = board
        .pulses()
        .iter()
        .filter(|p| p.pin == 23)
        .map(|p| p.width)
        .collect();
    let (low, high) = (1360 * CYCLES_PER_US, 1600 * CYCLES_PER_US);
    assert!(femur.iter().all(|width| (low..=high).contains(width)));
    // Femur axis to foot, leg stretched: 67 + 104 mm; 10 µs a degree as recorded; 50 frames a second.
    // A tick of rounding more, 0.5 µs in one frame.
    let most_us = (250.0 / 50.0 / 171.0_f64).to_degrees() * 10.0 + 0.5;
    for pair in femur.windows(2) {
        let step_us = pair[0].abs_diff(pair[1]) as f64 / CYCLES_PER_US as f64;
        assert!(step_us <= most_us, "{pair:?}: {step_us} µs in one frame");
    }

    let saved = folder.path().join("my-marram.toml");
    let robot = hornset::calibration::read(&pty::text_of(&saved))
        .robot
        .expect("it is a good file");
    let (leg, _) = robot.leg_named("LF").expect("LF");
    let joint = robot.legs[leg].joint(hornset::calibration::JointKind::Femur);
    let value = |it: &Option<hornset::calibration::Recorded>| it.as_ref().map(|it| it.value);
    assert_eq!(value(&joint.zero), Some(1470.5));
    assert_eq!(value(&joint.scale), Some(10.0));
    assert_eq!(value(&joint.near_end), Some(1360.0));
    assert_eq!(value(&joint.far_end), Some(1600.0));
    let checked = Command::new(env!("CARGO_BIN_EXE_hornset"))
        .arg("check")
        .arg(&saved)
        .output()
        .expect("hornset check runs");
    assert!(
        checked.status.success(),
        "{}",
        String::from_utf8_lossy(&checked.stderr)
    );
}

#[test]
fn a_killed_console_leaves_nothing_awake_for_long_and_a_terminated_one_nothing_at_all() {
    for signal in [rustix::process::Signal::TERM, rustix::process::Signal::KILL] {
        let folder = pty::folder();
        let plan = pty::plan_in(folder.path());
        let board = Board::start(folder.path());
        let mut console = board.console(&plan, folder.path());
        console.see("── Home");
        console.press("i", "Enter:");
        console.press("w", "It will jump to this pulse at full speed");
        console.press("<Enter>", "1 awake");
        board.shows(23, 1500.0);
        console.signal(signal);
        assert!(!console.ended().success());
        // Terminated: limp at once. Killed: the board's own silence clock, limp after 10 s.
        board.is_still();
        let lasted = board.pulses().iter().filter(|p| p.pin == 23).count();
        assert!(lasted > 0);
    }
}

#[test]
fn a_brown_out_is_told_and_the_guards_stand_again_before_anything_wakes() {
    let folder = pty::folder();
    let file = pty::marram_in(folder.path());
    let board = Board::start(folder.path());
    let console = board.console(file.to_str().expect("a path"), folder.path());
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.keys("i");
    console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
    console.press("w1700<Enter>", "1700 commanded");
    board.shows(23, 1700.0);
    let before = board.pulses().len();
    board.0.command("reset brownout");
    console.see("The board reset: its supply dipped (brown-out");
    console.see("RESET");
    console.see("Enter: wake one by one.");
    board.is_still();
    let during = board.pulses().len();
    assert!(during >= before);
    // Outside the 1400 to 1600 µs that a board without guards takes: it wakes there only because they stand again.
    console.press_and_pass("<Enter>", "What was awake wakes in");
    console.see("1 awake");
    board.shows(23, 1700.0);
    // The cable comes out: said within a second or so, counted up.
    drop(board);
    console.see("Link lost. The board freezes by itself");
    console.see("LINK LOST");
}
