//! A bench with someone who talks to the board, for the tests of the whole practice robot.

use super::{Settings, World};
use crate::board::codec::emit;
use crate::board::sight::{SeenJoint, Sight};

/// A robot, its wire, and what was heard.
pub(super) struct Bench {
    pub world: World,
    tag: u16,
    pub heard: String,
}

impl Bench {
    pub(super) fn new(settings: Settings) -> Bench {
        let mut bench = Bench {
            world: World::new(settings),
            tag: 0,
            heard: String::new(),
        };
        bench.pass(50);
        bench
    }

    /// Time passes, and nobody feeds the board.
    pub(super) fn pass(&mut self, ms: u32) {
        self.world.run(ms);
        let bytes = self.world.take(usize::MAX);
        self.heard.push_str(&String::from_utf8_lossy(&bytes));
    }

    /// A line goes out with a tag and a check.
    pub(super) fn say(&mut self, words: &str) {
        self.tag += 1;
        self.world
            .send(&emit(Some(self.tag), words).expect("short"));
    }

    /// The same, and it is done.
    pub(super) fn change(&mut self, words: &str) {
        self.say(words);
        self.pass(20);
        let done = format!("{} done", self.tag);
        assert!(self.heard.contains(&done), "{words}: {}", self.heard);
    }

    /// Time passes, and the board is fed.
    pub(super) fn feed(&mut self, ms: u32) {
        for _ in 0..ms / 100 {
            self.change("beat");
            self.pass(80);
        }
    }

    /// A pin wakes with all of its travel allowed.
    pub(super) fn wake(&mut self, pin: u8, us: u32) {
        self.change(&format!("guard {pin} 500 2500"));
        self.change(&format!("wake {pin} {us}"));
        self.feed(600);
    }

    /// A pin goes somewhere and comes to rest.
    pub(super) fn go(&mut self, pin: u8, us: u32) {
        self.change(&format!("go 0 {pin}:{us}"));
        self.feed(2500);
    }

    pub(super) fn all_awake(settings: Settings) -> Bench {
        let mut bench = Bench::new(settings);
        bench.change("slew all 100000");
        for pin in 22..40 {
            bench.wake(pin, 1500);
        }
        bench
    }

    pub(super) fn look(&self) -> Sight {
        self.world.sight().look()
    }

    pub(super) fn joint(&self, leg: &str, joint: &str) -> SeenJoint {
        let seen = self.look().joints;
        seen.into_iter()
            .find(|j| j.leg == leg && j.joint == joint)
            .expect("the robot has it")
    }

    /// Joints that have moved since this moment of the robot's time.
    pub(super) fn moved_since(&self, seconds: f64) -> Vec<String> {
        self.look()
            .joints
            .iter()
            .filter(|j| j.servo.swung_at.is_some_and(|at| at > seconds))
            .map(|j| format!("{} {}", j.leg, j.joint))
            .collect()
    }
}
