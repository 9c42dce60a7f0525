//! The one place where a logbook becomes a calibration.
//!
//! Each joint is folded from its own entries alone, so that redoing one leaves every other as it was.
//! What an entry says stands until a later one replaces it; an undone entry counts as never made.
//! The result is a robot whose file would be accepted: what contradicts itself is left out, and said in words.

use std::collections::{BTreeMap, BTreeSet};

use super::joint::{Building, Stamp, tidy};
use super::knowledge::{
    HornKnown, JointKnown, Knowledge, PlacingKnown, PlugFound, ServoKindKnown, ServoKnown,
    SupplyKnown, SupplySaid,
};
use crate::calibration::logbook::{Entry, JointName, SupplyQuestion, What};
use crate::calibration::model::JointKind;
use crate::units::Pin;

/// What these entries tell. Without a plan among them the robot has no legs, and nothing else is told of it.
pub fn knowledge(entries: &[Entry]) -> Knowledge {
    knowledge_after(&Knowledge::default(), entries)
}

/// The same, made quickly where much of it was known before: what no entry changed is not fitted again.
///
/// What comes out never depends on what was known.
pub fn knowledge_after(before: &Knowledge, entries: &[Entry]) -> Knowledge {
    let counting = counting(entries);
    let mut fold = Fold::new(&counting);
    for joint in &mut fold.joints {
        let former = before.named(&joint.known.name);
        joint.known.turned = former.and_then(|it| it.turned.clone());
    }
    for entry in &counting {
        fold.take(entry);
    }
    fold.finish()
}

/// The entries that were not undone, in their order, without the undos themselves.
pub fn counting(entries: &[Entry]) -> Vec<&Entry> {
    let mut undone = BTreeSet::new();
    // An undo names an earlier entry, so that from the end each undo is known to count or not when it is met.
    for entry in entries.iter().rev() {
        if let What::Undo { entry: target } = entry.what
            && !undone.contains(&entry.n)
        {
            undone.insert(target);
        }
    }
    entries
        .iter()
        .filter(|it| !undone.contains(&it.n) && !matches!(it.what, What::Undo { .. }))
        .collect()
}

struct Fold {
    known: Knowledge,
    joints: Vec<Building>,
    /// Number of the plan's entry.
    planned: u64,
}

impl Fold {
    fn new(counting: &[&Entry]) -> Fold {
        let mut fold = Fold {
            known: Knowledge::default(),
            joints: Vec::new(),
            planned: 0,
        };
        let plan = counting.iter().rev().find_map(|it| match &it.what {
            What::Plan(plan) => Some((it.n, plan)),
            _ => None,
        });
        if let Some((n, plan)) = plan {
            fold.planned = n;
            fold.known.robot = plan.robot();
            let robot = &fold.known.robot;
            fold.joints = robot
                .joints()
                .map(|(at, joint)| {
                    let leg = &robot.legs[at.leg];
                    let name = JointName::new(leg.name.clone(), at.kind);
                    Building::new(JointKnown::new(name, at, joint.pin), joint.needed_deg)
                })
                .collect();
        }
        fold
    }

    fn index_of(&self, name: &JointName) -> Option<usize> {
        self.joints.iter().position(|it| it.known.name == *name)
    }

    fn take(&mut self, entry: &Entry) {
        let n = entry.n;
        match &entry.what {
            What::Plan(_) | What::Undo { .. } | What::Note { .. } => {}
            What::Saved { sha256 } => self.known.saved = Some((n, sha256.clone())),
            &What::SupplyAnswer { to, yes, value } => {
                self.known.supply_said.insert(to, SupplySaid { yes, value });
            }
            &What::Supply {
                volts,
                limit_amps,
                stall_amps,
                display_volts,
                display_amps,
                common_ground,
                plugs_checked,
            } => {
                let said = std::mem::take(&mut self.known.supply_said);
                self.known.supply = Some(SupplyKnown {
                    own_source: said.get(&SupplyQuestion::OwnSource).and_then(|it| it.yes),
                    volts,
                    limit_amps,
                    stall_amps,
                    display_volts,
                    display_amps,
                    common_ground,
                    plugs_checked,
                });
            }
            What::ServoTested {
                servo,
                verdict,
                note,
                ..
            } => {
                let known = self.servo(servo);
                known.verdict = Some(*verdict);
                known.note = note.clone();
            }
            &What::ServoKind {
                teeth,
                arms,
                travel_deg,
                measured,
            } => {
                let kind = &mut self.known.servo_kind;
                if teeth.is_some() {
                    *kind = ServoKindKnown::default();
                }
                if measured {
                    kind.travel_deg = None;
                }
                *kind = ServoKindKnown {
                    n,
                    teeth: teeth.or(kind.teeth),
                    arms: arms.or(kind.arms),
                    travel_deg: travel_deg.or(kind.travel_deg),
                    measured: measured || (kind.measured && travel_deg.is_none()),
                };
            }
            &What::HornsOn { stay } => self.known.horns_stay = Some(stay),
            What::Plug {
                pin,
                joint,
                way,
                also,
                why,
            } => {
                let found = PlugFound {
                    why: *why,
                    n,
                    joint: joint.clone(),
                    way: *way,
                    also: also.clone(),
                };
                self.known.plugs.insert(pin.0, found);
                self.known.map_accepted = false;
            }
            What::PlugsExchanged { pins } => self.exchange(pins.0.0, pins.1.0),
            What::MapAccepted { wires } => {
                self.known.map_accepted = true;
                // A later plan was written with this map in view.
                if n > self.planned {
                    for wire in wires {
                        self.plan_pin(&wire.joint, wire.pin.0);
                    }
                }
            }
            What::Placing { id, joints, tool } => {
                let placing = PlacingKnown {
                    joints: joints.clone(),
                    tool: *tool,
                };
                self.known.placings.insert(*id, placing);
            }
            what => match what.joint().and_then(|name| self.index_of(name)) {
                Some(index) => self.take_of_joint(index, entry),
                None => self.known.strays.push(n),
            },
        }
    }

    fn take_of_joint(&mut self, index: usize, entry: &Entry) {
        let stamp = Stamp {
            n: entry.n,
            at: &entry.at,
        };
        match &entry.what {
            What::ServoPlaced { servo, .. } => self.place(index, servo),
            What::ServoReplaced { servo, .. } => {
                self.joints[index].known.leg_off = false;
                self.joints[index].replace_servo(entry.n);
                self.place(index, servo);
                // What moved nothing may have been the old servo: the new one's plug is tried again.
                let planned = self.joints[index].known.planned_pin;
                let is_its =
                    |pin: &Pin, it: &PlugFound| it.joint.is_none() && Some(*pin) == planned;
                self.known.plugs.retain(|pin, it| !is_its(pin, it));
            }
            What::TakenOver { servo, .. } => {
                if let Some(servo) = servo {
                    self.place(index, servo);
                }
                self.joints[index].take_over(&entry.what);
            }
            &What::Needed {
                low_deg, high_deg, ..
            } => {
                // A later plan was written with this in view.
                if entry.n > self.planned {
                    self.joints[index].needed_deg = Some((tidy(low_deg), tidy(high_deg)));
                }
            }
            &What::HornRead { angle_deg, .. } => {
                self.joints[index].known.horn_angles.push(angle_deg);
            }
            &What::Leg { on, .. } => self.joints[index].known.leg_off = !on,
            &What::HornEnd {
                toward, angle_deg, ..
            } => {
                self.joints[index].known.horn_ends[toward.index()] = Some(angle_deg);
            }
            &What::Horn {
                teeth,
                arms,
                came_out_deg,
                turn_teeth,
                arm,
                margin_deg,
                margins_deg,
                ..
            } => {
                self.joints[index].known.horn_angles.clear();
                self.joints[index].known.horn_ends = [None; 2];
                self.joints[index].known.horn = Some(HornKnown {
                    n: entry.n,
                    teeth,
                    arms,
                    came_out_deg,
                    turn_teeth,
                    arm,
                    margin_deg,
                    margins_deg,
                });
            }
            What::StartOver { joint, part } => {
                if self.joints[index].start_over(*part) {
                    let plugs = &mut self.known.plugs;
                    plugs.retain(|_, found| found.joint.as_ref() != Some(joint));
                }
            }
            what => self.joints[index].observe(what, stamp),
        }
    }

    fn servo(&mut self, number: &str) -> &mut ServoKnown {
        self.known.servos.entry(number.to_owned()).or_default()
    }

    /// A servo sits in one joint, and a joint has one servo.
    fn place(&mut self, index: usize, servo: &str) {
        for other in &mut self.joints {
            if other.known.servo.as_deref() == Some(servo) {
                other.known.servo = None;
            }
        }
        let name = self.joints[index].known.name.clone();
        for other in self.known.servos.values_mut() {
            if other.joint.as_ref() == Some(&name) {
                other.joint = None;
            }
        }
        self.joints[index].known.servo = Some(servo.to_owned());
        self.servo(servo).joint = Some(name);
    }

    fn exchange(&mut self, a: Pin, b: Pin) {
        let (at_a, at_b) = (self.known.plugs.remove(&a), self.known.plugs.remove(&b));
        self.known.plugs.extend(at_b.map(|it| (a, it)));
        self.known.plugs.extend(at_a.map(|it| (b, it)));
    }

    /// Plans a pin for a joint; whoever had it in the plan has none then.
    fn plan_pin(&mut self, name: &JointName, pin: Pin) {
        for joint in &mut self.joints {
            if joint.known.planned_pin == Some(pin) {
                joint.known.planned_pin = None;
            }
            if joint.known.name == *name {
                joint.known.planned_pin = Some(pin);
            }
        }
    }

    fn finish(mut self) -> Knowledge {
        self.wire();
        for building in &mut self.joints {
            let joint = building.finish();
            let at = building.known.at;
            *self.known.robot.legs[at.leg].joint_mut(at.kind) = joint;
        }
        self.known.joints = self.joints.into_iter().map(|it| it.known).collect();
        debug_assert_eq!(
            self.known.joints.len(),
            self.known.robot.legs.len() * JointKind::ALL.len()
        );
        self.known
    }

    /// A joint's plug: the one that was seen to drive it; else the planned one, unless that was seen to drive another.
    fn wire(&mut self) {
        let mut latest: BTreeMap<&JointName, (u64, Pin)> = BTreeMap::new();
        let mut twice: Vec<(JointName, Pin, Pin)> = Vec::new();
        for (&pin, found) in &self.known.plugs {
            let Some(name) = &found.joint else { continue };
            match latest.get(name) {
                Some(&(n, other)) => {
                    twice.push((name.clone(), other, pin));
                    if found.n > n {
                        latest.insert(name, (found.n, pin));
                    }
                }
                None => {
                    latest.insert(name, (found.n, pin));
                }
            }
        }
        let taken: BTreeSet<Pin> = latest.values().map(|&(_, pin)| pin).collect();
        for joint in &mut self.joints {
            let known = &mut joint.known;
            known.found_pin = latest.get(&known.name).map(|&(_, pin)| pin);
            let free = known.planned_pin.filter(|pin| !taken.contains(pin));
            joint.pin = known.found_pin.or(free);
            if let Some(found) = known.found_pin.and_then(|pin| self.known.plugs.get(&pin)) {
                // The plug stays with the joint; which way it turns went with the servo that was seen to.
                let is_of_this_servo = known.replaced.is_none_or(|n| found.n > n);
                known.way = found.way.filter(|_| is_of_this_servo);
            }
            for (_, a, b) in twice.iter().filter(|(name, _, _)| *name == known.name) {
                known.doubts.push(format!(
                    "pins {a} and {b} were both seen to move it: look at both plugs again"
                ));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::logbook::{
        Copper, End, EndKind, MarkKind, Part, Plan, Side, Taken, Verdict, Way,
    };
    use crate::calibration::model::{Joint, Method};
    use crate::calibration::{MARRAM, read};

    const AT: &str = "2026-03-14T10:22:05Z";

    fn name(leg: &str, kind: JointKind) -> JointName {
        JointName::new(leg, kind)
    }

    fn femur() -> JointName {
        name("LF", JointKind::Femur)
    }

    /// Marram's plan, then these.
    fn book(whats: Vec<What>) -> Vec<Entry> {
        let robot = read(MARRAM).robot.expect("a good file");
        let plan = What::Plan(Plan::of(&robot));
        std::iter::once(plan)
            .chain(whats)
            .zip(1..)
            .map(|(what, n)| Entry {
                n,
                at: AT.into(),
                what,
            })
            .collect()
    }

    fn mark(joint: JointName, pulse_us: f64, angle_deg: f64) -> What {
        What::Mark {
            joint,
            pulse_us,
            from: Some(Side::Below),
            angle_deg,
            placing: None,
            by: MarkKind::Absolute,
        }
    }

    fn end(toward: End, pulse_us: f64) -> What {
        What::End {
            joint: femur(),
            toward,
            pulse_us,
            by: EndKind::Peck,
            why: None,
            others: Vec::new(),
        }
    }

    fn of<'a>(known: &'a Knowledge, joint: &JointName) -> &'a Joint {
        let at = known.named(joint).expect("planned").at;
        known.robot.joint(at).expect("there")
    }

    fn zero_of(known: &Knowledge) -> Option<f64> {
        of(known, &femur()).zero.as_ref().map(|it| it.value)
    }

    #[test]
    fn a_plan_alone_is_a_robot_with_planned_plugs() {
        let known = knowledge(&book(Vec::new()));
        assert_eq!((known.robot.legs.len(), known.joints.len()), (6, 18));
        let joint = of(&known, &femur());
        assert_eq!(joint.pin.map(|pin| pin.number()), Some(23));
        assert!(joint.zero.is_none() && joint.guard.is_none());
        assert_eq!(knowledge(&[]).robot.legs.len(), 0);
    }

    #[test]
    fn which_way_a_joint_turns_goes_with_its_servo_and_its_marks_tell_it_anew() {
        let plug = What::Plug {
            pin: Copper(Pin::new(23).expect("a pin")),
            joint: Some(femur()),
            way: Some(Way::Positive),
            also: Vec::new(),
            why: None,
        };
        let replaced = What::ServoReplaced {
            joint: femur(),
            servo: "21".into(),
        };
        let all = [
            plug.clone(),
            replaced,
            mark(femur(), 1100.0, 36.0),
            mark(femur(), 1900.0, -40.0),
            plug,
        ];
        let way = |count: usize| {
            let known = knowledge(&book(all[..count].to_vec()));
            let joint = known.named(&femur()).expect("planned").clone();
            assert_eq!(joint.found_pin.map(Pin::number), Some(23));
            joint.way
        };
        assert_eq!(way(1), Some(Way::Positive));
        assert_eq!(way(2), None, "nobody saw the new servo turn");
        assert_eq!(way(4), Some(Way::Negative), "it is built in mirrored");
        assert_eq!(way(5), Some(Way::Positive), "as it was seen last");
    }

    #[test]
    fn what_was_known_before_changes_nothing() {
        let all = book(vec![
            mark(femur(), 1500.0, 1.0),
            mark(femur(), 1900.0, 39.0),
            mark(name("LM", JointKind::Tibia), 1500.0, -80.0),
            What::Typed {
                joint: femur(),
                zero_us: Some(1480.0),
                us_per_degree: None,
                play_deg: None,
            },
            mark(femur(), 1700.0, 20.5),
            mark(femur(), 1300.0, -18.0),
            What::Undo { entry: 5 },
            What::Undo { entry: 8 },
            What::StartOver {
                joint: femur(),
                part: Part::Marks,
            },
            mark(femur(), 1600.0, 11.0),
        ]);
        // From every earlier state, and from one that has more.
        for early in (0..=all.len()).map(|count| knowledge(&all[..count])) {
            for count in 0..=all.len() {
                let entries = &all[..count];
                let anew = format!("{:?}", knowledge(entries));
                assert_eq!(format!("{:?}", knowledge_after(&early, entries)), anew);
            }
        }
    }

    #[test]
    fn an_undo_and_its_undo() {
        let mut whats = vec![mark(femur(), 1487.5, 0.0), What::Undo { entry: 2 }];
        assert_eq!(zero_of(&knowledge(&book(whats.clone()))), None);
        whats.push(What::Undo { entry: 3 });
        assert_eq!(zero_of(&knowledge(&book(whats.clone()))), Some(1487.5));
        whats.push(What::Undo { entry: 4 });
        assert_eq!(zero_of(&knowledge(&book(whats))), None);
    }

    #[test]
    fn two_marks_are_a_line_and_the_ends_bring_limits_with_them() {
        let known = knowledge(&book(vec![
            mark(femur(), 1487.5, 0.0),
            mark(femur(), 1965.5, 45.0),
            end(End::Near, 868.0),
            end(End::Far, 2268.0),
            What::Limits {
                joint: femur(),
                margin_us: 37.0,
                low_us: 905.0,
                high_us: 2231.0,
            },
            // The near end was found again, farther in than the limit.
            end(End::Near, 950.0),
        ]));
        let joint = of(&known, &femur());
        let scale = joint.scale.as_ref().expect("a line");
        assert_eq!((zero_of(&known), scale.value), (Some(1487.5), 10.622));
        assert_eq!(scale.by, Method::Marks);
        assert_eq!(joint.near_end.as_ref().map(|it| it.value), Some(909.0));
        let (low, high) = joint.limits.expect("clipped");
        assert_eq!((low.us(), high.us()), (946.0, 2231.0));
        assert_eq!(known.named(&femur()).expect("there").doubts.len(), 1);
    }

    /// Marks of a joint of zero 1490, 10.4 µs/° and 0.8° of play, read without noise.
    fn both_sides(angles: &[f64]) -> Vec<What> {
        let sides = [(Side::Below, 1.0), (Side::Above, -1.0)];
        let mark = |&deg: &f64| {
            sides.map(|(from, sign)| What::Mark {
                joint: femur(),
                pulse_us: ((1490.0 + 10.4 * deg) * 2.0_f64).round() / 2.0,
                from: Some(from),
                angle_deg: deg - 0.4 * sign,
                placing: Some(1),
                by: MarkKind::Absolute,
            })
        };
        angles.iter().flat_map(mark).collect()
    }

    #[test]
    fn six_marks_from_both_sides_are_fitted_with_play_and_an_honest_spread() {
        let known = knowledge(&book(both_sides(&[-40.0, 0.0, 40.0])));
        let joint = of(&known, &femur());
        let it = known.named(&femur()).expect("there");
        assert_eq!(it.source, crate::estimate::knowledge::Source::Fit);
        let (zero, scale) = (
            joint.zero.as_ref().expect("fitted"),
            joint.scale.as_ref().expect("fitted"),
        );
        let within = |got: &crate::calibration::Recorded, truth: f64| {
            let spread = got.spread.expect("a ± stands beside it");
            assert!((got.value - truth).abs() < spread, "{got:?} {truth}");
        };
        within(zero, 1490.0);
        within(scale, 10.4);
        within(joint.play_deg.as_ref().expect("seen from both sides"), 0.8);
        assert_eq!((it.doubts.len(), it.marks.len()), (0, 6));
        // A mark misread by 20° is named and not dropped.
        let mut whats = both_sides(&[-40.0, -20.0, 0.0, 20.0, 40.0]);
        whats.push(mark(femur(), 1594.0, 30.0));
        let known = knowledge(&book(whats));
        let doubts = &known.named(&femur()).expect("there").doubts;
        assert!(
            doubts[0].contains("30° at 1594 µs (entry 12)"),
            "{doubts:?}"
        );
    }

    #[test]
    fn values_taken_over_stay_until_observations_replace_them() {
        let taken = |value| {
            Some(Taken {
                value,
                spread: Some(4.0),
                at: "2026-01-01T00:00:00Z".into(),
                by: Method::Marks,
            })
        };
        let over = What::TakenOver {
            joint: femur(),
            servo: Some("07".into()),
            zero_us: taken(1487.5),
            us_per_degree: taken(10.62),
            near_end_us: taken(868.0),
            far_end_us: None,
            limits_us: None,
            guard_us: Some((900.0, 2200.0)),
            play_deg: None,
        };
        let mut whats = vec![over];
        let known = knowledge(&book(whats.clone()));
        let joint = of(&known, &femur()).clone();
        assert_eq!(
            joint.zero,
            taken(1487.5).map(Into::into),
            "every part of it as it stood there"
        );
        assert_eq!(joint.servo.as_deref(), Some("07"));
        // One mark moves the zero, by the µs/degree that was measured before; two replace both.
        whats.push(mark(femur(), 1900.0, 40.0));
        let known = knowledge(&book(whats.clone()));
        assert_eq!(zero_of(&known), Some(1475.2));
        let scale = |known: &Knowledge| of(known, &femur()).scale.clone().map(|it| it.value);
        assert_eq!(scale(&known), Some(10.62));
        whats.push(mark(femur(), 1100.0, -40.0));
        let known = knowledge(&book(whats));
        assert_eq!((zero_of(&known), scale(&known)), (Some(1500.0), Some(10.0)));
        assert_eq!(of(&known, &femur()).near_end, joint.near_end);
    }

    #[test]
    fn plugs_as_seen_exchanged_and_accepted() {
        let pin = |n: u8| Copper(Pin::new(n).expect("a pin"));
        let plug = |n: u8, joint: Option<JointName>| What::Plug {
            pin: pin(n),
            way: joint.as_ref().map(|_| Way::Negative),
            joint,
            also: Vec::new(),
            why: None,
        };
        let tibia = name("LF", JointKind::Tibia);
        // 23 and 24 are exchanged against the plan; only 23 was looked at.
        let mut whats = vec![plug(23, Some(tibia.clone())), plug(22, None)];
        let known = knowledge(&book(whats.clone()));
        let pins = |known: &Knowledge| {
            [femur(), tibia.clone()].map(|it| of(known, &it).pin.map(|pin| pin.number()))
        };
        assert_eq!(pins(&known), [None, Some(23)]);
        assert_eq!(
            known.named(&tibia).and_then(|it| it.way),
            Some(Way::Negative)
        );
        assert!(known.plugs[&pin(22).0].joint.is_none());
        whats.push(plug(24, Some(femur())));
        assert_eq!(pins(&knowledge(&book(whats.clone()))), [Some(24), Some(23)]);
        whats.push(What::PlugsExchanged {
            pins: (pin(23), pin(24)),
        });
        assert_eq!(pins(&knowledge(&book(whats))), [Some(23), Some(24)]);
    }

    #[test]
    fn a_pin_that_moved_nothing_is_tried_again_when_its_servo_was_replaced() {
        let dead = |n: u8| What::Plug {
            pin: Copper(Pin::new(n).expect("a pin")),
            joint: None,
            way: None,
            also: Vec::new(),
            why: None,
        };
        let replaced = What::ServoReplaced {
            joint: femur(),
            servo: "20".into(),
        };
        let known = knowledge(&book(vec![dead(22), dead(23), replaced]));
        let left: Vec<u8> = known.plugs.keys().map(|pin| pin.number()).collect();
        assert_eq!(left, [22], "the femur is planned on 23");
    }

    #[test]
    fn a_replaced_servo_leaves_the_plug_and_nothing_that_was_the_old_ones() {
        let test = |servo: &str, verdict| What::ServoTested {
            servo: servo.into(),
            verdict,
            ran_s: None,
            note: None,
        };
        let mut whats = vec![
            test("07", Verdict::Good),
            What::ServoPlaced {
                joint: femur(),
                servo: "07".into(),
            },
            mark(femur(), 1487.5, 0.0),
            mark(femur(), 1965.5, 45.0),
            mark(name("LF", JointKind::Coxa), 1500.0, 0.0),
            end(End::Near, 868.0),
            What::Bounds {
                joint: femur(),
                low_us: 960.0,
                high_us: 2040.0,
            },
        ];
        let before = knowledge(&book(whats.clone()));
        whats.push(What::ServoReplaced {
            joint: femur(),
            servo: "19".into(),
        });
        let known = knowledge(&book(whats.clone()));
        let joint = of(&known, &femur());
        let expected = Joint {
            pin: of(&before, &femur()).pin,
            needed_deg: of(&before, &femur()).needed_deg,
            servo: Some("19".into()),
            ..Joint::default()
        };
        assert_eq!(*joint, expected);
        let stale = &known.named(&femur()).expect("there").stale;
        assert_eq!(*stale, [Part::Bounds, Part::Marks, Part::Ends]);
        assert_eq!(known.servos["07"].joint, None);
        // Only that joint: every other one is as it was.
        for (at, other) in before.robot.joints() {
            if at != known.named(&femur()).expect("there").at {
                assert_eq!(known.robot.joint(at), Some(other));
            }
        }
        whats.extend([mark(femur(), 1500.0, 0.0), mark(femur(), 1980.0, 45.0)]);
        let known = knowledge(&book(whats));
        assert_eq!(
            known.named(&femur()).expect("there").stale,
            [Part::Bounds, Part::Ends]
        );
    }

    #[test]
    fn a_guard_is_no_rough_bounds_of_a_former_servo_nor_of_the_new_one() {
        let guard = What::Guard {
            joint: femur(),
            low_us: 1350.0,
            high_us: 1650.0,
        };
        let replaced = What::ServoReplaced {
            joint: femur(),
            servo: "19".into(),
        };
        let bounds = What::Bounds {
            joint: femur(),
            low_us: 960.0,
            high_us: 2040.0,
        };
        let limits = What::Limits {
            joint: femur(),
            margin_us: 36.0,
            low_us: 1000.0,
            high_us: 2000.0,
        };
        let stale = |whats: &[&What]| {
            let whats = whats.iter().copied().cloned().collect();
            let known = knowledge(&book(whats));
            known.named(&femur()).expect("there").stale.clone()
        };
        // Bounds were never found: the guard was taken over or widened by hand.
        assert_eq!(stale(&[&guard, &replaced]), []);
        // Those of the former servo are not known again because a guard was widened.
        assert_eq!(stale(&[&bounds, &replaced, &guard]), [Part::Bounds]);
        assert_eq!(stale(&[&bounds, &replaced, &bounds]), []);
        assert_eq!(stale(&[&bounds, &replaced, &limits]), []);
    }

    #[test]
    fn bounds_are_drawn_in_from_what_was_called_free_on_the_way() {
        let free = |pulse_us| What::Free {
            joint: femur(),
            toward: End::Far,
            pulse_us,
        };
        let mut whats = vec![
            free(1900.0),
            What::Bounds {
                joint: femur(),
                low_us: 1200.0,
                high_us: 1876.0,
            },
        ];
        let known = knowledge(&book(whats.clone()));
        let joint = known.named(&femur()).expect("there");
        assert_eq!(joint.end(End::Far).free_to, None);
        // What is free after that widens it.
        whats.push(free(1884.0));
        let known = knowledge(&book(whats));
        let joint = known.named(&femur()).expect("there");
        assert_eq!(joint.end(End::Far).free_to, Some(1884.0));
    }
}
