//! The builder does one whole robot through the keys of the real console, on the practice robot that misbehaves like a real one.
//!
//! He reads the screen alone. What came of it is judged from the file, the logbook, the link's trace and the robot's truth.
#![cfg(all(unix, feature = "practice"))]

#[path = "builder_keys/driver.rs"]
mod driver;
#[path = "builder_keys/judge.rs"]
mod judge;
#[path = "builder_keys/person.rs"]
mod person;
#[path = "support/pty.rs"]
mod pty;
#[path = "builder_keys/screen.rs"]
mod screen;

use std::path::Path;

use driver::{BoardClock, Driver};
use judge::Judge;
use person::{Felt, Person, Senses};
use pty::Console;
use screen::{Screen, number};

/// The robot.
const SEED: u64 = 7;
/// How many times as fast as the clock its time runs.
const SPEED: u32 = 60;
/// Rounds of six readings for each joint.
const ROUNDS: usize = 2;

/// What the box of what one would see says.
struct FromTheScreen;

impl Senses for FromTheScreen {
    fn swung(&mut self, screen: &Screen) -> Option<String> {
        let sight = screen.sight();
        let joint = sight.first()?.strip_suffix(": it swung")?;
        let way = sight.get(1)?.split(',').next()?;
        Some(format!("{joint} {way}"))
    }

    fn gauge_deg(&mut self, screen: &Screen) -> f64 {
        let stands = || {
            number(
                screen
                    .sight()
                    .iter()
                    .find_map(|it| it.split(" stands at ").nth(1))?,
            )
        };
        let read = screen.gauge_deg().or_else(stands);
        read.unwrap_or_else(|| panic!("no gauge:\n{}", screen.text()))
    }

    fn felt(&mut self, screen: &Screen) -> Felt {
        let peck = screen.seen("in the last peck:");
        let peck = peck.unwrap_or_else(|| panic!("no peck was seen:\n{}", screen.text()));
        Felt {
            hummed: peck.ends_with("a faint hum"),
            moved_deg: peck.strip_prefix("moved ").and_then(number).unwrap_or(0.0),
            against: screen.seen("it leaned against "),
        }
    }

    fn display(&mut self, screen: &Screen) -> (f64, f64) {
        screen
            .display()
            .unwrap_or_else(|| panic!("no display:\n{}", screen.text()))
    }

    fn horn(&mut self, screen: &Screen) -> (u32, u32) {
        let words = screen
            .seen("horn:")
            .unwrap_or_else(|| panic!("no horn:\n{}", screen.text()));
        let mut numbers = words.split([' ', ',']).filter_map(|it| it.parse().ok());
        (
            numbers.next().expect("teeth"),
            numbers.next().expect("arms"),
        )
    }

    fn on_test_pin(&mut self, screen: &Screen) -> String {
        screen
            .seen("servo ")
            .unwrap_or_else(|| panic!("no servo:\n{}", screen.text()))
    }

    fn spares(&mut self, screen: &Screen) -> Vec<String> {
        let words = screen
            .seen("spares:")
            .unwrap_or_else(|| panic!("no spares:\n{}", screen.text()));
        words.split(' ').map(str::to_owned).collect()
    }
}

/// The example robot as it is planned: geometry, pins and needed travel; nothing else is known.
fn fresh(folder: &Path) {
    let keep = |line: &&str| {
        let key = line.split(" = ").next().unwrap_or_default();
        let found = [
            "template",
            "servo",
            "zero_us",
            "us_per_degree",
            "near_end_us",
            "far_end_us",
        ];
        let rest = ["limits_us", "guard_us", "play_deg"];
        !found.iter().chain(&rest).any(|it| *it == key)
    };
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibrations/marram.toml");
    let text: Vec<String> = pty::text_of(&source)
        .lines()
        .filter(keep)
        .map(str::to_owned)
        .collect();
    std::fs::write(folder.join("bench.toml"), text.join("\n") + "\n").expect("written");
}

#[test]
fn one_whole_robot_by_keys() {
    let folder = pty::folder();
    fresh(folder.path());
    let trace = folder.path().join("trace.txt");
    let (seed, speed) = (SEED.to_string(), SPEED.to_string());
    let args = [
        "--practice",
        "--seed",
        &seed,
        "--speed",
        &speed,
        "--file",
        "bench.toml",
        "--trace",
        trace.to_str().expect("a path"),
    ];
    let mut console = Console::start_sized(&args, folder.path(), 120, 36);
    let mut it = Driver::new(&console, BoardClock::of(&trace), Person::new(SEED, ROUNDS));
    it.until("Home", |it| it.page() == "Home");
    let fast = format!("practice, {SPEED}×");
    it.until("a robot whose time runs fast", |it| {
        it.head().contains(&fast.as_str())
    });
    it.says = Some(fast);
    it.press("<Enter>", "the question", |it| {
        it.text().contains("Where is the robot?")
    });
    it.press("<Enter>", "the stand", |it| {
        it.head().contains(&"on the stand  Space=limp")
    });
    whole_robot(&mut it);
    println!("{}", it.table());
    let verdicts = it.person.verdicts.clone();
    it.press("s", "the file is saved", |it| {
        it.next().starts_with("Saved")
    });
    it.console.keys("q");
    drop(it);
    assert!(console.ended().success());

    let judge = Judge::of(folder.path(), &trace, SEED);
    judge.the_commands_agree();
    judge.spares(&verdicts);
    judge.pecks();
    let joints = judge.joints();
    for joint in &joints {
        println!("{joint}");
    }
    judge.bars(&joints);
}

/// Supply, each spare alone, plugs; then leg by leg, as Home says.
fn whole_robot(it: &mut Driver) {
    let mut senses = FromTheScreen;
    it.press("<Enter>", "the supply", |it| it.page() == "Supply");
    it.work(&mut senses);
    it.open("One servo", None);
    it.work(&mut senses);
    it.press("<Enter>", "plugs", |it| it.page() == "Plugs");
    it.work(&mut senses);
    for leg in ["LF", "LM", "LR", "RF", "RM", "RR"] {
        it.choose(&format!("{leg} coxa"));
        it.open("Horns", Some(1));
        it.work(&mut senses);
        for kind in ["coxa", "femur", "tibia"] {
            it.finish(&format!("{leg} {kind}"), &mut senses);
        }
    }
    it.until("nothing is missing", |it| {
        it.next().starts_with("All is known.")
    });
}
