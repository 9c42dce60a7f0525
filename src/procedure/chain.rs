//! One joint from its plug to its limits through the logbook: what one machine records is what the next one starts from.

use super::rig::{Rig, pin, us};
use super::words::{Answer, Detail, Scope, Wants};
use super::{Bench, Bounds, Check, Ends, Horns, Marks, Plugs, Procedure, Replace};
use crate::calibration::logbook::{Entry, Plan, Side, Way, What};
use crate::calibration::model::{JointKind, JointRef, Span};
use crate::calibration::{MARRAM, read};
use crate::estimate::{Knowledge, knowledge};
use crate::units::{Pin, Pulse};

const FEMUR: JointRef = JointRef {
    leg: 0,
    kind: JointKind::Femur,
};
const CENTRE: Span = (Pulse::CENTRE, Pulse::CENTRE);

/// A femur with its zero at 1480 µs, 10.4 µs/°, 0.6° of play and ends at 880 and 2210 µs.
fn truth(pulse_us: f64, side: Side) -> f64 {
    (pulse_us - 1480.0) / 10.4 - side.sign() * 0.3
}

struct Book(Vec<Entry>);

impl Book {
    fn new() -> Book {
        let robot = read(MARRAM).robot.expect("a good file");
        let mut book = Book(Vec::new());
        book.add(vec![What::Plan(Plan::of(&robot))]);
        book
    }

    fn add(&mut self, whats: Vec<What>) {
        for what in whats {
            let n = self.0.len() as u64 + 1;
            let at = "2026-03-14T10:22:05Z".to_string();
            self.0.push(Entry { n, at, what });
        }
    }

    fn known(&self) -> Knowledge {
        knowledge(&self.0)
    }
}

/// Answers truthfully until the work is over, and writes down what was recorded.
fn work<P: Procedure>(book: &mut Book, it: P, pin: Pin, ground: Span) {
    let mut rig = Rig::new(it, &[(pin, ground)]);
    for _ in 0..500 {
        let step = rig.step();
        match (&step.wants, &step.picture.detail) {
            (Wants::Over, _) => break,
            (Wants::FreeOrEnd { .. }, Detail::Peck(news)) => {
                let free = (880.0..=2210.0).contains(&news.to.us());
                rig.say(if free { Answer::Free } else { Answer::End });
            }
            (Wants::Value { unit: "°", .. }, Detail::Marks(rows)) => {
                let row = rows.last().expect("the awaited one");
                let side = row.from.expect("known");
                rig.say(Answer::Value(truth(row.pulse.us(), side)));
            }
            (Wants::Value { start, .. }, _) => {
                let at = step.picture.pulse.map_or(1500.0, Pulse::us);
                rig.say(Answer::Value(start.unwrap_or(truth(at, Side::Below))));
            }
            (Wants::YesNo, _) => {
                rig.say(Answer::None);
            }
            (Wants::Pick { start, .. }, _) => {
                rig.say(Answer::Pick(*start));
            }
            (Wants::Text { .. }, _) => {
                rig.say(Answer::Text("07".into()));
            }
            (Wants::JointAndWay, _) => {
                rig.say(Answer::Joint(FEMUR))
                    .say(Answer::Way(Way::Positive));
                rig.say(Answer::Enter);
                break;
            }
            _ => {
                rig.say(Answer::Enter);
            }
        }
        if rig.it.is_over() {
            break;
        }
    }
    rig.say(Answer::Leave);
    assert_eq!(rig.awake(), []);
    book.add(rig.book);
}

#[test]
fn each_machine_starts_from_what_the_one_before_recorded() {
    let mut book = Book::new();
    let scope = Scope::Joint(FEMUR);
    let bench = Bench::default;
    let p = pin(23);
    let known = book.known();
    work(
        &mut book,
        Plugs::new(&known, scope, &[], bench()),
        p,
        (us(1500.0), us(1540.0)),
    );
    assert_eq!(book.known().joint(FEMUR).expect("it").found_pin, Some(p));

    let known = book.known();
    work(&mut book, Horns::new(&known, scope, bench()), p, CENTRE);
    let known = book.known();
    let it = known.joint(FEMUR).expect("it");
    assert_eq!(it.servo.as_deref(), Some("07"));
    assert!(it.horn.is_some());

    work(&mut book, Bounds::new(&known, scope, bench()), p, CENTRE);
    let known = book.known();
    let bounds = known.joint(FEMUR).expect("it").bounds.expect("found");
    assert_eq!(bounds, (us(960.0), us(2040.0)));
    assert!(
        Bounds::new(&known, scope, bench()).step().wants == Wants::Over,
        "bounds that are known are not asked for again"
    );

    work(&mut book, Marks::new(&known, scope, bench()), p, bounds);
    let known = book.known();
    let joint = known.robot.joint(FEMUR).expect("it");
    let (zero, scale) = (
        joint.zero.as_ref().expect("fitted"),
        joint.scale.as_ref().expect("fitted"),
    );
    assert!((zero.value - 1480.0).abs() < 15.0, "{zero:?}");
    assert!((scale.value - 10.4).abs() < 0.2, "{scale:?}");

    work(&mut book, Ends::new(&known, scope, bench()), p, bounds);
    let known = book.known();
    let joint = known.robot.joint(FEMUR).expect("it");
    let near = joint.near_end.as_ref().expect("found");
    let far = joint.far_end.as_ref().expect("found");
    assert!(
        (near.value - 880.0).abs() <= 4.0 && near.spread.is_some(),
        "{near:?}"
    );
    assert!((far.value - 2210.0).abs() <= 4.0, "{far:?}");
    let limits = joint.limits.expect("set");
    assert!((limits.0.us() - 916.0).abs() <= 4.0 && (limits.1.us() - 2174.0).abs() <= 4.0);
    let guard = joint.guard.expect("set");
    assert!(guard.0 < limits.0 && guard.1 > limits.1);
    assert_eq!(Ends::new(&known, scope, bench()).step().wants, Wants::Over);

    let before = book.0.len();
    work(&mut book, Check::new(&known, scope, bench()), p, limits);
    assert!(matches!(book.0[before].what, What::Checked { .. }));

    let known = book.known();
    work(&mut book, Replace::new(&known, FEMUR, bench()), p, limits);
    let known = book.known();
    let joint = known.robot.joint(FEMUR).expect("it");
    assert_eq!(
        (&joint.zero, &joint.limits, joint.pin),
        (&None, &None, Some(p))
    );
    let again = Bounds::new(&known, scope, bench()).step();
    assert_eq!(
        again.wants,
        Wants::Enter,
        "of that joint bounds are found again"
    );
}

#[test]
fn ends_left_at_any_answer_are_taken_up_where_they_were() {
    // Left after every single answer and begun again from the logbook; a repeat for the spread
    // is a handful of pecks, and begins again when it is left in the middle.
    let mut book = Book::new();
    book.add(vec![What::Bounds {
        joint: "LF femur".parse().expect("a name"),
        low_us: 960.0,
        high_us: 2040.0,
    }]);
    let scope = Scope::Joint(FEMUR);
    for sessions in 0..400 {
        let known = book.known();
        let it = Ends::new(&known, scope, Bench::default());
        if it.step().wants == Wants::Over {
            let joint = known.robot.joint(FEMUR).expect("it");
            assert!(joint.limits.is_some() && joint.near_end.is_some());
            let far = joint.far_end.as_ref().expect("found");
            assert!((far.value - 2210.0).abs() <= 4.0, "{far:?}");
            // 21 free pecks of 8 µs to the far end, 10 to the near one, 6 finds, the margin: by hand.
            assert_eq!(sessions, 21 + 10 + 6 + 1);
            return;
        }
        let ground = it.step().picture.confirmed.expect("shown");
        let mut rig = Rig::new(it, &[(pin(23), ground)]);
        let finds = |end: &[crate::estimate::knowledge::EndKnown; 2]| {
            end.iter().map(|it| it.finds.len()).sum::<usize>()
        };
        let repeats = finds(&known.joint(FEMUR).expect("it").ends) % 3 != 0;
        let enough = |book: &[What]| match repeats {
            true => book.iter().any(|it| matches!(it, What::End { .. })),
            false => !book.is_empty(),
        };
        for _ in 0..40 {
            if enough(&rig.book) {
                break;
            }
            match rig.step() {
                step if matches!(step.wants, Wants::Enter) => {
                    rig.say(Answer::Enter);
                }
                step if matches!(step.wants, Wants::Pick { .. }) => {
                    rig.say(Answer::Pick(0));
                }
                step if matches!(step.wants, Wants::Value { .. }) => {
                    rig.say(Answer::Value(36.0));
                }
                step => {
                    let Detail::Peck(news) = step.picture.detail else {
                        break;
                    };
                    let free = (880.0..=2210.0).contains(&news.to.us());
                    rig.say(if free { Answer::Free } else { Answer::End });
                }
            }
        }
        rig.say(Answer::Leave);
        book.add(rig.book);
    }
    panic!("it never came to an end");
}
