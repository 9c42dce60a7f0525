//! A joint with a true line and play, a builder with a gauge.

use proptest::prelude::*;

use super::*;
use crate::calibration::logbook::Way;
use crate::calibration::model::{JointKind, Span};
use crate::procedure::Procedure;
use crate::procedure::rig::{Rig, pin, random_walk, us};
use crate::procedure::seat::samples::seat;
use crate::procedure::words::{Ask, Detail, Wants};

const GROUND: (f64, f64) = (960.0, 2040.0);

fn bounded(kind: JointKind) -> Seat {
    Seat {
        ground: (us(GROUND.0), us(GROUND.1)),
        bounded: true,
        ..seat(kind)
    }
}

fn rig(named: bool) -> Rig<Marks> {
    let seats = vec![bounded(JointKind::Femur)];
    let grounds: Vec<(Pin, Span)> = seats
        .iter()
        .filter_map(|s| Some((s.pin?, s.ground)))
        .collect();
    Rig::new(
        Marks::from_seats(seats, 1, named, Bench::default()),
        &grounds,
    )
}

/// Zero 1487.5 µs, 10.62 µs/°, half a degree of play: what a perfect gauge reads.
fn truth(pulse_us: f64, side: Side) -> f64 {
    (pulse_us - 1487.5) / 10.62 - side.sign() * 0.3
}

/// Reads all targets truthfully; the pulses and sides that were asked for.
fn read_all(rig: &mut Rig<Marks>) -> Vec<(f64, Side)> {
    let mut seen = Vec::new();
    while let Wants::Value { .. } = rig.step().wants {
        let Detail::Marks(rows) = rig.step().picture.detail else {
            panic!("marks are shown");
        };
        let row = rows.last().expect("the awaited one").clone();
        let side = row.from.expect("the side is known");
        seen.push((row.pulse.us(), side));
        rig.say(Answer::Value(truth(row.pulse.us(), side)));
    }
    seen
}

#[test]
fn a_joint_with_less_room_than_marks_want_is_named() {
    let short = |low: f64, high: f64| {
        let it = Seat {
            ground: (us(low), us(high)),
            ..bounded(JointKind::Femur)
        };
        let marks = Marks::from_seats(vec![it], 1, false, Bench::default());
        marks.step().lines.join(" ")
    };
    assert_eq!(short(GROUND.0, GROUND.1), "");
    // Down by 440 µs less the take-up move of 30: 38.7° at 10.6 µs/° (by hand).
    assert_eq!(short(1060.0, GROUND.1), "! room −39° to +48°, wants ±45°");
}

#[test]
fn six_readings_in_one_placing_each_from_its_side_over_more_than_the_play() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    let seen = read_all(&mut rig);
    let want = [1023.0, 1500.0, 1977.0]
        .into_iter()
        .flat_map(|p| [(p, Side::Below), (p, Side::Above)]);
    assert_eq!(seen, want.collect::<Vec<_>>());
    let placings = rig
        .book
        .iter()
        .filter(|w| matches!(w, What::Placing { .. }))
        .count();
    let marks = rig.book.iter().filter(|w| {
        matches!(
            w,
            What::Mark {
                placing: Some(1),
                by: MarkKind::Absolute,
                ..
            }
        )
    });
    assert_eq!((placings, marks.count()), (1, 6));
    // The last move before each question came from the recorded side, by at least 15 µs (the stated least).
    let moves: Vec<f64> = rig
        .asked
        .iter()
        .filter_map(|ask| match ask {
            Ask::Go { moves, .. } => Some(moves[0].1.us()),
            _ => None,
        })
        .collect();
    for (pulse, side) in seen {
        let came = moves
            .windows(2)
            .any(|w| w[1] == pulse && (w[1] - w[0]) * side.sign() >= 15.0);
        assert!(came, "{pulse} from {side:?}: {moves:?}");
    }
    assert!(
        rig.step().lines.iter().any(|l| l.contains("10.6")),
        "{:?}",
        rig.step().lines
    );
}

#[test]
fn it_says_whether_another_mark_helps_and_takes_it() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    read_all(&mut rig);
    assert_eq!(rig.step().wants, Wants::YesNo);
    let before = rig.book.len();
    if rig.step().big == "ANOTHER MARK?" {
        assert!(
            rig.step().second.contains('→'),
            "by how much: {}",
            rig.step().second
        );
        rig.say(Answer::Enter);
        if rig.step().big == "PLACE THE GAUGE" {
            rig.say(Answer::Enter);
        }
        assert_eq!(read_all(&mut rig).len(), 1);
        assert!(rig.book.len() > before);
    }
    rig.say(Answer::Again);
    assert_eq!(read_all(&mut rig).len(), 6, "a is the whole round");
    rig.say(Answer::None);
    assert_eq!(rig.step().wants, Wants::Over);
    assert_eq!(rig.awake(), []);
}

#[test]
fn a_slip_of_the_keys_is_named() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    for k in 0..6 {
        let Detail::Marks(rows) = rig.step().picture.detail else {
            panic!("marks are shown");
        };
        let row = rows.last().expect("awaited");
        let angle = truth(row.pulse.us(), row.from.expect("known"));
        rig.say(Answer::Value(if k == 3 { angle + 12.0 } else { angle }));
    }
    let named = rig
        .step()
        .lines
        .iter()
        .any(|l| l.starts_with("! mark 4 is"));
    assert!(named, "{:?}", rig.step().lines);
    // Who reads the big line alone is told the same, and Enter does not go on over it.
    let step = rig.step();
    assert_eq!(step.big, "MISTYPED?");
    assert!(step.next.starts_with("Mark 4 looks"), "{}", step.next);
    rig.say(Answer::Enter);
    assert_eq!(rig.step().big, "TYPE THE ANGLE");
    let Detail::Marks(rows) = rig.step().picture.detail else {
        panic!("marks are shown");
    };
    let (slipped, there) = (&rows[3], rows.last().expect("awaited"));
    assert_eq!((there.pulse, there.from), (slipped.pulse, slipped.from));
    rig.say(Answer::Undo).say(Answer::None);
    assert_eq!(rig.step().wants, Wants::Over, "n keeps it");
}

#[test]
fn the_edge_is_brought_onto_the_screws_by_arrows_with_take_up() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(3))
        .say(Answer::Enter);
    assert_eq!(rig.step().wants, Wants::Nudge);
    let way = crate::calibration::logbook::Way::Negative;
    rig.say(Answer::Way(way))
        .say(Answer::Way(way))
        .say(Answer::Finer)
        .say(Answer::Way(way));
    assert_eq!(rig.pins[&pin(23)].pulse, Some(us(1480.0)));
    rig.say(Answer::Enter).say(Answer::Enter);
    let zeros: Vec<_> = rig
        .book
        .iter()
        .filter_map(|w| match w {
            What::Mark {
                pulse_us,
                from,
                angle_deg,
                by: MarkKind::Null,
                ..
            } => Some((*pulse_us, *from, *angle_deg)),
            _ => None,
        })
        .collect();
    assert_eq!(
        zeros,
        [
            (1480.0, Some(Side::Below), 0.0),
            (1480.0, Some(Side::Above), 0.0)
        ]
    );
}

#[test]
fn it_is_taken_up_with_the_marks_that_are_missing() {
    let mut one = rig(false);
    one.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    one.say(Answer::Value(-43.0))
        .say(Answer::Value(-44.0))
        .say(Answer::Leave);
    let mut it = bounded(JointKind::Femur);
    it.marks = one
        .book
        .iter()
        .filter_map(|w| match w {
            What::Mark {
                pulse_us,
                from,
                angle_deg,
                placing,
                by,
                ..
            } => Some(Seen {
                pulse_us: *pulse_us,
                from: *from,
                angle_deg: *angle_deg,
                placing: *placing,
                by: *by,
            }),
            _ => None,
        })
        .collect();
    let ground = it.ground;
    let two = Marks::from_seats(vec![it], 2, false, Bench::default());
    let mut two = Rig::new(two, &[(pin(23), ground)]);
    two.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    assert_eq!(read_all(&mut two).len(), 4);
    assert!(
        matches!(two.book[0], What::Placing { id: 2, .. }),
        "the gauge was placed anew"
    );
}

#[test]
fn undo_takes_the_last_mark_back_and_asks_for_it_again() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    let before = rig.step();
    rig.say(Answer::Value(-43.0)).say(Answer::Undo);
    assert_eq!(rig.step(), before);
    assert_eq!(rig.book.len(), 1, "the placing stays");
    // It comes to the pulse anew, and from the side that is written down.
    let goes: Vec<f64> = rig
        .asked
        .iter()
        .filter_map(|ask| match ask {
            Ask::Go { moves, .. } => Some(moves[0].1.us()),
            _ => None,
        })
        .collect();
    let [.., start, target] = goes[..] else {
        panic!("{goes:?}");
    };
    assert_eq!(Some(us(target)), rig.pins[&pin(23)].pulse);
    assert_eq!(start, target - 30.0, "from below, as the first mark is");
    rig.say(Answer::Undo);
    assert_eq!(rig.book.len(), 0);
    assert_eq!(rig.step().big, "PLACE THE GAUGE");
}

#[test]
fn a_joint_without_bounds_is_named_and_not_moved() {
    let marks = Marks::from_seats(vec![seat(JointKind::Femur)], 1, false, Bench::default());
    let rig = Rig::new(marks, &[(pin(23), (Pulse::CENTRE, Pulse::CENTRE))]);
    assert_eq!(rig.step().wants, Wants::Over);
    assert!(rig.step().next.contains("rough bounds"));
    assert!(rig.asked.is_empty());
}

#[test]
fn an_inclinometer_tells_no_zero_and_another_gauge_is_asked_for() {
    let mut rig = rig(false);
    let inclinometer = TOOLS
        .iter()
        .position(|it| *it == Tool::Inclinometer)
        .expect("offered");
    rig.say(Answer::Enter)
        .say(Answer::Pick(inclinometer))
        .say(Answer::Enter);
    read_all(&mut rig);
    let step = rig.step();
    assert_eq!(step.big, "NO ZERO YET");
    let has = |step: &crate::procedure::Step, line: &str| step.lines.iter().any(|it| it == line);
    assert!(has(&step, "zero not told"), "{:?}", step.lines);
    assert!(has(&step, "! zero not told: a gauge or an edge"));
    let before = rig.asked.len();
    rig.say(Answer::Enter);
    assert_eq!(rig.step().big, "CHOOSE THE GAUGE");
    assert!(
        !rig.asked[before..]
            .iter()
            .any(|ask| matches!(ask, Ask::Wake { .. })),
        "it stands already"
    );
    let edge = TOOLS.iter().position(|it| *it == Tool::Edge);
    rig.say(Answer::Pick(edge.expect("offered")))
        .say(Answer::Enter);
    // The edge lies on both screw heads at 1487.5 µs, to a step of 0.5 µs.
    let way = crate::calibration::logbook::Way::Negative;
    for _ in 0..4 {
        rig.say(Answer::Finer);
    }
    while rig.step().wants == Wants::Nudge {
        if rig.step().picture.ghost > Some(us(1487.5)) {
            rig.say(Answer::Way(way));
        } else {
            rig.say(Answer::Enter);
        }
    }
    let step = rig.step();
    assert!(
        step.big != "NO ZERO YET" && step.big != "NO SCALE YET",
        "{step:?}"
    );
    let zero = step.lines.iter().find(|it| it.starts_with("zero 148"));
    assert!(zero.is_some(), "{:?}", step.lines);
}

#[test]
fn an_edge_alone_tells_no_scale() {
    let mut rig = rig(false);
    let edge = TOOLS.iter().position(|it| *it == Tool::Edge);
    rig.say(Answer::Enter)
        .say(Answer::Pick(edge.expect("offered")))
        .say(Answer::Enter);
    rig.say(Answer::Enter).say(Answer::Enter);
    assert_eq!(rig.step().big, "NO SCALE YET");
    rig.say(Answer::None);
    assert_eq!(rig.step().wants, Wants::Over, "n goes on without");
}

#[test]
fn every_mark_that_does_not_agree_is_named() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    for round in 0..3 {
        for k in 0..6 {
            let Detail::Marks(rows) = rig.step().picture.detail else {
                panic!("marks are shown");
            };
            let row = rows.last().expect("awaited");
            let angle = truth(row.pulse.us(), row.from.expect("known"));
            let slip = match (round, k) {
                (0, 3) => 14.0,
                (2, 1) => -12.0,
                _ => 0.0,
            };
            rig.say(Answer::Value(angle + slip));
        }
        rig.say(Answer::Again);
    }
    let lines = rig.step().lines;
    assert!(
        lines
            .iter()
            .any(|it| it == "! marks 4, 14 are off: typing?"),
        "{lines:?}"
    );
}

#[test]
fn a_joint_without_a_plug_is_not_called_done() {
    let mut it = bounded(JointKind::Femur);
    it.pin = None;
    let marks = Marks::from_seats(vec![it], 1, true, Bench::default());
    let step = Rig::new(marks, &[]).step();
    assert!(
        step.wrong && step.next.contains("find the plugs first"),
        "{step:?}"
    );
}

#[test]
fn done_names_the_one_joint_that_it_was_about() {
    let of = |kinds: &[JointKind]| {
        let lined = |kind: &JointKind| Seat {
            line: Some((1500.0, 10.6)),
            ..bounded(*kind)
        };
        let seats = kinds.iter().map(lined).collect();
        Rig::new(Marks::from_seats(seats, 1, false, Bench::default()), &[])
            .step()
            .next
    };
    assert_eq!(
        of(&[JointKind::Femur]),
        "Enter leaves: LF femur has its marks."
    );
    assert_eq!(
        of(&[JointKind::Femur, JointKind::Tibia]),
        "Enter leaves: every joint here has its marks."
    );
}

#[test]
fn a_bent_response_is_said_with_its_spread() {
    let mut rig = rig(false);
    rig.say(Answer::Enter)
        .say(Answer::Pick(0))
        .say(Answer::Enter);
    // 3° of bend at ±60°, and the whole round four times: more than its ± is then left of it.
    for _ in 0..4 {
        while let Wants::Value { .. } = rig.step().wants {
            let Detail::Marks(rows) = rig.step().picture.detail else {
                panic!("marks are shown");
            };
            let row = rows.last().expect("the awaited one");
            let straight = truth(row.pulse.us(), row.from.expect("known"));
            let bend = 3.0 * (straight / 60.0).powi(2);
            rig.say(Answer::Value(straight + bend));
        }
        rig.say(Answer::Again);
        if rig.step().big == "PLACE THE GAUGE" {
            rig.say(Answer::Enter);
        }
    }
    let lines = rig.step().lines;
    let bent = lines.iter().find(|it| it.starts_with("bent by"));
    assert!(bent.is_some_and(|it| it.contains('±')), "{lines:?}");
    for word in ["zero", "µs/°", "play"] {
        let line = lines.iter().find(|it| it.contains(word));
        assert!(line.is_some_and(|it| it.contains('±')), "{word}: {lines:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn whatever_is_answered_it_stays_inside_the_confirmed_ground(
        answers in proptest::collection::vec(any::<u8>(), 0..80),
        mishaps in proptest::collection::vec(any::<(u8, u8)>(), 0..5),
    ) {
        let seats = vec![bounded(JointKind::Femur), bounded(JointKind::Tibia)];
        let grounds: Vec<_> = seats.iter().filter_map(|s| Some((s.pin?, s.ground))).collect();
        random_walk(Marks::from_seats(seats, 1, false, Bench::default()), &grounds, &answers, &mishaps);
    }
}

#[test]
fn before_each_motion_it_is_said_which_way_and_where_to() {
    for way in [Way::Positive, Way::Negative] {
        let seats = vec![Seat {
            way: Some(way),
            ..bounded(JointKind::Femur)
        }];
        let grounds = [(pin(23), seats[0].ground)];
        let marks = Marks::from_seats(seats, 1, false, Bench::default());
        let mut rig = Rig::new(marks, &grounds);
        rig.say(Answer::Enter).say(Answer::Pick(1));
        let mut motions = 0;
        loop {
            let said = rig.step().second;
            let here = rig.pins[&pin(23)].pulse.expect("awake");
            let answer = match rig.step().wants {
                Wants::Enter => Answer::Enter,
                Wants::Value { .. } => Answer::Value(truth(here.us(), Side::Below) * way.sign()),
                _ => break,
            };
            rig.asked.clear();
            rig.say(answer);
            let mut moves = rig.asked.iter().filter_map(|ask| match ask {
                Ask::Go { moves, .. } => moves.first().map(|it| it.1),
                _ => None,
            });
            let Some(first) = moves.next() else {
                assert!(said.contains("It stays there."), "{said}");
                continue;
            };
            let word = match (first > here) == (way == Way::Positive) {
                true => "up",
                false => "down",
            };
            let last = moves.next_back().unwrap_or(first);
            let side = if last > first { "below" } else { "above" };
            let wanted = format!("moves {word}, to {last} µs from {side}");
            assert!(said.contains(&wanted), "{wanted}: {said}");
            motions += 1;
        }
        assert_eq!(motions, 6, "three angles, both sides");
    }
}
