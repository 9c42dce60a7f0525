//! How far this servo turns to either side: with the leg unscrewed its bare arm is led to both ends of its own travel.
//!
//! The arm turns slowly outward until the builder says that it stopped, and goes limp there at once: nothing hangs on it,
//! so it stays, and its angle is read in peace.

use super::{HornsMind, Lacks, State};
use crate::calibration::logbook::{End, What};
use crate::procedure::hand::Hand;
use crate::procedure::machine::Turn;
use crate::procedure::seat::{Seat, direction};
use crate::units::{Pin, Pulse};

/// Every servo that is fit for a leg turns this far, µs: so far the arm goes at a joint's own speed.
const QUICK_US: f64 = 300.0;

/// From there on it goes so fast, µs a second: half a second late is less than a step of a peck.
const LEAD_US_PER_S: f64 = 32.0;

/// One piece of the way, µs, and its time, ms.
const PIECE_US: f64 = 10.0;
const PIECE_MS: u32 = 200;

/// The way of a bare arm to one end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lead {
    pub(super) toward: End,
    /// Where it goes now, µs; nothing before it was woken.
    at_us: Option<f64>,
    last_ms: Option<u64>,
}

impl Lead {
    pub(super) fn new(toward: End) -> Lead {
        Lead {
            toward,
            at_us: None,
            last_ms: None,
        }
    }

    /// It turns slowly now: it can be said that it stopped.
    pub(super) fn is_under_way(&self) -> bool {
        self.last_ms.is_some()
    }

    /// One piece farther; false where there are no pulses beyond.
    pub(super) fn goes_on(&mut self, now_ms: u64) -> bool {
        let (Some(at), (low, high)) = (self.at_us, (Pulse::MIN.us(), Pulse::MAX.us())) else {
            return false;
        };
        let since = self
            .last_ms
            .map_or(u64::from(PIECE_MS), |last| now_ms.saturating_sub(last));
        let by = (LEAD_US_PER_S * since as f64 / 1000.0).min(PIECE_US);
        let to = (at + self.toward.sign() * by).clamp(low, high);
        (self.at_us, self.last_ms) = (Some(to), Some(now_ms));
        to != at
    }

    /// Wakes it, or takes it one piece farther.
    pub(super) fn enter(&mut self, pin: Pin, hand: &mut Hand) {
        let pulse = |us: f64| Pulse::from_us(us).unwrap_or(Pulse::CENTRE);
        match (self.at_us, hand.pulse(pin)) {
            (Some(to), Some(_)) => hand.travel_in(pin, pulse(to), PIECE_MS),
            _ => {
                let begins = Pulse::CENTRE.us() + self.toward.sign() * QUICK_US;
                *self = Lead {
                    at_us: Some(begins),
                    ..Lead::new(self.toward)
                };
                hand.limp_others(pin);
                hand.uncover(pin);
                hand.stand_counted(pin, pulse(begins), (0.0, 0.0));
                hand.bell();
            }
        }
    }
}

/// Its pulse says that it was led toward this end, and stands there yet.
pub(super) fn has_come_to(end: End, pulse: Option<Pulse>) -> bool {
    pulse.is_some_and(|it| (it.us() - Pulse::CENTRE.us()) * end.sign() >= QUICK_US)
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
            State::Unscrew | State::Lead(_) | State::AtEnd(_) | State::Back
        )
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
        let (low, high) = self.end_range();
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

    /// What can be read at an end: the second one lies on the other side of mid-travel than the first.
    pub(super) fn end_range(&self) -> (f64, f64) {
        let Some(seat) = self.seats.get(self.at) else {
            return (0.0, 0.0);
        };
        let middle = seat.horn_angles.iter().sum::<f64>() / seat.horn_angles.len().max(1) as f64;
        let other = seat.horn_ends.iter().flatten().next();
        match other.map(|it| turned(middle, *it)) {
            None => (middle - 180.0, middle + 180.0),
            Some(side) if side < 0.0 => (middle, middle + 180.0),
            Some(_) => (middle - 180.0, middle),
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
