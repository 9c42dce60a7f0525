//! The bench: the leg on the pins of the emulated chip, and what a person sees, hears and does there.
//!
//! The servos get the pulses that the chip's pins really put out, to the cycle, and nothing else; what the console
//! asked for is not looked at.

use std::io::{Read, Seek, SeekFrom};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::chip_tty::Chip;
use crate::emulator::{CYCLES_PER_US, Report, parse};
use crate::leg::{Built, Leg};
use crate::person::{Felt, Senses};
use crate::pulses::{Pulse, Pulses};
use crate::screen::Screen;

const CYCLES_PER_MS: u64 = 1000 * CYCLES_PER_US;
/// Without a pulse for longer a servo is limp.
const LIMP_MS: u64 = 45;
/// Standard deviations of a reading, and of what all readings of one placing have in common, degrees.
const READING_DEG: f64 = 1.0;
const PLACING_DEG: f64 = 1.0;
/// The gauge's scale is read to this.
const READ_TO_DEG: f64 = 0.5;
/// A swing that an eye sees, degrees.
const SEEN_DEG: f64 = 0.8;
/// What the display shows without a load, and what it loses for each ampere.
const SUPPLY_V: f64 = 5.02;
const SAGS_V_PER_A: f64 = 0.05;

/// What its horns have.
const TEETH: u32 = 25;
const ARMS: u32 = 4;

/// A pulse, the joint whose servo got it, and how far it is beyond an end of that joint, µs.
#[derive(Debug, Clone, Copy)]
pub struct Given {
    pub pulse: Pulse,
    pub joint: usize,
    pub beyond_us: f64,
}

/// The bench.
pub struct Bench<'a> {
    chip: &'a Chip,
    log: Log,
    pulses: Pulses,
    pub leg: Leg,
    /// Which pin each joint's plug sits on.
    pub plugs: [u8; 3],
    /// The last pulse of each joint's servo.
    last: [Option<Pulse>; 3],
    ms: u64,
    /// When he was last asked what moved.
    asked_ms: u64,
    rng: ChaCha8Rng,
    /// The gauge's joint, and what its placing errs by.
    gauge: Option<(usize, f64)>,
    /// The last placing of each joint.
    pub placings_deg: [Option<f64>; 3],
    pub given: Vec<Given>,
    pub swaps: usize,
    /// How many horns were turned.
    pub turned: usize,
    /// For how long each servo presses now, and the longest that any did, ms.
    presses_ms: [u64; 3],
    pub pressed_ms: u64,
}

impl<'a> Bench<'a> {
    pub fn new(chip: &'a Chip, seed: u64, built: [Built; 3], plugs: [u8; 3]) -> Bench<'a> {
        Bench {
            log: Log::default(),
            pulses: Pulses::default(),
            leg: Leg::new(built),
            plugs,
            last: [None; 3],
            ms: 0,
            asked_ms: 0,
            rng: ChaCha8Rng::seed_from_u64(seed),
            gauge: None,
            placings_deg: [None; 3],
            given: Vec::new(),
            swaps: 0,
            turned: 0,
            presses_ms: [0; 3],
            pressed_ms: 0,
            chip,
        }
    }

    /// Lets the leg do what it did while the chip went on.
    pub fn catch_up(&mut self) {
        for report in self.log.news(self.chip) {
            let Some(pulse) = self.pulses.take(&report) else {
                continue;
            };
            self.pulses.finished.clear();
            // A servo obeys a pulse when it has ended.
            self.run_to(pulse.fall() / CYCLES_PER_MS);
            let Some(joint) = self.plugs.iter().position(|pin| *pin == pulse.pin) else {
                panic!("a pulse on pin {}, which has no plug", pulse.pin);
            };
            let us = us_of(&pulse);
            let (near, far) = self.leg.joints[joint].built.ends_us();
            self.given.push(Given {
                pulse,
                joint,
                beyond_us: (near - us).max(us - far),
            });
            self.last[joint] = Some(pulse);
        }
    }

    fn run_to(&mut self, ms: u64) {
        while self.ms < ms {
            self.ms += 1;
            let now = self.ms * CYCLES_PER_MS;
            let is_driven = |it: &Pulse| now < it.fall() + LIMP_MS * CYCLES_PER_MS;
            let us = self
                .last
                .map(|it| it.filter(is_driven).map(|it| us_of(&it)));
            self.leg.step(us);
            for (joint, ms) in self.leg.joints.iter().zip(&mut self.presses_ms) {
                *ms = if joint.presses { *ms + 1 } else { 0 };
                self.pressed_ms = self.pressed_ms.max(*ms);
            }
        }
    }

    fn joint_of(&self, screen: &Screen) -> usize {
        let name = screen.joint().unwrap_or_default();
        let found = self.leg.joints.iter().position(|it| it.built.name == name);
        found.unwrap_or_else(|| panic!("no joint:\n{}", screen.text()))
    }

    fn about_normal(&mut self) -> f64 {
        (0..12).map(|_| self.rng.random::<f64>()).sum::<f64>() - 6.0
    }
}

/// `2 teeth down, arm 3` in degrees the positive way: up, and for this coxa left.
fn turned_deg(words: &str) -> f64 {
    let words: Vec<&str> = words.split([' ', ',', '.']).collect();
    let behind = |word: &str, at: isize| {
        let found = words.iter().position(|it| *it == word)?;
        words
            .get(found.checked_add_signed(at)?)?
            .parse::<f64>()
            .ok()
    };
    let teeth = behind("teeth", -1).or(behind("tooth", -1)).unwrap_or(0.0);
    let sign = if words.iter().any(|it| matches!(*it, "down" | "right")) {
        -1.0
    } else {
        1.0
    };
    sign * teeth * 360.0 / f64::from(TEETH)
        + behind("arm", 1).unwrap_or(0.0) * 360.0 / f64::from(ARMS)
}

/// A pulse's length.
pub fn us_of(pulse: &Pulse) -> f64 {
    pulse.width as f64 / CYCLES_PER_US as f64
}

impl Senses for Bench<'_> {
    fn swung(&mut self, _screen: &Screen) -> Option<String> {
        self.catch_up();
        let asked = std::mem::replace(&mut self.asked_ms, self.ms);
        let lately = |it: &Option<Pulse>| it.is_some_and(|it| it.fall() / CYCLES_PER_MS > asked);
        let joint = (0..3).find(|it| lately(&self.last[*it]))?;
        let joint = &self.leg.joints[joint];
        let swung = joint.swung_deg();
        // Its leg points forward: a coxa that turns to the left of the robot carries the foot there.
        let way = match (joint.built.name, swung > 0.0) {
            (name, true) if name.ends_with("coxa") => "left",
            (name, false) if name.ends_with("coxa") => "right",
            (_, true) => "up",
            (_, false) => "down",
        };
        (swung.abs() >= SEEN_DEG).then(|| format!("{} {way}", joint.built.name))
    }

    fn gauge_deg(&mut self, screen: &Screen) -> f64 {
        self.catch_up();
        let joint = self.joint_of(screen);
        let placing = match self.gauge {
            Some((at, error)) if at == joint => error,
            // Only held to it.
            _ => PLACING_DEG * self.about_normal(),
        };
        let read = self.leg.joints[joint].deg() + placing + READING_DEG * self.about_normal();
        (read / READ_TO_DEG).round() * READ_TO_DEG
    }

    fn felt(&mut self, screen: &Screen) -> Felt {
        self.catch_up();
        let joint = self.joint_of(screen);
        let told = screen.peck().expect("the box says how far it pecked");
        // The last time that it was there; then it came back, and went farther inward to wait.
        let stretches = &self.leg.joints[joint].stretches;
        let peck = stretches
            .iter()
            .rev()
            .find(|it| (it.us - told.to_us).abs() < 1.0);
        let peck = peck.unwrap_or_else(|| panic!("nothing pecked:\n{}", screen.text()));
        Felt {
            hummed: peck.hummed,
            moved_deg: peck.moved_deg.abs(),
            against: peck.hummed.then(|| "the linkage".to_owned()),
        }
    }

    fn display(&mut self, _screen: &Screen) -> (f64, f64) {
        self.catch_up();
        let amps: f64 = self
            .leg
            .joints
            .iter()
            .map(|it| match (it.presses, it.moves) {
                (true, _) => 1.4,
                (_, true) => 0.25,
                _ => 0.01,
            })
            .sum();
        (SUPPLY_V - SAGS_V_PER_A * amps, amps)
    }

    fn horn(&mut self, _screen: &Screen) -> (u32, u32) {
        (TEETH, ARMS)
    }

    fn on_test_pin(&mut self, screen: &Screen) -> String {
        panic!("one servo is skipped:\n{}", screen.text())
    }

    fn spares(&mut self, _screen: &Screen) -> Vec<String> {
        Vec::new()
    }

    fn hands(&mut self, screen: &Screen) {
        self.catch_up();
        let next = screen.next();
        if let Some(plugs) = next.strip_prefix("Exchange the plugs in ") {
            let words: Vec<&str> = plugs.split([' ', ':']).collect();
            let [one, other] = [words[0], words[2]].map(|it| it.parse::<u8>().expect("a pin"));
            for pin in &mut self.plugs {
                *pin = match *pin {
                    it if it == one => other,
                    it if it == other => one,
                    it => it,
                };
            }
            self.last = [None; 3];
            self.swaps += 1;
        } else if let Some(turn) = next.strip_prefix("Turn the horn: ") {
            let joint = self.joint_of(screen);
            let by = turned_deg(turn);
            let built = &mut self.leg.joints[joint].built;
            // The shaft and the link stay as they are.
            built.middle_deg = (built.middle_deg + by + 180.0).rem_euclid(360.0) - 180.0;
            self.turned += 1;
        } else if next.starts_with("Put the gauge") {
            let joint = self.joint_of(screen);
            let error = PLACING_DEG * self.about_normal();
            self.gauge = Some((joint, error));
            self.placings_deg[joint] = Some(error);
        } else {
            panic!("hands do not know this:\n{}", screen.text());
        }
    }
}

/// The emulator's log, read on from where it was.
#[derive(Default)]
struct Log {
    read: u64,
    rest: String,
}

impl Log {
    /// The edges that are new.
    fn news(&mut self, chip: &Chip) -> Vec<Report> {
        let mut file = std::fs::File::open(chip.log_path()).expect("the log");
        file.seek(SeekFrom::Start(self.read)).expect("the log");
        let mut new = String::new();
        self.read += file.read_to_string(&mut new).expect("the log") as u64;
        self.rest.push_str(&new);
        let whole = self.rest.rfind('\n').map_or(0, |end| end + 1);
        let rest = self.rest.split_off(whole);
        let lines = std::mem::replace(&mut self.rest, rest);
        let edges = lines.lines().filter(|line| line.starts_with("edge "));
        edges.map(parse).collect()
    }
}
