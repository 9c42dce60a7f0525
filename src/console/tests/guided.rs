//! Guided work by keys: plugs, bounds, marks and ends of a joint, from Home to limits; stops, undo, leaving.

use std::time::Duration;

use super::{Desk, pin};
use crate::board::{By, Event, Reason};
use crate::calibration::JointKind;
use crate::console::bench::LinkState;
use crate::console::effect::Effect;
use crate::console::pages::PageId;
use crate::console::view::Page;
use crate::procedure::Wants;

const SECOND: Duration = Duration::from_secs(1);

impl Desk {
    /// On Home, on the stand, the supply written down.
    fn supplied() -> Desk {
        let mut desk = Desk::new();
        desk.open();
        desk.keys("<Enter> <Enter>");
        desk.says("Enter: write down the servo supply first.");
        desk.keys("<Enter> <Enter> <Enter> <Enter>");
        desk.says("Type what the servo supply is set to");
        desk.keys("6 <Enter> 1 0 <Enter> 2 . 5 <Enter> n n <Enter>");
        desk.says("Enter leaves: the supply is written down.");
        desk.keys("<Enter>");
        assert_eq!(desk.row(0), "Home");
        desk.log.clear();
        desk
    }

    fn step(&self) -> crate::procedure::Step {
        self.state.guided.as_ref().expect("guided work").step()
    }

    fn rung(&self) -> usize {
        let bells = self.log.iter();
        bells.filter(|it| matches!(it, Effect::Bell(1))).count()
    }

    /// Waits until the step wants an answer.
    fn settled(&mut self) {
        for _ in 0..400 {
            if self.step().wants != Wants::Wait && self.state.layers.is_empty() {
                return;
            }
            self.wait(Duration::from_millis(50));
        }
        panic!("it never settles: {:?}", self.step());
    }

    /// Answers plugs as they are planned, all with larger pulses upward or forward.
    fn plugs(&mut self) {
        self.says("Enter: find which plug drives which joint");
        self.keys("<Enter>");
        self.says("Enter: nudge pin 22");
        self.keys("<Enter>");
        self.says("Hands away. Pin 22 wakes at 1500 µs in 3 s.");
        for leg in ["e", "d", "c", "r", "f", "v"] {
            for (joint, way) in [("u", "k"), ("i", "k"), ("o", "j")] {
                self.settled();
                self.says("Which joint moved? Leg key, joint key, then an arrow");
                self.keys(&format!("{leg} {joint} {way} <Enter>"));
            }
        }
        self.says("Enter leaves: every plug that was tried drives its planned joint.");
        self.keys("<Enter>");
        assert_eq!(self.row(0), "Home");
    }

    fn found_plugs() -> Desk {
        let mut desk = Desk::supplied();
        desk.plugs();
        desk.log.clear();
        desk
    }

    /// Bounds of the chosen joint, found free all the way.
    fn bounds(&mut self) {
        self.keys("<Enter>");
        assert_eq!(self.row(0), "Rough bounds");
        for _ in 0..2 {
            self.keys("<Enter>");
            for _ in 0..100 {
                self.settled();
                if !matches!(self.step().wants, Wants::FreeOrEnd { .. }) {
                    break;
                }
                self.keys("n");
            }
        }
        self.says("Enter leaves");
        self.keys("<Enter>");
        assert_eq!(self.row(0), "Home");
    }

    fn bounded() -> Desk {
        let mut desk = Desk::found_plugs();
        desk.keys("i");
        desk.bounds();
        desk.log.clear();
        desk
    }
}

#[test]
fn the_supply_comes_first_and_moves_nothing() {
    let desk = Desk::supplied();
    let supply = desk.state.work.known().supply.expect("written down");
    assert_eq!(
        (supply.volts, supply.limit_amps, supply.stall_amps),
        (6.0, 10.0, Some(2.5))
    );
    assert!(!desk.moved());
}

#[test]
fn plugs_by_keys_give_map_and_direction_and_each_pin_is_nudged_once_and_limp_again() {
    let mut desk = Desk::supplied();
    desk.plugs();
    let known = desk.state.work.known();
    assert_eq!(known.plugs.len(), 18);
    for joint in &known.joints {
        assert_eq!(joint.found_pin, joint.planned_pin, "{}", joint.name);
        assert!(joint.way.is_some(), "{}", joint.name);
    }
    let asked = desk.asked();
    let of = |text: &str| asked.iter().filter(|it| it.contains(text)).count();
    assert_eq!((of("wake "), of(":1540"), of(":1500")), (18, 18, 18));
    assert!(desk.pulses.is_empty());
    // One bell a pin: when it has come back and an answer is awaited.
    assert_eq!(desk.rung(), 18);
}

#[test]
fn plugs_keys_are_places_on_the_picture_as_it_is_turned() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> T T <Enter>");
    desk.settled();
    // Turned by half, front is down: the upper left key is the right rear leg.
    desk.keys("e u");
    let page = |desk: &Desk| match desk.screen().page {
        Page::Plugs(plugs) => *plugs,
        other => panic!("not Plugs: {other:?}"),
    };
    assert_eq!(page(&desk).drives, "RR coxa");
    assert!(desk.screen().title.subject.ends_with("front is down"));
    // A right leg's foot that went up on this picture went to the robot's rear: clockwise.
    desk.keys("<Up>");
    assert_eq!(page(&desk).way, "back  ↑");
    desk.keys("c i <Down>");
    assert_eq!(
        (page(&desk).drives.as_str(), page(&desk).way.as_str()),
        ("RF femur", "down  ↓")
    );
}

#[test]
fn a_dead_pin_and_two_that_moved_together_are_named() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.keys("n");
    desk.settled();
    desk.keys("e i k + u <Enter>");
    desk.settled();
    let known = desk.state.work.known();
    assert_eq!(known.plugs[&pin(22)].joint, None);
    assert_eq!(known.plugs[&pin(23)].also.len(), 1);
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    let Page::Home(home) = desk.screen().page else {
        panic!("Home");
    };
    assert_eq!(home.matrix.rows[0].cells[0].text, "dead ×");
    assert!(
        home.notes.iter().any(|it| it == "× pin 22: nothing moved"),
        "{:?}",
        home.notes
    );
}

#[test]
fn enter_on_home_walks_from_bounds_to_marks_to_ends_and_the_matrix_follows() {
    let mut desk = Desk::bounded();
    let cell = |desk: &Desk| match desk.screen().page {
        Page::Home(home) => home.matrix.rows[0].cells[1].text.clone(),
        other => panic!("not Home: {other:?}"),
    };
    assert_eq!(cell(&desk), "bounds");
    desk.says("Enter: mark LF femur: which pulse is which angle.");
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.says("Choose what the angle is read with");
    desk.keys("j <Enter>");
    desk.says("Put the gauge to the joint. Then hands away, and Enter.");
    desk.keys("<Enter>");
    // Hands were in the robot: counted down before it moves.
    desk.says("Hands away. LF femur, pin 23, moves to");
    let truth = |us: f64| (us - 1487.5) / 10.62;
    for _ in 0..6 {
        desk.settled();
        desk.says("Type the gauge's angle, then Enter.");
        let Page::Marks(marks) = desk.screen().page else {
            panic!("Marks");
        };
        let row = marks.rows.last().expect("the awaited one");
        let angle = truth(row.pulse.parse().expect("a pulse"));
        let text: String = format!("{angle:.1}")
            .chars()
            .map(|c| format!("{c} "))
            .collect();
        desk.keys(&format!("{text} <Enter>"));
    }
    desk.settled();
    let joint = desk.state.joint().expect("a joint").clone();
    let (zero, scale) = (
        joint.zero.expect("a zero").value,
        joint.scale.expect("a scale").value,
    );
    assert!(
        (zero - 1487.5).abs() < 3.0 && (scale - 10.62).abs() < 0.1,
        "{zero} {scale}"
    );
    desk.keys("n n <Enter>");
    assert_eq!(desk.row(0), "Home");
    assert_eq!(cell(&desk), "6 marks");
    // Ends: the mechanism of this test ends at 868 and 2268 µs.
    desk.says("Enter: find the ends of LF femur.");
    desk.keys("<Enter> <Enter>");
    for _ in 0..2000 {
        desk.settled();
        match desk.step().wants {
            Wants::FreeOrEnd { .. } => {
                let Page::Ends(ends) = desk.screen().page else {
                    panic!("Ends");
                };
                let to: f64 = ends.big.parse().expect("a pulse");
                desk.keys(if (868.0..=2268.0).contains(&to) {
                    "n"
                } else {
                    "E"
                });
            }
            Wants::Over => break,
            _ => desk.keys("<Enter>"),
        }
    }
    desk.keys("<Enter>");
    let joint = desk.state.joint().expect("a joint").clone();
    let near = joint.near_end.expect("found").value;
    let far = joint.far_end.expect("found").value;
    assert!((near - 868.0).abs() <= 4.0 && (far - 2268.0).abs() <= 4.0);
    assert!(joint.limits.is_some());
    assert!(cell(&desk).starts_with('±'), "{}", cell(&desk));
    // Left, its pin is limp and the board has the file's guard.
    assert!(desk.pulses.is_empty());
    let (low, high) = joint.guard.expect("set");
    let guard = format!("guard 23 {low} {high}");
    let last = desk
        .asked()
        .into_iter()
        .rfind(|it| it.starts_with("guard 23"));
    assert_eq!(last.as_deref(), Some(guard.as_str()));
}

/// On the first peck of the far end of LF femur.
fn pecking() -> Desk {
    let mut desk = Desk::bounded();
    desk.keys("<F2>");
    for _ in 0..10 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    desk.says("Enter opens Ends for LF femur, this joint.");
    desk.keys("<Enter> <Enter>");
    desk.settled();
    desk.says("Did it move freely? n yes, free.");
    desk.log.clear();
    desk
}

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
fn space_stops_at_once_and_enter_takes_the_step_up_again_after_a_countdown() {
    let mut desk = pecking();
    desk.keys("n <Space>");
    assert_eq!(desk.asked().last().map(String::as_str), Some("STOP limp"));
    desk.says("All went limp. Enter takes this step up again.");
    assert!(desk.screen().notice.alarm);
    desk.log.clear();
    desk.wait(5 * SECOND);
    assert!(!desk.moved(), "{:?}", desk.asked());
    desk.keys("<Enter>");
    desk.says("Hands away. LF femur, pin 23, wakes at");
    assert!(!desk.moved());
    desk.settled();
    desk.says("Did it move freely?");
}

#[test]
fn space_during_a_countdown_wakes_nothing_and_neither_does_esc() {
    for key in ["<Space>", "<Esc>"] {
        let mut desk = Desk::supplied();
        desk.keys("<Enter> <Enter>");
        desk.says("Hands away. Pin 22 wakes");
        // Enter does not shorten it.
        desk.keys("<Enter>");
        assert!(!desk.moved());
        desk.keys(key);
        desk.wait(5 * SECOND);
        assert!(!desk.moved(), "{key}: {:?}", desk.asked());
        assert!(desk.step().wrong);
    }
}

#[test]
fn a_stop_between_two_requests_lets_nothing_follow_it() {
    let mut desk = pecking();
    desk.keys("n");
    // The board is slow: the stop is on its way when the answer of the peck comes.
    desk.mute = true;
    desk.keys("<Space>");
    desk.log.clear();
    for _ in 0..40 {
        desk.wait(Duration::from_millis(100));
    }
    assert!(!desk.moved(), "{:?}", desk.asked());
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
fn a_refusal_is_the_machines_and_enter_tries_again() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> <Enter>");
    desk.refuse = Some(super::refusal(Reason::Noisy, ""));
    desk.wait(4 * SECOND);
    assert!(desk.row(1).starts_with("Refused: noisy"), "{}", desk.row(1));
    assert!(desk.row(1).ends_with("Enter tries again."));
    assert!(desk.screen().notice.alarm && desk.pulses.is_empty());
    desk.keys("<Enter>");
    desk.settled();
    desk.says("Which joint moved?");
}

#[test]
fn a_reset_tells_the_machine_and_wakes_nothing_behind_its_back() {
    let mut desk = pecking();
    desk.pulses.clear();
    desk.event(Event::Reset {
        cause: crate::board::ResetCause::Brownout,
        hello: super::hello(2),
    });
    desk.says("The board reset: its supply dipped");
    desk.event(Event::Restored {
        guards: vec![pin(23)],
    });
    desk.log.clear();
    desk.keys("<Enter>");
    desk.says("All went limp. Enter takes this step up again.");
    assert!(!desk.moved());
    desk.keys("<Enter>");
    desk.settled();
    // The reset took every guard away: it is told again before the wake.
    let asked = desk.asked();
    let guard = asked.iter().position(|it| it.starts_with("guard 23"));
    let wake = asked.iter().position(|it| it.starts_with("wake 23"));
    assert!(
        guard.expect("told again") < wake.expect("woken"),
        "{asked:?}"
    );
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
    desk.says("Choose what it met, then Enter.");
    assert!(desk.state.troubles.is_empty());
}

#[test]
fn a_lost_link_is_said_and_the_page_waits() {
    let mut desk = pecking();
    desk.event(Event::Lost {
        why: crate::board::LostWhy::Quiet,
    });
    assert!(matches!(desk.state.bench.link, LinkState::Lost(_)));
    desk.says("Link lost.");
    assert_eq!(desk.screen().big_words, "LINK LOST");
    assert_eq!(
        desk.state.page,
        PageId::Work(crate::console::guided::task::Task::Ends)
    );
}

#[test]
fn nobody_there_asks_and_lets_go_in_guided_work_too() {
    let mut desk = pecking();
    desk.wait(181 * SECOND);
    desk.says("Still there? Any key.");
    desk.keys("n");
    assert!(
        !desk
            .log
            .iter()
            .any(|it| matches!(it, Effect::Record { .. })),
        "the key only answers"
    );
    desk.wait(181 * SECOND);
    desk.says("Still there?");
    desk.wait(31 * SECOND);
    assert!(desk.pulses.is_empty());
    desk.says("All went limp.");
}

#[test]
fn digits_only_type_values_and_a_wrong_value_is_said() {
    let mut desk = Desk::new();
    desk.open();
    desk.keys("<Enter> <Enter> <Enter> 1 2 <Enter> <Enter> <Enter>");
    desk.says("Type what the servo supply is set to");
    desk.keys("9 9 9 <Enter>");
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    let field = page.field.expect("a field");
    assert_eq!(
        (field.text.as_str(), field.error.as_deref()),
        ("999", Some("0 to 30"))
    );
    // Esc leaves the field, not the page; a second one leaves.
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Supply");
    desk.keys("<Esc>");
    assert_eq!(desk.row(0), "Home");
    assert!(desk.state.work.known().supply.is_none());
}

#[test]
fn a_joint_is_chosen_by_what_the_step_is_about() {
    let mut desk = Desk::found_plugs();
    desk.keys("d o <Enter>");
    assert_eq!(desk.row(0), "Rough bounds");
    assert_eq!(
        (desk.state.chosen.leg, desk.state.chosen.kind),
        (1, JointKind::Tibia)
    );
    assert!(desk.screen().title.subject.starts_with("LM tibia, pin 27"));
}

#[test]
fn after_a_brown_out_many_wake_by_the_plan_one_for_each_enter_and_the_sum_is_shown_first() {
    let mut desk = Desk::supplied();
    // Six joints were awake, woken leg by leg.
    for leg in ["e", "d"] {
        desk.keys(&format!("{leg} W"));
        desk.wait(6 * SECOND);
    }
    assert_eq!(desk.pulses.len(), 6);
    desk.pulses.clear();
    desk.event(Event::Reset {
        cause: crate::board::ResetCause::Brownout,
        hello: super::hello(2),
    });
    desk.event(Event::Restored { guards: Vec::new() });
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Waking");
    desk.says("Enter: wake 6 servos, one for each Enter.");
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    // 6 · 2.5 A, by hand.
    assert!(
        page.lines.iter().any(|it| it == "all 6 stalled 15.0 A"),
        "{:?}",
        page.lines
    );
    assert!(!desk.moved());
    desk.keys("<Enter>");
    desk.settled();
    assert_eq!(desk.pulses.len(), 1);
    for _ in 0..5 {
        desk.keys("<Enter>");
        desk.settled();
    }
    desk.says("Enter leaves: all of them are awake and stay so.");
    desk.keys("<Enter>");
    assert_eq!((desk.row(0).as_str(), desk.pulses.len()), ("Home", 6));
    // Coxas lift nothing and come first, femurs last.
    let woken: Vec<String> = desk
        .asked()
        .into_iter()
        .filter(|it| it.starts_with("wake"))
        .collect();
    let pins: Vec<&str> = woken.iter().map(|it| &it[5..7]).collect();
    assert_eq!(pins, ["22", "25", "24", "27", "23", "26"]);
}

#[test]
fn a_robot_is_woken_by_the_plan_and_stays_awake_when_the_page_is_left() {
    let mut desk = Desk::supplied();
    desk.keys("<F2>");
    for _ in 0..20 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    desk.says("Enter opens Waking for LF, the leg.");
    desk.keys("j");
    desk.says("Enter opens Waking for the whole robot, leg by leg.");
    desk.keys("<Enter>");
    desk.says("Enter: wake 18 servos, one after the other.");
    desk.keys("<Enter>");
    desk.says("Hands away.");
    desk.settled();
    desk.keys("<Enter>");
    assert_eq!((desk.row(0).as_str(), desk.pulses.len()), ("Home", 18));
}

#[test]
fn a_servo_alone_runs_its_minute_and_is_put_on_the_test_pin_by_hand() {
    use crate::console::effect::ByHand;
    let mut desk = Desk::supplied();
    desk.keys("<F2> j j j j j <Enter>");
    assert_eq!(desk.row(0), "One servo");
    desk.says("Write a number on a sticker");
    desk.keys("2 1 <Enter>");
    desk.says("Plug servo 21 into pin 2, no horn on it.");
    let Page::Guided(page) = desk.screen().page else {
        panic!("guided");
    };
    assert!(matches!(
        page.picture,
        crate::console::view::Left::Drawing(_)
    ));
    desk.keys("<Enter>");
    let plugged = Effect::ByHand(ByHand::PutOnTestPin {
        servo: "21".into(),
        pin: pin(2),
    });
    assert!(desk.log.contains(&plugged));
    desk.settled();
    desk.says("Did it turn, and does it stand still and quiet?");
    desk.keys("<Enter>");
    desk.wait(70 * SECOND);
    desk.settled();
    desk.says("Choose what servo 21 is");
    desk.keys("<Enter>");
    let servo = &desk.state.work.known().servos["21"];
    assert_eq!(
        servo.verdict,
        Some(crate::calibration::logbook::Verdict::Good)
    );
    assert!(desk.pulses.is_empty());
    let cleared = Effect::ByHand(ByHand::ClearTestPin);
    assert!(
        !desk.log.contains(&cleared),
        "hands stay off while it is awake"
    );
    desk.keys("n");
    assert!(desk.log.contains(&cleared));
}

#[test]
fn a_horn_is_turned_by_hand_when_enter_says_so() {
    use crate::console::effect::ByHand;
    let mut desk = Desk::found_plugs();
    desk.keys("i <F2> j j j j j j <Enter> <Enter>");
    assert_eq!(desk.row(0), "Horns");
    for _ in 0..12 {
        match desk.step().wants {
            Wants::Value {
                unit: "°",
                start: None,
                ..
            } => desk.keys("2 5 <Enter>"),
            Wants::Text { .. } => desk.keys("0 7 <Enter>"),
            Wants::Over => break,
            _ => desk.keys("<Enter>"),
        }
        desk.settled();
        if desk.state.work.known().joints[1].horn.is_some() {
            break;
        }
    }
    let horn = desk.state.work.known().joints[1].horn.expect("advised");
    assert_ne!((horn.turn_teeth, horn.arm), (0, 0));
    let turned = |desk: &Desk| {
        desk.log.iter().any(|it| matches!(it, Effect::ByHand(ByHand::TurnHorn { teeth, .. }) if *teeth == horn.turn_teeth))
    };
    assert!(!turned(&desk) && desk.pulses.is_empty());
    desk.keys("<Enter>");
    assert!(turned(&desk));
}

/// Marram as it was measured, with one scale that is odd.
fn measured() -> Desk {
    let text = crate::calibration::MARRAM;
    let file = crate::calibration::file::from_text(text).expect("it reads");
    let work = crate::console::work::Work::new(file, "".into(), "2026-03-14T10:00:00Z");
    let mut desk = Desk::with(work.expect("work"));
    desk.open();
    desk.keys("<Enter> <Enter>");
    desk
}

#[test]
fn a_check_reads_one_mark_of_a_joint_and_a_replaced_servo_begins_that_joint_anew() {
    let mut desk = measured();
    desk.keys("i <F2>");
    for _ in 0..11 {
        desk.keys("j");
    }
    desk.keys("<Enter> <Enter>");
    assert_eq!(desk.row(0), "Check");
    for _ in 0..6 {
        match desk.step().wants {
            Wants::Value { .. } => break,
            _ => desk.keys("<Enter>"),
        }
        desk.settled();
    }
    desk.keys("5 <Enter>");
    assert_eq!(desk.state.work.known().joints[1].checks.len(), 1);
    desk.keys("<Esc> <F2>");
    for _ in 0..12 {
        desk.keys("j");
    }
    desk.keys("<Enter>");
    assert_eq!(desk.row(0), "Replace");
    desk.keys("2 1 <Enter> <Enter>");
    desk.says("Enter leaves: LF femur begins again with its horn.");
    let known = desk.state.work.known();
    assert_eq!(known.joints[1].servo.as_deref(), Some("21"));
    assert!(desk.state.joint().expect("a joint").zero.is_none());
}

#[test]
fn the_family_check_points_at_the_odd_one_out_on_home_and_in_the_matrix() {
    let text = crate::calibration::MARRAM.replace(
        "us_per_degree = { value = 10.62, spread = 0.15",
        "us_per_degree = { value = 7.9, spread = 0.15",
    );
    let file = crate::calibration::file::from_text(&text).expect("it reads");
    let work = crate::console::work::Work::new(file, "".into(), "2026-03-14T10:00:00Z");
    let mut desk = Desk::with(work.expect("work"));
    desk.open();
    let Page::Home(home) = desk.screen().page else {
        panic!("Home");
    };
    let cell = &home.matrix.rows[0].cells[1];
    assert!(
        cell.text.starts_with("odd") && cell.text.ends_with('!'),
        "{cell:?}"
    );
    assert!(
        home.notes
            .iter()
            .any(|it| it.starts_with("! LF femur: its scale is +7.9")),
        "{:?}",
        home.notes
    );
}

#[test]
fn a_current_sensor_puts_the_boards_own_trip_on_before_the_first_peck_and_off_when_the_page_is_left()
 {
    let mut desk = Desk::bounded();
    desk.state.sensor = Some(crate::procedure::Sensor {
        input: 0,
        mv: 800,
        ms: 40,
    });
    desk.keys("<F2> j j j j j j j j j j <Enter> <Enter> <Enter>");
    desk.settled();
    let asked = desk.asked();
    let trip = asked.iter().position(|it| it == "trip a0 800 40 limp 23");
    let peck = asked.iter().position(|it| it.starts_with("peck"));
    assert!(trip.expect("asked") < peck.expect("asked"), "{asked:?}");
    let Page::Ends(ends) = desk.screen().page else {
        panic!("Ends");
    };
    assert_eq!(ends.beside[1], "board's own trip: fitted");
    desk.keys("<Esc>");
    assert_eq!(desk.asked().last().map(String::as_str), Some("trip a0 0 0"));
}

#[test]
fn the_big_view_has_the_words_and_the_one_number_of_the_step() {
    let mut desk = pecking();
    desk.keys("B");
    let Page::Big(big) = desk.screen().page else {
        panic!("big");
    };
    let texts: Vec<&str> = big.blocks.iter().map(|it| it.text.as_str()).collect();
    assert_eq!(texts, ["MOVED FREELY?", "2048"]);
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
