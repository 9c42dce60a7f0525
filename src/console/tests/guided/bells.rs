//! The bell of guided work: one when what moved has settled and an answer is awaited, none before that and none otherwise.

use std::time::Duration;

use super::joints::measured;
use super::{Desk, pecking};
use crate::procedure::Wants;

impl Desk {
    /// How often it rang from these keys until the step wants an answer; not while that is waited for.
    #[track_caller]
    fn rings(&mut self, keys: &str) -> usize {
        let before = self.rung();
        self.keys(keys);
        for _ in 0..400 {
            if self.step().wants != Wants::Wait && self.state.layers.is_empty() {
                return self.rung() - before;
            }
            assert_eq!(self.rung(), before, "{keys}: it has not settled yet");
            self.wait(Duration::from_millis(50));
        }
        panic!("{keys}: it never settles: {:?}", self.step());
    }

    fn asks_whether_it_was_free(&self) -> bool {
        matches!(self.step().wants, Wants::FreeOrEnd { .. })
    }

    /// Opens the work in this row of the list of pages for the chosen joint.
    fn open_in_list(&mut self, row: usize, page: &str) {
        self.keys(&format!("<F2> {}<Enter> <Enter>", "j ".repeat(row)));
        assert_eq!(self.row(0), page);
    }
}

#[test]
fn rough_bounds_ring_once_a_peck_and_not_between_the_sides() {
    let mut desk = Desk::found_plugs();
    desk.keys("i <Enter>");
    assert_eq!(desk.row(0), "Rough bounds");
    let mut pecks = 0;
    for _ in 0..2 {
        assert_eq!(desk.rings("<Enter>"), 1);
        while desk.asks_whether_it_was_free() {
            pecks += 1;
            let rang = desk.rings("n");
            assert_eq!(rang, usize::from(desk.asks_whether_it_was_free()));
        }
    }
    let asked = desk.asked();
    let pecked = asked.iter().filter(|it| it.starts_with("peck")).count();
    assert!(pecked > 2);
    assert_eq!(pecked, pecks);
}

#[test]
fn marks_ring_once_an_angle_and_not_on_the_way_back() {
    let mut desk = Desk::bounded();
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Marks");
    assert_eq!(desk.rings("<Enter>"), 1, "awake, and asks for the tool");
    assert_eq!(desk.rings("j <Enter>"), 0, "nothing moves for the gauge");
    assert_eq!(desk.rings("<Enter>"), 1);
    for angle in ["2 0", "1 0", "0"] {
        assert!(matches!(desk.step().wants, Wants::Value { .. }));
        assert_eq!(desk.rings(&format!("{angle} <Enter>")), 1, "{angle}");
    }
    desk.keys("<Esc>");
    assert_eq!(desk.rung(), 5);
}

#[test]
fn ends_ring_once_a_peck_and_not_for_what_was_met() {
    let mut desk = pecking();
    for _ in 0..3 {
        assert_eq!(desk.rings("n"), 1);
        assert!(desk.asks_whether_it_was_free());
    }
    assert_eq!(desk.rings("E"), 0);
    desk.says("Choose what it met, then Enter.");
}

#[test]
fn a_check_rings_once_a_joint_and_for_a_second_reading_not_on_the_way_back() {
    let mut desk = measured();
    desk.keys("i");
    desk.open_in_list(11, "Check");
    assert_eq!(desk.rings("<Enter>"), 1);
    desk.says("Hold the gauge to LF femur, type its angle, then Enter.");
    assert_eq!(desk.rings("4 0 <Enter>"), 1, "far off: it is read again");
    assert_eq!(desk.step().big, "READ IT AGAIN");
    assert_eq!(desk.rings("4 0 <Enter>"), 0);
}

#[test]
fn horns_ring_once_when_the_servo_stands_at_its_middle() {
    let mut desk = Desk::found_plugs();
    desk.keys("i");
    desk.open_in_list(6, "Horns");
    let mut rang = 0;
    for _ in 0..8 {
        rang += match desk.step().wants {
            Wants::Text { .. } => desk.rings("0 7 <Enter>"),
            Wants::Value {
                unit: "°",
                start: None,
                ..
            } => break,
            _ => desk.rings("<Enter>"),
        };
    }
    assert!(!desk.pulses.is_empty(), "it stands and is to be read");
    assert_eq!(rang, 1);
    // It is read twice, and does not move for it.
    assert_eq!(desk.rings("2 5 <Enter>"), 0);
    assert_eq!(desk.rings("2 5 <Enter>"), 0);
    assert!(desk.pulses.is_empty());
}
