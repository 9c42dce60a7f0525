//! Body jog: the feet stay, the body shifts, lifts, turns and tilts; margins in words; what it needs and what it refuses.

use std::time::Duration;

use super::foot::{SIX_LEGS, desk_of};
use super::{Desk, pin};
use crate::calibration;
use crate::console::view::{self, Page, Whole};
use crate::kinematics::{BodyPose, CalibratedRobot, Frame, Vec3};
use crate::units::Pulse;

const MS: Duration = Duration::from_millis(1);
const LONG: Duration = Duration::from_secs(3);

pub fn awake() -> Desk {
    awake_of(SIX_LEGS, 18)
}

fn awake_of(text: &str, joints: usize) -> Desk {
    let mut desk = desk_of(text);
    desk.keys("<F2> j j j <Enter>");
    assert_eq!(desk.row(0), "Body jog");
    desk.says("Enter: wake all legs that carry, after 3 s, one joint at a time.");
    desk.keys("<Enter>");
    desk.run(Duration::from_secs(16), Duration::from_millis(50));
    assert_eq!(desk.screen().head.state, Whole::Awake(joints));
    desk.log.clear();
    desk
}

fn page(desk: &Desk) -> view::BodyJog {
    match desk.screen().page {
        Page::BodyJog(page) => *page,
        _ => panic!("the page is the body's"),
    }
}

/// All feet in a frame, from these 18 pulses in the file's order.
fn feet(pulses: &[Pulse], frame: Frame) -> Vec<Vec3> {
    let robot = CalibratedRobot::new(calibration::read(SIX_LEGS).robot.expect("a good file"));
    robot
        .legs()
        .zip(pulses.chunks(3))
        .map(|(leg, pulses)| {
            let us = std::array::from_fn(|i| pulses[i].us());
            robot.foot_of_pulses(leg, us, frame).expect("calibrated")
        })
        .collect()
}

fn now(desk: &Desk) -> Vec<Pulse> {
    // The example's pins are 22 to 39 in the order of its joints.
    (22..40).map(|p| desk.pulses[&pin(p)]).collect()
}

fn apart(a: Vec3, b: Vec3) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1]).hypot(a[2] - b[2])
}

#[test]
fn every_arrow_moves_the_body_and_no_foot_leaves_its_place() {
    let deg = 1.0_f64.to_radians();
    let pose = |x: f64, y: f64, z: f64, [roll, pitch, yaw]: [f64; 3]| BodyPose {
        at: [x, y, z],
        roll,
        pitch,
        yaw,
    };
    let flat = [0.0; 3];
    for (keys, due) in [
        ("k", pose(4.0, 0.0, 0.0, flat)),
        ("h", pose(0.0, 4.0, 0.0, flat)),
        ("<Tab> k", pose(0.0, 0.0, 4.0, flat)),
        ("<Tab> j", pose(0.0, 0.0, -4.0, flat)),
        ("<Tab> h", pose(0.0, 0.0, 0.0, [0.0, 0.0, deg])),
        ("<Tab> <Tab> k", pose(0.0, 0.0, 0.0, [0.0, -deg, 0.0])),
        ("<Tab> <Tab> l", pose(0.0, 0.0, 0.0, [deg, 0.0, 0.0])),
        // The picture's front at the left: the arrow up is the robot's right.
        ("T T k", pose(-4.0, 0.0, 0.0, flat)),
    ] {
        let mut desk = awake();
        let planted = feet(&now(&desk), Frame::Body);
        desk.keys(keys);
        desk.run(LONG, MS);
        let there = feet(&now(&desk), Frame::Ground(due));
        for (foot, place) in there.iter().zip(&planted) {
            assert!(apart(*foot, *place) < 0.2, "{keys}: {foot:?} {place:?}");
        }
        let asked = desk.asked();
        assert!(asked[0].starts_with("roster 22 23 24 25 "), "{asked:?}");
        assert!(asked[1..].iter().all(|it| it.starts_with("pose 20 ")));
        assert!(desk.poses.iter().all(|(_, pose)| pose.len() == 18));
        let streamed = &desk.poses[..desk.poses.len() - 1];
        let whole = |p: &Pulse| p.halves().is_multiple_of(2);
        assert!(streamed.iter().all(|(_, pose)| pose.iter().all(whole)));
    }
}

#[test]
fn steps_add_up_and_the_pose_is_shown() {
    let mut desk = awake();
    let planted = feet(&now(&desk), Frame::Body);
    for keys in ["k", "k", "<Tab> k", "h", "<Tab> l", ", l"] {
        desk.keys(keys);
        desk.run(LONG, MS);
    }
    let shown: Vec<String> = page(&desk).pose.iter().map(|(_, v)| v.clone()).collect();
    assert_eq!(
        shown,
        ["8.0 mm", "0.0 mm", "4.0 mm", "1.5°", "0.0°", "1.0°"]
    );
    let due = BodyPose {
        at: [8.0, 0.0, 4.0],
        roll: 1.5_f64.to_radians(),
        pitch: 0.0,
        yaw: 1.0_f64.to_radians(),
    };
    for (foot, place) in feet(&now(&desk), Frame::Ground(due)).iter().zip(planted) {
        assert!(apart(*foot, place) < 0.2);
    }
}

#[test]
fn no_foot_is_faster_than_it_may_and_a_late_tick_only_delays() {
    let mut desk = awake();
    desk.keys(". . . k");
    desk.run(Duration::from_millis(100), MS);
    let before = desk.poses.len();
    desk.now += Duration::from_millis(300);
    desk.run(LONG, MS);
    assert!(desk.poses.len() > before + 5);
    for pair in desk.poses.windows(2) {
        assert!(pair[1].0 - pair[0].0 >= Duration::from_millis(20));
        let [a, b] = [&pair[0].1, &pair[1].1].map(|pose| feet(pose, Frame::Body));
        for (a, b) in a.iter().zip(&b) {
            // 250 mm/s in a frame, and the rounding of both ends.
            assert!(apart(*a, *b) < 5.0 + 0.6);
        }
    }
    assert_eq!(page(&desk).pose[0].1, "32.0 mm");
}

#[test]
fn margins_are_said_in_words_and_each_legs_nearest_limit_is_named() {
    let desk = awake();
    let page = page(&desk);
    // By hand, feet at 120.3 out: the front edge runs at 85 + 120.3·cos 45° = 170.1 mm before the middle.
    assert_eq!(
        page.robot.margin.as_deref(),
        Some("margin 170 mm to the edge line, 6 corners")
    );
    assert_eq!(page.robot.support_mm.len(), 6);
    assert_eq!(page.margins.len(), 6);
    assert_eq!(page.margins.iter().filter(|m| m.least).count(), 1);
    assert_eq!(page.margins[0].joint, "LF tibia");
    assert_eq!(page.motion[2].0, "free");
    desk.says("↑ moves the body 4 mm forward. The feet stay where they are.");
    assert!(
        desk.row(2)
            .starts_with("Free for 55 mm, then RR tibia limit −34°."),
        "{}",
        desk.row(2)
    );
}

#[test]
fn a_typed_pose_is_gone_to_and_one_that_cannot_be_had_moves_nothing() {
    let mut desk = awake();
    desk.keys("= 1 0 <Tab> - 5 <Tab> <Tab> <Tab> <Tab> 6 <Enter>");
    desk.run(LONG, MS);
    let shown: Vec<String> = page(&desk).pose.iter().map(|(_, v)| v.clone()).collect();
    assert_eq!(
        shown,
        ["10.0 mm", "−5.0 mm", "0.0 mm", "0.0°", "0.0°", "6.0°"]
    );
    let count = desk.poses.len();
    desk.keys("= 3 0 0 <Enter>");
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count);
    assert!(
        desk.row(2).starts_with("Not like this: stops on the way: "),
        "{}",
        desk.row(2)
    );
}

#[test]
fn a_stop_ends_it_and_the_feet_are_planted_anew_after_it() {
    let mut desk = awake();
    desk.keys("G <Enter> . . . k");
    desk.run(Duration::from_millis(150), MS);
    desk.keys("<Space>");
    let count = desk.poses.len();
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count);
    assert_eq!(desk.asked().last().map(String::as_str), Some("STOP freeze"));
    desk.keys("<Enter>");
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count, "thawing moves nothing");
    let planted = feet(&now(&desk), Frame::Body);
    let before: f64 = {
        let text = page(&desk).pose[0].1.replace(" mm", "");
        text.parse().expect("a number")
    };
    desk.keys(", , , k");
    desk.run(LONG, MS);
    let due = BodyPose {
        at: [4.0, 0.0, 0.0],
        ..BodyPose::default()
    };
    for (foot, place) in feet(&now(&desk), Frame::Ground(due)).iter().zip(planted) {
        assert!(
            apart(*foot, place) < 0.5,
            "{foot:?} {place:?}, from {before}"
        );
    }
}

#[test]
fn on_the_ground_the_robot_is_not_tipped_over() {
    // With its centre of mass far in front, a step forward leaves the feet.
    let text = SIX_LEGS.replacen(
        "width_mm = 90.0",
        "width_mm = 90.0\ncentre_of_mass_mm = [167.0, 0.0, 0.0]",
        1,
    );
    let mut desk = awake_of(&text, 18);
    desk.keys("G <Enter> k");
    desk.run(LONG, MS);
    assert!(desk.poses.is_empty());
    desk.says("↑ does not move the body: it would tip, its centre 1 mm outside the feet.");
    desk.keys("j");
    desk.run(LONG, MS);
    assert!(!desk.poses.is_empty());
}

#[test]
fn a_lifted_foot_carries_nothing() {
    let mut desk = awake();
    desk.keys("<F2> k <Enter>");
    assert_eq!(desk.row(0), "Foot jog");
    desk.keys(". . e k");
    desk.run(LONG, MS);
    desk.keys("<F2> j <Enter>");
    let page = page(&desk);
    assert_eq!(page.robot.support_mm.len(), 5);
    assert!(page.robot.margin.expect("words").ends_with("5 corners"));
}

#[test]
fn legs_that_are_not_known_do_not_carry_and_must_be_limp() {
    let text = SIX_LEGS.replacen(
        "zero_us = { value = 1508.5",
        "#zero_us = { value = 1508.5",
        1,
    );
    let mut desk = awake_of(&text, 15);
    assert_eq!(
        desk.screen().title.subject,
        "5 feet planted, arrows shift it"
    );
    assert_eq!(page(&desk).margins[1].text, "not known");
    desk.keys("k");
    desk.run(LONG, MS);
    assert!(desk.poses.iter().all(|(_, pose)| pose.len() == 15));
    let count = desk.poses.len();
    assert!(count > 5);
    // LM awake would be dragged along.
    desk.keys("<Esc> <Down> <F2> <Down> <Enter> w <Enter> <F2> j j <Enter>");
    assert_eq!(desk.row(0), "Body jog");
    assert_eq!(desk.screen().head.state, Whole::Awake(16));
    desk.says("Wait: LM ");
    desk.keys("k");
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count);
}

#[test]
fn what_the_body_lacks_is_said_in_two_whole_lines() {
    // The longest names and the longest reason: `Desk` itself sees that no line is cut.
    let typed = "us_per_degree = { value = 10.0, at = 2026-03-14T13:15:06Z, by = \"typed\" }";
    let text: String = SIX_LEGS
        .lines()
        .map(|line| match line.starts_with("us_per_degree") {
            true => format!("{typed}\n"),
            false => format!("{line}\n"),
        })
        .collect();
    let text = text.replace("name = \"LF\"", "name = \"LF_FRONT\"");
    let mut desk = desk_of(&text);
    desk.keys("<F2> j j j <Enter>");
    desk.says("The body cannot be moved yet: LF_FRONT coxa has a nominal µs/degree only.");
    assert_eq!(
        desk.row(2),
        "Three legs must be known: two marks of a joint give zero and µs/degree."
    );
}

#[test]
fn two_legs_carry_no_body() {
    let legs: Vec<&str> = SIX_LEGS.split("[[leg]]").collect();
    let text = format!("{}[[leg]]{}[[leg]]{}", legs[0], legs[1], legs[2]);
    let mut desk = desk_of(&text);
    desk.keys("<F2> j j j <Enter>");
    desk.says("The body cannot be moved yet: it takes three legs or more.");
    desk.keys("<Enter> k");
    assert!(!desk.moved());
}
