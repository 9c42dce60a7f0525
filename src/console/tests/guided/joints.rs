//! One joint by keys: bounds, marks, ends, a servo alone, horn, check, replaced.

use super::super::pin;
use super::{Desk, SECOND};
use crate::calibration::JointKind;
use crate::console::effect::Effect;
use crate::console::view::Page;
use crate::procedure::Wants;

#[test]
fn enter_on_home_walks_from_bounds_to_marks_to_ends_and_the_matrix_follows() {
    let mut desk = Desk::bounded();
    let cell = |desk: &Desk| match desk.screen().page {
        Page::Home(home) => home.matrix.rows[0].cells[1].text.clone(),
        other => panic!("not Home: {other:?}"),
    };
    assert_eq!(cell(&desk), "bounds");
    desk.says("Enter: mark LF femur: which pulse is which angle.");
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.says("Choose what the angle is read with");
    desk.keys("j <Enter>");
    desk.says("Put the gauge to the joint. Then hands away, and Enter.");
    desk.keys("<Enter>");
    // Hands were in the robot: counted down before it moves.
    desk.says("Hands away. LF femur, pin 23, moves to");
    let truth = |us: f64| (us - 1487.5) / 10.62;
    for _ in 0..6 {
        desk.settled();
        desk.says("Type the gauge's angle, then Enter.");
        let Page::Marks(marks) = desk.screen().page else {
            panic!("Marks");
        };
        let row = marks.rows.last().expect("the awaited one");
        let angle = truth(row.pulse.parse().expect("a pulse"));
        let text: String = format!("{angle:.1}")
            .chars()
            .map(|c| format!("{c} "))
            .collect();
        desk.keys(&format!("{text} <Enter>"));
    }
    desk.settled();
    let joint = desk.state.joint().expect("a joint").clone();
    let (zero, scale) = (
        joint.zero.expect("a zero").value,
        joint.scale.expect("a scale").value,
    );
    assert!(
        (zero - 1487.5).abs() < 3.0 && (scale - 10.62).abs() < 0.1,
        "{zero} {scale}"
    );
    desk.keys("n n");
    desk.says("Wait: it goes back to its mid-travel, and goes limp there.");
    desk.settled();
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Home");
    assert_eq!(cell(&desk), "6 marks");
    // Ends: the mechanism of this test ends at 868 and 2268 µs.
    desk.says("Enter: find the ends of LF femur.");
    desk.keys("<Enter> <Enter>");
    for _ in 0..2000 {
        desk.settled();
        match desk.step().wants {
            Wants::FreeOrEnd { .. } => {
                let Page::Ends(ends) = desk.screen().page else {
                    panic!("Ends");
                };
                let to: f64 = ends.big.parse().expect("a pulse");
                desk.keys(if (868.0..=2268.0).contains(&to) {
                    "n"
                } else {
                    "E"
                });
            }
            Wants::Over => break,
            _ => desk.keys("<Enter>"),
        }
    }
    desk.keys("<Enter>");
    let joint = desk.state.joint().expect("a joint").clone();
    let near = joint.near_end.expect("found").value;
    let far = joint.far_end.expect("found").value;
    assert!((near - 868.0).abs() <= 4.0 && (far - 2268.0).abs() <= 4.0);
    assert!(joint.limits.is_some());
    assert!(cell(&desk).starts_with('±'), "{}", cell(&desk));
    // Left, its pin is limp and the board has the file's guard.
    assert!(desk.pulses.is_empty());
    let (low, high) = joint.guard.expect("set");
    let guard = format!("guard 23 {low} {high}");
    let last = desk
        .asked()
        .into_iter()
        .rfind(|it| it.starts_with("guard 23"));
    assert_eq!(last.as_deref(), Some(guard.as_str()));
    // It is whole and in no file. The next one is the next in order, though another lacks an earlier part.
    desk.keys("u");
    desk.bounds();
    desk.keys("i");
    desk.says("All of LF femur is known. Enter walks on to LF coxa.");
    let not_saved = "It is not saved yet: s saves. Nothing moves. Space stops.";
    assert_eq!(desk.row(2), not_saved);
    desk.keys("<Enter>");
    desk.says("Enter: mark LF coxa");
}

#[test]
fn the_zero_that_marks_tell_is_the_one_on_the_scale_below_them() {
    // Measured before, so that more is expected of it than of a joint that was never looked at.
    let mut desk = measured();
    let expected = desk.state.joint().expect("a joint").zero.clone();
    desk.keys("i <F2>");
    for _ in 0..9 {
        desk.keys("j");
    }
    desk.keys("<Enter> <Enter> <Enter>");
    desk.settled();
    desk.keys("j <Enter> <Enter>");
    for angle in ["- 4 3 . 5", "- 4 4", "- 2", "- 1", "4 1 . 5", "4 3 . 5"] {
        desk.settled();
        assert!(matches!(desk.step().wants, Wants::Value { .. }));
        desk.keys(&format!("{angle} <Enter>"));
    }
    desk.settled();
    let Page::Marks(marks) = desk.screen().page else {
        panic!("Marks");
    };
    let zero = marks.scale.zero.expect("a zero");
    assert_ne!(Some(zero.us), expected.map(|it| it.value));
    let us = crate::console::view::text::us;
    let spread = us(zero.spread.expect("a fit's"));
    assert_eq!(marks.fit[0].1, format!("{} ± {spread} µs", us(zero.us)));
}

#[test]
fn a_joint_is_chosen_by_what_the_step_is_about() {
    let mut desk = Desk::found_plugs();
    desk.keys("d o <Enter>");
    assert_eq!(desk.row(0), "Rough bounds");
    assert_eq!(
        (desk.state.chosen.leg, desk.state.chosen.kind),
        (1, JointKind::Tibia)
    );
    assert!(desk.screen().title.subject.starts_with("LM tibia, pin 27"));
}

#[test]
fn a_servo_alone_runs_its_minute_and_is_put_on_the_test_pin_by_hand() {
    use crate::console::effect::ByHand;
    let mut desk = Desk::supplied();
    desk.keys("<F2> j j j j j <Enter>");
    assert_eq!(desk.row(0), "One servo");
    desk.says("Write a number on a sticker");
    desk.keys("2 1 <Enter>");
    desk.says("Plug servo 21 into pin 2, no horn on it.");
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    assert!(matches!(
        page.picture,
        crate::console::view::Left::Drawing(_)
    ));
    desk.keys("<Enter>");
    let plugged = Effect::ByHand(ByHand::PutOnTestPin {
        servo: "21".into(),
        pin: pin(2),
    });
    assert!(desk.log.contains(&plugged));
    desk.settled();
    desk.says("Did it turn, and does it stand still and quiet?");
    desk.keys("<Enter>");
    desk.wait(70 * SECOND);
    desk.settled();
    desk.says("Choose what servo 21 is");
    desk.keys("<Enter>");
    let servo = &desk.state.work.known().servos["21"];
    assert_eq!(
        servo.verdict,
        Some(crate::calibration::logbook::Verdict::Good)
    );
    assert!(desk.pulses.is_empty());
    let cleared = Effect::ByHand(ByHand::ClearTestPin);
    assert!(
        !desk.log.contains(&cleared),
        "hands stay off while it is awake"
    );
    desk.keys("n");
    assert!(desk.log.contains(&cleared));
}

#[test]
fn a_horn_is_turned_by_hand_when_enter_says_so() {
    use crate::console::effect::ByHand;
    let mut desk = Desk::found_plugs();
    desk.keys("i <F2> j j j j j j <Enter> <Enter>");
    assert_eq!(desk.row(0), "Horns");
    for _ in 0..12 {
        match desk.step().wants {
            Wants::Value {
                unit: "°",
                start: None,
                ..
            } => desk.keys("2 5 <Enter>"),
            Wants::Text { .. } => desk.keys("0 7 <Enter>"),
            Wants::Over => break,
            _ => desk.keys("<Enter>"),
        }
        desk.settled();
        if desk.state.work.known().joints[1].horn.is_some() {
            break;
        }
    }
    let horn = desk.state.work.known().joints[1].horn.expect("advised");
    assert_ne!((horn.turn_teeth, horn.arm), (0, 0));
    let turned = |desk: &Desk| {
        desk.log.iter().any(|it| matches!(it, Effect::ByHand(ByHand::TurnHorn { teeth, .. }) if *teeth == horn.turn_teeth))
    };
    assert!(!turned(&desk) && desk.pulses.is_empty());
    desk.keys("<Enter>");
    assert!(turned(&desk));
    // Back to the words that ask for it, and then to the choice: it is turned back, and by the choice once more.
    desk.log.clear();
    desk.keys("<BS>");
    assert!(!desk.log.iter().any(|it| matches!(it, Effect::ByHand(_))));
    desk.keys("<BS>");
    desk.says("Taken back. First turn the horn back, if it was turned already.");
    let turns = |desk: &Desk| -> (i32, u32) {
        let of = |it: &Effect| match it {
            Effect::ByHand(ByHand::TurnHorn { teeth, arm, .. }) => Some((*teeth, *arm)),
            _ => None,
        };
        let all = desk.log.iter().filter_map(of);
        all.fold((0, 0), |sum, it| (sum.0 + it.0, sum.1 + it.1))
    };
    assert_eq!(turns(&desk).0, -horn.turn_teeth);
    assert_eq!((turns(&desk).1 + horn.arm) % horn.arms, 0);
    desk.keys("<Enter> <Enter> <Enter>");
    assert_eq!((turns(&desk).0, turns(&desk).1 % horn.arms), (0, 0));
    // The same on Home, where it is asked first.
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.keys("<BS>");
    assert!(
        desk.row(2)
            .contains("First turn the horn back, if it was turned already"),
        "{}",
        desk.row(2)
    );
    desk.keys("<Enter>");
    desk.says("Taken back: ");
    assert_eq!(turns(&desk).0, -horn.turn_teeth);
}

#[test]
fn a_leg_comes_off_its_horn_and_goes_on_again_with_the_enters_that_say_so() {
    use crate::console::effect::ByHand;
    let mut desk = Desk::found_plugs();
    desk.keys("i <F2> j j j j j j <Enter> <Enter>");
    let acts = |desk: &Desk| -> Vec<ByHand> {
        let mut acts: Vec<ByHand> = desk
            .log
            .iter()
            .filter_map(|it| match it {
                Effect::ByHand(ByHand::LookAtHorn { .. }) => None,
                Effect::ByHand(act) => Some(act.clone()),
                _ => None,
            })
            .collect();
        acts.dedup();
        acts
    };
    let mut said = Vec::new();
    for _ in 0..200 {
        let step = desk.step();
        if said.last() != Some(&step.big) {
            said.push(step.big);
        }
        match (step.big, &step.wants) {
            ("n WHEN IT STOPS", _) => desk.keys("n"),
            ("UNSCREW THE LEG", _) => {
                assert_eq!(acts(&desk), []);
                desk.keys("<Enter>");
                assert_eq!(acts(&desk), [], "the leg is on it yet");
                desk.keys("j <Enter>");
            }
            ("HOW FAR DOES IT TURN?", _) => desk.keys("j <Enter>"),
            ("TYPE THE ANGLE", _) if said.contains(&"UNSCREW THE LEG") => {
                let far = said.iter().filter(|it| **it == "TYPE THE ANGLE").count() == 3;
                desk.keys(if far { "8 0 <Enter>" } else { "- 9 0 <Enter>" });
            }
            ("TYPE THE ANGLE", _) => desk.keys("2 5 <Enter>"),
            ("SCREW THE LEG ON" | "TURN THE HORN", Wants::Enter) => break,
            (_, Wants::Text { .. }) => desk.keys("0 7 <Enter>"),
            (_, Wants::Wait) => {}
            _ => desk.keys("<Enter>"),
        }
        desk.settled();
    }
    let way: Vec<&str> = said
        .into_iter()
        .skip_while(|it| *it != "UNSCREW THE LEG")
        .filter(|it| !matches!(*it, "HANDS AWAY" | "WAIT"))
        .collect();
    assert_eq!(
        way[..6],
        [
            "UNSCREW THE LEG",
            "n WHEN IT STOPS",
            "TYPE THE ANGLE",
            "n WHEN IT STOPS",
            "TYPE THE ANGLE",
            "TURN THE HORN"
        ]
    );
    assert!(
        matches!(&acts(&desk)[..], [ByHand::UnscrewLeg { leg, joint: "femur" }] if leg == "LF"),
        "{:?}",
        acts(&desk)
    );
    // Left here, hands end what they had begun; that the leg is off stands in the logbook until it is said to be on.
    desk.keys("<Esc>");
    desk.says("Enter: go on with LF femur, whose leg is off its horn.");
    assert!(
        matches!(&acts(&desk)[..], [ByHand::UnscrewLeg { .. }, ByHand::TurnHorn { .. }, ByHand::ScrewLegOn { leg, joint: "femur" }] if leg == "LF"),
        "{:?}",
        acts(&desk)
    );
    desk.keys("<Enter>");
    assert_eq!(desk.step().big, "TURN THE HORN");
    desk.keys("<Enter>");
    assert!(!desk.state.work.known().joints[1].leg_off);
    assert_eq!(acts(&desk).len(), 3);
}

/// Marram as it was measured, with one scale that is odd.
pub fn measured() -> Desk {
    let text = crate::calibration::MARRAM;
    let file = crate::calibration::file::from_text(text).expect("it reads");
    let work = crate::console::work::Work::new(file, "".into(), "2026-03-14T10:00:00Z");
    let mut desk = Desk::with(work.expect("work"));
    desk.open();
    desk.keys("<Enter> <Enter>");
    desk
}

#[test]
fn a_check_reads_one_mark_of_a_joint_and_a_replaced_servo_begins_that_joint_anew() {
    let mut desk = measured();
    desk.keys("i <F2>");
    for _ in 0..11 {
        desk.keys("j");
    }
    desk.keys("<Enter> <Enter>");
    assert_eq!(desk.row(0), "Check");
    for _ in 0..6 {
        match desk.step().wants {
            Wants::Value { .. } => break,
            _ => desk.keys("<Enter>"),
        }
        desk.settled();
    }
    desk.keys("5 <Enter>");
    assert_eq!(desk.state.work.known().joints[1].checks.len(), 1);
    desk.keys("<Esc> <F2>");
    for _ in 0..12 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Replace");
    desk.keys("2 1 <Enter> <Enter>");
    desk.says("Enter leaves: next is the horn of LF femur, where Home goes.");
    let known = desk.state.work.known();
    assert_eq!(known.joints[1].servo.as_deref(), Some("21"));
    assert!(desk.state.joint().expect("a joint").zero.is_none());
}

#[test]
fn the_family_check_points_at_the_odd_one_out_on_home_and_in_the_matrix() {
    let text = crate::calibration::MARRAM.replace(
        "us_per_degree = { value = 10.62, spread = 0.15",
        "us_per_degree = { value = 7.9, spread = 0.15",
    );
    let file = crate::calibration::file::from_text(&text).expect("it reads");
    let work = crate::console::work::Work::new(file, "".into(), "2026-03-14T10:00:00Z");
    let mut desk = Desk::with(work.expect("work"));
    desk.open();
    let Page::Home(home) = desk.screen().page else {
        panic!("Home");
    };
    let cell = &home.matrix.rows[0].cells[1];
    assert!(
        cell.text.starts_with("odd") && cell.text.ends_with('!'),
        "{cell:?}"
    );
    assert!(
        home.notes
            .iter()
            .any(|it| it.starts_with("! LF femur: its scale is +7.9")),
        "{:?}",
        home.notes
    );
}

#[test]
fn a_check_that_was_left_is_gone_on_with_and_tells_what_was_read_before() {
    let mut desk = measured();
    let open = |desk: &mut Desk| {
        desk.keys("<F2>");
        for _ in 0..11 {
            desk.keys("j");
        }
        // The leg, not the joint.
        desk.keys("<Enter> j <Enter>");
        assert_eq!(desk.row(0), "Check");
    };
    let read = |desk: &mut Desk, angle: &str| {
        desk.keys("<Enter>");
        desk.settled();
        desk.keys(&format!("{angle} <Enter>"));
        // It goes back to its mid-travel before it goes limp.
        desk.settled();
        if desk.step().big == "READ IT AGAIN" {
            desk.keys(&format!("{angle} <Enter>"));
            desk.settled();
        }
    };
    open(&mut desk);
    assert!(
        desk.step().title.ends_with("1 of 3"),
        "{}",
        desk.step().title
    );
    read(&mut desk, "9");
    desk.keys("<Esc>");
    open(&mut desk);
    let step = desk.step();
    assert!(
        step.title.starts_with("Check ── LF femur"),
        "{}",
        step.title
    );
    assert!(step.title.ends_with("2 of 3"), "{}", step.title);
    assert!(
        step.lines[0].starts_with("LF coxa") && step.lines[0].ends_with('!'),
        "{:?}",
        step.lines
    );
    read(&mut desk, "0");
    read(&mut desk, "0");
    desk.says("Enter leaves: most are off");
    // All of it was read: the next check begins with the first joint again.
    desk.keys("<Enter>");
    open(&mut desk);
    assert!(
        desk.step().title.ends_with("1 of 3"),
        "{}",
        desk.step().title
    );
}

#[test]
fn a_joint_that_a_check_found_off_stays_told_on_home_until_it_begins_anew() {
    let mut desk = measured();
    let name = desk.state.title();
    let check = |desk: &mut Desk| {
        desk.settled();
        desk.keys("<Enter>");
        desk.settled();
        desk.keys("9 <Enter>");
        desk.settled();
        desk.keys("9 <Enter>");
        desk.settled();
        desk.says(&format!("{name} is off: screw or horn?"));
    };
    desk.keys("<F2>");
    for _ in 0..11 {
        desk.keys("j");
    }
    desk.keys("<Enter> <Enter>");
    check(&mut desk);
    desk.keys("n <Enter>");
    assert_eq!(desk.row(0), "Home");
    desk.says(&format!(
        "Enter: check {name} again, which the last check found off."
    ));
    let cell = |desk: &Desk| {
        let Page::Home(home) = desk.screen().page else {
            panic!("home");
        };
        let (leg, kind) = home.matrix.chosen.expect("chosen");
        home.matrix.rows[leg].cells[kind].text.clone()
    };
    assert!(
        cell(&desk).starts_with("off ") && cell(&desk).ends_with("° !"),
        "{}",
        cell(&desk)
    );
    desk.keys("<Enter>");
    check(&mut desk);
    desk.keys("<Enter> <Enter>");
    assert_eq!(desk.row(0), "Home");
    assert!(!cell(&desk).starts_with("off"), "{}", cell(&desk));
    assert_eq!(
        desk.state.work.known().joints[0].source,
        crate::estimate::knowledge::Source::Nothing
    );
}
