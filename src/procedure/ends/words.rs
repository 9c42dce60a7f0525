//! What the search for ends says at each of its steps.

use super::margin::mean;
use super::{AGAIN_US, EndsMind, STEP_US, State};
use crate::calibration::logbook::{End, EndKind};
use crate::procedure::hand::Hand;
use crate::procedure::seat::{MARGIN_US, Seat, all_have};
use crate::procedure::words::{PeckNews, Wants};

impl EndsMind {
    pub(super) fn news(&self, hand: &Hand) -> PeckNews {
        let found = self
            .seat()
            .map(|seat| seat.ends[self.side.index()].clone())
            .unwrap_or_default();
        let wanted = self.seat().and_then(|seat| {
            let ((low, high), (zero, scale)) = (seat.needed_deg?, seat.line?);
            let (a, b) = (zero + scale * low, zero + scale * high);
            Some(match self.side {
                End::Near => a.min(b),
                End::Far => a.max(b),
            })
        });
        let beyond = |us: f64| (self.to.us() - us) * self.side.sign();
        PeckNews {
            number: self.number,
            about: wanted.map(|us| self.number + (-beyond(us) / self.step_us).max(0.0) as usize),
            from: self.base,
            edge: self.edge(),
            to: self.to,
            back: !hand.is_busy(),
            free: self.free.iter().rev().take(3).rev().copied().collect(),
            then: Some(self.outward(self.to, self.step_us)),
            close: wanted.is_some_and(|us| beyond(us) > -2.0 * STEP_US)
                || found.iter().any(|us| beyond(*us) > -2.0 * STEP_US),
            found,
            trip: self.bench.sensor.is_some(),
        }
    }

    pub(super) fn words(&self, hand: &Hand) -> (&'static str, String, String, Wants) {
        let Some(seat) = self.seat() else {
            return (
                "ENDS ARE DONE",
                format!(
                    "Enter leaves: {}.",
                    all_have(self.only.as_ref(), "ends and limits")
                ),
                "Nothing will move. All of it is in the logbook. Space stops.".to_string(),
                Wants::Over,
            );
        };
        let (name, side) = (&seat.name, self.side.word());
        let way = seat.pecks(self.side == End::Far);
        match self.state {
            State::Ready if hand.pulse(self.pin()).is_some() => (
                "HANDS AWAY",
                format!("Enter: find the {side} end of {name}. Hands away first."),
                format!(
                    "It moves {way} to {} µs, then pecks. Space stops.",
                    self.base
                ),
                Wants::Enter,
            ),
            State::Ready => (
                "HANDS AWAY",
                match self.tripped {
                    Some(at) => format!(
                        "Trip at {at} µs: written down. Enter: {side} end of {name}. Hands away."
                    ),
                    None => format!("Enter: find the {side} end of {name}. Hands away first."),
                },
                format!(
                    "It wakes at {} µs at full speed, is led to {}, pecks. Space stops.",
                    seat.wakes(),
                    self.base
                ),
                Wants::Enter,
            ),
            State::Asking if hand.is_busy() => (
                "HANDS AWAY",
                format!(
                    "Look and listen: it pecks {} → {} µs, {way}.",
                    self.base, self.to
                ),
                "One fine step out, 250 ms at most, and back by itself. Space stops.".to_string(),
                Wants::Wait,
            ),
            State::Asking => (
                "DID IT TOUCH?",
                "Did anything stop it? n no, free. E it touched or hummed. a again.".to_string(),
                format!(
                    "It is back at {} µs and stays there until you answer. Space stops.",
                    self.waits()
                ),
                Wants::FreeOrEnd { enough: false },
            ),
            State::Cause(EndKind::Trip) => (
                "WHAT WAS IT?",
                format!(
                    "The board's trip acted at {} µs: it is limp. Choose what it met, Enter.",
                    self.to
                ),
                format!(
                    "Hands away: it wakes after a countdown and pecks {way} again. Space stops."
                ),
                Wants::Pick {
                    options: causes(),
                    start: 0,
                },
            ),
            State::Cause(_) => (
                "WHAT WAS IT?",
                "Choose what it met, then Enter.".to_string(),
                format!("It went back inward; next it pecks {way}, finer. Space stops."),
                Wants::Pick {
                    options: causes(),
                    start: 0,
                },
            ),
            State::Margin => (
                "TYPE THE MARGIN",
                format!("Type how far the limits keep from the ends of {name}, then Enter."),
                "36 µs is about 3.5°. The board's guard stands a quarter outside. Space stops."
                    .to_string(),
                Wants::Value {
                    unit: "µs",
                    start: Some(MARGIN_US),
                    low: 10.0,
                    high: 200.0,
                },
            ),
            State::Over => ("ENDS ARE DONE", String::new(), String::new(), Wants::Over),
        }
    }
}

fn causes() -> Vec<String> {
    [
        "the linkage or the printed parts",
        "the servo's own travel",
        "a cable came taut",
        "a neighbour leg",
        "the body",
    ]
    .map(str::to_string)
    .to_vec()
}

/// The ends so far, with their spread.
pub(super) fn summary(seat: &Seat) -> Vec<String> {
    End::BOTH
        .into_iter()
        .map(|side| {
            let found = &seat.ends[side.index()];
            match mean(found) {
                None => format!("{} end ?", side.word()),
                Some(us) => {
                    let half = found.iter().fold(0.0_f64, |m, it| m.max((it - us).abs()));
                    let half = half.max(AGAIN_US / 2.0);
                    let times = found.len();
                    format!("{} end {us:.1} ± {half:.1} µs, {times} times", side.word())
                }
            }
        })
        .collect()
}
