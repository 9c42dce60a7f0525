//! What the marks so far say, and what another one would give.

use crate::calibration::logbook::MarkKind;
use crate::calibration::model::Span;
use crate::estimate::marks::{Another, Fit, Mark, Unknown, Untold, fit};
use crate::procedure::seat::{Seat, Seen};

/// What another mark would give.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Advice {
    /// The best next one; none when the marks cannot be fitted.
    pub(super) best: Option<Another>,
}

impl Advice {
    pub(super) fn helps(&self) -> bool {
        self.best.is_some_and(|it| it.helps())
    }
}

/// The fit of a joint's marks, the same that its file gets; `None` while they do not tell enough.
pub(super) fn fitted(seat: &Seat) -> Result<Fit, String> {
    let list: Vec<Mark> = seat.marks.iter().map(as_mark).collect();
    fit(&list, &seat.expected).map_err(|error| error.to_string())
}

/// What the marks leave to what was expected before, the bend excepted: it is small, and often left.
pub(super) fn not_told(fit: &Fit) -> impl Iterator<Item = Unknown> + '_ {
    let first = |it: &Untold| it.what.first().copied();
    fit.untold
        .iter()
        .filter_map(first)
        .filter(|it| *it != Unknown::Bend)
}

fn as_mark(seen: &Seen) -> Mark {
    Mark {
        pulse_us: seen.pulse_us,
        from: seen.from,
        angle_deg: seen.angle_deg,
        placing: seen.placing,
        kind: seen.by,
    }
}

/// Whether another mark helps, where, and by how much.
pub(super) fn advice(fit: Option<&Fit>, ground: Span, by: MarkKind) -> Advice {
    // An edge reads one angle only: another one is the same again.
    let fit = fit.filter(|_| by != MarkKind::Null);
    let list = fit.and_then(|it| it.another(reach(ground), by).ok());
    Advice {
        best: list.and_then(|it| it.into_iter().next()),
    }
}

/// The pulses at which a mark has room for its take-up move.
fn reach((low, high): Span) -> (f64, f64) {
    (low.us() + super::TAKE_UP_US, high.us() - super::TAKE_UP_US)
}
