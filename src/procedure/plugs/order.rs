//! Remarks on a wiring that works: what is unlike the other legs is often a plug or a servo in the wrong place.
//!
//! Nothing here forbids anything: a robot may be wired as its builder likes.

use crate::calibration::logbook::Way;
use crate::calibration::model::{JointKind, JointRef, Robot};
use crate::procedure::words::{PlugRow, Reaction};
use crate::units::Pin;

/// What is unlike the others, one sentence each; the order of the pins is no matter where it is the plan's.
pub(super) fn remarks(robot: &Robot, rows: &[PlugRow], as_planned: bool) -> Vec<String> {
    let mut all = Vec::new();
    if !as_planned {
        all.extend(unlike_order(robot, rows));
    }
    all.extend(unlike_way(robot, rows));
    all
}

fn found(rows: &[PlugRow], at: JointRef) -> Option<(Pin, Way)> {
    rows.iter().find_map(|row| match &row.found {
        Reaction::Moved { joint, way, .. } if *joint == at => Some((row.pin, *way)),
        _ => None,
    })
}

/// The value that more than half of them have.
fn common<T: PartialEq + Copy>(all: &[T]) -> Option<T> {
    let count = |value: &T| all.iter().filter(|it| *it == value).count();
    let most = all.iter().copied().max_by_key(|it| count(it))?;
    (2 * count(&most) > all.len() && all.len() > 2).then_some(most)
}

/// A leg whose pins do not follow each other as those of most legs do.
fn unlike_order(robot: &Robot, rows: &[PlugRow]) -> Vec<String> {
    // Which joint has the smallest pin, the next, the greatest.
    let order = |leg: usize| {
        let mut pins = Vec::new();
        for kind in JointKind::ALL {
            pins.push((found(rows, JointRef { leg, kind })?.0, kind));
        }
        pins.sort();
        Some((leg, [pins[0], pins[1], pins[2]]))
    };
    let legs: Vec<_> = (0..robot.legs.len()).filter_map(order).collect();
    let kinds = |pins: &[(Pin, JointKind); 3]| pins.map(|(_, kind)| kind);
    let orders: Vec<_> = legs.iter().map(|(_, pins)| kinds(pins)).collect();
    let Some(usual) = common(&orders) else {
        return Vec::new();
    };
    let odd = legs.iter().filter(|(_, pins)| kinds(pins) != usual);
    odd.map(|(leg, pins)| {
        let moved = pins
            .iter()
            .zip(usual)
            .filter(|((_, kind), usual)| kind != usual);
        let names: Vec<String> = moved
            .map(|((pin, kind), _)| format!("{pin} {}", kind.word()))
            .collect();
        let name = &robot.legs[*leg].name;
        format!(
            "! {name}: {} are not in the order of the other legs",
            names.join(" and ")
        )
    })
    .collect()
}

/// A joint that turns the other way than the same joint of all other legs of its side.
fn unlike_way(robot: &Robot, rows: &[PlugRow]) -> Vec<String> {
    let mut all = Vec::new();
    for (left, side) in [(true, "left"), (false, "right")] {
        for kind in JointKind::ALL {
            let legs = robot.legs.iter().enumerate();
            let ways: Vec<(usize, Way)> = legs
                .filter(|(_, leg)| (leg.mount.y_mm > 0.0) == left && leg.mount.y_mm != 0.0)
                .filter_map(|(leg, _)| Some((leg, found(rows, JointRef { leg, kind })?.1)))
                .collect();
            let values: Vec<Way> = ways.iter().map(|(_, way)| *way).collect();
            let Some(usual) = common(&values) else {
                continue;
            };
            for (leg, _) in ways.iter().filter(|(_, way)| *way != usual) {
                all.push(format!(
                    "! {} {} turns the other way than the other {side} ones: was its way seen right, is its servo built in mirrored?",
                    robot.legs[*leg].name,
                    kind.word()
                ));
            }
        }
    }
    all
}
