//! Leaving: awake pins are asked about, then unsaved work, never together.

use std::time::Duration;

use super::Desk;
use crate::console::effect::{Effect, FileSaid, Input};

impl Desk {
    fn has_quit(&self) -> bool {
        self.log.contains(&Effect::Quit)
    }
}

#[test]
fn with_nothing_awake_and_nothing_new_q_quits() {
    let mut desk = Desk::on_jog();
    desk.keys("q");
    assert!(desk.has_quit());
    let mut desk = Desk::new();
    desk.keys("q");
    assert!(desk.has_quit());
}

#[test]
fn awake_pins_are_asked_about_and_esc_stays() {
    let mut desk = Desk::awake();
    desk.keys("q");
    desk.says("1 awake. Enter: limp, quit. Esc: stay.");
    desk.keys("<Esc>");
    assert!(!desk.has_quit() && desk.pulses.len() == 1);
    desk.keys("q <Enter>");
    desk.wait(Duration::from_millis(100));
    assert!(desk.has_quit() && desk.pulses.is_empty());
}

#[test]
fn unsaved_work_is_asked_next_and_never_together() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> q");
    desk.says("1 awake.");
    desk.keys("<Enter>");
    desk.wait(Duration::from_millis(100));
    desk.says("1 thing is not saved.");
    assert!(!desk.has_quit());
    desk.keys("<Esc>");
    desk.wait(Duration::from_secs(1));
    assert!(!desk.has_quit(), "Esc stays");
    desk.keys("q n");
    assert!(desk.has_quit());
}

#[test]
fn save_and_quit_asks_for_the_name_and_leaves_when_it_is_saved() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> z q <Enter> <Enter>");
    assert!(matches!(desk.log.last(), Some(Effect::SaveAs(_))));
    assert!(!desk.has_quit());
    desk.input(Input::File(FileSaid::Saved(
        "calibrations/my-marram.toml".into(),
    )));
    assert!(desk.has_quit());
}

#[test]
fn a_save_that_failed_does_not_quit() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> z q <Enter> <Enter>");
    desk.input(Input::File(FileSaid::Failed("cannot save x".into())));
    desk.wait(Duration::from_secs(1));
    assert!(!desk.has_quit());
}

#[test]
fn on_the_ground_it_sits_down_before_it_goes_limp() {
    let mut desk = Desk::on_the_ground();
    // 10 µs a degree, and the leg stands below its femur axis.
    desk.keys("m <Enter> = 1 5 4 0 <Enter> m 4 <Enter> = 1 4 5 0 <Enter> q");
    desk.says("1 awake. Enter: sit down, limp, quit. Esc: stay.");
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(desk.asked(), ["go 4000 23:1600"]);
    desk.wait(Duration::from_millis(4000));
    assert!(!desk.asked().contains(&"STOP limp".to_owned()));
    desk.wait(Duration::from_millis(500));
    assert_eq!(desk.asked().last().map(String::as_str), Some("STOP limp"));
    desk.says("2 things are not saved.");
}

#[test]
fn on_the_ground_without_a_calibration_it_says_that_it_will_fall() {
    let mut desk = Desk::on_the_ground();
    desk.keys("q");
    assert!(desk.row(2).contains("limp lets it fall"), "{}", desk.row(2));
}

#[test]
fn q_types_in_a_name_and_quits_from_help() {
    let mut desk = Desk::on_jog();
    desk.keys("m");
    desk.keys("s q");
    assert!(!desk.has_quit());
    desk.keys("<Esc> ? q");
    assert!(desk.has_quit());
}
