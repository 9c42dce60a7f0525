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
    // What was taken over from a file counts: its limits were once found.
    if known.found_pin.is_none() && joint.limits.is_none() {
        return Some(Work::Plugs);
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

/// What to do next on the robot and on what; `None` when every joint is marked and bounded.
///
/// One servo and horns come before a leg is built: they are offered, and never asked for here.
pub fn next(knowledge: &Knowledge) -> Option<(Work, Scope)> {
    if knowledge.supply.is_none() {
        return Some((Work::Supply, Scope::Robot));
    }
    let work = |at: JointRef| lacks(knowledge, at).map(|it| (at, it));
    for leg in 0..knowledge.robot.legs.len() {
        let lacking: Vec<_> = Scope::Leg(leg)
            .joints(&knowledge.robot)
            .into_iter()
            .filter_map(work)
            .collect();
        // The first kind of work that any joint of the leg lacks, on that joint.
        let first = Work::ALL
            .into_iter()
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
    use crate::calibration::logbook::{Copper, Entry, JointName, MarkKind, Plan, Side, Way, What};
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
