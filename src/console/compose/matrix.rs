//! The matrix of what is known, and what is wrong in words under it.

use std::collections::BTreeMap;

use super::family;
use crate::calibration::{Joint, JointKind, JointRef};
use crate::console::guided::task::found_off;
use crate::console::state::State;
use crate::console::view::dialog::wrapped;
use crate::console::view::pen::columns;
use crate::console::view::{self, CellKind};
use crate::estimate::family::Odd;
use crate::estimate::knowledge::{JointKnown, PlugFound, Source};
use crate::units::Pin;

/// Columns under the matrix.
const WIDTH: i32 = 40;

/// Under the matrix, at most three lines: how far it is, then what is wrong, the weightiest first.
pub fn notes(state: &State) -> Vec<String> {
    let (robot, known) = (state.work.robot(), state.work.known());
    let all = robot.joints().count();
    // A scale from a data sheet is no mark's.
    let nominal = robot.nominal();
    let marked = known
        .joints
        .iter()
        .filter(|it| it.source != Source::Nothing && !nominal.contains(&it.at));
    let ended = robot
        .joints()
        .filter(|(_, joint)| joint.near_end.is_some() && joint.far_end.is_some());
    let (marked, ended) = (marked.count(), ended.count());
    let mut notes = vec![format!(
        "{marked} of {all} joints marked, {ended} have both ends"
    )];
    if columns(&notes[0]) > WIDTH {
        notes[0] = format!("{marked} of {all} marked, {ended} have both ends");
    }
    notes.extend(plug_notes(state));
    for odd in family::odd(state) {
        let why = odd.words(robot);
        let why = why.split(": ").take(2).collect::<Vec<_>>().join(": ");
        let why = why.replace(" -", " −");
        let lines = wrapped(&why, WIDTH - 2);
        let signs = std::iter::once("!").chain(std::iter::repeat(" "));
        notes.extend(
            signs
                .zip(lines)
                .map(|(sign, line)| format!("{sign} {line}")),
        );
    }
    notes.truncate(3);
    notes
}

/// Plugs that are exchanged, and pins on which nothing moved.
fn plug_notes(state: &State) -> Vec<String> {
    let known = state.work.known();
    let mut notes = Vec::new();
    if !known.map_accepted {
        for it in &known.joints {
            let Some((planned, found)) = it.planned_pin.zip(it.found_pin) else {
                continue;
            };
            let other = known
                .joints
                .iter()
                .find(|other| other.planned_pin == Some(found));
            let exchanged = other.is_some_and(|other| other.found_pin == Some(planned));
            if planned != found && !(exchanged && planned > found) {
                notes.push(if exchanged {
                    format!("! plugs {planned} and {found} are exchanged")
                } else {
                    format!("! {} was found on pin {found}, not {planned}", it.name)
                });
            }
        }
    }
    // A pin that no joint was meant to have says something only while a joint is looked for.
    let wanted = known.joints.iter().any(|it| it.found_pin.is_none());
    let meant = |pin: &Pin| known.joints.iter().any(|it| it.planned_pin == Some(*pin));
    for (pin, found) in &known.plugs {
        if found.joint.is_none() && (wanted || meant(pin)) {
            notes.push(format!("× pin {pin}: nothing moved"));
        }
    }
    notes
}

/// The matrix of what is known.
pub fn matrix(state: &State) -> view::Matrix {
    let robot = state.work.robot();
    let odd = family::odd(state);
    let rows = robot
        .legs
        .iter()
        .enumerate()
        .map(|(leg, it)| view::MatrixRow {
            leg: it.name.clone(),
            cells: JointKind::ALL.map(|kind| cell(state, &odd, JointRef { leg, kind })),
        })
        .collect();
    view::Matrix {
        rows,
        chosen: Some((state.chosen.leg, state.chosen.kind.index())),
    }
}

fn cell(state: &State, odd: &[Odd], at: JointRef) -> view::Cell {
    let (Some(joint), Some(known)) = (state.work.robot().joint(at), state.work.known().joint(at))
    else {
        return view::Cell::default();
    };
    let plain = |text: String| view::Cell {
        text,
        kind: CellKind::Plain,
    };
    let wrong = |text: String| view::Cell {
        text,
        kind: CellKind::Wrong,
    };
    if let Some(off) = found_off(state, at) {
        return wrong(format!("off {:.0}° !", off.abs()));
    }
    if let Some(odd) = odd.iter().find(|it| it.joint == at) {
        return wrong(family::cell(odd));
    }
    let limited = joint.limits.is_some();
    let source = known.source != Source::Nothing;
    match (joint.short_deg(), limited && source) {
        (Some((below, above)), true) if below.max(above) >= 0.5 => {
            return wrong(format!("short {}° !", below.max(above).round()));
        }
        (_, true) => return plain(spread_at_middle(joint).unwrap_or_else(|| "known".into())),
        _ => {}
    }
    let plugs = &state.work.known().plugs;
    let planned = known.planned_pin.or(joint.pin);
    if known.found_pin.is_none() && planned.is_some_and(|pin| silent(plugs, pin)) {
        return view::Cell {
            text: "dead ×".into(),
            kind: CellKind::Dead,
        };
    }
    if let (Some(found), false) = (known.found_pin, state.work.known().map_accepted)
        && planned != Some(found)
    {
        return wrong(format!("plug {found} !"));
    }
    if source {
        let ends = (joint.near_end.is_some(), joint.far_end.is_some());
        return plain(match ends {
            (true, true) => "limits ?".into(),
            (false, true) => "near end ?".into(),
            (true, false) => "far end ?".into(),
            (false, false) if known.marks.is_empty() => "ends ?".into(),
            (false, false) => marks_word(known),
        });
    }
    plain(match (known.marks.len(), known.bounds, known.found_pin) {
        (0, None, None) if joint.zero.is_some() => "zero".into(),
        (0, None, None) => "plug ?".into(),
        (0, None, Some(pin)) => format!("plug {pin}"),
        (0, Some(_), _) => "bounds".into(),
        _ => marks_word(known),
    })
}

/// `5 marks`; one that is doubted makes it a question.
fn marks_word(known: &JointKnown) -> String {
    let doubted = known
        .fit
        .as_ref()
        .is_some_and(|fit| fit.doubted().next().is_some());
    let doubt = if doubted { " ?" } else { "" };
    match known.marks.len() {
        1 => format!("1 mark{doubt}"),
        n => format!("{n} marks{doubt}"),
    }
}

/// Nothing moved on this pin.
fn silent(plugs: &BTreeMap<Pin, PlugFound>, pin: Pin) -> bool {
    plugs.get(&pin).is_some_and(|found| found.joint.is_none())
}

/// `±0.9°`: what the zero's and the scale's ± make of an angle at mid-travel, as if they were independent.
fn spread_at_middle(joint: &Joint) -> Option<String> {
    let (zero, scale) = (joint.zero.as_ref()?, joint.scale.as_ref()?);
    let (low, high) = joint.allowed_us();
    let middle = joint.angle_deg((low + high) / 2.0)?;
    let from_zero = zero.spread? / scale.value;
    let from_scale = scale.spread? * middle / scale.value;
    Some(format!("±{:.1}°", from_zero.hypot(from_scale)))
}
