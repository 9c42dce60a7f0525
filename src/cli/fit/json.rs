//! What `hornset fit --json` prints; every key is documented in the command's help.

use serde_json::{Value, json};

use super::Fit;
use crate::calibration::logbook::End;
use crate::calibration::{Joint, Recorded, Span};
use crate::estimate::counting;
use crate::estimate::knowledge::{JointKnown, Source};

impl Fit {
    /// All of it.
    pub(super) fn as_json(&self) -> Value {
        let joints = self.known.joints.iter();
        json!({
            "file": self.file.as_ref().map(|(path, _)| path.display().to_string()),
            "logbook": self.logbook.display().to_string(),
            "name": self.known.robot.name,
            "entries": if self.without { 0 } else { self.contents.entries.len() },
            "counting": if self.without { 0 } else { counting(&self.contents.entries).len() },
            "torn_bytes": self.contents.torn.as_ref().map_or(0, |torn| torn.bytes),
            "missing_entries": self.contents.missing,
            "strays": self.known.strays,
            "agrees": self.differences().map(|it| it.is_empty()),
            "differences": self.differences().unwrap_or_default().iter().map(|it| json!({
                "joint": it.joint,
                "key": it.key,
                "file": it.file.as_deref().map(str::trim),
                "logbook": it.logbook.as_deref().map(str::trim),
            })).collect::<Vec<_>>(),
            "joints": joints.map(|it| joint_json(it, &self.joint(it))).collect::<Vec<_>>(),
        })
    }
}

fn source(known: &JointKnown) -> &'static str {
    match known.source {
        Source::Nothing => "nothing",
        Source::TakenOver => "taken-over",
        Source::Typed => "typed",
        Source::Line => "line",
        Source::Fit => "fit",
    }
}

fn joint_json(known: &JointKnown, joint: &Joint) -> Value {
    let recorded = |it: &Option<Recorded>| {
        it.as_ref().map(
            |it| json!({ "value": it.value, "spread": it.spread, "at": it.at, "by": it.by.word() }),
        )
    };
    let span = |it: Option<Span>| it.map(|(low, high)| [low.us(), high.us()]);
    let fit = known.fit.as_ref();
    let marks = known.marks.iter().enumerate().map(|(index, it)| {
        let residual = fit.and_then(|fit| fit.residuals.get(index));
        json!({
            "entry": it.n,
            "pulse_us": it.pulse_us,
            "angle_deg": it.angle_deg,
            "residual_deg": residual.map(|it| it.deg),
            "doubted": residual.is_some_and(|it| it.doubted),
        })
    });
    json!({
        "joint": known.name.to_string(),
        "pin": joint.pin.map(|pin| pin.to_string()),
        "servo": joint.servo,
        "zero_us": recorded(&joint.zero),
        "us_per_degree": recorded(&joint.scale),
        "play_deg": recorded(&joint.play_deg),
        "near_end_us": recorded(&joint.near_end),
        "far_end_us": recorded(&joint.far_end),
        "limits_us": span(joint.limits),
        "guard_us": span(joint.guard),
        "needed_deg": joint.needed_deg.map(|(low, high)| [low, high]),
        "from": source(known),
        "bend_deg": fit.filter(|fit| fit.bent).map(|fit| fit.bend_deg.value),
        "marks": marks.collect::<Vec<_>>(),
        "near_finds": known.end(End::Near).finds.len(),
        "far_finds": known.end(End::Far).finds.len(),
        "stale": known.stale.iter().map(|it| it.word()).collect::<Vec<_>>(),
        "doubts": known.doubts,
    })
}
