//! A bare arm on the bench: where it goes, when it stops, what is kept, and what no answer can make it do.

use super::super::Horns;
use super::*;
use crate::calibration::logbook::{JointName, Part};
use crate::calibration::model::JointKind;
use crate::estimate::horns::Seat as HornSeat;
use crate::procedure::Bench;
use crate::procedure::rig::{Mishap, Rig, pin};
use crate::procedure::seat::leave_out;
use crate::procedure::seat::samples::seat;
use crate::procedure::words::{Answer, Ask, Heard, Wants};

const CENTRE: (Pulse, Pulse) = (Pulse::CENTRE, Pulse::CENTRE);

/// Servo 07, 25 teeth, one arm, each servo measured; it came out at 20°.
fn to_the_screw() -> Rig<Horns> {
    let horns = Horns::from_seats(vec![seat(JointKind::Femur)], false, Bench::default());
    let mut rig = Rig::new(horns, &[(pin(23), CENTRE)]);
    rig.say(Answer::Text("07".into()))
        .say(Answer::Pick(3))
        .say(Answer::Pick(0))
        .say(Answer::Pick(1));
    assert!(rig.asked.is_empty(), "nothing moved yet");
    rig.say(Answer::Enter).say(Answer::Value(20.0));
    assert_eq!((rig.step().big, rig.awake()), ("UNSCREW THE LEG", vec![]));
    rig
}

/// Leads it until it stands there, or as far as there are pulses.
fn leads_to(rig: &mut Rig<Horns>, us: f64) {
    rig.say(Answer::Pick(1));
    leads_on_to(rig, us);
}

/// The same, once the leg is off: stretch by stretch, and n there.
fn leads_on_to(rig: &mut Rig<Horns>, us: f64) {
    assert_eq!(rig.step().big, "HANDS AWAY");
    let outward = |at: f64| if us < 1500.0 { at <= us } else { at >= us };
    for _ in 0..2000 {
        match rig.step().big {
            "DID IT TURN ON?" => {
                assert_eq!((rig.awake(), rig.pins[&pin(23)].guard), (vec![], CENTRE));
                rig.say(Answer::Enter);
            }
            "TYPE THE ANGLE" => break,
            _ if rig.pins[&pin(23)].pulse.is_some_and(|at| outward(at.us())) => {
                rig.say(Answer::None);
            }
            _ => rig.wait(250),
        }
    }
    assert_eq!((rig.step().big, rig.awake()), ("TYPE THE ANGLE", vec![]));
    assert_eq!(
        (rig.pins[&pin(23)].guard, rig.silence_ms),
        (CENTRE, (500, 10_000))
    );
}

#[test]
fn each_side_counts_for_what_it_is() {
    let mut rig = to_the_screw();
    leads_to(&mut rig, 700.0);
    rig.say(Answer::Value(-60.0));
    leads_on_to(&mut rig, 2300.0);
    rig.say(Answer::Value(92.0));
    rig.wait(250);
    // From −60 to 92°, its middle 16°; needed −50 to 60°, its middle 5°: a tooth of 14.4° down.
    let Wants::Pick { options, .. } = rig.step().wants else {
        panic!("a choice: {:?}", rig.step());
    };
    assert_eq!(
        options[0],
        "1 tooth down: 24.4° left below, 17.6° left above"
    );
    let lines = rig.step().lines.join(" ");
    assert!(
        lines.contains("its own travel: 80° down") && lines.contains("72° up"),
        "{lines}"
    );
    rig.say(Answer::Pick(0));
    assert_eq!(rig.step().big, "TURN THE HORN");
    assert!(rig.step().next.contains("it and the leg on"));
    rig.say(Answer::Enter);
    assert_eq!(rig.step().wants, Wants::Over);
    let ends: Vec<(End, f64)> = rig
        .book
        .iter()
        .filter_map(|it| match it {
            What::HornEnd {
                toward, angle_deg, ..
            } => Some((*toward, *angle_deg)),
            _ => None,
        })
        .collect();
    assert_eq!(ends, [(End::Near, -60.0), (End::Far, 92.0)]);
}

#[test]
fn the_arm_turns_slowly_and_goes_limp_at_the_word() {
    let mut rig = to_the_screw();
    rig.say(Answer::Enter).say(Answer::Pick(0));
    assert_eq!((rig.step().big, rig.awake()), ("UNSCREW THE LEG", vec![]));
    rig.say(Answer::Pick(1));
    assert_eq!(
        rig.step().wants,
        Wants::Wait,
        "not to be stopped before it turns"
    );
    assert_eq!(
        rig.silence_ms,
        (500, 500),
        "a host that dies leaves it limp"
    );
    let at = |rig: &Rig<Horns>| rig.pins[&pin(23)].pulse.expect("awake").us();
    assert_eq!(at(&rig), 1200.0);
    let began = rig.now_ms;
    for _ in 0..10 {
        let before = at(&rig);
        rig.wait(250);
        assert!(before - at(&rig) <= 10.0);
    }
    let speed = (1200.0 - at(&rig)) * 1000.0 / (rig.now_ms - began) as f64;
    assert!((8.0..=32.0).contains(&speed), "{speed} µs/s");
    assert_eq!(rig.step().big, "n WHEN IT STOPS");
    rig.say(Answer::Enter);
    assert_eq!(rig.awake(), [pin(23)], "Enter says nothing here");
    rig.say(Answer::None);
    let of_pin = &rig.pins[&pin(23)];
    assert_eq!((of_pin.pulse, of_pin.guard), (None, CENTRE));
    assert_eq!(
        (rig.step().big, rig.silence_ms),
        ("TYPE THE ANGLE", (500, 10_000))
    );
    let read = |it: &What| matches!(it, What::HornEnd { .. });
    assert!(!rig.book.iter().any(read));
    // Looked at again: it says first that the leg is to be off.
    rig.say(Answer::Again);
    assert_eq!((rig.step().big, rig.awake()), ("UNSCREW THE LEG", vec![]));
}

#[test]
fn who_went_away_leaves_it_limp_after_a_stretch_and_the_next_begins_where_it_is() {
    let mut rig = to_the_screw();
    rig.say(Answer::Pick(1));
    for _ in 0..100 {
        rig.wait(250);
    }
    assert_eq!((rig.step().big, rig.awake()), ("DID IT TURN ON?", vec![]));
    assert_eq!(rig.pins[&pin(23)].reached.0.us(), 1060.0);
    let asked = rig.asked.len();
    rig.say(Answer::Enter);
    let wakes: Vec<&Ask> = rig.asked[asked..]
        .iter()
        .filter(|it| matches!(it, Ask::Wake { .. } | Ask::Go { .. }))
        .collect();
    let Some(at) = Pulse::from_us(1060.0) else {
        panic!("a pulse")
    };
    assert_eq!(
        wakes,
        [&Ask::Wake {
            pin: pin(23),
            pulse: at
        }],
        "no jump"
    );
    // It had stopped before.
    rig.wait(250);
    rig.say(Answer::None);
    assert_eq!(rig.step().big, "TYPE THE ANGLE");
}

#[test]
fn a_freeze_makes_a_bare_arm_limp_and_after_any_stop_the_leg_is_asked_about_again() {
    for mishap in [Mishap::Frozen, Mishap::Limp, Mishap::Refused] {
        let mut rig = to_the_screw();
        rig.say(Answer::Pick(1));
        rig.wait(250);
        rig.mishap = Some((0, mishap));
        rig.wait(250);
        assert_eq!(rig.awake(), [], "{mishap:?}");
        rig.hear(Heard::Thawed);
        rig.say(Answer::Enter);
        assert_eq!(
            (rig.step().big, rig.awake()),
            ("UNSCREW THE LEG", vec![]),
            "{mishap:?}"
        );
        // Led again, the board waits no longer for a host that dies than before.
        rig.say(Answer::Pick(1));
        assert_eq!(rig.silence_ms, (500, 500), "{mishap:?}");
        rig.say(Answer::Leave);
        assert_eq!(
            (rig.pins[&pin(23)].guard, rig.silence_ms),
            (CENTRE, (500, 10_000)),
            "{mishap:?}"
        );
    }
}

#[test]
fn a_leg_that_is_off_is_remembered_and_comes_on_before_anything_else_is_done() {
    let mut rig = to_the_screw();
    leads_to(&mut rig, 700.0);
    let off = What::Leg {
        joint: JointName::new("LF", JointKind::Femur),
        on: false,
    };
    assert!(rig.book.contains(&off));
    let mut it = seat(JointKind::Femur);
    it.leg_off = true;
    let mut seats = vec![it.clone()];
    assert_eq!(
        leave_out(&mut seats).legs,
        1,
        "no bounds, marks or ends of it"
    );
    // Its seat was chosen, and it was left before the leg was on.
    it.servo = Some("07".into());
    it.horn = Some(HornSeat {
        turn_teeth: -1,
        arm: 0,
        middle_deg: 5.6,
        margin_deg: (4.4, 5.6),
    });
    let horns = Horns::from_seats(vec![it], false, Bench::default());
    let mut rig = Rig::new(horns, &[(pin(23), CENTRE)]);
    assert_eq!(rig.step().big, "TURN THE HORN");
    assert!(
        rig.step().next.contains("it and the leg on"),
        "{:?}",
        rig.step()
    );
    rig.say(Answer::Enter);
    assert!(matches!(rig.book[..], [What::Leg { on: true, .. }]));
}

#[test]
fn where_there_are_no_pulses_beyond_it_goes_limp_by_itself() {
    let mut rig = to_the_screw();
    leads_to(&mut rig, 0.0);
    assert!(rig.step().next.contains("bare arm"));
    assert_eq!(rig.pins[&pin(23)].reached.0, Pulse::MIN);
}

#[test]
fn the_other_end_lies_on_the_other_side_and_a_typing_error_is_refused() {
    let mut rig = to_the_screw();
    leads_to(&mut rig, 700.0);
    rig.say(Answer::Value(-60.0));
    leads_on_to(&mut rig, 2300.0);
    rig.say(Answer::Value(-92.0));
    assert_eq!(rig.step().big, "TYPE THE ANGLE", "not beyond the first end");
    let Wants::Value { low, high, .. } = rig.step().wants else {
        panic!("a value");
    };
    assert_eq!((low, high), (32.0, 200.0));
}

#[test]
fn after_a_stop_or_an_undo_the_arm_is_led_again_since_nobody_knows_where_it_is() {
    let mut rig = to_the_screw();
    leads_to(&mut rig, 700.0);
    rig.space();
    rig.say(Answer::Enter);
    assert_eq!((rig.step().big, rig.awake()), ("UNSCREW THE LEG", vec![]));
    leads_to(&mut rig, 700.0);
    rig.say(Answer::Value(-60.0));
    // On its way to the other end it is taken back: hands may be in.
    rig.say(Answer::Undo);
    assert_eq!(rig.step().big, "UNSCREW THE LEG");
    assert_eq!(rig.awake(), []);
    assert!(
        rig.book
            .iter()
            .all(|it| !matches!(it, What::HornEnd { .. }))
    );
}

#[test]
fn who_leaves_while_the_arm_is_bare_leaves_no_wide_guard_behind() {
    let mut rig = to_the_screw();
    rig.say(Answer::Pick(1));
    rig.wait(250);
    assert_eq!(
        rig.pins[&pin(23)].guard,
        (pulse(1060.0), Pulse::CENTRE),
        "no wider than this stretch"
    );
    rig.say(Answer::Leave);
    assert_eq!((rig.awake(), rig.pins[&pin(23)].guard), (vec![], CENTRE));
    let mut rig = to_the_screw();
    rig.say(Answer::Pick(1));
    rig.space();
    rig.say(Answer::Leave);
    assert_eq!(rig.pins[&pin(23)].guard, CENTRE);
}

#[test]
fn left_between_its_ends_it_goes_on_at_the_one_that_lacks_and_a_horn_that_stays_gets_its_leg_back()
{
    let mut it = seat(JointKind::Femur);
    it.servo = Some("07".into());
    it.bounded = true;
    it.horn_angles = vec![5.0];
    it.horn_ends = [Some(-80.0), None];
    it.leg_off = true;
    let mut horns = Horns::from_seats(vec![it], false, Bench::default());
    let mind = &mut horns.mind;
    (mind.told, mind.measured) = (true, true);
    (mind.teeth, mind.arms) = (25, 1);
    mind.begin();
    let mut rig = Rig::new(horns, &[(pin(23), CENTRE)]);
    assert_eq!(rig.step().big, "UNSCREW THE LEG");
    assert!(rig.step().second.contains("turns up"), "{:?}", rig.step());
    rig.say(Answer::Pick(1));
    leads_on_to(&mut rig, 2300.0);
    rig.say(Answer::Value(90.0));
    rig.wait(250);
    rig.say(Answer::Pick(0));
    assert_eq!((rig.step().big, rig.awake()), ("SCREW THE LEG ON", vec![]));
    let over = |it: &What| {
        matches!(
            it,
            What::StartOver {
                part: Part::Bounds,
                ..
            }
        )
    };
    assert!(!rig.book.iter().any(over), "what was found stands");
    rig.say(Answer::Enter);
    assert_eq!(rig.step().wants, Wants::Over);
    let last = &rig.book[rig.book.len() - 2..];
    assert!(
        matches!(last, [What::Horn { .. }, What::Leg { on: true, .. }]),
        "{last:?}"
    );
}

#[test]
fn an_angle_read_the_other_way_round_is_the_same_angle() {
    let mut it = seat(JointKind::Tibia);
    it.horn_ends = [Some(164.0), Some(12.0)];
    let (below, above) = travel(&it, -100.0).expect("both");
    assert!((below - 96.0).abs() < 1e-9 && (above - 112.0).abs() < 1e-9);
    it.horn_ends[1] = None;
    assert_eq!(travel(&it, -100.0), None);
}
