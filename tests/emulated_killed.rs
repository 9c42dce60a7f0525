//! The real program killed in the middle of a move, and in the middle of a peck: what the emulated chip's pins do then, by the chip's own clock.
//!
//! The console lives by the chip's clock until it is killed, and every figure is in the chip's own cycles: a busy machine
//! shifts when the kill comes, never what is measured.
#![cfg(all(feature = "emulated", target_os = "linux"))]

#[path = "support/chip_tty.rs"]
mod chip_tty;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pty.rs"]
mod pty;
#[path = "support/pulses.rs"]
mod pulses;

use chip_tty::{Chip, lines};
use emulator::{CYCLES_PER_FRAME, CYCLES_PER_US, Report};
use pty::Console;
use pulses::{Pulse, Pulses};
use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

const PIN: u8 = 23;
const MS: u64 = 1000 * CYCLES_PER_US;
/// How long the chip may take to show what was asked for.
const PATIENCE: Duration = Duration::from_secs(60);

/// The emulated board behind a terminal, no faster than the clock on the wall, by which it is killed.
struct Board(Chip);

impl Board {
    fn start(folder: &Path) -> Board {
        let firmware = emulator::firmware();
        Board(Chip::start_with_clock(folder, &firmware, 1, &[]))
    }

    /// The console on this board, living by its clock.
    fn console(&self, file: &str, folder: &Path) -> Console {
        let args = ["--port", &self.0.tty, "--file", file];
        Console::start_in(&self.0.clock_variables(), &args, folder, 80, 24)
    }

    /// Lets half a second of the chip's time go by.
    fn goes_on(&self) {
        let until = self.0.now_us() + 500_000;
        self.until("half a second", |board| board.0.now_us() >= until);
    }

    fn pulses(&self) -> Vec<Pulse> {
        self.pulses_on(PIN)
    }

    fn pulses_on(&self, pin: u8) -> Vec<Pulse> {
        let mut pulses = Pulses::of(&self.0.edges()).finished;
        pulses.retain(|pulse| pulse.pin == pin);
        pulses
    }

    #[track_caller]
    fn until(&self, what: &str, mut done: impl FnMut(&Board) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        while !done(self) {
            assert!(Instant::now() < deadline, "{what} did not happen");
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

/// The cycle at which the last line that fed the silence clock had arrived: a change that was done.
fn last_fed(reports: &[Report]) -> u64 {
    let answers = lines(reports, true);
    let fed = lines(reports, false)
        .into_iter()
        .rev()
        .find(|(cycle, line)| {
            let body = line.split(';').next().unwrap_or_default();
            let words: Vec<&str> = body.split(' ').collect();
            let tag = words[0].parse::<u16>().ok();
            // PROTOCOL.md, Tags: the kind of a line, by its verb, and for three verbs by the number of arguments.
            let is_change = match words.get(1).copied().unwrap_or_default() {
                "hello" | "help" | "where" | "sense" | "limp" | "freeze" => false,
                "guard" | "slew" => words.len() > 3,
                "silence" => words.len() > 2,
                _ => true,
            };
            let done = |tag: u16| {
                answers.iter().any(|(sent, answer)| {
                    sent > cycle && answer.starts_with(&format!("{tag} done"))
                })
            };
            is_change && tag.is_some_and(done)
        });
    fed.expect("the console sent changes").0
}

/// Both silence times that the host had set, or the untouched ones.
fn silence(reports: &[Report]) -> (u64, u64) {
    let asked = lines(reports, false)
        .into_iter()
        .rev()
        .find_map(|(_, line)| {
            let body = line.split(';').next()?.to_owned();
            let words: Vec<&str> = body.split(' ').collect();
            match words[..] {
                [_, "silence", freeze, limp] => Some((freeze.parse().ok()?, limp.parse().ok()?)),
                _ => None,
            }
        });
    asked.unwrap_or((500, 10_000))
}

/// Goes to a pulse, and waits until the console and the pin both say that it is there.
#[track_caller]
fn goes(board: &Board, console: &Console, us: u64) {
    console.press(&format!("={us}<Enter>"), &format!("{us} commanded"));
    board.until(&format!("{us} us"), |board| {
        board.pulses().last().map(|it| it.width) == Some(us * CYCLES_PER_US)
    });
}

/// Goes to a bound of the guard, widens it by 50 us, the most there is at once, and goes to the new bound.
fn widen(board: &Board, console: &Console, key: &str, (from, to): (u64, u64), other: u64) {
    goes(board, console, from);
    console.press(key, &format!("to {to} µs"));
    console.press(
        "<Enter>",
        &format!("is {} to {} µs now", to.min(other), to.max(other)),
    );
    goes(board, console, to);
}

/// One board and one console at a time: two emulated chips in real time are much for a small machine.
static ONE: Mutex<()> = Mutex::new(());

#[test]
fn a_console_killed_in_the_middle_of_a_move_is_frozen_and_limp_in_time() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let mut in_mid_move = false;
    // The kill must come while the pin still moves; on a busy machine it may take more than one go.
    for _ in 0..5 {
        let folder = pty::folder();
        let plan = pty::plan_in(folder.path());
        let board = Board::start(folder.path());
        let mut console = board.console(&plan, folder.path());
        console.see("── Home");
        console.press("<Enter>", "Where is the robot?");
        console.press("<Enter>", "on the stand  Space=limp");
        console.keys("i");
        console.press("<F2><Down><Enter>", "── Jog ── LF femur, pin 23");
        console.press("w", "It will jump to this pulse at full speed");
        console.press("<Enter>", "1 awake");
        // A travel that takes about a second at the speed a jog may have: longer than the silence time.
        for step in 1..=8u64 {
            widen(
                &board,
                &console,
                "[",
                (1400 - 50 * (step - 1), 1400 - 50 * step),
                1600,
            );
        }
        for step in 1..=8u64 {
            widen(
                &board,
                &console,
                "]",
                (1600 + 50 * (step - 1), 1600 + 50 * step),
                1000,
            );
        }
        console.keys("=1000<Enter>");
        board.until("a move", |board| {
            board
                .pulses()
                .last()
                .is_some_and(|pulse| pulse.width < 1960 * CYCLES_PER_US)
        });
        console.signal(rustix::process::Signal::KILL);
        assert!(!console.ended().success());
        board.until("the event of going limp", |board| {
            lines(&board.0.reports(), true)
                .iter()
                .any(|(_, line)| line.starts_with("event limp by=silence"))
        });
        board.goes_on();

        let reports = board.0.reports();
        let (fed, (freeze_ms, limp_ms)) = (last_fed(&reports), silence(&reports));
        let pulses = board.pulses();
        let moved = pulses
            .windows(2)
            .rev()
            .find(|pair| pair[0].width != pair[1].width)
            .expect("it moved")[1]
            .rise;
        assert!(
            moved <= fed + freeze_ms * MS + 2 * CYCLES_PER_FRAME,
            "moved {} us after the last line; silence is {freeze_ms} ms",
            (moved - fed) / CYCLES_PER_US
        );
        let last = pulses.last().expect("there are pulses");
        assert!(
            last.fall() <= fed + limp_ms * MS + 2 * CYCLES_PER_FRAME,
            "a pulse {} us after the last line; limp is due after {limp_ms} ms",
            (last.fall() - fed) / CYCLES_PER_US
        );
        assert!(
            last.fall() + 2 * CYCLES_PER_FRAME >= fed + limp_ms * MS,
            "limp {} us after the last line; it is due after {limp_ms} ms",
            (last.fall() - fed) / CYCLES_PER_US
        );
        // Whole ticks within the guard, to the last: no pulse was cut.
        assert!(pulses.iter().all(|pulse| {
            pulse
                .ticks()
                .is_some_and(|ticks| (2000..=4000).contains(&ticks))
        }));
        assert!(Pulses::of(&reports).high().is_empty());
        if last.width != 1000 * CYCLES_PER_US {
            in_mid_move = true;
            break;
        }
    }
    assert!(
        in_mid_move,
        "five times the kill came only after the move had ended"
    );
}

/// LF coxa of the example robot, whose limits end at 1958 us: where it rests before its first peck, and where that goes.
const COXA: u8 = 22;
const RESTS_US: u64 = 1946;
const OUT_US: u64 = 1966;
/// Issue 4: nothing is left pressed for longer.
const PRESSED_MS: u64 = 300;

/// Opens Ends for LF coxa and looks on until its first peck is over.
fn to_the_first_peck(console: &Console) {
    console.see("Enter: say whether the robot is on its stand");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.keys("<F2>jjjjjjjjjj<Enter><Enter>");
    console.see("Enter: find the far end of LF coxa.");
    console.press_and_pass("<Enter>", "Hands away.");
    console.see("Did anything stop it?");
}

#[test]
fn a_console_killed_in_the_middle_of_a_peck_leaves_nothing_pressed() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let mut in_mid_peck = false;
    // The kill must come while the pin is out; on a busy machine it may take more than one go.
    for _ in 0..5 {
        let folder = pty::folder();
        let board = Board::start(folder.path());
        std::fs::write(
            folder.path().join("robot.toml"),
            include_str!("../calibrations/marram.toml"),
        )
        .expect("it is written");
        let mut console = board.console("robot.toml", folder.path());
        to_the_first_peck(&console);
        assert!(
            board
                .pulses_on(COXA)
                .iter()
                .any(|it| it.width == OUT_US * CYCLES_PER_US)
        );
        // Once more: out again, and killed there.
        let before = board.pulses_on(COXA).len();
        console.keys("a");
        let is_out = |board: &Board| {
            let pulses = board.pulses_on(COXA);
            pulses.len() > before
                && pulses.last().map(|it| it.width) == Some(OUT_US * CYCLES_PER_US)
        };
        board.until("a peck", is_out);
        console.signal(rustix::process::Signal::KILL);
        assert!(!console.ended().success());
        in_mid_peck = is_out(&board);
        board.until("the event of going limp", |board| {
            lines(&board.0.reports(), true)
                .iter()
                .any(|(_, line)| line.starts_with("event limp by=silence"))
        });
        board.goes_on();

        let reports = board.0.reports();
        let pulses = board.pulses_on(COXA);
        // Every way out, from its first pulse beyond the rest to the end of its last one.
        let mut out: Option<u64> = None;
        for pulse in &pulses {
            assert!(pulse.width <= OUT_US * CYCLES_PER_US, "{pulse:?}");
            if pulse.width <= RESTS_US * CYCLES_PER_US {
                out = None;
                continue;
            }
            let since = *out.get_or_insert(pulse.rise);
            let ms = (pulse.fall() - since) / MS;
            assert!(ms <= PRESSED_MS, "out for {ms} ms");
        }
        let (fed, (_, limp_ms)) = (last_fed(&reports), silence(&reports));
        let last = pulses.last().expect("there are pulses");
        assert!(
            last.fall() <= fed + limp_ms * MS + 2 * CYCLES_PER_FRAME,
            "a pulse {} us after the last line; limp is due after {limp_ms} ms",
            (last.fall() - fed) / CYCLES_PER_US
        );
        assert!(Pulses::of(&reports).high().is_empty());
        if in_mid_peck {
            break;
        }
    }
    assert!(
        in_mid_peck,
        "five times the kill came only after the peck had ended"
    );
}
