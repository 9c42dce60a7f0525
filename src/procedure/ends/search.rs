//! Where the search stands on one joint: the last free pulse, the next peck, what was found.

use super::margin::{guard, limits};
use super::{AGAIN_US, EndsMind, STEP_US, State, TIMES};
use crate::calibration::logbook::{End, EndKind, Neighbour, What};
use crate::procedure::hand::{Hand, STEP_MOST_US, WAITS_INSIDE_US};
use crate::procedure::machine::Turn;
use crate::procedure::seat::{MARGIN_US, Seat};
use crate::units::{Pin, Pulse};

impl EndsMind {
    pub(super) fn seat(&self) -> Option<&Seat> {
        self.seats.get(self.at)
    }

    /// Goes to the first joint and side at which something is missing.
    pub(super) fn next_work(&mut self) {
        while let Some(seat) = self.seats.get(self.at) {
            let missing = [End::Far, End::Near]
                .into_iter()
                .find(|side| seat.ends[side.index()].len() < TIMES && !self.open[side.index()]);
            match missing {
                Some(side) => {
                    self.begin_side(side);
                    self.state = State::Ready;
                    return;
                }
                None if seat.limits.is_none() => {
                    self.state = State::Margin;
                    return;
                }
                None => {
                    self.at += 1;
                    self.open = [false; 2];
                }
            }
        }
        self.state = State::Over;
    }

    pub(super) fn begin_side(&mut self, side: End) {
        self.side = side;
        self.number = 0;
        self.free.clear();
        let index = side.index();
        let seat = self.seats.get(self.at);
        self.why = seat.and_then(|seat| seat.whys[index]);
        let again = seat.is_some_and(|seat| !seat.ends[index].is_empty());
        self.step_us = if again { AGAIN_US } else { STEP_US };
        self.aim();
    }

    pub(super) fn edge(&self) -> Pulse {
        match (self.seat(), self.side) {
            (None, _) => Pulse::CENTRE,
            (Some(seat), End::Near) => seat.ground.0,
            (Some(seat), End::Far) => seat.ground.1,
        }
    }

    pub(super) fn outward(&self, from: Pulse, us: f64) -> Pulse {
        let us = from.us() + self.side.sign() * us;
        Pulse::from_us(us.clamp(Pulse::MIN.us(), Pulse::MAX.us())).unwrap_or(from)
    }

    /// Where it waits between pecks.
    pub(super) fn waits(&self) -> Pulse {
        let at = self.outward(self.edge(), -WAITS_INSIDE_US);
        match self.seat() {
            Some(seat) => at.clamp(seat.ground.0, seat.ground.1),
            None => at,
        }
    }

    /// The next peck: a step beyond the last free pulse, from as far inside it as the board lets a peck come out of.
    pub(super) fn aim(&mut self) {
        self.number += 1;
        let edge = self.edge();
        let lag = STEP_MOST_US - self.step_us;
        self.base = self.outward(edge, -lag);
        self.to = self.outward(edge, self.step_us);
    }

    pub(super) fn freed(&mut self) -> Turn {
        let (to, side) = (self.to, self.side);
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Turn::Ignored;
        };
        match side {
            End::Near => seat.ground.0 = seat.ground.0.min(to),
            End::Far => seat.ground.1 = seat.ground.1.max(to),
        }
        let record = What::Free {
            joint: seat.name.clone(),
            toward: side,
            pulse_us: to.us(),
        };
        self.free.push(to);
        if to == Pulse::MIN || to == Pulse::MAX {
            self.open[side.index()] = true;
            self.next_work();
        } else {
            self.aim();
        }
        Turn::On(vec![record])
    }

    /// An end between the last free pulse and the peck's farthest.
    pub(super) fn found(&mut self, by: EndKind, hand: &Hand) -> Vec<What> {
        let end_us = (self.edge().us() + self.to.us()) / 2.0;
        let (side, why) = (self.side, self.why);
        let others = self.others(hand);
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        let mut records = vec![What::End {
            joint: seat.name.clone(),
            toward: side,
            pulse_us: end_us,
            by,
            why,
            others,
        }];
        seat.ends[side.index()].push(end_us);
        // Back from it, and nearer steps for the spread.
        let back = |p: Pulse, us: f64| Pulse::from_us(p.us() - side.sign() * us).unwrap_or(p);
        let ground = &mut seat.ground;
        match side {
            End::Near => ground.0 = back(ground.0, 2.0 * STEP_US).min(ground.1),
            End::Far => ground.1 = back(ground.1, 2.0 * STEP_US).max(ground.0),
        }
        self.step_us = AGAIN_US;
        if seat.ends[side.index()].len() < TIMES {
            self.aim();
            self.state = State::Asking;
        } else {
            let bounds = guard(seat, MARGIN_US, self.open);
            // From now on the ground ends where the guard does.
            seat.ground = (seat.ground.0.max(bounds.0), seat.ground.1.min(bounds.1));
            records.push(What::Guard {
                joint: seat.name.clone(),
                low_us: bounds.0.us(),
                high_us: bounds.1.us(),
            });
            self.next_work();
        }
        records
    }

    pub(super) fn bounded(&mut self, margin: f64) -> Vec<What> {
        let open = self.open;
        let Some(seat) = self.seats.get_mut(self.at) else {
            return Vec::new();
        };
        let limits = limits(seat, margin, open);
        let fence = guard(seat, margin, open);
        seat.limits = Some(limits);
        let records = vec![
            What::Limits {
                joint: seat.name.clone(),
                margin_us: margin,
                low_us: limits.0.us(),
                high_us: limits.1.us(),
            },
            What::Guard {
                joint: seat.name.clone(),
                low_us: fence.0.us(),
                high_us: fence.1.us(),
            },
        ];
        self.next_work();
        records
    }

    /// A joint that tripped at its last find is led home at the next answer.
    pub(super) fn lead_home(&mut self, hand: &mut Hand) {
        let Some(it) = &mut self.hangs else { return };
        if std::mem::take(&mut it.fresh) {
            return;
        }
        let at = it.at;
        match self.state {
            // It is pecked at once more, and wakes for that.
            State::Asking if at == self.at => self.hangs = None,
            State::Ready | State::Cause(_) if at == self.at => {}
            _ => {
                self.hangs = None;
                let seat = self.seats.get(at);
                let Some((pin, ground)) = seat.and_then(|it| Some((it.pin?, it.ground))) else {
                    return;
                };
                if hand.pulse(pin).is_some() {
                    return;
                }
                if let Some(sensor) = self.bench.sensor {
                    hand.no_trip(sensor.input);
                }
                hand.confirm(pin, ground);
                hand.bring_home(pin);
            }
        }
    }

    pub(super) fn pin(&self) -> Pin {
        self.seat().and_then(|seat| seat.pin).unwrap_or(Pin::FIRST)
    }

    /// Every other joint that has a plug: its pulse, or that it was limp.
    pub(super) fn others(&self, hand: &Hand) -> Vec<Neighbour> {
        let awake = hand.others(self.pin());
        let pulse = |pin| awake.iter().find(|(p, _)| *p == pin);
        let others = self.names.iter().filter(|(pin, _)| *pin != self.pin());
        others
            .map(|(pin, name)| Neighbour {
                joint: name.clone(),
                pulse_us: pulse(*pin).map(|(_, pulse)| pulse.us()),
            })
            .collect()
    }
}
