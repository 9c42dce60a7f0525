//! Limits and guard from the ends that were found.

use crate::calibration::logbook::End;
use crate::calibration::model::Span;
use crate::procedure::seat::Seat;
use crate::units::Pulse;

/// The mean, if there is any value.
pub(super) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Inside the ends by a margin; where no end was found, what was confirmed.
pub(super) fn limits(seat: &Seat, margin: f64, open: [bool; 2]) -> Span {
    let at = |us: f64, fallback: Pulse| Pulse::from_us(us).unwrap_or(fallback);
    let side = |end: End, edge: Pulse| match mean(&seat.ends[end.index()]) {
        Some(us) if !open[end.index()] => at(us - end.sign() * margin, edge),
        _ => edge,
    };
    let low = side(End::Near, seat.ground.0);
    let high = side(End::Far, seat.ground.1).max(low);
    (low, high)
}

/// The limits, and a quarter of the margin outside.
pub(super) fn guard(seat: &Seat, margin: f64, open: [bool; 2]) -> Span {
    let (low, high) = limits(seat, margin, open);
    let out = |p: Pulse, us: f64| {
        Pulse::from_us((p.us() + us).clamp(Pulse::MIN.us(), Pulse::MAX.us())).unwrap_or(p)
    };
    (out(low, -margin / 4.0), out(high, margin / 4.0))
}
