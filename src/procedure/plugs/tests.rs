//! A robot with two plugs swapped and a dead servo; a builder who says what moved.

use proptest::prelude::*;

use super::*;
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
    Rig::new(Plugs::from_rows(robot, rows, Bench::default()), &grounds)
}

/// Says for each pin what this wiring makes of it, until all were asked.
fn tell(rig: &mut Rig<Plugs>, drives: impl Fn(u8) -> Option<JointRef>) {
    while rig.step().wants == Wants::JointAndWay {
        let number = rig.step().picture.pin.expect("a pin").number();
        match drives(number) {
            Some(joint) => {
                rig.say(Answer::Joint(joint))
                    .say(Answer::Way(Way::Negative));
                rig.say(Answer::Enter)
            }
            None => rig.say(Answer::None),
        };
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
    assert!(text.contains("RM femur was not found"), "{text}");
    rig.say(Answer::Pick(1));
    let Some(What::MapAccepted { wires }) = rig.book.last() else {
        panic!("accepted");
    };
    assert_eq!(wires.len(), 17);
    assert_eq!(rig.step().wants, Wants::Over);
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
    assert_eq!(rig.step().picture.pin, Some(pin(23)));
    rig.say(Answer::Undo);
    assert_eq!(rig.step().picture.pin, Some(pin(22)));
    assert!(rig.book.is_empty());
    assert_eq!(rig.awake(), []);
}

proptest! {
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
        random_walk(Plugs::from_rows(robot, rows, Bench::default()), &grounds, &answers, &mishaps);
    }
}
