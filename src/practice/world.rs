//! The bench: board, servos, supply and the person who looks, in virtual time.
//!
//! Time passes by [`World::step`] and [`World::run`] alone; whoever owns it decides how fast.

use std::collections::VecDeque;

use rand_chacha::ChaCha8Rng;

use super::body::{Body, Pulses};
use super::fault::{Fault, Faults};
use super::firmware::{Firmware, Identity, SlotPulse};
use super::looks::{Eyes, LOOK_MS};
use super::robot::{self, HANDS_STREAM};
use super::sensor::{CURRENT_INPUT, Sensor, VOLTS_INPUT};
use super::sheet::Layer;
use super::truth::Truth;
use crate::board::ResetCause;
use crate::board::sight::{Sight, SightHandle, SightPainter};
use crate::units::Pin;

/// The only rate that the board talks, in bits a second.
const BOARD_RATE: u32 = 250_000;
/// Notes that are kept.
const MOST_NOTES: usize = 5;
/// The robot's seed unless somebody asks for another.
pub const DEFAULT_SEED: u64 = 7;

/// Which robot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settings {
    /// The same seed gives the same robot.
    pub seed: u64,
    /// What is wrong with it.
    pub faults: Faults,
    /// Whether a current sensor sits on a0 and a battery divider on a1.
    pub sensor: bool,
    /// How many times faster than a clock its time runs when it is opened as a link, 1 or more.
    pub speed: u32,
    /// At which height a printed sheet is meant to lie under all legs from the start, mm, its zero below the body's; none: no sheet.
    pub sheet_mm: Option<i32>,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            seed: DEFAULT_SEED,
            faults: Faults::of_a_bench(),
            sensor: false,
            speed: 1,
            sheet_mm: None,
        }
    }
}

impl Settings {
    /// This seed with the faults of a real bench.
    pub fn seeded(seed: u64) -> Settings {
        Settings {
            seed,
            ..Settings::default()
        }
    }

    /// This seed without any fault. Its servos still differ in zero and scale: that is what a
    /// calibration is for.
    pub fn clean(seed: u64) -> Settings {
        Settings {
            faults: Faults::NONE,
            ..Settings::seeded(seed)
        }
    }

    /// What to call this robot: `practice, seed 7`.
    pub fn name(&self) -> String {
        format!("practice, {}", self.which())
    }

    fn which(&self) -> String {
        let mut which = format!("seed {}", self.seed);
        if self.faults == Faults::NONE {
            which.push_str(", clean");
        } else if self.faults != Faults::of_a_bench() {
            for fault in self.faults.each() {
                which.push_str(", ");
                which.push_str(fault.name());
            }
        }
        if self.speed > 1 {
            which.push_str(&format!(", {} times as fast", self.speed));
        }
        which
    }
}

/// A whole practice robot on its bench.
pub struct World {
    firmware: Firmware,
    pub(super) body: Body,
    pub(super) eyes: Eyes,
    /// What hands do by luck.
    pub(super) luck: ChaCha8Rng,
    pub(super) layer: Layer,
    painter: SightPainter,
    sensor: Option<Sensor>,
    /// The board's pulses by slot, and the same by pin.
    slots: [SlotPulse; 24],
    pulses: Pulses,
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
        let body = Body::new(robot::build(settings.seed, settings.faults));
        let label = format!("simulated, {}", settings.which());
        let errs = settings.faults.has(Fault::Reading);
        let (eyes, first) = Eyes::new(label, settings.seed, errs, settings.speed.max(1), &body);
        let mut firmware = Firmware::new(Identity {
            fw: env!("CARGO_PKG_VERSION").into(),
            board: "practice".into(),
            // Any number that follows from the seed and is not the seed itself.
            id: (settings.seed as u32).wrapping_mul(0x9E37_79B1) ^ 0x4D61_7272,
        });
        firmware.set_vcc(body.supply.logic_mv(&body.rail));
        let mut world = World {
            slots: *firmware.pulses(),
            firmware,
            body,
            eyes,
            luck: robot::stream(settings.seed, HANDS_STREAM),
            layer: Layer::new(settings.seed, settings.faults),
            painter: SightPainter::new(first),
            sensor: settings.sensor.then(|| Sensor::new(settings.seed)),
            pulses: [None; 70],
            to_board: VecDeque::new(),
            to_host: VecDeque::new(),
            rate: BOARD_RATE,
            ms: 0,
        };
        if let Some(z_mm) = settings.sheet_mm {
            world.lay_at_start(z_mm);
        }
        world
    }

    /// What a person sees, now and later. Hands are joined to it by whoever shares the bench.
    pub fn sight(&self) -> SightHandle {
        self.painter.handle()
    }

    /// The truth, for those who judge.
    pub fn truth(&self) -> Truth {
        Truth::of(&self.body)
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

    /// Many milliseconds.
    pub fn run(&mut self, ms: u32) {
        for _ in 0..ms {
            self.step();
        }
    }

    /// One millisecond.
    pub fn step(&mut self) {
        self.ms += 1;
        if self.body.rail.held_ms == 0 {
            self.run_board();
        } else {
            self.to_board.drain(..self.arriving());
        }
        let changed = self.take_pulses();
        if self.body.step(&self.pulses, changed) {
            self.firmware.reset(ResetCause::Brownout);
            self.note("the supply dipped, the board's light went out and on: it was reset");
        }
        let volts = self.body.rail.volts;
        self.firmware
            .set_vcc(self.body.supply.logic_mv(&self.body.rail));
        if let Some(sensor) = &mut self.sensor {
            let (current, divided) = sensor.step(self.body.amps(), volts);
            self.firmware.set_input(CURRENT_INPUT, current);
            self.firmware.set_input(VOLTS_INPUT, divided);
        }
        if self.ms.is_multiple_of(u64::from(LOOK_MS)) {
            for index in self.body.take_burnt() {
                let joint = &self.body.joints[index];
                let text = format!("a smell of burning from {} {}", joint.leg, joint.joint);
                self.note(&text);
            }
            self.look(true);
        }
        self.painter.tick(self.ms);
    }

    /// Whether the board makes pulses on this pin now.
    pub(super) fn pulse_on(&self, pin: Pin) -> bool {
        let mut pulses = self.firmware.pulses().iter();
        pulses.any(|pulse| pulse.pin == pin.number() && pulse.ticks > 0)
    }

    /// A hand changed something: the picture follows at once, and time does not pass.
    pub(super) fn look_again(&mut self) {
        self.look(false);
    }

    fn look(&mut self, time_passed: bool) {
        let (eyes, body, ms) = (&mut self.eyes, &self.body, self.ms);
        self.painter.paint(|sight| {
            if time_passed {
                eyes.look(body, sight, ms);
            } else {
                eyes.glance(body, sight);
            }
        });
    }

    pub(super) fn note(&mut self, text: &str) {
        self.painter.paint(|sight: &mut Sight| {
            sight.notes.push(text.to_owned());
            if sight.notes.len() > MOST_NOTES {
                sight.notes.remove(0);
            }
        });
    }

    /// Sorts the board's pulses by pin. True: they are others than a moment ago.
    fn take_pulses(&mut self) -> bool {
        if !self.firmware.take_changed() || self.firmware.pulses() == &self.slots {
            return false;
        }
        self.slots = *self.firmware.pulses();
        self.pulses = [None; 70];
        for slot in self.slots.iter().filter(|slot| slot.ticks > 0) {
            self.pulses[usize::from(slot.pin)] = Some(f64::from(slot.ticks) / 2.0);
        }
        true
    }

    /// How many of the bytes on the wire arrive in this millisecond.
    fn arriving(&self) -> usize {
        self.to_board.len().min(bytes_a_ms(self.rate))
    }

    /// The board's share of a millisecond, with the bytes that reach it.
    fn run_board(&mut self) {
        self.firmware.step();
        let arriving = self.arriving();
        let understood = self.rate == BOARD_RATE;
        if arriving > 0 {
            let arrived: Vec<u8> = self.to_board.drain(..arriving).collect();
            if understood {
                self.firmware.receive(&arrived);
            } else {
                for _ in arrived {
                    self.firmware.receive_error();
                }
            }
        }
        if self.firmware.has_sent() {
            let sent = self.firmware.take_sent(bytes_a_ms(BOARD_RATE));
            // What the board says at its own rate is no text at another.
            if understood {
                self.to_host.extend(sent);
            }
        }
    }
}

impl std::fmt::Debug for World {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("World")
            .field("ms", &self.ms)
            .field("rail", &self.body.rail)
            .finish_non_exhaustive()
    }
}

/// Bytes of ten bits that pass in a millisecond.
fn bytes_a_ms(rate: u32) -> usize {
    (rate / 10_000).max(1) as usize
}
