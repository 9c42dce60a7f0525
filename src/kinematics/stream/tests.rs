//! The stream against its own course: straight, no faster than it may be, and never past what is in the way.

use super::*;
use crate::calibration::read;
use crate::kinematics::course::between;
use crate::kinematics::{Knee, Unreachable};

const SIX_LEGS: &str = include_str!("../../../tests/data/six_legs.toml");
const WIDE: [(f64, f64); 3] = [(500.0, 2500.0); 3];
const SLEWS: [f64; 3] = [750.0, 890.0, 1000.0];

fn marram() -> CalibratedRobot {
    CalibratedRobot::new(read(SIX_LEGS).robot.expect("a good file"))
}

fn room(robot: &CalibratedRobot, name: &str, angles: [f64; 3]) -> Legroom {
    let leg = robot.leg(name).expect("there");
    let pulses = robot.raw_pulses(leg, angles).expect("calibrated");
    // A board has halves.
    let pulses = pulses.map(|us| (us * 2.0).round() / 2.0);
    Legroom::new(robot, leg, pulses, WIDE).expect("calibrated")
}

fn line(robot: &CalibratedRobot, to: impl Fn(Vec3) -> Vec3) -> Stream {
    let room = room(robot, "LF", [-4.0, 11.8, -71.0]);
    let course = Course::Line {
        from: room.foot,
        to: to(room.foot),
    };
    Stream::plan(robot, vec![room], &[SLEWS], &[], course)
}

/// All set-points, with the pulses before the first.
fn run(robot: &CalibratedRobot, stream: &mut Stream) -> Vec<Vec<[f64; 3]>> {
    let mut points = vec![stream.rooms.iter().map(|r| r.pulses_us).collect()];
    while let Some(point) = stream.next(robot) {
        assert_eq!(point.last, stream.is_done());
        let whole = point.pulses_us.iter().flatten().all(|us| us.fract() == 0.0);
        let halves = point
            .pulses_us
            .iter()
            .flatten()
            .all(|us| (us * 2.0).fract() == 0.0);
        assert!(if point.last { halves } else { whole }, "{point:?}");
        points.push(point.pulses_us);
    }
    points
}

/// How far a point is from the line.
fn off(point: Vec3, from: Vec3, to: Vec3) -> f64 {
    let along = sub(to, from);
    let size = length(along);
    let part = (0..3).map(|i| (point[i] - from[i]) * along[i]).sum::<f64>() / (size * size);
    length(sub(point, between(&from, &to, part.clamp(0.0, 1.0))))
}

#[test]
fn the_foot_goes_straight_no_faster_than_it_may_and_arrives_to_the_half_microsecond() {
    let robot = marram();
    let lf = robot.leg("LF").expect("there");
    for to in [
        [20.0, 0.0, 0.0],
        [-60.0, 50.0, 30.0],
        [-70.0, -60.0, -40.0],
        [0.0, 0.0, 0.4],
        [10.0, 110.0, 40.0],
    ] {
        let mut stream = line(&robot, |from| {
            [from[0] + to[0], from[1] + to[1], from[2] + to[2]]
        });
        assert_eq!(stream.stop(), None, "{to:?}");
        assert!((stream.free_mm() - length(to)).abs() < 1e-6);
        let Course::Line { from, to: goal } = stream.course else {
            panic!("a line");
        };
        let frames = stream.frames_left(&robot);
        let points = run(&robot, &mut stream);
        assert_eq!(points.len() as u32, frames + 1);
        let feet: Vec<Vec3> = points
            .iter()
            .map(|p| {
                robot
                    .foot_of_pulses(lf, p[0], Frame::Leg)
                    .expect("calibrated")
            })
            .collect();
        for foot in &feet {
            assert!(off(*foot, from, goal) < 0.35, "{foot:?}");
        }
        // Half a half-microsecond a joint.
        assert!(length(sub(feet[feet.len() - 1], goal)) < 0.1);
        for pair in points.windows(2) {
            for (joint, slew) in SLEWS.iter().enumerate() {
                let moved = (pair[1][0][joint] - pair[0][0][joint]).abs();
                assert!(moved <= slew / 50.0, "{joint}: {moved}");
            }
        }
        // Even when six set-points fall into five frames: 25 mm, and the rounding of both ends.
        for six in feet.windows(7) {
            let moved = length(sub(six[6], six[0]));
            assert!(moved <= 25.0 + 0.7, "{moved}");
        }
    }
}

#[test]
fn a_long_way_with_fast_joints_is_gone_at_the_cap_and_not_above_it() {
    // 240 mm across in front of the leg, and joints so fast that nothing but the cap bounds the foot:
    // its gain alone would let it reach 310 mm/s in the middle (√(400 mm/s² · 240 mm)).
    let robot = marram();
    let lf = robot.leg("LF").expect("there");
    let (from, to) = ([130.0, -120.0, -40.0], [130.0, 120.0, -40.0]);
    let angles = robot.geometry(lf).ik(from, Knee::Up).expect("reached");
    let room = room(&robot, "LF", angles.map(f64::to_degrees));
    let course = Course::Line {
        from: room.foot,
        to,
    };
    let fast = [100_000.0; 3];
    let mut stream = Stream::plan(&robot, vec![room], &[fast], &[], course);
    assert_eq!(stream.stop(), None);
    let points = run(&robot, &mut stream);
    let feet: Vec<Vec3> = points
        .iter()
        .map(|p| {
            let foot = robot.foot_of_pulses(lf, p[0], Frame::Leg);
            foot.expect("calibrated")
        })
        .collect();
    let fastest = |set_points: usize| {
        let moved = feet
            .windows(set_points + 1)
            .map(|w| length(sub(w[set_points], w[0])));
        moved.fold(0.0, f64::max)
    };
    // Figures, not the constants of this file: 250 mm/s are 25 mm in five frames, whose rounding may add 1 mm.
    // That many set-points fall into five frames: five, and six when the link's delay varies.
    let (five, six) = (fastest(5), fastest(6));
    assert!((24.0..=26.0).contains(&six), "six set-points: {six} mm");
    assert!((20.0..=21.8).contains(&five), "five set-points: {five} mm");
    // It stays there, and was not touched for one frame only: 240 mm less two ways of 54 mm to gain and lose the speed.
    let at_cap = feet
        .windows(7)
        .filter(|w| length(sub(w[6], w[0])) > 24.0)
        .count();
    assert!(at_cap > 20, "{at_cap} windows at the cap");
}

#[test]
fn it_starts_and_stops_gently() {
    let robot = marram();
    let mut stream = line(&robot, |[x, y, z]| [x - 60.0, y, z]);
    let mut before = stream.feet()[0];
    let mut speeds = vec![0.0];
    while stream.next(&robot).is_some() {
        speeds.push(length(sub(stream.feet()[0], before)) / FRAME_S);
        before = stream.feet()[0];
    }
    speeds.push(0.0);
    for pair in speeds.windows(2) {
        assert!(
            (pair[1] - pair[0]).abs() <= 2.0 * GAIN_MM_S2 * FRAME_S + 1e-6,
            "{speeds:?}"
        );
    }
}

#[test]
fn what_is_in_the_way_is_known_before_and_never_passed() {
    let robot = marram();
    let mut stream = line(&robot, |[x, y, z]| [x + 400.0, y, z]);
    let Some(InTheWay::Joint { joint, at_deg, .. }) = stream.stop() else {
        panic!("{:?}", stream.stop());
    };
    assert_eq!(joint, crate::calibration::JointKind::Tibia);
    assert!((at_deg + 37.98).abs() < 0.01);
    let free = stream.free_mm();
    // By hand: at −37.98° of the knee the foot is √(67² + 104² + 2·67·104·cos 37.98°) = 162.2 from the femur axis,
    // which 75.6 below is 31 + 143.5 = 174.5 from the coxa axis; √(174.5² − 10.4²) − 149.5 = 24.7 mm ahead.
    assert!((free - 24.7).abs() < 0.2, "{free}");
    let lf = robot.leg("LF").expect("there");
    let last = run(&robot, &mut stream).pop().expect("a last one");
    assert!(robot.beyond(lf, last[0]).is_none());
    assert!(stream.is_done());
}

#[test]
fn a_point_out_of_reach_is_said_so_where_nothing_else_stops_the_leg() {
    let text: String = SIX_LEGS
        .lines()
        .filter(|line| !line.contains("limits_us") && !line.contains("_end_us"))
        .map(|line| format!("{line}\n"))
        .collect();
    let robot = CalibratedRobot::new(read(&text).robot.expect("a good file"));
    let stream = line(&robot, |[x, y, z]| [x + 400.0, y, z]);
    assert!(matches!(
        stream.stop(),
        Some(InTheWay::Reach(Unreachable::TooFar { .. }))
    ));
}

#[test]
fn a_neighbour_stops_the_foot_and_a_leg_too_near_may_part() {
    let robot = marram();
    let (lf, lm) = (
        robot.leg("LF").expect("there"),
        robot.leg("LM").expect("there"),
    );
    let plan = |angles: [f64; 3], to: Vec3| {
        let room = room(&robot, "LF", angles);
        let course = Course::Line {
            from: room.foot,
            to,
        };
        let still = [(lm, [-44.0, 30.0, -90.0])];
        Stream::plan(&robot, vec![room], &[SLEWS], &still, course)
    };
    let there = room(&robot, "LF", [44.0, 30.0, -90.0]).foot;
    let stream = plan([0.0, 30.0, -90.0], there);
    assert_eq!(stream.stop(), Some(InTheWay::Leg { leg: lf, other: lm }));
    let (goal, _) = stream.goal(&robot);
    assert!(length(sub(goal[0], there)) > 5.0);
    let back = room(&robot, "LF", [0.0, 30.0, -90.0]).foot;
    let stream = plan([44.0, 30.0, -90.0], back);
    assert_eq!(stream.stop(), None);
}

#[test]
fn a_course_that_takes_anothers_place_starts_where_the_foot_is_and_keeps_its_speed() {
    let robot = marram();
    let mut first = line(&robot, |[x, y, z]| [x - 60.0, y, z]);
    for _ in 0..8 {
        first.next(&robot);
    }
    let here = first.feet()[0];
    let lf = robot.leg("LF").expect("there");
    let on = |to: Vec3| {
        let room = Legroom::new(&robot, lf, first.pulses_us(&robot)[0], WIDE).expect("known");
        let course = Course::Line {
            from: room.foot,
            to,
        };
        let mut stream = Stream::plan(&robot, vec![room], &[SLEWS], &[], course);
        assert!(length(sub(stream.feet()[0], here)) < 1e-9);
        stream.carry_on_from(&first);
        stream
    };
    let mut farther = on([here[0] - 80.0, here[1], here[2]]);
    assert!((farther.speed_mm_s - first.speed_mm_s).abs() < 1e-6 && first.speed_mm_s > 30.0);
    let points = run(&robot, &mut farther);
    for joint in 0..3 {
        let moved = (points[1][0][joint] - first.sent_us[0][joint]).abs();
        assert!(moved <= SLEWS[joint] / 50.0);
    }
    assert_eq!(on([here[0] + 20.0, here[1], here[2]]).speed_mm_s, 0.0);
    assert!(on([here[0], here[1], here[2] + 20.0]).speed_mm_s < 1e-6);
}

#[test]
fn the_other_knee_ends_with_the_foot_where_it_was() {
    let text: String = SIX_LEGS
        .lines()
        .filter(|line| !line.contains("limits_us") && !line.contains("_end_us"))
        .map(|line| format!("{line}\n"))
        .collect();
    let text = text.replace("zero_us = { value = 2290.0", "zero_us = { value = 1500.0");
    let robot = CalibratedRobot::new(read(&text).robot.expect("a good file"));
    let room = room(&robot, "LF", [0.0, 20.0, -50.0]);
    let to = robot
        .geometry(room.leg)
        .ik(room.foot, Knee::Down)
        .expect("reached");
    let course = Course::Joints {
        from: room.angles_deg,
        to: to.map(f64::to_degrees),
    };
    let foot = room.foot;
    let mut stream = Stream::plan(&robot, vec![room], &[SLEWS], &[], course);
    assert_eq!(stream.stop(), None);
    let points = run(&robot, &mut stream);
    assert!(length(sub(stream.feet()[0], foot)) < 1e-6);
    assert!(points.len() > 30);
}

#[test]
fn the_body_moves_over_feet_that_stay() {
    let robot = marram();
    let rooms: Vec<Legroom> = ["LF", "LM", "LR", "RF", "RM", "RR"]
        .map(|name| room(&robot, name, [0.0, 20.0, -85.0]))
        .into();
    let feet: Vec<Vec3> = rooms
        .iter()
        .map(|room| robot.from_leg_frame(room.leg, room.foot, Frame::Body))
        .collect();
    let to = BodyPose {
        at: [15.0, -10.0, 12.0],
        roll: 0.05,
        pitch: -0.08,
        yaw: 0.2,
    };
    let course = Course::Body {
        feet: feet.clone(),
        from: BodyPose::default(),
        to,
    };
    let slews = [SLEWS; 6];
    let mut stream = Stream::plan(&robot, rooms, &slews, &[], course.clone());
    assert_eq!(stream.stop(), None);
    let legs: Vec<LegIndex> = stream.legs().collect();
    let mut before: Vec<Vec3> = stream.feet().to_vec();
    while let Some(point) = stream.next(&robot) {
        let pose = stream.pose().expect("the body moves");
        for (i, leg) in legs.iter().enumerate() {
            let foot = robot
                .foot_of_pulses(*leg, point.pulses_us[i], Frame::Ground(pose))
                .expect("calibrated");
            assert!(length(sub(foot, feet[i])) < 0.4, "{foot:?}");
            let moved = length(sub(stream.feet()[i], before[i]));
            // A sixth of 25 mm: six set-points can fall into five frames.
            assert!(moved <= 25.0 / 6.0 + 1e-6, "{moved}");
        }
        before = stream.feet().to_vec();
    }
    assert_eq!(stream.pose(), Some(to));
    // Too far for a leg: it stops before, and says which joint of which leg.
    let far = Course::Body {
        feet,
        from: BodyPose::default(),
        to: BodyPose {
            at: [300.0, 0.0, 0.0],
            ..BodyPose::default()
        },
    };
    let rooms = stream.rooms.clone();
    let rooms: Vec<Legroom> = rooms
        .iter()
        .map(|room| Legroom::new(&robot, room.leg, room.pulses_us, WIDE).expect("known"))
        .collect();
    let stream = Stream::plan(&robot, rooms, &slews, &[], far);
    assert!(stream.stop().is_some());
    assert!(stream.free_mm() > 10.0);
}

#[test]
fn a_wide_turn_of_the_body_takes_its_feet_to_the_cap_and_not_above_it() {
    let robot = marram();
    let rooms: Vec<Legroom> = ["LF", "LM", "LR", "RF", "RM", "RR"]
        .map(|name| room(&robot, name, [0.0, 20.0, -70.0]))
        .into();
    let feet: Vec<Vec3> = rooms
        .iter()
        .map(|room| robot.from_leg_frame(room.leg, room.foot, Frame::Body))
        .collect();
    let turned = |yaw: f64| BodyPose {
        yaw,
        ..BodyPose::default()
    };
    // Joints so fast that nothing but the cap bounds the feet.
    let fast = [[100_000.0; 3]; 6];
    let turn = |rooms: Vec<Legroom>, from: f64, to: f64| {
        let (feet, from, to) = (feet.clone(), turned(from), turned(to));
        let stream = Stream::plan(&robot, rooms, &fast, &[], Course::Body { feet, from, to });
        assert_eq!(stream.stop(), None);
        stream
    };
    let mut aside = turn(rooms, 0.0, -0.42);
    run(&robot, &mut aside);
    let pulses = aside.pulses_us(&robot);
    let rooms: Vec<Legroom> = aside
        .legs()
        .zip(pulses)
        .map(|(leg, us)| Legroom::new(&robot, leg, us, WIDE).expect("known"))
        .collect();
    let mut wide = turn(rooms, -0.42, 0.42);
    let legs: Vec<LegIndex> = wide.legs().collect();
    let points = run(&robot, &mut wide);
    let mut fastest = 0.0_f64;
    for (i, leg) in legs.iter().enumerate() {
        let at: Vec<Vec3> = points
            .iter()
            .map(|p| {
                let foot = robot.foot_of_pulses(*leg, p[i], Frame::Leg);
                foot.expect("calibrated")
            })
            .collect();
        for six in at.windows(7) {
            fastest = fastest.max(length(sub(six[6], six[0])));
        }
    }
    // 25 mm, and the rounding of both ends; a little less because the feet go along arcs.
    assert!((24.0..=26.0).contains(&fastest), "{fastest}");
}

#[test]
fn a_course_to_where_it_is_is_done_at_once() {
    let robot = marram();
    let mut stream = line(&robot, |from| from);
    assert!(stream.is_done() && stream.next(&robot).is_none());
    assert!(stream.free_mm() < 1e-6);
}
