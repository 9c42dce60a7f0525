//! What `hornset fit` prints for a person: one line a joint, then whether the file agrees.

use std::fmt::Write;

use super::Fit;
use crate::calibration::file;
use crate::calibration::logbook::End;
use crate::calibration::{Joint, Recorded};
use crate::estimate::counting;
use crate::estimate::knowledge::{JointKnown, Source};

impl Fit {
    /// All of it.
    pub(super) fn as_text(&self) -> String {
        let mut text = String::new();
        let entries = self.contents.entries.len();
        let _ = if self.without {
            writeln!(
                text,
                "{}: no logbook yet; the file's values, as the console will take them over",
                self.known.robot.name
            )
        } else {
            writeln!(
                text,
                "{}: {entries} entries, {} count",
                self.known.robot.name,
                counting(&self.contents.entries).len()
            )
        };
        if let Some(torn) = &self.contents.torn {
            let _ = writeln!(
                text,
                "! line {} was torn by a crash: {} bytes that were never shown as recorded",
                torn.line, torn.bytes
            );
        }
        for n in &self.contents.missing {
            let _ = writeln!(text, "! entry {n} is missing: its line was taken out");
        }
        for n in &self.known.strays {
            let _ = writeln!(
                text,
                "! entry {n} is about a joint that the plan does not have"
            );
        }
        for known in &self.known.joints {
            let _ = writeln!(text, "{}", line(known, &self.joint(known)));
            for doubt in &known.doubts {
                let _ = writeln!(text, "  ! {doubt}");
            }
        }
        match (self.differences(), &self.file) {
            (Some(differences), Some((path, _))) => {
                let name = file::shown(path);
                if differences.is_empty() {
                    let _ = writeln!(text, "{name} agrees");
                } else {
                    let _ = writeln!(text, "{name} says otherwise:");
                }
                for it in differences {
                    let written = |it: &Option<String>| match it {
                        Some(it) => it.trim().to_owned(),
                        None => "nothing".into(),
                    };
                    let _ = match &it.joint {
                        Some(joint) => writeln!(
                            text,
                            "  {joint} {}: {}, the logbook gives {}",
                            it.key,
                            written(&it.file),
                            written(&it.logbook)
                        ),
                        None => writeln!(text, "  body, legs or lengths differ from the plan"),
                    };
                }
            }
            _ => {
                let _ = writeln!(text, "there is no calibration file beside it");
            }
        }
        text
    }
}

/// `LF femur: pin 23, zero 1487.5 ± 4 µs, … from a fit of 12 marks; ends 868 … (3 finds) …`
fn line(known: &JointKnown, joint: &Joint) -> String {
    let mut parts = Vec::new();
    parts.push(match joint.pin {
        Some(pin) if known.found_pin == Some(pin) => format!("pin {pin}, seen"),
        Some(pin) => format!("pin {pin}, planned"),
        None => "no pin".into(),
    });
    // Tenths of a µs and of a degree are finer than any bench measures; hundredths of a µs/°.
    let with = |it: &Recorded, decimals: usize| {
        let value = rounded(it.value, decimals);
        match it.spread {
            Some(spread) => format!("{value} ± {}", rounded(spread, decimals)),
            None => value,
        }
    };
    let marks = known.marks.len();
    let turning: Vec<String> = [
        joint
            .zero
            .as_ref()
            .map(|it| format!("zero {} µs", with(it, 1))),
        joint
            .scale
            .as_ref()
            .map(|it| format!("{} µs/°", with(it, 2))),
        joint
            .play_deg
            .as_ref()
            .map(|it| format!("play {}°", with(it, 1))),
    ]
    .into_iter()
    .flatten()
    .collect();
    if turning.is_empty() {
        parts.push(match marks {
            0 => "no marks".into(),
            1 => "1 mark, too few".into(),
            n => format!("{n} marks, too few"),
        });
    } else {
        let from = match known.source {
            Source::Fit => format!("a fit of {marks} marks"),
            Source::Line => format!("a line through {marks} marks"),
            Source::Typed => "what was typed".into(),
            Source::TakenOver => "what was taken over".into(),
            Source::Nothing if marks > 0 => format!("{marks} marks"),
            Source::Nothing => "what was taken over".into(),
        };
        parts.push(format!("{} from {from}", turning.join(", ")));
    }
    for (end, value) in [(End::Near, &joint.near_end), (End::Far, &joint.far_end)] {
        let word = end.word();
        let finds = known.end(end).finds.len();
        parts.push(match (value, finds) {
            (None, _) => format!("{word} end ?"),
            (Some(it), 0) => format!("{word} end {} µs, taken over", with(it, 1)),
            (Some(it), 1) => format!("{word} end {} µs, found once", with(it, 1)),
            (Some(it), n) => format!("{word} end {} µs, found {n} times", with(it, 1)),
        });
    }
    for part in &known.stale {
        parts.push(format!("{} of the former servo only", part.word()));
    }
    format!("{}: {}", known.name, parts.join("; "))
}

/// So many decimals at most, and none that say nothing: `1487.5`, `1500`.
fn rounded(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".into(),
        text => text.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::rounded;

    #[test]
    fn no_more_decimals_are_printed_than_are_meant() {
        for (number, decimals, text) in [
            (23.2402, 1, "23.2"),
            (1500.0, 1, "1500"),
            (-10.6249, 2, "-10.62"),
            (-0.04, 1, "0"),
            (1487.98, 1, "1488"),
        ] {
            assert_eq!(rounded(number, decimals), text);
        }
    }
}
