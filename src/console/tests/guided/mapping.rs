//! Supply and plugs by keys.

use super::super::pin;
use super::{Desk, SECOND};
use crate::board::Request;
use crate::calibration::logbook::Dead;
use crate::console::effect::{ByHand, Effect};
use crate::console::view::Page;
use crate::units::Pin;

#[test]
fn the_supply_comes_first_and_moves_nothing() {
    let desk = Desk::supplied();
    let supply = desk.state.work.known().supply.expect("written down");
    assert_eq!(
        (supply.volts, supply.limit_amps, supply.stall_amps),
        (6.0, 10.0, Some(2.5))
    );
    assert!(!desk.moved());
}

#[test]
fn plugs_by_keys_give_map_and_direction_and_each_pin_is_nudged_once_and_limp_again() {
    let mut desk = Desk::supplied();
    desk.plugs();
    let known = desk.state.work.known();
    assert_eq!(known.plugs.len(), 18);
    for joint in &known.joints {
        assert_eq!(joint.found_pin, joint.planned_pin, "{}", joint.name);
        assert!(joint.way.is_some(), "{}", joint.name);
    }
    let asked = desk.asked();
    let of = |text: &str| asked.iter().filter(|it| it.contains(text)).count();
    assert_eq!((of("wake "), of(":1540"), of(":1500")), (18, 18, 18));
    assert!(desk.pulses.is_empty());
    // One bell a pin: when it has come back and an answer is awaited.
    assert_eq!(desk.rung(), 18);
}

#[test]
fn plugs_keys_are_places_on_the_picture_as_it_is_turned() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> T T <Enter>");
    desk.settled();
    // Turned by half, front is down: the upper left key is the right rear leg.
    desk.keys("e u");
    let page = |desk: &Desk| match desk.screen().page {
        Page::Plugs(plugs) => *plugs,
        other => panic!("not Plugs: {other:?}"),
    };
    assert_eq!(page(&desk).drives, "RR coxa");
    assert!(desk.screen().title.subject.ends_with("front is down"));
    // A right leg's foot that went up on this picture went to the robot's rear: clockwise.
    desk.keys("<Up>");
    assert_eq!(page(&desk).way, "back  ↑");
    desk.keys("c i <Down>");
    assert_eq!(
        (page(&desk).drives.as_str(), page(&desk).way.as_str()),
        ("RF femur", "down  ↓")
    );
}

#[test]
fn a_dead_pin_and_two_that_moved_together_are_named() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.keys("n");
    desk.settled();
    desk.says("Look at the plug on pin 22: why did nothing move?");
    desk.keys("<Up> <Enter>");
    desk.settled();
    desk.keys("e i k + u <Enter>");
    desk.settled();
    let known = desk.state.work.known();
    assert_eq!(known.plugs[&pin(22)].joint, None);
    assert_eq!(known.plugs[&pin(22)].why, Some(Dead::WireOrServo));
    assert_eq!(known.plugs[&pin(23)].also.len(), 1);
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    let Page::Home(home) = desk.screen().page else {
        panic!("Home");
    };
    assert_eq!(home.matrix.rows[0].cells[0].text, "dead ×");
    assert!(
        home.notes.iter().any(|it| it == "× pin 22: nothing moved"),
        "{:?}",
        home.notes
    );
}

#[test]
fn digits_only_type_values_and_a_wrong_value_is_said() {
    let mut desk = Desk::new();
    desk.open();
    desk.keys("<Enter> <Enter> <Enter> 1 2 <Enter> <Enter> <Enter>");
    desk.says("Type what the servo supply is set to");
    desk.keys("9 9 9 <Enter>");
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    let field = page.field.expect("a field");
    assert_eq!(
        (field.text.as_str(), field.error.as_deref()),
        ("999", Some("0 to 30"))
    );
    // Esc leaves the field, not the page; a second one leaves.
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Supply");
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    assert!(desk.state.work.known().supply.is_none());
    // It was left after three answers: it goes on at the fourth question.
    desk.keys("<Enter>");
    desk.says("Type what the servo supply is set to");
}

#[test]
fn rubbing_out_one_character_too_many_goes_back_to_no_step_and_after_esc_backspace_does() {
    let mut desk = Desk::new();
    desk.open();
    desk.keys("<Enter> <Enter> <Enter> <Enter> <Enter> <Enter>");
    desk.says("Type what the servo supply is set to");
    desk.keys("5 , 5 <BS> <BS> <BS> <BS> <BS>");
    desk.says("Type what the servo supply is set to");
    let before = desk.step();
    desk.keys("<Esc> <BS>");
    assert_ne!(desk.step(), before, "the former question");
    // A number that is offered is rubbed out as one that was typed.
    let mut desk = Desk::supplied();
    desk.keys("<F2> j j j j j <Enter>");
    assert_eq!(desk.row(0), "One servo");
    let before = desk.step();
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    assert!(!page.field.expect("a field").text.is_empty(), "offered");
    desk.keys("<BS> <BS> <BS>");
    assert_eq!(desk.step(), before);
    assert!(!desk.moved());
}

#[test]
fn pins_that_no_plan_names_are_gone_on_with_when_plugs_was_left() {
    let mut desk = Desk::without_a_plan(1);
    desk.keys("<Enter>");
    desk.says("Type the first pin to try, then Enter.");
    desk.keys("3 0 <Enter> <Enter> <Enter>");
    desk.settled();
    let Page::Plugs(page) = desk.screen().page else {
        panic!("Plugs");
    };
    assert!(page.rows.iter().all(|row| row.planned.is_empty()));
    desk.keys("u h <Enter>");
    desk.settled();
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.keys("<Enter>");
    desk.says("Enter: nudge pin 31");
    desk.keys("<Enter>");
    for (joint, way) in [("i", "k"), ("o", "k")] {
        desk.settled();
        desk.keys(&format!("{joint} {way} <Enter>"));
    }
    desk.says("Enter: every joint was found; this wiring becomes the plan.");
}

#[test]
fn a_new_robots_file_without_any_pin_is_led_through_plugs_and_gets_its_map() {
    let mut desk = Desk::without_a_plan(1);
    desk.says("Enter: find which plug drives which joint");
    desk.keys("<Enter>");
    desk.says("Type the first pin to try, then Enter.");
    let Page::Guided(page) = desk.screen().page else {
        panic!("a field");
    };
    assert_eq!(page.field.expect("a field").text, "22");
    desk.keys("3 0 <Enter> <Enter>");
    desk.says("Enter: nudge pin 30");
    assert!(!desk.moved());
    desk.keys("<Enter>");
    // Its one leg points forward: a coxa's foot goes to the left.
    for (joint, way) in [("u", "h"), ("i", "k"), ("o", "k")] {
        desk.settled();
        desk.keys(&format!("{joint} {way} <Enter>"));
    }
    desk.says("Enter: every joint was found; this wiring becomes the plan.");
    desk.keys("<Enter>");
    desk.says("Enter leaves: the wiring is written down.");
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Home");
    let text = desk.state.work.book_and_file_mut().1.text();
    for number in 30..=32 {
        assert!(text.contains(&format!("pin = {number}")), "{text}");
    }
}

#[test]
fn plugs_that_were_exchanged_are_put_back_when_that_is_taken_back() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> <Enter>");
    for leg in ["e", "d", "c", "r", "f", "v"] {
        // The first two of LF the wrong way round.
        let order = match leg {
            "e" => ["i", "u", "o"],
            _ => ["u", "i", "o"],
        };
        for joint in order {
            desk.settled();
            desk.keys(&format!("{leg} {joint} k <Enter>"));
        }
    }
    desk.settled();
    desk.says("One exchange makes the plan. Choose, then Enter.");
    let exchanged = |desk: &Desk| {
        let by_hand = |it: &&Effect| matches!(it, Effect::ByHand(ByHand::SwapPlugs(..)));
        desk.log.iter().filter(by_hand).count()
    };
    desk.keys("<Enter>");
    desk.says("Exchange the plugs in 22 and 23");
    assert_eq!(exchanged(&desk), 0);
    desk.keys("<Enter>");
    assert_eq!(exchanged(&desk), 1);
    desk.keys("<BS>");
    desk.says("Taken back. First put plugs 22 and 23 back as they were.");
    assert_eq!(exchanged(&desk), 2, "back as they were");
    desk.keys("<Enter> <Enter>");
    assert_eq!(exchanged(&desk), 3);
    // On Home it is said first, and not while hands would meet a joint that is awake.
    desk.settled();
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.pulses.insert(pin(22), crate::units::Pulse::CENTRE);
    desk.wait(SECOND);
    desk.keys("<BS>");
    desk.says("Not taken back: hands must put something back, and a servo is awake.");
    desk.keys("<Space> <BS>");
    desk.says("Take back? ");
    assert!(
        desk.row(2).contains("plugs 22 and 23 back as they were"),
        "{}",
        desk.row(2)
    );
    assert_eq!(exchanged(&desk), 3, "asked first");
    desk.log.clear();
    desk.keys("<Enter>");
    desk.says("Taken back: ");
    assert_eq!(exchanged(&desk), 1);
    // The board keeps guards by pins: those of both joints are told anew.
    let told: Vec<Pin> = desk
        .log
        .iter()
        .filter_map(|it| match it {
            Effect::Ask(_, Request::Guard { pin, .. }) => Some(*pin),
            _ => None,
        })
        .collect();
    assert!(
        told.contains(&pin(22)) && told.contains(&pin(23)),
        "{told:?}"
    );
}

#[test]
fn home_names_one_servo_as_long_as_nothing_was_tried() {
    let mut desk = Desk::supplied();
    let servos_first = "Not built in yet? F2 One servo tries each.";
    assert!(desk.row(2).contains(servos_first), "{}", desk.row(2));
    // A plug was looked for: the robot is built.
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.keys("n j j j <Enter>");
    desk.settled();
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    desk.says("Enter: go on with the plugs");
    assert!(!desk.row(2).contains(servos_first), "{}", desk.row(2));
}
