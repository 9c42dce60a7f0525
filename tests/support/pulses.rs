//! Edges of one chip turned into pulses: when each rose, how many cycles it lasted.
//!
//! Never smooths: a width is the difference of two stamps, to the cycle.

#![allow(dead_code)] // every test file uses its own part of this

use crate::emulator::Report;

/// One pulse on one pin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pulse {
    /// Printed pin.
    pub pin: u8,
    /// Cycle of the rising edge.
    pub rise: u64,
    /// Cycles from rise to fall.
    pub width: u64,
}

impl Pulse {
    /// Cycle of the falling edge.
    pub fn fall(&self) -> u64 {
        self.rise + self.width
    }

    /// Width in ticks of half a microsecond, if it is a whole number of them to the cycle.
    pub fn ticks(&self) -> Option<u64> {
        self.width.is_multiple_of(8).then_some(self.width / 8)
    }
}

/// Pairs rises with falls.
#[derive(Debug)]
pub struct Pulses {
    rises: [Option<u64>; 70],
    /// The finished pulses, in the order of their falls.
    pub finished: Vec<Pulse>,
}

impl Default for Pulses {
    fn default() -> Self {
        Pulses {
            rises: [None; 70],
            finished: Vec::new(),
        }
    }
}

impl Pulses {
    /// Takes a report; gives the pulse that it finished.
    pub fn take(&mut self, report: &Report) -> Option<Pulse> {
        let Report::Edge { cycle, pin, high } = *report else {
            return None;
        };
        let rise = &mut self.rises[usize::from(pin)];
        if high {
            assert!(
                rise.is_none(),
                "pin {pin} rose twice, the second time at {cycle}"
            );
            *rise = Some(cycle);
            return None;
        }
        let rise = rise
            .take()
            .unwrap_or_else(|| panic!("pin {pin} fell at {cycle} without having risen"));
        let pulse = Pulse {
            pin,
            rise,
            width: cycle - rise,
        };
        self.finished.push(pulse);
        Some(pulse)
    }

    /// Pins that are high now.
    pub fn high(&self) -> Vec<u8> {
        (0..70)
            .filter(|pin| self.rises[usize::from(*pin)].is_some())
            .collect()
    }

    /// All of a list of reports.
    pub fn of(reports: &[Report]) -> Pulses {
        let mut pulses = Pulses::default();
        for report in reports {
            pulses.take(report);
        }
        pulses
    }
}
