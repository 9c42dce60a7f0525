//! The builder does one leg through the keys of the real console, on the real firmware on the emulated chip: a leg of the test's
//! own hangs on the chip's pins and gets the pulses that they put out.
//!
//! He reads the screen, and looks at, listens to and measures the leg. *One servo* is skipped, as the issue allows; every countdown
//! is as long as it is. Console and chip live by the chip's clock, which runs several times as fast as the one on the wall.
#![cfg(all(feature = "emulated", target_os = "linux"))]

#[path = "emulated_builder/bench.rs"]
mod bench;
#[path = "support/chip_tty.rs"]
mod chip_tty;
#[path = "builder_keys/driver.rs"]
mod driver;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "emulated_builder/judge.rs"]
mod judge;
#[path = "emulated_builder/leg.rs"]
mod leg;
#[path = "builder_keys/person.rs"]
mod person;
#[path = "support/pty.rs"]
mod pty;
#[path = "support/pulses.rs"]
mod pulses;
#[path = "builder_keys/screen.rs"]
mod screen;

use std::path::Path;

use bench::Bench;
use chip_tty::Chip;
use driver::{Clock, Driver};
use emulator::CYCLES_PER_FRAME;
use judge::{Judge, PRESSED_MS, beyond_ends, confirmed, outside_confirmed};
use leg::Built;
use person::Person;
use pty::Console;
use pulses::Pulse;

const SEED: u64 = 5;
/// How many times as fast as the clock on the wall the chip's time runs, if the machine can.
const PACE: u32 = 12;
/// Rounds of six readings for each joint.
const ROUNDS: usize = 2;
/// Where the plan has the plugs of coxa, femur and tibia, and where they sit.
const PLANNED: [u8; 3] = [22, 23, 24];
const PLUGGED: [u8; 3] = [23, 22, 24];

/// What was built. Numbers from memory of common servos; nothing of it is in the file.
const BUILT: [Built; 3] = [
    Built {
        name: "LF coxa",
        middle_deg: 4.2,
        us_per_deg: 10.31,
        bend_per_deg: 0.8 / 3600.0,
        dead_us: 2.5,
        half_play_deg: 0.5,
        top_deg_s: 380.0,
        reach_deg: 95.0,
        ends_deg: (-46.5, 52.0),
        droop_deg: 0.0,
        hangs_deg: 12.0,
    },
    Built {
        name: "LF femur",
        middle_deg: -2.8,
        us_per_deg: 10.78,
        bend_per_deg: -0.7 / 3600.0,
        dead_us: 3.0,
        half_play_deg: 0.35,
        top_deg_s: 350.0,
        reach_deg: 92.0,
        ends_deg: (-57.0, 66.0),
        droop_deg: 0.25,
        hangs_deg: -48.0,
    },
    // It sits the other way round, as a mirrored servo does.
    Built {
        name: "LF tibia",
        middle_deg: -81.5,
        us_per_deg: -10.52,
        bend_per_deg: 0.5 / 3600.0,
        dead_us: 2.0,
        half_play_deg: 0.4,
        top_deg_s: 400.0,
        reach_deg: 96.0,
        ends_deg: (-134.0, -30.5),
        droop_deg: 0.2,
        hangs_deg: -62.0,
    },
];

/// The one-leg example as it is planned: geometry, pins and needed travel; nothing else is known.
fn fresh(folder: &Path) {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/one-leg.toml");
    let keep = |line: &&str| {
        let key = line.split(" = ").next().unwrap_or_default();
        let planned = ["format", "name", "mount", "links", "pin", "needed_deg"];
        line.is_empty() || line.starts_with('[') || planned.contains(&key)
    };
    let text = pty::text_of(&source);
    let lines: Vec<&str> = text.lines().filter(keep).collect();
    std::fs::write(folder.join("bench.toml"), lines.join("\n") + "\n").expect("written");
}

struct ChipClock<'a>(&'a Chip);

impl Clock for ChipClock<'_> {
    fn frames(&mut self) -> u64 {
        self.0.now_us() / 20_000
    }
}

#[test]
fn one_leg_by_keys_on_the_chip() {
    let folder = pty::folder();
    fresh(folder.path());
    let chip = Chip::start_with_clock(folder.path(), &emulator::firmware(), PACE, &[]);
    let args = ["--port", &chip.tty, "--file", "bench.toml"];
    let mut console = Console::start_in(&chip.clock_variables(), &args, folder.path(), 120, 36);
    let mut bench = Bench::new(&chip, SEED, BUILT, PLUGGED);
    let mut it = Driver::new(&console, ChipClock(&chip), Person::new(SEED, ROUNDS));
    it.until("Home", |it| it.page() == "Home");
    it.press("<Enter>", "the question", |it| {
        it.text().contains("Where is the robot?")
    });
    it.press("<Enter>", "the stand", |it| {
        it.head().contains(&"on the stand  Space=limp")
    });
    it.press("<Enter>", "the supply", |it| it.page() == "Supply");
    it.work(&mut bench);
    it.press("<Enter>", "plugs", |it| it.page() == "Plugs");
    it.work(&mut bench);
    // The search for plugs nudges every joint a little way from mid-travel; from here on he says how far each is free.
    let since = it.clock.frames() * CYCLES_PER_FRAME;
    for built in &BUILT {
        it.finish(built.name, &mut bench);
    }
    println!("{}", it.table());
    it.until("nothing is missing", |it| {
        it.next().starts_with("All is known.")
    });
    it.press("s", "the file is saved", |it| {
        it.next().starts_with("Saved")
    });
    let confirmed = confirmed(&it.said);
    it.console.keys("q");
    drop(it);
    assert!(console.ended().success());
    bench.catch_up();

    let judge = Judge::of(&folder.path().join("bench.toml"));
    judge.the_commands_agree();
    assert_eq!((bench.plugs, bench.swaps), (PLANNED, 1));
    println!("{} horns were turned", bench.turned);
    let placings = bench.placings_deg.map(|it| it.expect("a gauge was placed"));
    // As it is now that horns were turned.
    let built = [0, 1, 2].map(|joint| bench.leg.joints[joint].built.clone());
    let joints = judge.joints(&built, PLANNED, placings);
    for joint in &joints {
        println!("{joint}");
    }
    let pulses: Vec<Pulse> = bench.given.iter().map(|it| it.pulse).collect();
    let beyond = beyond_ends(&bench.given);
    let outside = outside_confirmed(&pulses, since, &confirmed);
    let pressed_ms = bench.pressed_ms;
    println!(
        "{} pulses: {beyond:?} µs beyond an end at most, outward of what was confirmed for {outside:?} ms at most, pressed for {pressed_ms} ms at most",
        pulses.len()
    );
    beyond.expect("no pulse far beyond an end");
    outside.expect("nothing outward for long");
    assert!(pressed_ms <= PRESSED_MS, "pressed for {pressed_ms} ms");
    for joint in &joints {
        joint.check().expect("the bars");
    }
    let lines = chip.lines(true);
    let ready = lines
        .iter()
        .filter(|(_, line)| line.starts_with("event ready"));
    assert_eq!(ready.count(), 1, "the board reset");
    assert!(!lines.iter().any(|(_, line)| line.contains("by=silence")));
}
