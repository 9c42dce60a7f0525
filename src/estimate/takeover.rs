//! What a calibration file says that no entry of its logbook tells: it is taken over by hand.
//!
//! A file without a logbook is taken over whole, as the logbook's first entries.
//! A file that was edited since it was last saved is taken over where it was edited.

use super::fold::{counting, knowledge};
use super::knowledge::Knowledge;
use crate::calibration::edit;
use crate::calibration::logbook::{Entry, JointName, Part, Plan, Taken, What};
use crate::calibration::model::{Joint, Recorded, Robot, Span};

/// The entries that are missing for the logbook to know what the file says.
///
/// `sha256` is that of the file's bytes. Nothing is missing in a logbook whose last `saved` entry names the same;
/// what the logbook knows and the file does not is no matter of this.
pub fn taken_over(file: &Robot, sha256: &str, entries: &[Entry]) -> Vec<What> {
    let has_plan = counting(entries)
        .iter()
        .any(|it| matches!(it.what, What::Plan(_)));
    if !has_plan {
        return first_entries(file, sha256);
    }
    let now = knowledge(entries);
    // The state of the logbook that the file on the disk was last known to have.
    let saved = match &now.saved {
        Some((_, saved)) if saved == sha256 => return Vec::new(),
        Some((n, _)) => {
            let until: Vec<Entry> = entries.iter().filter(|it| it.n <= *n).cloned().collect();
            knowledge(&until)
        }
        None => now.clone(),
    };
    edited(file, &saved, &now)
}

fn first_entries(file: &Robot, sha256: &str) -> Vec<What> {
    let mut whats = vec![What::Plan(Plan::of(file))];
    for (at, joint) in file.joints() {
        let name = JointName::new(file.legs[at.leg].name.clone(), at.kind);
        let known = Joint {
            pin: joint.pin,
            needed_deg: joint.needed_deg,
            ..Joint::default()
        };
        whats.extend(values(&name, joint, &known, &known).1);
    }
    whats.push(What::Saved {
        sha256: sha256.to_owned(),
    });
    whats
}

fn edited(file: &Robot, saved: &Knowledge, now: &Knowledge) -> Vec<What> {
    let mut whats = Vec::new();
    let mut plan = Plan::of(file);
    let mut values_of_joints = Vec::new();
    let mut plugs = Vec::new();
    for (at, joint) in file.joints() {
        let leg = &file.legs[at.leg].name;
        let name = JointName::new(leg.clone(), at.kind);
        let blank = Joint::default();
        let in_robot = |robot: &Robot| {
            let (_, leg) = robot.leg_named(leg)?;
            Some(leg.joint(at.kind).clone())
        };
        let before = in_robot(&saved.robot).unwrap_or_else(|| blank.clone());
        let after = in_robot(&now.robot).unwrap_or_else(|| blank.clone());
        // A pin that nobody edited may have been found, or moved by an exchange: the plan stays what it was.
        let planned = &mut plan.joint_mut(at).pin;
        if joint.pin == before.pin || joint.pin == after.pin {
            *planned = match now.named(&name) {
                Some(known) => known.planned_pin.map(Into::into),
                None => *planned,
            };
        } else if now
            .named(&name)
            .is_some_and(|known| known.found_pin.is_some())
        {
            plugs.push(What::StartOver {
                joint: name.clone(),
                part: Part::Plug,
            });
        }
        // What was said of the needed travel and is not in the file yet was not taken out of it.
        if joint.needed_deg == before.needed_deg {
            plan.joint_mut(at).needed_deg = after.needed_deg;
        }
        let (removed, given) = values(&name, joint, &before, &after);
        values_of_joints.extend(removed);
        values_of_joints.extend(given);
    }
    if plan != planned_now(now) {
        whats.push(What::Plan(plan));
    }
    whats.extend(plugs);
    whats.extend(values_of_joints);
    whats
}

/// The plan as the logbook has it, with all maps that were accepted since.
fn planned_now(now: &Knowledge) -> Plan {
    let mut plan = Plan::of(&now.robot);
    for known in &now.joints {
        plan.joint_mut(known.at).pin = known.planned_pin.map(Into::into);
    }
    plan
}

/// What of this joint differs from both states of the logbook: what was taken out, and what was written in.
fn values(name: &JointName, file: &Joint, saved: &Joint, now: &Joint) -> (Vec<What>, Option<What>) {
    let changes = edit::changes(now, file);
    let by_hand = edit::changes(saved, file);
    let edited = |key: &str| {
        changes.iter().any(|it| it.key() == key) && by_hand.iter().any(|it| it.key() == key)
    };
    let out = |keys: &[(&str, bool)]| keys.iter().any(|&(key, there)| !there && edited(key));
    let over_marks = out(&[
        ("zero_us", file.zero.is_some()),
        ("us_per_degree", file.scale.is_some()),
        ("play_deg", file.play_deg.is_some()),
    ]);
    let over_ends = out(&[
        ("near_end_us", file.near_end.is_some()),
        ("far_end_us", file.far_end.is_some()),
        ("limits_us", file.limits.is_some()),
        ("guard_us", file.guard.is_some()),
    ]);
    let removed = [(over_marks, Part::Marks), (over_ends, Part::Ends)]
        .into_iter()
        .filter(|(is, _)| *is)
        .map(|(_, part)| What::StartOver {
            joint: name.clone(),
            part,
        })
        .collect();
    // Where a part is begun anew, what the file still says of it is given again.
    let recorded = |key: &str, anew: bool, it: &Option<Recorded>| -> Option<Taken> {
        it.clone().filter(|_| anew || edited(key)).map(Into::into)
    };
    let pair = |key: &str, anew: bool, it: Option<Span>| {
        it.filter(|_| anew || edited(key))
            .map(|(low, high)| (low.us(), high.us()))
    };
    let servo = file.servo.clone().filter(|_| edited("servo"));
    let zero_us = recorded("zero_us", over_marks, &file.zero);
    let us_per_degree = recorded("us_per_degree", over_marks, &file.scale);
    let play_deg = recorded("play_deg", over_marks, &file.play_deg);
    let near_end_us = recorded("near_end_us", over_ends, &file.near_end);
    let far_end_us = recorded("far_end_us", over_ends, &file.far_end);
    let limits_us = pair("limits_us", over_ends, file.limits);
    let guard_us = pair("guard_us", over_ends, file.guard);
    let nothing = servo.is_none()
        && zero_us.is_none()
        && us_per_degree.is_none()
        && play_deg.is_none()
        && near_end_us.is_none()
        && far_end_us.is_none()
        && limits_us.is_none()
        && guard_us.is_none();
    let given = What::TakenOver {
        joint: name.clone(),
        servo,
        zero_us,
        us_per_degree,
        near_end_us,
        far_end_us,
        limits_us,
        guard_us,
        play_deg,
    };
    (removed, (!nothing).then_some(given))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::logbook::MarkKind;
    use crate::calibration::{JointKind, MARRAM, read};
    use crate::units::Pin;

    const AT: &str = "2026-03-14T10:22:05Z";

    fn robot(text: &str) -> Robot {
        let reading = read(text);
        let mut robot = reading
            .robot
            .unwrap_or_else(|| panic!("{:?}", reading.findings));
        robot.template = false;
        robot
    }

    fn add(entries: &mut Vec<Entry>, whats: Vec<What>) {
        for what in whats {
            let n = entries.len() as u64 + 1;
            let entry = Entry {
                n,
                at: AT.into(),
                what,
            };
            assert_eq!(entry.fault(), None);
            entries.push(entry);
        }
    }

    fn begun(text: &str) -> Vec<Entry> {
        let mut entries = Vec::new();
        add(&mut entries, taken_over(&robot(text), "first", &[]));
        entries
    }

    fn femur() -> JointName {
        JointName::new("LF", JointKind::Femur)
    }

    #[test]
    fn a_file_without_a_logbook_is_taken_over_to_the_last_value() {
        for text in [MARRAM, include_str!("../../calibrations/one-leg.toml")] {
            let entries = begun(text);
            assert_eq!(knowledge(&entries).robot, robot(text));
            assert_eq!(taken_over(&robot(text), "first", &entries), []);
        }
    }

    #[test]
    fn an_edited_value_is_taken_over_and_nothing_else() {
        let mut entries = begun(MARRAM);
        // A mark that is not saved yet, at another joint.
        let mark = What::Mark {
            joint: JointName::new("LM", JointKind::Coxa),
            pulse_us: 1490.0,
            from: None,
            angle_deg: 0.0,
            placing: None,
            by: MarkKind::Absolute,
        };
        add(&mut entries, vec![mark]);
        let unsaved = knowledge(&entries).robot;
        assert_ne!(unsaved, robot(MARRAM));
        let text = MARRAM
            .replace("guard_us = [895.0, 2240.0]", "guard_us = [900.0, 2230.0]")
            .replace("femur_mm = 67.0", "femur_mm = 68.5");
        let whats = taken_over(&robot(&text), "second", &entries);
        assert_eq!(whats.len(), 2, "{whats:?}");
        assert!(matches!(&whats[0], What::Plan(plan) if plan.legs[0].femur_mm == 68.5));
        assert!(matches!(
            &whats[1],
            What::TakenOver { joint, guard_us: Some((900.0, 2230.0)), zero_us: None, .. } if *joint == femur()
        ));
        add(&mut entries, whats);
        let now = knowledge(&entries).robot;
        assert_eq!(now.legs[1].joints, unsaved.legs[1].joints);
        assert_eq!(now.legs[0].joints, robot(&text).legs[0].joints);
        assert_eq!(taken_over(&robot(&text), "second", &entries), []);
    }

    #[test]
    fn a_value_that_was_taken_out_is_out() {
        let mut entries = begun(MARRAM);
        let line = "near_end_us = { value = 868.0, spread = 5.0, at = 2026-03-14T13:20:53Z, by = \"peck\" }\n";
        assert!(MARRAM.contains(line), "the example has it");
        let text = MARRAM.replacen(line, "", 1);
        let whats = taken_over(&robot(&text), "second", &entries);
        add(&mut entries, whats);
        assert_eq!(knowledge(&entries).robot, robot(&text));
    }

    #[test]
    fn an_edited_pin_wins_over_one_that_was_seen() {
        let mut entries = begun(MARRAM);
        let plug = What::Plug {
            pin: Pin::new(40).expect("a pin").into(),
            joint: Some(femur()),
            way: None,
            also: Vec::new(),
            why: None,
        };
        add(&mut entries, vec![plug]);
        let pin = |entries: &[Entry]| {
            let known = knowledge(entries);
            known.robot.legs[0]
                .joint(JointKind::Femur)
                .pin
                .map(Pin::number)
        };
        assert_eq!(pin(&entries), Some(40));
        // A file that still has the planned pin was not edited.
        assert_eq!(taken_over(&robot(MARRAM), "second", &entries), []);
        let text = MARRAM.replace("pin = 23\n", "pin = 41\n");
        let whats = taken_over(&robot(&text), "second", &entries);
        add(&mut entries, whats);
        assert_eq!(pin(&entries), Some(41));
    }
}
