//! How far this servo turns to either side: with the leg unscrewed its bare arm is led to both ends of its own travel.
//!
//! The arm turns slowly outward until the builder says that it stopped, and goes limp there at once: nothing hangs on it,
//! so it stays, and its angle is read in peace. After each stretch it goes limp by itself and he is asked whether it
//! turned on: nobody who went away leaves a servo pressing on its own end for longer than a stretch takes, and a host
//! that dies for longer than the board's silence time.

use super::{HornsMind, Lacks, State};
use crate::calibration::logbook::{End, Way, What};
use crate::procedure::hand::Hand;
use crate::procedure::machine::Turn;
use crate::procedure::seat::{Seat, direction};
use crate::units::{Pin, Pulse};

/// Every servo that is fit for a leg turns this far, µs: so far the arm goes at a joint's own speed.
const QUICK_US: f64 = 300.0;

/// So far it turns at least by that, degrees: 25 µs a degree are more than any servo has (common practice: 7 to 17).
const LEAST_DEG: f64 = QUICK_US / 25.0;

/// From there on it goes so fast, µs a second: half a second late is less than a step of a peck.
const LEAD_US_PER_S: f64 = 32.0;

/// One piece of the way, µs, and its time, ms.
const PIECE_US: f64 = 10.0;
const PIECE_MS: u32 = 200;

/// After so much he is asked whether it turned on, µs: five to seven seconds.
const STRETCH_US: f64 = 140.0;

/// The way of a bare arm to one end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lead {
    pub(super) toward: End,
    /// Where it stands or goes now, µs.
    at_us: f64,
    /// Where this stretch began, µs.
    from_us: f64,
    last_ms: Option<u64>,
    /// It is to be woken for a stretch: one that went limp in the middle is none any more.
    begins: bool,
}

impl Lead {
    pub(super) fn new(toward: End) -> Lead {
        let begins = Pulse::CENTRE.us() + toward.sign() * QUICK_US;
        Lead {
            toward,
            at_us: begins,
            from_us: begins,
            last_ms: None,
            begins: true,
        }
    }

    /// The next stretch, from where this one ended.
    pub(super) fn on(self) -> Lead {
        Lead {
            from_us: self.at_us,
            last_ms: None,
            begins: true,
            ..self
        }
    }

    /// It turns slowly now: it can be said that it stopped.
    pub(super) fn is_under_way(&self) -> bool {
        self.last_ms.is_some()
    }

    /// There are no pulses beyond.
    pub(super) fn is_at_the_last(&self) -> bool {
        [Pulse::MIN.us(), Pulse::MAX.us()].contains(&self.at_us)
    }

    /// One piece farther; false at the end of the stretch.
    pub(super) fn goes_on(&mut self, now_ms: u64) -> bool {
        let since = self
            .last_ms
            .map_or(u64::from(PIECE_MS), |last| now_ms.saturating_sub(last));
        let by = (LEAD_US_PER_S * since as f64 / 1000.0).min(PIECE_US);
        let (near, far) = self.span();
        let to = (self.at_us + self.toward.sign() * by).clamp(near.us(), far.us());
        let moves = to != self.at_us;
        (self.at_us, self.last_ms) = (to, Some(now_ms));
        moves
    }

    /// The pulses from the middle to the end of this stretch.
    fn span(&self) -> (Pulse, Pulse) {
        let end = pulse(self.from_us + self.toward.sign() * STRETCH_US);
        (end.min(Pulse::CENTRE), end.max(Pulse::CENTRE))
    }

    /// Wakes it for its stretch, or takes it one piece farther; false: it went limp in the middle.
    pub(super) fn enter(&mut self, pin: Pin, hand: &mut Hand) -> bool {
        if !std::mem::take(&mut self.begins) {
            let awake = hand.pulse(pin).is_some();
            if awake {
                hand.travel_in(pin, pulse(self.at_us), PIECE_MS);
            }
            return awake;
        }
        hand.limp_others(pin);
        hand.uncover(pin, self.span());
        match self.from_us == Lead::new(self.toward).from_us {
            true => hand.stand_counted(pin, pulse(self.at_us), (0.0, 0.0)),
            false => hand.wake(pin, pulse(self.at_us), (0.0, 0.0), true),
        }
        hand.bell();
        true
    }
}

fn pulse(us: f64) -> Pulse {
    Pulse::from_us(us.clamp(Pulse::MIN.us(), Pulse::MAX.us())).unwrap_or(Pulse::CENTRE)
}

/// From where it came out at mid-travel to where a bare arm stood, over the shorter way round.
fn turned(from_deg: f64, to_deg: f64) -> f64 {
    (to_deg - from_deg + 180.0).rem_euclid(360.0) - 180.0
}

/// How far the servo turns toward smaller and toward larger angles, if both its ends were read.
pub(super) fn travel(seat: &Seat, came_out_deg: f64) -> Option<(f64, f64)> {
    let [near, far] = seat
        .horn_ends
        .map(|it| it.map(|it| turned(came_out_deg, it)));
    let (near, far) = (near?, far?);
    let (low, high) = (near.min(far), near.max(far));
    Some(((-low).max(0.0), high.max(0.0)))
}

impl HornsMind {
    /// The leg is off its horn, or comes off now.
    pub(super) fn is_bare(&self) -> bool {
        matches!(
            self.state,
            State::Unscrew | State::Lead(_) | State::Turned(_) | State::AtEnd { .. } | State::Back
        )
    }

    /// The leg of the present joint comes off its horn, or goes on; what is recorded where that is new.
    pub(super) fn screws(&mut self, on: bool) -> Vec<What> {
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        if seat.leg_off != on {
            return Vec::new();
        }
        seat.leg_off = !on;
        let joint = seat.name.clone();
        vec![What::Leg { joint, on }]
    }

    /// What Enter does while the leg is off: on to the end that lacks, or back.
    pub(super) fn leads(&self) -> State {
        match self.lacks() {
            Lacks::End(end) => State::Lead(Lead::new(end)),
            _ => State::Back,
        }
    }

    /// Where the bare arm stands at an end was read.
    pub(super) fn ended(&mut self, toward: End, angle_deg: f64) -> Turn {
        let (low, high) = self.end_range(toward);
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Turn::Ignored;
        };
        if !(low..=high).contains(&angle_deg) {
            return Turn::Ignored;
        }
        seat.horn_ends[toward.index()] = Some(angle_deg);
        let joint = seat.name.clone();
        self.state = self.leads();
        Turn::On(vec![What::HornEnd {
            joint,
            toward,
            angle_deg,
        }])
    }

    /// What can be read at an end: each lies on its own side of mid-travel, and some way from it.
    pub(super) fn end_range(&self, toward: End) -> (f64, f64) {
        let Some(seat) = self.seats.get(self.at) else {
            return (0.0, 0.0);
        };
        let middle = seat.horn_angles.iter().sum::<f64>() / seat.horn_angles.len().max(1) as f64;
        let other = seat.horn_ends[1 - toward.index()].map(|it| turned(middle, it) < 0.0);
        let by_way = seat
            .way
            .map(|way| (way == Way::Positive) == (toward == End::Far));
        match by_way.or(other) {
            None => (middle - 180.0, middle + 180.0),
            Some(true) => (middle + LEAST_DEG, middle + 180.0),
            Some(false) => (middle - 180.0, middle - LEAST_DEG),
        }
    }

    /// What is known of the present servo's travel.
    pub(super) fn travel_lines(&self, seat: &Seat) -> Vec<String> {
        if !self.measured {
            return vec![format!("turns {:.0}° to each side", self.travel_deg)];
        }
        let Some(&came_out) = seat.horn_angles.first() else {
            return Vec::new();
        };
        let line = |deg: &f64| {
            let deg = turned(came_out, *deg);
            let way = direction(seat.name.kind, seat.yaw_deg, deg > 0.0);
            format!("its own travel: {:.0}° {way}", deg.abs())
        };
        seat.horn_ends.iter().flatten().map(line).collect()
    }
}

#[cfg(test)]
mod tests;
