//! One joint on the bench: its horn, what it needs, what is asked again and what is kept.

use proptest::prelude::*;

use super::*;
use crate::calibration::logbook::Part;
use crate::calibration::logbook::{Entry, JointName, Plan};
use crate::calibration::model::JointRef;
use crate::calibration::{MARRAM, read};
use crate::estimate::knowledge;
use crate::procedure::Procedure;
use crate::procedure::rig::{Rig, pin, random_walk};
use crate::procedure::seat::samples::seat;
use crate::procedure::words::Wants;

fn rig(seat: Seat) -> Rig<Horns> {
    let centre = (Pulse::CENTRE, Pulse::CENTRE);
    Rig::new(
        Horns::from_seats(vec![seat], false, Bench::default()),
        &[(pin(23), centre)],
    )
}

/// Servo 07, 25 teeth, one arm, 60° to each side, awake at mid-travel.
fn to_the_angle(rig: &mut Rig<Horns>) {
    rig.say(Answer::Text("07".into()))
        .say(Answer::Pick(3))
        .say(Answer::Pick(0))
        .say(Answer::Pick(0));
    rig.say(Answer::Value(60.0));
    assert!(
        rig.asked.is_empty(),
        "nothing moved before the hands were asked away"
    );
    rig.say(Answer::Enter);
    assert_eq!(rig.awake(), [pin(23)]);
}

#[test]
fn a_servo_that_was_found_dead_is_not_taken_without_a_word() {
    let mut rig = rig(seat(JointKind::Femur));
    let unfit = &mut rig.it.mind.unfit;
    unfit.insert("07".into(), Verdict::Dead);
    rig.say(Answer::Text("08".into()));
    assert!(!rig.step().wrong);
    rig.say(Answer::Undo).say(Answer::Text("07".into()));
    let step = rig.step();
    let lines = step.lines.join(" ");
    assert!(step.wrong && lines.contains("! servo 07 was found dead when it was tested alone"));
    let plan = What::Plan(Plan::of(&read(MARRAM).robot.expect("a good file")));
    let tested = What::ServoTested {
        servo: "09".into(),
        verdict: Verdict::Hot,
        ran_s: None,
        note: None,
    };
    let entry = |(n, what): (u64, What)| Entry {
        n,
        at: "2026-04-02T08:15:00Z".into(),
        what,
    };
    let entries: Vec<Entry> = (1..).zip([plan, tested]).map(entry).collect();
    let known = knowledge(&entries);
    let horns = Horns::new(&known, Scope::Robot, Bench::default());
    assert_eq!(horns.mind.unfit.get("09"), Some(&Verdict::Hot));
}

#[test]
fn the_angle_is_read_twice_and_a_third_time_if_the_readings_differ() {
    let mut rig = rig(seat(JointKind::Femur));
    to_the_angle(&mut rig);
    rig.say(Answer::Value(20.0));
    assert_eq!(rig.step().big, "READ IT AGAIN");
    assert_eq!(rig.awake(), [pin(23)], "it stays at mid-travel");
    rig.say(Answer::Value(25.0));
    assert_eq!(rig.step().big, "READ IT AGAIN");
    rig.say(Answer::Value(21.0)).say(Answer::Pick(0));
    let Some(What::Horn { came_out_deg, .. }) = rig.book.last() else {
        panic!("recorded: {:?}", rig.book);
    };
    assert_eq!(*came_out_deg, 22.0);
}

#[test]
fn the_horn_a_tooth_off_is_seen_and_the_margin_said() {
    let mut rig = rig(seat(JointKind::Femur));
    to_the_angle(&mut rig);
    // Needed −50 to +60: its middle is 5°. It came out at 20°, a tooth of 14.4° too high.
    rig.say(Answer::Value(19.5)).say(Answer::Value(20.5));
    assert_eq!(rig.awake(), [], "limp while hands are in");
    let step = rig.step();
    let Wants::Pick { options, .. } = &step.wants else {
        panic!("a choice");
    };
    // The middle would be 20 − 14.4 = 5.6°: from −54.4 to +65.6°.
    assert_eq!(options[0], "1 tooth down: 4.4° left below, 5.6° left above");
    assert!(
        options.last().is_some_and(|it| it.starts_with("leave")),
        "{options:?}"
    );
    rig.say(Answer::Pick(0)).say(Answer::Enter);
    let Some(What::Horn {
        turn_teeth: -1,
        came_out_deg,
        margin_deg,
        ..
    }) = rig.book.last()
    else {
        panic!("recorded: {:?}", rig.book);
    };
    // 20 − 14.4 = 5.6°: to −54.4 and +65.6; the worse side is left 4.4°.
    assert!((came_out_deg - 20.0).abs() < 1e-9 && (margin_deg - 4.4).abs() < 1e-9);
    assert_eq!(rig.step().wants, Wants::Over);
}

#[test]
fn two_teeth_that_are_nearly_as_good_are_both_named_with_their_margins() {
    let mut it = seat(JointKind::Femur);
    it.needed_deg = Some((-30.0, 40.0));
    let mut rig = rig(it);
    to_the_angle(&mut rig);
    // At 12.9° it turns from −47.1 to +72.9°; a tooth down, at −1.5°, from −61.5 to +58.5°.
    rig.say(Answer::Value(12.9)).say(Answer::Value(12.9));
    let step = rig.step();
    let Wants::Pick { options, .. } = &step.wants else {
        panic!("a choice");
    };
    assert_eq!(
        step.next,
        "Choose how the horn is to sit, then Enter. Several may be as good."
    );
    assert_eq!(
        options[..],
        [
            "1 tooth down: 31.5° left below, 18.5° left above",
            "leave the tooth: 17.1° left below, 32.9° left above",
        ]
    );
}

#[test]
fn joints_without_a_plug_are_named_and_not_called_done() {
    let mut it = seat(JointKind::Femur);
    it.pin = None;
    let rig = rig(it);
    let step = rig.step();
    assert!(step.wrong && step.next.contains("find the plugs first"));
    assert!(
        step.lines.join(" ").contains("! 1 of the joints here"),
        "{step:?}"
    );
}

#[test]
fn a_turned_horn_takes_what_was_free_in_bounds_left_halfway_with_it() {
    let mut it = seat(JointKind::Femur);
    it.ground = (Pulse::CENTRE, Pulse::from_us(1740.0).expect("in range"));
    let mut rig = rig(it);
    to_the_angle(&mut rig);
    rig.say(Answer::Value(19.5)).say(Answer::Value(20.5));
    rig.say(Answer::Pick(0));
    let over = What::StartOver {
        joint: JointName::new("LF", JointKind::Femur),
        part: Part::Ends,
    };
    assert!(rig.book.contains(&over), "{:?}", rig.book);
}

#[test]
fn a_turned_horn_takes_marks_bounds_and_ends_with_it() {
    let mut it = seat(JointKind::Femur);
    it.bounded = true;
    it.line = Some((1500.0, 10.0));
    it.ends[1] = vec![2268.0];
    let mut rig = rig(it);
    to_the_angle(&mut rig);
    rig.say(Answer::Value(20.0))
        .say(Answer::Value(20.0))
        .say(Answer::Pick(0));
    let parts: Vec<Part> = rig
        .book
        .iter()
        .filter_map(|w| match w {
            What::StartOver { part, .. } => Some(*part),
            _ => None,
        })
        .collect();
    assert_eq!(parts, [Part::Bounds, Part::Marks, Part::Ends]);
}

#[test]
fn two_teeth_as_good_are_both_named_and_short_travel_is_said() {
    let mut rig = rig(seat(JointKind::Femur));
    rig.say(Answer::Text("07".into()))
        .say(Answer::Pick(3))
        .say(Answer::Pick(0))
        .say(Answer::Pick(0));
    rig.say(Answer::Value(45.0)).say(Answer::Enter);
    // Half a tooth off the middle: one tooth more or less is the same.
    rig.say(Answer::Value(5.0 + 7.2))
        .say(Answer::Value(5.0 + 7.2));
    let step = rig.step();
    let Wants::Pick { options, .. } = &step.wants else {
        panic!("a choice");
    };
    assert!(
        options.len() >= 2 && options[1].contains("1 tooth"),
        "{options:?}"
    );
    assert!(
        step.wrong && step.next.contains("short by"),
        "{}",
        step.next
    );
}

/// What Marram's logbook with these entries tells.
fn after(book: &[What]) -> Knowledge {
    let robot = read(MARRAM).robot.expect("a good file");
    let plan = [What::Plan(Plan::of(&robot))];
    let entry = |(what, n): (&What, u64)| Entry {
        n,
        at: "2026-03-14T10:22:05Z".into(),
        what: what.clone(),
    };
    let all = plan.iter().chain(book).zip(1..).map(entry);
    knowledge(&all.collect::<Vec<_>>())
}

#[test]
fn left_after_any_answer_it_goes_on_at_the_first_step_not_known() {
    let centre = (Pulse::CENTRE, Pulse::CENTRE);
    let pins = [(pin(22), centre), (pin(23), centre), (pin(24), centre)];
    let open = |book: &[What], scope| {
        let horns = Horns::new(&after(book), scope, Bench::default());
        Rig::new(horns, &pins)
    };
    let answers = [
        Answer::Pick(0),
        Answer::Text("07".into()),
        Answer::Pick(1),
        Answer::Pick(2),
        Answer::Value(60.0),
    ];
    let mut book: Vec<What> = Vec::new();
    let steps = [
        "WHICH SERVO?",
        "COUNT THE TEETH",
        "COUNT THE ARMS",
        "HOW FAR DOES IT TURN?",
        "HANDS AWAY",
    ];
    for (answer, then) in answers.into_iter().zip(steps) {
        let mut rig = open(&book, Scope::Leg(0));
        if let Answer::Value(_) = answer {
            // One number for all.
            rig.say(Answer::Pick(0));
        }
        rig.say(answer.clone()).say(Answer::Undo);
        assert!(rig.book.is_empty(), "undone with its entry");
        rig.say(answer).say(Answer::Leave);
        book.extend(rig.book);
        assert_eq!(open(&book, Scope::Leg(0)).step().big, then);
    }
    assert_eq!(book.len(), 5);
    // What was said holds for every joint.
    let rig = open(&book, Scope::Leg(1));
    assert_eq!(rig.step().big, "WHICH SERVO?");
    assert!(
        rig.step()
            .lines
            .contains(&format!("{} teeth, {} arms", TEETH[1], ARMS[2])),
        "{:?}",
        rig.step().lines
    );
    // A new servo may be of another kind: it is asked again, with what was known offered.
    let joint = JointName::new("LF", JointKind::Coxa);
    book.push(What::ServoReplaced {
        joint,
        servo: "19".into(),
    });
    let at = JointRef {
        leg: 0,
        kind: JointKind::Coxa,
    };
    let step = open(&book, Scope::Joint(at)).step();
    assert_eq!(step.big, "COUNT THE TEETH");
    assert!(matches!(step.wants, Wants::Pick { start: 1, .. }));
}

#[test]
fn the_needed_travel_is_asked_for_where_the_file_has_none_and_offered_for_the_other_legs() {
    let bare = |leg: usize| {
        let mut it = seat(JointKind::Femur);
        it.at.leg = leg;
        it.needed_deg = None;
        it
    };
    let horns = Horns::from_seats(vec![bare(0), bare(1)], false, Bench::default());
    let centre = (Pulse::CENTRE, Pulse::CENTRE);
    let mut rig = Rig::new(horns, &[(pin(23), centre)]);
    assert_eq!(rig.step().big, "SMALLEST ANGLE?");
    assert!(matches!(rig.step().wants, Wants::Value { start: None, .. }));
    rig.say(Answer::Value(-50.0));
    assert_eq!(rig.step().big, "LARGEST ANGLE?");
    rig.say(Answer::Value(-60.0));
    assert!(rig.book.is_empty(), "the largest is above the smallest");
    rig.say(Answer::Value(60.0));
    assert!(
        matches!(
            &rig.book[..],
            [What::Needed {
                low_deg: -50.0,
                high_deg: 60.0,
                ..
            }]
        ),
        "{:?}",
        rig.book
    );
    assert_eq!(rig.step().big, "WHICH SERVO?");
    rig.say(Answer::Undo);
    assert!(rig.book.is_empty() && rig.step().big == "LARGEST ANGLE?");
    rig.say(Answer::Value(60.0));
    // Its horn may stay: on to the other leg, where the same is offered.
    to_the_angle(&mut rig);
    rig.say(Answer::Value(5.0))
        .say(Answer::Value(5.0))
        .say(Answer::Pick(0));
    assert!(
        matches!(
            rig.step().wants,
            Wants::Value {
                start: Some(-50.0),
                ..
            }
        ),
        "{:?}",
        rig.step()
    );
    rig.say(Answer::Value(-50.0));
    assert!(matches!(
        rig.step().wants,
        Wants::Value {
            start: Some(60.0),
            ..
        }
    ));
}

#[test]
fn what_is_needed_comes_from_the_logbook_into_the_calibration() {
    let at = JointRef {
        leg: 0,
        kind: JointKind::Femur,
    };
    let needed = What::Needed {
        joint: JointName::new("LF", JointKind::Femur),
        low_deg: -33.0,
        high_deg: 44.0,
    };
    let of = |book: &[What]| after(book).robot.joint(at).and_then(|it| it.needed_deg);
    assert_eq!(of(std::slice::from_ref(&needed)), Some((-33.0, 44.0)));
    let undone = [needed, What::Undo { entry: 2 }];
    assert_eq!(of(&undone), Some((-50.0, 60.0)), "the plan's");
}

#[test]
fn a_robot_already_built_is_said_so_once_and_nothing_is_asked_of_its_horns() {
    let horns = Horns::new(&after(&[]), Scope::Leg(0), Bench::default());
    let mut rig = Rig::new(horns, &[]);
    assert_eq!(rig.step().big, "HORNS ON ALREADY?");
    rig.say(Answer::Pick(1));
    assert_eq!(rig.book, [What::HornsOn { stay: true }]);
    let step = rig.step();
    assert_eq!((step.big, step.wants), ("THE HORNS STAY", Wants::Over));
    assert!(!step.next.contains("looked at"), "{}", step.next);
    rig.say(Answer::Enter);
    assert!(rig.it.is_over() && rig.asked.is_empty());
    // Opened by name it is begun without the question.
    let again = Horns::new(&after(&rig.book), Scope::Leg(0), Bench::default());
    assert_eq!(Rig::new(again, &[]).step().big, "WHICH SERVO?");
}

#[test]
fn a_reading_is_kept_when_the_page_is_left_and_both_margins_are_written_down() {
    let femur = JointRef {
        leg: 0,
        kind: JointKind::Femur,
    };
    let joint = JointName::new("LF", JointKind::Femur);
    let read = |angle_deg| What::HornRead {
        joint: joint.clone(),
        angle_deg,
    };
    let mut book = vec![
        What::HornsOn { stay: false },
        What::ServoPlaced {
            joint: joint.clone(),
            servo: "07".into(),
        },
        What::ServoKind {
            teeth: Some(25),
            arms: Some(1),
            travel_deg: Some(60.0),
            measured: false,
        },
        read(19.5),
    ];
    let open = |book: &[What]| {
        let horns = Horns::new(&after(book), Scope::Joint(femur), Bench::default());
        Rig::new(horns, &[(pin(23), (Pulse::CENTRE, Pulse::CENTRE))])
    };
    let mut rig = open(&book);
    assert_eq!(rig.step().big, "HANDS AWAY");
    rig.say(Answer::Enter);
    assert_eq!(rig.step().big, "READ IT AGAIN");
    rig.say(Answer::Value(20.5));
    assert_eq!(rig.book, [read(20.5)]);
    // Left before the choice: nothing wakes for it.
    book.push(read(20.5));
    let mut rig = open(&book);
    assert!(
        matches!(rig.step().wants, Wants::Pick { .. }),
        "{:?}",
        rig.step()
    );
    rig.say(Answer::Pick(0));
    let Some(What::Horn {
        margin_deg,
        margins_deg: Some((below, above)),
        ..
    }) = rig.book.last()
    else {
        panic!("recorded: {:?}", rig.book);
    };
    // Needed −50 to +60; out at 20 − 14.4 = 5.6°, 60° to each side.
    assert!((below - 4.4).abs() < 1e-9 && (above - 5.6).abs() < 1e-9);
    assert_eq!(*margin_deg, *below);
    book.extend(rig.book);
    assert!(
        after(&book)
            .joint(femur)
            .expect("it")
            .horn_angles
            .is_empty()
    );
}

#[test]
fn undo_goes_back_to_the_angle_and_wakes_with_a_countdown() {
    let mut rig = rig(seat(JointKind::Femur));
    to_the_angle(&mut rig);
    rig.say(Answer::Value(20.0))
        .say(Answer::Value(20.0))
        .say(Answer::Undo);
    // Hands may still be at the horn: nothing wakes before an Enter says that they are away.
    assert_eq!((rig.step().big, rig.awake()), ("TAKEN BACK", vec![]));
    rig.say(Answer::Enter);
    assert_eq!(rig.step().big, "READ IT AGAIN");
    rig.say(Answer::Undo);
    assert_eq!(rig.step().big, "TYPE THE ANGLE");
    assert_eq!(rig.awake(), [pin(23)]);
    rig.say(Answer::Leave);
    assert_eq!(rig.awake(), []);
}

proptest! {
    #[test]
    fn whatever_is_answered_it_stands_at_mid_travel_or_is_limp(
        answers in proptest::collection::vec(any::<u8>(), 0..80),
        mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..5),
    ) {
        let centre = (Pulse::CENTRE, Pulse::CENTRE);
        let seats = vec![seat(JointKind::Femur), seat(JointKind::Tibia)];
        let horns = Horns::from_seats(seats, false, Bench::default());
        random_walk(horns, &[(pin(23), centre), (pin(24), centre)], &answers, &mishaps);
    }
}
