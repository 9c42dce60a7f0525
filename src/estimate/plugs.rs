//! From "this pin moved that joint" to the shortest list of plug swaps that makes the planned wiring.
//!
//! A plug whose pin moved nothing is unknown: it is moved out of the way, and what it drives
//! is not guessed. Pins and joints that contradict each other are named and left alone.

use std::collections::{BTreeMap, BTreeSet};

use crate::calibration::model::{JointRef, Robot};
use crate::units::Pin;

/// What a pin moved when it was tried.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tried {
    /// The pin.
    pub pin: Pin,
    /// All that moved; nothing when the pin is silent.
    pub moved: Vec<JointRef>,
}

/// Which pin is planned for a joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Planned {
    /// The joint.
    pub joint: JointRef,
    /// Its pin.
    pub pin: Pin,
}

/// Exchange what is plugged in at two pins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Swap {
    /// The joint whose plug this brings home.
    pub joint: JointRef,
    /// Where its plug is now.
    pub from: Pin,
    /// Where it belongs.
    pub to: Pin,
    /// Nothing moved at `to`: the pin may be empty, and then this is a move.
    pub to_is_silent: bool,
}

/// Something that does not add up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Doubt {
    /// Several pins were tried, and none of them moved anything.
    AllSilent,
    /// A planned pin moved nothing, and not every joint was found.
    Silent {
        /// The pin.
        pin: Pin,
        /// The joint that is planned there.
        planned: JointRef,
    },
    /// One joint moved at several pins.
    Twice {
        /// The joint.
        joint: JointRef,
        /// The pins.
        pins: Vec<Pin>,
    },
    /// One pin moved several joints.
    Several {
        /// The pin.
        pin: Pin,
        /// The joints.
        joints: Vec<JointRef>,
    },
    /// No pin moved this joint.
    Missing {
        /// The joint.
        joint: JointRef,
        /// Its planned pin.
        planned: Pin,
        /// The planned pin was tried.
        tried: bool,
        /// Pins whose plug could be its own: they moved nothing.
        perhaps: Vec<Pin>,
    },
    /// A joint moved that the plan does not name.
    Unplanned {
        /// The joint.
        joint: JointRef,
        /// Where it was found.
        pin: Pin,
    },
}

/// What the trials say of the wiring.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wiring {
    /// Joints found without contradiction, each with the pin that drives it: the map, to be accepted as it is.
    pub map: Vec<(JointRef, Pin)>,
    /// The swaps that make the plan of it, in an order that works.
    pub swaps: Vec<Swap>,
    /// What must be looked into.
    pub doubts: Vec<Doubt>,
}

impl Wiring {
    /// Every planned joint drives from its own pin and nothing is in doubt.
    pub fn is_planned(&self) -> bool {
        self.swaps.is_empty() && self.doubts.is_empty()
    }
}

/// Compares what was found with what was planned. A pin tried twice counts as it was found last.
pub fn wiring(tried: &[Tried], plan: &[Planned]) -> Wiring {
    let found: BTreeMap<Pin, BTreeSet<JointRef>> = tried
        .iter()
        .map(|it| (it.pin, it.moved.iter().copied().collect()))
        .collect();
    let home: BTreeMap<JointRef, Pin> = plan.iter().map(|it| (it.joint, it.pin)).collect();
    let mut pins_of: BTreeMap<JointRef, Vec<Pin>> = BTreeMap::new();
    for (pin, joints) in &found {
        for joint in joints {
            pins_of.entry(*joint).or_default().push(*pin);
        }
    }
    let clear: BTreeMap<Pin, JointRef> = found
        .iter()
        .filter_map(|(pin, joints)| Some((*pin, *joints.first().filter(|_| joints.len() == 1)?)))
        .filter(|(_, joint)| pins_of[joint].len() == 1)
        .collect();
    let known = |joint: &JointRef| home.contains_key(joint);
    let swaps = swaps(
        clear
            .clone()
            .into_iter()
            .filter(|(_, j)| known(j))
            .collect(),
        &home,
        &found,
    );
    Wiring {
        map: clear.iter().map(|(pin, joint)| (*joint, *pin)).collect(),
        swaps,
        doubts: doubts(&found, &pins_of, &home),
    }
}

/// Brings one plug home with each swap; a closed ring of n plugs brings the last two home at once,
/// so it takes n − 1. No list is shorter: a swap settles two plugs only where it closes a ring.
fn swaps(
    mut at: BTreeMap<Pin, JointRef>,
    home: &BTreeMap<JointRef, Pin>,
    found: &BTreeMap<Pin, BTreeSet<JointRef>>,
) -> Vec<Swap> {
    let mut swaps = Vec::new();
    let pins: Vec<Pin> = at.keys().copied().collect();
    let mut silent: BTreeSet<Pin> = found
        .iter()
        .filter(|(_, j)| j.is_empty())
        .map(|(p, _)| *p)
        .collect();
    for from in pins {
        while let Some(joint) = at.get(&from).copied() {
            let to = home[&joint];
            if to == from {
                break;
            }
            let to_is_silent = silent.remove(&to);
            if to_is_silent {
                silent.insert(from);
            }
            swaps.push(Swap {
                joint,
                from,
                to,
                to_is_silent,
            });
            match at.insert(to, joint) {
                Some(other) => at.insert(from, other),
                None => at.remove(&from),
            };
        }
    }
    swaps
}

fn doubts(
    found: &BTreeMap<Pin, BTreeSet<JointRef>>,
    pins_of: &BTreeMap<JointRef, Vec<Pin>>,
    home: &BTreeMap<JointRef, Pin>,
) -> Vec<Doubt> {
    if pins_of.is_empty() && found.len() > 1 {
        return vec![Doubt::AllSilent];
    }
    let mut doubts = Vec::new();
    for (pin, joints) in found.iter().filter(|(_, joints)| joints.len() > 1) {
        doubts.push(Doubt::Several {
            pin: *pin,
            joints: joints.iter().copied().collect(),
        });
    }
    for (joint, pins) in pins_of {
        if pins.len() > 1 {
            doubts.push(Doubt::Twice {
                joint: *joint,
                pins: pins.clone(),
            });
        }
        if !home.contains_key(joint) {
            doubts.push(Doubt::Unplanned {
                joint: *joint,
                pin: pins[0],
            });
        }
    }
    let is_silent = |pin: &Pin| found.get(pin).is_some_and(BTreeSet::is_empty);
    let missing: Vec<JointRef> = home
        .keys()
        .filter(|j| !pins_of.contains_key(j))
        .copied()
        .collect();
    let planned: BTreeMap<Pin, JointRef> = home.iter().map(|(j, p)| (*p, *j)).collect();
    // With every joint found elsewhere, a silent pin is an empty one.
    let silent: Vec<Pin> = planned
        .keys()
        .filter(|p| is_silent(p) && !missing.is_empty())
        .copied()
        .collect();
    doubts.extend(silent.iter().map(|pin| Doubt::Silent {
        pin: *pin,
        planned: planned[pin],
    }));
    for joint in missing {
        let pin = home[&joint];
        // Its own pin silent: that is where it is most likely plugged in.
        let perhaps = if is_silent(&pin) {
            vec![pin]
        } else {
            silent.clone()
        };
        doubts.push(Doubt::Missing {
            joint,
            planned: pin,
            tried: found.contains_key(&pin),
            perhaps,
        });
    }
    doubts
}

fn list<T>(items: &[T], word: impl Fn(&T) -> String) -> String {
    let words: Vec<String> = items.iter().map(word).collect();
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => String::new(),
    }
}

impl Swap {
    /// What the hands must do.
    pub fn words(&self, robot: &Robot) -> String {
        let Swap { from, to, .. } = self;
        let joint = robot.title(self.joint);
        if self.to_is_silent {
            format!(
                "move the plug of {joint} from {from} to {to}; a plug that sits in {to} goes to {from}"
            )
        } else {
            format!("exchange the plugs in {from} and {to}: {joint} belongs in {to}")
        }
    }
}

/// Why a pin that is planned moves nothing, and what to do.
const SILENT: &str = "its plug is loose or turned round, a lead is broken, or its servo is dead. Try that servo on a pin that works; if it is dead, F2 Replace";

/// What is in doubt, one text each; of several silent pins one for all, and what is said of a pin is not said again of
/// the joint that misses there.
pub fn in_words(doubts: &[Doubt], robot: &Robot) -> Vec<String> {
    let silent: Vec<(Pin, JointRef)> = doubts
        .iter()
        .filter_map(|it| match it {
            Doubt::Silent { pin, planned } => Some((*pin, *planned)),
            _ => None,
        })
        .collect();
    let mut texts = Vec::new();
    for doubt in doubts {
        match doubt {
            Doubt::Silent { pin, .. } if silent.len() > 1 => {
                if *pin == silent[0].0 {
                    texts.push(format!(
                        "pins {} moved nothing, planned are {}. Of each: {SILENT}",
                        list(&silent, |it| it.0.to_string()),
                        list(&silent, |it| robot.title(it.1)),
                    ));
                }
            }
            Doubt::Missing { planned, .. } if silent.iter().any(|it| it.0 == *planned) => {}
            other => texts.push(other.words(robot)),
        }
    }
    texts
}

impl Doubt {
    /// What was found, why that may be, and what to do.
    pub fn words(&self, robot: &Robot) -> String {
        let title = |joint: &JointRef| robot.title(*joint);
        match self {
            Doubt::AllSilent => "no pin moved anything: is the servo supply on, and is its minus joined to the board's ground? Then try these pins again".to_string(),
            Doubt::Silent { pin, planned } => format!(
                "pin {pin} moved nothing, planned is {}: {SILENT}",
                title(planned)
            ),
            Doubt::Twice { joint, pins } => format!(
                "{} moved at pins {}: a forked lead, two signal wires that touch, or one answer named the wrong joint. Look at the leads, then try these pins again",
                title(joint),
                list(pins, Pin::to_string)
            ),
            Doubt::Several { pin, joints } => format!(
                "pin {pin} moved {}: a forked lead, two signal wires that touch, or a supply so weak that others twitch. Look at the leads, then try it again",
                list(joints, title)
            ),
            Doubt::Missing {
                joint,
                tried: false,
                planned,
                ..
            } => {
                format!(
                    "{} was not found: its pin {planned} was not tried yet. Try it",
                    title(joint)
                )
            }
            Doubt::Missing { joint, perhaps, .. } if perhaps.is_empty() => format!(
                "{} was not found and no planned pin is silent: its plug may sit on a pin that was not tried. Follow its lead",
                title(joint)
            ),
            Doubt::Missing { joint, perhaps, .. } => format!(
                "{} was not found: its servo is probably the one on pin {}. Follow its lead",
                title(joint),
                perhaps
                    .iter()
                    .map(Pin::to_string)
                    .collect::<Vec<_>>()
                    .join(" or ")
            ),
            Doubt::Unplanned { joint, pin } => format!(
                "pin {pin} moved {}, which the plan does not name: add it to the plan, or accept the map as it is",
                title(joint)
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::model::JointKind;

    fn joint(n: u8) -> JointRef {
        JointRef {
            leg: usize::from(n / 3),
            kind: JointKind::ALL[usize::from(n % 3)],
        }
    }

    fn pin(n: u8) -> Pin {
        Pin::new(n).expect("a pin")
    }

    /// Joint n is planned at pin 22 + n.
    fn plan(n: u8) -> Vec<Planned> {
        (0..n)
            .map(|i| Planned {
                joint: joint(i),
                pin: pin(22 + i),
            })
            .collect()
    }

    fn tried(at: &[(u8, &[u8])]) -> Vec<Tried> {
        at.iter()
            .map(|(p, joints)| Tried {
                pin: pin(*p),
                moved: joints.iter().map(|j| joint(*j)).collect(),
            })
            .collect()
    }

    fn robot() -> Robot {
        Robot {
            name: "Marram".into(),
            template: false,
            body: None,
            legs: Vec::new(),
        }
    }

    #[test]
    fn two_plugs_exchanged_take_one_swap() {
        let wiring = wiring(&tried(&[(22, &[0]), (23, &[2]), (24, &[1])]), &plan(3));
        assert_eq!(wiring.swaps.len(), 1);
        assert_eq!(
            (wiring.swaps[0].from, wiring.swaps[0].to),
            (pin(23), pin(24))
        );
        assert!(wiring.doubts.is_empty() && !wiring.is_planned());
        assert_eq!(wiring.map.len(), 3);
    }

    #[test]
    fn a_plug_on_a_strange_pin_is_moved_home() {
        let wiring = wiring(
            &tried(&[(22, &[]), (23, &[1]), (24, &[2]), (40, &[0]), (41, &[])]),
            &plan(3),
        );
        let only = Swap {
            joint: joint(0),
            from: pin(40),
            to: pin(22),
            to_is_silent: true,
        };
        assert_eq!(wiring.swaps, [only]);
        assert_eq!(
            wiring.doubts,
            [],
            "every joint was found, so 22 is empty and 41 is no matter"
        );
        assert!(
            only.words(&robot())
                .starts_with("move the plug of leg 1 coxa from 40 to 22")
        );
    }

    #[test]
    fn a_dead_pin_is_named_with_the_joint_that_is_missing() {
        let wiring = wiring(&tried(&[(22, &[1]), (23, &[]), (24, &[2])]), &plan(3));
        assert_eq!(wiring.swaps.len(), 1, "what sits dead in 23 goes to 22");
        let silent = Doubt::Silent {
            pin: pin(23),
            planned: joint(1),
        };
        let missing = Doubt::Missing {
            joint: joint(0),
            planned: pin(22),
            tried: true,
            perhaps: vec![pin(23)],
        };
        assert_eq!(wiring.doubts, [silent, missing]);
        assert!(
            wiring.doubts[1]
                .words(&robot())
                .contains("probably the one on pin 23")
        );
    }

    #[test]
    fn contradictions_are_named_and_left_alone() {
        let found = tried(&[
            (22, &[0, 1]),
            (23, &[2]),
            (24, &[2]),
            (25, &[9]),
            (26, &[4]),
        ]);
        let wiring = wiring(&found, &plan(5));
        assert_eq!(wiring.swaps, []);
        let kinds: Vec<&str> = wiring
            .doubts
            .iter()
            .map(|d| match d {
                Doubt::Several { .. } => "several",
                Doubt::Twice { .. } => "twice",
                Doubt::Unplanned { .. } => "unplanned",
                Doubt::Missing { .. } => "missing",
                Doubt::Silent { .. } => "silent",
                Doubt::AllSilent => "all silent",
            })
            .collect();
        assert_eq!(kinds, ["several", "twice", "unplanned", "missing"]);
        assert!(wiring.doubts[1].words(&robot()).contains("pins 23 and 24"));
    }

    #[test]
    fn a_silent_pin_is_said_once_and_several_in_one_sentence() {
        let said = |at: &[(u8, &[u8])]| in_words(&wiring(&tried(at), &plan(3)).doubts, &robot());
        let one = said(&[(22, &[0]), (23, &[]), (24, &[2])]);
        assert_eq!(one.len(), 1, "{one:?}");
        assert!(
            one[0].starts_with("pin 23 moved nothing, planned is leg 1 femur: its plug"),
            "{one:?}"
        );
        assert!(one[0].ends_with("if it is dead, F2 Replace"), "{one:?}");
        let two = said(&[(22, &[0]), (23, &[]), (24, &[])]);
        assert_eq!(two.len(), 1, "{two:?}");
        let start = "pins 23 and 24 moved nothing, planned are leg 1 femur and leg 1 tibia. Of each: its plug";
        assert!(two[0].starts_with(start), "{two:?}");
    }

    #[test]
    fn where_no_pin_moves_anything_the_supply_is_asked_about() {
        let all = wiring(&tried(&[(22, &[]), (23, &[]), (24, &[])]), &plan(3));
        assert_eq!(all.doubts, [Doubt::AllSilent]);
        assert!(
            all.doubts[0]
                .words(&robot())
                .contains("is the servo supply on")
        );
    }

    #[test]
    fn an_untried_pin_is_asked_for() {
        let wiring = wiring(&tried(&[(22, &[0])]), &plan(2));
        assert!(
            wiring.doubts[0]
                .words(&robot())
                .contains("its pin 23 was not tried yet")
        );
    }
}
