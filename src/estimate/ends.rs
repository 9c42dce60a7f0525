//! From the finds of one end to where it is.

use super::joint::tidy;
use super::knowledge::EndFind;
use super::line::student_t;
use crate::calibration::logbook::EndKind;
use crate::calibration::model::{Method, Recorded};

/// A builder's spread in saying where a peck met the end, µs: stated, worth [`STATED_WORTH`] finds.
const STATED_SD_US: f64 = 5.0;
const STATED_WORTH: f64 = 4.0;

/// Where the end is, by these finds: the last one if it was recorded while jogging,
/// else the mean of the pecks and trips since.
///
/// The ± needs two finds: it is half the 95 % interval of their mean, with a stated spread of 5 µs
/// counted as four finds, since two that agree by chance say little of the spread.
pub(super) fn value(finds: &[EndFind], at: &str) -> Option<Recorded> {
    let last = finds.last()?;
    let recorded = |value: f64, spread: Option<f64>, by| {
        Some(Recorded {
            value: tidy(value),
            spread: spread.map(tidy),
            at: at.to_owned(),
            by,
        })
    };
    if last.by == EndKind::Jog {
        return recorded(last.pulse_us, None, Method::Jog);
    }
    let run: Vec<f64> = finds
        .iter()
        .rev()
        .take_while(|it| it.by != EndKind::Jog)
        .map(|it| it.pulse_us)
        .collect();
    let count = run.len() as f64;
    let mean = run.iter().sum::<f64>() / count;
    if run.len() < 2 {
        return recorded(mean, None, Method::Peck);
    }
    let squares: f64 = run.iter().map(|us| (us - mean).powi(2)).sum();
    let dof = STATED_WORTH + count - 1.0;
    let sd = ((STATED_WORTH * STATED_SD_US.powi(2) + squares) / dof).sqrt();
    recorded(
        mean,
        Some(student_t(0.95, dof) * sd / count.sqrt()),
        Method::Peck,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finds(list: &[(f64, EndKind)]) -> Vec<EndFind> {
        list.iter()
            .zip(1..)
            .map(|(&(pulse_us, by), n)| EndFind {
                n,
                pulse_us,
                by,
                why: None,
                others: Vec::new(),
            })
            .collect()
    }

    #[test]
    fn pecks_are_averaged_and_a_jog_stands_alone() {
        let at = "2026-03-14T10:22:05Z";
        let pecks = finds(&[(868.0, EndKind::Peck), (872.0, EndKind::Peck)]);
        let end = value(&pecks, at).expect("found");
        assert_eq!((end.value, end.by), (870.0, Method::Peck));
        // By hand: sd² = (4·25 + 8)/5 = 21.6, ± = 2.5706·√21.6/√2 = 8.448.
        assert!((end.spread.expect("two finds") - 8.448).abs() < 1e-3);
        let jog = finds(&[(868.0, EndKind::Peck), (880.0, EndKind::Jog)]);
        let end = value(&jog, at).expect("found");
        assert_eq!((end.value, end.spread, end.by), (880.0, None, Method::Jog));
        let again = finds(&[(880.0, EndKind::Jog), (868.0, EndKind::Peck)]);
        assert_eq!(value(&again, at).map(|it| it.value), Some(868.0));
        assert_eq!(value(&[], at), None);
    }
}
