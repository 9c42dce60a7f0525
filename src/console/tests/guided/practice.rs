//! What a person sees and does beside the practice robot, while a page of guided work asks.

use super::super::pin;
use super::{Desk, SECOND};
use crate::board::sight::{SeenMotion, SeenServo, Sight};
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
