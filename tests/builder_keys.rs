//! The builder does one whole robot through the keys of the real console, on the practice robot that misbehaves like a real one.
//!
//! He reads the screen alone. What came of it is judged from the file, the logbook, the link's trace and the robot's truth.
#![cfg(all(unix, feature = "practice"))]

#[path = "builder_keys/driver.rs"]
mod driver;
#[path = "builder_keys/eyes.rs"]
mod eyes;
#[path = "builder_keys/judge.rs"]
mod judge;
#[path = "builder_keys/person.rs"]
mod person;
#[path = "support/pty.rs"]
mod pty;
#[path = "builder_keys/screen.rs"]
mod screen;

use driver::{BoardClock, Driver};
use eyes::{FromTheScreen, fresh};
use judge::Judge;
use person::Person;
use pty::Console;

/// The robot.
const SEED: u64 = 7;
/// How many times as fast as the clock its time runs.
const SPEED: u32 = 60;
/// Rounds of six readings for each joint.
const ROUNDS: usize = 2;

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
