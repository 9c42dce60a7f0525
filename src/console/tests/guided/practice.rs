//! What a person sees and does beside the practice robot, while a page of guided work asks.

use super::super::{hello, pin};
use super::{Desk, SECOND};
use crate::board::Event;
use crate::board::sight::{SeenMotion, SeenServo, Sight};
use crate::calibration::JointKind;
use crate::calibration::logbook::{Copper, JointName, What};
use crate::console::bench::Place;
use crate::console::effect::{ByHand, Effect, Input};
use crate::console::state::Front;

fn practice(mut desk: Desk) -> Desk {
    desk.state.bench.place = Some(Place::Practice {
        seed: 7,
        clean: false,
    });
    desk
}

fn on_page(name: &str, rows: usize) -> Desk {
    let mut desk = practice(Desk::supplied());
    desk.keys("<F2>");
    for _ in 0..rows {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), name);
    desk
}

fn offered(desk: &Desk) -> String {
    let guided = desk.state.guided.as_ref().expect("guided work");
    guided
        .desk
        .field
        .as_ref()
        .expect("a field")
        .text()
        .to_owned()
}

#[test]
fn a_spare_that_the_practice_robot_has_is_offered_and_no_other_is_taken() {
    let mut desk = on_page("One servo", 5);
    desk.input(Input::ByHand(Ok(Some("spares: 14 20 21".into()))));
    assert_eq!(offered(&desk), "14");
    desk.keys("0 1 <Enter>");
    desk.says("Write a number on a sticker");
    let guided = desk.state.guided.as_ref().expect("guided work");
    let field = guided.desk.field.as_ref().expect("a field");
    assert_eq!(field.error.as_deref(), Some("practice: 14, 20, 21"));
    desk.keys("<Esc> <Enter>");
    desk.says("Plug servo 14 into pin 2, no horn on it.");
}

#[test]
fn a_number_that_is_no_spare_is_refused_before_the_replacement_is_recorded() {
    let mut desk = practice(super::joints::measured());
    desk.keys("i <F2>");
    for _ in 0..12 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Replace");
    desk.input(Input::ByHand(Ok(Some("spares: 14 20 21".into()))));
    let entries = desk.state.work.entries().len();
    desk.keys("9 9 <Enter> <Enter>");
    assert_eq!(desk.state.work.entries().len(), entries);
    desk.says("Type the number on the new servo's sticker for LF femur");
    desk.keys("<Esc> 2 0 <Enter> <Enter>");
    assert_eq!(
        desk.state.work.known().joints[1].servo.as_deref(),
        Some("20")
    );
    let built_in = |desk: &Desk, number: &str| {
        let of = |it: &&Effect| matches!(it, Effect::ByHand(ByHand::ExchangeServo { servo, .. }) if servo == number);
        desk.log.iter().filter(of).count()
    };
    assert_eq!(built_in(&desk, "20"), 1);
    // The one that sat there is put back, and what is decided next is what is done.
    desk.keys("<BS>");
    desk.says("Taken back. First put servo 07 back in: its marks count again.");
    assert_eq!((built_in(&desk, "20"), built_in(&desk, "07")), (1, 1));
    desk.keys("<Enter>");
    assert_eq!(built_in(&desk, "20"), 2);
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Home");
    for number in ["21", "14", "21"] {
        desk.keys("<F2>");
        for _ in 0..12 {
            desk.keys("j");
        }
        desk.keys("<Enter>");
        assert_eq!(desk.row(0), "Replace");
        desk.input(Input::ByHand(Ok(Some("spares: 14 21 33".into()))));
        let before = (built_in(&desk, number), built_in(&desk, "20"));
        desk.keys(
            &number
                .chars()
                .map(|it| format!("{it} "))
                .collect::<String>(),
        );
        desk.keys("<Enter> <Enter>");
        assert_eq!(built_in(&desk, number), before.0 + 1);
        desk.keys("<BS>");
        desk.says("Taken back. First put servo 20 back in: its marks count again.");
        assert_eq!(built_in(&desk, "20"), before.1 + 1);
        desk.keys("<Esc> <Esc>");
        assert_eq!(desk.row(0), "Home");
    }
    // The replacement by servo 20 is the last thing that still counts: on Home it is asked first.
    let before = built_in(&desk, "07");
    desk.keys("<BS>");
    desk.says("Take back? ");
    assert!(
        desk.row(2)
            .contains("First put servo 07 back in: its marks count again"),
        "{}",
        desk.row(2)
    );
    assert_eq!(built_in(&desk, "07"), before);
    desk.keys("<Enter>");
    assert_eq!(built_in(&desk, "07"), before + 1);
}

#[test]
fn what_hands_could_not_do_keeps_space_in_sight_and_names_the_key_that_puts_it_away() {
    let mut desk = on_page("One servo", 5);
    desk.input(Input::ByHand(Err("no spare has the number 01".into())));
    desk.says("By hand: no spare has the number 01");
    let screen = desk.screen();
    assert!(
        screen.notice.second.contains("Enter puts this away")
            && screen.notice.second.contains("Space stops")
    );
    let foot: Vec<_> = screen
        .foot
        .iter()
        .map(|it| (it.keys.as_str(), it.text.as_str()))
        .collect();
    assert_eq!(foot[0], ("Enter", "put it away"));
    assert!(!foot.iter().any(|(keys, _)| *keys == "Esc"), "{foot:?}");
    assert!(
        foot.iter().filter(|(keys, _)| *keys == "Enter").count() == 1,
        "{foot:?}"
    );
    desk.keys("<Enter>");
    assert_eq!(desk.state.front(), Front::Page);
    desk.says("Write a number on a sticker");
    assert_eq!(offered(&desk), "01", "nothing was answered by it");
}

#[test]
fn a_dead_servo_is_said_not_to_have_moved() {
    let mut desk = on_page("One servo", 5);
    desk.keys("2 1 <Enter> <Enter>");
    desk.settled();
    desk.says("Did it turn, and does it stand still and quiet?");
    desk.input(Input::Sight(Sight {
        on_test_pin: Some(SeenServo {
            number: "21".into(),
            pin: pin(2),
            horn_deg: 3.0,
            servo: SeenMotion {
                slack: true,
                ..SeenMotion::default()
            },
        }),
        ..Sight::default()
    }));
    assert_eq!(
        desk.screen().title.simulated.as_deref(),
        Some("servo 21 slack, did not move, cool")
    );
}

#[test]
fn the_supply_s_own_display_is_what_is_seen_on_its_page() {
    let mut desk = on_page("Supply", 4);
    desk.input(Input::Sight(Sight {
        supply_v: 5.19,
        supply_a: 0.12,
        ..Sight::default()
    }));
    assert_eq!(
        desk.screen().title.simulated.as_deref(),
        Some("display 5.19 V, 0.1 A")
    );
}

#[test]
fn after_a_thaw_the_line_is_no_longer_about_the_freeze() {
    let mut desk = on_page("One servo", 5);
    desk.keys("2 1 <Enter> <Enter>");
    desk.settled();
    desk.keys("p");
    desk.wait(SECOND);
    desk.keys("<Enter>");
    desk.wait(SECOND);
    assert!(desk.state.bench.frozen.is_none());
    desk.says("Thawed. Enter takes this step up again.");
    assert!(!desk.log.contains(&Effect::Quit));
}

#[test]
fn home_goes_back_into_plugs_that_were_left_and_says_how_many_joints_have_none() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> <Enter>");
    for keys in ["e u k", "e i k", "e o j", "d u k"] {
        desk.settled();
        desk.keys(&format!("{keys} <Enter>"));
    }
    desk.settled();
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.says("Enter: go on with the plugs, 14 joints have none yet.");
    desk.keys("<Enter>");
    desk.says("Enter: nudge pin 26");
}

#[test]
fn a_practice_robot_that_is_switched_on_says_that_the_work_of_hands_in_the_logbook_is_not_done_to_it()
 {
    let joint = JointName::new("LF", JointKind::Femur);
    let horn = |turn_teeth| What::Horn {
        joint: joint.clone(),
        teeth: 25,
        arms: 1,
        came_out_deg: 3.0,
        turn_teeth,
        arm: 0,
        margin_deg: 20.0,
        margins_deg: None,
    };
    let replaced = What::ServoReplaced {
        joint: joint.clone(),
        servo: "21".into(),
    };
    let exchanged = What::PlugsExchanged {
        pins: (Copper(pin(22)), Copper(pin(23))),
    };
    for (what, by_hand) in [
        (horn(0), false),
        (horn(2), true),
        (replaced, true),
        (exchanged, true),
    ] {
        let mut desk = Desk::supplied();
        let next = desk.row(1);
        let write = |desk: &mut Desk, what: &What| {
            let (book, _) = desk.state.work.book_and_file_mut();
            let whats = std::slice::from_ref(what);
            book.append(whats, "2026-03-14T10:22:05Z")
                .expect("a good one");
        };
        let found = |desk: &mut Desk| {
            desk.event(Event::Found {
                hello: hello(2),
                rate: 250_000,
            });
        };
        write(&mut desk, &what);
        found(&mut desk);
        let as_new = desk
            .row(1)
            .starts_with("The practice robot is as new: what hands did");
        assert_eq!(as_new, by_hand, "{what:?}");
        if by_hand {
            desk.keys("<Enter>");
        }
        assert_eq!(desk.row(1), next, "it is said once");
        // Taken back, it does not count; and hands did it to a real robot.
        let entry = desk.state.work.entries().last().expect("it").n;
        let practice = desk
            .state
            .bench
            .place
            .replace(Place::Port("/dev/ttyUSB0".into()));
        found(&mut desk);
        assert_eq!(desk.state.troubles, []);
        desk.keys("<Enter>");
        desk.state.bench.place = practice;
        write(&mut desk, &What::Undo { entry });
        found(&mut desk);
        assert_eq!(desk.row(1), next);
    }
}
