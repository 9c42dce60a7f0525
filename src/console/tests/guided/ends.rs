//! Ends by keys: what a peck's answer may be, undo, leaving, the board's own trip.

use std::time::Duration;

use super::{Desk, SECOND, pecking};
use crate::board::{By, Event};
use crate::console::effect::{Effect, Fate, Input};
use crate::console::state::Asked;
use crate::console::view::Page;

#[test]
fn enter_never_means_that_a_peck_was_free() {
    let mut desk = pecking();
    let before = desk.step();
    desk.keys("<Enter> <Enter> <Enter>");
    assert_eq!(desk.step(), before);
    assert!(!desk.moved());
    assert!(
        !desk
            .log
            .iter()
            .any(|it| matches!(it, Effect::Record { .. }))
    );
    desk.keys("n");
    assert!(
        desk.log
            .iter()
            .any(|it| matches!(it, Effect::Record { .. }))
    );
    desk.settled();
    assert!(desk.asked().iter().any(|it| it.starts_with("peck 23")));
}

#[test]
fn undo_takes_the_last_answer_back_in_the_logbook_and_on_the_page() {
    let mut desk = pecking();
    let entries = desk.state.work.entries().len();
    let first = desk.step();
    desk.keys("n");
    desk.settled();
    assert_ne!(desk.step().next, "");
    assert_eq!(desk.state.work.entries().len(), entries + 1);
    desk.keys("<BS>");
    desk.settled();
    assert_eq!(desk.step().picture.detail, first.picture.detail);
    let undone = desk.state.work.entries().last().expect("an entry");
    assert!(matches!(
        undone.what,
        crate::calibration::logbook::What::Undo { .. }
    ));
}

#[test]
fn leaving_makes_limp_keeps_the_record_and_the_work_is_taken_up_where_it_was() {
    let mut desk = pecking();
    desk.keys("n");
    desk.settled();
    desk.keys("n");
    desk.settled();
    let to = |desk: &Desk| match desk.screen().page {
        Page::Ends(ends) => ends.big.clone(),
        other => panic!("not Ends: {other:?}"),
    };
    let before = to(&desk);
    desk.keys("<F2> k k k k k k k k k <Enter>");
    assert_eq!(desk.row(0), "Jog");
    assert!(desk.state.guided.is_none());
    assert!(desk.pulses.is_empty());
    desk.keys("<F2> j j j j j j j j j <Enter> <Enter> <Enter>");
    desk.settled();
    assert_eq!(to(&desk), before, "the next peck, not the first");
}

#[test]
fn the_boards_own_trip_is_the_end_and_no_alarm() {
    let mut desk = pecking();
    desk.keys("n");
    while !desk.asked().iter().any(|it| it.starts_with("peck")) {
        desk.wait(Duration::from_millis(50));
    }
    desk.pulses.clear();
    desk.event(Event::WentLimp { by: By::Trip });
    desk.says("The board's trip acted at 2056 µs: it is limp. Choose what it met, Enter.");
    assert!(desk.state.troubles.is_empty());
}

/// On the first peck of an end, a current sensor fitted.
fn with_a_trip() -> Desk {
    let mut desk = Desk::bounded();
    desk.state.sensor = Some(crate::procedure::Sensor {
        input: 0,
        mv: 800,
        ms: 40,
    });
    desk.keys("<F2> j j j j j j j j j j <Enter> <Enter> <Enter>");
    desk.settled();
    desk
}

#[test]
fn a_current_sensor_puts_the_boards_own_trip_on_before_the_first_peck_and_off_when_the_page_is_left()
 {
    let mut desk = with_a_trip();
    let asked = desk.asked();
    let trip = asked.iter().position(|it| it == "trip a0 800 40 limp 23");
    let peck = asked.iter().position(|it| it.starts_with("peck"));
    assert!(trip.expect("asked") < peck.expect("asked"), "{asked:?}");
    let Page::Ends(ends) = desk.screen().page else {
        panic!("Ends");
    };
    assert_eq!(ends.beside[1], "board's own trip: fitted");
    // Not before it stands: a wake draws as much as a press.
    let wake = asked.iter().position(|it| it.starts_with("wake"));
    assert!(wake.expect("asked") < trip.expect("asked"), "{asked:?}");
    desk.event(Event::WentLimp { by: By::Trip });
    desk.says("The board's trip acted outside a peck");
    desk.keys("<Esc>");
    assert_eq!(desk.asked().last().map(String::as_str), Some("trip a0 0 0"));
}

#[test]
fn rough_bounds_are_by_eye_and_say_that_a_sensor_is_not_used_here() {
    for (fitted, says) in [(true, "not used here"), (false, "not fitted")] {
        let mut desk = Desk::found_plugs();
        desk.state.sensor = fitted.then_some(crate::procedure::Sensor {
            input: 0,
            mv: 800,
            ms: 40,
        });
        desk.keys("i <Enter> <Enter>");
        desk.settled();
        assert_eq!(desk.row(0), "Rough bounds");
        assert!(desk.asked().iter().any(|it| it.starts_with("peck")));
        let Page::Ends(ends) = desk.screen().page else {
            panic!("drawn as ends are");
        };
        assert_eq!(ends.beside[1], format!("board's own trip: {says}"));
        desk.keys("<Esc>");
        let asked = desk.asked();
        assert!(!asked.iter().any(|it| it.starts_with("trip")), "{asked:?}");
    }
}

#[test]
fn the_big_view_has_the_words_and_the_one_number_of_the_step() {
    let mut desk = pecking();
    desk.keys("B");
    let Page::Big(big) = desk.screen().page else {
        panic!("big");
    };
    let texts: Vec<&str> = big.blocks.iter().map(|it| it.text.as_str()).collect();
    assert_eq!(texts, ["DID IT TOUCH?", "2048"]);
    desk.keys("<Space> <Enter>");
    let Page::Big(big) = desk.screen().page else {
        panic!("big");
    };
    assert_eq!(big.blocks[0].text, "HANDS AWAY");
    assert_eq!(big.blocks[1].text, "3");
}

#[test]
fn help_on_a_step_lists_the_keys_of_that_step() {
    let mut desk = pecking();
    desk.keys("?");
    let Some(crate::console::view::Overlay::Help(help)) = desk.screen().overlay else {
        panic!("help");
    };
    assert_eq!(help.page, "Ends");
    let of = |keys: &str| {
        help.entries
            .iter()
            .find(|it| it.keys == keys)
            .map(|it| it.text.as_str())
    };
    assert!(of("n").expect("listed").starts_with("it was free"));
    assert!(of("Enter").expect("listed").starts_with("nothing here"));
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Ends");
}

#[test]
fn a_stop_that_overtakes_the_end_of_a_trip_leaves_no_trip_on_the_board() {
    let off = |desk: &Desk| {
        desk.asked()
            .iter()
            .filter(|it| *it == "trip a0 0 0")
            .count()
    };
    let drop_all = |desk: &mut Desk| {
        desk.mute = false;
        let trips = |asked: &Asked| {
            let of_machine =
                |ask: &crate::procedure::Ask| matches!(ask, crate::procedure::Ask::Trip { .. });
            matches!(asked, Asked::NoTrip)
                || matches!(asked, Asked::Guided(ask, _) if of_machine(ask))
        };
        let pending = desk.state.pending.iter();
        let waits = pending.filter(|(_, (asked, _))| trips(asked));
        let ids: Vec<_> = waits.map(|(id, _)| *id).collect();
        assert_eq!(ids.len(), 1);
        for id in ids {
            desk.input(Input::Asked(id, Fate::Dropped));
        }
    };
    // The machine's own, before the joint wakes again: the page is left after it.
    let mut desk = with_a_trip();
    desk.keys("<Space>");
    desk.log.clear();
    desk.mute = true;
    desk.keys("<Enter>");
    assert_eq!(off(&desk), 1);
    desk.keys("<Space>");
    drop_all(&mut desk);
    desk.keys("<Esc>");
    assert_eq!((desk.row(0).as_str(), off(&desk)), ("Home", 2));
    desk.wait(SECOND);
    assert_eq!(off(&desk), 2, "done is done");
    // The one that leaving the page asks for.
    let mut desk = with_a_trip();
    desk.log.clear();
    desk.mute = true;
    desk.keys("<Esc>");
    assert_eq!(off(&desk), 1);
    desk.keys("<Space>");
    drop_all(&mut desk);
    desk.wait(SECOND);
    assert_eq!(off(&desk), 2);
}

#[test]
fn backspace_on_home_names_what_it_takes_back_and_asks() {
    let mut desk = pecking();
    desk.keys("n");
    desk.settled();
    desk.keys("<Esc>");
    let entries = desk.state.work.entries().len();
    desk.keys("<BS>");
    desk.says("Take back? LF femur: free to 2048 µs, far side.");
    desk.keys("<Esc>");
    assert_eq!(desk.state.work.entries().len(), entries);
    desk.keys("<BS> <Enter>");
    desk.says("Taken back: LF femur: free to 2048 µs, far side.");
    assert_eq!(desk.state.work.entries().len(), entries + 1);
}

#[test]
fn backspace_on_a_frozen_step_takes_nothing_back_behind_the_machine() {
    let mut desk = pecking();
    desk.keys("n");
    desk.settled();
    let entries = desk.state.work.entries().len();
    desk.keys("p <BS>");
    desk.says("Not taken back: it is frozen. Enter thaws, which moves nothing.");
    assert_eq!(desk.state.work.entries().len(), entries);
}

#[test]
fn what_the_joint_leaned_against_in_the_peck_is_seen_while_its_cause_is_asked() {
    use crate::board::sight::{Against, SeenJoint, Sight};
    use crate::console::bench::Place;
    use crate::console::effect::Input;
    let mut desk = pecking();
    desk.state.bench.place = Some(Place::Practice {
        seed: 7,
        clean: false,
    });
    let femur = SeenJoint {
        leg: "LF".into(),
        joint: "femur".into(),
        ..SeenJoint::default()
    };
    let at = |seconds, leaned| {
        let femur = SeenJoint {
            leaned: Some(leaned),
            ..femur.clone()
        };
        Input::Sight(Sight {
            seconds,
            joints: vec![femur],
            ..Sight::default()
        })
    };
    // What it leaned against before is none of this peck.
    desk.input(at(100.0, (Against::Body, 99.6)));
    desk.keys("a");
    // Out to where the peck begins, and out of there.
    while !desk.asked().last().is_some_and(|it| it.starts_with("peck")) {
        desk.run(Duration::from_millis(50), Duration::from_millis(50));
    }
    desk.input(at(102.3, (Against::Cable, 102.2)));
    desk.settled();
    // A slow answer, and a way back inward before the question: what was seen of the peck stands.
    desk.input(at(110.0, (Against::Cable, 102.2)));
    desk.keys("E");
    desk.settled();
    desk.says("Choose what it met, then Enter.");
    assert_eq!(
        desk.screen().title.simulated.as_deref(),
        Some("it leaned against a taut cable")
    );
    let Page::Guided(page) = desk.screen().page else {
        panic!("a choice");
    };
    let seen = page.sight.expect("practice").lines;
    assert!(
        seen.contains(&"it leaned against a taut cable".to_owned()),
        "{seen:?}"
    );
}
