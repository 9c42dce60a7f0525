//! The arithmetic of the record: bounds inside ends, a guard one step wider, numbers as text.
//!
//! Pure functions of what is known of one joint; they change nothing.

use std::path::Path;

use crate::calibration::{Joint, Span};
use crate::units::Pulse;

use super::intent::Side;

/// Two marks at angles closer than this are two tries at one mark: the later replaces the earlier.
pub const SAME_ANGLE_DEG: f64 = 1.0;
/// How far inside an end the board's guard is kept, µs.
pub const GUARD_INSIDE_END_US: f64 = 27.0;
/// How far inside an end the limits are kept, µs: about 3.5° of a common servo.
pub const LIMIT_INSIDE_END_US: f64 = 37.0;
/// How far beyond the present pulse a guard may be widened by hand at one time, µs.
pub const WIDEN_US: f64 = 50.0;

/// What the board accepts for a pin before it was told a guard.
pub const FACTORY_GUARD: Span = (Pulse::from_halves(2800), Pulse::from_halves(3200));

/// The pulse that is `by_us` inside an end.
pub fn inside(end: Pulse, by_us: f64, side: Side) -> Pulse {
    let us = match side {
        Side::Near => end.us() + by_us,
        Side::Far => end.us() - by_us,
    };
    sendable(us)
}

/// The nearest pulse that a board sends.
pub fn sendable(us: f64) -> Pulse {
    Pulse::from_us(us.clamp(Pulse::MIN.us(), Pulse::MAX.us())).unwrap_or(Pulse::CENTRE)
}

/// A pair of pulses with the smaller first.
pub fn ordered(low: Pulse, high: Pulse) -> Span {
    (low.min(high), high.max(low))
}

/// The guard widened on one side for a joint standing at `pulse`: to at most 50 µs beyond it, never beyond a known end.
///
/// `Err` says why it stays as it is.
pub fn widened(joint: &Joint, side: Side, pulse: Pulse) -> Result<Span, String> {
    let (low, high) = joint.guard.unwrap_or(FACTORY_GUARD);
    let (end, beyond) = match side {
        Side::Near => (&joint.near_end, pulse.us() - WIDEN_US),
        Side::Far => (&joint.far_end, pulse.us() + WIDEN_US),
    };
    let mut bound = sendable(beyond);
    if let Some(end) = end {
        let last = inside(sendable(end.value), GUARD_INSIDE_END_US, side);
        bound = match side {
            Side::Near => bound.max(last),
            Side::Far => bound.min(last),
        };
    }
    let (new, moved) = match side {
        Side::Near => ((bound, high), bound < low),
        Side::Far => ((low, bound), bound > high),
    };
    if moved {
        return Ok(new);
    }
    Err(match end {
        Some(end) if bound == inside(sendable(end.value), GUARD_INSIDE_END_US, side) => {
            format!("the end is at {} µs", number(end.value))
        }
        _ => "it reaches 50 µs beyond this pulse already: jog nearer first".to_owned(),
    })
}

/// The longest path that a sentence of 80 columns has room for.
const LONGEST_SHOWN: usize = 34;

/// A path fit for a sentence on a terminal: what would move the cursor is replaced, and of a long one the name is kept.
pub fn path_shown(path: &Path) -> String {
    let text = path.display().to_string().replace(char::is_control, "?");
    match path.file_name() {
        Some(name) if text.chars().count() > LONGEST_SHOWN => {
            let name = name.to_string_lossy().replace(char::is_control, "?");
            format!("…/{name}")
        }
        _ => text,
    }
}

/// A number as the screens write it: no `.0`, at most two decimals, the minus sign a real one.
pub fn number(x: f64) -> String {
    let rounded = (x * 100.0).round() / 100.0;
    let text = format!("{}", rounded.abs());
    if rounded < 0.0 {
        format!("−{text}")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{Method, Recorded};

    const STAMP: &str = "2026-03-14T10:22:05Z";

    fn pulse(us: f64) -> Pulse {
        Pulse::from_us(us).expect("in range")
    }

    #[test]
    fn a_long_path_is_shown_by_its_name_and_none_moves_the_cursor() {
        let shown = |path: &str| path_shown(Path::new(path));
        assert_eq!(
            shown("calibrations/my-marram.toml"),
            "calibrations/my-marram.toml"
        );
        assert_eq!(
            shown("/a/very/long/way/to/the/builders/bench.toml"),
            "…/bench.toml"
        );
        assert_eq!(shown("a\x1b[2J.toml"), "a?[2J.toml");
    }

    #[test]
    fn a_guard_widens_by_at_most_50_beyond_the_pulse_and_never_past_an_end() {
        let mut joint = Joint::default();
        assert_eq!(
            widened(&joint, Side::Far, pulse(1590.0)),
            Ok((pulse(1400.0), pulse(1640.0)))
        );
        assert_eq!(
            widened(&joint, Side::Near, pulse(1400.0)),
            Ok((pulse(1350.0), pulse(1600.0)))
        );
        assert!(widened(&joint, Side::Far, pulse(1550.0)).is_err());
        joint.far_end = Some(Recorded {
            value: 1640.0,
            spread: None,
            at: STAMP.into(),
            by: Method::Jog,
        });
        assert_eq!(
            widened(&joint, Side::Far, pulse(1590.0)),
            Ok((pulse(1400.0), pulse(1613.0)))
        );
        joint.guard = Some((pulse(1400.0), pulse(1613.0)));
        assert_eq!(
            widened(&joint, Side::Far, pulse(1610.0)),
            Err("the end is at 1640 µs".into())
        );
    }
}
