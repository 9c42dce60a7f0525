//! What the host has set on the board, so that it can be set again after a reset.
//!
//! It remembers only what the board has *done*, and nothing that moves a pin.

use std::collections::BTreeMap;

use crate::board::request::{Input, Request};
use crate::units::{Pin, Pulse};

/// Everything that a reset clears and that moves nothing.
#[derive(Debug, Default)]
pub struct Setup {
    silence: Option<(u32, u32)>,
    guards: BTreeMap<Pin, (Pulse, Pulse)>,
    slew_all: Option<u32>,
    slews: BTreeMap<Pin, u32>,
    roster: Vec<Pin>,
    trips: BTreeMap<Input, Request>,
    watch: Option<Request>,
}

impl Setup {
    /// The board has done this.
    pub fn note(&mut self, request: &Request) {
        match request {
            Request::Silence { freeze_ms, limp_ms } => self.silence = Some((*freeze_ms, *limp_ms)),
            Request::Guard { pin, low, high } => {
                self.guards.insert(*pin, (*low, *high));
            }
            Request::Slew {
                pin: None,
                us_per_s,
            } => {
                self.slew_all = Some(*us_per_s);
                self.slews.clear();
            }
            Request::Slew {
                pin: Some(pin),
                us_per_s,
            } => {
                self.slews.insert(*pin, *us_per_s);
            }
            Request::Roster(pins) => self.roster.clone_from(pins),
            Request::Trip { input, .. } => {
                self.trips.insert(*input, request.clone());
            }
            Request::NoTrip(input) => {
                self.trips.remove(input);
            }
            Request::Watch { ms: 0, .. } => self.watch = None,
            Request::Watch { .. } => self.watch = Some(request.clone()),
            _ => {}
        }
    }

    /// The pins that have a guard.
    pub fn guarded(&self) -> Vec<Pin> {
        self.guards.keys().copied().collect()
    }

    /// The requests that set it all again; guards first.
    pub fn again(&self) -> Vec<Request> {
        let mut list: Vec<Request> = self
            .guards
            .iter()
            .map(|(&pin, &(low, high))| Request::Guard { pin, low, high })
            .collect();
        list.extend(
            self.silence
                .map(|(freeze_ms, limp_ms)| Request::Silence { freeze_ms, limp_ms }),
        );
        list.extend(self.slew_all.map(|us_per_s| Request::Slew {
            pin: None,
            us_per_s,
        }));
        list.extend(self.slews.iter().map(|(&pin, &us_per_s)| Request::Slew {
            pin: Some(pin),
            us_per_s,
        }));
        if !self.roster.is_empty() {
            list.push(Request::Roster(self.roster.clone()));
        }
        list.extend(self.trips.values().cloned());
        list.extend(self.watch.clone());
        list
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn again(done: &[&str]) -> Vec<String> {
        let mut setup = Setup::default();
        for line in done {
            setup.note(&line.parse().expect(line));
        }
        setup.again().iter().map(Request::to_string).collect()
    }

    #[test]
    fn the_last_of_each_is_set_again_guards_first_and_nothing_moves() {
        let got = again(&[
            "slew 22 300",
            "slew all 400",
            "slew 23 500",
            "guard 22 1000 1800",
            "wake 22 1500",
            "silence 300 4000",
            "guard 22 1100 1700",
            "guard A0 1400 1500",
            "go 20 22:1600",
            "roster 22 54",
            "watch 100 a0",
            "trip a1 3000 20 limp",
            "trip a2 3000 20 freeze",
            "trip a1 0 0",
            "pose 20 1500 1500",
            "beat",
            "freeze",
        ]);
        assert_eq!(
            got,
            [
                "guard 22 1100 1700",
                "guard 54 1400 1500",
                "silence 300 4000",
                "slew all 400",
                "slew 23 500",
                "roster 22 54",
                "trip a2 3000 20 freeze",
                "watch 100 a0",
            ]
        );
        let moves = |l: &String| l.parse::<Request>().expect("a request").may_move();
        assert!(!got.iter().any(moves));
    }

    #[test]
    fn a_watch_that_was_ended_stays_ended() {
        assert!(again(&["watch 100", "watch 0"]).is_empty());
    }
}
