//! Space, a reset, a lost link and nobody there, in the middle of guided work.

use std::time::Duration;

use super::super::pin;
use super::{Desk, SECOND, pecking};
use crate::board::{Event, Reason};
use crate::console::bench::LinkState;
use crate::console::effect::Effect;
use crate::console::pages::PageId;

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
    desk.says("Did anything stop it?");
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
fn a_refusal_is_the_machines_and_enter_tries_again() {
    let mut desk = Desk::supplied();
    desk.keys("<Enter> <Enter>");
    desk.refuse = Some(super::super::refusal(Reason::Noisy, ""));
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
        hello: super::super::hello(2),
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
    desk.says("No key was pressed for three and a half minutes: all goes limp.");
    desk.keys("<Enter>");
    desk.says("All went limp.");
}
