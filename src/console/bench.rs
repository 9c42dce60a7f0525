//! What the console knows of the board and its pins, as the board itself said it.
//!
//! Filled from the worker's events; it asks nothing and moves nothing.
//! A pulse here is always *commanded*: a servo tells nobody where it is.

use std::collections::BTreeMap;
use std::time::Duration;

use crate::board::{Hello, PinState, Sight};
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
    /// Number of the freeze that stands.
    pub frozen: Option<u32>,
    /// The board was reset, and the builder has not answered it yet.
    pub reset: bool,
    /// The board's own reading of its supply.
    pub supply_v: Option<f64>,
    /// What was awake before the board let go by itself.
    pub was_awake: Vec<(Pin, Pulse)>,
    /// What a person would see; practice robot only.
    pub sight: Option<Sight>,
}

impl Bench {
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

    fn count(&self, state: PinState) -> usize {
        self.pins.values().filter(|p| p.state == state).count()
    }

    /// Takes what the board said of a pin; tells whether anything changed.
    pub fn take(&mut self, pin: Pin, state: PinState, pulse: Option<Pulse>, now: Duration) -> bool {
        let plug = self.plug_mut(pin);
        let before = *plug;
        if let (Some(old), Some(new)) = (plug.pulse, pulse)
            && old != new
        {
            plug.came_up = Some(new > old);
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
    fn a_target_is_gone_when_it_is_reached() {
        let pin = Pin::new(23).expect("a pin");
        let mut bench = Bench::default();
        bench.take(pin, PinState::Awake, Some(Pulse::CENTRE), Duration::ZERO);
        let there = Pulse::from_halves(3016);
        bench.plug_mut(pin).target = Some(there);
        assert!(bench.take(pin, PinState::Awake, Some(Pulse::from_halves(3008)), Duration::ZERO));
        assert_eq!(bench.plug(pin).target, Some(there));
        bench.take(pin, PinState::Awake, Some(there), Duration::ZERO);
        assert_eq!((bench.plug(pin).target, bench.plug(pin).came_up), (None, Some(true)));
        assert!(!bench.take(pin, PinState::Awake, Some(there), Duration::ZERO));
    }
}
