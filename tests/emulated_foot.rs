//! Foot jog from the key to the pins: the real program in a pseudo-terminal on the emulated chip's serial line.
//!
//! Pulses are measured on the chip's own pins and turned back to a foot by a formula that stands here alone:
//! three rotations one after another, with the numbers of the file typed in again. Nothing of hornset computes here.
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
use std::time::{Duration, Instant};

use chip_tty::Chip;
use emulator::{CYCLES_PER_FRAME, CYCLES_PER_TICK, CYCLES_PER_US};
use pty::Console;
use pulses::{Pulse, Pulses};
use rustix::process::Signal;

/// How long the chip may take to show what was asked for.
const PATIENCE: Duration = Duration::from_secs(60);
/// How far from the straight line the foot may be, mm.
const OFF_MM: f64 = 0.5;
/// What a foot may move in five frames, mm: 250 mm/s for 0.1 s, and 1 mm for rounding.
const FIVE_FRAMES_MM: f64 = 25.0 + 1.0;
/// How many times as fast as the clock on the wall the chip's time runs, and the console's with it, if the machine can.
const PACE: u32 = 4;

type Point = [f64; 3];

/// One leg as its file has it, typed in again or read without hornset.
struct Leg {
    pins: [u8; 3],
    /// Of coxa, femur, tibia, µs.
    zero_us: [f64; 3],
    us_per_deg: [f64; 3],
    links_mm: [f64; 3],
    /// Forward and left of the body's middle, mm; and where it points, degrees to the left of forward.
    mount: [f64; 3],
}

/// LF of tests/data/six_legs.toml.
const LF: Leg = Leg {
    pins: [22, 23, 24],
    zero_us: [1510.5, 1487.5, 2290.0],
    us_per_deg: [10.58, 10.62, 10.90],
    links_mm: [31.0, 67.0, 104.0],
    mount: [85.0, 55.0, 45.0],
};
/// The leg of tests/data/long_leg.toml: so long and so quick that the speeds of its joints do not bound its foot.
const LONG: Leg = Leg {
    pins: [22, 23, 24],
    zero_us: [1500.0, 1400.0, 2100.0],
    us_per_deg: [11.0, 11.0, 11.0],
    links_mm: [40.0, 110.0, 150.0],
    mount: [85.0, 55.0, 45.0],
};

impl Leg {
    /// The foot that these pulses command: out, left of out, up, in the leg's frame.
    ///
    /// Built from the foot inward: go out along the tibia, turn about the knee's level axis, go out along the femur,
    /// turn about the hip's, go out along the coxa, turn about the upright axis.
    fn foot(&self, us: [f64; 3]) -> Point {
        let angle: Point =
            std::array::from_fn(|i| ((us[i] - self.zero_us[i]) / self.us_per_deg[i]).to_radians());
        // A turn that lifts: about the axis that points to the right of outward.
        let lift =
            |[x, y, z]: Point, a: f64| [x * a.cos() - z * a.sin(), y, x * a.sin() + z * a.cos()];
        let spin =
            |[x, y, z]: Point, a: f64| [x * a.cos() - y * a.sin(), x * a.sin() + y * a.cos(), z];
        let out = |[x, y, z]: Point, by: f64| [x + by, y, z];
        let at_knee = lift([self.links_mm[2], 0.0, 0.0], angle[2]);
        let at_hip = lift(out(at_knee, self.links_mm[1]), angle[1]);
        spin(out(at_hip, self.links_mm[0]), angle[0])
    }

    /// The same in the body's frame: forward, left, up.
    fn foot_in_body(&self, us: [f64; 3]) -> Point {
        let [x, y, z] = self.foot(us);
        let (sin, cos) = self.mount[2].to_radians().sin_cos();
        [
            self.mount[0] + x * cos - y * sin,
            self.mount[1] + x * sin + y * cos,
            z,
        ]
    }
}

fn apart(a: Point, b: Point) -> f64 {
    (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
}

/// How far a point is from the straight line between two others.
fn off_line(point: Point, from: Point, to: Point) -> f64 {
    let size = apart(from, to).powi(2);
    let dot: f64 = (0..3)
        .map(|i| (point[i] - from[i]) * (to[i] - from[i]))
        .sum();
    let part = (dot / size).clamp(0.0, 1.0);
    let nearest = std::array::from_fn(|i| from[i] + (to[i] - from[i]) * part);
    apart(point, nearest)
}

/// The emulated board behind a terminal, with a leg on it.
struct Board {
    chip: Chip,
    leg: Leg,
}

impl Board {
    fn start(folder: &Path, leg: Leg) -> Board {
        Board::start_at(PACE, folder, leg)
    }

    fn start_at(pace: u32, folder: &Path, leg: Leg) -> Board {
        let chip = Chip::start_with_clock(folder, &emulator::firmware(), pace, &[]);
        Board { chip, leg }
    }

    /// The console on this board, living by its clock.
    fn console(&self, file: &str, folder: &Path) -> Console {
        let args = ["--port", &self.chip.tty, "--file", file];
        Console::start_in(&self.chip.clock_variables(), &args, folder, 80, 24)
    }

    /// Waits until the chip's time has come so far.
    #[track_caller]
    fn goes_on(&self, until_us: u64) {
        let deadline = Instant::now() + PATIENCE;
        while self.chip.now_us() < until_us {
            assert!(Instant::now() < deadline, "the chip stands still");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn pulses(&self) -> Pulses {
        Pulses::of(&self.chip.edges())
    }

    /// The foot in every frame in which all three joints had a pulse, with the frame's cycle.
    fn feet(&self) -> Vec<(u64, Point)> {
        let pulses = self.pulses();
        let of = |pin: u8| -> Vec<Pulse> {
            let all = pulses.finished.iter().filter(|p| p.pin == pin);
            all.copied().collect()
        };
        let [coxa, femur, tibia] = self.leg.pins.map(of);
        let us = |p: &Pulse| p.width as f64 / CYCLES_PER_TICK as f64 / 2.0;
        let mut feet = Vec::new();
        for first in &coxa {
            let in_frame = |list: &[Pulse]| {
                let at = list.partition_point(|p| p.rise < first.rise);
                let next = list.get(at)?;
                (next.rise < first.rise + CYCLES_PER_FRAME).then_some(*next)
            };
            if let (Some(b), Some(c)) = (in_frame(&femur), in_frame(&tibia)) {
                feet.push((first.rise, self.leg.foot([us(first), us(&b), us(&c)])));
            }
        }
        feet
    }
}

/// The console on the foot page of LF, awake, its arrows in the side view.
fn awake(folder: &Path, board: &Board, robot: &str) -> Console {
    let file = folder.join("bench.toml");
    let source = emulator::root().join("tests/data").join(robot);
    std::fs::copy(source, &file).expect("copied");
    let name = file.to_str().expect("a path");
    let console = board.console(name, folder);
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.press("<F2>", "one foot along straight lines");
    console.press("jj", "Enter opens Foot jog.");
    console.press("<Enter>", "── Foot jog ── LF");
    console.press_and_pass("<Enter>", "Hands away. LF wakes in");
    console.see("3 awake");
    console.see("→ moves the foot 4 mm outward.");
    let deadline = Instant::now() + PATIENCE;
    while board.feet().is_empty() {
        assert!(Instant::now() < deadline, "no frame with all three pulses");
        std::thread::sleep(Duration::from_millis(20));
    }
    console
}

/// The legs of the file with six, read without hornset.
fn legs() -> Vec<Leg> {
    let source = emulator::root().join("tests/data/six_legs.toml");
    let text = std::fs::read_to_string(source).expect("it is there");
    let file: toml::Table = text.parse().expect("TOML");
    let number = |value: &toml::Value| match value {
        toml::Value::Integer(n) => *n as f64,
        other => other.as_float().expect("a number"),
    };
    let legs = file["leg"].as_array().expect("legs").iter();
    legs.map(|leg| {
        let joints = ["coxa", "femur", "tibia"].map(|name| &leg[name]);
        Leg {
            pins: joints.map(|joint| number(&joint["pin"]) as u8),
            zero_us: joints.map(|joint| number(&joint["zero_us"]["value"])),
            us_per_deg: joints.map(|joint| number(&joint["us_per_degree"]["value"])),
            links_mm: ["coxa_mm", "femur_mm", "tibia_mm"].map(|key| number(&leg["links"][key])),
            mount: ["x_mm", "y_mm", "yaw_deg"].map(|key| number(&leg["mount"][key])),
        }
    })
    .collect()
}

/// A motion by keys, as the pins show it.
struct Motion {
    /// One for each frame, from the last before it moved to the first of those that stay.
    frames: Vec<Point>,
}

/// Presses keys, does `meanwhile`, and waits until the foot has moved and then stayed for half a second.
#[track_caller]
fn motion(board: &Board, console: &Console, keys: &str, meanwhile: impl FnOnce()) -> Motion {
    let start = board.feet().len().checked_sub(1).expect("it is awake");
    console.keys(keys);
    meanwhile();
    let deadline = Instant::now() + PATIENCE;
    let frames = loop {
        let frames: Vec<Point> = board.feet()[start..].iter().map(|it| it.1).collect();
        let first = frames[0];
        let last = frames[frames.len() - 1];
        let moved = frames.iter().any(|it| *it != first);
        let still = frames.iter().rev().take_while(|it| **it == last).count();
        if moved && still >= 25 && !console.screen().contains("mm to go") {
            break frames[..=frames.len() - still].to_vec();
        }
        assert!(
            Instant::now() < deadline,
            "{keys}: it does not come to rest; the screen:\n{}",
            console.screen()
        );
        std::thread::sleep(Duration::from_millis(50));
    };
    Motion { frames }
}

impl Motion {
    /// Straight to there, no faster than it may, frame by frame.
    #[track_caller]
    fn goes_straight(&self, what: &str, to: Point) {
        let from = self.frames[0];
        let end = self.frames[self.frames.len() - 1];
        let off = |it: &Point| off_line(*it, from, to);
        let worst = self.frames.iter().map(off).fold(0.0, f64::max);
        let five = self.five_frames_mm();
        println!(
            "{what}: {} frames, {:.1} mm, at most {worst:.2} mm off the line, {five:.2} mm in five frames, {:.2} mm from the goal",
            self.frames.len() - 1,
            apart(from, to),
            apart(end, to),
        );
        assert!(worst <= OFF_MM, "{what}: {worst} mm off the line");
        assert!(five <= FIVE_FRAMES_MM, "{what}: {five} mm in five frames");
        assert!(apart(end, to) <= OFF_MM, "{what}: ends {end:?}, not {to:?}");
    }

    /// The most that the foot moved in five frames, mm.
    fn five_frames_mm(&self) -> f64 {
        let five = self.frames.windows(6).map(|w| apart(w[0], w[5]));
        five.fold(0.0, f64::max)
    }

    /// Frames in which the foot moved.
    fn moving(&self) -> usize {
        self.frames.windows(2).filter(|w| w[0] != w[1]).count()
    }

    /// Frames in a row in which the foot stayed, the most before it arrived.
    fn longest_rest(&self) -> usize {
        let mut longest = 0;
        let mut rest = 0;
        for pair in self.frames.windows(2) {
            rest = if pair[0] == pair[1] { rest + 1 } else { 0 };
            longest = longest.max(rest);
        }
        longest
    }
}

fn by(from: Point, by: Point) -> Point {
    std::array::from_fn(|i| from[i] + by[i])
}

#[test]
fn the_formula_of_this_test_agrees_with_the_worked_example() {
    // −4.0°, +11.8°, −71.0°: 149.5 out, 10.4 fore (for LF: −10.4 to the left of outward), 75.6 down.
    let us = [1510.5 - 42.32, 1487.5 + 125.0, 2290.0 - 773.9];
    for (got, due) in LF.foot(us).iter().zip([149.5, -10.4, -75.6]) {
        assert!((got - due).abs() < 0.1, "{:?}", LF.foot(us));
    }
}

#[test]
fn keys_move_the_foot_straight_and_no_faster_than_it_may() {
    let folder = pty::folder();
    let board = Board::start(folder.path(), LF);
    let console = awake(folder.path(), &board, "six_legs.toml");
    let here = || board.feet().last().expect("it is awake").1;
    let none = || ();
    // Steps: outward, up; then fore in the top view, and along the body's axes.
    for (keys, way) in [
        ("l", [4.0, 0.0, 0.0]),
        ("..k", [0.0, 0.0, 16.0]),
        ("<Tab>k", [0.0, -16.0, 0.0]),
        ("j", [0.0, 16.0, 0.0]),
        // LF points half left: forward is outward and fore alike.
        ("Ak", [11.314, -11.314, 0.0]),
        ("j", [-11.314, 11.314, 0.0]),
    ] {
        let from = here();
        let motion = motion(&board, &console, keys, none);
        motion.goes_straight(keys, by(from, way));
    }
    // Typed points, far enough apart for the full speed; `fore` is the leg's −y for LF.
    console.press("A", "leg frame, top view");
    for (typed, to) in [
        ("=120<Tab>60<Tab>-80<Enter>", [120.0, -60.0, -80.0]),
        ("=120<Tab>-60<Tab>-80<Enter>", [120.0, 60.0, -80.0]),
        ("=140<Tab>55<Tab>-40<Enter>", [140.0, -55.0, -40.0]),
        ("=95<Tab>-40<Tab>-95<Enter>", [95.0, 40.0, -95.0]),
    ] {
        let motion = motion(&board, &console, typed, none);
        motion.goes_straight(typed, to);
        let length = apart(motion.frames[0], to);
        // 250 mm/s for all of the way would be the fewest frames.
        assert!(motion.frames.len() as f64 >= length / 5.0, "{typed}");
    }
    // Several keys at once: the newest target, in the end.
    let from = here();
    let both = motion(&board, &console, ",,kkl", none);
    let end = both.frames[both.frames.len() - 1];
    assert!(
        apart(end, by(from, [4.0, -8.0, 0.0])) <= OFF_MM,
        "{end:?} from {from:?}"
    );
    console.press("<Space>", "│ limp ");
}

#[test]
fn a_foot_whose_joints_could_go_faster_is_held_by_the_cap_and_reaches_it() {
    let folder = pty::folder();
    let board = Board::start(folder.path(), LONG);
    let console = awake(folder.path(), &board, "long_leg.toml");
    for (typed, to) in [
        ("=250<Tab>110<Tab>-40<Enter>", [250.0, -110.0, -40.0]),
        ("=250<Tab>-110<Tab>-40<Enter>", [250.0, 110.0, -40.0]),
        ("=250<Tab>110<Tab>-40<Enter>", [250.0, -110.0, -40.0]),
    ] {
        let motion = motion(&board, &console, typed, || ());
        motion.goes_straight(typed, to);
        let length = apart(motion.frames[0], to);
        if length < 200.0 {
            continue;
        }
        // A set-point is a sixth of 25 mm, because six can fall into five frames: five of them are 20.8 mm, less rounding.
        // What nothing held would reach 29 mm (√(400 mm/s² · 220 mm) = 297 mm/s), for the joints allow it.
        let five = motion.five_frames_mm();
        assert!(five >= 20.0, "{typed}: the cap is not reached: {five} mm");
        let at_cap = motion
            .frames
            .windows(6)
            .filter(|w| apart(w[0], w[5]) > 19.5);
        assert!(at_cap.count() >= 10, "{typed}: it does not stay there");
    }
    console.press("<Space>", "│ limp ");
}

#[test]
fn a_stopped_console_delays_the_path_and_nothing_is_caught_up() {
    let folder = pty::folder();
    // Who acts in the middle of a way lives by the clock on the wall.
    let board = Board::start_at(1, folder.path(), LF);
    let console = awake(folder.path(), &board, "six_legs.toml");
    let fore = ("=120<Tab>60<Tab>-80<Enter>", [120.0, -60.0, -80.0]);
    let rear = ("=120<Tab>-60<Tab>-80<Enter>", [120.0, 60.0, -80.0]);
    motion(&board, &console, fore.0, || ()).goes_straight("to the start", fore.1);
    let steady = motion(&board, &console, rear.0, || ());
    steady.goes_straight("undisturbed", rear.1);
    motion(&board, &console, fore.0, || ()).goes_straight("back", fore.1);
    // The whole program stops for 0.3 s in the middle of the way, less than the board's silence time.
    let before = board.feet().len();
    let late = motion(&board, &console, rear.0, || {
        let deadline = Instant::now() + PATIENCE;
        while board.feet()[before..]
            .iter()
            .all(|it| apart(it.1, fore.1) < 30.0)
        {
            assert!(Instant::now() < deadline, "it does not move");
            std::thread::sleep(Duration::from_millis(5));
        }
        console.signal(Signal::STOP);
        let stopped = board.chip.now_us();
        board.chip.command("ahead 300000");
        board.goes_on(stopped + 300_000);
        console.signal(Signal::CONT);
    });
    late.goes_straight("stopped for 0.3 s", rear.1);
    let rest = late.longest_rest();
    println!(
        "undisturbed it moved in {} frames, with the stop in {}; it rested for {rest}",
        steady.moving(),
        late.moving()
    );
    assert!(rest >= 12, "it stood for {rest} frames");
    // Where it stood is on the way, not at its ends.
    let stood = late
        .frames
        .windows(12)
        .find(|w| w.iter().all(|it| it == &w[0]))
        .expect("it stood")[0];
    assert!(apart(stood, fore.1) > 25.0 && apart(stood, rear.1) > 10.0);
    // What was late stays late: caught up, the fifteen frames of rest would be missing among those that move.
    let (undisturbed, delayed) = (steady.moving(), late.moving());
    assert!(
        delayed + 6 >= undisturbed,
        "it moved in {delayed} frames, undisturbed in {undisturbed}"
    );
}

#[test]
fn space_in_the_middle_of_the_way_lets_go_and_nothing_goes_on() {
    let folder = pty::folder();
    let board = Board::start_at(1, folder.path(), LF);
    let console = awake(folder.path(), &board, "six_legs.toml");
    motion(&board, &console, "=120<Tab>60<Tab>-80<Enter>", || ());
    let start = board.feet().len();
    console.keys("=120<Tab>-60<Tab>-80<Enter>");
    let deadline = Instant::now() + PATIENCE;
    while board.feet()[start..]
        .iter()
        .all(|it| apart(it.1, [120.0, -60.0, -80.0]) < 30.0)
    {
        assert!(Instant::now() < deadline, "it does not move");
        std::thread::sleep(Duration::from_millis(5));
    }
    console.press("<Space>", "│ limp ");
    let let_go = board.chip.now_us();
    board.goes_on(let_go + 300_000);
    let last = board.feet().last().expect("it was awake").1;
    assert!(
        apart(last, [120.0, 60.0, -80.0]) > 10.0,
        "it had arrived already"
    );
    let pressed = board.chip.now_us();
    console.keys("<Esc>kl<Enter>");
    // The countdown before it would wake again; not even that moves anything before three seconds are over.
    board.goes_on(pressed + 2_500_000);
    let since = (let_go + 40_000) * CYCLES_PER_US..(pressed + 2_500_000) * CYCLES_PER_US;
    let pulses = board.pulses().finished;
    let later = pulses.iter().filter(|it| since.contains(&it.rise));
    assert_eq!(later.count(), 0, "no pulse since");
}

#[test]
fn the_body_moves_over_six_feet_that_stay() {
    let folder = pty::folder();
    let board = Board::start(folder.path(), LF);
    let file = folder.path().join("bench.toml");
    let source = emulator::root().join("tests/data/six_legs.toml");
    std::fs::copy(source, &file).expect("copied");
    let name = file.to_str().expect("a path");
    let console = board.console(name, folder.path());
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.press("<F2>", "the body over planted feet");
    console.press("jjj", "Enter opens Body jog.");
    console.press("<Enter>", "── Body jog");
    console.press_and_pass("<Enter>", "Hands away. The robot wakes in");
    console.see("18 awake");
    console.see("↑ moves the body 4 mm forward.");
    let legs = legs();
    // Where the last pulse of each pin puts the feet; awake is said before the first pulse has ended.
    let now = |pulses: &Pulses| -> Option<Vec<Point>> {
        let us = |pin: u8| {
            let last = pulses.finished.iter().rev().find(|p| p.pin == pin)?;
            Some(last.width as f64 / CYCLES_PER_TICK as f64 / 2.0)
        };
        let foot = |leg: &Leg| {
            let [coxa, femur, tibia] = leg.pins.map(us);
            Some(leg.foot_in_body([coxa?, femur?, tibia?]))
        };
        legs.iter().map(foot).collect()
    };
    let settled = |differs_from: &[Point]| -> Vec<Point> {
        let deadline = Instant::now() + PATIENCE;
        let mut before = now(&board.pulses());
        loop {
            board.goes_on(board.chip.now_us() + 400_000);
            let after = now(&board.pulses());
            if let Some(feet) = after
                .as_ref()
                .filter(|feet| **feet != differs_from && after == before)
            {
                return feet.clone();
            }
            assert!(Instant::now() < deadline, "it does not come to rest");
            before = after;
        }
    };
    console.see("18 awake");
    let planted = settled(&[]);
    // 16 mm forward, then 8 mm up: seen from the body every foot goes back and down by as much.
    let mut shift = [0.0; 3];
    for (keys, by) in [("..k", [16.0, 0.0, 0.0]), ("<Tab>,k", [0.0, 0.0, 8.0])] {
        let before = now(&board.pulses()).expect("all are awake");
        console.keys(keys);
        let after = settled(&before);
        shift = std::array::from_fn(|i| shift[i] + by[i]);
        let mut worst = 0.0_f64;
        for (foot, place) in after.iter().zip(&planted) {
            let due = std::array::from_fn(|i| place[i] - shift[i]);
            worst = worst.max(apart(*foot, due));
        }
        println!("{keys}: the feet stay within {worst:.2} mm");
        assert!(
            worst <= OFF_MM,
            "{keys}: a foot is {worst} mm from its place"
        );
    }
    // In the frames of both moves no foot was faster than it may be.
    let pulses = board.pulses();
    for leg in &legs {
        let of = |pin: u8| -> Vec<f64> {
            let all = pulses.finished.iter().filter(|p| p.pin == pin);
            all.map(|p| p.width as f64 / CYCLES_PER_TICK as f64 / 2.0)
                .collect()
        };
        let [a, b, c] = leg.pins.map(of);
        // The last six seconds, in which all are awake: the same frame stands at the same place from the end.
        let count = a.len().min(b.len()).min(c.len()).min(300);
        let last = |list: &[f64], i: usize| list[list.len() - count + i];
        let feet: Vec<Point> = (0..count)
            .map(|i| leg.foot_in_body([last(&a, i), last(&b, i), last(&c, i)]))
            .collect();
        let five = feet
            .windows(6)
            .map(|w| apart(w[0], w[5]))
            .fold(0.0, f64::max);
        assert!(
            five <= FIVE_FRAMES_MM,
            "pin {}: {five} mm in five frames",
            leg.pins[0]
        );
    }
    console.press("<Space>", "│ limp ");
}
