//! The exported C header under test: writes it beside its driver, and judges what the driver sent, byte by byte.
//!
//! The points and the reasons are computed again here from the library's leg and the file's numbers.

#![allow(dead_code)] // every test file uses its own part of this

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use hornset::calibration::{JointKind, MARRAM, read};
use hornset::kinematics::{CalibratedRobot, Frame, Knee, LegIndex, Unreachable, Vec3};
use hornset::output::{Source, c_header, plain_name};

/// Bytes that the driver sends for a point: reason, three pulses and angles, reason, pulse.
const ONE: usize = 1 + 24 + 1 + 4;
/// And for the point seen from the body.
const BODY: usize = 12;
/// Points after the random ones, see the driver.
const ODD: usize = 7;

/// A robot with everything that Marram has not: a raised femur axis, a bent tibia, a raised mount, a zero outside the travel, one leg.
pub fn bent() -> String {
    MARRAM
        .split("# Left middle.")
        .next()
        .expect("the first leg")
        .replace("Marram", "7 bent-legs")
        .replace("x_mm = 85.0,", "x_mm = 85.0, z_mm = 7.5,")
        .replace(
            "ball_radius_mm",
            "coxa_height_mm = -12.0, tibia_bend_deg = 9.5, ball_radius_mm",
        )
        .replace("value = 2290.0", "value = 2610.0")
        .replace("needed_deg = [-125.0, -40.0]\n", "")
}

pub fn robot(text: &str) -> CalibratedRobot {
    let reading = read(text);
    CalibratedRobot::new(
        reading
            .robot
            .unwrap_or_else(|| panic!("{:?}", reading.findings)),
    )
}

/// Writes header and driver into a folder and gives the compiler's arguments.
pub fn write(robot: &CalibratedRobot, folder: &Path, points: usize) -> Vec<String> {
    let header = c_header::write(&Source {
        robot,
        digest: "0123abcd",
        at: "2026-03-21T09:00:00Z",
    })
    .expect("it is calibrated");
    fs::write(folder.join("robot.h"), header).expect("written");
    let driver = folder.join("driver.c");
    fs::write(&driver, include_str!("header_driver.c")).expect("written");
    let name = plain_name(&robot.robot().name);
    vec![
        format!("-DROBOT={name}"),
        format!("-DUPPER={}", name.to_uppercase()),
        format!("-DPOINTS={points}"),
        driver.to_str().expect("plain").to_owned(),
    ]
}

/// Compiles; a warning is an error.
pub fn compile(compiler: &str, install: &str, arguments: &[String], program: &Path) -> PathBuf {
    let output = Command::new(compiler)
        .args([
            "-std=c99",
            "-pedantic",
            "-Wall",
            "-Wextra",
            "-Wshadow",
            "-Wconversion",
        ])
        .args(["-Wsign-conversion", "-Werror"])
        .args(arguments)
        .arg("-o")
        .arg(program)
        .arg("-lm")
        .output()
        .unwrap_or_else(|error| panic!("{compiler} does not start ({error}): install {install}"));
    assert!(
        output.status.success() && output.stderr.is_empty(),
        "{compiler}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    program.to_owned()
}

/// How many bytes the driver sends.
pub fn expected_bytes(robot: &CalibratedRobot, points: usize) -> usize {
    robot.legs().count() * points * (ONE + BODY) + ODD * ONE
}

struct Draw(u32);

impl Draw {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0 >> 20)
    }
}

struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        let (&first, rest) = self.0.split_first().expect("enough bytes");
        self.0 = rest;
        first
    }

    fn float(&mut self) -> f64 {
        let bytes = [0; 4].map(|_| self.byte());
        f64::from(f32::from_le_bytes(bytes))
    }
}

/// The reason the header gives, and the pulses if there are any, computed in double precision.
/// `widen_deg` moves every limit outwards.
fn reason(
    robot: &CalibratedRobot,
    leg: LegIndex,
    point: Vec3,
    widen_deg: f64,
) -> (u8, Option<[f64; 3]>) {
    let mut first = None;
    for knee in Knee::BOTH {
        let angles = match robot.geometry(leg).ik(point, knee) {
            Ok(angles) => angles.map(f64::to_degrees),
            Err(Unreachable::TooFar { .. }) => return (1, None),
            Err(Unreachable::TooNear { .. }) => return (2, None),
            Err(Unreachable::OnAxis { .. }) => return (3, None),
            Err(Unreachable::NotFinite) => return (7, None),
        };
        let mut beyond = None;
        let pulses = JointKind::ALL.map(|kind| {
            let joint = robot.leg_data(leg).joint(kind);
            let (low, high) = joint.allowed_deg().expect("calibrated");
            let angle = angles[kind.index()];
            if beyond.is_none() && (angle < low - widen_deg || angle > high + widen_deg) {
                beyond = Some(4 + kind.index() as u8);
            }
            joint.pulse_us(angle).expect("calibrated")
        });
        match beyond {
            None => return (0, Some(pulses)),
            Some(reason) => first = first.or(Some(reason)),
        }
    }
    (first.expect("two ways were tried"), None)
}

/// Whether the issue compares nothing but "no NaN and a neighbouring reason" here, and which reasons those are.
fn neighbours(robot: &CalibratedRobot, leg: LegIndex, point: Vec3) -> Option<Vec<u8>> {
    let it = robot.geometry(leg);
    let radius = point[0].hypot(point[1]);
    let distance = (radius - it.coxa).hypot(point[2] - it.height);
    let straight = it.femur + it.tibia - distance;
    let folded = distance - (it.femur - it.tibia).abs();
    let mut reasons = Vec::new();
    for widen in [-0.05, 0.0, 0.05] {
        for step in 0..27 {
            let shift = |axis: u32| f64::from(step / 3i32.pow(axis) % 3 - 1) * 0.05;
            let near = [
                point[0] + shift(0),
                point[1] + shift(1),
                point[2] + shift(2),
            ];
            let (reason, _) = reason(robot, leg, near, widen);
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
    }
    let close = radius < 1.0
        || (0.0..1.0).contains(&straight)
        || straight.abs() < 0.05
        || folded.abs() < 0.05;
    (close || reasons.len() > 1).then_some(reasons)
}

/// Holds every byte against the library.
pub fn judge(robot: &CalibratedRobot, points: usize, bytes: &[u8]) {
    assert_eq!(bytes.len(), expected_bytes(robot, points), "bytes sent");
    let mut bytes = Bytes(bytes);
    let mut draw = Draw(20_260_314);
    for leg in robot.legs() {
        let (mut compared, mut had, mut worst_mm, mut worst_us) = (0, 0, 0.0f64, 0.0f64);
        for i in 0..points {
            let (step, from) = match i % 2 {
                0 => (0.03125, [40.0, -64.0, -120.0]),
                _ => (0.070_312_5, [-64.0, -144.0, -192.0]),
            };
            let point = from.map(|from| draw.next() * step + from);
            let answer = one(robot, leg, &mut draw, &mut bytes, &mut worst_us);
            let (want, pulses) = reason(robot, leg, point, 0.0);
            if let Some(reasons) = neighbours(robot, leg, point) {
                assert!(
                    reasons.contains(&answer.0),
                    "{point:?}: {} not in {reasons:?}",
                    answer.0
                );
            } else {
                compared += 1;
                assert_eq!(answer.0, want, "{point:?}");
                if let Some(pulses) = pulses {
                    had += 1;
                    for (ours, theirs) in pulses.into_iter().zip(answer.1) {
                        worst_us = worst_us.max((ours - theirs).abs());
                    }
                    let foot = robot
                        .foot_of_pulses(leg, answer.1, Frame::Leg)
                        .expect("calibrated");
                    let off = [0, 1, 2].map(|k| foot[k] - point[k]);
                    worst_mm = worst_mm.max(off[0].hypot(off[1]).hypot(off[2]));
                    // The library's own choice, limits and all.
                    let pose = robot.pose_for_foot(leg, point, Frame::Leg).expect("had");
                    assert!((pose.pulses_us[2] - answer.1[2]).abs() <= 0.5);
                }
            }
            let seen = robot.to_leg_frame(leg, point, Frame::Body);
            for seen in seen {
                assert!((bytes.float() - seen).abs() < 0.001);
            }
        }
        let name = &robot.leg_data(leg).name;
        println!(
            "{name}: {compared} points compared, {had} of them had; worst {worst_mm:.6} mm, {worst_us:.6} µs"
        );
        assert!(
            worst_mm <= 0.05 && worst_us <= 0.5,
            "{name}: {worst_mm} mm, {worst_us} µs"
        );
        assert!(compared >= 1000, "{name}: only {compared} points");
        assert!(had >= 200, "{name}: only {had} points within limits");
    }
    let leg = robot.legs().next().expect("a leg");
    let mut worst_us = 0.0;
    for reason in [7, 7, 7, 8, 1, 3, 3] {
        let seen = if reason == 8 {
            let seen = bytes.byte();
            for _ in 0..3 {
                assert_eq!((bytes.float(), bytes.float()), (-1.0, 0.0));
            }
            draw.next();
            assert_eq!((bytes.byte(), bytes.float()), (8, -1.0));
            seen
        } else {
            one(robot, leg, &mut draw, &mut bytes, &mut worst_us).0
        };
        assert_eq!(seen, reason);
    }
    assert!(worst_us <= 0.5);
}

/// Reads one answer: the reason and the pulses; what needs no point is judged at once.
fn one(
    robot: &CalibratedRobot,
    leg: LegIndex,
    draw: &mut Draw,
    bytes: &mut Bytes<'_>,
    worst_us: &mut f64,
) -> (u8, [f64; 3]) {
    let answer = bytes.byte();
    let mut pulses = [0.0; 3];
    for kind in JointKind::ALL {
        let joint = robot.leg_data(leg).joint(kind);
        let pulse = bytes.float();
        pulses[kind.index()] = pulse;
        let angle = joint.angle_deg(pulse).expect("calibrated");
        assert!((bytes.float() - angle).abs() <= 0.001, "{kind} {pulse}");
        let (low, high) = joint.allowed_us();
        if answer == 0 {
            assert!(
                (low..=high).contains(&pulse),
                "{kind} {pulse} is beyond {low} to {high}"
            );
        } else {
            assert_eq!(pulse, -1.0, "left alone when refused");
        }
    }
    let kind = JointKind::ALL[(draw.0 >> 8) as usize % 3];
    let angle = draw.next() * 0.0625 - 128.0;
    let joint = robot.leg_data(leg).joint(kind);
    let (low, high) = joint.allowed_deg().expect("calibrated");
    let (refused, pulse) = (bytes.byte(), bytes.float());
    if (angle - low).abs() > 0.05 && (angle - high).abs() > 0.05 {
        let want = if angle < low || angle > high {
            4 + kind.index() as u8
        } else {
            0
        };
        assert_eq!(refused, want, "{kind} {angle}");
    }
    if refused == 0 {
        let exact = joint.pulse_us(angle).expect("calibrated");
        *worst_us = worst_us.max((pulse - exact).abs());
    } else {
        assert_eq!(pulse, -1.0, "left alone when refused");
    }
    (answer, pulses)
}
