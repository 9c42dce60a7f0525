//! Guided work by keys, from Home to limits: what the tests of one kind of work need in common.

mod bells;
mod big;
mod ends;
pub mod joints;
mod mapping;
mod practice;
mod stops;
mod waking;

use std::time::Duration;

use super::Desk;
use crate::console::effect::Effect;
use crate::procedure::Wants;

const SECOND: Duration = Duration::from_secs(1);

impl Desk {
    /// A new robot's file, without any pin, with its supply written down.
    pub fn without_a_plan(legs: usize) -> Desk {
        let blank = crate::calibration::blank::Blank {
            name: "Dune".into(),
            legs,
            links_mm: [31.0, 67.0, 104.0],
        };
        let text = blank.text().expect("legs");
        let file = crate::calibration::file::from_text(&text).expect("it reads");
        let work = crate::console::work::Work::new(file, "".into(), "2026-03-14T10:00:00Z");
        let mut desk = Desk::with(work.expect("work"));
        desk.open();
        desk.keys("<Enter> <Enter> <Enter> <Enter> <Enter> <Enter>");
        desk.keys("6 <Enter> 1 0 <Enter> n n n <Enter> <Enter>");
        assert_eq!(desk.row(0), "Home");
        desk.log.clear();
        desk
    }

    /// On Home, on the stand, the supply written down.
    pub fn supplied() -> Desk {
        Desk::on_supply("1 0")
    }

    /// The same, with these keys for its limit in A.
    fn on_supply(limit: &str) -> Desk {
        let mut desk = Desk::new();
        desk.open();
        desk.keys("<Enter> <Enter>");
        desk.says("Enter: write down the servo supply first.");
        desk.keys("<Enter> <Enter> <Enter> <Enter>");
        desk.says("Type what the servo supply is set to");
        desk.keys(&format!(
            "6 <Enter> {limit} <Enter> 2 . 5 <Enter> n n <Enter>"
        ));
        desk.says("Enter leaves: the supply is written down.");
        desk.keys("<Enter>");
        assert_eq!(desk.row(0), "Home");
        desk.log.clear();
        desk
    }

    pub fn step(&self) -> crate::procedure::Step {
        self.state.guided.as_ref().expect("guided work").step()
    }

    fn rung(&self) -> usize {
        let bells = self.log.iter();
        bells.filter(|it| matches!(it, Effect::Bell(1))).count()
    }

    /// Waits until the step wants an answer.
    fn settled(&mut self) {
        for _ in 0..400 {
            if self.step().wants != Wants::Wait && self.state.layers.is_empty() {
                return;
            }
            self.wait(Duration::from_millis(50));
        }
        panic!("it never settles: {:?}", self.step());
    }

    /// Answers plugs as they are planned, all with larger pulses upward or forward.
    fn plugs(&mut self) {
        self.says("Enter: find which plug drives which joint");
        self.keys("<Enter>");
        self.says("Enter: nudge pin 22");
        self.keys("<Enter>");
        self.says("Hands away. Pin 22 wakes at 1500 µs in 3 s.");
        for leg in ["e", "d", "c", "r", "f", "v"] {
            for (joint, way) in [("u", "k"), ("i", "k"), ("o", "j")] {
                self.settled();
                self.says("Which joint moved? Leg key, joint key, then an arrow");
                self.keys(&format!("{leg} {joint} {way} <Enter>"));
            }
        }
        self.says("Enter leaves: every plug that was tried drives its planned joint.");
        self.keys("<Enter>");
        assert_eq!(self.row(0), "Home");
    }

    pub fn found_plugs() -> Desk {
        let mut desk = Desk::supplied();
        desk.plugs();
        desk.says("Enter: see which tooth suits the horn of LF coxa.");
        desk.keys("<Enter>");
        desk.says("Choose whether the horns are still to go on, then Enter. It is asked once.");
        desk.keys("j <Enter>");
        desk.says("Enter leaves: the horns stay, rough bounds and marks go on.");
        desk.keys("<Enter>");
        assert_eq!(desk.row(0), "Home");
        desk.log.clear();
        desk
    }

    /// Bounds of the chosen joint, found free all the way.
    fn bounds(&mut self) {
        self.keys("<Enter>");
        assert_eq!(self.row(0), "Rough bounds");
        for _ in 0..2 {
            self.keys("<Enter>");
            for _ in 0..100 {
                self.settled();
                if !matches!(self.step().wants, Wants::FreeOrEnd { .. }) {
                    break;
                }
                self.keys("n");
            }
        }
        self.says("Enter leaves");
        self.keys("<Enter>");
        assert_eq!(self.row(0), "Home");
    }

    pub fn bounded() -> Desk {
        let mut desk = Desk::found_plugs();
        desk.keys("i");
        desk.bounds();
        desk.log.clear();
        desk
    }
}

/// On the first peck of the far end of LF femur.
fn pecking() -> Desk {
    let mut desk = Desk::bounded();
    desk.keys("<F2>");
    for _ in 0..10 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    desk.says("Enter opens Ends for LF femur, this joint.");
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.says("Did anything stop it? n no, free.");
    desk.log.clear();
    desk
}
