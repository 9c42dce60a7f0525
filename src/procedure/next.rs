//! What comes next, in the order of the job: one leg is finished before the next is begun.

use super::words::Scope;
use crate::calibration::model::JointRef;
use crate::estimate::Knowledge;
use crate::estimate::knowledge::Source;

/// One kind of guided work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// [`super::Supply`].
    Supply,
    /// [`super::Servo`].
    Servo,
    /// [`super::Horns`].
    Horns,
    /// [`super::Plugs`].
    Plugs,
    /// [`super::Bounds`].
    Bounds,
    /// [`super::Marks`].
    Marks,
    /// [`super::Ends`].
    Ends,
}

impl Work {
    /// In the order in which a bench sees them.
    pub const ALL: [Work; 7] = [
        Work::Supply,
        Work::Servo,
        Work::Horns,
        Work::Plugs,
        Work::Bounds,
        Work::Marks,
        Work::Ends,
    ];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Work::Supply => "supply",
            Work::Servo => "one servo",
            Work::Horns => "horns",
            Work::Plugs => "plugs",
            Work::Bounds => "rough bounds",
            Work::Marks => "marks",
            Work::Ends => "ends",
        }
    }
}

/// What a joint lacks first; `None` when it is marked and bounded.
pub fn lacks(knowledge: &Knowledge, at: JointRef) -> Option<Work> {
    let (known, joint) = (knowledge.joint(at)?, knowledge.robot.joint(at)?);
    if !has_plug(knowledge, at) {
        return Some(Work::Plugs);
    }
    if known.leg_off || lacks_horn(knowledge, at) {
        return Some(Work::Horns);
    }
    if joint.limits.is_some() && known.source != Source::Nothing {
        return None;
    }
    if known.bounds.is_none() && joint.limits.is_none() {
        return Some(Work::Bounds);
    }
    if known.source == Source::Nothing {
        return Some(Work::Marks);
    }
    Some(Work::Ends)
}

/// Its plug is known. What was taken over from a file counts: its limits were once found; a new servo takes the old one's plug.
fn has_plug(knowledge: &Knowledge, at: JointRef) -> bool {
    let of = knowledge.joint(at).zip(knowledge.robot.joint(at));
    of.is_some_and(|(known, joint)| {
        known.found_pin.is_some()
            || joint.limits.is_some()
            || known.replaced.is_some() && joint.pin.is_some()
    })
}

/// Its horn is to be looked at before anything is found that a turned horn would take with it.
fn lacks_horn(knowledge: &Knowledge, at: JointRef) -> bool {
    let of = knowledge.joint(at).zip(knowledge.robot.joint(at));
    of.is_some_and(|(known, joint)| {
        known.horn.is_none()
            && (knowledge.horns_stay != Some(true) || known.horn_anew)
            && known.bounds.is_none()
            && joint.limits.is_none()
            && known.source == Source::Nothing
            && known.marks.is_empty()
    })
}

/// How many joints have no plug though the search for the plugs was begun; 0 when it was ended by accepting the wiring.
///
/// Who finds the plugs of one leg alone has not left the search unfinished.
pub fn plugs_left(knowledge: &Knowledge) -> usize {
    let robot = &knowledge.robot;
    let of_leg = |leg: usize| {
        let joints = Scope::Leg(leg).joints(robot);
        let without = joints.iter().filter(|at| !has_plug(knowledge, **at));
        (joints.len(), without.count())
    };
    let legs: Vec<(usize, usize)> = (0..robot.legs.len()).map(of_leg).collect();
    let left = legs.iter().map(|(_, without)| without).sum();
    let whole = legs.iter().filter(|(_, without)| *without == 0).count();
    let part = legs
        .iter()
        .any(|(all, without)| (1..*all).contains(without));
    let one_leg = whole == 1 && !part;
    match knowledge.map_accepted || knowledge.plugs.is_empty() || one_leg {
        true => 0,
        false => left,
    }
}

/// What to do next on the robot and on what; `None` when every joint is marked and bounded.
///
/// One servo comes before a leg is built: it is offered, and never asked for here.
pub fn next(knowledge: &Knowledge) -> Option<(Work, Scope)> {
    if knowledge.supply.is_none() {
        return Some((Work::Supply, Scope::Robot));
    }
    if plugs_left(knowledge) > 0 {
        return Some((Work::Plugs, Scope::Robot));
    }
    let work = |at: JointRef| lacks(knowledge, at).map(|it| (at, it));
    for leg in 0..knowledge.robot.legs.len() {
        let lacking: Vec<_> = Scope::Leg(leg)
            .joints(&knowledge.robot)
            .into_iter()
            .filter_map(work)
            .collect();
        // The first kind of work that any joint of the leg lacks, on that joint; no horn is woken before the plugs are known.
        let first = [Work::Plugs]
            .into_iter()
            .chain(Work::ALL)
            .find_map(|kind| lacking.iter().find(|(_, it)| *it == kind));
        match first {
            // Plugs cannot be told leg by leg: eighteen connectors are alike.
            Some((_, Work::Plugs)) => return Some((Work::Plugs, Scope::Robot)),
            Some((at, kind)) => return Some((*kind, Scope::Joint(*at))),
            None => {}
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::logbook::{
        Copper, Entry, JointName, MarkKind, Part, Plan, Side, Way, What,
    };
    use crate::calibration::model::JointKind;
    use crate::calibration::{MARRAM, read};
    use crate::estimate::knowledge;
    use crate::procedure::rig::pin;

    fn after(whats: &[What]) -> Option<(Work, Scope)> {
        let robot = read(MARRAM).robot.expect("a good file");
        let mut all = vec![What::Plan(Plan::of(&robot))];
        all.extend(whats.iter().cloned());
        let entry = |(what, n)| Entry {
            n,
            at: "2026-03-14T10:22:05Z".into(),
            what,
        };
        let entries: Vec<Entry> = all.into_iter().zip(1..).map(entry).collect();
        next(&knowledge(&entries))
    }

    const SUPPLY: What = What::Supply {
        volts: 5.0,
        limit_amps: 10.0,
        stall_amps: None,
        display_volts: None,
        display_amps: None,
        common_ground: true,
        plugs_checked: true,
    };

    fn plug(n: u8, leg: &str, kind: JointKind) -> What {
        What::Plug {
            pin: Copper(pin(n)),
            joint: Some(JointName::new(leg, kind)),
            way: Some(Way::Positive),
            also: Vec::new(),
            why: None,
        }
    }

    #[test]
    fn plugs_left_in_the_middle_are_gone_on_with_until_the_wiring_is_accepted() {
        let mut book = vec![SUPPLY];
        for (n, kind) in (22..).zip(JointKind::ALL) {
            book.push(plug(n, "LF", kind));
        }
        book.push(plug(25, "LM", JointKind::Coxa));
        assert_eq!(after(&book), Some((Work::Plugs, Scope::Robot)));
        book.push(What::MapAccepted { wires: Vec::new() });
        let coxa = JointRef {
            leg: 0,
            kind: JointKind::Coxa,
        };
        assert_eq!(after(&book), Some((Work::Horns, Scope::Joint(coxa))));
    }

    #[test]
    fn a_new_servo_leads_to_its_horn_though_the_others_stay() {
        let robot = read(crate::calibration::MARRAM).robot.expect("a good file");
        let at = JointRef {
            leg: 0,
            kind: JointKind::Coxa,
        };
        let name = JointName::new("LF", at.kind);
        let whats = [
            What::Plan(Plan::of(&robot)),
            SUPPLY,
            What::HornsOn { stay: true },
            plug(22, "LF", at.kind),
            What::Bounds {
                joint: name.clone(),
                low_us: 960.0,
                high_us: 2040.0,
            },
            What::ServoReplaced {
                joint: name,
                servo: "21".into(),
            },
        ];
        let entry = |(what, n)| Entry {
            n,
            at: "2026-03-14T10:22:05Z".into(),
            what,
        };
        let known = |count: usize| {
            let entries = whats.iter().take(count).cloned().zip(1..).map(entry);
            knowledge(&entries.collect::<Vec<_>>())
        };
        assert_eq!(lacks(&known(5), at), Some(Work::Marks));
        assert_eq!(lacks(&known(6), at), Some(Work::Horns));
    }

    #[test]
    fn a_horn_that_slipped_leads_to_it_on_a_robot_that_is_built() {
        let robot = read(MARRAM).robot.expect("a good file");
        let at = JointRef {
            leg: 0,
            kind: JointKind::Coxa,
        };
        let joint = JointName::new("LF", at.kind);
        let mut book = vec![
            SUPPLY,
            What::HornsOn { stay: true },
            plug(22, "LF", at.kind),
        ];
        book.push(What::Bounds {
            joint: joint.clone(),
            low_us: 960.0,
            high_us: 2040.0,
        });
        let known = |book: &[What]| {
            let plan = std::iter::once(What::Plan(Plan::of(&robot)));
            let entry = |(what, n)| Entry {
                n,
                at: "2026-03-14T10:22:05Z".into(),
                what,
            };
            let entries = plan.chain(book.iter().cloned()).zip(1..).map(entry);
            knowledge(&entries.collect::<Vec<_>>())
        };
        assert_eq!(lacks(&known(&book), at), Some(Work::Marks));
        for part in [Part::Horn, Part::Bounds] {
            let joint = joint.clone();
            book.push(What::StartOver { joint, part });
        }
        assert_eq!(lacks(&known(&book), at), Some(Work::Horns));
        // Looked at and left where it is.
        book.push(What::Horn {
            joint,
            teeth: 25,
            arms: 1,
            came_out_deg: 3.0,
            turn_teeth: 0,
            arm: 0,
            margin_deg: 20.0,
            margins_deg: None,
        });
        assert_eq!(lacks(&known(&book), at), Some(Work::Bounds));
    }

    #[test]
    fn supply_then_plugs_then_the_first_leg_to_its_end() {
        assert_eq!(after(&[]), Some((Work::Supply, Scope::Robot)));
        let mut book = vec![What::Supply {
            volts: 5.0,
            limit_amps: 10.0,
            stall_amps: None,
            display_volts: None,
            display_amps: None,
            common_ground: true,
            plugs_checked: true,
        }];
        assert_eq!(after(&book), Some((Work::Plugs, Scope::Robot)));
        let lf = |kind| JointName::new("LF", kind);
        for (n, kind) in (22..).zip(JointKind::ALL) {
            book.push(What::Plug {
                pin: Copper(pin(n)),
                joint: Some(lf(kind)),
                way: Some(Way::Positive),
                also: Vec::new(),
                why: None,
            });
        }
        let joint = |kind| Scope::Joint(JointRef { leg: 0, kind });
        assert_eq!(after(&book), Some((Work::Horns, joint(JointKind::Coxa))));
        book.push(What::HornsOn { stay: true });
        assert_eq!(after(&book), Some((Work::Bounds, joint(JointKind::Coxa))));
        for kind in JointKind::ALL {
            book.push(What::Bounds {
                joint: lf(kind),
                low_us: 960.0,
                high_us: 2040.0,
            });
        }
        assert_eq!(after(&book), Some((Work::Marks, joint(JointKind::Coxa))));
        for (pulse_us, angle_deg) in [(1023.0, -45.0), (1977.0, 45.0)] {
            book.push(What::Mark {
                joint: lf(JointKind::Coxa),
                pulse_us,
                from: Some(Side::Below),
                angle_deg,
                placing: None,
                by: MarkKind::Absolute,
            });
        }
        assert_eq!(
            after(&book),
            Some((Work::Marks, joint(JointKind::Femur))),
            "marks of the leg before its ends"
        );
    }
}
