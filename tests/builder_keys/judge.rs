//! Compares what the builder saved with what his robot is: the file, its logbook, the link's trace, and the truth.

use std::collections::BTreeMap;
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;

use hornset::board::{Hands, Tool};
use hornset::calibration::file;
use hornset::calibration::logbook::{self, End, Entry, JointName, Logbook, What, Why};
use hornset::calibration::model::{Joint, JointKind, Robot};
use hornset::estimate::{Knowledge, knowledge};
use hornset::practice::{Settings, TrueJoint, Truth, World};
use hornset::units::Pin;

use crate::pty;

/// How often the judge reads a gauge to learn the error of its placing, which nobody else can know.
const READS: u32 = 400;
/// The bars: degrees beyond the placing's error, and a share of the scale.
const BAR_DEG: f64 = 1.25;
const BAR_SCALE: f64 = 0.025;
/// One fine step and 30 µs: nothing goes farther beyond an end.
const BEYOND_US: f64 = 8.0 + 30.0;

/// Everything that can be compared.
pub struct Judge {
    file: PathBuf,
    trace: PathBuf,
    entries: Vec<Entry>,
    robot: Robot,
    known: Knowledge,
    truth: Truth,
    /// What the gauge read too much in the placing of each joint.
    placings_deg: BTreeMap<String, f64>,
}

/// What was found of one joint, minus what is so.
#[derive(Debug)]
pub struct Found {
    name: String,
    right_pin: bool,
    right_way: bool,
    /// The servo goes ±45° about its mid-travel.
    servo_has: bool,
    middle_off_deg: f64,
    scale_off: f64,
    /// How far outward of the truth each end was found, µs.
    ends_off_us: [f64; 2],
    /// What the builder said that they were.
    whys: [Option<Why>; 2],
    limits_inside: bool,
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let [near, far] = self.ends_off_us;
        write!(
            f,
            "{:<9} middle {:+.2}° scale {:+.2} % near end {near:+.1} µs far end {far:+.1} µs outward {:?}{}",
            self.name,
            self.middle_off_deg,
            self.scale_off * 100.0,
            self.whys,
            if self.servo_has {
                ""
            } else {
                "; its servo has less than ±45°"
            },
        )
    }
}

impl Judge {
    pub fn of(folder: &Path, trace: &Path, seed: u64) -> Judge {
        let path = folder.join("bench.toml");
        let book = Logbook::open(&path, false).expect("a sound logbook");
        let entries = book.entries().to_vec();
        let (truth, placings_deg) = what_hands_did(seed, &entries);
        Judge {
            robot: file::load(&path).expect("a sound file").robot().clone(),
            known: knowledge(&entries),
            file: path,
            trace: trace.to_owned(),
            entries,
            truth,
            placings_deg,
        }
    }

    /// `check` passes, and `fit` makes the same of the logbook alone.
    pub fn the_commands_agree(&self) {
        let run = |args: &[&str]| {
            let out = Command::new(env!("CARGO_BIN_EXE_hornset"))
                .args(args)
                .arg(&self.file)
                .output();
            let out = out.expect("it runs");
            let said = String::from_utf8_lossy(&out.stdout).into_owned();
            assert!(
                out.status.success(),
                "{args:?}: {said} {}",
                String::from_utf8_lossy(&out.stderr)
            );
            said
        };
        run(&["check"]);
        let fit: serde_json::Value = serde_json::from_str(&run(&["fit", "--json"])).expect("JSON");
        assert_eq!(fit["agrees"], true, "{:#}", fit["differences"]);
        assert!(logbook::path_beside(&self.file).exists());
        assert_eq!(fit["joints"].as_array().map(Vec::len), Some(18));
    }

    /// Every spare was judged for what it is.
    pub fn spares(&self, verdicts: &[(String, String)]) {
        let said: Vec<(String, bool)> = verdicts
            .iter()
            .map(|(number, word)| (number.clone(), word == "good"))
            .collect();
        assert_eq!(said, self.truth.spares);
    }

    /// No request sent a joint farther beyond an end than is allowed, and the board never reset.
    pub fn pecks(&self) {
        let text = pty::text_of(&self.trace);
        let resets = text
            .lines()
            .filter(|line| line.contains(" < event ready"))
            .count();
        assert!(resets <= 1, "the board reset");
        let mut pecks = 0;
        for line in pty::sent(&self.trace) {
            let words: Vec<&str> = line.split([' ', ';']).collect();
            let [_, "peck", pin, us, ..] = words[..] else {
                continue;
            };
            let pin: Pin = pin.parse().expect("a pin");
            let us: f64 = us.parse().expect("a pulse");
            let joint = self
                .truth
                .joints
                .iter()
                .find(|it| it.pin == pin)
                .expect("a joint");
            let [near, far] = ends_us(joint);
            let beyond = (near - us).max(us - far);
            assert!(
                beyond <= BEYOND_US,
                "{} {}: {us} µs is {beyond:.0} beyond",
                joint.leg,
                joint.joint
            );
            pecks += 1;
        }
        println!("{pecks} pecks, none more than {BEYOND_US} µs beyond an end");
    }

    /// Each joint, compared.
    pub fn joints(&self) -> Vec<Found> {
        let found = |it: &TrueJoint| {
            let leg = self
                .robot
                .legs
                .iter()
                .find(|leg| leg.name == it.leg)
                .expect("a leg");
            self.compared(&leg.joints[joint_kind(it).index()], it)
        };
        self.truth.joints.iter().map(found).collect()
    }

    fn compared(&self, joint: &Joint, it: &TrueJoint) -> Found {
        let name = format!("{} {}", it.leg, it.joint);
        let value = |what: &Option<hornset::calibration::Recorded>| {
            what.as_ref()
                .unwrap_or_else(|| panic!("{name} lacks something: {joint:?}"))
                .value
        };
        let (zero, scale) = (value(&joint.zero), value(&joint.scale));
        let middle = it.deg_at(1500.0);
        let room = (middle - it.reach_deg.0).min(it.reach_deg.1 - middle);
        // The truth's µs/degree is the best straight line over ±45°, or over what the servo has.
        let line = it
            .line(middle, (room - 0.1).min(45.0))
            .expect("inside its travel");
        let [near, far] = ends_us(it);
        // What was said of its plug; the marks alone would have told the way too.
        let at = JointName::new(it.leg, joint_kind(it));
        let said = self.known.named(&at).and_then(|known| known.way);
        let said = said.map(|way| way.sign() > 0.0);
        let (low, high) = joint
            .limits
            .unwrap_or_else(|| panic!("{name} has no limits"));
        Found {
            right_pin: joint.pin == Some(it.pin),
            right_way: (scale > 0.0) == it.positive && said == Some(it.positive),
            servo_has: room >= 45.0,
            middle_off_deg: (1500.0 - zero) / scale - middle - self.placings_deg[&name],
            scale_off: scale / line - 1.0,
            whys: [End::Near, End::Far].map(|end| self.why(&name, end)),
            ends_off_us: [near - value(&joint.near_end), value(&joint.far_end) - far],
            limits_inside: low.us() > near && high.us() < far,
            name,
        }
    }

    fn why(&self, name: &str, end: End) -> Option<Why> {
        self.entries
            .iter()
            .rev()
            .find_map(|entry| match &entry.what {
                What::End {
                    joint, toward, why, ..
                } if joint.to_string() == name && *toward == end => *why,
                _ => None,
            })
    }

    /// The bars.
    pub fn bars(&self, joints: &[Found]) {
        let all = |what: &str, good: &dyn Fn(&Found) -> bool| {
            let bad: Vec<&str> = joints
                .iter()
                .filter(|it| !good(it))
                .map(|it| it.name.as_str())
                .collect();
            assert!(bad.is_empty(), "{what}: {bad:?}");
        };
        assert_eq!(joints.len(), 18);
        all("the pin", &|it| it.right_pin);
        all("the direction", &|it| it.right_way);
        all("an end beyond the truth", &|it| {
            it.ends_off_us.iter().all(|off| *off <= BEYOND_US)
        });
        // A neighbour leg or the servo may stop a joint before its linkage does, nothing else.
        all("an end that is none", &|it| {
            let off = it.ends_off_us.iter().zip(&it.whys);
            off.into_iter().all(|(off, why)| {
                *off >= -BEYOND_US || matches!(why, Some(Why::Neighbour | Why::Servo))
            })
        });
        all("limits inside of the ends", &|it| it.limits_inside);
        let able: Vec<&Found> = joints.iter().filter(|it| it.servo_has).collect();
        // Of so few joints 95 % is all but one; the share itself is held over a hundred robots, in `builder.rs`.
        let all_but_one = |what: &str, off: &dyn Fn(&Found) -> f64, bar: f64| {
            let out: Vec<&&Found> = able.iter().filter(|it| off(it).abs() > bar).collect();
            println!("{what}: {} of {} joints outside", out.len(), able.len());
            assert!(out.len() <= 1, "{what}: {out:?}");
            all(what, &|it| !it.servo_has || off(it).abs() <= 2.0 * bar);
        };
        all_but_one("the angle at mid-travel", &|it| it.middle_off_deg, BAR_DEG);
        all_but_one("µs/degree", &|it| it.scale_off, BAR_SCALE);
        assert!(
            self.entries
                .iter()
                .any(|it| matches!(it.what, What::PlugsExchanged { .. }))
        );
    }
}

fn joint_kind(it: &TrueJoint) -> JointKind {
    let kind = JointKind::ALL
        .into_iter()
        .find(|kind| kind.word() == it.joint);
    kind.expect("a kind")
}

/// The pulses at which a joint comes to its ends, whether the linkage or the servo makes them.
fn ends_us(it: &TrueJoint) -> [f64; 2] {
    let low = it.ends_deg.0.max(it.reach_deg.0 + 0.1);
    let high = it.ends_deg.1.min(it.reach_deg.1 - 0.1);
    let at = |deg: f64, beyond: f64| it.us_at(deg).unwrap_or(beyond);
    if it.positive {
        [at(low, 500.0), at(high, 2500.0)]
    } else {
        [at(high, 500.0), at(low, 2500.0)]
    }
}

/// The robot after all that was done to it by hand, as the logbook tells it; and the error of each joint's placing.
///
/// The same seed is the same robot, and its k-th placing errs the same: the judge does with his what the builder did with his own.
fn what_hands_did(seed: u64, entries: &[Entry]) -> (Truth, BTreeMap<String, f64>) {
    let mut world = World::new(Settings::seeded(seed));
    let mut errors = BTreeMap::new();
    for entry in entries {
        match &entry.what {
            What::PlugsExchanged { pins } => {
                world.swap_plugs(pins.0.0, pins.1.0).expect("both are limp");
            }
            What::Horn {
                joint,
                turn_teeth,
                arm,
                ..
            } if (*turn_teeth, *arm) != (0, 0) => {
                world
                    .turn_horn(&joint.leg, joint.kind.word(), *turn_teeth, *arm)
                    .expect("it goes on");
            }
            What::Placing { joints, .. } => {
                let joint = &joints[0];
                let (leg, kind) = (joint.leg.as_str(), joint.kind.word());
                world.place_gauge(leg, kind, Tool::Gauge).expect("it fits");
                let sum: f64 = (0..READS)
                    .map(|_| world.read_gauge().expect("it is there"))
                    .sum();
                let deg = world.truth().joint(leg, kind).expect("a joint").deg;
                errors.insert(format!("{leg} {kind}"), sum / f64::from(READS) - deg);
            }
            _ => {}
        }
    }
    (world.truth(), errors)
}
