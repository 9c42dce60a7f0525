//! Feet of the practice robot on a printed sheet: led there by lines of the protocol, seen as a person sees them, judged
//! by the truth with the tool's own kinematics and nalgebra's rotations, neither of which the practice robot shares.
#![cfg(feature = "practice")]

#[cfg(unix)]
#[path = "support/pty.rs"]
mod pty;

use hornset::board::codec::emit;
use hornset::board::{Against, Hands, HandsError, SheetPlace, Sight};
use hornset::calibration::read;
use hornset::kinematics::{CalibratedRobot, Frame};
use hornset::practice::{Fault, Faults, Settings, World};
use nalgebra::{Rotation3, Unit, Vector3};

const LEGS: [&str; 6] = ["LF", "LM", "LR", "RF", "RM", "RR"];
/// The ball of every foot, as `calibrations/marram.toml` has it.
const BALL_MM: f64 = 4.0;
/// Just below the feet as they hang.
const HIGH_MM: f64 = -140.0;

fn at(z_mm: f64) -> SheetPlace {
    SheetPlace {
        x_mm: 0.0,
        y_mm: 0.0,
        z_mm,
    }
}

fn faulty(seed: u64, faults: &[Fault]) -> Settings {
    Settings {
        faults: faults.iter().copied().collect(),
        ..Settings::clean(seed)
    }
}

/// A robot, its wire, and one who talks to the board.
struct Bench {
    world: World,
    robot: CalibratedRobot,
    tag: u16,
    /// The least room below any foot in any millisecond so far, mm.
    least_room_mm: f64,
    watches: bool,
}

impl Bench {
    fn new(settings: Settings) -> Bench {
        let file = include_str!("../calibrations/marram.toml");
        let mut bench = Bench {
            world: World::new(settings),
            robot: CalibratedRobot::new(read(file).robot.expect("it is a good file")),
            tag: 0,
            least_room_mm: f64::INFINITY,
            watches: false,
        };
        bench.pass(50);
        bench.change("slew all 100000");
        bench
    }

    /// With a sheet under all legs.
    fn on_sheet(settings: Settings) -> Bench {
        let mut bench = Bench::new(settings);
        bench.world.lay_sheet(&LEGS, at(HIGH_MM)).expect("laid");
        bench
    }

    fn pass(&mut self, ms: u32) {
        if !self.watches {
            return self.world.run(ms);
        }
        for _ in 0..ms {
            self.world.step();
            for leg in LEGS {
                self.least_room_mm = self.least_room_mm.min(self.truth(leg).1);
            }
        }
    }

    /// A line goes out, and it is done.
    fn change(&mut self, words: &str) {
        self.tag += 1;
        self.world
            .send(&emit(Some(self.tag), words).expect("short"));
        self.pass(20);
        let heard = String::from_utf8_lossy(&self.world.take(usize::MAX)).into_owned();
        assert!(
            heard.contains(&format!("{} done", self.tag)),
            "{words}: {heard}"
        );
    }

    /// Time passes, and the board is fed.
    fn feed(&mut self, ms: u32) {
        for _ in 0..ms / 100 {
            self.change("beat");
            self.pass(80);
        }
    }

    fn pulse(&self, leg: &str, joint: &str, deg: f64) -> String {
        let truth = self.world.truth();
        let joint = truth.joint(leg, joint).expect("there");
        let us = joint.us_at(deg).expect("it gets there").round();
        format!("{}:{us}", joint.pin)
    }

    /// All joints of a leg wake where their foot is far above the sheet.
    fn wake(&mut self, leg: &str) {
        for (joint, deg) in [("femur", 20.0), ("coxa", 0.0), ("tibia", -80.0)] {
            let pulse = self.pulse(leg, joint, deg);
            let (pin, us) = pulse.split_once(':').expect("a pulse");
            self.change(&format!("guard {pin} 500 2500"));
            self.change(&format!("wake {pin} {us}"));
            self.feed(400);
        }
    }

    /// A leg goes there, as far as it gets, and comes to rest.
    fn go(&mut self, leg: &str, [coxa, femur, tibia]: [f64; 3]) {
        let pulses = [
            self.pulse(leg, "coxa", coxa),
            self.pulse(leg, "femur", femur),
            self.pulse(leg, "tibia", tibia),
        ];
        self.change(&format!("go 0 {}", pulses.join(" ")));
        self.feed(1000);
    }

    fn look(&self) -> Sight {
        self.world.sight().look()
    }

    /// What a person reads where this leg's foot touches.
    fn read(&self, leg: &str) -> Option<[f64; 2]> {
        let touches = self.look().touches;
        let touch = touches.iter().find(|touch| touch.leg == leg)?;
        Some(touch.at_mm)
    }

    /// Where on the printed grid the ball is nearest to the sheet, and how far from it it is.
    fn truth(&self, leg: &str) -> ([f64; 2], f64) {
        let truth = self.world.truth();
        let deg =
            ["coxa", "femur", "tibia"].map(|joint| truth.joint(leg, joint).expect("there").deg);
        let index = self.robot.leg(leg).expect("there");
        let foot = Vector3::from(self.robot.foot(index, deg, Frame::Body));
        let sheet = truth.sheet.expect("it was laid");
        let toward = sheet.rises_to_deg.to_radians();
        // About the level axis to the right of where it rises, by the right hand: what points there is lifted.
        let axis = Unit::new_normalize(Vector3::new(toward.sin(), -toward.cos(), 0.0));
        let lies = Rotation3::from_axis_angle(&axis, sheet.tilt_deg.to_radians())
            * Rotation3::from_axis_angle(&Vector3::z_axis(), sheet.turn_deg.to_radians());
        let seen = lies.inverse() * (foot - Vector3::from(sheet.origin_mm));
        (
            [seen.x / sheet.scale, seen.y / sheet.scale],
            seen.z - BALL_MM,
        )
    }
}

/// Off by how much, in the worse direction.
fn apart(one: [f64; 2], other: [f64; 2]) -> f64 {
    (one[0] - other[0]).abs().max((one[1] - other[1]).abs())
}

#[test]
fn a_foot_that_is_lowered_stops_on_the_sheet_and_is_read_where_the_truth_has_it() {
    for seed in 0..12 {
        // Everything that moves a foot elsewhere than where it was sent, and no error of reading.
        let faults = [Fault::Play, Fault::Droop, Fault::Curve, Fault::Sheet];
        let mut bench = Bench::on_sheet(faulty(seed, &faults));
        let leg = LEGS[seed as usize % 6];
        bench.wake(leg);
        for (coxa, tibia) in [(0.0, -50.0), (-25.0, -40.0), (20.0, -60.0)] {
            assert_eq!(bench.read(leg), None, "seed {seed}: in the air");
            bench.go(leg, [coxa, -56.0, tibia]);
            let (at_mm, room_mm) = bench.truth(leg);
            assert!(room_mm.abs() < 0.02, "seed {seed}: {room_mm} mm above it");
            let read = bench.read(leg).expect("it touches");
            // Read to a tenth.
            assert!(
                apart(read, at_mm) < 0.0501,
                "seed {seed}: {read:?} {at_mm:?}"
            );
            bench.go(leg, [coxa, 0.0, -80.0]);
        }
    }
}

#[test]
fn a_clean_sheet_lies_where_it_was_meant_to() {
    let mut bench = Bench::new(Settings::clean(7));
    let meant = SheetPlace {
        x_mm: 40.0,
        y_mm: -30.0,
        z_mm: HIGH_MM,
    };
    bench.world.lay_sheet(&["RF"], meant).expect("laid");
    let sheet = bench.world.truth().sheet.expect("it lies there");
    assert_eq!(sheet.origin_mm, [40.0, -30.0, HIGH_MM]);
    assert_eq!(
        (sheet.turn_deg, sheet.tilt_deg, sheet.scale),
        (0.0, 0.0, 1.0)
    );
    bench.wake("RF");
    bench.go("RF", [0.0, -56.0, -45.0]);
    let deg = |joint| bench.world.truth().joint("RF", joint).expect("there").deg;
    let out = 31.0
        + 67.0 * deg("femur").to_radians().cos()
        + 104.0 * (deg("femur") + deg("tibia")).to_radians().cos();
    // RF points 45 degrees to the right of forward.
    let yaw = (deg("coxa") - 45.0).to_radians();
    let on_grid = [
        85.0 + out * yaw.cos() - 40.0,
        -55.0 + out * yaw.sin() + 30.0,
    ];
    let read = bench.read("RF").expect("it touches");
    assert!(apart(read, on_grid) < 0.0501, "{read:?} {on_grid:?}");
}

#[test]
fn what_is_read_is_off_by_half_a_millimetre_and_anew_with_each_touch() {
    let (mut squares, mut differ) = (Vec::new(), 0);
    for seed in 0..10 {
        let mut bench = Bench::on_sheet(faulty(seed, &[Fault::Sheet, Fault::Reading]));
        for leg in LEGS {
            bench.wake(leg);
            let mut reads = Vec::new();
            for _ in 0..3 {
                bench.go(leg, [0.0, -56.0, -50.0]);
                let (at_mm, _) = bench.truth(leg);
                let read = bench.read(leg).expect("it touches");
                assert!(read.iter().all(|mm| mm.fract() == 0.0), "{read:?}");
                bench.feed(200);
                assert_eq!(bench.read(leg), Some(read), "it stays, and so does this");
                squares.extend([0, 1].map(|i| (read[i] - at_mm[i]).powi(2)));
                bench.go(leg, [0.0, -10.0, -50.0]);
                assert_eq!(bench.read(leg), None);
                reads.push(read);
            }
            differ += u32::from(reads.iter().any(|read| *read != reads[0]));
            bench.change("limp");
        }
    }
    // The foot comes down on the same place, and of three readings of two numbers hardly ever all are the same.
    assert!(differ > 50, "{differ} of 60");
    let sd = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
    // 0.5 mm of reading, and 1/sqrt(12) mm of a whole millimetre (textbook); 360 of them tell it to 4 %.
    assert!((sd - 0.577).abs() < 3.0 * 0.022, "{sd}");
}

#[test]
fn pressing_on_the_sheet_is_heard_seen_and_draws() {
    let mut bench = Bench::on_sheet(faulty(7, &[Fault::Sheet]));
    bench.wake("LF");
    bench.go("LF", [0.0, -30.0, -50.0]);
    let femur = |sight: &Sight| sight.joints[1].clone();
    let free = bench.look();
    assert!(!femur(&free).servo.hums && femur(&free).against.is_none());
    bench.go("LF", [0.0, -56.0, -50.0]);
    let pressed = bench.look();
    assert!(femur(&pressed).servo.hums);
    assert_eq!(femur(&pressed).against, Some(Against::Sheet));
    assert!(pressed.supply_a > free.supply_a + 0.4, "{pressed:?}");
    // Not at its linkage's end: the femur's lies at -57 degrees or lower.
    let truth = bench.world.truth();
    let stands = truth.joint("LF", "femur").expect("there");
    assert!(stands.deg > stands.ends_deg.0 + 5.0, "{stands:?}");
    bench.go("LF", [0.0, -30.0, -50.0]);
    let again = bench.look();
    assert!(!femur(&again).servo.hums && femur(&again).against.is_none());
    let leaned = femur(&again).leaned.expect("remembered");
    assert_eq!(leaned.0, Against::Sheet);
}

#[test]
fn a_joint_that_takes_the_foot_along_the_sheet_is_not_held_by_one_that_presses_on_it() {
    let mut bench = Bench::on_sheet(Settings::clean(7));
    bench.wake("LF");
    bench.go("LF", [0.0, -56.0, -50.0]);
    let here = bench.read("LF").expect("it touches");
    bench.go("LF", [15.0, -56.0, -50.0]);
    let seen = bench.look().joints;
    assert!((seen[0].gauge_deg - 15.0).abs() < 0.5 && !seen[0].servo.hums);
    assert_eq!(seen[1].against, Some(Against::Sheet));
    // LF's foot is about 90 mm from its coxa's axis: the chord of 15 degrees.
    let there = bench.read("LF").expect("it slid");
    assert!(apart(here, there) > 10.0, "{here:?} {there:?}");
    let (at_mm, room_mm) = bench.truth("LF");
    assert!(room_mm.abs() < 0.02 && apart(there, at_mm) < 0.0501);
}

#[test]
fn no_foot_ever_goes_through_however_it_is_thrown_at_the_sheet() {
    for seed in [2, 5] {
        let faults = Faults::of_a_bench().with(Fault::NoisyServo);
        // A swapped plug would send another joint than was meant.
        let faults = faults.each().filter(|it| {
            let away = [Fault::PlugsSwapped, Fault::ShortTravel, Fault::WideSwing];
            !away.contains(it)
        });
        let mut bench = Bench::on_sheet(Settings {
            faults: faults.collect(),
            ..Settings::seeded(seed)
        });
        bench.watches = true;
        for leg in LEGS {
            bench.wake(leg);
            for to in [
                [0.0, -56.0, -42.0],
                [15.0, -56.0, -42.0],
                [15.0, -20.0, -110.0],
                [-15.0, -56.0, -60.0],
            ] {
                bench.go(leg, to);
            }
            bench.change("limp");
        }
        bench.pass(2000);
        let sight = bench.look();
        assert_eq!(sight.touches.len(), 6, "seed {seed}");
        assert!(sight.notes.is_empty(), "seed {seed}: {:?}", sight.notes);
        let least = bench.least_room_mm;
        assert!(least > -0.02, "seed {seed}: {least} mm");
        assert!(least < 0.02, "seed {seed}: no foot came down, {least} mm");
    }
}

#[test]
fn a_leg_that_the_sheet_does_not_lie_under_does_not_meet_it() {
    let mut bench = Bench::new(Settings::clean(7));
    bench
        .world
        .lay_sheet(&["LF", "RR"], at(HIGH_MM))
        .expect("laid");
    bench.wake("LM");
    bench.go("LM", [0.0, -56.0, -45.0]);
    assert!(bench.truth("LM").1 < -5.0);
    assert_eq!(bench.read("LM"), None);
    assert!(bench.look().joints[4].against.is_none());
}

#[test]
fn the_sheet_changes_nothing_for_anybody_who_does_not_lay_it() {
    let run = |settings: Settings, lays: bool| {
        let mut bench = Bench::new(settings);
        if lays {
            bench.world.lay_sheet(&LEGS, at(HIGH_MM)).expect("laid");
            bench.world.take_sheet_away().expect("taken");
        }
        let tool = hornset::board::Tool::Card;
        bench
            .world
            .place_gauge("RM", "femur", tool)
            .expect("placed");
        let read = bench.world.read_gauge().expect("read");
        bench.wake("LF");
        bench.go("LF", [0.0, -56.0, -45.0]);
        bench.change("limp");
        bench
            .world
            .exchange_servo("LF", "coxa", "20")
            .expect("done");
        let sight = Sight {
            label: String::new(),
            ..bench.look()
        };
        (bench.world.truth(), sight, read)
    };
    let with = faulty(4, &[Fault::Sheet, Fault::Reading, Fault::Play]);
    let without = faulty(4, &[Fault::Reading, Fault::Play]);
    let plain = run(without, false);
    assert_eq!(run(with, false), plain);
    assert_eq!(run(with, true), plain);
}

#[test]
fn a_seeds_sheets_are_the_same_whatever_else_was_done_and_each_lies_otherwise() {
    let laid = |world: &mut World| {
        world.lay_sheet(&LEGS, at(HIGH_MM)).expect("laid");
        world.truth().sheet.expect("it lies there")
    };
    let mut one = World::new(Settings::seeded(5));
    let mut other = World::new(Settings::seeded(5));
    let tool = hornset::board::Tool::Gauge;
    other.place_gauge("LF", "coxa", tool).expect("placed");
    other.read_gauge().expect("read");
    // What is refused is not laid, and what lies there stays.
    assert!(matches!(
        other.lay_sheet(&LEGS, at(-60.0)),
        Err(HandsError::FootBelow { .. })
    ));
    assert_eq!(other.truth().sheet, None);
    let first = laid(&mut one);
    assert_eq!(first, laid(&mut other));
    assert!(other.lay_sheet(&LEGS, at(-60.0)).is_err());
    assert_eq!(other.truth().sheet, Some(first));
    let second = laid(&mut one);
    assert_ne!(first, second);
    assert_eq!(second, laid(&mut other));
    assert_ne!(first, laid(&mut World::new(Settings::seeded(6))));
}

#[test]
fn sheets_lie_a_few_millimetres_and_half_a_degree_from_where_they_were_meant() {
    let sheets: Vec<_> = (0..400)
        .map(|seed| {
            let mut world = World::new(faulty(seed, &[Fault::Sheet]));
            world.lay_sheet(&["RR"], at(-150.0)).expect("laid");
            world.truth().sheet.expect("it lies there")
        })
        .collect();
    let sd = |of: &dyn Fn(usize) -> f64| {
        let count = sheets.len() as f64;
        let mean = (0..sheets.len()).map(of).sum::<f64>() / count;
        ((0..sheets.len())
            .map(|i| (of(i) - mean).powi(2))
            .sum::<f64>()
            / count)
            .sqrt()
    };
    // Cut off at 2.5 standard deviations, a normal's own is 0.95 of what it was (textbook); within four of its errors.
    let meant = [0.0, 0.0, -150.0];
    for (axis, meant) in meant.into_iter().enumerate() {
        let off = sd(&|i| sheets[i].origin_mm[axis] - meant);
        assert!((off - 3.0 * 0.95).abs() < 0.4, "{axis}: {off}");
        assert!(
            sheets
                .iter()
                .all(|it| (it.origin_mm[axis] - meant).abs() <= 7.5)
        );
    }
    let turn = sd(&|i| sheets[i].turn_deg);
    assert!((turn - 0.95).abs() < 0.14, "{turn}");
    // Even over the circle: 360 / sqrt(12).
    let rises = sd(&|i| sheets[i].rises_to_deg);
    assert!((rises - 103.9).abs() < 10.0, "{rises}");
    assert!(
        sheets
            .iter()
            .all(|it| (it.tilt_deg, it.scale) == (0.5, 0.99))
    );
}

#[test]
fn hands_stay_away_from_what_is_awake_and_say_what_to_do() {
    let mut bench = Bench::on_sheet(Settings::clean(7));
    let hands = &mut bench.world;
    assert_eq!(
        hands.lay_sheet(&[], at(HIGH_MM)),
        Err(HandsError::UnderNoLeg)
    );
    let none = hands.lay_sheet(&["LF", "XX"], at(HIGH_MM));
    assert!(matches!(none, Err(HandsError::NoSuchLeg { ref leg }) if leg == "XX"));
    let below = hands
        .lay_sheet(&LEGS, at(-100.0))
        .expect_err("feet hang lower");
    let said = below.to_string();
    assert!(
        said.contains("mm below where the sheet would lie: lift the foot first"),
        "{said}"
    );
    let Err(HandsError::FootBelow { leg, by_mm }) = hands.lay_sheet(&["RM"], at(-100.0)) else {
        panic!("RM hangs lower");
    };
    let shift = -100.0 - HIGH_MM;
    let room_mm = bench.truth("RM").1 - shift;
    assert_eq!((leg, f64::from(by_mm)), ("RM", (-room_mm).ceil()));
    bench.wake("LM");
    let awake = Err(HandsError::Awake {
        pin: bench.world.truth().joint("LM", "coxa").expect("there").pin,
    });
    assert_eq!(bench.world.take_sheet_away(), awake);
    assert_eq!(bench.world.lay_sheet(&["LM"], at(-145.0)), awake);
    // Not even to lay it under another leg: it lies under this one now.
    assert_eq!(bench.world.lay_sheet(&["RR"], at(-145.0)), awake);
    bench.go("LM", [0.0, -56.0, -45.0]);
    assert!(bench.read("LM").is_some());
    bench.change("limp");
    bench.feed(100);
    assert!(bench.read("LM").is_some(), "gears and horn hold it there");
    // A tooth down would put the foot through, a tooth up would not.
    let horn = bench.world.turn_horn("LM", "femur", -1, 0);
    assert!(matches!(horn, Err(HandsError::ThroughSheet)), "{horn:?}");
    bench.world.turn_horn("LM", "femur", 1, 0).expect("up");
    bench
        .world
        .turn_horn("LM", "femur", -1, 0)
        .expect("and down");
    bench.world.take_sheet_away().expect("all are limp");
    assert!(bench.look().touches.is_empty());
    assert_eq!(bench.world.truth().sheet, None);
    assert_eq!(bench.world.take_sheet_away(), Ok(()));
}

#[test]
fn a_sheet_that_is_asked_for_lies_there_from_the_start_below_the_feet_of_every_robot() {
    for seed in 0..200 {
        let world = World::new(Settings {
            sheet_mm: Some(-140),
            ..Settings::seeded(seed)
        });
        let sight = world.sight().look();
        assert!(sight.notes.is_empty(), "seed {seed}: {:?}", sight.notes);
        assert!(sight.touches.is_empty(), "seed {seed}: {:?}", sight.touches);
        assert!(world.truth().sheet.is_some());
    }
    let world = World::new(Settings {
        sheet_mm: Some(-100),
        ..Settings::seeded(7)
    });
    let notes = world.sight().look().notes;
    assert!(
        notes[0].starts_with("no sheet was laid: the foot of LF hangs"),
        "{notes:?}"
    );
    assert_eq!(world.truth().sheet, None);
}

/// From the keys to the practice robot's matter and back to the screen.
#[cfg(unix)]
#[test]
fn a_foot_is_put_down_on_the_sheet_and_the_console_says_where_it_would_be_seen() {
    let folder = pty::folder();
    let file = pty::marram_in(folder.path());
    let file = file.to_str().expect("a path");
    let args = [
        "--practice",
        "--clean",
        "--speed",
        "5",
        "--sheet",
        "-140",
        "--file",
        file,
    ];
    let console = pty::Console::start(&args, folder.path());
    console.see("── Home");
    console.press("<Enter>", "Where is the robot?");
    console.press("<Enter>", "on the stand  Space=limp");
    console.press("<F2>jj<Enter>", "── Foot jog ── LF");
    console.press_and_pass("<Enter>", "Hands away. LF wakes in");
    console.see("3 awake");
    console.see("moves the foot 4 mm");
    assert!(!console.screen().contains("sheet"), "{}", console.screen());
    // It wakes with its knee nearly straight: inward and down, then below the body's edge.
    let at = |name: &str| -> f64 {
        let screen = console.screen();
        let mut numbers = screen.lines().filter_map(|row| {
            let (_, rest) = row.split_once(name)?;
            let number = rest.split([' ', ',']).find(|it| !it.is_empty())?;
            number.replace('−', "-").parse().ok()
        });
        numbers.next().unwrap_or_else(|| panic!("{screen}"))
    };
    let jog = |key: &str, there: &dyn Fn() -> bool| {
        for _ in 0..100 {
            if there() {
                return;
            }
            console.keys(key);
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        panic!("{key} led nowhere:\n{}", console.screen());
    };
    jog("<Left>", &|| at("│out ") < 160.0);
    jog("<Down>", &|| at("│up ") < -70.0);
    jog("<Left>", &|| at("│out ") < 112.0);
    jog("<Down>", &|| {
        let screen = console.screen();
        screen.contains("simulated: sheet x ") || screen.contains("hum, sheet x ")
    });
    // A clean sheet's zero is below the body's: left front of it. The foot is commanded no lower than it presses.
    let screen = console.screen();
    let (x, y) = (at("sheet x "), at(" y "));
    // The mount stands at 85, 55 and the leg points to 45 degrees.
    let out = at("│out ") * std::f64::consts::FRAC_1_SQRT_2;
    assert!(
        (x - 85.0 - out).abs() < 6.0 && (y - 55.0 - out).abs() < 6.0,
        "{screen}"
    );
    assert!(at("│up ") < -130.0, "{screen}");
    // What is seen comes before a way that looks free.
    console.see("The foot stands on the sheet: farther down only presses.");
}
