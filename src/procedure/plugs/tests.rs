//! A robot with two plugs swapped and a dead servo; a builder who says what moved.

use proptest::prelude::*;

use super::*;
use crate::calibration::model::JointKind;
use crate::calibration::{MARRAM, read};
use crate::procedure::Procedure;
use crate::procedure::rig::{Rig, pin, random_walk};
use crate::procedure::words::{Ask, Wants};

fn robot() -> Robot {
    read(MARRAM).robot.expect("a good file")
}

fn rig(pins: std::ops::RangeInclusive<u8>) -> Rig<Plugs> {
    let robot = robot();
    let rows: Vec<PlugRow> = pins
        .clone()
        .map(|n| PlugRow {
            pin: pin(n),
            found: Reaction::Unknown,
            planned: robot.joint_of_pin(pin(n)),
        })
        .collect();
    let grounds: Vec<_> = pins.map(|n| (pin(n), (Pulse::CENTRE, NUDGE))).collect();
    Rig::new(
        Plugs::from_rows(robot, Vec::new(), rows, Bench::default()),
        &grounds,
    )
}

/// Says for each pin what this wiring makes of it, until all were asked.
fn tell(rig: &mut Rig<Plugs>, drives: impl Fn(u8) -> Option<JointRef>) {
    while rig.step().wants == Wants::JointAndWay {
        let number = rig.step().picture.pin.expect("a pin").number();
        match drives(number) {
            Some(joint) => {
                rig.say(Answer::Joint(joint))
                    .say(Answer::Way(Way::Negative));
                rig.say(Answer::Enter);
            }
            None => {
                rig.say(Answer::None);
                if rig.step().big == "WHY NOTHING?" {
                    rig.say(Answer::Pick(Dead::ALL.len()));
                }
            }
        }
    }
}

#[test]
fn a_pin_is_nudged_once_and_limp_before_the_question() {
    let mut rig = rig(22..=24);
    assert!(
        rig.asked.is_empty(),
        "nothing moves when the page is opened"
    );
    rig.say(Answer::Enter);
    let moves: Vec<String> = rig
        .asked
        .iter()
        .filter_map(|ask| match ask {
            Ask::Wake { pulse, .. } => Some(format!("wake {pulse}")),
            Ask::Go { moves, .. } => Some(format!("go {}", moves[0].1)),
            Ask::Limp { .. } => Some("limp".to_string()),
            _ => None,
        })
        .collect();
    assert_eq!(moves, ["wake 1500", "go 1540", "go 1500", "limp"]);
    assert_eq!(rig.awake(), []);
    assert_eq!((rig.step().wants, rig.bells), (Wants::JointAndWay, 1));
    let asked = rig.asked.len();
    rig.say(Answer::Enter);
    assert_eq!(rig.asked.len(), asked, "Enter without a joint says nothing");
    rig.say(Answer::Again);
    assert!(rig.asked.len() > asked);
}

#[test]
fn two_swapped_plugs_end_in_one_exchange_that_is_tried_again() {
    let mut rig = rig(22..=39);
    let planned = robot();
    let mut swapped = true;
    rig.say(Answer::Enter);
    for round in 0..2 {
        tell(&mut rig, |n| {
            let n = match n {
                38 if swapped => 39,
                39 if swapped => 38,
                n => n,
            };
            planned.joint_of_pin(pin(n))
        });
        if round == 1 {
            break;
        }
        let Wants::Pick { options, .. } = rig.step().wants else {
            panic!("a choice: {:?}", rig.step());
        };
        assert_eq!(options.len(), 2, "exchange or accept: {options:?}");
        rig.say(Answer::Pick(0));
        assert!(
            rig.step()
                .next
                .starts_with("Exchange the plugs in 38 and 39")
        );
        rig.say(Answer::Enter);
        swapped = false;
        assert!(matches!(
            rig.book.last(),
            Some(What::PlugsExchanged { pins: (Copper(a), Copper(b)) }) if (a.number(), b.number()) == (38, 39)
        ));
        rig.say(Answer::Enter);
    }
    assert_eq!(rig.step().big, "PLUGS AS PLANNED");
    rig.say(Answer::Enter);
    assert!(rig.it.is_over());
    let ways = rig.book.iter().filter(|w| {
        matches!(
            w,
            What::Plug {
                way: Some(Way::Negative),
                ..
            }
        )
    });
    assert_eq!(
        ways.count(),
        20,
        "18 and the two exchanged ones: map and direction at once"
    );
}

#[test]
fn the_line_of_an_answer_says_which_pin_its_enter_nudges_next() {
    let mut rig = rig(22..=23);
    let planned = robot();
    let joint = |n| planned.joint_of_pin(pin(n)).expect("planned");
    rig.say(Answer::Enter);
    rig.say(Answer::Joint(joint(22)))
        .say(Answer::Way(Way::Positive));
    let second = rig.step().second;
    assert!(
        second.starts_with("Enter nudges pin 23 next, hands away."),
        "{second}"
    );
    rig.say(Answer::None);
    assert!(
        rig.step().second.contains("nudges pin 23 next, hands away"),
        "{}",
        rig.step().second
    );
    // What was chosen is still there.
    rig.say(Answer::Undo).say(Answer::Enter).say(Answer::Enter);
    rig.say(Answer::Joint(joint(23)))
        .say(Answer::Way(Way::Positive));
    let second = rig.step().second;
    assert!(second.contains("nothing moves"), "the last one: {second}");
}

#[test]
fn a_joint_that_moved_at_two_pins_is_asked_about_before_anything_is_recorded() {
    let planned = robot();
    let joint = |n| planned.joint_of_pin(pin(n)).expect("planned");
    // Pin 22 was told as the femur, which then moves at pin 23.
    let told = || {
        let mut rig = rig(22..=24);
        rig.say(Answer::Enter);
        for _ in 0..2 {
            rig.say(Answer::Joint(joint(23)))
                .say(Answer::Way(Way::Positive))
                .say(Answer::Enter);
        }
        assert_eq!(rig.book.len(), 1);
        let step = rig.step();
        assert_eq!((step.big, step.wrong), ("WHICH PIN IS RIGHT?", true));
        assert!(
            step.next
                .starts_with("LF femur is already on pin 22: which is right?"),
            "{}",
            step.next
        );
        rig
    };
    let mut rig = told();
    rig.say(Answer::Pick(0));
    assert!(
        matches!(&rig.book[1..], [
            What::StartOver { part: Part::Plug, .. },
            What::Plug { pin: Copper(it), .. },
        ] if it.number() == 23),
        "{:?}",
        rig.book
    );
    assert_eq!(
        rig.step().picture.pin,
        Some(pin(22)),
        "the other one is asked about again"
    );
    rig.say(Answer::Undo);
    assert_eq!((rig.book.len(), rig.step().big), (1, "WHICH PIN IS RIGHT?"));
    let mut rig = told();
    rig.say(Answer::Pick(1));
    assert_eq!((rig.book.len(), rig.step().picture.pin), (1, Some(pin(23))));
    assert_eq!(rig.step().wants, Wants::JointAndWay, "nudged again");
    let mut rig = told();
    rig.say(Answer::Pick(2));
    assert_eq!((rig.book.len(), rig.step().picture.pin), (2, Some(pin(24))));
}

#[test]
fn a_dead_pin_and_a_missing_joint_are_named_and_the_map_can_be_accepted() {
    let mut rig = rig(22..=39);
    let planned = robot();
    rig.say(Answer::Enter);
    tell(&mut rig, |n| {
        (n != 35).then(|| planned.joint_of_pin(pin(n))).flatten()
    });
    let step = rig.step();
    let text = step.lines.join(" ");
    assert!(
        step.wrong && text.contains("pin 35 moved nothing"),
        "{text}"
    );
    assert!(text.contains("planned is RM femur"), "{text}");
    assert!(text.contains("if it is dead, F2 Replace"), "{text}");
    rig.say(Answer::Pick(1));
    let Some(What::MapAccepted { wires }) = rig.book.last() else {
        panic!("accepted");
    };
    assert_eq!(wires.len(), 17);
    assert_eq!(rig.step().wants, Wants::Over);
}

#[test]
fn without_a_plan_what_is_unlike_the_other_legs_is_remarked() {
    let mut bare = robot();
    for leg in &mut bare.legs {
        for kind in JointKind::ALL {
            leg.joint_mut(kind).pin = None;
        }
    }
    let rows: Vec<PlugRow> = (22..=39)
        .map(|n| PlugRow {
            pin: pin(n),
            found: Reaction::Unknown,
            planned: None,
        })
        .collect();
    let grounds: Vec<_> = (22..=39)
        .map(|n| (pin(n), (Pulse::CENTRE, NUDGE)))
        .collect();
    let mut rig = Rig::new(
        Plugs::from_rows(bare, Vec::new(), rows, Bench::default()),
        &grounds,
    );
    let planned = robot();
    rig.say(Answer::Enter);
    for n in 22..=39 {
        let drives = match n {
            38 => 39,
            39 => 38,
            n => n,
        };
        let joint = planned.joint_of_pin(pin(drives)).expect("planned");
        // LM femur alone turns the other way.
        let way = if n == 26 {
            Way::Positive
        } else {
            Way::Negative
        };
        rig.say(Answer::Joint(joint))
            .say(Answer::Way(way))
            .say(Answer::Enter);
    }
    let step = rig.step();
    let text = step.lines.join(" ");
    assert!(
        text.contains("! RR: 38 tibia and 39 femur are not in the order of the other legs"),
        "{text}"
    );
    assert!(
        text.contains("! LM femur turns the other way than the other left ones"),
        "{text}"
    );
    assert_eq!(text.matches('!').count(), 2, "{text}");
    // One choice is none.
    assert!(
        step.next.starts_with("Enter: every joint was found"),
        "{}",
        step.next
    );
}

#[test]
fn mending_asks_only_for_what_did_not_add_up() {
    let mut rig = rig(22..=39);
    let planned = robot();
    rig.say(Answer::Enter);
    tell(&mut rig, |n| {
        (n != 35).then(|| planned.joint_of_pin(pin(n))).flatten()
    });
    rig.say(Answer::Pick(0)).say(Answer::Enter);
    assert_eq!(rig.step().picture.pin, Some(pin(35)));
    tell(&mut rig, |n| planned.joint_of_pin(pin(n)));
    assert_eq!(rig.step().big, "PLUGS AS PLANNED");
}

#[test]
fn after_none_it_is_asked_why_and_the_cause_is_recorded_with_the_pin() {
    for (k, cause) in [
        (0, Some(Dead::NoPlug)),
        (1, Some(Dead::PlugTurned)),
        (2, Some(Dead::WireOrServo)),
        (3, None),
    ] {
        let mut rig = rig(22..=24);
        rig.say(Answer::Enter).say(Answer::None);
        let step = rig.step();
        assert_eq!(
            (step.big, step.picture.pin),
            ("WHY NOTHING?", Some(pin(22)))
        );
        assert!(matches!(&step.wants, Wants::Pick { options, .. } if options.len() == 4));
        assert!(
            step.lines.join(" ").contains("planned is LF coxa"),
            "{:?}",
            step.lines
        );
        assert!(rig.book.is_empty() && rig.awake().is_empty());
        rig.say(Answer::Pick(4));
        assert!(rig.book.is_empty(), "no such cause");
        rig.say(Answer::Pick(k));
        let Some(What::Plug {
            joint: None, why, ..
        }) = rig.book.first()
        else {
            panic!("recorded: {:?}", rig.book);
        };
        assert_eq!(*why, cause);
        assert_eq!(rig.step().picture.pin, Some(pin(23)));
    }
}

#[test]
fn two_joints_at_one_pin_are_recorded_as_such() {
    let mut rig = rig(22..=24);
    let planned = robot();
    let joint = |n| planned.joint_of_pin(pin(n)).expect("planned");
    rig.say(Answer::Enter);
    rig.say(Answer::Joint(joint(22)))
        .say(Answer::Way(Way::Positive));
    rig.say(Answer::Also).say(Answer::Joint(joint(23)));
    assert_eq!(rig.step().picture.joint, Some(joint(22)));
    rig.say(Answer::Enter);
    let Some(What::Plug {
        also,
        joint: Some(it),
        ..
    }) = rig.book.first()
    else {
        panic!("recorded");
    };
    assert_eq!((it.to_string(), also.len()), ("LF coxa".to_string(), 1));
}

#[test]
fn undo_asks_for_the_former_pin_again() {
    let mut rig = rig(22..=24);
    rig.say(Answer::Enter).say(Answer::None);
    rig.say(Answer::Pick(0));
    assert_eq!(rig.step().picture.pin, Some(pin(23)));
    rig.say(Answer::Undo);
    assert_eq!(rig.step().big, "WHY NOTHING?");
    rig.say(Answer::Undo);
    assert_eq!(rig.step().picture.pin, Some(pin(22)));
    assert!(rig.book.is_empty());
    assert_eq!(rig.awake(), []);
}

/// Marram as it is before any wiring was planned, and what this logbook knows of it.
fn unplanned(whats: &[What]) -> Knowledge {
    use crate::calibration::logbook::{Entry, Plan};
    let mut robot = robot();
    for leg in &mut robot.legs {
        leg.joints = Default::default();
    }
    let plan = What::Plan(Plan::of(&robot));
    let all = std::iter::once(&plan).chain(whats);
    let entries: Vec<Entry> = all
        .zip(1..)
        .map(|(what, n)| Entry {
            n,
            at: "2026-03-14T10:22:05Z".into(),
            what: what.clone(),
        })
        .collect();
    crate::estimate::knowledge(&entries)
}

fn of_unplanned(known: &Knowledge, scope: Scope) -> Rig<Plugs> {
    let grounds: Vec<_> = (2..=69).map(|n| (pin(n), (Pulse::CENTRE, NUDGE))).collect();
    Rig::new(Plugs::new(known, scope, &[], Bench::default()), &grounds)
}

#[test]
fn a_robot_without_a_plan_is_asked_which_pins_to_try_and_its_map_becomes_the_plan() {
    let known = unplanned(&[]);
    let mut rig = of_unplanned(&known, Scope::Robot);
    assert_eq!(rig.step().big, "FROM WHICH PIN?");
    let offered = |rig: &Rig<Plugs>| match rig.step().wants {
        Wants::Value { start, .. } => start,
        other => panic!("a number: {other:?}"),
    };
    assert_eq!(offered(&rig), Some(22.0));
    rig.say(Answer::Value(22.5));
    assert_eq!(rig.step().big, "FROM WHICH PIN?", "no pin has a half");
    rig.say(Answer::Value(22.0));
    assert_eq!(offered(&rig), Some(39.0), "18 joints, 18 pins");
    rig.say(Answer::Value(39.0));
    assert!(rig.asked.is_empty(), "nothing moves before Enter");
    rig.say(Answer::Enter);
    // The plugs sit in the order that happened to come.
    let wired = robot();
    let other = |n: u8| wired.joint_of_pin(pin(61 - n));
    tell(&mut rig, other);
    assert_eq!(rig.step().big, "ACCEPT THE WIRING?");
    assert!(!rig.step().wrong);
    rig.say(Answer::Pick(0));
    assert_eq!(rig.step().wants, Wants::Over);
    // The logbook alone has every pin in the file.
    let known = unplanned(&rig.book);
    assert!(known.map_accepted);
    for n in 22..=39 {
        let at = other(n).expect("a joint");
        let joint = known.robot.joint(at).expect("there");
        assert_eq!(joint.pin, Some(pin(n)), "{at:?}");
        assert_eq!(known.joint(at).expect("known").planned_pin, Some(pin(n)));
    }
    let rig = of_unplanned(&known, Scope::Robot);
    assert_eq!(rig.step().big, "PLUGS AS PLANNED");
}

#[test]
fn the_search_without_a_plan_is_taken_up_behind_the_last_pin_and_names_what_was_not_found() {
    let known = unplanned(&[]);
    let mut rig = of_unplanned(&known, Scope::Leg(0));
    rig.say(Answer::Value(30.0))
        .say(Answer::Value(31.0))
        .say(Answer::Enter);
    let coxa = JointRef {
        leg: 0,
        kind: crate::calibration::JointKind::Coxa,
    };
    tell(&mut rig, |n| (n == 31).then_some(coxa));
    let step = rig.step();
    assert!(step.wrong && step.next.contains("does not add up"));
    let text = step.lines.join(" ");
    assert!(
        text.contains("! not found: LF femur, LF tibia.") && text.contains("dead servo"),
        "{text}"
    );
    let Wants::Pick { options, .. } = step.wants else {
        panic!("a choice");
    };
    assert_eq!(options.len(), 3, "again, others, as it is: {options:?}");
    rig.say(Answer::Leave);
    let known = unplanned(&rig.book);
    let mut rig = of_unplanned(&known, Scope::Leg(0));
    let Wants::Value { start, .. } = rig.step().wants else {
        panic!("asks for more pins: {:?}", rig.step());
    };
    assert_eq!(start, Some(32.0));
    rig.say(Answer::None);
    assert_eq!(rig.step().big, "MEND OR ACCEPT?");
    rig.say(Answer::Undo).say(Answer::Value(29.0));
    rig.say(Answer::Value(32.0)).say(Answer::Enter);
    assert_eq!(rig.step().picture.pin, Some(pin(29)), "31 is known already");
}

#[test]
fn a_plug_that_sits_beside_the_plan_is_found_among_other_pins() {
    let planned = robot();
    let rows = (22..=24).map(|n| PlugRow {
        pin: pin(n),
        found: Reaction::Unknown,
        planned: planned.joint_of_pin(pin(n)),
    });
    let grounds: Vec<_> = [22, 23, 24, 40]
        .map(|n| (pin(n), (Pulse::CENTRE, NUDGE)))
        .into();
    let it = Plugs::from_rows(robot(), Vec::new(), rows.collect(), Bench::default());
    let mut rig = Rig::new(it, &grounds);
    rig.say(Answer::Enter);
    let drives = |n: u8| match n {
        24 => None,
        40 => planned.joint_of_pin(pin(24)),
        n => planned.joint_of_pin(pin(n)),
    };
    tell(&mut rig, drives);
    let Wants::Pick { options, .. } = rig.step().wants else {
        panic!("a choice");
    };
    let others = options.iter().position(|it| it == "try other pins too");
    rig.say(Answer::Pick(others.expect("offered")));
    rig.say(Answer::Value(40.0))
        .say(Answer::Value(40.0))
        .say(Answer::Enter);
    tell(&mut rig, drives);
    assert!(
        rig.step().lines.join(" ").contains("from 40 to 24"),
        "{:?}",
        rig.step().lines
    );
}

proptest! {
    #[test]
    fn without_a_plan_only_the_nudge_is_made_too(
        answers in proptest::collection::vec(any::<u8>(), 0..120),
        mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..6),
    ) {
        let grounds: Vec<_> = (2..=69).map(|n| (pin(n), (Pulse::CENTRE, NUDGE))).collect();
        let it = Plugs::new(&unplanned(&[]), Scope::Robot, &[], Bench::default());
        random_walk(it, &grounds, &answers, &mishaps);
    }

    #[test]
    fn whatever_is_answered_only_the_nudge_is_made(
        answers in proptest::collection::vec(any::<u8>(), 0..120),
        mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..6),
    ) {
        let robot = robot();
        let rows: Vec<PlugRow> = (22..=26)
            .map(|n| PlugRow { pin: pin(n), found: Reaction::Unknown, planned: robot.joint_of_pin(pin(n)) })
            .collect();
        let grounds: Vec<_> = (22..=26).map(|n| (pin(n), (Pulse::CENTRE, NUDGE))).collect();
        random_walk(Plugs::from_rows(robot, Vec::new(), rows, Bench::default()), &grounds, &answers, &mishaps);
    }
}
