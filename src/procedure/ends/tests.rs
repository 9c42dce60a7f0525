//! A joint with ends, and a builder who says what happened.

use proptest::prelude::*;

use super::*;
use crate::calibration::logbook::What;
use crate::calibration::model::JointKind;
use crate::procedure::Procedure;
use crate::procedure::rig::{Mishap, Rig, pin, random_walk, us};
use crate::procedure::seat::samples::seat;
use crate::procedure::words::Wants;
use crate::procedure::words::{Do, Heard};

/// A joint with rough bounds, as ends find it.
fn bounded(kind: JointKind) -> Seat {
    Seat {
        ground: (us(960.0), us(2060.0)),
        bounded: true,
        ..seat(kind)
    }
}

fn rig(seats: Vec<Seat>) -> Rig<Ends> {
    let grounds: Vec<_> = seats
        .iter()
        .filter_map(|s| Some((s.pin?, s.ground)))
        .collect();
    Rig::new(Ends::from_seats(seats, true, Bench::default()), &grounds)
}

/// Answers truthfully until the work is over; how often each key was pressed in all.
fn honest(rig: &mut Rig<Ends>, ends: (f64, f64)) -> usize {
    for keys in 0..2000 {
        let step = rig.step();
        match step.wants {
            Wants::FreeOrEnd { .. } => {
                let Detail::Peck(news) = &step.picture.detail else {
                    panic!("a peck is shown: {step:?}");
                };
                assert!(news.back);
                let step = (news.to.us() - news.edge.us()).abs();
                assert!(step <= 8.0, "one fine step beyond what was free: {news:?}");
                let free = (ends.0..=ends.1).contains(&news.to.us());
                rig.say(if free { Answer::Free } else { Answer::End });
            }
            Wants::Pick { .. } => {
                rig.say(Answer::Pick(1));
            }
            Wants::Value { .. } => {
                rig.say(Answer::Value(36.0));
            }
            Wants::Over => return keys,
            _ => {
                rig.say(Answer::Enter);
            }
        }
    }
    panic!("it never came to an end");
}

#[test]
fn an_honest_builder_finds_both_ends_and_nothing_is_pressed() {
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    honest(&mut rig, (868.0, 2268.0));
    let wire = &rig.pins[&pin(23)];
    // Nothing went farther than one fine step beyond an end, and nothing rested there: the rig holds the rest.
    assert!(wire.reached.0.us() >= 868.0 - 8.0, "{:?}", wire.reached);
    assert!(wire.reached.1.us() <= 2268.0 + 8.0, "{:?}", wire.reached);
    assert_eq!(wire.pulse, None);
    let found = |side| -> Vec<f64> {
        rig.book
            .iter()
            .filter_map(|what| match what {
                What::End {
                    toward,
                    pulse_us,
                    why,
                    ..
                } if *toward == side => {
                    assert_eq!(*why, Some(Why::Servo));
                    Some(*pulse_us)
                }
                _ => None,
            })
            .collect()
    };
    for (side, truth) in [(End::Near, 868.0), (End::Far, 2268.0)] {
        let found = found(side);
        assert_eq!(found.len(), 3);
        assert!(
            found.iter().all(|us| (us - truth).abs() <= 4.0),
            "{found:?}"
        );
    }
    let Some(What::Limits {
        low_us,
        high_us,
        margin_us,
        ..
    }) = rig
        .book
        .iter()
        .find(|what| matches!(what, What::Limits { .. }))
    else {
        panic!("limits were recorded");
    };
    assert_eq!(*margin_us, 36.0);
    assert!((low_us - 904.0).abs() <= 4.0 && (high_us - 2232.0).abs() <= 4.0);
    let guards = rig
        .book
        .iter()
        .filter(|w| matches!(w, What::Guard { .. }))
        .count();
    assert_eq!(
        guards, 3,
        "one for each side as soon as it is known, and one with the limits"
    );
}

#[test]
fn a_wrong_answer_costs_one_peck() {
    // The end lies at 2071. Free to 2068; the peck to 2076 touched, and the builder said free.
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    rig.say(Answer::Enter).say(Answer::Free).say(Answer::Free);
    let wire = &rig.pins[&pin(23)];
    assert_eq!(
        (wire.pecked, wire.pulse),
        (Some(us(2084.0)), Some(us(2036.0)))
    );
    assert!(
        us(2036.0) < us(2071.0),
        "while it asks again it rests short of the end"
    );
    // Now it is said: it goes back inward before anything else, and the next pecks stay short of it.
    rig.say(Answer::End);
    assert!(rig.pins[&pin(23)].pulse.expect("awake") <= us(2060.0));
    rig.say(Answer::Pick(0));
    assert!(rig.pins[&pin(23)].pecked.expect("pecked") <= us(2068.0));
    assert!(rig.pins[&pin(23)].reached.1 <= us(2084.0));
}

#[test]
fn two_wrong_answers_press_nothing_either() {
    // The end lies at 2071; a late ear called the pecks to 2076 and 2084 free.
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    rig.say(Answer::Enter);
    rig.say(Answer::Free).say(Answer::Free).say(Answer::Free);
    let wire = &rig.pins[&pin(23)];
    assert_eq!(
        (wire.pecked, wire.pulse),
        (Some(us(2092.0)), Some(us(2044.0)))
    );
}

#[test]
fn limits_that_were_taken_over_stand_unless_the_joint_is_named() {
    let taken = Seat {
        limits: Some((us(904.0), us(2231.0))),
        ground: (us(904.0), us(2231.0)),
        ..bounded(JointKind::Femur)
    };
    let all = Ends::from_seats(vec![taken.clone()], false, Bench::default());
    assert_eq!(all.step().wants, Wants::Over);
    let mut rig = rig(vec![taken]);
    honest(&mut rig, (868.0, 2268.0));
    assert!(rig.book.iter().any(|w| matches!(w, What::Limits { .. })));
}

#[test]
fn enter_never_says_that_a_peck_was_free() {
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    rig.say(Answer::Enter);
    let before = rig.step();
    assert_eq!(before.wants, Wants::FreeOrEnd { enough: false });
    let asked = rig.asked.len();
    rig.say(Answer::Enter);
    assert_eq!(rig.step(), before);
    assert_eq!(rig.asked.len(), asked, "nothing was asked for");
}

#[test]
fn while_the_question_stands_the_joint_rests_inside_the_last_free_pulse() {
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    rig.say(Answer::Enter);
    // Far side: 2060 is known to be free, the peck went to 2068, the joint waits at 2020.
    assert_eq!(rig.pins[&pin(23)].pecked, Some(us(2068.0)));
    assert_eq!(rig.pins[&pin(23)].pulse, Some(us(2020.0)));
    assert_eq!(rig.pins[&pin(23)].guard, (us(960.0), us(2068.0)));
    rig.say(Answer::Free);
    assert_eq!(rig.pins[&pin(23)].pecked, Some(us(2076.0)));
    assert_eq!(rig.pins[&pin(23)].pulse, Some(us(2028.0)));
    assert_eq!(rig.pins[&pin(23)].guard, (us(960.0), us(2076.0)));
}

#[test]
fn undo_goes_back_inward_and_the_entry_no_longer_counts() {
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    rig.say(Answer::Enter);
    let first = rig.step();
    rig.say(Answer::Free);
    assert_eq!(rig.book.len(), 1);
    rig.say(Answer::Undo);
    assert_eq!(rig.book.len(), 0);
    assert_eq!(rig.step(), first);
    assert_eq!(rig.pins[&pin(23)].pulse, Some(us(2020.0)));
    assert_eq!(rig.pins[&pin(23)].guard, (us(960.0), us(2068.0)));
    rig.say(Answer::Undo);
    assert_eq!(rig.step().wants, Wants::Enter);
    assert_eq!(
        rig.pins[&pin(23)].pulse,
        Some(us(2020.0)),
        "it hangs back, well inside"
    );
    let step = rig.step();
    rig.say(Answer::Undo);
    assert_eq!(rig.step(), step, "nothing is left to undo");
}

#[test]
fn it_is_taken_up_where_it_was_left() {
    let mut one = rig(vec![bounded(JointKind::Femur)]);
    one.say(Answer::Enter).say(Answer::Free).say(Answer::Free);
    one.say(Answer::Leave);
    assert_eq!(one.awake(), []);
    // What the logbook keeps of that: free to 2076.
    let again = Seat {
        ground: (us(960.0), us(2076.0)),
        ..bounded(JointKind::Femur)
    };
    let mut two = rig(vec![again]);
    two.say(Answer::Enter);
    assert_eq!(two.pins[&pin(23)].pecked, Some(us(2084.0)));
}

#[test]
fn each_mishap_leaves_it_limp_or_still_and_enter_takes_the_step_up_again() {
    for mishap in [
        Mishap::Refused,
        Mishap::Limp,
        Mishap::Frozen,
        Mishap::CalledOff,
    ] {
        for at in 0..12 {
            let mut rig = rig(vec![bounded(JointKind::Femur)]);
            rig.mishap = Some((at, mishap));
            rig.say(Answer::Enter).say(Answer::Free).say(Answer::Free);
            let hit = rig.mishap.is_none();
            if hit && rig.step().wrong {
                assert_eq!(rig.step().wants, Wants::Enter);
                rig.say(Answer::Enter);
            }
            let mut left = 0;
            while rig.step().wants == Wants::Enter && left < 3 {
                rig.say(Answer::Enter);
                left += 1;
            }
            assert_eq!(
                rig.step().wants,
                Wants::FreeOrEnd { enough: false },
                "{mishap:?} {at}"
            );
            rig.mishap = None;
            honest(&mut rig, (868.0, 2268.0));
        }
    }
}

#[test]
fn space_at_any_step_is_survived() {
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    rig.say(Answer::Enter).say(Answer::Free);
    rig.space();
    assert!(rig.step().wrong);
    assert_eq!(rig.step().wants, Wants::Enter);
    rig.say(Answer::Free);
    assert_eq!(rig.book.len(), 1, "an answer to what is no longer asked");
    rig.say(Answer::Enter);
    honest(&mut rig, (868.0, 2268.0));
}

#[test]
fn the_board_s_trip_is_an_end() {
    let it = bounded(JointKind::Femur);
    let bench = Bench {
        sensor: Some(crate::procedure::Sensor {
            input: 0,
            mv: 900,
            ms: 20,
        }),
        ..Bench::default()
    };
    let mut ends = Ends::from_seats(vec![it], true, bench);
    ends.begin(0);
    let mut asks = ends.answer(&Answer::Enter, 0);
    let mut armed = false;
    // Perform by hand until the peck is under way.
    loop {
        let Some(Do::Ask(ask)) = asks.iter().find(|d| matches!(d, Do::Ask(_))).cloned() else {
            panic!("no peck came: {asks:?}");
        };
        armed |=
            matches!(&ask, Ask::Trip { input: 0, mv: 900, ms: 20, pins } if *pins == [pin(23)]);
        let peck = matches!(ask, Ask::Peck { .. });
        asks = ends.heard(&Heard::Done(ask), 0);
        if peck {
            break;
        }
        asks.extend(ends.heard(&Heard::Settled, 0));
    }
    assert!(armed, "the trip stands before the first peck");
    let todo = ends.heard(&Heard::Tripped, 0);
    assert!(
        !todo.iter().any(|d| matches!(d, Do::Ask(_))),
        "it stays limp: {todo:?}"
    );
    let Wants::Pick { options, .. } = ends.step().wants else {
        panic!("it asks what it was");
    };
    assert_eq!(options.len(), Why::ALL.len());
    let todo = ends.answer(&Answer::Pick(0), 0);
    assert!(matches!(
        &todo[0],
        Do::Record(What::End {
            by: EndKind::Trip,
            why: Some(Why::Linkage),
            ..
        })
    ));
}

#[test]
fn where_the_board_s_own_pulses_end_first_the_side_is_open() {
    let mut rig = rig(vec![bounded(JointKind::Femur)]);
    honest(&mut rig, (868.0, 9999.0));
    assert!(!rig.book.iter().any(|w| matches!(
        w,
        What::End {
            toward: End::Far,
            ..
        }
    )));
    assert!(
        rig.book
            .iter()
            .any(|w| matches!(w, What::Limits { high_us, .. } if *high_us == 2500.0))
    );
}

#[test]
fn a_joint_without_a_plug_is_not_called_done() {
    let mut it = bounded(JointKind::Femur);
    it.pin = None;
    let step = Ends::from_seats(vec![it], true, Bench::default()).step();
    assert!(
        step.wrong && step.next.contains("find the plugs first"),
        "{step:?}"
    );
}

#[test]
fn done_names_the_one_joint_that_it_was_about() {
    let of = |kinds: &[JointKind]| {
        let limited = |kind: &JointKind| {
            let mut it = bounded(*kind);
            it.limits = Some(it.ground);
            it
        };
        let seats = kinds.iter().map(limited).collect();
        Ends::from_seats(seats, false, Bench::default()).step().next
    };
    assert_eq!(
        of(&[JointKind::Femur]),
        "Enter leaves: LF femur has its ends and limits."
    );
    assert_eq!(
        of(&[JointKind::Femur, JointKind::Tibia]),
        "Enter leaves: every joint here has its ends and limits."
    );
}

#[test]
fn an_end_is_kept_with_the_pose_of_every_other_joint_that_is_awake() {
    use crate::calibration::logbook::{JointName, Neighbour};
    let it = beside_a_coxa(None);
    let mut rig = Rig::new(it, &[(pin(23), (Pulse::CENTRE, Pulse::CENTRE))]);
    rig.say(Answer::Enter).say(Answer::End);
    rig.say(Answer::Pick(3));
    let Some(What::End { others, why, .. }) = rig.book.last() else {
        panic!("recorded: {:?}", rig.book);
    };
    assert_eq!(*why, Some(Why::ALL[3]));
    let (awake, limp): (Vec<_>, Vec<_>) = others.iter().partition(|it| it.pulse_us.is_some());
    assert_eq!(
        awake,
        [&Neighbour {
            joint: JointName::new("LM", JointKind::Coxa),
            pulse_us: Some(1620.0)
        }]
    );
    // All seventeen others are named; where the limp ones hung is not known, and that is said.
    assert_eq!(limp.len(), 16);
    assert!(!others.iter().any(|it| it.joint.to_string() == "LF femur"));
    let written = serde_json::to_value(limp[0]).expect("JSON");
    assert_eq!(written, serde_json::json!({ "joint": "LF coxa" }));
}

/// The ends of Marram's LF femur; the next leg's coxa is awake and stands in the way.
fn beside_a_coxa(sensor: Option<crate::procedure::Sensor>) -> Ends {
    use crate::calibration::logbook::{Entry, Plan};
    let robot = crate::calibration::read(crate::calibration::MARRAM).robot;
    let entry = Entry {
        n: 1,
        at: "2026-03-14T10:22:05Z".into(),
        what: What::Plan(Plan::of(&robot.expect("a good file"))),
    };
    let known = crate::estimate::knowledge(&[entry]);
    let femur = crate::calibration::JointRef {
        leg: 0,
        kind: JointKind::Femur,
    };
    let bench = Bench {
        awake: vec![(pin(25), us(1620.0))],
        sensor,
        ..Bench::default()
    };
    Ends::new(&known, Scope::Joint(femur), bench)
}

#[test]
fn a_joint_that_held_its_pose_when_the_trip_acted_is_not_called_limp() {
    let mut ends = beside_a_coxa(Some(SENSOR));
    ends.begin(0);
    let todo = ends.answer(&Answer::Enter, 0);
    until_peck(&mut ends, todo);
    ends.heard(&Heard::Tripped, 0);
    let todo = ends.answer(&Answer::Pick(3), 0);
    let Do::Record(What::End { others, .. }) = &todo[0] else {
        panic!("recorded: {todo:?}");
    };
    let coxa = others.iter().find(|it| it.joint.to_string() == "LM coxa");
    assert_eq!(coxa.expect("named").pulse_us, Some(1620.0));
    assert_eq!(others.iter().filter(|it| it.pulse_us.is_some()).count(), 1);
}

proptest! {
    #[test]
    fn whatever_is_answered_nothing_rests_beyond_what_was_confirmed(
        answers in proptest::collection::vec(any::<u8>(), 0..120),
        mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..6),
    ) {
        let seats = vec![bounded(JointKind::Femur), bounded(JointKind::Tibia)];
        let grounds: Vec<_> = seats.iter().filter_map(|s| Some((s.pin?, s.ground))).collect();
        random_walk(Ends::from_seats(seats, true, Bench::default()), &grounds, &answers, &mishaps);
    }
}

const SENSOR: crate::procedure::Sensor = crate::procedure::Sensor {
    input: 0,
    mv: 600,
    ms: 30,
};

/// These joints on a bench with a current sensor, begun.
fn with_sensor(seats: Vec<Seat>) -> Ends {
    let bench = Bench {
        sensor: Some(SENSOR),
        ..Bench::default()
    };
    let mut ends = Ends::from_seats(seats, true, bench);
    ends.begin(0);
    ends
}

/// Does what is asked until nothing more is, or such a request is under way; every request in order.
fn until(ends: &mut Ends, mut todo: Vec<Do>, last: fn(&Ask) -> bool) -> Vec<Ask> {
    let mut asked = Vec::new();
    while let Some(Do::Ask(ask)) = todo.iter().find(|it| matches!(it, Do::Ask(_))).cloned() {
        asked.push(ask.clone());
        let is_last = last(&ask);
        todo = ends.heard(&Heard::Done(ask), 0);
        if is_last {
            break;
        }
        todo.extend(ends.heard(&Heard::Settled, 0));
    }
    asked
}

/// Until a peck is under way.
fn until_peck(ends: &mut Ends, todo: Vec<Do>) -> Vec<Ask> {
    let pecks: fn(&Ask) -> bool = |it| matches!(it, Ask::Peck { .. });
    let asked = until(ends, todo, pecks);
    assert!(asked.last().is_some_and(pecks), "no peck came: {asked:?}");
    asked
}

/// Until nothing more is asked.
fn until_rest(ends: &mut Ends, todo: Vec<Do>) -> Vec<Ask> {
    until(ends, todo, |_| false)
}

#[test]
fn no_trip_stands_while_a_joint_wakes_and_one_outside_a_peck_leaves_no_pin_awake_unseen() {
    let mut ends = with_sensor(vec![seat(JointKind::Femur)]);
    let todo = ends.answer(&Answer::Enter, 0);
    let asked = until_peck(&mut ends, todo);
    let at = |asked: &[Ask], which: fn(&Ask) -> bool| asked.iter().position(which);
    let (off, wakes, on) = (
        at(&asked, |it| matches!(it, Ask::Trip { mv: 0, .. })),
        at(&asked, |it| matches!(it, Ask::Wake { .. })),
        at(&asked, |it| matches!(it, Ask::Trip { mv: 600, .. })),
    );
    assert!(off.is_some() && off < wakes && wakes < on, "{asked:?}");
    // It is back from its peck, and the trip acts late.
    ends.heard(&Heard::Settled, 0);
    ends.heard(&Heard::Tripped, 0);
    assert_eq!(ends.step().big, "ALL LIMP");
    let todo = ends.answer(&Answer::Enter, 0);
    let asked = until_peck(&mut ends, todo);
    let limp = at(&asked, |it| matches!(it, Ask::Limp { .. }));
    let (off, wakes) = (
        at(&asked, |it| matches!(it, Ask::Trip { mv: 0, .. })),
        at(&asked, |it| matches!(it, Ask::Wake { .. })),
    );
    assert!(limp.is_some() && limp < wakes && off < wakes, "{asked:?}");
}

#[test]
fn a_joint_that_tripped_at_its_last_find_does_not_stay_in_the_way_of_others() {
    let mut ends = with_sensor(vec![bounded(JointKind::Femur)]);
    for _ in [End::Far, End::Near] {
        let todo = ends.answer(&Answer::Enter, 0);
        until_peck(&mut ends, todo);
        ends.heard(&Heard::Tripped, 0);
        let todo = ends.answer(&Answer::Pick(0), 0);
        until_peck(&mut ends, todo);
        let todo = ends.heard(&Heard::Tripped, 0);
        until_rest(&mut ends, todo);
        let todo = ends.answer(&Answer::Enter, 0);
        until_peck(&mut ends, todo);
        let todo = ends.heard(&Heard::Tripped, 0);
        let asked = until_rest(&mut ends, todo);
        let limp = |it: &Ask| matches!(it, Ask::Limp { .. });
        assert!(asked.iter().all(limp), "nothing moves unasked: {asked:?}");
    }
    // Both sides are known: it hangs at its near end, in the way of others, and is led home at the next answer.
    assert_eq!(ends.step().big, "TYPE THE MARGIN");
    let todo = ends.answer(&Answer::Value(36.0), 0);
    let asked = until_rest(&mut ends, todo);
    assert!(
        matches!(
            &asked[asked.len() - 2..],
            [Ask::Wake { pulse: Pulse::CENTRE, .. }, Ask::Limp { pins }] if *pins == [pin(23)]
        ),
        "{asked:?}"
    );
}
