//! Which values of a robot contradict each other, or should make its builder look again.
//!
//! Works on values that were read one by one; says nothing about their spelling.

use std::collections::HashMap;

use super::finding::Fault;
use super::model::{Joint, Robot};
use super::reader::Reader;

/// The pin that the boot loader blinks at every reset. Common practice on boards with this chip.
const LIGHT_PIN: u8 = 13;

/// Notes every contradiction, with the place of the value that is met second.
pub(super) fn check(reader: &mut Reader<'_>, robot: &Robot) {
    leg_names(reader, robot);
    twice(
        reader,
        robot,
        "pin",
        |joint| joint.pin.map(|pin| pin.to_string()),
        Fault::DuplicatePin,
        "a pin that no other joint has",
        "One plug, one joint: write what is printed beside each plug.",
    );
    twice(
        reader,
        robot,
        "servo",
        |joint| joint.servo.clone(),
        Fault::DuplicateServo,
        "a number that no other servo has",
        "Each servo has its own sticker: look at both.",
    );
    for (at, joint) in robot.joints() {
        let path = format!("leg.{}.{}", at.leg, at.kind);
        check_joint(reader, joint, &robot.title(at), &path);
    }
}

fn leg_names(reader: &mut Reader<'_>, robot: &Robot) {
    let mut seen: HashMap<&str, usize> = HashMap::new();
    for (index, leg) in robot.legs.iter().enumerate() {
        if leg.name.is_empty() {
            continue;
        }
        if let Some(first) = seen.insert(&leg.name, index) {
            let line = reader.line_of(&format!("leg.{first}.name"));
            let offset = reader.place_of(&format!("leg.{index}.name"));
            reader.note(
                Fault::DuplicateLeg,
                offset,
                &format!("leg {} name", index + 1),
                format!("{}, as in line {line}", leg.name),
                "a name that no other leg has",
                "Name legs from the robot's own view: LF, LM, LR, RF, RM, RR.",
            );
        }
    }
}

fn twice(
    reader: &mut Reader<'_>,
    robot: &Robot,
    key: &str,
    of: impl Fn(&Joint) -> Option<String>,
    fault: Fault,
    expected: &str,
    remedy: &str,
) {
    let mut seen = HashMap::new();
    for (at, joint) in robot.joints() {
        let Some(value) = of(joint) else { continue };
        if let Some(&first) = seen.get(&value) {
            let path = |of: super::JointRef| format!("leg.{}.{}.{key}", of.leg, of.kind);
            let line = reader.line_of(&path(first));
            let offset = reader.place_of(&path(at));
            reader.note(
                fault,
                offset,
                &format!("{} {key}", robot.title(at)),
                format!(
                    "{}, which {} has too (line {line})",
                    value.escape_debug(),
                    robot.title(first)
                ),
                expected,
                remedy,
            );
        } else {
            seen.insert(value, at);
        }
    }
}

fn check_joint(reader: &mut Reader<'_>, joint: &Joint, title: &str, path: &str) {
    let near = joint.near_end.as_ref().map(|end| end.value);
    let far = joint.far_end.as_ref().map(|end| end.value);
    if let (Some(near), Some(far)) = (near, far)
        && near >= far
    {
        let offset = reader.place_of(&format!("{path}.far_end_us"));
        reader.note(
            Fault::EndsSwapped,
            offset,
            &format!("{title} far_end_us"),
            format!("{far}, not above near_end_us = {near}"),
            "the near end at the smaller pulse, the far end at the larger",
            "Exchange the two; this is so on mirrored joints too.",
        );
        return;
    }
    if let Some((low, high)) = joint.limits {
        beyond(
            reader,
            Fault::LimitsOutsideEnds,
            (title, path, "limits_us"),
            (low.us(), high.us()),
            (near, far),
            "limits inside the ends",
            "Keep a margin from each end, 20 to 40 µs, so that nothing rests against it.",
        );
    }
    if let Some((low, high)) = joint.guard {
        beyond(
            reader,
            Fault::GuardOutsideEnds,
            (title, path, "guard_us"),
            (low.us(), high.us()),
            (near, far),
            "a guard inside the ends",
            "Narrow the guard once the ends are known: the board would let a servo press against an end.",
        );
        if let Some((near, far)) = joint.limits {
            beyond(
                reader,
                Fault::LimitsOutsideGuard,
                (title, path, "limits_us"),
                (near.us(), far.us()),
                (Some(low.us()), Some(high.us())),
                "limits inside the guard",
                "The board refuses what lies outside the guard: widen it, or narrow the limits.",
            );
        }
    }
    if let Some((below, above)) = joint.short_deg()
        && below.max(above) > 0.05
    {
        let offset = reader.place_of(&format!("{path}.needed_deg"));
        let (need_low, need_high) = joint.needed_deg.unwrap_or_default();
        let (low, high) = joint.allowed_deg().unwrap_or_default();
        reader.note(
            Fault::NeededShort,
            offset,
            &format!("{title} needed_deg"),
            format!(
                "{need_low}° to {need_high}°, short {:.1}°",
                below.max(above)
            ),
            format!("at most {low:.1}° to {high:.1}°, what ends and limits leave"),
            "Move the horn by a tooth, or plan gaits with less.",
        );
    }
    if joint.pin.is_some_and(|pin| pin.number() == LIGHT_PIN) {
        let offset = reader.place_of(&format!("{path}.pin"));
        reader.note(
            Fault::LightPin,
            offset,
            &format!("{title} pin"),
            "13, which a boot loader blinks at every reset",
            "another pin",
            "The servo gets stray edges at each reset: use another plug if one is free.",
        );
    }
}

/// Notes a pair that reaches beyond its bounds, with both amounts.
fn beyond(
    reader: &mut Reader<'_>,
    fault: Fault,
    (title, path, key): (&str, &str, &str),
    (low, high): (f64, f64),
    (near, far): (Option<f64>, Option<f64>),
    expected: &str,
    remedy: &str,
) {
    let below = near.filter(|&near| low < near);
    let above = far.filter(|&far| high > far);
    let found = match (below, above) {
        (None, None) => return,
        (Some(near), None) => format!("{low}, below {near}"),
        (None, Some(far)) => format!("{high}, above {far}"),
        (Some(near), Some(far)) => format!("[{low}, {high}], beyond {near} and {far}"),
    };
    let offset = reader.place_of(&format!("{path}.{key}"));
    reader.note(
        fault,
        offset,
        &format!("{title} {key}"),
        found,
        expected,
        remedy,
    );
}
