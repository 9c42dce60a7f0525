//! Space stops, in every size; and what it means. That it does so everywhere is in `everywhere`.

use std::time::Duration;

use super::{Desk, pin};
use crate::board::{Event, Stop};
use crate::console::effect::{Effect, Input};
use crate::console::keys::{Code, Key};
use crate::console::view::{Place, Whole};

/// Keys that lead to pages, layers, fields and questions from Jog with the femur awake; `everywhere` has the rest and counts all.
pub const EVERYWHERE: &[&str] = &[
    "",
    "<Esc>",
    "?",
    "? <Tab>",
    "<F2>",
    "=",
    "= 1 5 2",
    "= <F1>",
    "m",
    "m - 4 5",
    "E",
    "G",
    "B",
    "]",
    "s",
    "s b e n c h",
    "u w",
    "u w 1 4",
    "u W",
    "u W <F1>",
    "q",
    "q <F1>",
    "m <Enter> z q",
    "<Esc> <F2> <Up> <Up>",
    "T",
];

#[test]
fn space_stops_everywhere_and_in_every_size() {
    for keys in EVERYWHERE {
        for size in [(80, 24), (120, 36), (20, 5), (1, 1)] {
            let mut desk = Desk::awake();
            desk.keys(keys);
            desk.input(Input::Size(size.0, size.1));
            desk.log.clear();
            desk.keys("<Space>");
            assert_eq!(desk.asked(), ["STOP limp"], "after {keys:?} at {size:?}");
            assert!(desk.pulses.is_empty(), "after {keys:?}");
            assert_eq!(desk.screen().head.state, Whole::Limp, "after {keys:?}");
        }
    }
}

#[test]
fn space_is_the_first_thing_that_is_asked() {
    for keys in EVERYWHERE {
        let mut desk = Desk::awake();
        desk.keys(keys);
        desk.log.clear();
        desk.keys("<Space>");
        assert_eq!(
            desk.log.first(),
            Some(&Effect::Stop(Stop::Limp)),
            "after {keys:?}"
        );
    }
}

#[test]
fn no_field_takes_a_space() {
    let mut desk = Desk::awake();
    desk.keys("s <Space> x");
    desk.says("Enter saves as calibrations/my-marram.tomlx.toml");
}

#[test]
fn on_the_ground_space_freezes_and_a_second_one_lets_go() {
    let mut desk = Desk::on_the_ground();
    desk.log.clear();
    desk.keys("<Space>");
    assert_eq!(desk.asked(), ["STOP freeze"]);
    assert_eq!(desk.screen().head.place, Place::GroundAgain);
    assert_eq!(desk.screen().head.state, Whole::Frozen);
    desk.says("Frozen, because you pressed Space. Enter thaws.");
    desk.keys("<Space>");
    assert_eq!(desk.asked(), ["STOP freeze", "STOP limp"]);
    assert!(desk.pulses.is_empty());
}

#[test]
fn a_space_held_down_does_not_let_a_robot_fall_where_the_terminal_tells_repeats() {
    let mut desk = Desk::on_the_ground();
    desk.log.clear();
    desk.keys("<Space>");
    let held = Key {
        code: Code::Char(' '),
        repeat: true,
    };
    desk.input(Input::Key(held));
    assert_eq!(desk.asked(), ["STOP freeze", "STOP freeze"]);
}

#[test]
fn thawing_gives_space_its_first_meaning_back() {
    let mut desk = Desk::on_the_ground();
    desk.keys("<Space> <Enter>");
    assert_eq!(desk.screen().head.state, Whole::Awake(1));
    assert_eq!(desk.screen().head.place, Place::Ground);
    assert!(desk.asked().contains(&"thaw 1".to_owned()));
}

#[test]
fn before_it_was_said_where_it_stands_space_limps() {
    let mut desk = Desk::new();
    desk.open();
    assert_eq!(desk.screen().head.place, Place::Unsaid);
    desk.log.clear();
    desk.keys("<Space>");
    assert_eq!(desk.asked(), ["STOP limp"]);
}

#[test]
fn a_freeze_by_another_cause_needs_two_more_spaces_on_the_ground() {
    let mut desk = Desk::on_the_ground();
    desk.event(Event::Frozen {
        n: 3,
        by: crate::board::By::Silence,
    });
    assert_eq!(desk.screen().head.place, Place::Ground);
    desk.log.clear();
    desk.keys("<Space>");
    assert_eq!(desk.asked(), ["STOP freeze"]);
}

#[test]
fn no_key_moves_a_pin_while_frozen() {
    let every_key = "e r d f c v x b t g u i o h j k l <Left> <Right> <Up> <Down> , . = 1 5 3 0 <Enter> \
        w <Enter> W m <Enter> E <Enter> [ <Enter> ] <Enter> <Tab> T B p s a n + <BS> <F2> <Esc> <F1> <Esc> y";
    for key in every_key.split_whitespace() {
        let mut desk = Desk::awake();
        desk.keys("p");
        assert_eq!(desk.screen().head.state, Whole::Frozen);
        // Dismissed: now the page's own keys would have to refuse.
        desk.keys("<Esc>");
        desk.log.clear();
        desk.keys(key);
        // Enter on the page thaws, and thawing moves nothing.
        if key != "<Enter>" {
            desk.keys("1 5 1 0 <Enter>");
        }
        desk.frozen = false;
        assert!(!desk.moved(), "{key} moved a pin: {:?}", desk.asked());
    }
}

#[test]
fn space_ends_a_countdown_and_a_queue_of_wakes() {
    let mut desk = Desk::on_jog();
    desk.keys("W");
    desk.wait(Duration::from_millis(2900));
    desk.keys("<Space>");
    desk.wait(Duration::from_secs(5));
    assert!(desk.pulses.is_empty() && !desk.moved());
    desk.keys("W");
    desk.wait(Duration::from_millis(3100));
    assert_eq!(desk.pulses.len(), 1, "the first of three");
    desk.keys("<Space>");
    desk.wait(Duration::from_secs(5));
    assert!(desk.pulses.is_empty());
}

#[test]
fn control_c_stops_and_quits_and_control_z_stops_and_suspends() {
    for (keys, last) in [("<C-c>", Effect::Quit), ("<C-z>", Effect::Suspend)] {
        let mut desk = Desk::awake();
        desk.keys("m 4 5");
        desk.log.clear();
        desk.keys(keys);
        assert_eq!(desk.log, [Effect::Stop(Stop::Limp), last]);
    }
}

#[test]
fn a_pin_that_the_board_forgot_is_limp() {
    let mut desk = Desk::awake();
    desk.wait(Duration::from_millis(200));
    desk.pulses.remove(&pin(23));
    desk.wait(Duration::from_millis(200));
    assert_eq!(desk.screen().head.state, Whole::Limp);
}
