//! The bench: board, servos, supply and the person who looks, in virtual time.
//!
//! Time passes by [`World::step`] alone, one millisecond each; whoever owns it decides how fast.

use std::collections::VecDeque;

use super::firmware::{Firmware, Identity, SlotPulse};
use super::looks::Eyes;
use super::robot::{Joint, build};
use super::supply::{Rail, Supply};
use crate::board::ResetCause;
use crate::board::sight::{SightHandle, SightPainter};

/// The only rate that the board talks, in bits a second.
const BOARD_RATE: u32 = 250_000;
/// How often the person looks, in milliseconds.
const LOOK_MS: u32 = 20;
/// The person's own seed is the robot's unless somebody asks for another.
pub const DEFAULT_SEED: u64 = 7;

/// Which robot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settings {
    /// The same seed gives the same robot.
    pub seed: u64,
    /// A robot without any flaw.
    pub clean: bool,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            seed: DEFAULT_SEED,
            clean: false,
        }
    }
}

impl Settings {
    /// What to call this robot: `practice, seed 7`.
    pub fn name(&self) -> String {
        format!("practice, {}", self.which())
    }

    fn which(&self) -> String {
        if self.clean {
            format!("seed {}, clean", self.seed)
        } else {
            format!("seed {}", self.seed)
        }
    }
}

/// A whole practice robot on its bench.
pub struct World {
    firmware: Firmware,
    joints: Vec<Joint>,
    supply: Supply,
    rail: Rail,
    eyes: Eyes,
    painter: SightPainter,
    /// Bytes on the wire, not yet arrived.
    to_board: VecDeque<u8>,
    to_host: VecDeque<u8>,
    /// The rate that the host's side of the wire is set to.
    rate: u32,
    ms: u64,
}

impl World {
    /// A robot that was just switched on.
    pub fn new(settings: Settings) -> World {
        let joints = build(settings.seed, settings.clean);
        let supply = Supply {
            set_v: 5.2,
            ohms: if settings.clean { 0.0 } else { 0.04 },
            limit_a: if settings.clean { 40.0 } else { 8.0 },
        };
        let rail = supply.rail();
        let label = format!("simulated, {}", settings.which());
        let mut eyes = Eyes::new(label, settings.seed, settings.clean, &joints);
        let first = eyes.look(&joints, |_| false, (&supply, &rail), 0, 0);
        let mut firmware = Firmware::new(Identity {
            fw: env!("CARGO_PKG_VERSION").into(),
            board: "practice".into(),
            // Any number that follows from the seed and is not the seed itself.
            id: (settings.seed as u32).wrapping_mul(0x9E37_79B1) ^ 0x4D61_7272,
        });
        firmware.set_vcc(supply.logic_mv(&rail));
        World {
            firmware,
            joints,
            rail,
            supply,
            eyes,
            painter: SightPainter::new(first),
            to_board: VecDeque::new(),
            to_host: VecDeque::new(),
            rate: BOARD_RATE,
            ms: 0,
        }
    }

    /// What a person sees, now and later.
    pub fn sight(&self) -> SightHandle {
        self.painter.handle()
    }

    /// Milliseconds since the bench was switched on.
    pub fn ms(&self) -> u64 {
        self.ms
    }

    /// Puts bytes on the wire.
    pub fn send(&mut self, bytes: &[u8]) {
        self.to_board.extend(bytes);
    }

    /// Takes bytes that have arrived from the board, at most `most`.
    pub fn take(&mut self, most: usize) -> Vec<u8> {
        let count = self.to_host.len().min(most);
        self.to_host.drain(..count).collect()
    }

    /// Whether bytes have arrived that nobody took.
    pub fn has_bytes(&self) -> bool {
        !self.to_host.is_empty()
    }

    /// The host changes its rate: at any other than the board's own, nobody understands anybody.
    pub fn set_rate(&mut self, baud: u32) {
        self.rate = baud;
    }

    /// The pulses that the board makes now.
    pub fn pulses(&self) -> &[SlotPulse] {
        self.firmware.pulses()
    }

    /// The board's reset line: a button.
    pub fn press_reset(&mut self) {
        self.firmware.reset(ResetCause::External);
        self.to_host.clear();
    }

    /// One millisecond.
    pub fn step(&mut self) {
        self.ms += 1;
        let arrive = self.to_board.len().min(bytes_a_ms(self.rate));
        let arrived: Vec<u8> = self.to_board.drain(..arrive).collect();
        if self.rail.held_ms == 0 {
            self.run_board(&arrived);
        }
        let pulses = *self.firmware.pulses();
        let us = |joint: &Joint| {
            pulses
                .iter()
                .find(|pulse| pulse.pin == joint.pin.number() && pulse.ticks > 0)
                .map(|pulse| f64::from(pulse.ticks) / 2.0)
        };
        let volts = self.rail.volts;
        for joint in &mut self.joints {
            let pulse = us(joint);
            joint.step(pulse, volts, 0.001);
        }
        let amps = self.joints.iter().map(|joint| joint.shaft.amps).sum();
        if self.supply.step(&mut self.rail, amps) {
            self.firmware.reset(ResetCause::Brownout);
            self.eyes
                .note("the supply dipped, the board's light went out and on: it was reset");
        }
        self.firmware.set_vcc(self.supply.logic_mv(&self.rail));
        if self.ms.is_multiple_of(u64::from(LOOK_MS)) {
            let sight = self.eyes.look(
                &self.joints,
                |joint| us(joint).is_some(),
                (&self.supply, &self.rail),
                self.ms,
                LOOK_MS,
            );
            self.painter.paint(sight);
        }
    }

    /// The board's share of a millisecond, with the bytes that reached it.
    fn run_board(&mut self, arrived: &[u8]) {
        self.firmware.step();
        if self.rate == BOARD_RATE {
            self.firmware.receive(arrived);
            let sent = self.firmware.take_sent(bytes_a_ms(BOARD_RATE));
            self.to_host.extend(sent);
        } else {
            for _ in arrived {
                self.firmware.receive_error();
            }
            // What the board says at its own rate is no text at another.
            self.firmware.take_sent(bytes_a_ms(BOARD_RATE));
        }
    }

    /// A joint's true angle. For tests alone: nobody at the bench knows it.
    #[cfg(test)]
    pub(super) fn true_deg(&self, leg: &str, joint: &str) -> f64 {
        self.joints
            .iter()
            .find(|j| j.leg == leg && j.joint == joint)
            .map_or(f64::NAN, Joint::deg)
    }
}

impl std::fmt::Debug for World {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("World")
            .field("ms", &self.ms)
            .field("rail", &self.rail)
            .finish_non_exhaustive()
    }
}

/// Bytes of ten bits that pass in a millisecond.
fn bytes_a_ms(rate: u32) -> usize {
    (rate / 10_000).max(1) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::codec::emit;

    /// A bench with someone who talks to it.
    struct Bench {
        world: World,
        tag: u16,
        heard: String,
    }

    impl Bench {
        fn new(settings: Settings) -> Bench {
            let mut bench = Bench {
                world: World::new(settings),
                tag: 0,
                heard: String::new(),
            };
            bench.pass(50);
            bench
        }

        fn pass(&mut self, ms: u32) {
            for _ in 0..ms {
                self.world.step();
            }
            let bytes = self.world.take(usize::MAX);
            self.heard.push_str(&String::from_utf8_lossy(&bytes));
        }

        fn change(&mut self, words: &str) {
            self.tag += 1;
            let line = emit(Some(self.tag), words).expect("short");
            self.world.send(&line);
            self.pass(20);
            let done = format!("{} done", self.tag);
            assert!(self.heard.contains(&done), "{words}: {}", self.heard);
        }

        fn feed(&mut self, ms: u32) {
            for _ in 0..ms / 100 {
                self.change("beat");
                self.pass(80);
            }
        }
    }

    fn all_awake(settings: Settings) -> Bench {
        let mut bench = Bench::new(settings);
        bench.change("slew all 100000");
        for pin in 22..40 {
            bench.change(&format!("guard {pin} 500 2500"));
            bench.change(&format!("wake {pin} 1500"));
            bench.feed(300);
        }
        bench
    }

    #[test]
    fn a_wake_moves_the_joint_and_a_person_sees_which() {
        let mut bench = Bench::new(Settings::default());
        let sight = bench.world.sight();
        let before = sight.look();
        assert!(before.joints.iter().all(|j| j.slack && !j.moving));
        bench.change("wake 23 1500");
        bench.pass(60);
        let during = sight.look();
        let moving: Vec<String> = during
            .joints
            .iter()
            .filter(|j| j.moving)
            .map(|j| format!("{} {}", j.leg, j.joint))
            .collect();
        assert_eq!(moving, ["LF femur"]);
        bench.feed(1000);
        let after = sight.look();
        let seen = &after.joints[1];
        assert!(!seen.moving && !seen.slack && seen.moved_deg == 0.0);
        let truth = bench.world.true_deg("LF", "femur");
        // Three standard deviations of the placing, and what reading to half a degree loses.
        assert!((seen.gauge_deg - truth).abs() < 1.9, "{seen:?} {truth}");
    }

    #[test]
    fn a_joint_pressed_against_its_end_hums_and_draws() {
        let mut bench = Bench::new(Settings::default());
        bench.change("guard 22 500 2500");
        bench.change("wake 22 1500");
        bench.feed(500);
        let resting = bench.world.sight().look();
        bench.change("go 0 22:2300");
        bench.feed(2000);
        let pressed = bench.world.sight().look();
        assert!(!resting.joints[0].hums && pressed.joints[0].hums);
        assert!(pressed.supply_a > resting.supply_a + 1.0, "{pressed:?}");
    }

    #[test]
    fn eighteen_servos_thrown_at_once_brown_the_board_out_and_it_says_so() {
        let mut bench = all_awake(Settings::default());
        bench.change("roster 22 23 24 25 26 27 28 29 30 31 32 33 34 35 36 37 38 39");
        bench.heard.clear();
        let pose = format!("pose 0{}", " 1900".repeat(18));
        bench
            .world
            .send(&emit(Some(bench.tag + 1), &pose).expect("short"));
        bench.pass(400);
        assert!(bench.heard.contains("event ready"), "{}", bench.heard);
        assert!(
            bench.heard.contains("boot=2 cause=brownout"),
            "{}",
            bench.heard
        );
        assert!(bench.world.pulses().iter().all(|p| p.ticks == 0));
        let sight = bench.world.sight().look();
        assert!(sight.joints.iter().all(|j| j.slack));
        assert_eq!(sight.notes.len(), 1, "{:?}", sight.notes);
    }

    #[test]
    fn the_same_throw_is_nothing_to_a_clean_robot() {
        let mut bench = all_awake(Settings {
            seed: 7,
            clean: true,
        });
        bench.change("roster 22 23 24 25 26 27 28 29 30 31 32 33 34 35 36 37 38 39");
        bench.change(&format!("pose 0{}", " 1900".repeat(18)));
        bench.feed(500);
        assert!(!bench.heard.contains("brownout"));
        assert!((bench.world.true_deg("LF", "coxa") - 400.0 / 10.6).abs() < 0.5);
    }

    #[test]
    fn a_host_that_falls_silent_finds_its_robot_frozen_and_later_limp() {
        let mut bench = Bench::new(Settings::default());
        bench.change("wake 22 1500");
        bench.pass(600);
        assert!(bench.heard.contains("event frozen n=1 by=silence"));
        assert!(bench.world.pulses().iter().any(|p| p.ticks > 0));
        bench.pass(10_000);
        assert!(bench.heard.contains("event limp by=silence"));
        assert!(bench.world.pulses().iter().all(|p| p.ticks == 0));
    }

    #[test]
    fn at_another_rate_nobody_understands_anybody() {
        let mut bench = Bench::new(Settings::default());
        bench.heard.clear();
        bench.world.set_rate(115_200);
        bench.world.send(b"hello\n");
        bench.pass(100);
        assert_eq!(bench.heard, "");
        bench.world.set_rate(250_000);
        bench.world.send(b"\nhello\n");
        bench.pass(100);
        assert!(bench.heard.contains("done proto=1"), "{}", bench.heard);
    }

    #[test]
    fn the_same_seed_and_the_same_lines_give_the_same_bytes_and_the_same_sight() {
        let run = |seed| {
            let mut bench = Bench::new(Settings { seed, clean: false });
            bench.change("watch 50");
            bench.change("wake 22 1500");
            bench.feed(500);
            (bench.heard.clone(), bench.world.sight().look())
        };
        assert_eq!(run(3), run(3));
        assert_ne!(run(3).1, run(4).1);
    }
}
