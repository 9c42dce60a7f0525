//! Waking many by the plan.

use super::{Desk, SECOND};
use crate::board::Event;
use crate::console::view::Page;

#[test]
fn after_a_brown_out_many_wake_by_the_plan_one_for_each_enter_and_the_sum_is_shown_first() {
    let mut desk = Desk::supplied();
    // Six joints were awake, woken leg by leg.
    for leg in ["e", "d"] {
        desk.keys(&format!("{leg} W"));
        desk.wait(6 * SECOND);
    }
    assert_eq!(desk.pulses.len(), 6);
    desk.pulses.clear();
    desk.event(Event::Reset {
        cause: crate::board::ResetCause::Brownout,
        hello: super::super::hello(2),
    });
    desk.event(Event::Restored { guards: Vec::new() });
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Waking");
    desk.says("Enter: wake 6 servos, one for each Enter.");
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    // 6 · 2.5 A, by hand.
    assert!(
        page.lines.iter().any(|it| it == "all 6 stalled 15.0 A"),
        "{:?}",
        page.lines
    );
    assert!(!desk.moved());
    desk.keys("<Enter>");
    desk.settled();
    assert_eq!(desk.pulses.len(), 1);
    for _ in 0..5 {
        desk.keys("<Enter>");
        desk.settled();
    }
    desk.says("Enter leaves: all of them are awake and stay so.");
    desk.keys("<Enter>");
    assert_eq!((desk.row(0).as_str(), desk.pulses.len()), ("Home", 6));
    // Coxas lift nothing and come first, femurs last.
    let woken: Vec<String> = desk
        .asked()
        .into_iter()
        .filter(|it| it.starts_with("wake"))
        .collect();
    let pins: Vec<&str> = woken.iter().map(|it| &it[5..7]).collect();
    assert_eq!(pins, ["22", "25", "24", "27", "23", "26"]);
}

#[test]
fn a_robot_is_woken_by_the_plan_and_stays_awake_when_the_page_is_left() {
    let mut desk = Desk::supplied();
    desk.keys("<F2>");
    for _ in 0..20 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    desk.says("Enter opens Waking for LF, the leg.");
    desk.keys("j");
    desk.says("Enter opens Waking for the whole robot, leg by leg.");
    desk.keys("<Enter>");
    desk.says("Enter: wake 18 servos, one after the other.");
    desk.keys("<Enter>");
    desk.says("Hands away.");
    desk.settled();
    desk.keys("<Enter>");
    assert_eq!((desk.row(0).as_str(), desk.pulses.len()), ("Home", 18));
}

#[test]
fn before_more_than_a_few_are_awake_every_way_of_waking_shows_the_sum() {
    let mut desk = Desk::supplied();
    let said = |desk: &Desk| match desk.screen().overlay {
        Some(crate::console::view::Overlay::Dialog(dialog)) => dialog.lines.join(" | "),
        other => panic!("a dialog: {other:?}"),
    };
    desk.keys("e W");
    assert!(!said(&desk).contains("stalled"), "three are a few");
    desk.wait(6 * SECOND);
    desk.keys("d W");
    // 6 · 2.5 A against 10 A, by hand.
    assert!(
        said(&desk).contains("all 6 stalled 15.0 A"),
        "{}",
        said(&desk)
    );
    assert!(
        said(&desk).contains("! more than the limit"),
        "{}",
        said(&desk)
    );
    desk.keys("<Esc> c u w");
    assert!(
        said(&desk).contains("all 4 stalled 10.0 A"),
        "{}",
        said(&desk)
    );
    assert_eq!(desk.pulses.len(), 3);
}

impl Desk {
    /// The supply dipped, the board is back with its guards, and the builder put the line away.
    fn after_a_brown_out(mut self) -> Desk {
        self.event(Event::Reset {
            cause: crate::board::ResetCause::Brownout,
            hello: super::super::hello(2),
        });
        self.event(Event::Restored { guards: Vec::new() });
        self.keys("<Esc>");
        self.pulses.clear();
        self.log.clear();
        self
    }

    fn woken(&self) -> Vec<String> {
        let asked = self.asked().into_iter();
        asked.filter(|it| it.starts_with("wake")).collect()
    }
}

#[test]
fn after_a_brown_out_a_leg_wakes_one_for_each_enter_on_every_page_that_wakes_it() {
    let mut desk = Desk::supplied().after_a_brown_out();
    desk.keys("<F2> j <Enter>");
    assert_eq!(desk.row(0), "Jog");
    desk.keys("e W");
    assert_eq!(desk.row(0), "Waking");
    desk.says("Enter: wake 3 servos, one for each Enter.");
    desk.keys("<Enter>");
    desk.settled();
    desk.wait(6 * SECOND);
    assert_eq!(desk.woken().len(), 1);
    desk.says("Enter: wake LF tibia at 1500 µs; 1 of 3 are awake.");
    for _ in 0..2 {
        desk.keys("<Enter>");
        desk.settled();
    }
    desk.keys("<Enter>");
    assert_eq!((desk.row(0).as_str(), desk.pulses.len()), ("Jog", 3));
    // The page Waking itself.
    desk.keys("Z <F2>");
    for _ in 0..19 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    desk.says("Enter opens Waking for LF, the leg.");
    desk.keys("<Enter>");
    desk.says("Enter: wake 3 servos, one for each Enter.");
}

#[test]
fn after_a_brown_out_foot_and_body_wake_by_the_plan_too_and_come_back_to_their_page() {
    for (page, servos) in [("Foot", 3), ("Body", 18)] {
        let mut desk = super::super::foot::desk_of(crate::calibration::MARRAM).after_a_brown_out();
        let down = if page == "Foot" { "j j" } else { "j j j" };
        desk.keys(&format!("<F2> {down} <Enter>"));
        assert_eq!(desk.row(0), format!("{page} jog"));
        desk.keys("<Enter>");
        desk.says(&format!("Enter: wake {servos} servos, one for each Enter."));
        desk.keys("<Esc>");
        assert_eq!(desk.row(0), format!("{page} jog"));
        assert!(desk.woken().is_empty());
    }
}

#[test]
fn the_waking_is_no_longer_eased_once_the_supply_is_written_down_anew() {
    let mut desk = Desk::supplied().after_a_brown_out();
    desk.keys("e W");
    assert_eq!(desk.row(0), "Waking");
    desk.keys("<Esc> <F2>");
    for _ in 0..4 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    desk.says("Is the supply still so?");
    desk.keys("n <Enter> <Enter> <Enter>");
    desk.says("Type what the servo supply is set to");
    desk.keys("6 <Enter> 1 0 <Enter> 2 . 5 <Enter> n n <Enter> <Enter>");
    assert_eq!(desk.row(0), "Home");
    desk.keys("e W");
    desk.says("Hands away. LF wakes in 3 s, one joint at a time.");
}

#[test]
fn a_leg_wakes_one_for_each_enter_where_the_limit_lets_only_two_start() {
    let mut desk = Desk::on_supply("5 . 1");
    desk.keys("e W");
    // 2 · 2.5 A and one at rest with 0.01 A, by hand.
    desk.says("Enter: wake 3 servos, one for each Enter.");
    let mut desk = Desk::on_supply("1 0");
    desk.keys("e W");
    desk.says("Hands away. LF wakes in 3 s, one joint at a time.");
}
