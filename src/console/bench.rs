//! What the console knows of the board and its pins, as the board itself said it.
//!
//! Filled from the worker's events; it asks nothing and moves nothing.
//! A pulse here is always *commanded*: a servo tells nobody where it is.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use crate::board::{Hello, Input, PinState, Sight};
use crate::units::{Pin, Pulse};

/// What is being worked on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A serial port, by the path that the builder chose.
    Port(String),
    /// The practice robot.
    Practice {
        /// The same seed gives the same robot.
        seed: u64,
        /// Without faults.
        clean: bool,
    },
}

/// The link.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum LinkState {
    /// No place was chosen.
    #[default]
    None,
    /// A place was chosen; nobody has answered yet.
    Opening,
    /// The board answers.
    Up,
    /// It does not any more, since this moment.
    Lost(Duration),
}

/// One pin that was ever awake, or is to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plug {
    /// What the board says that it does.
    pub state: PinState,
    /// Its commanded pulse; `None` while limp.
    pub pulse: Option<Pulse>,
    /// The last pulse known.
    pub last: Option<Pulse>,
    /// Where an arrow or a field sent it, until it has arrived.
    pub target: Option<Pulse>,
    /// Since when it is awake.
    pub awake_since: Option<Duration>,
    /// Whether its last motion was toward larger pulses.
    pub came_up: Option<bool>,
    /// How far it went that way without turning back, µs; negative toward smaller pulses.
    pub came_us: f64,
}

impl Default for Plug {
    fn default() -> Plug {
        Plug {
            state: PinState::Limp,
            pulse: None,
            last: None,
            target: None,
            awake_since: None,
            came_up: None,
            came_us: 0.0,
        }
    }
}

/// How long the board hears nothing until it acts by itself; both from the same line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Silence {
    /// Until it freezes.
    pub freeze: Duration,
    /// Until it goes limp.
    pub limp: Duration,
}

impl Default for Silence {
    /// What every board begins with.
    fn default() -> Silence {
        Silence {
            freeze: Duration::from_millis(500),
            limp: Duration::from_secs(10),
        }
    }
}

/// The board, as far as the console knows.
#[derive(Debug, Default)]
pub struct Bench {
    /// What was chosen.
    pub place: Option<Place>,
    /// What the link calls itself.
    pub name: String,
    /// Bits a second.
    pub rate: u32,
    /// The link.
    pub link: LinkState,
    /// Who the board is.
    pub hello: Option<Hello>,
    /// The pins.
    pub pins: BTreeMap<Pin, Plug>,
    /// The silence times that stand.
    pub silence: Silence,
    /// Number of the freeze that stands.
    pub frozen: Option<u32>,
    /// The board was reset, and the builder has not answered it yet.
    pub reset: bool,
    /// The board's own reading of its supply, V; taken over once a second, and only when it changed by 0.02 V.
    pub supply_v: Option<f64>,
    /// When it was taken over last.
    pub supply_at: Duration,
    /// The frame that the pins of `seen` belong to.
    frame: Option<u32>,
    /// What the board said was awake or waking in that frame, or since.
    seen: BTreeSet<Pin>,
    /// The order of pins that `pose` means, as the board was told last.
    pub roster: Option<Vec<Pin>>,
    /// The input under a trip that a machine asked for, until the board has taken it away.
    pub trip: Option<Input>,
    /// Its supply dipped and it was reset: several wake one by one until the supply is written down anew.
    pub browned_out: bool,
    /// What was awake before the board let go by itself.
    pub was_awake: Vec<(Pin, Pulse)>,
    /// What a person would see; practice robot only.
    pub sight: Option<Sight>,
    /// When it was looked at.
    sight_at: Duration,
    /// What was noticed of it last, and until when that is news; practice robot only.
    pub noticed: Option<(String, Duration)>,
}

/// How long something noticed is news.
const NEWS: Duration = Duration::from_secs(20);

impl Bench {
    /// Takes over what is to be seen now.
    pub fn look(&mut self, sight: Sight, now: Duration) {
        let before = self.sight.as_ref().map_or(&[][..], |it| &it.notes[..]);
        if sight.notes != before
            && let Some(note) = sight.notes.last()
        {
            self.noticed = Some((note.clone(), now + NEWS));
        }
        self.sight = Some(sight);
        self.sight_at = now;
    }

    /// The practice robot's own time, s: its time goes with the console's.
    pub fn seconds(&self, now: Duration) -> f64 {
        let then = self.sight.as_ref().map_or(0.0, |sight| sight.seconds);
        then + now.saturating_sub(self.sight_at).as_secs_f64()
    }

    /// The pin, as far as it is known.
    pub fn plug(&self, pin: Pin) -> Plug {
        self.pins.get(&pin).copied().unwrap_or_default()
    }

    /// The same, to change it.
    pub fn plug_mut(&mut self, pin: Pin) -> &mut Plug {
        self.pins.entry(pin).or_default()
    }

    /// How many pins get pulses.
    pub fn awake(&self) -> usize {
        self.count(PinState::Awake)
    }

    /// How many wait for their first pulse.
    pub fn waking(&self) -> usize {
        self.count(PinState::Waking)
    }

    /// Whether any pin holds its joint, or is about to.
    pub fn holds(&self) -> bool {
        self.awake() + self.waking() > 0
    }

    fn count(&self, state: PinState) -> usize {
        self.pins.values().filter(|p| p.state == state).count()
    }

    /// Takes what the board said of a pin; tells whether anything changed.
    pub fn take(&mut self, pin: Pin, state: PinState, pulse: Option<Pulse>, now: Duration) -> bool {
        self.seen.insert(pin);
        let plug = self.plug_mut(pin);
        let before = *plug;
        if let (Some(old), Some(new)) = (plug.pulse, pulse)
            && old != new
        {
            plug.came_up = Some(new > old);
            let step = new.us() - old.us();
            plug.came_us = if plug.came_us * step > 0.0 {
                plug.came_us + step
            } else {
                step
            };
        }
        plug.pulse = pulse.filter(|_| state == PinState::Awake);
        plug.last = plug.pulse.or(plug.last);
        plug.awake_since = match state {
            PinState::Awake => plug.awake_since.or(Some(now)),
            _ => None,
        };
        if plug.target == plug.pulse || state == PinState::Limp {
            plug.target = None;
        }
        plug.state = state;
        *plug != before
    }

    /// A watch's line of this frame begins. A pin that no line of the frame before named is limp; tells whether there was one.
    pub fn begin_frame(&mut self, frame: Option<u32>) -> bool {
        if frame.is_none() || frame == self.frame {
            return false;
        }
        let first = self.frame.is_none();
        self.frame = frame;
        let seen = std::mem::take(&mut self.seen);
        if first {
            return false;
        }
        let mut changed = false;
        for (pin, plug) in &mut self.pins {
            if plug.state != PinState::Limp && !seen.contains(pin) {
                let last = plug.last;
                *plug = Plug {
                    last,
                    ..Plug::default()
                };
                changed = true;
            }
        }
        changed
    }

    /// Frames are counted anew: the board was reset, or another one was opened.
    pub fn forget_frames(&mut self) {
        self.frame = None;
        self.seen.clear();
        self.roster = None;
    }

    /// Takes a reading of the supply; tells whether it is to be shown.
    pub fn take_supply(&mut self, volts: f64, now: Duration) -> bool {
        let due = now >= self.supply_at + Duration::from_secs(1);
        match self.supply_v {
            Some(shown) if !due || (shown - volts).abs() < 0.02 => false,
            _ => {
                self.supply_v = Some(volts);
                self.supply_at = now;
                true
            }
        }
    }

    /// Every pin is limp now.
    pub fn all_limp(&mut self) {
        for plug in self.pins.values_mut() {
            let last = plug.last;
            *plug = Plug {
                last,
                ..Plug::default()
            };
        }
    }

    /// No pin goes anywhere any more: a freeze, a refusal.
    pub fn no_targets(&mut self) {
        for plug in self.pins.values_mut() {
            plug.target = None;
        }
    }

    /// Remembers what is awake, for the case that the board lets go by itself.
    pub fn remember_awake(&mut self) {
        let awake: Vec<(Pin, Pulse)> = self
            .pins
            .iter()
            .filter(|(_, plug)| plug.state != PinState::Limp)
            .filter_map(|(pin, plug)| plug.last.map(|last| (*pin, last)))
            .collect();
        // A second event of the same accident finds everything limp already.
        if !awake.is_empty() {
            self.was_awake = awake;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limp_pin_keeps_its_last_pulse_and_is_remembered() {
        let pin = Pin::new(23).expect("a pin");
        let mut bench = Bench::default();
        bench.take(pin, PinState::Waking, None, Duration::ZERO);
        assert_eq!((bench.waking(), bench.awake()), (1, 0));
        bench.take(pin, PinState::Awake, Some(Pulse::CENTRE), Duration::ZERO);
        bench.remember_awake();
        bench.all_limp();
        bench.remember_awake();
        assert_eq!(bench.plug(pin).last, Some(Pulse::CENTRE));
        assert_eq!(bench.plug(pin).pulse, None);
        assert_eq!(bench.was_awake, [(pin, Pulse::CENTRE)]);
    }

    #[test]
    fn a_pin_that_a_whole_frame_did_not_name_is_limp() {
        let (a, b) = (Pin::FIRST, Pin::LAST);
        let mut bench = Bench::default();
        let awake = |bench: &mut Bench, pin| {
            bench.take(pin, PinState::Awake, Some(Pulse::CENTRE), Duration::ZERO);
        };
        bench.begin_frame(Some(1));
        awake(&mut bench, a);
        awake(&mut bench, b);
        bench.begin_frame(Some(2));
        awake(&mut bench, a);
        // The second line of the same frame.
        assert!(!bench.begin_frame(Some(2)));
        awake(&mut bench, b);
        bench.begin_frame(Some(3));
        awake(&mut bench, a);
        assert_eq!(bench.awake(), 2);
        assert!(bench.begin_frame(Some(4)));
        assert_eq!((bench.awake(), bench.plug(b).state), (1, PinState::Limp));
    }

    #[test]
    fn the_supply_is_shown_once_a_second_and_only_when_it_changed() {
        let mut bench = Bench::default();
        let at = Duration::from_millis;
        assert!(bench.take_supply(5.02, at(0)));
        assert!(!bench.take_supply(4.50, at(500)));
        assert!(bench.take_supply(4.50, at(1000)));
        assert!(!bench.take_supply(4.51, at(2500)));
    }

    #[test]
    fn a_target_is_gone_when_it_is_reached() {
        let pin = Pin::new(23).expect("a pin");
        let mut bench = Bench::default();
        bench.take(pin, PinState::Awake, Some(Pulse::CENTRE), Duration::ZERO);
        let there = Pulse::from_halves(3016);
        bench.plug_mut(pin).target = Some(there);
        assert!(bench.take(
            pin,
            PinState::Awake,
            Some(Pulse::from_halves(3008)),
            Duration::ZERO
        ));
        assert_eq!(bench.plug(pin).target, Some(there));
        bench.take(pin, PinState::Awake, Some(there), Duration::ZERO);
        assert_eq!(
            (bench.plug(pin).target, bench.plug(pin).came_up),
            (None, Some(true))
        );
        assert!(!bench.take(pin, PinState::Awake, Some(there), Duration::ZERO));
    }
}
