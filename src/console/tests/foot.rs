//! Foot jog: what it needs, how it streams, how it stops, and that nothing is ever caught up.

use std::time::Duration;

use super::{Desk, hello, pin, refusal};
use crate::board::event::LostWhy;
use crate::board::sight::{SeenTouch, Sight};
use crate::board::{By, Event, Reason, Request, ResetCause};
use crate::calibration::{self, MARRAM};
use crate::console::effect::{Effect, Fate, Input};
use crate::console::view::{self, Page, Whole};
use crate::console::work::Work;
use crate::kinematics::{CalibratedRobot, Frame, Vec3};
use crate::units::Pulse;

/// A robot whose numbers these tests were worked out with; the shipped example may change.
pub const SIX_LEGS: &str = include_str!("../../../tests/data/six_legs.toml");
const MS: Duration = Duration::from_millis(1);
const LONG: Duration = Duration::from_secs(3);

pub fn desk_of(text: &str) -> Desk {
    let file = calibration::file::from_text(text).expect("a good file");
    let work = Work::new(file, "calibrations".into(), "2026-03-14T10:00:00Z");
    let mut desk = Desk::with(work.expect("it is taken over"));
    desk.open();
    if desk.state.said.is_some() {
        // That something in the file deserves another look: read, and put away.
        desk.keys("<Enter>");
    }
    // On the stand.
    desk.keys("<Enter> <Enter>");
    desk
}

/// On the foot page of LF, whose joints are awake at +5° and −82.5°: the foot is 120.3 out, 95.7 down.
pub fn awake() -> Desk {
    awake_of(SIX_LEGS)
}

fn awake_of(text: &str) -> Desk {
    let mut desk = desk_of(text);
    desk.keys("<F2> j j <Enter>");
    assert_eq!(desk.row(0), "Foot jog");
    desk.keys("<Enter>");
    desk.run(Duration::from_secs(6), Duration::from_millis(50));
    assert_eq!(desk.screen().head.state, Whole::Awake(3));
    desk.log.clear();
    desk
}

/// The left front foot at these pulses, in its leg's frame.
fn foot_of(pulses: &[Pulse]) -> Vec3 {
    let robot = CalibratedRobot::new(calibration::read(SIX_LEGS).robot.expect("a good file"));
    let leg = robot.leg("LF").expect("there");
    let us = std::array::from_fn(|i| pulses[i].us());
    robot
        .foot_of_pulses(leg, us, Frame::Leg)
        .expect("calibrated")
}

fn foot(desk: &Desk) -> Vec3 {
    foot_of(&[22, 23, 24].map(|p| desk.pulses[&pin(p)]))
}

fn apart(a: Vec3, b: Vec3) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1]).hypot(a[2] - b[2])
}

#[track_caller]
fn near(got: Vec3, due: Vec3) {
    // Half a half-microsecond a joint, as in the start.
    assert!(apart(got, due) < 0.25, "{got:?}, not {due:?}");
}

fn moved(from: Vec3, by: Vec3) -> Vec3 {
    std::array::from_fn(|i| from[i] + by[i])
}

fn page(desk: &Desk) -> view::FootJog {
    match desk.screen().page {
        Page::FootJog(page) => *page,
        _ => panic!("the page is the foot's"),
    }
}

#[test]
fn the_shipped_example_allows_it_at_once_after_a_countdown() {
    let mut desk = desk_of(MARRAM);
    assert!(desk.state.work.robot().template);
    desk.keys("<F2> j j <Enter>");
    desk.says("Enter: wake LF for its foot, after 3 s");
    desk.keys("l");
    desk.says("Not now: LF is limp: Enter wakes it.");
    assert!(!desk.moved());
    desk.keys("<Enter>");
    desk.says("Hands away. LF wakes in 3 s, one joint at a time.");
    desk.run(Duration::from_millis(2900), Duration::from_millis(50));
    assert!(!desk.moved());
    desk.run(LONG, Duration::from_millis(50));
    let asked = desk.asked().into_iter();
    let wakes: Vec<String> = asked.filter(|it| it.starts_with("wake")).collect();
    let robot = calibration::read(MARRAM).robot.expect("a good file");
    let middle = [0.0, 5.0, -82.5];
    for ((wake, joint), (angle, pin)) in wakes
        .iter()
        .zip(&robot.legs[0].joints)
        .zip(middle.iter().zip([22, 23, 24]))
    {
        let us: f64 = wake
            .strip_prefix(&format!("wake {pin} "))
            .and_then(|us| us.parse().ok())
            .expect("a pulse");
        let due = joint.pulse_us(*angle).expect("calibrated");
        assert!((us - due).abs() <= 0.25, "{wake}: {due}");
    }
    assert_eq!(wakes.len(), 3);
    desk.says("→ moves the foot 4 mm outward. The path is free for 41 mm.");
    desk.keys("l");
    desk.run(LONG, MS);
    assert!(desk.poses.len() > 5);
}

#[test]
fn before_it_moves_the_picture_has_every_arrows_way_and_what_stops_it() {
    let desk = awake();
    assert!(
        desk.row(2)
            .starts_with("After 41 mm: tibia limit −38°. Three joints move.")
    );
    let page = page(&desk);
    let path = page.side.path.expect("the way of the arrow pressed last");
    assert_eq!(path.stop.as_deref(), Some("41 mm to limit"));
    assert!((path.to_mm[0] - 161.8).abs() < 0.1 && (path.to_mm[1] + 95.7).abs() < 0.1);
    assert_eq!(
        page.top.path.and_then(|p| p.stop).as_deref(),
        Some("tibia −38°")
    );
    assert_eq!(page.side.ends.len(), 3);
    assert_eq!(page.ways[0], "free  ← 120   → 41    ↑ 78    ↓ 39   mm");
    assert_eq!(page.ways[1], "then  axis    tibia   femur   tibia");
    assert_eq!(page.spread, "± 3.0 mm unloaded");
    assert_eq!(
        page.knee.join(" "),
        "knee up, chosen   (knee down: femur −99°, 44° past its limit −55°)"
    );
    let least: Vec<_> = page.margins.iter().filter(|m| m.least).collect();
    assert_eq!((least.len(), least[0].joint.as_str()), (1, "tibia"));
}

#[test]
fn on_the_sheet_the_lines_say_what_is_seen_before_a_way_that_only_looks_free() {
    let mut desk = awake();
    let touching = |leg: &str| {
        Input::Sight(Sight {
            touches: vec![SeenTouch {
                leg: leg.into(),
                at_mm: [156.0, 126.0],
            }],
            ..Sight::default()
        })
    };
    desk.input(touching("RR"));
    desk.keys("<Down>");
    desk.run(LONG, MS);
    desk.says("↓ moves the foot 4 mm down. The path is free for");
    desk.input(touching("LF"));
    desk.says("The foot stands on the sheet: farther down only presses.");
    assert!(desk.row(2).starts_with("The first touch counts: pressing"));
    assert_eq!(desk.screen().big_words, "ON THE SHEET");
    desk.keys("<Up>");
    desk.run(LONG, MS);
    desk.says("↑ moves the foot 4 mm up.");
}

#[test]
fn an_arrow_moves_the_foot_one_step_straight_streamed_at_50_hz() {
    let mut desk = awake();
    let from = foot(&desk);
    desk.keys("l");
    desk.run(LONG, MS);
    near(foot(&desk), moved(from, [4.0, 0.0, 0.0]));
    let asked = desk.asked();
    assert_eq!(asked[0], "roster 22 23 24");
    assert!(
        asked[1..].iter().all(|it| it.starts_with("pose 20 ")),
        "{asked:?}"
    );
    assert!(desk.poses.len() > 8);
    for pair in desk.poses.windows(2) {
        assert_eq!(pair[1].0 - pair[0].0, Duration::from_millis(20));
    }
    let (last, streamed) = desk.poses.split_last().expect("it moved");
    assert!(
        streamed
            .iter()
            .all(|(_, pose)| pose.iter().all(|p| p.halves().is_multiple_of(2)))
    );
    assert!(
        last.1.iter().any(|p| !p.halves().is_multiple_of(2)),
        "the last carries halves: {last:?}"
    );
    for (_, pose) in &desk.poses {
        let [_, y, z] = foot_of(pose);
        assert!(
            (y - from[1]).abs() < 0.35 && (z - from[2]).abs() < 0.35,
            "{pose:?}"
        );
    }
    // The same leg again: the board knows the order of pins.
    desk.log.clear();
    desk.keys("h");
    desk.run(LONG, MS);
    assert!(!desk.asked().iter().any(|it| it.starts_with("roster")));
    near(foot(&desk), from);
}

#[test]
fn steps_add_up_without_drift() {
    let mut desk = awake();
    let from = foot(&desk);
    for _ in 0..6 {
        desk.keys("l");
        desk.run(LONG, MS);
        desk.keys("k");
        desk.run(LONG, MS);
    }
    near(foot(&desk), moved(from, [24.0, 0.0, 24.0]));
    for _ in 0..6 {
        desk.keys("h");
        desk.run(LONG, MS);
        desk.keys("j");
        desk.run(LONG, MS);
    }
    near(foot(&desk), from);
}

#[test]
fn a_late_tick_delays_the_path_and_is_never_caught_up() {
    let steady = {
        let mut desk = awake();
        desk.keys(". . . k");
        desk.run(LONG, MS);
        desk.poses
    };
    let mut desk = awake();
    desk.keys(". . . k");
    desk.run(Duration::from_millis(150), MS);
    let before = desk.poses.len();
    // The console does not run for 400 ms: 20 frames.
    desk.now += Duration::from_millis(400);
    desk.input(Input::Tick);
    assert_eq!(desk.poses.len(), before + 1, "one set-point, not twenty");
    desk.run(Duration::from_millis(19), MS);
    assert_eq!(desk.poses.len(), before + 1);
    desk.run(LONG, MS);
    for pair in desk.poses.windows(2) {
        assert!(pair[1].0 - pair[0].0 >= Duration::from_millis(20));
    }
    // The very same set-points, only later.
    let pulses = |poses: &[(Duration, Vec<Pulse>)]| -> Vec<Vec<Pulse>> {
        poses.iter().map(|(_, pose)| pose.clone()).collect()
    };
    assert_eq!(pulses(&desk.poses), pulses(&steady));
    let took = |poses: &[(Duration, Vec<Pulse>)]| poses[poses.len() - 1].0 - poses[0].0;
    let late = took(&desk.poses) - took(&steady);
    assert!(late >= Duration::from_millis(380), "{late:?}");
}

#[test]
fn the_next_set_point_waits_for_the_answer_and_then_for_half_a_frame() {
    let mut desk = awake();
    desk.keys(". . . k");
    desk.run(Duration::from_millis(100), MS);
    desk.mute = true;
    desk.run(Duration::from_millis(30), MS);
    let count = desk.poses.len();
    desk.run(Duration::from_millis(120), MS);
    assert_eq!(desk.poses.len(), count, "none without an answer");
    answer_last(&mut desk);
    desk.mute = false;
    desk.run(Duration::from_millis(9), MS);
    assert_eq!(desk.poses.len(), count);
    desk.run(Duration::from_millis(2), MS);
    assert_eq!(desk.poses.len(), count + 1);
}

/// The board's answer to the last `pose` comes now.
fn answer_last(desk: &mut Desk) {
    let asks = desk.log.iter().rev();
    let id = asks
        .filter_map(|effect| match effect {
            Effect::Ask(id, Request::Pose { .. }) => Some(*id),
            _ => None,
        })
        .next()
        .expect("a pose was sent");
    let done = crate::board::Done::Move { ms: 20 };
    desk.input(Input::Asked(id, Fate::Answered(Ok(done))));
}

/// Whatever this does to a foot under way: nothing is sent after it, whichever keys answer it.
#[track_caller]
fn ends(what: &str, happen: impl FnOnce(&mut Desk)) -> Desk {
    let mut desk = awake();
    desk.keys(". . . k");
    desk.run(Duration::from_millis(150), MS);
    assert!(desk.state.motion.is_some());
    happen(&mut desk);
    assert!(desk.state.motion.is_none(), "{what}");
    let count = desk.poses.len();
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count, "{what}");
    desk
}

#[test]
fn space_stops_it_at_any_time_and_nothing_goes_on() {
    let mut desk = ends("Space", |desk| desk.keys("<Space>"));
    assert_eq!(desk.asked().last().map(String::as_str), Some("STOP limp"));
    let count = desk.poses.len();
    desk.keys("<Esc> l k");
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count);
}

#[test]
fn on_the_ground_space_freezes_and_thawing_does_not_resume() {
    let mut desk = awake();
    desk.keys("G <Enter>");
    desk.keys(". . . k");
    desk.run(Duration::from_millis(150), MS);
    desk.keys("<Space>");
    let count = desk.poses.len();
    desk.run(Duration::from_millis(500), MS);
    desk.keys("<Enter>");
    desk.run(LONG, MS);
    assert!(!desk.frozen);
    assert_eq!(desk.poses.len(), count);
    // From where it is now.
    let from = foot(&desk);
    desk.keys(", , , j");
    desk.run(LONG, MS);
    near(foot(&desk), moved(from, [0.0, 0.0, -4.0]));
}

#[test]
fn freeze_reset_lost_link_refusal_and_silence_end_it() {
    let mut desk = ends("p", |desk| desk.keys("p"));
    desk.keys("<Enter>");
    desk.run(LONG, MS);
    let count = desk.poses.len();
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count);
    ends("frozen", |desk| {
        desk.event(Event::Frozen {
            n: 9,
            by: By::Silence,
        })
    });
    ends("reset", |desk| {
        desk.pulses.clear();
        desk.event(Event::Reset {
            cause: ResetCause::Brownout,
            hello: hello(2),
        });
    });
    ends("lost", |desk| {
        desk.event(Event::Lost {
            why: LostWhy::Quiet,
        })
    });
    let desk = ends("refused", |desk| {
        desk.refuse = Some(refusal(Reason::Guard, "pin=24 low=1300 high=1400"));
        desk.run(Duration::from_millis(25), MS);
    });
    assert!(desk.row(1).starts_with("Refused: guard"), "{}", desk.row(1));
    ends("no answer", |desk| {
        desk.mute = true;
        desk.run(Duration::from_millis(25), MS);
        let asks = desk.log.iter().rev();
        let id = asks
            .filter_map(|effect| match effect {
                Effect::Ask(id, Request::Pose { .. }) => Some(*id),
                _ => None,
            })
            .next()
            .expect("one is out");
        desk.mute = false;
        desk.input(Input::Asked(id, Fate::NoAnswer));
    });
    ends("Esc", |desk| desk.keys("<Esc>"));
    ends("Z", |desk| desk.keys("Z"));
}

#[test]
fn after_a_reset_the_order_of_pins_is_told_again() {
    let mut desk = ends("reset", |desk| {
        desk.pulses.clear();
        desk.roster.clear();
        desk.event(Event::Reset {
            cause: ResetCause::Watchdog,
            hello: hello(2),
        });
        desk.event(Event::Restored { guards: Vec::new() });
    });
    desk.keys("<Enter>");
    desk.run(Duration::from_secs(7), Duration::from_millis(50));
    assert_eq!(desk.screen().head.state, Whole::Awake(3));
    desk.log.clear();
    desk.keys("l");
    desk.run(LONG, MS);
    assert_eq!(desk.asked()[0], "roster 22 23 24");
}

#[test]
fn the_newest_target_wins_from_where_the_foot_is() {
    let mut desk = awake();
    let from = foot(&desk);
    desk.keys(". . l");
    desk.run(Duration::from_millis(150), MS);
    let turned = foot(&desk);
    assert!(turned[0] > from[0] + 1.0 && turned[0] < from[0] + 12.0);
    desk.keys("k");
    desk.run(LONG, MS);
    let goal = moved(from, [16.0, 0.0, 16.0]);
    near(foot(&desk), goal);
    // In a straight line from where it was turned.
    for (_, pose) in desk.poses.iter().skip(9) {
        let at = foot_of(pose);
        let way = apart(turned, at) + apart(at, goal) - apart(turned, goal);
        assert!(way < 0.3, "{at:?}");
    }
}

#[test]
fn a_key_held_down_does_not_run_away() {
    let mut desk = awake();
    let from = foot(&desk);
    for _ in 0..40 {
        desk.keys("k");
        desk.run(Duration::from_millis(5), MS);
    }
    let at_release = foot(&desk);
    desk.run(LONG, MS);
    let after = foot(&desk)[2] - at_release[2];
    assert!(after < 16.5, "{after}");
    assert!(foot(&desk)[2] - from[2] < 80.0);
}

#[test]
fn a_step_ends_at_what_stops_it_and_the_next_does_not_move() {
    let mut desk = awake();
    let from = foot(&desk);
    desk.keys(". . . l");
    desk.run(LONG, MS);
    // By hand: 162.2 from femur axis to foot at the limit, 95.7 below: 31 + 131.0 − 120.3 = 41.6, less 32.
    desk.says("→ moves the foot 9.6 mm outward, not 32: then tibia limit −38°.");
    desk.keys("l");
    desk.run(LONG, MS);
    assert!(
        (foot(&desk)[0] - from[0] - 41.6).abs() < 0.2,
        "{:?}",
        foot(&desk)
    );
    assert!(desk.pulses[&pin(24)].us() <= 1876.0);
    let count = desk.poses.len();
    desk.says("→ cannot move the foot outward: tibia limit −38°.");
    desk.keys("l");
    desk.run(LONG, MS);
    assert_eq!(desk.poses.len(), count);
    desk.keys("h");
    desk.run(LONG, MS);
    assert!(desk.poses.len() > count);
}

#[test]
fn tab_and_frame_decide_where_the_arrows_go() {
    // LF points 45° to the left of forward; its y runs toward the rear.
    let diagonal = 4.0 / 2.0_f64.sqrt();
    for (keys, by) in [
        ("l", [4.0, 0.0, 0.0]),
        ("h", [-4.0, 0.0, 0.0]),
        ("k", [0.0, 0.0, 4.0]),
        ("j", [0.0, 0.0, -4.0]),
        ("<Tab> k", [0.0, -4.0, 0.0]),
        ("<Tab> j", [0.0, 4.0, 0.0]),
        ("<Tab> <Tab> k", [0.0, 0.0, 4.0]),
        // To the robot's left, and forward.
        ("A l", [diagonal, diagonal, 0.0]),
        ("A <Tab> k", [diagonal, -diagonal, 0.0]),
        ("A A l", [4.0, 0.0, 0.0]),
        (", , , k", [0.0, 0.0, 0.5]),
        (". k", [0.0, 0.0, 8.0]),
    ] {
        let mut desk = awake();
        let from = foot(&desk);
        desk.keys(keys);
        desk.run(LONG, MS);
        near(foot(&desk), moved(from, by));
    }
    let mut desk = awake();
    desk.keys("A <Tab>");
    let title = desk.screen().title.subject;
    assert_eq!(title, "LF, body frame, top view has the arrows");
    assert_eq!(page(&desk).point[0].0, "fore");
}

/// The shipped example of one leg: what it lacks is named, and two marks are enough.
#[test]
fn a_nominal_scale_is_named_until_two_marks_have_measured_it() {
    let mut desk = desk_of(include_str!("../../../calibrations/one-leg.toml"));
    desk.keys("<F2> j j j <Enter>");
    desk.says("The body cannot be moved yet: it takes three legs or more.");
    desk.keys("<F2> k <Enter>");
    desk.says("The foot of LF cannot move yet: LF tibia has a nominal µs/degree only.");
    assert!(
        desk.row(2)
            .starts_with("Two marks of a joint on the Jog page"),
        "{}",
        desk.row(2)
    );
    desk.keys("<F2> k <Enter> o w <Enter>");
    desk.run(LONG, MS);
    desk.keys("= 1 3 8 5 <Enter>");
    desk.run(LONG, MS);
    desk.keys("m - 8 3 <Enter> = 1 6 5 7 <Enter>");
    desk.run(LONG, MS);
    desk.keys("m - 5 8 <Enter> <F2> j <Enter>");
    desk.says("Enter: wake the rest of LF for its foot, after 3 s, one joint at a time.");
}

#[test]
fn the_step_is_halved_and_doubled_from_a_half_to_32() {
    let mut desk = awake();
    desk.keys(", , , , , ,");
    desk.says("→ moves the foot 0.5 mm outward.");
    desk.keys(". . . . . . . . .");
    assert_eq!(page(&desk).motion[0].1, "32 mm");
}

#[test]
fn a_typed_point_is_gone_to_straight_and_shown_before() {
    let mut desk = awake();
    let count = desk.poses.len();
    desk.keys("= 1 3 0 <Tab> 2 0 <Tab> - 8 0");
    desk.says("Enter goes to out 130, fore 20, up −80.");
    assert_eq!(
        desk.row(2),
        "The path is free: 27 mm, 0.5 s. Hands off. Space stops."
    );
    let path = page(&desk).top.path.expect("the way is drawn");
    assert!((path.to_mm[0] - 130.0).abs() < 1e-9 && (path.to_mm[1] - 20.0).abs() < 1e-9);
    assert_eq!(desk.poses.len(), count);
    desk.keys("<Enter>");
    desk.run(LONG, MS);
    near(foot(&desk), [130.0, -20.0, -80.0]);
    assert!(
        desk.log.contains(&Effect::Bell(1)),
        "it rings when it has settled"
    );
    // What is not touched stays as it is.
    desk.keys("= <Tab> <Tab> - 9 0 <Enter>");
    desk.run(LONG, MS);
    near(foot(&desk), [130.0, -20.0, -90.0]);
}

#[test]
fn a_typed_point_that_cannot_be_had_moves_nothing_and_says_why() {
    let mut desk = awake();
    desk.keys("= 2 0 0");
    assert!(
        desk.row(2)
            .starts_with("Not like this: 41 mm, then tibia limit −38°.")
    );
    desk.keys("<Enter>");
    desk.run(LONG, MS);
    assert!(desk.poses.is_empty());
    assert!(page(&desk).field.and_then(|f| f.error).is_some());
    // Space in the field stops; the field is gone.
    desk.keys("<Space>");
    assert_eq!(desk.asked().last().map(String::as_str), Some("STOP limp"));
    assert!(page(&desk).field.is_none());
}

#[test]
fn an_uncalibrated_joint_is_named_with_what_it_lacks() {
    for (find, replace, why) in [
        ("zero_us = { value = 1487.5", "#", "LF femur has no zero"),
        (
            "us_per_degree = { value = 10.90",
            "#",
            "LF tibia has no µs/degree",
        ),
        ("pin = 22\n", "", "LF coxa has no pin"),
    ] {
        let text = SIX_LEGS.replacen(
            find,
            &format!("{replace}{find}").replace("pin = 22\n", ""),
            1,
        );
        let mut desk = desk_of(&text);
        desk.keys("<F2> j j <Enter>");
        desk.says(&format!("The foot of LF cannot move yet: {why}."));
        desk.keys("<Enter> l");
        desk.run(Duration::from_secs(5), Duration::from_millis(50));
        assert!(!desk.moved(), "{why}");
        // Another leg is complete.
        desk.keys("d");
        desk.says("Enter: wake LM for its foot");
    }
}

#[test]
fn a_nominal_scale_is_not_used_for_a_foot() {
    let line = SIX_LEGS
        .lines()
        .find(|line| line.starts_with("us_per_degree = { value = 10.62"))
        .expect("LF femur's");
    let text = SIX_LEGS.replacen(line, &line.replace("\"marks\"", "\"typed\""), 1);
    let mut desk = desk_of(&text);
    desk.keys("<F2> j j <Enter>");
    desk.says("The foot of LF cannot move yet: LF femur has a nominal µs/degree only.");
    desk.keys("<Enter> l W");
    desk.run(Duration::from_secs(8), Duration::from_millis(50));
    let from = desk.pulses.clone();
    desk.keys("l k");
    desk.run(LONG, MS);
    assert_eq!(desk.pulses, from);
    assert!(desk.poses.is_empty());
}

#[test]
fn a_guard_narrower_than_the_limits_stops_the_path_before_the_board_refuses() {
    let text = SIX_LEGS.replacen(
        "guard_us = [724.0, 1890.0]",
        "guard_us = [724.0, 1450.0]",
        1,
    );
    let mut desk = awake_of(&text);
    assert!(desk.row(2).contains("tibia guard −77°"), "{}", desk.row(2));
    desk.keys(". . . l");
    desk.run(LONG, MS);
    assert!(desk.pulses[&pin(24)].us() <= 1450.0);
}

#[test]
fn a_neighbour_is_named_and_stops_the_foot() {
    let mut desk = awake();
    // LM swung to the front, as far as it goes: it is drawn there from its last pulse.
    desk.keys("d W");
    desk.run(Duration::from_secs(6), Duration::from_millis(50));
    desk.keys("<Tab> . . .");
    for _ in 0..4 {
        desk.keys("k");
        desk.run(LONG, MS);
    }
    desk.keys("e . . .");
    for _ in 0..6 {
        desk.keys("j");
        desk.run(LONG, MS);
    }
    desk.says("↓ cannot move the foot backward: LM is in the way.");
    assert_eq!(page(&desk).ways[1].split_whitespace().last(), Some("LM"));
    assert!(page(&desk).top.behind.starts_with("LM: "));
    let robot = CalibratedRobot::new(calibration::read(SIX_LEGS).robot.expect("good"));
    let angles = |name: &str, pins: [u8; 3]| {
        let leg = robot.leg(name).expect("there");
        let us = pins.map(|p| desk.pulses[&pin(p)].us());
        (leg, robot.angles_of_pulses(leg, us).expect("calibrated"))
    };
    let apart = robot.legs_apart(angles("LF", [22, 23, 24]), angles("LM", [25, 26, 27]));
    assert!((29.5..31.0).contains(&apart), "{apart}");
}

#[test]
fn the_other_knee_says_why_it_cannot_be() {
    let mut desk = awake();
    desk.keys("K");
    desk.says("Not now: knee down: femur −99°, 44° past its limit −55°.");
    assert!(!desk.moved());
}

/// Wide joints whose middle is the straight leg: the knee can bend either way.
pub fn wide_knee() -> Desk {
    let text: String = SIX_LEGS
        .lines()
        .filter(|line| !line.contains("limits_us") && !line.contains("_end_us"))
        .map(|line| match line.starts_with("guard_us") {
            true => "guard_us = [500.0, 2500.0]\n".into(),
            false => format!("{line}\n"),
        })
        .collect();
    let text = text
        .replacen(
            "zero_us = { value = 2290.0",
            "zero_us = { value = 1500.0",
            1,
        )
        .replacen(
            "needed_deg = [-125.0, -40.0]",
            "needed_deg = [-60.0, -20.0]",
            1,
        );
    awake_of(&text)
}

#[test]
fn the_other_knee_is_asked_before_it_bends() {
    let mut desk = wide_knee();
    assert_eq!(page(&desk).knee, ["knee up, chosen   (K: the other way)"]);
    let before = page(&desk).point;
    desk.keys("K");
    desk.says("Enter bends the knee of LF the other way.");
    desk.keys("<Esc> K <Enter>");
    desk.run(Duration::from_secs(5), MS);
    assert_eq!(page(&desk).knee, ["knee down, chosen   (K: the other way)"]);
    let close = |a: &str, b: &str| {
        let mm = |text: &str| -> f64 {
            let text = text.replace('−', "-").replace(" mm", "");
            text.parse().expect("a number")
        };
        (mm(a) - mm(b)).abs() < 0.25
    };
    for (a, b) in page(&desk).point.iter().zip(&before) {
        assert!(close(&a.1, &b.1), "{a:?} {b:?}");
    }
}

#[test]
fn another_leg_gets_its_own_order_of_pins() {
    let mut desk = awake();
    desk.keys("l");
    desk.run(LONG, MS);
    desk.keys("d W");
    desk.run(Duration::from_secs(6), Duration::from_millis(50));
    desk.log.clear();
    desk.keys("k");
    desk.run(LONG, MS);
    desk.keys("j");
    desk.run(LONG, MS);
    let asked = desk.asked();
    let rosters: Vec<_> = asked.iter().filter(|it| it.starts_with("roster")).collect();
    assert_eq!(rosters, ["roster 25 26 27"]);
}
