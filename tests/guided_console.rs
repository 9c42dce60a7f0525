//! Guided work in the real console on the practice robot: read what is to be seen, answer with keys, and the logbook has it.
#![cfg(all(unix, feature = "practice"))]

#[path = "support/pty.rs"]
mod pty;

use std::path::Path;

use pty::{Console, folder, text_of};

fn start(speed: &str, args: &[&str], folder: &Path) -> Console {
    let console = Console::start(&[&["--practice", "--speed", speed], args].concat(), folder);
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console
}

/// Writes the supply down.
fn supply(console: &Console) {
    console.see("Enter: write down the servo supply first.");
    console.press("<Enter>", "Choose where the servos get their power");
    console.press("<Enter>", "minus joined to the board's ground?");
    console.press("<Enter>", "Does each plug sit as drawn");
    console.see("│ ground │  plus  │ signal │");
    console.press("<Enter>", "Type what the servo supply is set to");
    console.press("6<Enter>", "Type its current limit");
    console.press("10<Enter>", "Type one servo's stall current");
    console.press("2.5<Enter>", "Type the volts on the supply's own display");
    console.press("n", "Type the amps");
    console.press("n", "all 18 stalled 45.0 A");
    console.press("<Enter>", "Enter leaves");
    console.press("<Enter>", "which plug drives which joint");
}

/// Answers what moved, as the title says what a person would see.
fn answer_plug(console: &Console) -> String {
    console.see("► Which joint moved?");
    let screen = console.screen();
    let title = screen.lines().nth(1).expect("a title").to_owned();
    let seen = title.split("simulated: ").nth(1).expect("practice");
    let words: Vec<&str> = seen.split(' ').collect();
    let [leg, joint, way, ..] = words.as_slice() else {
        panic!("what was seen: {seen}");
    };
    let leg = [
        ("LF", "e"),
        ("LM", "d"),
        ("LR", "c"),
        ("RF", "r"),
        ("RM", "f"),
        ("RR", "v"),
    ]
    .into_iter()
    .find(|(name, _)| name == leg)
    .expect("a leg")
    .1;
    let joint = [("coxa", "u"), ("femur", "i"), ("tibia", "o")]
        .into_iter()
        .find(|(name, _)| name == joint)
        .expect("a joint")
        .1;
    let way = match *way {
        "up" | "forward" => "<Up>",
        _ => "<Down>",
    };
    console.press(&format!("{leg}{joint}{way}"), "► Enter if it is so:");
    title
}

#[test]
fn plugs_are_answered_by_keys_recorded_at_once_and_taken_up_again_by_another_console() {
    let folder = folder();
    let console = start("20", &[], folder.path());
    // Given a file, everything is on the disk as soon as it is answered.
    console.press("s", "Enter saves as my-marram.toml.");
    console.press("<Enter>", "Saved: my-marram.toml.");
    console.keys("<Esc>");
    supply(&console);
    console.press("<Enter>", "Enter: nudge pin 22");
    console.press_and_pass("<Enter>", "Hands away. Pin 22 wakes");
    for pin in [22, 23, 24] {
        let title = answer_plug(&console);
        assert!(title.contains(&format!("pin {pin}, ")), "{title}");
        console.press("<Enter>", &format!("pin {}, ", pin + 1));
    }
    console.see("► Which joint moved?");
    // Killed, not left: what was answered is there.
    console.signal(rustix::process::Signal::KILL);
    let book = text_of(&folder.path().join("my-marram.logbook"));
    let plugs = book
        .lines()
        .filter(|line| line.contains("\"plug\""))
        .count();
    assert_eq!(plugs, 3, "{book}");
    drop(console);

    let console = start("20", &["--file", "my-marram.toml"], folder.path());
    console.see("plug 22");
    console.press("d<Enter>", "Enter: nudge pin 25");
    console.press("<Esc>", "── Home");
}

#[test]
fn space_ends_a_countdown_nothing_wakes_behind_it_and_enter_takes_it_up_again() {
    let folder = folder();
    let trace = folder.path().join("trace.txt");
    // Twice as fast: the countdown leaves a second and a half for Space, and the robot waits for a host that is held up.
    let console = start(
        "2",
        &["--trace", trace.to_str().expect("a path")],
        folder.path(),
    );
    supply(&console);
    console.press("<Enter>", "Enter: nudge pin 22");
    console.press_and_pass("<Enter>", "Hands away. Pin 22 wakes");
    console.press("<Space>", "All went limp. Enter takes this step up again.");
    let wakes = || {
        pty::sent(&trace)
            .iter()
            .filter(|line| line.contains("wake"))
            .count()
    };
    assert_eq!(wakes(), 0);
    console.press_and_pass("<Enter>", "Hands away. Pin 22 wakes");
    console.see("► Which joint moved?");
    assert_eq!(wakes(), 1);
    console.see("│ limp     │");
}

/// Marram's file, but the pose that its joints wake in is far from how they hang: coxas forward or back, femurs up.
fn far_from_rest(folder: &Path) {
    let text = hornset::calibration::MARRAM
        .replace("template = true\n", "")
        .replace("needed_deg = [-40.0, 40.0]", "needed_deg = [-40.0, -39.0]")
        .replace("needed_deg = [-50.0, 60.0]", "needed_deg = [59.0, 60.0]");
    std::fs::write(folder.join("far.toml"), text).expect("written");
}

/// The practice robot's own supply sags, and the builder has typed another's limit: nothing here tells the console
/// but the board's reset.
#[test]
fn a_supply_too_weak_for_the_wakes_is_told_as_a_brown_out_and_the_next_ones_are_eased() {
    let folder = folder();
    far_from_rest(folder.path());
    let trace = folder.path().join("trace.txt");
    let args = [
        "--practice",
        "--speed",
        "2",
        "--seed",
        "18",
        "--fault",
        "weak-supply",
        "--file",
        "far.toml",
        "--trace",
        trace.to_str().expect("a path"),
    ];
    let console = Console::start(&args, folder.path());
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.see("Enter: write down the servo supply first.");
    console.press("<Enter>", "Choose where the servos get their power");
    console.press("<Enter>", "minus joined to the board's ground?");
    console.press("<Enter>", "Does each plug sit as drawn");
    console.press("<Enter>", "Type what the servo supply is set to");
    console.press("5.2<Enter>", "Type its current limit");
    console.press("10<Enter>", "Type one servo's stall current");
    console.press("1.4<Enter>", "Type the volts on the supply's own display");
    console.press("n", "Type the amps");
    console.press("n", "all 18 stalled 25.2 A");
    console.press("<Enter>", "Enter leaves");
    console.press("<Enter>", "── Home");
    console.keys("<F2>jjjjjjjjjjjjjjjjjjjj");
    console.press("<Enter>", "Enter opens Waking for LF, the leg.");
    console.press("j", "Enter opens Waking for the whole robot");
    console.press("<Enter>", "Enter: wake 18 servos, one after the other.");
    // 18 · 1.4 A against 10 A, by hand: the sum and its warning stand there before anything wakes.
    console.see("all 18 stalled 25.2 A");
    console.see("! more than the limit");
    console.press_and_pass("<Enter>", "Hands away.");
    console.see("The board reset: its supply dipped (brown-out");
    console.see("Read the supply's display; more current, or Enter: wake one by one.");
    let step = "All went limp. Enter takes this step up again.";
    console.press("<Enter>", step);
    console.press("<Enter>", "Enter: wake 18 servos, one for each Enter.");
    console.see("after a brown-out: coxas first");
    console.see("supply is written down anew");
    let count = 18;
    // The same pulses on the same supply, one at a time: it holds.
    console.press_and_pass("<Enter>", "Hands away.");
    for awake in 1..count {
        console.see(&format!("{awake} of {count} are awake."));
        console.keys("<Enter>");
    }
    console.see("Enter leaves: all of them are awake and stay so.");
    // Coxas first, they lift nothing, then tibias, femurs last: pins 22, 23, 24 … are coxa, femur, tibia of each leg.
    let weight = |line: &String| {
        let pin: usize = line
            .split("wake ")
            .nth(1)?
            .split(' ')
            .next()?
            .parse()
            .ok()?;
        Some([0, 2, 1][(pin - 22) % 3])
    };
    let woken: Vec<usize> = pty::sent(&trace).iter().filter_map(weight).collect();
    assert!(woken.len() > count, "{woken:?}");
    let again = &woken[woken.len() - count..];
    assert!(again.is_sorted(), "{again:?}");
}
