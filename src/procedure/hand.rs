//! The hand that a machine moves joints with: one request at a time, and never to rest outward of confirmed ground.
//!
//! It is the one place of `procedure` that makes wakes, moves, pecks and guards, so that the rules hold by construction:
//! a wake or a move outside a pin's ground is pulled back into it, a peck is one fine step at most,
//! and a guard lies at most one fine step outside the ground.
//! Whatever goes wrong empties its queue.

mod hearing;

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::words::Ask;
use crate::calibration::model::Span;
use crate::units::{Pin, Pulse};

/// The largest step of a peck, µs: the board refuses more.
pub const STEP_MOST_US: f64 = 20.0;

/// So far inside the last free pulse a joint waits while it is asked about, µs.
///
/// Nearer the question could rest on a late ear's mistake: two pecks called free that had touched.
pub const WAITS_INSIDE_US: f64 = 2.0 * STEP_MOST_US;

/// How long a peck stays out at most, ms: the board refuses more.
pub const HOLD_MS: u32 = 250;

/// How fast joints move here, µs of pulse a second: about 40 degrees a second, a foot at 200 mm well below 250 mm/s.
pub const SLEW_US_PER_S: u32 = 400;

/// The board's own silence times, as it starts with them.
const USUAL_SILENCE: Ask = Ask::Silence {
    freeze_ms: 500,
    limp_ms: 10_000,
};

/// Those while a horn is bare: limp as soon as it would freeze.
const BARE_SILENCE: Ask = Ask::Silence {
    freeze_ms: 500,
    limp_ms: 500,
};

/// Seconds counted down before a joint wakes.
pub const COUNT_S: u8 = 3;

/// What went wrong, until the builder goes on.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// The board refused this.
    Refused(String),
    /// The logbook could not be written.
    NotRecorded(String),
    /// All went limp.
    Limp,
    /// All was frozen.
    Frozen,
    /// It was frozen, and thawed since.
    Thawed,
    /// The builder ended the countdown.
    CalledOff,
    /// An answer was taken back, and the step before it would wake a joint.
    TakenBack,
}

/// Where a pin stands, as far as it was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
enum At {
    Limp,
    Awake(Pulse),
    /// It may be awake; where, unless it moved when it was stopped.
    Lost(Option<Pulse>),
}

#[derive(Debug, Clone, PartialEq)]
enum Act {
    Ask(Ask),
    Count,
    Bell,
}

#[derive(Debug, Clone, PartialEq)]
enum Waiting {
    /// For the answer to this.
    Answer(Ask),
    /// For the end of this motion.
    Settling(Ask),
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Hand {
    queue: VecDeque<Act>,
    waiting: Option<Waiting>,
    at: BTreeMap<Pin, At>,
    guard: BTreeMap<Pin, Span>,
    ground: BTreeMap<Pin, Span>,
    /// What was done once and stands until the board is reset: slews and trips.
    standing: Vec<Ask>,
    /// The pins that this hand touched: what it lets go of when it leaves.
    mine: BTreeSet<Pin>,
    /// The pins whose horn has nothing on it.
    bare: BTreeSet<Pin>,
    trouble: Option<Trouble>,
    /// Joints are led back to their mid-travel before they go limp.
    parking: bool,
}

impl Hand {
    /// A hand that finds these pins awake.
    pub fn new(awake: &[(Pin, Pulse)]) -> Hand {
        Hand {
            at: awake.iter().map(|&(p, u)| (p, At::Awake(u))).collect(),
            ..Hand::default()
        }
    }

    /// Something moves or is awaited.
    pub fn is_busy(&self) -> bool {
        self.waiting.is_some() || !self.queue.is_empty()
    }

    /// What moves now are joints on their way back to mid-travel, where they go limp.
    pub fn is_parking(&self) -> bool {
        self.parking && self.is_busy()
    }

    /// Something was asked that has not ended yet.
    pub fn is_waiting(&self) -> bool {
        self.waiting.is_some()
    }

    /// Nothing goes on until the builder says so.
    pub fn fail(&mut self, trouble: Trouble) {
        self.trouble = Some(trouble);
    }

    /// Where the other pins stand that are awake; a stop or a trip leaves those that rested where they were.
    pub fn others(&self, pin: Pin) -> Vec<(Pin, Pulse)> {
        let awake = |(p, at): (&Pin, &At)| match at {
            At::Awake(pulse) | At::Lost(Some(pulse)) if *p != pin => Some((*p, *pulse)),
            _ => None,
        };
        self.at.iter().filter_map(awake).collect()
    }

    pub fn trouble(&self) -> Option<&Trouble> {
        self.trouble.as_ref()
    }

    pub fn clear_trouble(&mut self) {
        self.trouble = None;
    }

    /// Drops what was not asked yet; what was asked runs to its end.
    pub fn drop_queue(&mut self) {
        self.queue.clear();
    }

    /// The commanded pulse, if the pin is awake and it is known.
    pub fn pulse(&self, pin: Pin) -> Option<Pulse> {
        match self.at.get(&pin) {
            Some(At::Awake(pulse)) => Some(*pulse),
            _ => None,
        }
    }

    /// The guard that this hand set and that still stands.
    pub fn guard(&self, pin: Pin) -> Option<Span> {
        self.guard.get(&pin).copied()
    }

    /// Where the motion under way goes.
    pub fn target(&self) -> Option<Pulse> {
        let Some(Waiting::Answer(ask) | Waiting::Settling(ask)) = &self.waiting else {
            return None;
        };
        match ask {
            Ask::Wake { pulse, .. } | Ask::Peck { pulse, .. } => Some(*pulse),
            Ask::Go { moves, .. } => moves.first().map(|m| m.1),
            _ => None,
        }
    }

    /// Whether a joint is about to be woken.
    pub fn will_wake(&self) -> bool {
        let wakes = |act: &Act| matches!(act, Act::Ask(Ask::Wake { .. }));
        self.queue.iter().any(wakes)
    }

    /// Whether a peck is under way.
    pub fn is_pecking(&self) -> bool {
        matches!(
            self.waiting,
            Some(Waiting::Answer(Ask::Peck { .. }) | Waiting::Settling(Ask::Peck { .. }))
        )
    }

    /// Says what ground of a pin is confirmed: inside it, and nowhere else, the pin may rest.
    pub fn confirm(&mut self, pin: Pin, ground: Span) {
        self.ground.insert(pin, ground);
    }

    /// The builder says that nothing hangs on this pin's horn: these pulses are confirmed until it is covered again.
    ///
    /// A board that hears nothing of its host lets it go limp then, and does not only freeze it: it may press on its
    /// servo's own end.
    pub fn uncover(&mut self, pin: Pin, span: Span) {
        self.bare.insert(pin);
        self.confirm(pin, span);
        self.once(BARE_SILENCE);
    }

    /// Limp, and back to the one pulse that every servo can stand at: something will hang on this pin's horn again.
    pub fn cover(&mut self, pin: Pin) {
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        self.limp(pin);
        self.confirm(pin, centre);
        if self.bare.contains(&pin) {
            self.set_guard(pin, centre);
            self.standing.retain(|it| *it != BARE_SILENCE);
            self.ask(USUAL_SILENCE);
        }
    }

    /// Takes the pin to rest there, waking it if it is limp; the guard is ground and `room` µs on both sides.
    pub fn stand(&mut self, pin: Pin, pulse: Pulse, room: (f64, f64)) {
        self.lead(pin, pulse, room, false);
    }

    /// The same, with a countdown before it moves there; a limp one is counted for anyway.
    pub fn stand_counted(&mut self, pin: Pin, pulse: Pulse, room: (f64, f64)) {
        self.lead(pin, pulse, room, true);
    }

    fn lead(&mut self, pin: Pin, pulse: Pulse, room: (f64, f64), count: bool) {
        self.mine.insert(pin);
        let pulse = self.inside(pin, pulse);
        let guard = self.fence(pin, room);
        if let Some(At::Lost(_)) = self.at.get(&pin) {
            self.ask(Ask::Limp { pins: vec![pin] });
            self.at.insert(pin, At::Limp);
        }
        match self.pulse(pin) {
            None => {
                // It jumps to its first pulse at full speed: to the middle of its travel, and from there it is led.
                let first = self.inside(pin, Pulse::CENTRE);
                self.rouse(pin, first, guard, true);
                if first != pulse {
                    self.go(pin, first, pulse);
                }
            }
            Some(at) => {
                // A guard that would leave the present pulse out is refused: widen, move, then narrow.
                let wide = (guard.0.min(at), guard.1.max(at));
                self.set_guard(pin, wide);
                self.slew(pin);
                if at != pulse {
                    if count {
                        self.queue.push_back(Act::Count);
                    }
                    self.go(pin, at, pulse);
                }
                self.set_guard(pin, guard);
            }
        }
    }

    /// Wakes a limp pin, with or without a countdown of its own.
    pub fn wake(&mut self, pin: Pin, pulse: Pulse, room: (f64, f64), count: bool) {
        self.mine.insert(pin);
        let (pulse, guard) = (self.inside(pin, pulse), self.fence(pin, room));
        if let Some(At::Lost(_)) = self.at.get(&pin) {
            self.ask(Ask::Limp { pins: vec![pin] });
            self.at.insert(pin, At::Limp);
        }
        self.rouse(pin, pulse, guard, count);
    }

    fn rouse(&mut self, pin: Pin, pulse: Pulse, guard: Span, count: bool) {
        self.set_guard(pin, guard);
        self.slew(pin);
        if count {
            self.queue.push_back(Act::Count);
        }
        self.ask(Ask::Wake { pin, pulse });
    }

    /// Moves an awake pin inside its ground; nothing if it is not awake.
    pub fn travel(&mut self, pin: Pin, from: Pulse, to: Pulse) {
        let to = self.inside(pin, to);
        if from != to {
            self.go(pin, from, to);
        }
    }

    /// The same, in this time.
    pub fn travel_in(&mut self, pin: Pin, to: Pulse, ms: u32) {
        let moves = vec![(pin, self.inside(pin, to))];
        self.ask(Ask::Go { ms, moves });
    }

    /// One fine step out of the ground and back, timed by the board.
    pub fn peck(&mut self, pin: Pin, from: Pulse, to: Pulse) {
        let us = to
            .us()
            .clamp(from.us() - STEP_MOST_US, from.us() + STEP_MOST_US);
        if let Some(pulse) = Pulse::from_us(us.clamp(500.0, 2500.0)) {
            self.ask(Ask::Peck {
                pin,
                pulse,
                hold_ms: HOLD_MS,
            });
        }
    }

    /// No more pulses on this pin.
    pub fn limp(&mut self, pin: Pin) {
        if !matches!(self.at.get(&pin), None | Some(At::Limp)) || self.is_busy() {
            self.ask(Ask::Limp { pins: vec![pin] });
        }
    }

    /// A request that moves nothing and need not be made again while it stands.
    pub fn once(&mut self, ask: Ask) {
        if !self.standing.contains(&ask) {
            self.ask(ask);
        }
    }

    /// The board's trip at this input does nothing any more, whichever pins it was for.
    ///
    /// It counts as gone at once, though a stop may overtake the request: asking for either once more does no harm,
    /// and who must be sure asks before a joint wakes.
    pub fn no_trip(&mut self, input: u8) {
        let of_it = |it: &Ask| matches!(it, Ask::Trip { input: of, .. } if *of == input);
        self.standing.retain(|it| !of_it(it));
        self.ask(Ask::Trip {
            input,
            mv: 0,
            ms: 0,
            pins: Vec::new(),
        });
    }

    /// No more pulses on any pin at all: hands go to the plugs.
    pub fn limp_all(&mut self) {
        self.ask(Ask::Limp { pins: Vec::new() });
    }

    /// No more pulses on any pin that this hand touched.
    pub fn limp_mine(&mut self) {
        self.limp_but(None);
    }

    /// The same, but this one stays.
    pub fn limp_others(&mut self, stays: Pin) {
        self.limp_but(Some(stays));
    }

    /// Takes every pin that this hand touched to its mid-travel, and only then lets it go limp.
    ///
    /// A joint that goes limp where its search ended would stand in the way of its leg's others and of neighbour legs,
    /// and would jump far when it wakes again.
    pub fn park_mine(&mut self) {
        self.park_but(None);
    }

    /// The same, but this one stays.
    pub fn park_others(&mut self, stays: Pin) {
        self.park_but(Some(stays));
    }

    /// Wakes a pin that went limp elsewhere at its mid-travel, and lets it go limp there.
    pub fn bring_home(&mut self, pin: Pin) {
        self.stand(pin, Pulse::CENTRE, (0.0, 0.0));
        self.limp(pin);
        self.parking = true;
    }

    fn park_but(&mut self, stays: Option<Pin>) {
        for pin in self.awake_but(stays) {
            if let (Some(at), true) = (self.pulse(pin), self.ground.contains_key(&pin)) {
                self.travel(pin, at, Pulse::CENTRE);
                self.parking = true;
            }
        }
        self.limp_but(stays);
    }

    fn limp_but(&mut self, stays: Option<Pin>) {
        let pins = self.awake_but(stays);
        if !pins.is_empty() {
            self.ask(Ask::Limp { pins });
        }
    }

    fn awake_but(&self, stays: Option<Pin>) -> Vec<Pin> {
        let awake =
            |pin: &Pin| Some(*pin) != stays && !matches!(self.at.get(pin), None | Some(At::Limp));
        self.mine.iter().copied().filter(awake).collect()
    }

    /// Counts down before an awake pin moves; a limp one is counted for when it wakes.
    pub fn count(&mut self, pin: Pin) {
        if self.pulse(pin).is_some() {
            self.queue.push_back(Act::Count);
        }
    }

    /// Rings when all that moves before it has settled; where nothing moves, nothing rings.
    pub fn bell(&mut self) {
        let moves = |act: &Act| {
            matches!(
                act,
                Act::Ask(Ask::Wake { .. } | Ask::Go { .. } | Ask::Peck { .. })
            )
        };
        if self.queue.iter().any(moves) {
            self.queue.push_back(Act::Bell);
        }
    }

    fn ask(&mut self, ask: Ask) {
        self.queue.push_back(Act::Ask(ask));
    }

    fn go(&mut self, pin: Pin, from: Pulse, to: Pulse) {
        let ms = (to.us() - from.us()).abs() * 1000.0 / f64::from(SLEW_US_PER_S);
        self.ask(Ask::Go {
            ms: (ms.ceil() as u32).max(20),
            moves: vec![(pin, to)],
        });
    }

    fn slew(&mut self, pin: Pin) {
        self.once(Ask::Slew {
            pin,
            us_per_s: SLEW_US_PER_S,
        });
    }

    fn set_guard(&mut self, pin: Pin, (low, high): Span) {
        let last = self.queue.iter().rev().find_map(|act| match act {
            Act::Ask(Ask::Guard { pin: p, low, high }) if *p == pin => Some((*low, *high)),
            _ => None,
        });
        if last.or(self.guard(pin)) != Some((low, high)) {
            self.ask(Ask::Guard { pin, low, high });
        }
    }

    fn inside(&self, pin: Pin, pulse: Pulse) -> Pulse {
        match self.ground.get(&pin) {
            Some((low, high)) => pulse.clamp(*low, *high),
            None => Pulse::CENTRE,
        }
    }

    fn fence(&self, pin: Pin, room: (f64, f64)) -> Span {
        let (low, high) = self
            .ground
            .get(&pin)
            .copied()
            .unwrap_or((Pulse::CENTRE, Pulse::CENTRE));
        let out = |from: Pulse, by: f64| {
            let us = from.us() + by.clamp(-STEP_MOST_US, STEP_MOST_US);
            Pulse::from_us(us.clamp(500.0, 2500.0)).unwrap_or(from)
        };
        (out(low, -room.0), out(high, room.1))
    }
}
