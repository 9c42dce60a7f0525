//! Recording zero, scale and ends; undo; saving.

use std::path::PathBuf;
use std::time::Duration;

use super::{Desk, foot};
use crate::calibration::{Joint, MARRAM};
use crate::console::effect::{Effect, FileSaid, Input, SaveAs};
use crate::console::pages::PageId;
use crate::console::view;

impl Desk {
    fn femur(&self) -> Joint {
        self.state.joint().cloned().expect("the chosen joint")
    }

    fn said(&mut self, said: FileSaid) {
        if let FileSaid::Saved(_) = said {
            // The runner saved it before it says so.
        }
        self.input(Input::File(said));
    }
}

#[test]
fn m_enter_is_the_zero() {
    let mut desk = Desk::awake();
    desk.keys("l m <Enter>");
    desk.says("Noted: the zero of LF femur is at 1508 µs.");
    let zero = desk.femur().zero.expect("recorded");
    assert_eq!(
        (zero.value, zero.at.as_str()),
        (1508.0, "2026-03-14T10:22:05Z")
    );
    assert!(
        !desk
            .log
            .iter()
            .any(|e| matches!(e, Effect::Save | Effect::SaveAs(_)))
    );
}

#[test]
fn a_mark_says_which_zero_of_the_file_it_replaces_and_backspace_brings_it_back() {
    let mut desk = foot::desk_of(&MARRAM.replace("template = true", ""));
    desk.keys("i <F2> <Down> <Enter> w <Enter> = 1 5 0 0 <Enter>");
    assert_eq!(desk.femur().zero.map(|it| it.value), Some(1487.5));
    desk.keys("m");
    assert!(
        desk.row(2)
            .starts_with("It replaces the zero so far, 1487.5 µs. Esc keeps that."),
        "{}",
        desk.row(2)
    );
    desk.keys("<Enter>");
    desk.says("Noted: the zero of LF femur is at 1500 µs, no longer at 1487.5.");
    assert!(
        desk.row(2).contains("Backspace takes it back"),
        "{}",
        desk.row(2)
    );
    // The next one replaces nothing that a mark did not tell.
    desk.keys("m");
    assert!(desk.row(2).contains("records 0°"), "{}", desk.row(2));
    desk.keys("<Esc> <BS>");
    assert_eq!(desk.femur().zero.map(|it| it.value), Some(1487.5));
}

#[test]
fn a_mark_waits_until_the_joint_has_arrived() {
    let mut desk = Desk::awake();
    desk.mute = true;
    desk.keys("l m");
    desk.says("Not now: it still moves");
}

#[test]
fn undo_says_what_it_takes_back() {
    let mut desk = Desk::awake();
    desk.keys("<BS>");
    desk.says("Not now: nothing was recorded in this session.");
    desk.keys("m <Enter> <BS>");
    desk.says("Taken back: the mark 0° of LF femur.");
    assert_eq!(desk.femur().zero, None);
}

#[test]
fn an_end_is_asked_first_then_the_joint_leaves_it_and_the_guard_follows() {
    let mut desk = Desk::awake();
    desk.keys("= 1 4 0 0 <Enter> E");
    desk.says("Enter: 1400 µs is the near end of LF femur.");
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(desk.asked(), ["go 200 23:1437"]);
    desk.wait(Duration::from_millis(100));
    // Only now does the board take it: before, the pulse would have been outside.
    assert_eq!(desk.asked(), ["go 200 23:1437", "guard 23 1427 1600"]);
    assert_eq!(desk.femur().near_end.map(|e| e.value), Some(1400.0));
    desk.keys("= 1 6 0 0 <Enter> E");
    desk.says("Enter: 1600 µs is the far end");
    desk.keys("<Enter>");
    desk.wait(Duration::from_millis(100));
    let joint = desk.femur();
    let pair = |span: Option<(crate::units::Pulse, crate::units::Pulse)>| {
        span.map(|(a, b)| (a.us(), b.us()))
    };
    assert_eq!(pair(joint.limits), Some((1437.0, 1563.0)));
    assert_eq!(pair(joint.guard), Some((1427.0, 1573.0)));
}

#[test]
fn the_other_end_can_be_chosen_and_an_impossible_one_is_not_recorded() {
    let mut desk = Desk::awake();
    desk.keys("= 1 4 0 0 <Enter> E <Right>");
    desk.says("Enter: 1400 µs is the far end of LF femur.");
    desk.keys("<Esc> E <Enter>");
    desk.wait(Duration::from_millis(100));
    desk.keys("E");
    // At 1437, and the near end is at 1400: the far end cannot be here.
    desk.says("It cannot be the far end: less than 74 µs above the near end, 1400 µs.");
    desk.keys("<Enter>");
    assert_eq!(desk.femur().far_end, None);
}

#[test]
fn undo_of_an_end_gives_the_board_its_guard_back() {
    let mut desk = Desk::awake();
    desk.keys("= 1 4 0 0 <Enter> E <Enter>");
    desk.wait(Duration::from_millis(100));
    desk.log.clear();
    desk.keys("<BS>");
    assert_eq!(desk.asked()[0], "guard 23 1400 1600");
    assert_eq!(desk.femur().near_end, None);
}

#[test]
fn undo_of_a_guard_waits_until_the_pulse_is_inside_the_former_one() {
    let mut desk = Desk::awake();
    desk.keys("= 1 6 0 0 <Enter> ] <Enter> = 1 6 4 0 <Enter> <BS>");
    desk.says("Not taken back: 1640 µs lies outside the guard that stood before.");
    desk.keys("= 1 6 0 0 <Enter> <BS>");
    desk.says("Taken back: the guard of LF femur.");
}

#[test]
fn the_first_save_asks_for_a_name_and_writes_nothing_before() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> s");
    desk.says("Enter saves as calibrations/my-marram.toml.");
    assert!(
        !desk
            .log
            .iter()
            .any(|e| matches!(e, Effect::Save | Effect::SaveAs(_)))
    );
    desk.keys("<Enter>");
    let expected = Effect::SaveAs(SaveAs {
        path: PathBuf::from("calibrations/my-marram.toml"),
        overwrite: false,
    });
    assert_eq!(desk.log.last(), Some(&expected));
    desk.said(FileSaid::Saved("calibrations/my-marram.toml".into()));
    desk.says("Saved: calibrations/my-marram.toml.");
    assert_eq!(desk.screen().head.file, "saved 10:41");
}

#[test]
fn the_name_shown_is_the_name_written_whether_its_ending_was_typed_or_not() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> s");
    let rub_out = "<BS> ".repeat(".toml".len());
    desk.keys(&format!("{rub_out} 2"));
    desk.says("Enter saves as calibrations/my-marram2.toml.");
    desk.keys("<Enter>");
    let Some(Effect::SaveAs(it)) = desk.log.last() else {
        panic!("{:?}", desk.log.last());
    };
    assert_eq!(it.path, PathBuf::from("calibrations/my-marram2.toml"));
    // Without a name there is nothing that Enter would save.
    desk.keys("s");
    desk.keys(&"<BS> ".repeat("my-marram.toml".len()));
    desk.says("Type a name, then Enter saves.");
    desk.log.clear();
    desk.keys("<Enter>");
    assert_eq!(
        (desk.row(2).as_str(), &desk.log[..]),
        ("Not like this: a name is missing.", &[][..])
    );
}

#[test]
fn a_name_that_is_taken_is_asked_about() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> s <Enter>");
    desk.said(FileSaid::Exists("calibrations/my-marram.toml".into()));
    desk.says("calibrations/my-marram.toml exists. Enter: replace it.");
    desk.log.clear();
    desk.keys("n");
    desk.says("Enter saves as");
    assert_eq!(desk.log, []);
    desk.keys("<Esc> s <Enter>");
    desk.said(FileSaid::Exists("calibrations/my-marram.toml".into()));
    desk.keys("<Enter>");
    assert!(matches!(
        desk.log.last(),
        Some(Effect::SaveAs(SaveAs {
            overwrite: true,
            ..
        }))
    ));
}

#[test]
fn a_file_that_changed_on_the_disk_leads_to_another_name() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter>");
    desk.said(FileSaid::ChangedOnDisk("bench.toml".into()));
    desk.says("Enter saves as");
    assert!(
        desk.row(2)
            .starts_with("bench.toml was changed by somebody else")
    );
}

#[test]
fn a_save_that_failed_says_why_and_what_to_do() {
    let mut desk = Desk::awake();
    desk.said(FileSaid::Failed(
        "cannot save x.toml: no space left. The file is as it was; save it elsewhere".into(),
    ));
    desk.says("cannot save x.toml: no space left.");
    assert_eq!(desk.row(2), "The file is as it was; save it elsewhere");
}

#[test]
fn on_a_board_home_shows_the_logbooks_last_lines() {
    let mut desk = Desk::awake();
    desk.keys("m <Enter> = 1 5 4 0 <Enter>");
    desk.wait(Duration::from_millis(200));
    desk.keys("m 3 <Enter> <BS>");
    let entries = desk.state.work.entries();
    let last = entries.last().expect("the undo").n;
    desk.state.page = PageId::Home;
    let view::Page::Home(home) = desk.screen().page else {
        panic!("Home draws Home");
    };
    let all: Vec<String> = entries_as_text(&desk);
    assert!(
        !all.iter().any(|it| it == "file saved"),
        "nothing was saved: {all:?}"
    );
    let expected = [
        "LF femur: 1500 µs is 0°".to_owned(),
        "LF femur: 1540 µs is 3°".to_owned(),
        format!("entry {} taken back", last - 1),
    ];
    assert!(home.log.ends_with(&expected), "{:?}", home.log);
    assert!(home.log.len() <= 5 && home.sight.is_none());
}

fn entries_as_text(desk: &Desk) -> Vec<String> {
    let entries = desk.state.work.entries().iter();
    entries.map(|it| it.what.to_string()).collect()
}
