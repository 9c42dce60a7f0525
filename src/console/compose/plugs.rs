//! The question which joint a pin drives, as the view draws it.

use std::time::Duration;

use super::guided::{lit, scale_of};
use super::sight;
use crate::calibration::logbook::Way;
use crate::calibration::{JointKind, JointRef};
use crate::console::guided::Guided;
use crate::console::places;
use crate::console::state::State;
use crate::console::view::{PlugLine, Plugs};
use crate::procedure::{Detail, PlugRow, Reaction, Step, direction};

/// The page.
pub fn page(state: &State, guided: &Guided, step: &Step, now: Duration) -> Plugs {
    let Detail::Plugs {
        chosen,
        way,
        also,
        rows,
        ..
    } = &step.picture.detail
    else {
        return Plugs::default();
    };
    let robot = state.work.robot();
    let mut drives = chosen.map(|at| robot.title(at)).unwrap_or_default();
    if let Some(first) = also.first() {
        drives.push_str(&format!(" + {}", robot.title(*first)));
    }
    let pin = step.picture.pin;
    let pin_text = pin.map(|pin| pin.to_string()).unwrap_or_default();
    let known = rows.iter().filter(|row| row.found != Reaction::Unknown);
    let answered = known.clone().count();
    let wrong = known.filter(|row| is_wrong(state, row)).count();
    let is_planned = rows.iter().any(|row| row.planned.is_some());
    Plugs {
        robot: lit(state, Some(chosen.unwrap_or(state.chosen))),
        drives,
        way: match (chosen, way) {
            (Some(at), Some(way)) => way_text(state, *at, *way),
            _ => String::new(),
        },
        // The present one, then those that were answered, the newest first, then the rest.
        rows: order(rows)
            .iter()
            .enumerate()
            .map(|(index, row)| line(state, row, (index == 0).then_some(*chosen)))
            .collect(),
        notes: step.lines.clone(),
        counts: vec![
            (
                if is_planned {
                    "as planned so far".into()
                } else {
                    "clear so far".into()
                },
                format!("{} of {answered}", answered - wrong),
            ),
            (
                if is_planned {
                    "not as planned".into()
                } else {
                    "not clear".into()
                },
                match wrong {
                    0 => "none yet".into(),
                    n => format!("{n}, sorted at the end"),
                },
            ),
            ("not answered".into(), not_answered(rows)),
        ],
        sight: sight::of_plugs(state, guided),
        scale: scale_of(state, step, now),
        scale_title: format!("pin {pin_text}"),
        pin: pin_text,
    }
}

/// The present pin, then the answered ones backwards, then the others.
fn order(rows: &[PlugRow]) -> Vec<&PlugRow> {
    let mut all: Vec<&PlugRow> = rows.iter().take(1).collect();
    let rest = &rows[1.min(rows.len())..];
    let known = |row: &&PlugRow| row.found != Reaction::Unknown;
    all.extend(rest.iter().rev().filter(known));
    all.extend(rest.iter().filter(|row| !known(row)));
    all
}

/// `34 to 39`, as far as they follow each other.
fn not_answered(rows: &[PlugRow]) -> String {
    let open = rows.iter().filter(|row| row.found == Reaction::Unknown);
    let mut pins: Vec<_> = open.map(|row| row.pin).collect();
    pins.sort_unstable();
    match (pins.first(), pins.last()) {
        (Some(first), Some(last)) if first != last => {
            format!("{}: {first} to {last}", pins.len())
        }
        (Some(one), _) => one.to_string(),
        _ => "none".into(),
    }
}

fn line(state: &State, row: &PlugRow, present: Option<Option<JointRef>>) -> PlugLine {
    let robot = state.work.robot();
    let planned = row.planned.map(|at| robot.title(at)).unwrap_or_default();
    let found = match (&row.found, present) {
        (_, Some(Some(at))) => format!("{} ?", robot.title(at)),
        (_, Some(None)) => "?".into(),
        (Reaction::Unknown, _) => String::new(),
        (Reaction::Nothing, _) => "nothing".into(),
        (Reaction::Moved { joint, way, also }, _) => {
            let more = if also.is_empty() { "" } else { " +" };
            format!(
                "{} {}{more}",
                robot.title(*joint),
                short(state, *joint, *way)
            )
        }
    };
    PlugLine {
        pin: row.pin.to_string(),
        found,
        planned,
        wrong: is_wrong(state, row),
    }
}

/// Not as planned; where nothing is planned, only what cannot be: two joints on a pin, or a joint that is planned elsewhere.
fn is_wrong(state: &State, row: &PlugRow) -> bool {
    match (&row.found, row.planned) {
        (Reaction::Unknown, _) => false,
        (Reaction::Nothing, planned) => planned.is_some(),
        (Reaction::Moved { joint, also, .. }, Some(planned)) => {
            *joint != planned || !also.is_empty()
        }
        (Reaction::Moved { joint, also, .. }, None) => {
            let known = state.work.known().joint(*joint);
            !also.is_empty() || known.is_some_and(|it| it.planned_pin.is_some())
        }
    }
}

/// The way that a joint goes, as a person sees it.
pub fn way_word(state: &State, at: JointRef, positive: bool) -> &'static str {
    let yaw = state
        .work
        .robot()
        .legs
        .get(at.leg)
        .map_or(0.0, |leg| leg.mount.yaw_deg);
    direction(at.kind, yaw, positive)
}

fn short(state: &State, at: JointRef, way: Way) -> &'static str {
    match way_word(state, at, way == Way::Positive) {
        "forward" => "fore",
        word => word,
    }
}

/// `forward  ↓`: in words, and as an arrow on the picture as it is turned.
fn way_text(state: &State, at: JointRef, way: Way) -> String {
    let positive = way == Way::Positive;
    let word = way_word(state, at, positive);
    let arrow = match at.kind {
        JointKind::Femur | JointKind::Tibia if positive => '↑',
        JointKind::Femur | JointKind::Tibia => '↓',
        JointKind::Coxa => {
            let mount = state.work.robot().legs.get(at.leg).map(|leg| leg.mount);
            let (right, up) = places::swing(&mount.unwrap_or_default(), state.turn);
            let sign = if positive { 1.0 } else { -1.0 };
            let (right, up) = (right * sign, up * sign);
            match (right.abs() > up.abs() + 0.1, right > 0.0, up > 0.0) {
                (true, true, _) => '→',
                (true, false, _) => '←',
                (false, _, true) => '↑',
                (false, _, false) => '↓',
            }
        }
    };
    format!("{word}  {arrow}")
}
